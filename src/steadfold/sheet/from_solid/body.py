"""A solid from another program as plain records: faces, edges and corners, nothing of the kernel left.

Recognition works on these alone, so it can be read, tested and timed without the kernel.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

SurfaceKind = Literal["plane", "cylinder", "cone", "sphere", "torus", "free"]
CurveKind = Literal["line", "circle", "free"]


@dataclass(frozen=True)
class Edge:
    """An edge in space. `points` (n, 3) run from its first corner to its last: two for a line, three for an
    arc (start, middle, end), more for any other curve. `start` and `end` number the body's corners; they are
    the same for a closed edge. An arc turns to the right-hand side of its `axis`."""

    kind: CurveKind
    points: np.ndarray
    start: int
    end: int
    centre: np.ndarray | None = None
    axis: np.ndarray | None = None
    radius_mm: float = 0.0


@dataclass(frozen=True)
class Use:
    """An edge as a face's boundary runs along it: metal on the left, seen from outside the solid."""

    edge: int
    forward: bool


@dataclass(frozen=True)
class SolidFace:
    """A face of the solid.

    `axis` is the outward normal of a plane, the axis of a cylinder or cone. `bulges` says of a cylinder or
    cone that its outside is convex (the outward normal points away from the axis). `half_angle_rad` is a
    cone's. `uses` is the whole boundary in no particular order.
    """

    kind: SurfaceKind
    origin: np.ndarray
    axis: np.ndarray
    uses: tuple[Use, ...]
    radius_mm: float = 0.0
    bulges: bool = False
    half_angle_rad: float = 0.0
    area_mm2: float = 0.0
    middle: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def normal_at(self, point: np.ndarray) -> np.ndarray:
        """Outward unit normal of a plane or cylinder at a point on it."""
        if self.kind == "plane":
            return self.axis
        out = point - self.origin
        out = out - (out @ self.axis) * self.axis
        out = out / max(float(np.linalg.norm(out)), 1e-300)
        return out if self.bulges else -out


@dataclass(frozen=True)
class Body:
    """One closed solid: mm throughout, faces oriented outward, every edge used once each way."""

    name: str
    count: int
    corners: np.ndarray
    edges: tuple[Edge, ...]
    faces: tuple[SolidFace, ...]
    volume_mm3: float
    tolerance_mm: float

    @cached_property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z of all corners and curve points."""
        round_ = [arc_points(edge, 33) for edge in self.edges if edge.kind == "circle"]
        points = np.concatenate([self.corners, *(edge.points for edge in self.edges), *round_])
        width, depth, height = (points.max(axis=0) - points.min(axis=0)).tolist()
        return width, depth, height


def cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Cross product of two vectors of shape (3,); many times faster than numpy's for so few numbers."""
    (ax, ay, az), (bx, by, bz) = a.tolist(), b.tolist()
    return np.array((ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx))


def arc_turn(edge: Edge) -> float:
    """Angle that a circular edge goes through about its axis, in (0, 2π]."""
    assert edge.centre is not None and edge.axis is not None
    out = edge.points[0] - edge.centre
    other = cross(edge.axis, out)
    middle = edge.points[1] - edge.centre
    return 2 * (math.atan2(float(middle @ other), float(middle @ out)) % (2 * math.pi))


def arc_points(edge: Edge, count: int) -> np.ndarray:
    """Points along a circular edge, evenly spread, both ends included, shape (count, 3)."""
    assert edge.centre is not None and edge.axis is not None
    out = edge.points[0] - edge.centre
    turned = np.linspace(0.0, arc_turn(edge), count)[:, None]
    return np.asarray(edge.centre + np.cos(turned) * out + np.sin(turned) * cross(edge.axis, out))


def exact_volume(edges: Sequence[Edge], faces: Sequence[SolidFace], askew: float = 1e-9) -> float | None:
    """Volume of a closed solid by Gauss's theorem, a third of the flux of r through its faces.

    Closed form for planes and cylinders bounded by lines and by circles in the plane or about the axis; None
    when there is any other face, or a circle whose axis strays from its face's by more than `askew` (1 less the
    cosine). Through a plane the flux is its distance times its area, through a cylinder
    of radius R about c it is c · N ± R A, with vector area N = half the integral of r × dr and area
    A = R times the integral of z dθ along the boundary.
    """
    total = 0.0
    # about a corner of the solid, so that one far from the origin loses no digits
    base = edges[0].points[0]
    for face in faces:
        if face.kind not in ("plane", "cylinder"):
            return None
        vector, swept = np.zeros(3), 0.0
        for use in face.uses:
            edge = edges[use.edge]
            sign = 1.0 if use.forward else -1.0
            if edge.kind == "free":
                return None
            first, last = edge.points[0] - base, edge.points[-1] - base
            if edge.kind == "line":
                vector += sign * cross(first, last)
                continue
            assert edge.centre is not None and edge.axis is not None
            turn = arc_turn(edge)
            along = float(edge.axis @ face.axis)
            if abs(along) < 1 - askew:
                return None
            vector += sign * (cross(edge.centre - base, last - first) + edge.radius_mm**2 * turn * edge.axis)
            swept += sign * (1.0 if along > 0 else -1.0) * turn * float((edge.centre - face.origin) @ face.axis)
        flux = float((face.origin - base) @ vector) * 0.5
        if face.kind == "cylinder":
            flux += (1.0 if face.bulges else -1.0) * face.radius_mm**2 * abs(swept)
        total += flux
    return total / 3


def place_text(point: object) -> str:
    """A place in the file's own coordinates, for people.

    >>> place_text((1.0, 2.25, -3.0))
    '(1.0, 2.2, -3.0)'
    """
    x, y, z = np.asarray(point, dtype=float).tolist()
    return f"({x:.1f}, {y:.1f}, {z:.1f})"
