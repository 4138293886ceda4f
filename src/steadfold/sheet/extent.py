"""How much room a folded part takes, from its outlines and bends alone, without the geometry kernel.

The greatest reach of a part in any direction is on an edge of one of its two skins: a straight line (reached at
its ends), a circle (solved), or the edge of a cutout in a bend (searched).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from steadfold.sheet.outline import Face, Outline, Point, arc_of
from steadfold.sheet.part import Part
from steadfold.sheet.pose import BendPose, Frame, fold


def folded_size_mm(part: Part, share: float | tuple[float, ...] = 1.0) -> tuple[float, float, float]:
    """Width, height and depth of the part folded by a share, along x, y and z of the root panel's frame."""
    low, high = folded_bounds_mm(part, share)
    dx, dy, dz = (float(b - a) for a, b in zip(low, high, strict=True))
    return dx, dy, dz


def folded_bounds_mm(part: Part, share: float | tuple[float, ...] = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest x, y and z (3,) of the part folded by a share, in the root panel's frame.

    The middle of the root panel's thickness is z = 0.
    """
    pose = fold(part, share)
    half = 0.5 * part.thickness_mm
    reached: list[np.ndarray] = []
    for panel, frame in zip(part.panels, pose.panels, strict=True):
        for height in (-half, half):
            for face in panel.faces:
                reached += _panel_face(face, frame, height)
    for bend, strip in zip(part.bends, pose.bends, strict=True):
        for height in (-half, half):
            for face in bend.faces:
                reached += _strip_face(face, strip, bend.allowance_mm, height)
    points = np.vstack(reached)
    return points.min(axis=0), points.max(axis=0)


def _outlines(face: Face) -> Iterator[Outline]:
    yield face.outer
    yield from face.holes


def _panel_face(face: Face, frame: Frame, height_mm: float) -> Iterator[np.ndarray]:
    """Points that reach furthest, (n, 3) each; holes reach less far than the outline round them."""
    yield frame.points(np.asarray(face.outer.points), height_mm)
    for start, end, bulge in face.outer.segments():
        if bulge:
            centre, radius, angle, turn = arc_of(start, end, bulge)
            middle = frame.points(np.array([centre]), height_mm)[0]
            yield _circle_reach(middle, radius * frame.along, radius * frame.away, angle, turn)


def _strip_face(face: Face, strip: BendPose, allowance_mm: float, height_mm: float) -> Iterator[np.ndarray]:
    flat = abs(strip.angle_rad) < 1e-9
    for outline in _outlines(face):
        x, y = np.asarray(outline.points).T
        yield strip.points(x, y / allowance_mm, height_mm)
        for start, end, bulge in outline.segments():
            if not bulge and (flat or abs(start[1] - end[1]) < 1e-12):
                continue
            if not bulge and abs(start[0] - end[0]) < 1e-12:
                yield _across(strip, start[0], start[1] / allowance_mm, end[1] / allowance_mm, height_mm)
            else:
                yield _searched(_along(strip, start, end, bulge, allowance_mm, height_mm))


def _across(strip: BendPose, x_mm: float, first: float, last: float, height_mm: float) -> np.ndarray:
    """The arc straight across a bend, between two shares of the way."""
    start, signed_radius = strip.start, strip.length_mm / strip.angle_rad
    centre = start.origin + x_mm * start.along + signed_radius * start.face
    radius = signed_radius - height_mm
    angle, turn = strip.angle_rad * first, strip.angle_rad * (last - first)
    return _circle_reach(centre, -radius * start.face, radius * start.away, angle, turn)


def _circle_reach(
    centre: np.ndarray, at_zero: np.ndarray, at_quarter: np.ndarray, angle: float, turn: float
) -> np.ndarray:
    """The points of an arc `centre + cos(a) at_zero + sin(a) at_quarter` that reach furthest along the axes."""
    furthest = np.arctan2(at_quarter, at_zero)
    angles = np.concatenate([furthest, furthest + math.pi])
    gone = np.mod((angles - angle) * math.copysign(1.0, turn), 2 * math.pi)
    inside = angles[gone < abs(turn)]
    return centre + np.outer(np.cos(inside), at_zero) + np.outer(np.sin(inside), at_quarter)


def _along(
    strip: BendPose, start: Point, end: Point, bulge: float, allowance_mm: float, height_mm: float
) -> Callable[[np.ndarray], np.ndarray]:
    """A segment of a strip's outline in space, by the share of the way along it."""

    def points(share: np.ndarray) -> np.ndarray:
        if bulge:
            (cx, cy), radius, angle, turn = arc_of(start, end, bulge)
            x, y = cx + radius * np.cos(angle + turn * share), cy + radius * np.sin(angle + turn * share)
        else:
            x, y = start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
        return strip.points(x, y / allowance_mm, height_mm)

    return points


def _searched(curve: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """The points of a smooth curve that reach furthest along the axes: the best of 65, then ever finer round it."""
    share = np.linspace(0.0, 1.0, 65)
    rough = curve(share)
    best = [(axis, sign, share[np.argmax(sign * rough[:, axis])]) for axis in range(3) for sign in (-1, 1)]
    found = []
    for axis, sign, at in best:
        step = share[1]
        for _ in range(12):
            near = np.clip(at + step * np.linspace(-1.0, 1.0, 9), 0.0, 1.0)
            at = near[np.argmax(sign * curve(near)[:, axis])]
            step *= 0.25
        found.append(at)
    return curve(np.array(found))
