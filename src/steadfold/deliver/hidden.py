"""Which pieces of straight lines are hidden behind triangles, exactly: no raster, no sampling.

In a parallel view the part of a line behind a triangle is where four linear functions of the way along it are
positive (inside three sides, and nearer than the line), so it is one interval, found in closed form.
"""

from __future__ import annotations

import numpy as np
import shapely

WIDER_MM = 1e-5
"""Triangles hide this much beyond their sides, so that a line seen exactly along the joint of two is hidden by one."""

NEARER_MM = 0.01
"""How much nearer a triangle must be than a line to hide it; a line on the triangle itself is not hidden."""

STEEPEST = 1e-5
"""Triangles seen more nearly edge-on than this (cosine) hide nothing that their neighbours do not."""


def hidden_spans(lines: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Spans of lines hidden behind triangles, both in the view's coordinates (z toward the viewer).

    `lines` (k, 2, 3), `triangles` (m, 3, 3), either way round. Gives the line of each span (s,) and its shares from
    and to (s, 2), disjoint and in order along each line.
    """
    triangles = _facing(triangles)
    if not len(lines) or not len(triangles):
        return np.empty(0, dtype=int), np.empty((0, 2))
    of_line, of_triangle = _near(lines, triangles)
    start, end = lines[of_line, 0], lines[of_line, 1]
    low, high = np.zeros(len(of_line)), np.ones(len(of_line))
    corners = triangles[of_triangle]
    for k in range(3):
        corner = corners[:, k, :2]
        side = corners[:, (k + 1) % 3, :2] - corner
        length = np.hypot(side[:, 0], side[:, 1])
        at_start = _cross(side, start[:, :2] - corner) / length + WIDER_MM
        at_end = _cross(side, end[:, :2] - corner) / length + WIDER_MM
        low, high = _where_positive(at_start, at_end, low, high)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    gaps = []
    for point in (start, end):
        off = np.einsum("ij,ij->i", normal, corners[:, 0] - point)
        gaps.append(off / normal[:, 2] - NEARER_MM)
    low, high = _where_positive(gaps[0], gaps[1], low, high)
    kept = high > low
    return _merged(of_line[kept], low[kept], high[kept])


def _facing(triangles: np.ndarray) -> np.ndarray:
    """The triangles not seen edge-on, turned anticlockwise."""
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    lengths = np.linalg.norm(normals, axis=1)
    clockwise = normals[:, 2] < 0
    turned = np.where(clockwise[:, None, None], triangles[:, ::-1], triangles)
    return turned[np.abs(normals[:, 2]) > STEEPEST * np.maximum(lengths, 1e-30)]


def _near(lines: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of a line and a triangle whose boxes in the picture overlap, and the triangle is not wholly behind."""
    low, high = triangles[:, :, :2].min(axis=1), triangles[:, :, :2].max(axis=1)
    tree = shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    of_line, of_triangle = tree.query(shapely.linestrings(lines[:, :, :2]), predicate="intersects")
    behind = triangles[:, :, 2].max(axis=1)[of_triangle] < lines[:, :, 2].min(axis=1)[of_line]
    return of_line[~behind], of_triangle[~behind]


def _where_positive(
    at_start: np.ndarray, at_end: np.ndarray, low: np.ndarray, high: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """The spans cut down to where a function that runs linearly from start to end is positive."""
    change = at_end - at_start
    with np.errstate(divide="ignore", invalid="ignore"):
        zero = -at_start / change
    low = np.where((at_start < 0) & (at_end > 0), np.maximum(low, zero), low)
    high = np.where((at_start > 0) & (at_end < 0), np.minimum(high, zero), high)
    never = (at_start <= 0) & (at_end <= 0)
    return low, np.where(never, low - 1.0, high)


def _cross(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]


def _merged(of_line: np.ndarray, low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Overlapping spans of each line joined."""
    order = np.lexsort((low, of_line))
    # Line n lives on the interval from 2n to 2n + 1, so that one running maximum serves all lines.
    line = of_line[order]
    starts, ends = 2.0 * line + low[order], 2.0 * line + high[order]
    reached = np.maximum.accumulate(ends)
    first = np.ones(len(starts), dtype=bool)
    first[1:] = starts[1:] > reached[:-1] + 1e-12
    groups = np.flatnonzero(first)
    if not len(groups):
        return np.empty(0, dtype=int), np.empty((0, 2))
    last = np.append(groups[1:], len(starts)) - 1
    spans = np.column_stack([starts[groups], reached[last]]) - 2.0 * line[groups][:, None]
    return line[groups], np.clip(spans, 0.0, 1.0)
