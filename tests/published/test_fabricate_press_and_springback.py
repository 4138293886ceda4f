"""Press force and springback against printed figures.

Force: a published example of a press-brake page, 3 mm sheet, 1 m, V 24, 450 MPa, coefficient 1.6: 270 kN
(seen); 142 kN a metre for 2 mm, V 16, 400 MPa with the charts' coefficient 1.42 (common rule, recalled).
The rule of the inch countries, 575 t² / V tons a foot for 60 ksi, is coefficient 1.6 (recomputed: tons of
2000 lbf). Springback: handbook table of developed lengths, values seen, heads of the columns recalled.
"""

from __future__ import annotations

import math

import pytest
from tests.comparisons import source_value

from steadfold.catalogue import material
from steadfold.fabricate.press import SHOWN_COEFFICIENT, over_bend_rad, press_force_n, springback_factor

PRINTED = {
    "DC01": "1 .99 1.6 .99 2.5 .99 4 .97 6.3 .96 10 .96 16 .93 25 .90 40 .85 63 .77 100 .66",
    "304": "1 .99 1.6 .98 2.5 .97 4 .95 6.3 .93 10 .89 16 .84 25 .76 40 .63",
    "6061-T6": "1 .98 1.6 .98 2.5 .97 4 .96 6.3 .95 10 .93 16 .90 25 .86 40 .82 63 .76 100 .72",
}


def test_the_published_example_of_a_press_force_comes_out_at_270_kilonewtons() -> None:
    assert press_force_n(450, 1000, 3, 24, 1.6) == source_value(
        "press force", "3 mm, V24, 450 MPa, 1 m", "a published example", 270_000, "N", rel=1e-6
    )


def test_two_millimetres_of_400_mpa_over_v_16_take_142_kilonewtons_a_metre() -> None:
    assert press_force_n(400, 1000, 2, 16) == source_value(
        "press force", "2 mm, V16, 400 MPa, 1 m", "charts, 1.42", 142_000, "N", rel=1e-6, recalled=True
    )
    assert SHOWN_COEFFICIENT == 1.42


def test_the_slot_bar_of_620_millimetres_takes_88_kilonewtons() -> None:
    assert press_force_n(400, 620, 2, 16) / 1000 == pytest.approx(88, abs=0.5)


def test_the_inch_rule_of_575_is_a_coefficient_of_one_point_six() -> None:
    t, v, foot = 0.125, 1.0, 304.8
    tons = 575 * t**2 / v
    newtons = press_force_n(60 * 6.894757, foot, t * 25.4, v * 25.4, 1.6)
    assert newtons / (2000 * 4.448222) == source_value(
        "press force", "1/8 in over 1 in, a foot", "575 t² / V", tons, "tons", rel=0.01
    )


@pytest.mark.parametrize("metal", PRINTED)
def test_springback_factors_are_those_printed(metal: str) -> None:
    numbers = [float(word) for word in PRINTED[metal].split()]
    for ratio, factor in zip(numbers[::2], numbers[1::2], strict=True):
        found = springback_factor(material(metal), 2.0 * ratio, 2.0)
        assert found == source_value(
            "springback factor", f"{metal}, r / t {ratio:g}", "handbook table, a scan", factor, rel=1e-6
        )


def test_a_bend_is_overbent_so_that_it_springs_back_to_its_angle() -> None:
    """alpha 1 = alpha 2 / kR, so that (angle + over) kR is the angle."""
    for metal, r in (("DC01", 2.0), ("304", 5.0), ("5052-H32", 3.0)):
        steel = material(metal)
        over = over_bend_rad(steel, -math.pi / 2, r, 2.0)
        assert (math.pi / 2 + over) * springback_factor(steel, r, 2.0) == pytest.approx(math.pi / 2)
        assert over > 0
