"""The surface of a folded part for pictures: plane facets and the ridges between them, without a geometry kernel.

Panels are exact but for the chords of their arcs; bends are rows of plane facets between generator lines. The
root panel's frame is the frame of space, the middle of its thickness is z = 0.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.sheet.outline import Point, arc_points
from steadfold.sheet.part import Part
from steadfold.sheet.solid.pieces import Loop, Piece, Round, Run, pieces_of

EDGE, BEND, SMOOTH = 0, 1, 2
"""Kinds of ridges: a sharp edge, a tangent line of a bend, a line on a curved wall or bend (seen only as outline)."""

FINEST_RAD, COARSEST_RAD = math.radians(6.0), math.radians(12.0)
"""Turn from one facet of a bend to the next: as the chord asks, within these."""

ARC_RAD = math.radians(18.0)
"""Greatest turn from one chord of an arc to the next."""

SHARP_RAD = math.radians(25.0)
"""Facets of a wall that meet at a greater angle meet in an edge."""


@dataclass(frozen=True)
class Ridges:
    """Straight pieces of lines where two facets meet: ends (k, 2, 3), unit normals of the two facets (k, 2, 3),
    kinds (k,)."""

    ends: np.ndarray
    normals: np.ndarray
    kinds: np.ndarray


@dataclass(frozen=True)
class Surface:
    """Corners (n, 3) in mm, triangles (m, 3) anticlockwise seen from outside, the plane facet each belongs to (m,),
    and the ridges between facets."""

    corners: np.ndarray
    triangles: np.ndarray
    facets: np.ndarray
    ridges: Ridges

    @property
    def size_mm(self) -> float:
        """Diagonal of the box round the surface."""
        return float(np.linalg.norm(np.ptp(self.corners, axis=0)))


def surface_of(part: Part, share: float = 1.0, chord_mm: float | None = None) -> Surface:
    """The surface of a part folded by a share (0 flat, 1 fully): both skins and all side walls.

    `chord_mm` is how far a chord may stray from its arc; by default 1/5000 of the part's size.
    Raises `SolidError` when the part is not one piece.
    """
    pieces = pieces_of(part, share)
    if chord_mm is None:
        reach = [p for piece in pieces.pieces for loop in piece.loops if not isinstance(loop, Round) for p in loop]
        ends = np.array([run.start for run in reach]) if reach else np.zeros((1, 2))
        chord_mm = max(0.01, float(np.ptp(ends, axis=0).max()) / 5000)
    maker = _Maker(0.5 * pieces.thickness_mm, chord_mm)
    for piece in pieces.pieces:
        maker.add(piece)
    return maker.surface()


@dataclass(frozen=True)
class _Ring:
    """A loop as chords: points (p, 2), each one's corner number or -1, and whether the chord from it is a side wall."""

    points: np.ndarray
    corners: np.ndarray
    walls: np.ndarray


class _Maker:
    def __init__(self, half_mm: float, chord_mm: float):
        self.half, self.chord = half_mm, chord_mm
        self.corners: list[np.ndarray] = []
        self.facets: list[np.ndarray] = []
        self.count = 0
        self.ends: list[np.ndarray] = []
        self.normals: list[np.ndarray] = []
        self.kinds: list[np.ndarray] = []
        self.at_seams: dict[int, list[tuple[np.ndarray, np.ndarray]]] = defaultdict(list)

    def add(self, piece: Piece) -> None:
        """Skins, walls and ridges of one piece."""
        bands = _bands(piece, self.chord)
        rings = [_across_bands(_ring(loop, self.chord), piece, bands) for loop in piece.loops]
        self._skins(piece, bands, rings)
        for ring in rings:
            self._walls(piece, bands, ring)
        if piece.curl is not None:
            self._tangents(piece, bands, rings)
        if bands > 1:
            self._generators(piece, bands, rings)

    def surface(self) -> Surface:
        """All that was added, as one surface."""
        self._seam_corners()
        triangles = np.concatenate(self.corners).reshape(-1, 3, 3)
        facets = np.concatenate(self.facets)
        sides = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        kept = np.einsum("ij,ij->i", sides, sides) > 1e-16
        triangles, facets = triangles[kept], facets[kept]
        ridges = Ridges(np.concatenate(self.ends), np.concatenate(self.normals), np.concatenate(self.kinds))
        return Surface(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3), facets, ridges)

    def _skins(self, piece: Piece, bands: int, rings: Sequence[_Ring]) -> None:
        metal = shapely.Polygon(rings[0].points, [ring.points for ring in rings[1:]])
        parts = [metal] if piece.curl is None else _cut_in_bands(metal, piece.curl.allowance_mm, bands)
        for band, part in enumerate(parts):
            flat = _triangles(part)
            if not len(flat):
                continue
            for height in (self.half, -self.half):
                corners = _places(piece, bands, flat.reshape(-1, 2), height, band).reshape(-1, 3, 3)
                self._facet(corners if height > 0 else corners[:, ::-1], np.full(len(corners), self.count))
                self.count += 1

    def _facet(self, corners: np.ndarray, numbers: np.ndarray) -> None:
        self.corners.append(corners.reshape(-1, 3))
        self.facets.append(numbers)

    def _walls(self, piece: Piece, bands: int, ring: _Ring) -> None:
        upper = _places(piece, bands, ring.points, self.half)
        lower = _places(piece, bands, ring.points, -self.half)
        after_upper, after_lower = np.roll(upper, -1, axis=0), np.roll(lower, -1, axis=0)
        up = _unit(upper + after_upper - lower - after_lower)
        along = after_upper + after_lower - upper - lower
        outward = _unit(np.cross(along, up))
        walls = ring.walls
        quads = np.stack([upper, lower, after_lower, upper, after_lower, after_upper], axis=1)[walls]
        numbers = self.count + np.repeat(np.arange(len(quads)), 2)
        self.count += len(quads)
        self._facet(quads, numbers)
        for rim, after, skin in ((upper, after_upper, up), (lower, after_lower, -up)):
            self._ridges(rim[walls], after[walls], skin[walls], outward[walls], np.full(walls.sum(), EDGE))
        posts = np.stack([upper, lower], axis=1)
        before = np.roll(outward, 1, axis=0)
        both = walls & np.roll(walls, 1)
        self._posts(posts[both], before[both], outward[both])
        for i in np.flatnonzero(walls ^ np.roll(walls, 1)):
            self.at_seams[int(ring.corners[i])].append((posts[i], outward[i] if walls[i] else before[i]))

    def _posts(self, posts: np.ndarray, one: np.ndarray, other: np.ndarray) -> None:
        sharp = np.einsum("ij,ij->i", one, other) < math.cos(SHARP_RAD)
        self._ridges(posts[:, 0], posts[:, 1], one, other, np.where(sharp, EDGE, SMOOTH))

    def _seam_corners(self) -> None:
        """Where a wall goes on from a panel to a strip; a corner that both cut differently is an edge."""
        for found in self.at_seams.values():
            posts = np.array([found[0][0]])
            if len(found) == 2:
                self._posts(posts, found[0][1][None], found[1][1][None])
            else:
                normals = np.array([normal for _, normal in found])
                self._ridges(posts[:, 0], posts[:, 1], normals[:1], normals[-1:], np.array([EDGE]))

    def _tangents(self, piece: Piece, bands: int, rings: Sequence[_Ring]) -> None:
        assert piece.curl is not None
        last = piece.curl.allowance_mm
        for ring in rings:
            seams = ~ring.walls
            start, end = ring.points[seams], np.roll(ring.points, -1, axis=0)[seams]
            for y, band in ((0.0, 0), (last, bands - 1)):
                on = (np.abs(start[:, 1] - y) < 1e-3) & (np.abs(end[:, 1] - y) < 1e-3)
                if on.any():
                    plane = _true_normal(piece, y)
                    self._both_skins(piece, bands, start[on], end[on], plane, _band_normal(piece, bands, band), BEND)

    def _generators(self, piece: Piece, bands: int, rings: Sequence[_Ring]) -> None:
        assert piece.curl is not None
        metal = shapely.Polygon(rings[0].points, [ring.points for ring in rings[1:]])
        x0, _, x1, _ = metal.bounds
        y = np.arange(1, bands) * piece.curl.allowance_mm / bands
        lines = shapely.linestrings([[(x0 - 1, v), (x1 + 1, v)] for v in y])
        for i, cut in enumerate(np.atleast_1d(shapely.intersection(lines, metal))):
            parts = [g for g in shapely.get_parts(cut) if g.geom_type == "LineString"]
            if not parts:
                continue
            spans = np.array([shapely.get_coordinates(g)[[0, -1]] for g in parts])
            spans[:, :, 1] = y[i]
            one, other = _band_normal(piece, bands, i), _band_normal(piece, bands, i + 1)
            self._both_skins(piece, bands, spans[:, 0], spans[:, 1], one, other, SMOOTH)

    def _both_skins(
        self,
        piece: Piece,
        bands: int,
        start: np.ndarray,
        end: np.ndarray,
        one: np.ndarray,
        other: np.ndarray,
        kind: int,
    ) -> None:
        for sign in (1.0, -1.0):
            ends = [_places(piece, bands, points, sign * self.half) for points in (start, end)]
            shape = ends[0].shape
            normals = [np.broadcast_to(sign * normal, shape) for normal in (one, other)]
            self._ridges(ends[0], ends[1], normals[0], normals[1], np.full(shape[0], kind))

    def _ridges(
        self, start: np.ndarray, end: np.ndarray, one: np.ndarray, other: np.ndarray, kinds: np.ndarray
    ) -> None:
        self.ends.append(np.stack([start, end], axis=1))
        self.normals.append(np.stack([one, other], axis=1))
        self.kinds.append(kinds)


def _bands(piece: Piece, chord_mm: float) -> int:
    if piece.curl is None or piece.curl.flat:
        return 1
    radius = piece.curl.length_mm / abs(piece.curl.angle_rad)
    step = min(COARSEST_RAD, max(FINEST_RAD, _step(radius, chord_mm)))
    return max(2, math.ceil(abs(piece.curl.angle_rad) / step))


def _step(radius_mm: float, chord_mm: float) -> float:
    return 2 * math.acos(max(0.0, 1 - chord_mm / radius_mm)) if radius_mm > chord_mm else ARC_RAD


def _ring(loop: Loop, chord_mm: float) -> _Ring:
    return _round_ring(loop, chord_mm) if isinstance(loop, Round) else _run_ring(loop, chord_mm)


def _round_ring(circle: Round, chord_mm: float) -> _Ring:
    count = max(20, math.ceil(2 * math.pi / max(_step(circle.radius_mm, chord_mm), 0.02)))
    turn = np.arange(count) * 2 * math.pi / count * (1 if circle.anticlockwise else -1)
    points = np.array(circle.centre) + circle.radius_mm * np.column_stack([np.cos(turn), np.sin(turn)])
    return _Ring(points, np.full(count, -1), np.full(count, True))


def _run_ring(runs: Sequence[Run], chord_mm: float) -> _Ring:
    points: list[Point] = []
    corners: list[int] = []
    walls: list[bool] = []
    for run in runs:
        inner: list[Point] = []
        if run.bulge:
            radius = math.dist(run.start, run.end) / (2 * math.sin(2 * math.atan(abs(run.bulge))))
            inner = arc_points(run.start, run.end, run.bulge, min(chord_mm, radius * (1 - math.cos(0.5 * ARC_RAD))))
        points += [run.start, *inner]
        corners += [run.start_corner, *[-1] * len(inner)]
        walls += [run.seam is None] * (1 + len(inner))
    return _Ring(np.array(points), np.array(corners), np.array(walls))


def _across_bands(ring: _Ring, piece: Piece, bands: int) -> _Ring:
    """The ring with a point wherever it crosses from one facet of a bend to the next."""
    if piece.curl is None or bands == 1:
        return ring
    level = ring.points[:, 1] / piece.curl.allowance_mm * bands
    points: list[np.ndarray] = []
    corners: list[int] = []
    walls: list[bool] = []
    for i in range(len(level)):
        here, there = level[i], level[(i + 1) % len(level)]
        low, high = min(here, there), max(here, there)
        crossed = [n for n in range(math.ceil(low), math.floor(high) + 1) if low + 1e-9 < n < high - 1e-9]
        shares = sorted((n - here) / (there - here) for n in crossed)
        start, step = ring.points[i], ring.points[(i + 1) % len(level)] - ring.points[i]
        points += [start, *[start + share * step for share in shares]]
        corners += [int(ring.corners[i]), *[-1] * len(shares)]
        walls += [bool(ring.walls[i])] * (1 + len(shares))
    return _Ring(np.array(points), np.array(corners), np.array(walls))


def _cut_in_bands(metal: shapely.Polygon, allowance_mm: float, bands: int) -> list[shapely.Geometry]:
    if bands == 1:
        return [metal]
    x0, _, x1, _ = metal.bounds
    lines = np.linspace(0.0, allowance_mm, bands + 1)
    lines[0], lines[-1] = lines[0] - 1e-6, lines[-1] + 1e-6
    return list(shapely.intersection(shapely.box(x0 - 1, lines[:-1], x1 + 1, lines[1:]), metal))


def _triangles(part: shapely.Geometry) -> np.ndarray:
    """A plane piece of metal as triangles (m, 3, 2), anticlockwise."""
    whole = [g for g in shapely.get_parts(part) if g.geom_type == "Polygon" and g.area > 1e-9]
    if not whole:
        return np.empty((0, 3, 2))
    made = shapely.get_parts(shapely.constrained_delaunay_triangles(np.array(whole)))
    found = shapely.get_coordinates(made).reshape(-1, 4, 2)[:, :3]
    one, other = found[:, 1] - found[:, 0], found[:, 2] - found[:, 0]
    clockwise = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0] < 0
    found[clockwise] = found[clockwise][:, ::-1]
    return found


def _places(piece: Piece, bands: int, points: np.ndarray, height_mm: float, band: int | None = None) -> np.ndarray:
    """Points in space; on a bend they lie on the plane facet of their band."""
    x, y = points[:, 0], points[:, 1]
    if piece.curl is None:
        return piece.points(x, y, height_mm)
    allowance = piece.curl.allowance_mm
    level = y / allowance * bands
    low = np.full(len(level), band) if band is not None else np.clip(np.floor(level + 1e-9), 0, bands - 1)
    share = np.clip(level - low, 0.0, 1.0)[:, None]
    one = piece.points(x, low / bands * allowance, height_mm)
    other = piece.points(x, (low + 1) / bands * allowance, height_mm)
    return (1 - share) * one + share * other


def _true_normal(piece: Piece, y_mm: float) -> np.ndarray:
    x, y = np.zeros(1), np.array([y_mm])
    return (piece.points(x, y, 1.0) - piece.points(x, y, 0.0))[0]


def _band_normal(piece: Piece, bands: int, band: int) -> np.ndarray:
    assert piece.curl is not None
    return _true_normal(piece, (band + 0.5) / bands * piece.curl.allowance_mm)


def _unit(vectors: np.ndarray) -> np.ndarray:
    lengths = np.linalg.norm(vectors, axis=1, keepdims=True)
    return vectors / np.where(lengths > 0, lengths, 1.0)
