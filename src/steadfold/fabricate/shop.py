"""What the people who cut, bend and coat can do: their machines, tools, stock and tolerances.

A tool is a prism along the bend line, given by its section in (y, z): y across the bend, away from the
operator, z up. A punch has its tip at the origin and points down; a die has the middle of its top face there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any, Literal

from steadfold.sheet.outline import Outline, polygon_outline

PunchKind = Literal["straight", "gooseneck", "acute", "outline"]
DieKind = Literal["standard", "acute"]

COMMON_PRACTICE = "common practice, no source"
FLANGE_TO_V = 0.7
"""Least outside flange over V opening at 90° where a shop gives no figure (common practice, no source)."""


@dataclass(frozen=True)
class Punch:
    """One upper tool.

    `height_mm` runs from the tip to the clamp, `clamp_half_width_mm` is half the width of all that is above
    (clamp and ram, over the whole machine). `max_bend_rad` is the sharpest bend it allows.
    """

    name: str
    kind: PunchKind
    outline: Outline
    height_mm: float
    clamp_half_width_mm: float
    max_bend_rad: float
    capacity_kn_per_m: float

    @cached_property
    def symmetric(self) -> bool:
        """True when front and back of the section are alike: it does not matter which way it is put in."""
        mirrored = sorted((round(-y, 6) + 0.0, round(z, 6)) for y, z in self.outline.points)
        return mirrored == sorted((round(y, 6), round(z, 6)) for y, z in self.outline.points)


@dataclass(frozen=True)
class Die:
    """One lower tool: a block with a V opening in its top face.

    `least_flange_mm` is the shortest outside flange at 90° that still reaches over the shoulder.
    """

    name: str
    kind: DieKind
    v_mm: float
    half_width_mm: float
    height_mm: float
    max_bend_rad: float
    least_flange_mm: float
    capacity_kn_per_m: float

    def least_flange_at(self, bend_rad: float) -> float:
        """Least outside flange at a bend angle: grows past 90°, × 1.3 at 120° and × 1.6 at 135°.

        Below 90° the figure of 90° is kept. Source: common practice, recalled; linear between.
        """
        turned = math.degrees(abs(bend_rad))
        points = ((90.0, 1.0), (120.0, 1.3), (135.0, 1.6))
        if turned <= 90.0:
            return self.least_flange_mm
        for (a0, f0), (a1, f1) in pairwise(points):
            if turned <= a1:
                return self.least_flange_mm * (f0 + (f1 - f0) * (turned - a0) / (a1 - a0))
        return self.least_flange_mm * points[-1][1]


@dataclass(frozen=True)
class Brake:
    """The press brake: how long, how strong, how far it opens, how well it holds an angle.

    `bed_half_width_mm`: half the width of the table under the die, over the whole machine.
    `end_allowance_mm`: how much shorter than the bend punch and die are put together at each end, at least (a
    corner, r + 2 t, is left free in any case).
    `leg_tolerance_mm` is per bend.
    """

    length_mm: float
    force_kn: float
    opening_mm: float
    bed_half_width_mm: float
    end_allowance_mm: float
    angle_tolerance_rad: float
    leg_tolerance_mm: float
    flattens_hems: bool
    flattening_half_width_mm: float
    gauge_reach_mm: float


@dataclass(frozen=True)
class Laser:
    """What the cutter holds: `*_t` values are multiples of the thickness, the larger of the two counts.

    `tolerance_mm` is on a size from edge to edge, either way.
    """

    tolerance_mm: float
    kerf_mm: float
    least_hole_t: float
    least_hole_mm: float
    least_web_t: float
    least_web_mm: float
    thickest_mm: Mapping[str, float]


@dataclass(frozen=True)
class SheetSize:
    """One size of sheet that is kept."""

    width_mm: float
    length_mm: float


@dataclass(frozen=True)
class Shelf:
    """Thicknesses kept of one material; `labels` as written, `thicknesses_mm` as reckoned."""

    material: str
    labels: tuple[str, ...]
    thicknesses_mm: tuple[float, ...]


@dataclass(frozen=True)
class Coater:
    """The coating line: inner size of the oven, heaviest piece, coat on each side, least hole to hang by."""

    oven_mm: tuple[float, float, float]
    heaviest_kg: float
    coat_low_mm: float
    coat_high_mm: float
    least_hanging_hole_mm: float
    drain_hole_mm: float


@dataclass(frozen=True)
class Times:
    """What handling at the brake costs, in seconds; the weights of the search for a bend order."""

    flip_s: float
    half_turn_s: float
    quarter_turn_s: float
    tool_change_s: float
    out_sideways_s: float
    cut_back_punch_s: float
    no_gauge_s: float
    gauge_on_flange_s: float
    long_side_back_s: float
    stroke_s: float


@dataclass(frozen=True)
class BendRow:
    """One line of a shop's own bend table: what it measured in one material, thickness, radius and angle."""

    material: str
    thickness_mm: float
    inside_radius_mm: float
    angle_rad: float
    k_factor: float


@dataclass(frozen=True)
class Shop:
    """Everything a finding about making needs to know of those who make it.

    `rates` is kept as it was written, for the room that reckons money.
    """

    name: str
    note: str
    laser: Laser
    brake: Brake
    punches: tuple[Punch, ...]
    dies: tuple[Die, ...]
    sheets: tuple[SheetSize, ...]
    shelves: tuple[Shelf, ...]
    coater: Coater
    times: Times
    lift_by_hand_kg: float
    radius_of_v: Mapping[str, float]
    v_of_t: float
    hem_radius_t: float
    bend_rows: tuple[BendRow, ...] = ()
    rates: Mapping[str, Any] = field(default_factory=dict)

    def die_for(
        self, thickness_mm: float, bend_rad: float = math.pi / 2, least_v_mm: float = 0.0
    ) -> Die | None:
        """The die for a thickness: V nearest (by ratio) to `v_of_t` thicknesses, if it bends so far
        and is at least `least_v_mm` wide (the widest there is where none is so wide).

        None when no die reaches the angle.
        """
        usable = [die for die in self.dies if abs(bend_rad) <= die.max_bend_rad + 1e-9]
        wide = [die for die in usable if die.v_mm >= least_v_mm - 1e-9]
        if not wide:
            return max(usable, key=lambda die: die.v_mm, default=None)
        usable = wide
        wanted = self.v_of_t * thickness_mm
        # A plain die is preferred where it does: the acute one is weaker and marks more.
        def nearness(die: Die) -> tuple[float, float]:
            return round(abs(math.log(die.v_mm / wanted)), 6), die.max_bend_rad

        return min(usable, key=nearness, default=None)


def straight_punch(half_thickness_mm: float, height_mm: float, included_rad: float) -> Outline:
    """Section of a straight punch: a tip of the included angle, widening to the body, up to the clamp."""
    a = half_thickness_mm
    shoulder = min(a / math.tan(0.5 * included_rad), height_mm)
    return polygon_outline([(0, 0), (a, shoulder), (a, height_mm), (-a, height_mm), (-a, shoulder)])


def gooseneck_punch(
    half_thickness_mm: float,
    height_mm: float,
    throat_mm: float,
    throat_from_mm: float,
    throat_to_mm: float,
    included_rad: float,
) -> Outline:
    """Section of a punch whose front is cut back to make room for a flange that stands up.

    Between two heights its front face lies `throat_mm` behind the front of its foot, the body bowing back as
    far. The front is at -y, where the operator is.

    Sloping faces lead into the throat from below (over 0.8 of its depth) and out of it above (over 1.4).
    Raises `ValueError` when the throat does not find room between tip and clamp.
    """
    a = half_thickness_mm
    shoulder = a / math.tan(0.5 * included_rad)
    low, high = throat_from_mm - 0.8 * throat_mm, throat_to_mm + 1.4 * throat_mm
    if not shoulder < low < throat_from_mm < throat_to_mm < high < height_mm:
        raise ValueError("the throat with its slopes does not fit between the tip and the clamp")
    back, deep = a + throat_mm, throat_mm - a
    return polygon_outline(
        [
            (0, 0), (a, shoulder), (a, low), (back, throat_from_mm), (back, throat_to_mm), (a, high),
            (a, height_mm), (-a, height_mm), (-a, high), (deep, throat_to_mm), (deep, throat_from_mm),
            (-a, low), (-a, shoulder),
        ]
    )
