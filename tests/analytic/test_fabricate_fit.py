"""Gaps as chains: worst case by adding up, the usual case by root of the sum of squares, both against
drawing.

The story of the slot bar (worked by hand): a slot cut 12.0 ± 0.13 with 60 to 120 µm of powder on each
side ends between 11.63 and 12.01; a tool of 11.6 ± 0.2 jams; 11.8 + 0.5 play + 0.24 coat + 0.13 cut =
12.67, order 12.7.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from steadfold.catalogue import material
from steadfold.catalogue.finishes import finish
from steadfold.fabricate.fit import (
    Chain,
    Link,
    Passing,
    between_flanges_chain,
    opening_chain,
    size_to_order_mm,
)
from steadfold.fabricate.making import noted_fabrication
from steadfold.fabricate.shop_file import typical_shop
from steadfold.sheet.outline import obround
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel

SHOP, POWDER = typical_shop(), finish("powder coat")
RIGHT = math.pi / 2


def slot_bar() -> Part:
    """2 mm, r 2, K 0.42: back 60, shelf 50 with 18 slots 12 x 30 on 30 pitch, lip 12, 620 long; the slots
    11 mm from the outside of the rear bend and 9 mm from that of the front one."""
    slots = tuple(Cutout(obround(30, 12, (55.0 + 30.0 * i, 11.0 + 15.0), RIGHT)) for i in range(18))
    panels = (
        rectangular_panel("back", 620, 60),
        rectangular_panel("shelf", 620, 50, "back", "bottom", RIGHT, cutouts=slots),
        rectangular_panel("lip", 620, 12, "shelf", "far", RIGHT),
    )
    return resolve(PanelTree(panels), "slot bar", 2.0, din_rule(2.0, 2.0, 0.42)).part


def test_a_coated_slot_ends_between_the_values_worked_out_by_hand() -> None:
    low, high = opening_chain(12.0, SHOP, POWDER).worst_mm
    assert (round(low, 2), round(high, 2)) == (11.63, 12.01)


def test_the_size_to_order_is_the_one_worked_out_by_hand() -> None:
    assert size_to_order_mm(11.8, 0.5, SHOP, POWDER) == 12.7
    low, _ = opening_chain(12.7, SHOP, POWDER).worst_mm
    assert low - 11.8 >= 0.5


def test_the_slot_bar_jams_as_cut_and_is_cured_by_the_size_ordered() -> None:
    tool = Passing("shelf", (55.0, 26.0), "pliers", (11.4, 11.8))
    found = noted_fabrication(slot_bar(), material("DC01"), SHOP, "powder coat", passing=(tool,))
    jam = next(each.finding for each in found if each.finding.code == "slot-closes-up")
    assert jam.value == pytest.approx(11.63, abs=0.005)
    assert jam.limit == 11.8
    assert jam.change is not None
    assert jam.change.text == "12.7 mm"


def test_the_slot_bar_just_passes_the_rules_of_its_story() -> None:
    """Least flange 0.7 · 16 = 11.2 against 12; slots 9.0 from the outside where 2.5 t + r + t = 9.0 is
    the least."""
    codes = [each.finding.code for each in noted_fabrication(slot_bar(), material("DC01"), SHOP, "powder coat")]
    assert "flange-too-short" not in codes
    assert "hole-near-bend" not in codes
    assert "no-bend-order" not in codes


def test_worst_case_adds_the_ends_up() -> None:
    chain = Chain((Link("a", 9, 11), Link("b", 1, 2, -2.0), Link("c", -0.5, 0.5)))
    assert chain.worst_mm == pytest.approx((9 - 4 - 0.5, 11 - 2 + 0.5))
    assert chain.middle_mm == pytest.approx(10 - 3)


@pytest.mark.parametrize(
    "links",
    [
        (Link("a", 9.8, 10.2), Link("b", 4.9, 5.1, -1.0), Link("c", 0.06, 0.12, -2.0, "even")),
        tuple(Link(f"leg {i}", -0.3, 0.3) for i in range(6)),
        (Link("cut", 11.87, 12.13), Link("coat", 0.06, 0.12, -2.0, "even"), Link("tool", 11.4, 11.8, -1.0)),
    ],
)
def test_drawn_gaps_spread_like_the_root_of_the_sum_of_squares_within_a_hundredth(links: tuple[Link, ...]) -> None:
    chain = Chain(links)
    # Closed form: variance of a normal size is (range / 6)², of an even one range² / 12.
    variance = sum(
        link.times**2 * (link.high_mm - link.low_mm) ** 2 / (36 if link.shape == "normal" else 12) for link in links
    )
    drawn = chain.drawn_mm()
    assert float(np.std(drawn)) == pytest.approx(math.sqrt(variance), rel=0.01)
    assert chain.deviation_mm == pytest.approx(math.sqrt(variance))
    assert float(np.mean(drawn)) == pytest.approx(chain.middle_mm, abs=0.01 * math.sqrt(variance) + 1e-9)


def test_the_share_that_fits_is_the_normal_integral_for_normal_links() -> None:
    chain = Chain((Link("gap", 0.0, 0.6), Link("item", -0.3, 0.3, -1.0)))
    # middle 0.3, deviation 0.1 √2
    expected = 0.5 * (1 + math.erf(0.3 / (0.1 * math.sqrt(2)) / math.sqrt(2)))
    assert chain.share_within(0.0) == pytest.approx(expected, abs=0.002)


def test_drawing_twice_gives_the_same_gaps() -> None:
    chain = opening_chain(12.0, SHOP, POWDER)
    assert np.array_equal(chain.drawn_mm(1000), chain.drawn_mm(1000))
    assert not np.array_equal(chain.drawn_mm(1000), chain.drawn_mm(1000, seed=1))


def test_the_centred_nominal_puts_the_gap_in_the_middle() -> None:
    chain = Chain((*opening_chain(12.0, SHOP, POWDER).links, Link("tool", 11.4, 11.8, -1.0)))
    moved = chain.centred("cut", 0.2, 1.0)
    centred = Chain((moved, *chain.links[1:]))
    assert centred.middle_mm == pytest.approx(0.6)
    # by hand: 0.6 + 11.6 + 0.18
    assert moved.middle_mm == pytest.approx(12.38)
    with pytest.raises(KeyError):
        chain.centred("nothing", 0, 1)


def test_a_gap_between_flanges_opens_with_depth_by_the_tangent_of_the_angle() -> None:
    """140 mm deep at ± 1°: 2.44 mm a flange (tip error L tan 1°)."""
    shallow = between_flanges_chain(50, 0, 2, SHOP, finish("none"))
    deep = between_flanges_chain(50, 140, 2, SHOP, finish("none"))
    spread = (deep.worst_mm[1] - deep.worst_mm[0]) - (shallow.worst_mm[1] - shallow.worst_mm[0])
    assert spread == pytest.approx(2 * 2 * 140 * math.tan(math.radians(1)))
    assert 140 * math.tan(math.radians(1)) == pytest.approx(2.4, abs=0.05)
