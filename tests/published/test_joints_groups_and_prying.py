"""Bolts in groups and prying against worked examples: Shigley, an AISC worksheet, and the stories of shed and co-op."""

from __future__ import annotations

import math

import pytest
from tests.comparisons import source_value

from steadfold.joints import (
    eccentric_shear_n,
    flange_bending_mpa,
    prying_l_flange,
    prying_tee,
    tension_from_overhang_n,
)

KIP, INCH, KSI = 4448.2216152605, 25.4, 6.894757293168361


SHIGLEY = "Shigley, eccentric shear"
WORKSHEET = "worksheet to the AISC Manual, 9th edition, 4-89"


def test_four_m16_in_eccentric_shear_are_loaded_as_in_shigley() -> None:
    """Shigley's Mechanical Engineering Design, eccentric shear (recalled): 16 kN at 425 mm from 4 bolts at 75, 60:
    moment 6800 N m, r 96.0 mm, secondary 17.7 kN, largest 21.0 kN, least 14.8 kN."""
    bolts = [(75.0, 60.0), (75.0, -60.0), (-75.0, 60.0), (-75.0, -60.0)]
    forces = eccentric_shear_n(bolts, (0.0, -16000.0), (425.0, 0.0))
    sizes = sorted(math.hypot(*force) for force in forces)
    assert sizes[-1] == source_value("eccentric bolts", "4 × M16, most", SHIGLEY, 21.0e3, "N", abs=50, recalled=True)
    assert sizes[0] == source_value("eccentric bolts", "4 × M16, least", SHIGLEY, 14.8e3, "N", abs=50, recalled=True)
    secondary = [math.hypot(fx, fy + 4000.0) for fx, fy in forces]
    assert secondary == pytest.approx([17.7e3] * 4, abs=50)
    assert [math.hypot(*force) for force in forces[:2]] == pytest.approx([sizes[-1]] * 2)


def test_a_wall_bracket_pulls_its_upper_bolts_as_worked_by_hand() -> None:
    """1000 N at 250 mm, two rows of two at 30 and 130 mm over the edge: 912.9 and 210.7 N a bolt."""
    found = tension_from_overhang_n(1000.0 * 250.0, [30.0, 30.0, 130.0, 130.0])
    for case, mine, theirs in (("lower row", found[0], 210.7), ("upper row", found[2], 912.9)):
        assert mine == source_value(
            "pull by a lever", f"1000 N at 250 mm, {case}", "worked by hand", theirs, "N", abs=0.05, recalled=True
        )
    assert found == pytest.approx((210.7, 210.7, 912.9, 912.9), abs=0.05)


def test_the_boat_shed_row_pulls_685_newtons_a_bolt() -> None:
    """Story of the rigger tines: 40 kg x 1.5 at 128 mm, two bolts 55 mm up: 1370 N, 685 N each, 457 N at rest."""
    weight = 40.0 * 9.81
    assert sum(tension_from_overhang_n(1.5 * weight * 128.0, [55.0, 55.0])) == pytest.approx(1370, abs=1)
    assert tension_from_overhang_n(1.5 * weight * 128.0, [55.0, 55.0])[0] == pytest.approx(685, abs=1)
    assert tension_from_overhang_n(weight * 128.0, [55.0, 55.0])[0] == pytest.approx(457, abs=1)


def test_the_co_op_bracket_pries_its_screws_as_worked_by_hand() -> None:
    """Story of the shelf bracket: 39.8 and 103.1 N m, screws at 130 and 20 mm: 299 / 775 N, low 46 / 119 N; prying at
    b 14, a 9.5: 2.47 -> 740 / 1916 N; at b 9, a 14.5: 1.62 -> 485 / 1255 N; flange 219 and 141 MPa (33 mm net)."""
    resting = tension_from_overhang_n(39.8e3, [130.0, 20.0])
    leaning = tension_from_overhang_n(103.1e3, [130.0, 20.0])
    assert resting == pytest.approx((299, 46), abs=0.6) and leaning == pytest.approx((775, 119), abs=0.6)
    near, far = prying_l_flange(9.0, 14.5), prying_l_flange(14.0, 9.5)
    assert (far, near) == pytest.approx((2.47, 1.62), abs=0.005)
    assert (far * resting[0], far * leaning[0]) == pytest.approx((740, 1916), abs=1.5)
    assert (near * resting[0], near * leaning[0]) == pytest.approx((485, 1255), abs=1.5)
    assert flange_bending_mpa(leaning[0], 14.0, 40.0, 7.0, 3.0) == pytest.approx(219, abs=0.6)
    assert flange_bending_mpa(leaning[0], 9.0, 40.0, 7.0, 3.0) == pytest.approx(141, abs=0.6)


def test_a_tee_pries_as_in_the_aisc_worksheet() -> None:
    """Public worksheet to the AISC Manual, 9th edition (ASD), pages 4-89 to 4-95 (read): T 28.75 kip a bolt of 1 in,
    B 40 ksi x 0.785 in2 = 31.4 kip, flange 1 in of 50 ksi, 3 in a bolt, b 1.3125, a 1.640625 in. Printed: tc 1.166 in,
    alpha 0.381, Q 2.15 kip, T + Q 30.9 kip, allowable 29.11 kip."""
    found = prying_tee(
        28.75 * KIP, 31.4 * KIP, 1.0 * INCH, 50.0 * KSI, 1.3125 * INCH, 1.640625 * INCH, 3.0 * INCH, 1.0 * INCH,
        1.0625 * INCH,
    )  # fmt: skip
    assert found.no_prying_mm / INCH == source_value(
        "prying of a tee", "thickness without prying", WORKSHEET, 1.166, "in", abs=0.0006
    )
    assert found.alpha == source_value("prying of a tee", "alpha", WORKSHEET, 0.381, "", abs=0.0006)
    assert found.prying_n / KIP == source_value("prying of a tee", "prying", WORKSHEET, 2.15, "kip", abs=0.006)
    assert found.bolt_n / KIP == source_value("prying of a tee", "bolt", WORKSHEET, 30.9, "kip", abs=0.06)
    assert found.allowable_n / KIP == source_value("prying of a tee", "allowable", WORKSHEET, 29.11, "kip", abs=0.006)


def test_a_thick_flange_does_not_pry_and_a_thin_one_pries_most() -> None:
    thick, thin = (prying_tee(4000.0, 8000.0, t, 235.0, 20.0, 15.0, 40.0, 8.0, 9.0) for t in (30.0, 2.0))
    assert thick.prying_n == 0.0 and thick.alpha == 0.0 and thick.bolt_n == 4000.0 and thick.allowable_n == 8000.0
    assert thin.alpha == 1.0 and 0.0 < thin.allowable_n < 8000.0
    full = prying_tee(thin.allowable_n, 8000.0, 2.0, 235.0, 20.0, 15.0, 40.0, 8.0, 9.0)
    # at the allowable pull the flange's two hinges hold exactly: T b' = (1 + delta) M, M = p t^2 Fy / 8
    assert thin.allowable_n * 16.0 == pytest.approx((1 + 1 - 9 / 40) * 40 * 2.0**2 * 235 / 8)
    assert full.bolt_n <= 8000.0
