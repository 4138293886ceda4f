"""Whatever the part, the findings keep their form and their sense."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import assume, given, settings

from steadfold.catalogue import material
from steadfold.fabricate.bend_plan import BendPlan, NoPlan
from steadfold.fabricate.codes import FABRICATION_CODES
from steadfold.fabricate.making import bend_order, noted_fabrication
from steadfold.fabricate.measures import Measures
from steadfold.fabricate.shop_file import typical_shop
from steadfold.sheet.flat import FlatError
from tests.properties.parts import RandomPart, random_parts, resolved_or_none

STEEL, SHOP = material("DC01"), typical_shop()
NO_ORDER = BendPlan((), 0, 0.0, True)
"""Stands in for the bend order where that is not the claim."""


@given(random_parts())
@settings(max_examples=40)
def test_every_finding_has_a_known_code_a_place_a_source_and_a_remedy(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    assert resolved is not None
    try:
        noted = noted_fabrication(resolved.part, STEEL, SHOP, "powder coat", order=NO_ORDER)
    except FlatError:
        assume(False)
    for finding in (each.finding for each in noted):
        assert finding.code in FABRICATION_CODES
        assert finding.place
        assert finding.source
        assert finding.remedy
    for mark in (mark for each in noted for mark in each.marks):
        x0, y0, x1, y1 = Measures(resolved.part).flat.bounds
        assert x0 - 1 <= mark.at_mm[0] <= x1 + 1
        assert y0 - 1 <= mark.at_mm[1] <= y1 + 1


@given(random_parts())
@settings(max_examples=25)
def test_a_less_able_shop_never_finds_less(random: RandomPart) -> None:
    """A shop whose laser and brake can do less finds every code that the better one finds."""
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    assert resolved is not None
    worse = replace(
        SHOP,
        laser=replace(SHOP.laser, least_hole_t=2.0, least_web_t=2.0, tolerance_mm=0.3),
        brake=replace(SHOP.brake, length_mm=150.0, force_kn=40.0),
        dies=tuple(replace(die, least_flange_mm=1.3 * die.least_flange_mm) for die in SHOP.dies),
    )
    try:
        better_codes = [
            n.finding.code for n in noted_fabrication(resolved.part, STEEL, SHOP, "none", order=NO_ORDER)
        ]
    except FlatError:
        assume(False)
    worse_codes = [n.finding.code for n in noted_fabrication(resolved.part, STEEL, worse, "none", order=NO_ORDER)]
    for code in set(better_codes):
        assert worse_codes.count(code) >= better_codes.count(code), code


@given(random_parts(most_bends=4))
@settings(max_examples=12)
def test_a_bend_order_makes_every_bend_once_or_says_what_is_in_the_way(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    assert resolved is not None
    answer = bend_order(resolved.part, STEEL, SHOP)
    if isinstance(answer, NoPlan):
        assert answer.pair[0]
        assert answer.blocked
        return
    made = [bend for step in answer.steps if step.work == "bend" for bend in step.bends]
    assert sorted(made) == list(range(len(resolved.part.bends)))
