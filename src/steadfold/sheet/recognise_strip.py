"""Bend strips in x along the bend and angle around it, and the tangent lines where panels meet them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from steadfold.sheet.outline import Point
from steadfold.sheet.recognise_body import Edge, Use
from steadfold.sheet.recognise_outline import dense_points
from steadfold.sheet.recognise_skin import SAME_MM

Curve = tuple[np.ndarray, bool]
"""Points (n, 2) of x along the bend and angle around it; True when they are the ends of a straight line."""


@dataclass
class TangentLine:
    """A tangent line on a panel, in the panel's frame, with the x of corners that its strip has there."""

    start: np.ndarray
    along: np.ndarray
    length: float
    stops: list[float] = field(default_factory=list)

    def snapped(self, point: Point) -> Point:
        """A point on the line when it is as good as on it, at a corner of the strip when it is as good as there."""
        offset = np.asarray(point) - self.start
        x = float(offset @ self.along)
        across = float(offset[0] * self.along[1] - offset[1] * self.along[0])
        if abs(across) > SAME_MM or not -SAME_MM <= x <= self.length + SAME_MM:
            return point
        for stop in self.stops:
            if abs(stop - x) < SAME_MM:
                x = stop
                break
        on = self.start + x * self.along
        return float(on[0]), float(on[1])


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
    return tuple((points - np.array([low, 0.0]), straight) for points, straight in loop)
