"""Nuts in slots: channel nuts against published load tables, T-nuts against the rule for friction; never a promise."""

from __future__ import annotations

import math

import pytest

from steadfold.catalogue.fasteners import N_PER_LBF
from steadfold.findings import Severity, Verdict, verdict_of
from steadfold.joints import (
    hold,
    share,
    sliding,
    slip_along_slot_n,
    strut_nut_capacity,
    t_nut_capacity,
    unproven_finding,
)


def test_a_half_inch_channel_nut_holds_what_load_tables_print() -> None:
    """Industry load tables, several agree (read): 1/2-13 on 12 ga: slip 1500 lbf, pull-out 2000 lbf, factor 3; on
    14 ga 1000 and 1400."""
    for channel, slip, pull in (("strut 41x41 12 ga", 1500, 2000), ("strut 41x41 14 ga", 1000, 1400)):
        nut = strut_nut_capacity("1/2", channel, from_end_mm=100.0)
        assert nut.proven and nut.tension_n is not None and nut.shear_n is not None
        assert nut.tension_n / N_PER_LBF == pytest.approx(pull)
        assert nut.shear_n / N_PER_LBF == pytest.approx(slip)
        # 50 ft-lb is 67.8 N m; 3 stands on the ultimate
        assert "68 N m" in nut.factor_note and "oil-free" in nut.factor_note and nut.factor_note.startswith("3 ")


def test_near_the_end_of_the_channel_a_nut_holds_half() -> None:
    """The same tables: halved within 1 in of a channel end."""
    full = strut_nut_capacity("1/2", "strut 41x41 12 ga", 25.4)
    near = strut_nut_capacity("1/2", "strut 41x41 12 ga", 25.0)
    untold = strut_nut_capacity("1/2", "strut 41x41 12 ga")
    assert full.tension_n is not None
    assert near.tension_n == pytest.approx(full.tension_n / 2.0) and near.proven
    assert untold.tension_n == near.tension_n and not untold.proven


@pytest.mark.parametrize(
    ("bolt", "channel"), [("3/8", "strut 41x41 12 ga"), ("M10", "strut 41x41x2.5"), ("1/2", "strut 41x41x1.5")]
)
def test_a_channel_nut_without_published_loads_is_unproven(bolt: str, channel: str) -> None:
    nut = strut_nut_capacity(bolt, channel, 100.0)
    assert not nut.proven and nut.tension_n is None and math.isnan(share(nut, 10.0, 0.0))


def test_a_t_nut_slips_at_mu_times_what_it_can_be_tightened_to() -> None:
    """M8 at 25 N m, K 0.2: 15.6 kN, but no more than the nut's 10 kN; mu 0.15, factor 2: 0.75 kN (judgement)."""
    assert slip_along_slot_n(0.15, 15_600.0, 10_000.0) == pytest.approx(750.0)
    assert slip_along_slot_n(0.15, 15_600.0, 10_000.0, 1.0) == pytest.approx(1500.0)
    nut = t_nut_capacity("standard", "M8", "8.8")
    assert nut.shear_n == pytest.approx(750.0) and nut.tension_n == pytest.approx(5000.0)
    with pytest.raises(ValueError, match="promise"):
        slip_along_slot_n(0.15, 15_600.0, 10_000.0, 0.5)


@pytest.mark.parametrize("weight", ["economy", "light", "standard", None])
def test_a_t_nut_is_never_proven_by_the_catalogue(weight: str | None) -> None:
    nut = t_nut_capacity(weight, "M8", "8.8")
    assert not nut.proven and "maker" in nut.why_unproven
    finding = unproven_finding("T-slot rail", nut, "back")
    assert finding is not None and finding.severity is Severity.UNPROVEN
    assert verdict_of(0.1, [finding]) is Verdict.UNPROVEN


def test_a_tested_t_nut_is_proven_by_the_test() -> None:
    tested = hold(
        "T-slot rail", "M8 8.8", profile="T-slot 45x45", capacity=("pull test, lowest of three", 3000.0, 700.0)
    )
    assert tested.proven and (tested.tension_n, tested.shear_n) == (3000.0, 700.0)
    assert "pull test" in tested.source


def test_a_wide_slot_gets_no_numbers_from_a_narrow_one() -> None:
    assert hold("T-slot rail", "M8", profile="T-slot 45x45").tension_n is None
    assert hold("T-slot rail", "M8", profile="T-slot 40x40 light").tension_n == pytest.approx(2500.0)


def test_a_load_straight_down_a_slot_wants_a_stop() -> None:
    """The same tables: never slip alone for a load that hangs straight down."""
    hangs = sliding(300.0, 2, 750.0, slot_upright=True)
    assert hangs.needs_stop and hangs.share == pytest.approx(0.2)
    assert not sliding(300.0, 2, 750.0, slot_upright=False).needs_stop
    assert sliding(1600.0, 2, 750.0, slot_upright=False).needs_stop
