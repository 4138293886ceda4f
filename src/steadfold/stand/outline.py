"""Profiles of the catalogue as drawn: closed rings for Green's theorem, and walls for what thin metal does.

Frame of a section: y across, z along the height, origin anywhere; strut stands on its back (z = 0), slot upwards.
Rings run anticlockwise round metal and clockwise round holes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadfold.catalogue.profiles import Angle, FlatBar, Profile, RoundBar, SquareTube, StrutChannel, Timber, TSlot

Ring = NDArray[np.float64]
STEPS_PER_QUARTER = 48
"""Chords to a quarter circle: the area of an arc's sector comes out 2e-4 small."""

FREE, HELD = "free", "held"


@dataclass(frozen=True)
class Wall:
    """A flat wall of a thin section along its middle line, from (y, z) to (y, z).

    `flat_mm` is its width between the bends; `edges` says whether one long edge is free (a lip) or both are held.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    thickness_mm: float
    flat_mm: float
    edges: str


@dataclass(frozen=True)
class Outline:
    """A section drawn: rings (n, 2) of y, z, and its walls where it is thin (empty otherwise)."""

    rings: tuple[Ring, ...]
    walls: tuple[Wall, ...]
    closed: bool


def outline_of(profile: Profile) -> Outline | None:
    """The outline of a catalogue profile; None for T-slot extrusions, whose outlines differ by maker."""
    match profile:
        case StrutChannel():
            return _strut(profile)
        case TSlot():
            return None
        case SquareTube():
            return _tube(profile)
        case FlatBar():
            return Outline((rectangle(profile.width_mm, profile.thickness_mm),), (), False)
        case RoundBar():
            return Outline((circle(profile.diameter_mm),), (), False)
        case Angle():
            return _angle(profile)
        case Timber():
            return Outline((rectangle(profile.width_mm, profile.depth_mm),), (), False)


def rectangle(width_mm: float, height_mm: float) -> Ring:
    """A rectangle about the origin."""
    y, z = 0.5 * width_mm, 0.5 * height_mm
    return np.array([[-y, -z], [y, -z], [y, z], [-y, z]])


def circle(diameter_mm: float) -> Ring:
    """A circle about the origin."""
    angles = np.linspace(0.0, 2.0 * math.pi, 4 * STEPS_PER_QUARTER, endpoint=False)
    return 0.5 * diameter_mm * np.column_stack([np.cos(angles), np.sin(angles)])


def drilled_round(diameter_mm: float, hole_mm: float) -> tuple[Ring, Ring]:
    """A round bar cut along z by a hole through its middle: the two pieces that are left.

    Raises ValueError where the hole is as wide as the bar.
    """
    if not 0.0 < hole_mm < diameter_mm:
        raise ValueError(f"a hole of {hole_mm:g} mm in a bar of {diameter_mm:g} mm")
    edge = math.asin(hole_mm / diameter_mm)
    angles = np.linspace(-(math.pi / 2.0 - edge), math.pi / 2.0 - edge, 4 * STEPS_PER_QUARTER)
    right = 0.5 * diameter_mm * np.column_stack([np.cos(angles), np.sin(angles)])
    return right, right * np.array([-1.0, -1.0])


def filleted(corners: list[tuple[float, float]], radius_mm: float) -> NDArray[np.float64]:
    """An open line through corners with every inner corner rounded to a radius on this line, as fine chords."""
    points = [np.asarray(corners[0], dtype=float)]
    for before, corner, after in zip(corners, corners[1:], corners[2:], strict=False):
        here = np.asarray(corner, dtype=float)
        back = np.asarray(before, dtype=float) - here
        on = np.asarray(after, dtype=float) - here
        back, on = back / np.linalg.norm(back), on / np.linalg.norm(on)
        half = 0.5 * math.acos(float(np.clip(back @ on, -1.0, 1.0)))
        reach = radius_mm / math.tan(half)
        middle = here + (back + on) / np.linalg.norm(back + on) * radius_mm / math.sin(half)
        first, last = here + reach * back - middle, here + reach * on - middle
        sweep = math.atan2(float(first[0] * last[1] - first[1] * last[0]), float(first @ last))
        steps = max(2, math.ceil(STEPS_PER_QUARTER * abs(sweep) / (math.pi / 2.0)))
        for angle in np.linspace(0.0, sweep, steps + 1):
            cosine, sine = math.cos(angle), math.sin(angle)
            points.append(middle + np.array([cosine * first[0] - sine * first[1], sine * first[0] + cosine * first[1]]))
    points.append(np.asarray(corners[-1], dtype=float))
    return np.array(points)


def strip(line: NDArray[np.float64], thickness_mm: float) -> Ring:
    """The ring of a strip of even thickness along a rounded middle line (n, 2), ends cut square."""
    along = np.diff(line, axis=0)
    along = along / np.linalg.norm(along, axis=1)[:, None]
    tangent = np.vstack([along[:1], along[:-1] + along[1:], along[-1:]])
    size = np.linalg.norm(tangent, axis=1)
    # between two chords of an arc the offset point lies on the bisector, a little further out
    stretch = np.concatenate([[1.0], 2.0 / size[1:-1], [1.0]])
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]]) / size[:, None] * stretch[:, None]
    left, right = line + 0.5 * thickness_mm * normal, line - 0.5 * thickness_mm * normal
    ring = np.vstack([right, left[::-1]])
    return ring if ring_area(ring) > 0 else ring[::-1]


def ring_area(ring: Ring) -> float:
    """Signed area of a ring."""
    y, z = ring.T
    return 0.5 * float(np.sum(y * np.roll(z, -1) - np.roll(y, -1) * z))


def _strut(profile: StrutChannel) -> Outline:
    t, r = profile.thickness_mm, profile.inside_radius_mm
    width, height, slot, lip = profile.width_mm, profile.height_mm, profile.slot_mm, profile.lip_mm
    lip_y, side_y = 0.5 * slot + 0.5 * t, 0.5 * width - 0.5 * t
    corners = [
        (lip_y, height - lip), (lip_y, height - 0.5 * t), (side_y, height - 0.5 * t), (side_y, 0.5 * t),
        (-side_y, 0.5 * t), (-side_y, height - 0.5 * t), (-lip_y, height - 0.5 * t), (-lip_y, height - lip),
    ]  # fmt: skip
    ring = strip(filleted(corners, r + 0.5 * t), t)
    bend = r + t
    lip_flat, face_flat = lip - bend, side_y - lip_y + t - 2.0 * bend
    side_flat, back_flat = height - 2.0 * bend, width - 2.0 * bend
    flats = (lip_flat, face_flat, side_flat, back_flat, side_flat, face_flat, lip_flat)
    edges = (FREE, HELD, HELD, HELD, HELD, HELD, FREE)
    walls = [
        Wall(a, b, t, max(flat, 0.0), edge)
        for a, b, flat, edge in zip(corners, corners[1:], flats, edges, strict=False)
    ]
    if profile.count == 1:
        return Outline((ring,), tuple(walls), False)
    under = ring[::-1] * np.array([1.0, -1.0])
    # welded back to back: the two backs are one wall of twice the thickness at z = 0
    doubled: list[Wall] = []
    for wall in walls:
        (y1, z1), (y2, z2) = wall.start, wall.end
        if z1 == z2 == 0.5 * t:
            doubled.append(Wall((y1, 0.0), (y2, 0.0), 2.0 * t, wall.flat_mm, HELD))
            continue
        z1, z2 = (0.0 if z == 0.5 * t else z for z in (z1, z2))
        doubled.append(Wall((y1, z1), (y2, z2), t, wall.flat_mm, wall.edges))
        doubled.append(Wall((y1, -z1), (y2, -z2), t, wall.flat_mm, wall.edges))
    return Outline((ring, under), tuple(doubled), False)


def _tube(profile: SquareTube) -> Outline:
    side, t, outer = profile.side_mm, profile.thickness_mm, profile.outside_radius_mm
    inner = outer - t
    outside = _rounded_square(side, outer)
    inside = _rounded_square(side - 2.0 * t, inner)[::-1]
    half, flat = 0.5 * (side - t), side - 2.0 * outer
    corners = [(-half, -half), (half, -half), (half, half), (-half, half)]
    walls = tuple(Wall(a, b, t, flat, HELD) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    return Outline((outside, inside), walls, True)


def _rounded_square(side: float, radius: float) -> Ring:
    half = 0.5 * side
    corners = [(0.0, -half), (half, -half), (half, half), (-half, half), (-half, -half), (0.0, -half)]
    if radius <= 0.0:
        return np.array(corners[1:-1])
    return filleted(corners, radius)[:-1]


def _angle(profile: Angle) -> Outline:
    leg, t, root = profile.leg_mm, profile.thickness_mm, profile.root_radius_mm
    inner = filleted([(leg, t), (t, t), (t, leg)], root)
    ring = np.vstack([[[0.0, 0.0], [leg, 0.0]], inner, [[0.0, leg]]])
    half = 0.5 * t
    walls = (Wall((half, half), (leg, half), t, leg - t, FREE), Wall((half, half), (half, leg), t, leg - t, FREE))
    return Outline((ring,), walls, False)
