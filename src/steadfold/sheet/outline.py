"""Closed outlines of straight and circular segments, kept exact.

A segment runs from one point to the next; its *bulge* is the tangent of a quarter of the angle the arc turns
through, positive when it turns left, 0 for a straight segment (the definition of the DXF standard).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import shapely

Point = tuple[float, float]

CHORD_ERROR_MM = 0.002
"""How far a polygon made from an arc may stray from it, for set operations."""


@dataclass(frozen=True)
class Isometry:
    """A turn (or turn and mirror) and a shift of the plane: `p -> origin + x * along + y * away`.

    `along` and `away` are perpendicular unit vectors; they are left-handed when the map mirrors.
    """

    origin: Point = (0.0, 0.0)
    along: Point = (1.0, 0.0)
    away: Point = (0.0, 1.0)

    @property
    def mirrors(self) -> bool:
        """True when left becomes right."""
        return self.along[0] * self.away[1] - self.along[1] * self.away[0] < 0

    def __call__(self, point: Point) -> Point:
        """The image of one point."""
        x, y = point
        return (
            self.origin[0] + x * self.along[0] + y * self.away[0],
            self.origin[1] + x * self.along[1] + y * self.away[1],
        )

    def many(self, points: np.ndarray) -> np.ndarray:
        """The images of points, shape (n, 2)."""
        return (
            np.asarray(self.origin)
            + points[:, :1] * np.asarray(self.along)
            + points[:, 1:] * np.asarray(self.away)
        )

    def turned(self, vector: Point) -> Point:
        """The image of a direction."""
        x, y = vector
        return (x * self.along[0] + y * self.away[0], x * self.along[1] + y * self.away[1])

    def inverted(self) -> Isometry:
        """The map back."""
        (ax, ay), (bx, by), (ox, oy) = self.along, self.away, self.origin
        return Isometry((-(ox * ax + oy * ay), -(ox * bx + oy * by)), (ax, bx), (ay, by))

    def after(self, first: Isometry) -> Isometry:
        """This map done after `first`."""
        return Isometry(self(first.origin), self.turned(first.along), self.turned(first.away))


@dataclass(frozen=True)
class Outline:
    """A closed outline; segment i runs from `points[i]` to `points[i + 1]` (the last one back to the first)."""

    points: tuple[Point, ...]
    bulges: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.points) != len(self.bulges) or len(self.points) < 2:
            raise ValueError("an outline needs at least two points and one bulge a point")

    def segments(self) -> Iterator[tuple[Point, Point, float]]:
        """Start, end and bulge of every segment in order."""
        ends = (*self.points[1:], self.points[0])
        return zip(self.points, ends, self.bulges, strict=True)

    @property
    def area_mm2(self) -> float:
        """Signed area, exact for arcs; positive when the outline runs anticlockwise."""
        twice = 0.0
        for (x0, y0), (x1, y1), bulge in self.segments():
            twice += x0 * y1 - x1 * y0
            if bulge:
                turn = 4 * math.atan(bulge)
                radius = math.hypot(x1 - x0, y1 - y0) * (1 + bulge * bulge) / (4 * bulge)
                twice += radius * radius * (turn - math.sin(turn))
        return 0.5 * twice

    @property
    def length_mm(self) -> float:
        """Length once round, arcs exact."""
        return sum(segment_length(start, end, bulge) for start, end, bulge in self.segments())

    @property
    def circle(self) -> tuple[Point, float] | None:
        """Centre and radius when the whole outline is one circle, else None."""
        if not all(self.bulges):
            return None
        arcs = [arc_of(start, end, bulge) for start, end, bulge in self.segments()]
        (cx, cy), radius = arcs[0][0], arcs[0][1]
        same = all(
            math.hypot(c[0] - cx, c[1] - cy) < 1e-6 and abs(r - radius) < 1e-6 and bulge * self.bulges[0] > 0
            for (c, r, _, _), bulge in zip(arcs, self.bulges, strict=True)
        )
        turned = abs(sum(4 * math.atan(b) for b in self.bulges))
        return ((cx, cy), radius) if same and abs(turned - 2 * math.pi) < 1e-6 else None

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y, arcs exact."""
        xs, ys = [], []
        for start, end, bulge in self.segments():
            xs.append(start[0])
            ys.append(start[1])
            if bulge:
                (cx, cy), radius, from_angle, turn = arc_of(start, end, bulge)
                for quarter in range(-4, 9):
                    angle = quarter * math.pi / 2
                    inside = (angle - from_angle) / turn if turn else -1
                    if 0 < inside < 1:
                        xs.append(cx + radius * math.cos(angle))
                        ys.append(cy + radius * math.sin(angle))
        return min(xs), min(ys), max(xs), max(ys)

    def reversed(self) -> Outline:
        """The same outline run the other way; it still starts at the same point."""
        points = (self.points[0], *self.points[:0:-1])
        bulges = tuple(-b for b in self.bulges[::-1])
        return Outline(points, bulges)

    def anticlockwise(self) -> Outline:
        """The outline with the metal on its left."""
        return self if self.area_mm2 >= 0 else self.reversed()

    def clockwise(self) -> Outline:
        """The outline with the metal on its right."""
        return self if self.area_mm2 <= 0 else self.reversed()

    def moved(self, place: Isometry) -> Outline:
        """The outline carried by an isometry; a mirror turns its running sense about."""
        sign = -1.0 if place.mirrors else 1.0
        return Outline(tuple(place(p) for p in self.points), tuple(sign * b for b in self.bulges))

    def vertices(self, chord_error_mm: float = CHORD_ERROR_MM) -> np.ndarray:
        """Corner points of a polygon that strays from the outline by at most the chord error, shape (n, 2)."""
        corners: list[Point] = []
        for start, end, bulge in self.segments():
            corners.append(start)
            if bulge:
                corners.extend(arc_points(start, end, bulge, chord_error_mm))
        return np.asarray(corners)

    @cached_property
    def _polygon(self) -> shapely.Polygon:
        import shapely

        return shapely.Polygon(self.vertices())

    def polygon(self, chord_error_mm: float = CHORD_ERROR_MM) -> shapely.Polygon:
        """The outline as a polygon, for set operations."""
        import shapely

        return (
            self._polygon
            if chord_error_mm == CHORD_ERROR_MM
            else shapely.Polygon(self.vertices(chord_error_mm))
        )


@dataclass(frozen=True)
class Face:
    """A piece of flat metal: one outer outline (anticlockwise) and the holes in it (clockwise)."""

    outer: Outline
    holes: tuple[Outline, ...] = ()

    @property
    def area_mm2(self) -> float:
        """Area of metal."""
        return abs(self.outer.area_mm2) - sum(abs(hole.area_mm2) for hole in self.holes)

    def moved(self, place: Isometry) -> Face:
        """The face carried by an isometry."""
        return Face(
            self.outer.moved(place).anticlockwise(), tuple(h.moved(place).clockwise() for h in self.holes)
        )

    def polygon(self, chord_error_mm: float = CHORD_ERROR_MM) -> shapely.Polygon:
        """The face as a polygon with holes, for set operations."""
        import shapely

        return shapely.Polygon(
            self.outer.vertices(chord_error_mm), [hole.vertices(chord_error_mm) for hole in self.holes]
        )


def arc_of(start: Point, end: Point, bulge: float) -> tuple[Point, float, float, float]:
    """Centre, radius, start angle and signed turn of the arc between two points."""
    chord_x, chord_y = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(chord_x, chord_y)
    radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
    height = chord * (1 - bulge * bulge) / (4 * bulge)
    centre = (
        0.5 * (start[0] + end[0]) - height * chord_y / chord,
        0.5 * (start[1] + end[1]) + height * chord_x / chord,
    )
    return centre, radius, math.atan2(start[1] - centre[1], start[0] - centre[0]), 4 * math.atan(bulge)


def arc_points(start: Point, end: Point, bulge: float, chord_error_mm: float) -> list[Point]:
    """Points between the ends of an arc, evenly spread, so that chords stray by at most the chord error."""
    (cx, cy), radius, angle, turn = arc_of(start, end, bulge)
    step = 2 * math.acos(max(-1.0, 1 - chord_error_mm / radius)) if radius > chord_error_mm else math.pi / 4
    count = max(2, math.ceil(abs(turn) / max(step, 1e-3)))
    return [
        (cx + radius * math.cos(angle + turn * i / count), cy + radius * math.sin(angle + turn * i / count))
        for i in range(1, count)
    ]


def segment_length(start: Point, end: Point, bulge: float) -> float:
    """Length of one segment."""
    chord = math.hypot(end[0] - start[0], end[1] - start[1])
    if not bulge:
        return chord
    return chord * (1 + bulge * bulge) / abs(bulge) * abs(math.atan(bulge))


def polygon_outline(points: Sequence[Point]) -> Outline:
    """An outline of straight segments through the points in order."""
    return Outline(tuple((float(x), float(y)) for x, y in points), (0.0,) * len(points))


def rectangle(
    width_mm: float, height_mm: float, corner: Point = (0.0, 0.0), corner_radius_mm: float = 0.0
) -> Outline:
    """A rectangle with its lower left corner at `corner`; segment 0 is the bottom, then right, top, left."""
    x, y = corner
    r = min(corner_radius_mm, 0.5 * width_mm, 0.5 * height_mm)
    if r <= 0:
        return polygon_outline([(x, y), (x + width_mm, y), (x + width_mm, y + height_mm), (x, y + height_mm)])
    quarter = math.tan(math.pi / 8)
    right, top = x + width_mm, y + height_mm
    steps = [
        ((x + r, y), 0.0),
        ((right - r, y), quarter),
        ((right, y + r), 0.0),
        ((right, top - r), quarter),
        ((right - r, top), 0.0),
        ((x + r, top), quarter),
        ((x, top - r), 0.0),
        ((x, y + r), quarter),
    ]
    kept = [s for i, s in enumerate(steps) if s[1] or math.dist(s[0], steps[(i + 1) % 8][0]) > 1e-9]
    return Outline(tuple(p for p, _ in kept), tuple(b for _, b in kept))


def circle(diameter_mm: float, centre: Point) -> Outline:
    """A full circle, as two half turns."""
    r = 0.5 * diameter_mm
    return Outline(((centre[0] - r, centre[1]), (centre[0] + r, centre[1])), (1.0, 1.0))


def obround(length_mm: float, width_mm: float, centre: Point, turned_rad: float = 0.0) -> Outline:
    """A slot with round ends, `length_mm` over all along its own x axis, turned about its centre."""
    if length_mm <= width_mm:
        return circle(width_mm, centre)
    half, r = 0.5 * (length_mm - width_mm), 0.5 * width_mm
    along = (math.cos(turned_rad), math.sin(turned_rad))
    place = Isometry(centre, along, (-along[1], along[0]))
    return Outline(((-half, -r), (half, -r), (half, r), (-half, r)), (0.0, 1.0, 0.0, 1.0)).moved(place)
