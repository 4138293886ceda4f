"""Taking cutouts out of outlines with arcs, so that what is left still has true arcs.

The pieces are found with polygons; then every edge of the result is given back the segment it was made from,
and corners are put where those segments really meet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from steadfold.sheet.outline import CHORD_ERROR_MM, Face, Outline, Point, arc_of

if TYPE_CHECKING:
    import shapely

ON_SEGMENT_MM = 4 * CHORD_ERROR_MM
SMALLEST_PIECE_MM2 = 1e-4
"""Slivers below this area are rounding, not metal."""


@dataclass(frozen=True)
class _Source:
    """A segment the result may be made of: a straight line, or an arc with centre and radius."""

    start: Point
    end: Point
    centre: Point | None
    radius: float
    turn: float

    def distance(self, points: np.ndarray) -> np.ndarray:
        """Distance of points (n, 2) from the segment; arcs as their sector of the circle."""
        if self.centre is None:
            a, b = np.asarray(self.start), np.asarray(self.end)
            along = b - a
            share = np.clip(((points - a) @ along) / max(float(along @ along), 1e-300), 0.0, 1.0)
            return np.hypot(*(points - a - share[:, None] * along).T)
        offset = points - np.asarray(self.centre)
        angle = np.arctan2(offset[:, 1], offset[:, 0])
        from_angle = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
        gone = np.mod((angle - from_angle) * np.sign(self.turn), 2 * math.pi)
        slack = ON_SEGMENT_MM / self.radius
        inside = (gone <= abs(self.turn) + slack) | (gone >= 2 * math.pi - slack)
        return np.where(inside, np.abs(np.hypot(offset[:, 0], offset[:, 1]) - self.radius), np.inf)


def _sources(outlines: Sequence[Outline]) -> list[_Source]:
    found = []
    for outline in outlines:
        for start, end, bulge in outline.segments():
            if bulge:
                centre, radius, _, turn = arc_of(start, end, bulge)
                found.append(_Source(start, end, centre, radius, turn))
            else:
                found.append(_Source(start, end, None, 0.0, 0.0))
    return found


def without(faces: Sequence[Face], cutters: Sequence[Outline]) -> tuple[Face, ...]:
    """Faces with the insides of some outlines taken away; arcs stay arcs.

    A cutter wholly inside one face becomes a hole unchanged. Cutters may overlap each other and run over edges.
    """
    result: list[Face] = []
    for face in faces:
        polygon = face.polygon()
        touching = [c for c in cutters if c.polygon().intersects(polygon)]
        if not touching:
            result.append(face)
            continue
        whole = _as_holes(face, polygon, touching)
        result.extend((whole,) if whole is not None else _carved(face, polygon, touching))
    return tuple(result)


def _as_holes(face: Face, polygon: shapely.Polygon, cutters: list[Outline]) -> Face | None:
    """The face with the cutters as holes when none of them touches an edge or another, else None."""
    import shapely

    shapes = [c.polygon() for c in cutters]
    margin = 2 * CHORD_ERROR_MM
    tree = shapely.STRtree(shapes)
    for index, shape in enumerate(shapes):
        if polygon.boundary.distance(shape) < margin or not polygon.contains(shape):
            return None
        near = tree.query(shape, predicate="dwithin", distance=margin)
        if any(other != index for other in near):
            return None
    return Face(face.outer, face.holes + tuple(c.clockwise() for c in cutters))


def _carved(face: Face, polygon: shapely.Polygon, cutters: list[Outline]) -> list[Face]:
    import shapely

    left = polygon.difference(shapely.union_all([c.polygon() for c in cutters]))
    sources = _sources([face.outer, *face.holes, *cutters])
    pieces = [g for g in shapely.get_parts(left) if g.geom_type == "Polygon" and g.area > SMALLEST_PIECE_MM2]
    return [_restored(piece, sources) for piece in pieces]


def inside(face: Face, window: Outline) -> tuple[Face, ...]:
    """The pieces of a face that lie within a window outline; arcs stay arcs."""
    import shapely

    left = face.polygon().intersection(window.polygon())
    sources = _sources([face.outer, *face.holes, window])
    pieces = [g for g in shapely.get_parts(left) if g.geom_type == "Polygon" and g.area > SMALLEST_PIECE_MM2]
    return tuple(_restored(piece, sources) for piece in pieces)


def _restored(piece: shapely.Polygon, sources: list[_Source]) -> Face:
    outer = restored_ring(np.asarray(piece.exterior.coords), sources)
    holes = tuple(restored_ring(np.asarray(ring.coords), sources).clockwise() for ring in piece.interiors)
    return Face(outer.anticlockwise(), holes)


def restored_ring(ring: np.ndarray, sources: list[_Source]) -> Outline:
    """An outline with arcs from a closed polygon ring (first point repeated last) and the segments it came from."""
    corners = ring[:-1]
    owner = _owners(corners, sources)
    count = len(corners)
    starts = [i for i in range(count) if owner[i] != owner[i - 1]]
    if not starts:
        return _whole(corners, sources[owner[0]])
    runs = [(i, owner[i]) for i in starts]
    points: list[Point] = []
    bulges: list[float] = []
    ends = [_meeting(corners[i], sources[owner[i - 1]], sources[own]) for i, own in runs]
    for number, (first, own) in enumerate(runs):
        source = sources[own]
        begin, finish = ends[number], ends[(number + 1) % len(runs)]
        next_first = runs[(number + 1) % len(runs)][0]
        points.append(begin)
        bulges.append(_bulge(source, begin, finish, _signed_turn(source, corners, first, next_first)))
    return _merged(points, bulges)


def _owners(corners: np.ndarray, sources: list[_Source]) -> list[int]:
    """Which source each edge (corner i to i + 1) was made from: the one nearest to both ends and the middle."""
    following = np.roll(corners, -1, axis=0)
    far = np.empty((len(sources), len(corners)))
    for row, source in enumerate(sources):
        ends = np.maximum(source.distance(corners), source.distance(following))
        far[row] = ends + 0.1 * source.distance(0.5 * (corners + following))
    return [int(i) for i in np.argmin(far, axis=0)]


def _signed_turn(source: _Source, corners: np.ndarray, first: int, beyond: int) -> float:
    """Angle about the source's centre that a run of edges goes through; its sign is the running sense."""
    if source.centre is None:
        return 0.0
    count = len(corners)
    steps = (beyond - first) % count or count
    index = [(first + i) % count for i in range(steps + 1)]
    offset = corners[index] - np.asarray(source.centre)
    angle = np.unwrap(np.arctan2(offset[:, 1], offset[:, 0]))
    return float(angle[-1] - angle[0])


def _bulge(source: _Source, start: Point, end: Point, rough_turn: float) -> float:
    if source.centre is None:
        return 0.0
    a = math.atan2(start[1] - source.centre[1], start[0] - source.centre[0])
    b = math.atan2(end[1] - source.centre[1], end[0] - source.centre[0])
    turn = b - a
    turn += 2 * math.pi * round((rough_turn - turn) / (2 * math.pi))
    return math.tan(turn / 4)


def _whole(corners: np.ndarray, source: _Source) -> Outline:
    if source.centre is None:
        return Outline(tuple((float(x), float(y)) for x, y in corners), (0.0,) * len(corners))
    (cx, cy), r = source.centre, source.radius
    x, y = corners[:, 0] - cx, corners[:, 1] - cy
    turned = float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    bulge = 1.0 if turned > 0 else -1.0
    return Outline(((cx - r, cy), (cx + r, cy)), (bulge, bulge))


def _meeting(near: np.ndarray, one: _Source, two: _Source) -> Point:
    """Where two segments' lines or circles really meet, next to a corner of the polygon; the corner itself
    where they run tangent or the meeting is not clear."""
    candidates = _crossings(one, two)
    for source in (one, two):
        candidates.extend((source.start, source.end))
    here = (float(near[0]), float(near[1]))
    ranked = sorted(candidates, key=lambda p: math.dist(p, here))
    if ranked and math.dist(ranked[0], here) < 20 * CHORD_ERROR_MM:
        return ranked[0]
    return here


def _crossings(one: _Source, two: _Source) -> list[Point]:
    if one.centre is None and two.centre is None:
        return _line_line(one, two)
    if one.centre is None:
        return _line_circle(one, two)
    if two.centre is None:
        return _line_circle(two, one)
    return _circle_circle(one, two)


def _line_line(one: _Source, two: _Source) -> list[Point]:
    (x1, y1), (x2, y2), (x3, y3), (x4, y4) = one.start, one.end, two.start, two.end
    cross = (x2 - x1) * (y4 - y3) - (y2 - y1) * (x4 - x3)
    lengths = math.dist(one.start, one.end) * math.dist(two.start, two.end)
    if abs(cross) < 1e-9 * lengths:
        return []
    share = ((x3 - x1) * (y4 - y3) - (y3 - y1) * (x4 - x3)) / cross
    return [(x1 + share * (x2 - x1), y1 + share * (y2 - y1))]


def _line_circle(line: _Source, arc: _Source) -> list[Point]:
    assert arc.centre is not None
    (x1, y1), (x2, y2), (cx, cy) = line.start, line.end, arc.centre
    length = math.dist(line.start, line.end)
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    foot = (cx - x1) * ux + (cy - y1) * uy
    off = (cx - x1) * uy - (cy - y1) * ux
    under = arc.radius**2 - off**2
    if under < -1e-6 * arc.radius:
        return []
    half = math.sqrt(max(under, 0.0))
    return [(x1 + (foot + s) * ux, y1 + (foot + s) * uy) for s in (-half, half)]


def _circle_circle(one: _Source, two: _Source) -> list[Point]:
    assert one.centre is not None and two.centre is not None
    (x1, y1), (x2, y2) = one.centre, two.centre
    apart = math.dist(one.centre, two.centre)
    if apart < 1e-9:
        return []
    foot = (apart**2 + one.radius**2 - two.radius**2) / (2 * apart)
    under = one.radius**2 - foot**2
    if under < -1e-6 * one.radius:
        return []
    half = math.sqrt(max(under, 0.0))
    ux, uy = (x2 - x1) / apart, (y2 - y1) / apart
    return [(x1 + foot * ux - s * uy, y1 + foot * uy + s * ux) for s in (-half, half)]


def _merged(points: list[Point], bulges: list[float]) -> Outline:
    """The outline without segments of no length."""
    kept = [
        (point, bulge)
        for i, (point, bulge) in enumerate(zip(points, bulges, strict=True))
        if math.dist(point, points[(i + 1) % len(points)]) > 1e-7 or abs(bulge) > 1e3
    ]
    return Outline(tuple(p for p, _ in kept), tuple(b for _, b in kept))
