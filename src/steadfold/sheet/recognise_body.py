"""A solid from another program as plain records: faces, edges and corners, nothing of the kernel left.

Recognition works on these alone, so it can be read, tested and timed without the kernel.
"""

from __future__ import annotations

from dataclasses import dataclass
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

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z of all corners and curve points."""
        round_ = [_around(edge) for edge in self.edges if edge.kind == "circle"]
        points = np.concatenate([self.corners, *(edge.points for edge in self.edges), *round_])
        width, depth, height = (points.max(axis=0) - points.min(axis=0)).tolist()
        return width, depth, height


def _around(edge: Edge) -> np.ndarray:
    """Points along an arc, for its extent."""
    assert edge.centre is not None and edge.axis is not None
    out = edge.points[0] - edge.centre
    other = np.cross(edge.axis, out)
    turn = 2 * (np.arctan2((edge.points[1] - edge.centre) @ other, (edge.points[1] - edge.centre) @ out) % (2 * np.pi))
    angles = np.linspace(0.0, turn, 33)[:, None]
    return np.asarray(edge.centre + np.cos(angles) * out + np.sin(angles) * other)


def place_text(point: object) -> str:
    """A place in the file's own coordinates, for people.

    >>> place_text((1.0, 2.25, -3.0))
    '(1.0, 2.2, -3.0)'
    """
    x, y, z = np.asarray(point, dtype=float).tolist()
    return f"({x:.1f}, {y:.1f}, {z:.1f})"
