"""The planner's limits against closed forms.

Derivation, all lengths on the middle surface from the sharp vertices, bends of 90° finished, inside
radius towards 0, punch tip on the inner face: with the web of a U (w) at 45° its leg's end reaches back
over the punch. The corner of its inner face stands at y = (w - t/2 - L) / √2 and its outer one at z = (w
- t/2 + L) / √2. It must stay outside the punch (y ≥ a) and under the clamp (z ≤ P), or outside the clamp
altogether (y ≥ c), or pass the clamp's corner with its end face, z - y = √2 L - t/√2 ≤ P - c. (The hand
formula leaves the last case out; it counts only for webs between (P + c)/√2 and that plus t, where it
adds up to t.) A wall of a tray lies across the bend line; its upper edge, z = y + √2 h - t/√2, must pass
under the clamp's corner (c, P). The reverse leg of a Z hangs down in front of the die (half width D,
opening V, height H): while the sheet is flat it must clear the side of the die, at 90° its corner, which
has then risen against the sheet; and it must not reach the bed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from steadfold.catalogue import material
from steadfold.fabricate.bend_order import BendSearch
from steadfold.fabricate.brake_check import BrakeCheck
from steadfold.fabricate.shop import Die, Punch, Shop, straight_punch
from steadfold.fabricate.shop_file import typical_shop
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import PanelTree, rectangular_panel

RIGHT_ANGLE = math.pi / 2
ROOT = math.sqrt(2)
SHARP_MM = 0.005
"""Inside radius of the test parts: as good as sharp."""


@dataclass(frozen=True)
class ToolSet:
    """Half thickness, height and clamp half width of a straight punch; opening, half width, height of a
    die."""

    a: float
    height: float
    clamp: float
    v: float
    die_half: float
    die_height: float
    t: float

    def shop(self) -> Shop:
        """A shop with these tools and no others."""
        outline = straight_punch(self.a, self.height, math.radians(85))
        punch = Punch("straight", "straight", outline, self.height, self.clamp, math.radians(95), 1000.0)
        die = Die("die", "standard", self.v, self.die_half, self.die_height, math.radians(95), 1.0, 1000.0)
        return replace(typical_shop(), punches=(punch,), dies=(die,))


SETS = {
    "a7 P120 c45": ToolSet(7, 120, 45, 16, 20, 60, 2.0),
    "a10 P100 c40": ToolSet(10, 100, 40, 24, 24, 70, 3.0),
    "a5 P90 c30": ToolSet(5, 90, 30, 12, 18, 55, 1.5),
}


def profile(middles: list[float], signs: list[int], t: float, width: float = 150.0) -> Part:
    """A folded strip by its middle-surface lengths between sharp vertices, every bend 90° up (1) or down
    (-1)."""
    last = len(middles) - 1
    panels = [
        rectangular_panel(
            f"p{i}", width, length + (0.5 * t if i in (0, last) else t), None if i == 0 else f"p{i - 1}", "top",
            signs[i - 1] * RIGHT_ANGLE if i else 0.0,
        )
        for i, length in enumerate(middles)
    ]
    return resolve(PanelTree(tuple(panels)), "profile", t, din_rule(t, SHARP_MM, 0.5)).part


def tray(width: float, length: float, depth: float, t: float) -> Part:
    """Four walls on a base, middle-surface lengths."""
    base = rectangular_panel("base", width + t, length + t)
    walls = [
        rectangular_panel(
            edge, width + t if edge in ("top", "bottom") else length + t, depth + 0.5 * t, "base", edge, RIGHT_ANGLE
        )
        for edge in ("bottom", "right", "top", "left")
    ]
    return resolve(PanelTree((base, *walls)), "tray", t, din_rule(t, SHARP_MM, 0.5)).part


def can_be_bent(part: Part, shop: Shop) -> bool:
    """Whether any order exists, bending to 90° exactly."""
    search = BendSearch(part, material("DC01"), shop)
    count = len(search.strokes)
    search.check = BrakeCheck(search.bodies, shop.brake, (RIGHT_ANGLE,) * count, (0.0,) * count)
    return search.alive(0)


def limit(can: Callable[[float], bool], low: float, high: float) -> float:
    """Where `can` turns from its answer at `low` to that at `high`, within 0.02."""
    at_low = can(low)
    assert can(high) != at_low
    while high - low > 0.02:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if can(middle) == at_low else (low, middle)
    return 0.5 * (low + high)


def leg_of_a_u(s: ToolSet, w: float) -> float:
    """The longest leg on a web of w."""
    past_the_corner = (s.height - s.clamp) / ROOT + s.t / 2
    under = min(w - ROOT * s.a - s.t / 2, max(ROOT * s.height + s.t / 2 - w, past_the_corner))
    return max(under, w - ROOT * s.clamp - s.t / 2)


def least_step_of_a_z(s: ToolSet) -> float:
    """The least middle part of a Z."""
    cos = math.cos(math.radians(45))
    at_90 = s.die_half * cos + 0.5 * s.v * (1 / cos - cos) - s.t / 2
    return s.t / 2 + max(s.die_half, at_90)


@pytest.mark.parametrize(("w", "printed"), [(40, 29.10), (60, 49.10), (80, 69.10), (100, 70.71), (120, 55.36)])
def test_the_formula_for_the_leg_of_a_u_gives_the_values_worked_out_by_hand(w: float, printed: float) -> None:
    assert leg_of_a_u(SETS["a7 P120 c45"], w) == pytest.approx(printed, abs=0.006)
    assert leg_of_a_u(SETS["a10 P100 c40"], 110) == pytest.approx(51.93, abs=0.006)


@pytest.mark.parametrize("tools", SETS)
@pytest.mark.parametrize("w", [40.0, 60.0, 80.0, 100.0, 120.0])
def test_the_longest_leg_of_a_u_is_found_within_two_tenths(tools: str, w: float) -> None:
    s = SETS[tools]
    shop, expected = s.shop(), leg_of_a_u(s, w)
    found = limit(lambda leg: can_be_bent(profile([leg, w, leg], [1, 1], s.t), shop), 12.0, w + 60.0)
    assert found == pytest.approx(expected, abs=0.2)


@pytest.mark.parametrize("tools", SETS)
def test_the_deepest_tray_is_found_within_two_tenths(tools: str) -> None:
    s = SETS[tools]
    expected = (s.height - s.clamp) / ROOT + s.t / 2
    if tools == "a7 P120 c45":
        assert expected == pytest.approx(54.03, abs=0.006)
    shop = s.shop()
    found = limit(lambda depth: can_be_bent(tray(260.0, 240.0, depth, s.t), shop), 20.0, 90.0)
    assert found == pytest.approx(expected, abs=0.2)


@pytest.mark.parametrize(("v", "half", "printed"), [(12, 18, 19.0), (16, 20, 21.0), (24, 24, 25.46)])
def test_the_least_step_of_a_z_is_found_within_two_tenths(v: float, half: float, printed: float) -> None:
    s = ToolSet(7, 120, 45, v, half, 60, 2.0)
    assert least_step_of_a_z(s) == pytest.approx(printed, abs=0.006)
    shop = s.shop()
    found = limit(lambda step: can_be_bent(profile([30.0, step, 30.0], [1, -1], s.t), shop), 8.0, 45.0)
    assert found == pytest.approx(printed, abs=0.2)


@pytest.mark.parametrize("tools", SETS)
def test_the_reverse_leg_of_a_z_ends_on_the_bed(tools: str) -> None:
    s = SETS[tools]
    expected = s.die_height + s.t / 2
    shop = s.shop()
    assert shop.brake.bed_half_width_mm > 40
    # The other leg is short, and so long that the order cannot be turned about.
    found = limit(
        lambda leg: can_be_bent(profile([leg, 40.0, leg], [1, -1], s.t), shop), 30.0, s.die_height + 30.0
    )
    assert found == pytest.approx(expected, abs=0.2)


def test_an_inside_radius_lifts_the_vertex_and_so_lengthens_the_leg_that_the_clamp_limits() -> None:
    """With inside radius r the tip stands r (√2 - 1) above the sharp inner vertex, so the clamp does too,
    and the leg's end may reach √2 times that further up."""
    s, r, w = SETS["a7 P120 c45"], 4.0, 100.0

    def rounded(leg: float) -> Part:
        panels = (
            rectangular_panel("p0", 150.0, leg + 1.0),
            rectangular_panel("p1", 150.0, w + 2.0, "p0", "top", RIGHT_ANGLE),
            rectangular_panel("p2", 150.0, leg + 1.0, "p1", "top", RIGHT_ANGLE),
        )
        return resolve(PanelTree(panels), "u", s.t, din_rule(s.t, r, 0.5)).part

    shop = s.shop()
    found = limit(lambda leg: can_be_bent(rounded(leg), shop), 12.0, 160.0)
    assert found == pytest.approx(leg_of_a_u(s, w) + ROOT * r * (ROOT - 1), abs=0.2)
