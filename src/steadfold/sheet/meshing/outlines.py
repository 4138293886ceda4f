"""Outlines of panels as rings of chords that a mesh can be made in.

Metal that no triangle of a sound shape fits into is left out: ligaments and slivers narrower than about half
the thickness (slits that narrow are closed), and the tips of acute wedges, such as those between a hole and the tangent line
it crosses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.sheet.outline import Face, Outline, arc_of

ON_LINE_MM = 1e-3
"""How far a point may lie from a tangent line and still be on it."""

SHORTEST_PER_THICKNESS = 0.1
"""Edges shorter than this share of the thickness are drawn together into one point."""

NARROWEST_PER_THICKNESS = (0.52, 0.52, 0.75)
"""Metal narrower than this share of the thickness is left out of the mesh, by attempt, the last for all further."""

SHARPEST_RAD = math.radians(26.0)
"""Corners sharper than this are blunted."""

BLUNT_PER_THICKNESS = 0.3
"""Width at which a sharp corner is cut off, as a share of the thickness."""


@dataclass(frozen=True)
class TangentLine:
    """A tangent line in a panel's frame: `number` is twice the bend's index, plus one on the child's side.

    Corners of the panel nearer to a corner on the line than `coarse_mm` are drawn onto it, such as the bottom of a
    relief that goes a little past the line: rows round the bend need not be as fine as that.
    """

    number: int
    point: np.ndarray
    along: np.ndarray
    length_mm: float
    coarse_mm: float = 0.0

    def place(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """How far along the line, and how far off it, points (n, 2) lie."""
        offset = points - self.point
        return offset @ self.along, offset @ np.array([-self.along[1], self.along[0]])

    def at(self, x_mm: np.ndarray) -> np.ndarray:
        """Points (n, 2) so far along the line."""
        return self.point + np.asarray(x_mm)[:, None] * self.along


@dataclass(frozen=True)
class Ring:
    """A closed ring, metal on its left: corners (n, 2), and for the edge after each corner the number of the
    tangent line it lies on, or -1."""

    points: np.ndarray
    lines: np.ndarray


def chords(outline: Outline, segments: int, longest_mm: float, shortest_mm: float) -> np.ndarray:
    """Corners (n, 2) of an outline with its arcs as chords: `segments` a full turn, or more where they would be
    longer than the longest, or fewer where they would be shorter than the shortest."""
    corners = []
    for start, end, bulge in outline.segments():
        corners.append(start)
        if not bulge:
            continue
        (cx, cy), radius, angle, turn = arc_of(start, end, bulge)
        length = abs(turn) * radius
        count = max(math.ceil(abs(turn) / (2 * math.pi) * segments - 1e-6), math.ceil(length / longest_mm - 1e-6))
        count = max(1, min(count, int(length / shortest_mm)))
        steps = angle + turn * np.arange(1, count) / count
        corners.extend(zip(cx + radius * np.cos(steps), cy + radius * np.sin(steps), strict=True))
    return np.asarray(corners, dtype=float)


def hole_corners(diameter_mm: float, segments: int, longest_mm: float) -> tuple[int, float]:
    """How many corners a round hole gets, and the radius they lie on so that the polygon has the hole's area.

    The area of a regular polygon of n corners on radius R is `n R² sin(2 pi / n) / 2`.
    """
    count = max(segments, math.ceil(math.pi * diameter_mm / longest_mm))
    return count, 0.5 * diameter_mm * math.sqrt(2 * math.pi / (count * math.sin(2 * math.pi / count)))


def panel_rings(
    faces: Sequence[Face],
    lines: Sequence[TangentLine],
    thickness_mm: float,
    segments: int,
    longest_mm: float,
    attempt: int = 0,
) -> list[list[Ring]]:
    """For every piece of metal of a panel that is wide enough to mesh: its outer ring, then those of its holes."""
    narrowest = NARROWEST_PER_THICKNESS[min(attempt, len(NARROWEST_PER_THICKNESS) - 1)] * thickness_mm
    shortest = SHORTEST_PER_THICKNESS * thickness_mm
    pieces = []
    for face in faces:
        outer = chords(face.outer.anticlockwise(), segments, longest_mm, shortest)
        tight = [chords(hole.clockwise(), segments, longest_mm, shortest) for hole in face.holes]
        polygon = shapely.Polygon(outer, _equal_holes(face, outer, tight, segments, longest_mm, narrowest))
        for piece in _wide_enough(polygon, narrowest):
            rings = [np.asarray(piece.exterior.coords)[:-1], *(np.asarray(r.coords)[:-1] for r in piece.interiors)]
            oriented = [r if (_area(r) > 0) == (i == 0) else r[::-1] for i, r in enumerate(rings)]
            clean = [_cleaned(ring, lines, thickness_mm) for ring in oriented]
            if len(clean[0].points) >= 3:
                pieces.append([clean[0], *(r for r in clean[1:] if len(r.points) >= 3)])
    return pieces


def _equal_holes(
    face: Face, outer: np.ndarray, tight: list[np.ndarray], segments: int, longest_mm: float, narrowest_mm: float
) -> list[np.ndarray]:
    """Rings of the holes; a round one keeps its area unless the slightly greater radius crowds a neighbour."""
    equal = []
    for hole, ring in zip(face.holes, tight, strict=True):
        circle = hole.circle
        if circle is None:
            equal.append(ring)
            continue
        (cx, cy), radius = circle
        count, greater = hole_corners(2 * radius, segments, longest_mm)
        angle = -2 * math.pi * np.arange(count) / count
        equal.append(np.column_stack([cx + greater * np.cos(angle), cy + greater * np.sin(angle)]))
    polygon = shapely.Polygon(outer, equal)
    if polygon.is_valid and shapely.minimum_clearance(polygon) > narrowest_mm:
        return equal
    return tight


def _wide_enough(polygon: shapely.Polygon, width: float) -> list[shapely.Polygon]:
    """The polygon without ligaments too narrow to mesh, and without slits too narrow to matter."""
    if polygon.is_valid and shapely.minimum_clearance(polygon) >= width:
        return [polygon]
    polygon = shapely.make_valid(polygon) if not polygon.is_valid else polygon
    limit = 1 / math.sin(0.5 * SHARPEST_RAD)
    for sign in (-1, 1):
        for step in (sign, -sign):
            polygon = polygon.buffer(0.5 * step * width, join_style="mitre", mitre_limit=limit)
    polygon = polygon.simplify(1e-6)
    parts = [g for g in shapely.get_parts(polygon) if g.geom_type == "Polygon"]
    return [g for g in parts if g.area > 4 * width * width]


def _area(ring: np.ndarray) -> float:
    x, y = ring.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _cleaned(ring: np.ndarray, lines: Sequence[TangentLine], thickness_mm: float) -> Ring:
    """The ring without short edges and sharp corners; corners on a tangent line stay on it."""
    points = _straight_dropped(_merged(ring, lines, SHORTEST_PER_THICKNESS * thickness_mm))
    points = _blunted(points, BLUNT_PER_THICKNESS * thickness_mm)
    points = _straight_dropped(_merged(points, lines, SHORTEST_PER_THICKNESS * thickness_mm))
    on = np.full(len(points), -1)
    for line in lines:
        along, off = line.place(points)
        here = np.abs(off) < ON_LINE_MM
        here &= (along > -ON_LINE_MM - line.length_mm) & (along < 2 * line.length_mm + ON_LINE_MM)
        both = here & np.roll(here, -1)
        low, high = np.minimum(along, np.roll(along, -1)), np.maximum(along, np.roll(along, -1))
        both &= (high > ON_LINE_MM) & (low < line.length_mm - ON_LINE_MM)
        on[both] = line.number
    return Ring(points, on)


def _merged(points: np.ndarray, lines: Sequence[TangentLine], shortest_mm: float) -> np.ndarray:
    """Corners with short edges drawn together: into the end that lies on a tangent line, else the middle."""
    if len(points) < 3:
        return points
    while len(points) > 3:
        lengths = np.hypot(*(np.roll(points, -1, axis=0) - points).T) / _shortest(points, lines, shortest_mm)
        index = int(np.argmin(lengths))
        if lengths[index] >= 1:
            break
        following = (index + 1) % len(points)
        one, two = (sum(_lies_on(line, points[i]) for line in lines) for i in (index, following))
        if one > two:
            keep = points[index]
        elif two > one:
            keep = points[following]
        else:
            keep = 0.5 * (points[index] + points[following])
        points = points.copy()
        points[index] = keep
        points = np.delete(points, following, axis=0)
    return points


def _shortest(points: np.ndarray, lines: Sequence[TangentLine], shortest_mm: float) -> np.ndarray:
    """For every edge, the length below which it is drawn together."""
    least = np.full(len(points), shortest_mm)
    for line in lines:
        along, off = line.place(points)
        on = (np.abs(off) < ON_LINE_MM) & (along > -ON_LINE_MM) & (along < line.length_mm + ON_LINE_MM)
        least[on != np.roll(on, -1)] = np.maximum(least[on != np.roll(on, -1)], line.coarse_mm)
    return least


def _lies_on(line: TangentLine, point: np.ndarray) -> bool:
    return abs(float(line.place(point[None])[1][0])) < ON_LINE_MM


def _straight_dropped(points: np.ndarray) -> np.ndarray:
    """Corners without those that lie on the straight line between their neighbours."""
    if len(points) < 4:
        return points
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    off = np.abs(cross) / np.maximum(np.hypot(*before.T) + np.hypot(*after.T), 1e-300)
    keep = off > 1e-7
    return points[keep] if keep.sum() >= 3 else points


def corner_angles(points: np.ndarray) -> np.ndarray:
    """Angle of the metal at every corner of a ring (metal on its left), 0 to 2 pi."""
    back, ahead = np.roll(points, 1, axis=0) - points, np.roll(points, -1, axis=0) - points
    turn = np.arctan2(ahead[:, 0] * back[:, 1] - ahead[:, 1] * back[:, 0], np.sum(ahead * back, axis=1))
    return np.mod(turn, 2 * math.pi)


def _blunted(points: np.ndarray, width_mm: float) -> np.ndarray:
    """Sharp corners cut off where the wedge is as wide as given.

    Where an edge of the wedge is shorter than that, the corner moves to where that edge's far end, dropped
    onto the other edge, lies: the wedge opens as an arc leaves its tangent.
    """
    for _ in range(200):
        angles = corner_angles(points)
        sharp = np.flatnonzero((angles < SHARPEST_RAD) | (angles > 2 * math.pi - 1e-6))
        if not len(sharp):
            return points
        i = int(sharp[0])
        h, j = (i - 1) % len(points), (i + 1) % len(points)
        corner, back, ahead = points[i], points[h], points[j]
        one, two = math.dist(corner, back), math.dist(corner, ahead)
        angle = min(float(angles[i]), 2 * math.pi - float(angles[i]))
        reach = width_mm / max(2 * math.sin(0.5 * angle), 1e-9)
        if reach < 0.98 * min(one, two):
            cut = [corner + (back - corner) * reach / one, corner + (ahead - corner) * reach / two]
            points = np.concatenate([points[:i], cut, points[i + 1 :]])
        elif len(points) < 4:
            return points
        elif one <= two:
            foot = corner + (ahead - corner) * (one * math.cos(angle) / two)
            points = _replaced(points, i, foot, h)
        else:
            foot = corner + (back - corner) * (two * math.cos(angle) / one)
            points = _replaced(points, i, foot, j)
    return points


def _replaced(points: np.ndarray, corner: int, foot: np.ndarray, dropped: int) -> np.ndarray:
    points = points.copy()
    points[corner] = foot
    return np.delete(points, dropped, axis=0)
