"""Studs, slots, cleats, chains of links: closed forms, statics, and what must stay unproven."""

from __future__ import annotations

import math

import numpy as np
import pytest

from steadfold.catalogue import NotInCatalogue
from steadfold.catalogue.fasteners import Bolt, WoodFastener
from steadfold.findings import Verdict, verdict_of
from steadfold.joints import (
    BACKINGS,
    Cleat,
    FixingCapacity,
    SheetHole,
    bar_at_best_mm,
    bar_for_sure_mm,
    chance_of,
    eccentric_shear_n,
    fastener_named,
    given,
    governing,
    hold,
    hooked,
    lifts_off,
    magnet_capacity,
    one_stud_only,
    pressing_mm,
    prying_l_flange,
    reduced,
    share,
    slot_for_spacings,
    strength_named,
    studs_found,
    tension_from_overhang_n,
    unproven,
    unproven_finding,
    weakest,
)

SHEET = SheetHole(3.0, 360.0, 9.0, 16.0, end_mm=20.0, edge_mm=20.0)


def test_a_600_mm_bar_finds_two_studs_on_48_per_cent_of_walls() -> None:
    """Story of the luthier: 600 mm usable, studs at 406.4: 48 %; sure from 813 mm."""
    assert studs_found(600.0, 406.4)[2] == pytest.approx(0.48, abs=0.005)
    assert bar_for_sure_mm(2, 406.4) == pytest.approx(813, abs=0.5)
    assert studs_found(812.8, 406.4) == {2: 1.0}
    said = one_stud_only(600.0, 406.4, 2, "back")
    assert said is not None and said.code == "one-stud-only" and "48 %" in said.say and "813" in said.remedy
    assert one_stud_only(813.0, 406.4, 2, "back") is None


@pytest.mark.parametrize("usable", [0.0, 150.0, 406.4, 600.0, 812.8, 1000.0, 1500.0])
@pytest.mark.parametrize("spacing", [400.0, 406.4, 609.6, 625.0])
def test_the_chances_are_those_of_a_bar_hung_anywhere(usable: float, spacing: float) -> None:
    """Counted: the bar's left end at 40,000 even places within one spacing."""
    left = (np.arange(40_000) + 0.5) / 40_000 * spacing
    counted = np.floor((left + usable) / spacing) - np.floor(left / spacing)
    found = studs_found(usable, spacing)
    assert sum(found.values()) == pytest.approx(1.0)
    for count in range(6):
        assert found.get(count, 0.0) == pytest.approx(float(np.mean(counted == count)), abs=1e-4)
        assert chance_of(count, usable, spacing) == pytest.approx(float(np.mean(counted >= count)), abs=1e-4)


def test_a_bar_hung_where_the_studs_are_needs_one_spacing_less() -> None:
    assert bar_at_best_mm(2, 400.0) == 400.0 and bar_at_best_mm(1, 400.0) == 0.0
    with pytest.raises(ValueError, match="studs"):
        studs_found(100.0, 0.0)


def test_one_slot_serves_studs_at_400_and_406_mm() -> None:
    """Story of the luthier: M6, 6.6 x 13.0 finished; 13.4 cut with 0.12 mm of coat a side and 0.13 of laser."""
    slot = slot_for_spacings(6.6, (400.0, 406.4), coat_per_side_mm=0.12, cut_tolerance_mm=0.13)
    assert (slot.width_mm, slot.length_mm) == pytest.approx((6.6, 13.0))
    assert slot.cut_length_mm == pytest.approx(13.4, abs=0.05)
    assert slot.coated_width_mm == pytest.approx(6.23) and slot.coated_width_mm > 6.0
    assert slot_for_spacings(6.6, (400.0, 406.4), spans=2).length_mm == pytest.approx(19.4)


def test_a_bevelled_cleat_at_45_degrees_holds_until_the_overhang_equals_its_height() -> None:
    """Moments about the foot: pull W e/h; a face at 45 degrees takes as much pull as weight."""
    cleat = Cleat(math.pi / 4.0, 12.0, 200.0)
    assert hooked(cleat, 100.0, 200.0).slide_share == pytest.approx(1.0)
    assert hooked(cleat, 100.0, 100.0).pull_n == pytest.approx(50.0)
    assert hooked(cleat, 100.0, 300.0).lift_off_n == 0.0
    rubbing = hooked(cleat, 100.0, 200.0, friction=0.3)
    # tan(45 + atan 0.3) = 1.3 / 0.7
    assert rubbing.slide_share == pytest.approx(0.7 / 1.3)


def test_an_upright_hook_comes_off_only_when_lifted() -> None:
    hook = Cleat(math.pi / 2.0, 12.0, 200.0)
    sits = hooked(hook, 100.0, 900.0)
    assert sits.slide_share == 0.0 and sits.lift_off_n == 100.0 and sits.lift_mm == 12.0
    assert not lifts_off(hook, 100.0, 900.0, 99.0, 900.0) and lifts_off(hook, 100.0, 900.0, 100.0, 900.0)
    bevel = Cleat(math.pi / 4.0, 12.0, 200.0)
    assert not lifts_off(bevel, 100.0, 150.0, 0.0, 0.0)
    assert lifts_off(bevel, 100.0, 150.0, 40.0, 0.0)


def test_bolt_forces_add_up_to_the_load_and_its_moment() -> None:
    rng = np.random.default_rng(7)
    for _ in range(20):
        bolts = [(float(x), float(y)) for x, y in rng.normal(0.0, 60.0, (5, 2))]
        force = (float(rng.normal()), float(rng.normal()))
        at = (float(rng.normal(0.0, 300.0)), float(rng.normal(0.0, 300.0)))
        found = eccentric_shear_n(bolts, force, at)
        assert np.sum(found, axis=0) == pytest.approx(force)
        turning = sum(x * fy - y * fx for (x, y), (fx, fy) in zip(bolts, found, strict=True))
        assert turning == pytest.approx(at[0] * force[1] - at[1] * force[0])
    with pytest.raises(ValueError, match="moment"):
        eccentric_shear_n([(0.0, 0.0)], (0.0, 1.0), (10.0, 0.0))


def test_overhang_tensions_balance_the_moment() -> None:
    heights = [20.0, 75.0, 130.0]
    pulls = tension_from_overhang_n(5e4, heights)
    assert sum(pull * height for pull, height in zip(pulls, heights, strict=True)) == pytest.approx(5e4)
    with pytest.raises(ValueError, match="height"):
        tension_from_overhang_n(5e4, [0.0])
    with pytest.raises(ValueError, match="above zero"):
        prying_l_flange(10.0, 0.0)


def capacity(
    tension: float | None, shear: float | None, interaction: str = "linear", what: str = "link"
) -> FixingCapacity:
    return FixingCapacity(tension, shear, "a test", True, "", "none", interaction, what)  # type: ignore[arg-type]


def test_shares_add_as_each_rule_says() -> None:
    assert share(capacity(100.0, 50.0), 50.0, 25.0) == pytest.approx(1.0)
    assert share(capacity(100.0, 50.0, "quadratic"), 60.0, -40.0) == pytest.approx(1.0)
    assert share(capacity(100.0, 50.0, "hankinson"), 30.0, 40.0) == pytest.approx((900 / 100 + 1600 / 50) / 50)
    assert share(capacity(100.0, 50.0, "bolt"), 100.0, 0.0) == pytest.approx(1.0)


@pytest.mark.parametrize("interaction", ["linear", "quadratic", "hankinson", "bolt"])
def test_a_pull_or_a_push_alone_is_compared_with_its_own_limit(interaction: str) -> None:
    each = capacity(100.0, 50.0, interaction)
    assert share(each, 25.0, 0.0) == pytest.approx(0.25) and share(each, 0.0, -25.0) == pytest.approx(0.5)
    assert share(each, -1e6, 0.0) == 0.0


def test_what_is_not_known_is_never_a_pass() -> None:
    one_way = capacity(100.0, None)
    assert share(one_way, 50.0, 0.0) == pytest.approx(0.5)
    used = share(one_way, 50.0, 1.0)
    assert math.isnan(used) and verdict_of(used, []) is Verdict.UNPROVEN
    chain = weakest((capacity(100.0, 50.0, what="bolt"), unproven("nobody says", "wall")))
    assert not chain.proven and chain.tension_n is None
    assert governing(chain, 10.0, 10.0)[0] == "wall" and math.isnan(share(chain, 10.0, 10.0))
    assert governing(chain, 500.0, 0.0) == ("bolt", pytest.approx(5.0))


def test_the_weakest_link_decides() -> None:
    chain = weakest((capacity(100.0, 50.0, what="sheet"), capacity(80.0, 90.0, what="screw")))
    assert (chain.tension_n, chain.shear_n, chain.proven) == (80.0, 50.0, True)
    assert governing(chain, 40.0, 0.0) == ("screw", pytest.approx(0.5))
    assert governing(chain, 0.0, 40.0) == ("sheet", pytest.approx(0.8))
    halved = reduced(chain, 0.5, "near an end")
    assert share(halved, 40.0, 0.0) == pytest.approx(1.0) and "near an end" in halved.factor_note


def test_a_record_must_say_why_or_be_proven() -> None:
    with pytest.raises(ValueError, match="missing"):
        FixingCapacity(1.0, 1.0, "x", False, "", "", "linear")
    with pytest.raises(ValueError, match="unproven"):
        FixingCapacity(1.0, 1.0, "x", True, "because", "", "linear")
    with pytest.raises(ValueError, match="finite"):
        FixingCapacity(math.nan, 1.0, "x", True, "", "", "linear")
    with pytest.raises(ValueError, match="finite"):
        share(capacity(1.0, 1.0), math.inf, 0.0)
    with pytest.raises(ValueError, match="source"):
        given("  ", 1.0, None)


@pytest.mark.parametrize("wall", ["masonry", "steel stud", "unknown", "cleat"])
def test_a_wall_nobody_vouches_for_stays_unproven_until_a_capacity_is_given(wall: str) -> None:
    found = hold(wall, "M8 8.8", sheet=SHEET)
    assert not found.proven and math.isnan(share(found, 10.0, 10.0))
    finding = unproven_finding(wall, found, "back")
    assert finding is not None and verdict_of(0.1, [finding]) is Verdict.UNPROVEN
    tested = hold(wall, "M8 8.8", sheet=SHEET, capacity=("pull test, lowest of three", 1200.0, 900.0))
    assert tested.proven and tested.tension_n == 1200.0 and "pull test" in tested.source
    assert unproven_finding(wall, tested, "back") is None
    assert governing(tested, 600.0, 0.0)[1] == pytest.approx(0.5)


@pytest.mark.parametrize("wall", BACKINGS)
def test_a_strong_wall_does_not_make_the_sheet_stronger(wall: str) -> None:
    bare = hold(wall, "M6", sheet=SheetHole(1.0, 270.0, 6.6, 12.0), capacity=("a promise", 1e6, 1e6))
    assert bare.tension_n is not None and bare.tension_n <= 0.5 * 0.5 * 1.0 * 12.0 * 270.0 + 1e-9


@pytest.mark.parametrize("wall", BACKINGS)
def test_every_backing_answers_whatever_is_missing(wall: str) -> None:
    for fastener in (None, "M8", "3/8 grade 5", "lag screw 1/4", "wood screw #10", "coach screw d8"):
        for sheet in (None, SHEET):
            found = hold(wall, fastener, sheet=sheet)
            assert found.proven or found.why_unproven
            if fastener is None:
                assert not found.proven


def test_less_said_never_holds_more() -> None:
    said = hold("wood stud", "lag screw 1/4", sheet=SHEET, length_mm=76.0, wood_name="SPF", across_grain=0.0)
    for less in (
        hold("wood stud", "lag screw 1/4", sheet=SHEET, length_mm=76.0, wood_name="SPF"),
        hold("wood stud", "lag screw 1/4", sheet=SHEET, length_mm=76.0, across_grain=0.0),
        hold("wood stud", "lag screw 1/4", sheet=SHEET, wood_name="SPF", across_grain=0.0),
    ):
        assert said.shear_n is not None and (less.shear_n is None or less.shear_n <= said.shear_n)


def test_a_bolt_through_steel_is_held_by_sheet_and_bolt_alone() -> None:
    found = hold("steel", "M8 8.8", sheet=SHEET)
    assert found.proven and len(found.links) == 2
    tapped = hold("steel", "M8 8.8", sheet=SHEET, tapped_mm=3.0)
    assert not tapped.proven
    assert not hold("steel", "lag screw 1/4", sheet=SHEET).proven


@pytest.mark.parametrize(
    ("text", "kind", "size"),
    [
        ("M8", "bolt", "M8"),
        ("M8 8.8", "bolt", "M8"),
        ("3/8 grade 5", "bolt", "3/8"),
        ("lag screw 1/4", "lag screw", "1/4"),
        ('1/4" lag', "lag screw", "1/4"),
        ("5/16 in lag screw", "lag screw", "5/16"),
        ("#14 wood screw", "wood screw", "#14"),
        ("wood screw 10", "wood screw", "#10"),
        ("coach screw 8 mm", "coach screw", "d8"),
        ("coach screw d10", "coach screw", "d10"),
    ],
)
def test_a_fastener_is_known_by_what_people_call_it(text: str, kind: str, size: str) -> None:
    found = fastener_named(text)
    assert found.size == size
    assert isinstance(found, Bolt) if kind == "bolt" else isinstance(found, WoodFastener) and found.kind == kind


def test_a_strength_is_read_and_a_wrong_name_refused() -> None:
    assert (
        strength_named("M8 8.8") == "8.8"
        and strength_named("3/8 Grade 5") == "Grade 5"
        and strength_named("M8") is None
    )
    for text in ("lag screw 7/16", "M7", "nail", "wood screw #99"):
        with pytest.raises(NotInCatalogue):
            fastener_named(text)
    with pytest.raises(ValueError, match="backing"):
        hold("plasterboard", "M8")
    with pytest.raises(NotInCatalogue, match="load duration"):
        hold("steel", "M8", duration="for ever")


def test_what_presses_on_the_sheet_is_the_head_or_a_washer_wider_than_it() -> None:
    """ISO 4014: M8 across flats 13 mm (recalled); a washer of 24 mm counts, one of 10 mm cannot."""
    assert pressing_mm("M8") == 13.0 and pressing_mm("M8", 24.0) == 24.0 and pressing_mm("M8", 10.0) == 13.0
    assert pressing_mm("lag screw 1/4") == pytest.approx(0.4375 * 25.4)


def test_magnets_are_never_rated() -> None:
    assert not magnet_capacity().proven and magnet_capacity().tension_n is None
