"""Screws in timber against EN 1995-1-1: withdrawal (read), steel-to-timber lateral resistance (recalled)."""

from __future__ import annotations

import math

import pytest
from tests.comparisons import source_value

from steadfold.catalogue import NotInCatalogue
from steadfold.catalogue.wood import kmod, withdrawal_strength_mpa
from steadfold.joints import en_capacity, hold, lateral_characteristic_n, share, withdrawal_characteristic_n
from steadfold.joints.sheet_hole import SheetHole
from steadfold.joints.wood_en import embedment_mpa, yield_moment_nmm


def test_an_8_mm_screw_holds_6355_newtons() -> None:
    """EN 1995-1-1, eq. 8.38 to 8.40: d 8, lef 60, rho 350: fax 13.24 MPa, 6355 N; design for good 2933 N."""
    assert withdrawal_strength_mpa(8.0, 60.0, 350.0) == pytest.approx(13.24, rel=0.003)
    assert withdrawal_characteristic_n(8.0, 60.0, 350.0) == pytest.approx(6355, rel=0.003)
    assert withdrawal_characteristic_n(8.0, 60.0, 350.0) * kmod("permanent") / 1.3 == pytest.approx(2933, rel=0.003)


def test_a_group_and_a_slanting_screw_hold_less() -> None:
    """EN 1995-1-1, eq. 8.41: nef = n^0.9; eq. 8.38: 1 / (1.2 cos^2 + sin^2), 1/1.1 at 45 degrees."""
    one = withdrawal_characteristic_n(8.0, 60.0, 350.0)
    assert withdrawal_characteristic_n(8.0, 60.0, 350.0, count=4) == pytest.approx(4**0.9 * one)
    assert withdrawal_characteristic_n(8.0, 60.0, 350.0, angle=math.pi / 4) == pytest.approx(one / 1.1)
    with pytest.raises(ValueError, match="30 degrees"):
        withdrawal_characteristic_n(8.0, 60.0, 350.0, angle=0.3)


def test_embedment_and_yield_moment_of_an_8_mm_screw() -> None:
    """EN 1995-1-1, eq. 8.32 and 8.33: 0.082 (1 - 0.08) 350 = 26.40; k90 = 1.47; eq. 8.30: 0.3 x 400 x 8^2.6."""
    assert embedment_mpa(8.0, 350.0) == source_value(
        "embedment", "d 8, rho 350, along", "EN 1995-1-1, 8.32", 26.404, "MPa", abs=0.001
    )
    assert embedment_mpa(8.0, 350.0, math.pi / 2) == source_value(
        "embedment", "d 8, rho 350, across", "EN 1995-1-1, 8.31", 26.404 / 1.47, "MPa", abs=0.001
    )
    assert yield_moment_nmm(8.0, 400.0) == source_value(
        "yield moment of a screw", "d 8, fu 400", "EN 1995-1-1, 8.30", 26743, "N mm", rel=1e-3
    )


def test_thin_and_thick_sheet_follow_equations_8_9_and_8_10() -> None:
    """Both modes written out: thin min(0.4 fh t d, 1.15 sqrt(2 My fh d)), thick min over three, no rope effect."""
    fh, moment, diameter, deep = 26.0, 25_000.0, 8.0, 60.0
    thin = min(0.4 * fh * deep * diameter, 1.15 * math.sqrt(2 * moment * fh * diameter))
    thick = min(
        fh * deep * diameter,
        fh * deep * diameter * (math.sqrt(2 + 4 * moment / (fh * diameter * deep**2)) - 1),
        2.3 * math.sqrt(moment * fh * diameter),
    )
    assert lateral_characteristic_n(diameter, 3.0, deep, fh, moment) == pytest.approx(thin)
    assert lateral_characteristic_n(diameter, 9.0, deep, fh, moment) == pytest.approx(thick)
    assert lateral_characteristic_n(diameter, 6.0, deep, fh, moment) == pytest.approx((thin + thick) / 2)
    assert thick == pytest.approx(math.sqrt(2) * thin)


def test_the_rope_effect_never_more_than_doubles_the_johansen_part() -> None:
    """EN 1995-1-1, 8.2.2(2): for screws at most 100 % of the Johansen part; a quarter of the withdrawal."""
    bare = lateral_characteristic_n(8.0, 3.0, 60.0, 26.0, 25_000.0)
    roped = lateral_characteristic_n(8.0, 3.0, 60.0, 26.0, 25_000.0, withdrawal_n=4000.0)
    assert roped == pytest.approx(bare + 1000.0)
    assert lateral_characteristic_n(8.0, 3.0, 200.0, 26.0, 25_000.0, withdrawal_n=1e6) == pytest.approx(2 * bare)
    assert lateral_characteristic_n(8.0, 3.0, 60.0, 26.0, 25_000.0, 4000.0, gap_mm=12.5) < bare


def test_pull_and_push_on_a_screw_add_as_squares() -> None:
    """EN 1995-1-1, eq. 8.28: (Fax/Rax)^2 + (Fv/Rv)^2 <= 1."""
    link = en_capacity("coach screw d8", 350.0, 80.0, 3.0, screw_ultimate_mpa=400.0).links[0]
    assert link.tension_n is not None and link.shear_n is not None
    assert share(link, 0.6 * link.tension_n, 0.8 * link.shear_n) == pytest.approx(1.0)


def test_both_standards_come_to_nearly_the_same_for_the_same_screw() -> None:
    """5/16 in lag in spruce against an 8 mm coach screw in C24, both for good, equal thread: within a quarter."""
    from steadfold.joints import withdrawal_n

    american = withdrawal_n("lag screw 5/16", 0.42, 60.0, "permanent")
    european = withdrawal_characteristic_n(8.0, 60.0, 350.0) * kmod("permanent") / 1.3 / 1.5
    assert european == pytest.approx(american, rel=0.25)


def test_a_coach_screw_of_undeclared_steel_is_unproven_sideways() -> None:
    """EN 14592 wants the strength declared (recalled)."""
    assert not en_capacity("coach screw d8", 350.0, 80.0, 3.0).proven
    assert en_capacity("coach screw d8", 350.0, 80.0, 3.0, screw_ultimate_mpa=400.0).proven


def test_screws_outside_the_formula_are_unproven_not_guessed() -> None:
    sheet = SheetHole(3.0, 360.0, 5.5, 10.0)
    with pytest.raises(NotInCatalogue):
        en_capacity("wood screw #10", 350.0, 60.0, 3.0)
    small = hold("wood board", "wood screw #10", sheet=sheet, length_mm=60.0, wood_name="C24")
    assert small.tension_n is None and not small.proven
    short = en_capacity("coach screw d8", 350.0, 40.0, 3.0)
    assert short.tension_n is None and "6 diameters" in short.why_unproven


def test_a_coach_screw_in_service_is_its_design_value_over_the_load_factor() -> None:
    """d 8 x 80 through 3 mm: 0.6 x 80 = 48 mm of thread less one diameter; kmod 0.6, 1.3, and 1.5 on the loads (EN
    1990, 6.10, recalled)."""
    link = en_capacity("coach screw d8", 350.0, 80.0, 3.0).links[0]
    characteristic = 0.52 * 8.0**-0.5 * 40.0**-0.1 * 350.0**0.8 * 8.0 * 40.0
    assert link.tension_n == pytest.approx(characteristic * 0.6 / 1.3 / 1.5)
    short = en_capacity("coach screw d8", 350.0, 80.0, 3.0, duration="short").links[0]
    assert short.tension_n == pytest.approx(1.5 * link.tension_n)
