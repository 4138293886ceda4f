"""Templates at 1:1 that wrap round a profile or lie on it, to mark an end cut that no saw scale goes to.

Unrolled: s runs round the outside of the profile, x along it. The cut is a plane at an angle from square, so that x is
the tangent of the angle times how far the surface lies across the member's upright plane.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadfold.catalogue.profiles import RoundBar, StrutChannel, profile
from steadfold.stand.outline import Ring, outline_of
from steadfold.stand.section import section_of

SCALE_BAR_MM = 50.0
"""Length of the bar to lay a rule on: if it is not 50 mm, the printer has scaled the page."""


@dataclass(frozen=True, eq=False)
class Template:
    """One template.

    `around_mm` (n,) and `along_mm` (n,) are the cut line, along counted from the short point. `folds_mm` are the
    places round the profile where the paper bends. `laid` is True for one that lies on a flat side only.
    """

    profile: str
    from_square_rad: float
    around_mm: NDArray[np.float64]
    along_mm: NDArray[np.float64]
    folds_mm: tuple[float, ...]
    laid: bool
    say: str

    @property
    def rise_mm(self) -> float:
        """From short point to long point."""
        return float(np.ptp(self.along_mm))

    @property
    def girth_mm(self) -> float:
        """How far round the profile the paper goes."""
        return float(self.around_mm[-1] - self.around_mm[0])


def template(name: str, from_square_rad: float, laid: bool = False) -> Template:
    """The template of an end cut at an angle from square, in the upright plane of the profile.

    Wraps round the outside; strut is wrapped from lip to lip round its back, its open face left out. `laid` gives
    the one for a flat side instead. Raises ValueError for 80 degrees and more, NotInCatalogue for an unknown profile.
    """
    if not 0.0 <= from_square_rad < math.radians(80.0):
        raise ValueError("an end cut is from 0 to less than 80 degrees from square")
    slope = math.tan(from_square_rad)
    section = section_of(name)
    angle = math.degrees(from_square_rad)
    if laid:
        depth = section.outside_mm[1]
        return Template(
            name, from_square_rad, np.array([0.0, depth]), np.array([0.0, depth * slope]), (), True,
            f"lay it on a side {depth:.1f} mm deep, its straight edge along the edge; {angle:.1f}° from square",
        )  # fmt: skip
    ring, folds_at = _girth(name)
    steps = np.linalg.norm(np.diff(ring, axis=0), axis=1)
    around = np.concatenate([[0.0], np.cumsum(steps)])
    along = (ring[:, 1] - ring[:, 1].min()) * slope
    return Template(
        name, from_square_rad, around, along, tuple(float(around[k]) for k in folds_at), False,
        f"wrap it round the outside, folds on the corners, and mark along the curve; {angle:.1f}° from square",
    )  # fmt: skip


def _girth(name: str) -> tuple[Ring, list[int]]:
    """The outside of a profile as an open line (n, 2), and the numbers of its points in the middle of each corner."""
    each = profile(name)
    outline = outline_of(each)
    if isinstance(each, StrutChannel):
        if each.count == 2:
            return _box(each.width_mm, 2.0 * each.height_mm, 0.0)
        return _trough(each)
    if outline is None or isinstance(each, RoundBar):
        if outline is None:
            width, height = section_of(name).outside_mm
            return _box(width, height, 0.0)
        ring = outline.rings[0]
        return np.vstack([ring, ring[:1]]), []
    points = np.concatenate(outline.rings)
    width, height = np.ptp(points, axis=0)
    radius = getattr(each, "outside_radius_mm", 0.0)
    return _box(float(width), float(height), float(radius))


def _box(width: float, height: float, radius: float) -> tuple[Ring, list[int]]:
    """Round a rectangle from the middle of its top, corners rounded."""
    y, z = 0.5 * width, 0.5 * height
    corners = [(-y, z), (-y, -z), (y, -z), (y, z)]
    points: list[tuple[float, float]] = [(0.0, z)]
    folds = []
    for number, (cy, cz) in enumerate(corners):
        start = math.pi / 2.0 * (number + 1)
        middle = (cy - math.copysign(radius, cy), cz - math.copysign(radius, cz))
        steps = 9 if radius > 0.0 else 1
        for step in range(steps):
            angle = start + (math.pi / 2.0) * (step / (steps - 1) if steps > 1 else 0.5)
            if radius > 0.0:
                points.append((middle[0] + radius * math.cos(angle), middle[1] + radius * math.sin(angle)))
            else:
                points.append((cy, cz))
            if step == steps // 2:
                folds.append(len(points) - 1)
    points.append((0.0, z))
    return np.array(points), folds


def _trough(each: StrutChannel) -> tuple[Ring, list[int]]:
    """Round strut from the edge of one lip over face, side, back, side and face to the other."""
    y, z, slot = 0.5 * each.width_mm, each.height_mm, 0.5 * each.slot_mm
    radius = each.inside_radius_mm + each.thickness_mm
    box, folds = _box(each.width_mm, z, radius)
    box = box[1:-1] + np.array([0.0, 0.5 * z])
    ring = np.vstack([[(-slot, z)], box, [(slot, z)]])
    assert ring[0][0] > -y
    return ring, folds
