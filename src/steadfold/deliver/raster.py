"""Triangles to pixels by a z-buffer, and pixels to a PNG, with numpy and zlib alone."""

from __future__ import annotations

import struct
import zlib

import numpy as np


def rastered(corners: np.ndarray, values: np.ndarray, width: int, height: int) -> np.ndarray:
    """The value seen at every pixel, (height, width), NaN where there is no triangle.

    `corners` (m, 3, 3) are in pixels, x right, y down, z toward the viewer; `values` (m, 3) at the corners run
    linearly over each triangle. Pixels are taken at their centres.
    """
    nearest = np.full(width * height, -np.inf, dtype=np.float32)
    seen = np.full(width * height, np.nan, dtype=np.float32)
    corners, values = _drawable(corners, values)
    if not len(corners):
        return seen.reshape(height, width)
    triangle, row, left, count = _spans(corners, width, height)
    depth, value = _planes(corners, corners[:, :, 2]), _planes(corners, values)
    span = np.repeat(np.arange(len(triangle)), count)
    column = np.arange(len(span)) - np.repeat(np.cumsum(count) - count, count) + left[span]
    at_row, steps = _at_row(depth, triangle, row)
    z = (at_row[span] + steps[span] * column).astype(np.float32)
    pixel = row[span] * width + column
    np.maximum.at(nearest, pixel, z)
    front = z == nearest[pixel]
    at_row, steps = _at_row(value, triangle, row)
    seen[pixel[front]] = at_row[span[front]] + steps[span[front]] * column[front]
    return seen.reshape(height, width)


def _drawable(corners: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Triangles not seen edge-on, turned one way."""
    one, other = corners[:, 1, :2] - corners[:, 0, :2], corners[:, 2, :2] - corners[:, 0, :2]
    area = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    wide = np.abs(area) > 1e-6
    turned = (area < 0)[:, None]
    corners = np.where(turned[:, :, None], corners[:, ::-1], corners)[wide]
    return corners, np.where(turned, values[:, ::-1], values)[wide]


def _spans(corners: np.ndarray, width: int, height: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Runs of pixels inside triangles: triangle, row, first column, and how many pixels."""
    y = corners[:, :, 1]
    top = np.clip(np.ceil(y.min(axis=1) - 0.5), 0, height).astype(np.int64)
    bottom = np.clip(np.floor(y.max(axis=1) - 0.5), -1, height - 1).astype(np.int64)
    rows = np.maximum(bottom - top + 1, 0)
    triangle = np.repeat(np.arange(len(corners)), rows)
    row = np.arange(len(triangle)) - np.repeat(np.cumsum(rows) - rows, rows) + top[triangle]
    low, high = np.full(len(row), 0.0), np.full(len(row), float(width))
    for k in range(3):
        start, end = corners[:, k, :2], corners[:, (k + 1) % 3, :2]
        dx, dy = (end - start).T
        # Inside is where dx (y - y0) - dy (x - x0) is positive.
        with np.errstate(divide="ignore", invalid="ignore"):
            lean = dx / dy
            foot = start[:, 0] + lean * (0.5 - start[:, 1])
            edge = foot[triangle] + lean[triangle] * row
        falls, rises = (dy > 0)[triangle], (dy < 0)[triangle]
        high = np.where(falls, np.minimum(high, edge), high)
        low = np.where(rises, np.maximum(low, edge), low)
    left = np.clip(np.ceil(low - 0.5 - 1e-4), 0, width).astype(np.int64)
    right = np.clip(np.floor(high - 0.5 + 1e-4), -1, width - 1).astype(np.int64)
    count = np.maximum(right - left + 1, 0)
    kept = count > 0
    return triangle[kept], row[kept], left[kept], count[kept]


def _planes(corners: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Value over the picture as c + a x + b y at pixel centres, (m, 3)."""
    one, other = corners[:, 1, :2] - corners[:, 0, :2], corners[:, 2, :2] - corners[:, 0, :2]
    area = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    first, second = values[:, 1] - values[:, 0], values[:, 2] - values[:, 0]
    a = (first * other[:, 1] - second * one[:, 1]) / area
    b = (second * one[:, 0] - first * other[:, 0]) / area
    c = values[:, 0] + a * (0.5 - corners[:, 0, 0]) + b * (0.5 - corners[:, 0, 1])
    return np.column_stack([c, a, b])


def _at_row(plane: np.ndarray, triangle: np.ndarray, row: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return plane[triangle, 0] + plane[triangle, 2] * row, plane[triangle, 1]


def indexed_png(pixels: np.ndarray, palette: np.ndarray, alpha: np.ndarray) -> bytes:
    """A PNG (ISO/IEC 15948) of palette indices (h, w) of uint8; palette (n, 3) of uint8, alpha (n,) of uint8."""
    height, width = pixels.shape
    rows = np.zeros((height, width + 1), dtype=np.uint8)
    rows[:, 1:] = pixels
    chunks = [
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)),
        (b"PLTE", np.ascontiguousarray(palette, dtype=np.uint8).tobytes()),
        (b"tRNS", np.ascontiguousarray(alpha, dtype=np.uint8).tobytes()),
        (b"IDAT", zlib.compress(rows.tobytes(), 6)),
        (b"IEND", b""),
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in chunks
    )
