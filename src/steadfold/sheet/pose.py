"""Where every panel lies: in the flat, and folded by any share of its bends.

Frames lie on the middle surface, in space: `p = origin + x along + y away + z face`, with z from -t/2 to
t/2 and the viewer of the face on the side of +z. The root panel's frame is the frame of space.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.sheet.outline import Isometry
from steadfold.sheet.part import Bend, Part


@dataclass(frozen=True)
class Frame:
    """Origin and three perpendicular unit vectors, each of shape (3,); left-handed where a panel's own frame is."""

    origin: np.ndarray
    along: np.ndarray
    away: np.ndarray
    face: np.ndarray

    def points(self, local: np.ndarray, height_mm: float | np.ndarray = 0.0) -> np.ndarray:
        """Points in space, shape (n, 3), from points of the frame's plane (n, 2) at a height above it."""
        local = np.asarray(local, dtype=float)
        height = np.broadcast_to(np.asarray(height_mm, dtype=float), local.shape[:1])
        return (
            self.origin + local[:, :1] * self.along + local[:, 1:2] * self.away + height[:, None] * self.face
        )


@dataclass(frozen=True)
class BendPose:
    """A bend in space: `start` is the frame of its strip at the parent's tangent line (x along, y away from
    the parent), turned about a line parallel to x through a total angle; `length_mm` is kept along the
    middle surface. An angle of 0 leaves the strip plane."""

    start: Frame
    angle_rad: float
    length_mm: float

    def points(
        self, x_mm: np.ndarray, share_across: np.ndarray, height_mm: float | np.ndarray = 0.0
    ) -> np.ndarray:
        """Points in space (n, 3) of the strip, from x along the bend and the share of the way across, 0 to 1."""
        x = np.asarray(x_mm, dtype=float)
        share = np.asarray(share_across, dtype=float)
        height = np.broadcast_to(np.asarray(height_mm, dtype=float), x.shape)
        turned = self.angle_rad * share
        if abs(self.angle_rad) < 1e-9:
            out, up = self.length_mm * share, np.zeros_like(share)
        else:
            radius = self.length_mm / self.angle_rad
            out, up = radius * np.sin(turned), radius * (1 - np.cos(turned))
        out = out - height * np.sin(turned)
        up = up + height * np.cos(turned)
        start = self.start
        return start.origin + x[:, None] * start.along + out[:, None] * start.away + up[:, None] * start.face

    def end(self) -> Frame:
        """The frame at the child's tangent line: x along, y into the child."""
        origin = self.points(np.zeros(1), np.ones(1))[0]
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        start = self.start
        return Frame(
            origin, start.along, cos * start.away + sin * start.face, cos * start.face - sin * start.away
        )


@dataclass(frozen=True)
class Pose:
    """Frames of all panels and poses of all bends, in the part's order."""

    panels: tuple[Frame, ...]
    bends: tuple[BendPose, ...]


def strip_length(bend: Bend, share: float, flat_k: bool) -> float:
    """Length of a strip across the bend at a share of folding; see `fold`."""
    return bend.middle_length_mm + (
        (1 - share) * (bend.allowance_mm - bend.middle_length_mm) if flat_k else 0.0
    )


def fold(part: Part, share: float | tuple[float, ...] = 1.0, flat_k: bool = False) -> Pose:
    """Fold a part: 0 leaves it flat, 1 folds it fully; one share for all bends, or one a bend.

    Strips keep their length on the middle surface, as the mesh's plane does. With `flat_k` their length runs
    from the shop's flat at share 0 to the folded middle surface at share 1, so that the flat is the flat that
    is cut. Raises `ValueError` when a bend comes before its parent is placed, or
    no bend joins a panel to the root.
    """
    shares = (share,) * len(part.bends) if isinstance(share, (int, float)) else share
    root = Frame(np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 1.0, 0]), np.array([0, 0, 1.0]))
    panels: list[Frame | None] = [root] + [None] * (len(part.panels) - 1)
    poses = []
    for bend, folded in zip(part.bends, shares, strict=True):
        parent = panels[bend.parent]
        if parent is None:
            raise ValueError(f"bend to panel {bend.child} comes before its parent is placed")
        start = Frame(
            parent.points(np.array([bend.parent_point]))[0],
            bend.parent_along[0] * parent.along + bend.parent_along[1] * parent.away,
            bend.parent_away[0] * parent.along + bend.parent_away[1] * parent.away,
            parent.face,
        )
        pose = BendPose(start, folded * bend.angle_rad, strip_length(bend, folded, flat_k))
        poses.append(pose)
        panels[bend.child] = _child_frame(bend, pose.end())
    if any(frame is None for frame in panels):
        raise ValueError("a panel is not joined to the root by any bend")
    return Pose(tuple(frame for frame in panels if frame is not None), tuple(poses))


def _child_frame(bend: Bend, end: Frame) -> Frame:
    (ax, ay), (bx, by) = bend.child_along, bend.child_away
    along = ax * end.along + bx * end.away
    away = ay * end.along + by * end.away
    origin = end.origin - bend.child_point[0] * along - bend.child_point[1] * away
    return Frame(origin, along, away, end.face)


def flat_places(
    part: Part, k_factor: float | None = None
) -> tuple[tuple[Isometry, ...], tuple[Isometry, ...]]:
    """Where panels and bend strips lie in the flat, in the root panel's frame.

    With `k_factor` every bend uses that K (0.5 is the mesh's plane) instead of its own. A strip's own y runs
    from 0 to its allowance at that K.
    """
    panels: list[Isometry] = [Isometry()] * len(part.panels)
    strips = []
    for bend in part.bends:
        k = bend.k_factor if k_factor is None else k_factor
        allowance = bend_length(bend, k)
        parent = panels[bend.parent]
        strip = Isometry(
            parent(bend.parent_point), parent.turned(bend.parent_along), parent.turned(bend.parent_away)
        )
        strips.append(strip)
        (ax, ay), (bx, by) = bend.child_along, bend.child_away
        along = strip.turned((ax, bx))
        away = strip.turned((ay, by))
        end = strip((0.0, allowance))
        qx, qy = bend.child_point
        origin = (end[0] - qx * along[0] - qy * away[0], end[1] - qx * along[1] - qy * away[1])
        panels[bend.child] = Isometry(origin, along, away)
    return tuple(panels), tuple(strips)


def bend_length(bend: Bend, k_factor: float) -> float:
    """Length of a bend across, at a given K."""
    return abs(bend.angle_rad) * (bend.inside_radius_mm + k_factor * bend.thickness_mm)
