"""Bend strips in x along the bend and angle around it, and the tangent lines where panels meet them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.sheet.from_solid.body import Edge, Use
from steadfold.sheet.from_solid.outline import dense_points
from steadfold.sheet.from_solid.shape import SAME_MM
from steadfold.sheet.outline import Point

Curve = tuple[np.ndarray, bool]
"""Points (n, 2) of x along the bend and angle around it; True when they are the ends of a straight line."""


@dataclass(frozen=True)
class TangentLine:
    """A tangent line on a panel, in the panel's frame."""

    start: np.ndarray
    along: np.ndarray
    length: float

    def is_near(self, point: Point) -> bool:
        """True for a point as good as on the line."""
        offset = np.asarray(point) - self.start
        x = float(offset @ self.along)
        across = float(offset[0] * self.along[1] - offset[1] * self.along[0])
        return abs(across) <= SAME_MM and -SAME_MM <= x <= self.length + SAME_MM

    def nearest(self, point: Point) -> Point:
        """The nearest point of the line."""
        on = self.start + float((np.asarray(point) - self.start) @ self.along) * self.along
        return float(on[0]), float(on[1])


def snapped(point: Point, lines: Sequence[TangentLine]) -> Point:
    """A point put onto the tangent lines it is as good as on: where two meet when it is near both."""
    near = [line for line in lines if line.is_near(point)]
    if not near:
        return point
    one = near[0]
    for two in near[1:]:
        (ax, ay), (bx, by) = one.along.tolist(), two.along.tolist()
        turn = ax * by - ay * bx
        if abs(turn) > 0.05:
            gap = two.start - one.start
            on = one.start + float(gap[0] * by - gap[1] * bx) / turn * one.along
            if float(np.hypot(*(on - np.asarray(point)))) < 4 * SAME_MM:
                return float(on[0]), float(on[1])
    return one.nearest(point)


def with_corners_at(
    loops: Sequence[tuple[Curve, ...]], angle: float, stops: Sequence[float]
) -> list[tuple[Curve, ...]]:
    """Strip loops whose corners on one tangent line are put where the panel has its own."""
    if not stops:
        return list(loops)
    at = np.asarray(stops)

    def moved(points: np.ndarray) -> np.ndarray:
        points = points.copy()
        for row in (0, -1):
            nearest = float(at[int(np.argmin(np.abs(at - points[row, 0])))])
            if abs(points[row, 1] - angle) < 1e-12 and abs(nearest - points[row, 0]) < 2 * SAME_MM:
                points[row, 0] = nearest
        return points

    return [tuple((moved(points), straight) for points, straight in loop) for loop in loops]


@dataclass(frozen=True)
class Around:
    """Points about a bend's axis as x along it and angle from the parent's tangent line."""

    centre: np.ndarray
    along: np.ndarray
    away: np.ndarray
    start: np.ndarray
    turn: float

    def points(self, points: np.ndarray) -> np.ndarray:
        """x and angle of points (n, 3); angles are the ones nearest to the middle of the bend."""
        offset = points - self.centre
        angle = np.arctan2(offset @ self.away, offset @ self.start)
        middle = 0.5 * self.turn
        angle = np.mod(angle - middle + math.pi, 2 * math.pi) - math.pi + middle
        return np.stack([offset @ self.along, angle], axis=1)

    def curve(self, edge: Edge, use: Use) -> Curve:
        """An edge on the bend's cylinder, in the sense it is run; ends as good as on a tangent line are put there."""
        straight = edge.kind != "free"
        if edge.kind == "circle":
            assert edge.axis is not None
            straight = abs(float(edge.axis @ self.along)) > 1 - 1e-9
        dense = edge.points[[0, -1]] if straight else dense_points(edge, 65)
        if not use.forward:
            dense = dense[::-1]
        found = self.points(dense)
        radius = float(np.linalg.norm(np.cross(dense[0] - self.centre, self.along)))
        near = SAME_MM / max(radius, 0.05)
        for row in (0, -1):
            for stop in (0.0, self.turn):
                if abs(found[row, 1] - stop) < min(near, 0.3 * self.turn):
                    found[row, 1] = stop
        return found, straight


def carried_to(points: np.ndarray, direction: np.ndarray, around: Around, radius: float) -> np.ndarray:
    """Points carried along a direction, the shortest way, to a distance from a bend's axis."""
    away, start = around.away, around.start
    offset = points - around.centre
    x, y = offset @ away, offset @ start
    dx, dy = float(direction @ away), float(direction @ start)
    square = dx * dx + dy * dy
    if square < 1e-6:
        return points
    half = (x * dx + y * dy) / square
    under = np.maximum(half**2 - (x * x + y * y - radius * radius) / square, 0.0)
    both = np.stack([-half + np.sqrt(under), -half - np.sqrt(under)])
    step = np.where(np.abs(both[0]) < np.abs(both[1]), both[0], both[1])
    return np.asarray(points + step[:, None] * direction)


def closed_up(curves: list[Curve]) -> tuple[Curve, ...]:
    """Curves whose ends meet: each starts where the one before ends."""
    found = []
    for i, (points, straight) in enumerate(curves):
        before = curves[i - 1][0][-1]
        moved = points.copy()
        meeting = (
            0.5 * (before + points[0]) if curves[i - 1][1] == straight else (points[0] if not straight else before)
        )
        moved[0] = meeting
        after = curves[(i + 1) % len(curves)]
        meeting = (
            0.5 * (after[0][0] + points[-1]) if after[1] == straight else (points[-1] if not straight else after[0][0])
        )
        moved[-1] = meeting
        found.append((moved, straight))
    return tuple(found)


def loops_area(loops: Sequence[Sequence[Curve]]) -> float:
    """Signed area inside loops of x and angle."""
    total = 0.0
    for loop in loops:
        points = np.concatenate([c[:-1] for c, _ in loop])
        x, y = points[:, 0], points[:, 1]
        total += 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return total


def stops_of(loops: Sequence[Sequence[Curve]], angle: float) -> list[float]:
    """x of all corners of a strip that lie on one of its tangent lines."""
    return sorted({float(c[0, 0]) for loop in loops for c, _ in loop if abs(c[0, 1] - angle) < 1e-12})


def shifted(loop: tuple[Curve, ...], low: float) -> tuple[Curve, ...]:
    """A loop with its x measured from `low`."""
    return tuple((points - np.array([low, 0.0]), straight) for points, straight in loop)
