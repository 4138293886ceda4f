"""Convex sections across the bend line: cutting bodies into them, and how far two of them are apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.sheet.outline import Outline

DAYLIGHT_MM = 600.0
"""Height given to the ram above the clamp and depth to the bed below the die: more than any part reaches."""


@dataclass(frozen=True)
class Sections:
    """Convex polygons padded to one number of corners: `corners` (t, k, 2), their outward `normals` (t,
    k, 2) and `offsets` (t, k), so that `normal . p - offset` is how far outside an edge's line a point
    lies.

    `full_length` (t,) tells parts that run over the whole machine from those as long as the bend; `names`
    says what each belongs to.
    """

    corners: np.ndarray
    normals: np.ndarray
    offsets: np.ndarray
    full_length: np.ndarray
    names: tuple[str, ...]


def sections(parts: list[tuple[str, bool, np.ndarray]]) -> Sections:
    """Pad convex polygons (name, over the whole machine?, corners anticlockwise) into one record."""
    corners = padded([polygon for _, _, polygon in parts])
    edges = np.roll(corners, -1, axis=1) - corners
    lengths = np.hypot(edges[..., 0], edges[..., 1])
    real = lengths > 1e-9
    scale = np.where(real, lengths, 1.0)
    normals = np.stack([edges[..., 1] / scale, -edges[..., 0] / scale], axis=-1)
    # A padded edge has no direction; an offset of infinity keeps it from ever telling two bodies apart.
    offsets = np.where(real, (normals * corners).sum(axis=-1), np.inf)
    return Sections(
        corners,
        normals,
        offsets,
        np.array([full for _, full, _ in parts]),
        tuple(name for name, _, _ in parts),
    )


def padded(polygons: list[np.ndarray]) -> np.ndarray:
    """Polygons as one array (n, k, 2), the last corner repeated."""
    most = max(len(polygon) for polygon in polygons)
    return np.stack([np.concatenate([p, np.repeat(p[-1:], most - len(p), axis=0)]) for p in polygons])


def separations(placed: np.ndarray, tools: Sections) -> np.ndarray:
    """How far bodies and tools are apart along their edges' normals, shape (a, b, t).

    `placed` (a, b, m, 2): b convex polygons, anticlockwise, at a positions. Negative exactly where two
    overlap (separating axes); positive values never exceed the distance.
    """
    toward = np.einsum("abmc,tkc->abtkm", placed, tools.normals).min(axis=-1) - tools.offsets
    edges = np.roll(placed, -1, axis=2) - placed
    lengths = np.hypot(edges[..., 0], edges[..., 1])
    real = lengths > 1e-9
    scale = np.where(real, lengths, 1.0)
    normals = np.stack([edges[..., 1] / scale, -edges[..., 0] / scale], axis=-1)
    own = np.where(real, (normals * placed).sum(axis=-1), np.inf)
    away = np.einsum("abmc,tkc->abmtk", normals, tools.corners).min(axis=-1) - own[..., None]
    return np.maximum(toward.max(axis=-1), away.max(axis=2))


def swept_up(polygon: np.ndarray, height_mm: float) -> np.ndarray:
    """What a convex section passes through when it rises by a height: convex again."""
    return hull(np.concatenate([polygon, polygon + np.array([0.0, height_mm])]))


def box(y0: float, y1: float, z0: float, z1: float) -> np.ndarray:
    """Corners of a rectangle, anticlockwise."""
    return np.array([[y0, z0], [y1, z0], [y1, z1], [y0, z1]])


def hull(points: np.ndarray) -> np.ndarray:
    """Convex hull, anticlockwise (Andrew's monotone chain); may have two corners only when points are on
    a line."""
    ordered = sorted({(round(float(y), 9), round(float(z), 9)) for y, z in points})
    if len(ordered) < 3:
        return np.array(ordered)
    halves = []
    for run in (ordered, ordered[::-1]):
        chain: list[tuple[float, float]] = []
        for p in run:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], p) <= 1e-12:
                chain.pop()
            chain.append(p)
        halves.append(chain[:-1])
    return np.array(halves[0] + halves[1])


def convex_parts(outline: Outline, chord_error_mm: float = 0.05) -> list[np.ndarray]:
    """Convex polygons, anticlockwise, that together fill an outline."""
    corners = outline.anticlockwise().vertices(chord_error_mm)
    polygon = shapely.simplify(shapely.Polygon(corners), chord_error_mm)
    if polygon.is_empty or polygon.area < 1e-9:
        return []
    ring = np.asarray(shapely.geometry.polygon.orient(polygon).exterior.coords)[:-1]
    if _is_convex(ring):
        return [ring]
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    rings = [np.asarray(shapely.geometry.polygon.orient(t).exterior.coords)[:-1] for t in triangles]
    return _merged(rings)


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _is_convex(ring: np.ndarray) -> bool:
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    return bool(np.all(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0] >= -1e-9))


def _merged(rings: list[np.ndarray]) -> list[np.ndarray]:
    """Neighbours joined as long as what they make is convex."""
    shapes = [[(round(x, 9), round(y, 9)) for x, y in ring] for ring in rings]
    joined = True
    while joined:
        joined = False
        edges = {(a, b): i for i, s in enumerate(shapes) for a, b in zip(s, s[1:] + s[:1], strict=True)}
        for (a, b), i in edges.items():
            j = edges.get((b, a))
            if j is None or i == j:
                continue
            first, second = shapes[i], shapes[j]
            at, to = first.index(b), second.index(a)
            union = first[at:] + first[:at] + (second[to:] + second[:to])[1:-1]
            if _is_convex(np.array(union)):
                shapes = [s for k, s in enumerate(shapes) if k not in (i, j)] + [union]
                joined = True
                break
    return [np.array(shape) for shape in shapes]
