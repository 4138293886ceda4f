"""Column curves and effective widths beside printed tables and worked values."""

from __future__ import annotations

import math

import pytest
from tests.comparisons import source_value

from steadfold.stand.column import (
    aisc_column_stress_mpa,
    aisi_effective_width_mm,
    elastic_stress_mpa,
    en_effective_width_mm,
    en_reduction,
    euler_load_n,
    limits,
    member_share,
    plate_buckling_mpa,
    sideways_stress_mpa,
    twisting_stress_mpa,
)
from steadfold.stand.section import section_of

AISI = "AISI S100, appendix 1"


@pytest.mark.parametrize(
    ("fy", "slenderness", "asd", "lrfd"),
    [(36.0, 50.0, 18.9, 28.4), (36.0, 100.0, 12.7, 19.1), (50.0, 80.0, 18.8, 28.2), (50.0, 100.0, 14.4, 21.7)],
)
def test_column_stress_is_what_the_aisc_manual_prints_recalled(
    fy: float, slenderness: float, asd: float, lrfd: float
) -> None:
    """AISC Manual, table of available critical stress for compression members, ksi, E 29,000 (recalled)."""
    nominal = aisc_column_stress_mpa(fy, math.pi**2 * 29_000.0 / slenderness**2)
    for way, mine, theirs in (("ASD", nominal / 1.67, asd), ("LRFD", 0.9 * nominal, lrfd)):
        case = f"Fy {fy:g} ksi, KL/r {slenderness:g}, {way}"
        assert mine == source_value(
            "column stress, ksi", case, "AISC Manual, available critical stress", theirs, abs=0.06, recalled=True
        )


@pytest.mark.parametrize(
    ("curve", "slenderness", "chi"),
    [
        ("a", 1.0, 0.6656),
        ("b", 1.0, 0.5970),
        ("c", 1.0, 0.5399),
        ("d", 1.0, 0.4671),
        ("c", 0.2, 1.0),
        ("a", 2.0, 0.2229),
    ],
)
def test_reduction_factor_is_that_of_the_european_curves_recalled(curve: str, slenderness: float, chi: float) -> None:
    """Printed tables of chi for EN 1993-1-1, 6.3.1.2 (recalled), to their four digits."""
    case = f"curve {curve}, slenderness {slenderness:g}"
    found = en_reduction(slenderness, curve)
    assert found == source_value("column reduction", case, "EN 1993-1-1, 6.3.1.2", chi, abs=6e-5, recalled=True)


def test_a_strip_buckles_at_its_euler_load() -> None:
    """Flat strip 50 x 3, 200 long, one end free (K = 2), E 205 GPa: 1423 N (closed form)."""
    found = euler_load_n(205_000.0, 50.0 * 27.0 / 12.0, 400.0)
    assert found == source_value(
        "Euler load", "strip 50 × 3, 200 long, one end free", "closed form", 1423.0, "N", abs=0.6
    )


def test_brace_of_the_story_has_the_euler_load_of_the_hand_calculation() -> None:
    """Strut 41, A 359, I 77,000, 647 long, E 200 GPa: KL/r 44, 363 kN by hand."""
    found = euler_load_n(200_000.0, 77_000.0, 647.0) / 1000.0
    assert found == source_value("Euler load", "brace of the press stand", "story, by hand", 363.0, "kN", abs=0.6)
    assert 647.0 / math.sqrt(77_000.0 / 359.0) == pytest.approx(44.0, abs=0.3)


@pytest.mark.parametrize(
    ("width", "thickness", "fy", "k", "critical", "effective"),
    [
        (100.0, 1.2, 230.0, 4.0, 105.7, 57.68),
        (40.0, 1.5, 230.0, 0.43, 110.9, 23.54),
        (30.0, 2.0, 235.0, 0.43, 350.6, 26.80),
    ],
)
def test_effective_width_follows_aisi(
    width: float, thickness: float, fy: float, k: float, critical: float, effective: float
) -> None:
    """AISI S100, Appendix 1 (recalled), E 203 GPa, worked beside."""
    assert plate_buckling_mpa(width, thickness, 203_000.0, 0.3, k) == source_value(
        "wall buckling stress", f"{width:g} × {thickness:g}, k {k:g}", AISI, critical, "MPa", abs=0.06, recalled=True
    )
    assert aisi_effective_width_mm(width, thickness, fy, 203_000.0, 0.3, k) == source_value(
        "effective width", f"{width:g} × {thickness:g}, k {k:g}", AISI, effective, "mm", abs=0.02, recalled=True
    )


def test_effective_width_follows_the_european_rule_for_outstands_and_inner_walls() -> None:
    """EN 1993-1-5, 4.4 (recalled): outstand c 40, t 1.5, S235: rho .607, 24.27. The printed design example SX022a:
    flange 72 x 1.96, fy 350: lambda .789, rho .914, 65.8 mm (its inputs read, its result recalled)."""
    outstand = en_effective_width_mm(40.0, 1.5, 235.0, outstand=True)
    rule = "EN 1993-1-5, 4.4"
    assert outstand == source_value(
        "effective width", "outstand 40 × 1.5, S235", rule, 24.27, "mm", abs=0.03, recalled=True
    )
    inner = en_effective_width_mm(72.0, 1.96, 350.0)
    example = "design example SX022a"
    assert inner == source_value(
        "effective width", "flange 72 × 1.96, fy 350", example, 65.8, "mm", abs=0.05, recalled=True
    )


def test_a_thick_walled_strut_loses_nothing_to_local_buckling_and_a_thin_one_does() -> None:
    found = limits(section_of("strut 41x41x2.5"), 600.0)
    assert found is not None and found.local_share == 1.0


def test_open_strut_twists_before_it_bends() -> None:
    """A lipped channel of this length must buckle below both Euler stresses and below its twisting stress."""
    section = section_of("strut 41x41 12 ga")
    coupled = elastic_stress_mpa(section, 1000.0, 1000.0, 1000.0)
    about_z = euler_load_n(section.modulus_mpa, section.second_moment_z_mm4, 1000.0) / section.area_mm2
    assert coupled < min(about_z, twisting_stress_mpa(section, 1000.0))
    y0, z0 = section.shear_centre_mm
    polar = section.radius_y_mm**2 + section.radius_z_mm**2 + y0**2 + z0**2
    twist = twisting_stress_mpa(section, 1000.0)
    # the cubic's quadratic, (P - Pz)(P - Pt) = P2 z0^2 / r0^2, has this root (Timoshenko & Gere)
    assert (coupled - about_z) * (coupled - twist) == pytest.approx(coupled**2 * (y0**2 + z0**2) / polar, rel=1e-9)


def test_lateral_buckling_curve_is_continuous_and_meets_its_ends() -> None:
    """AISI S100, F2.1 (recalled): Fy from 2.78 Fy on, the elastic stress below 0.56 Fy."""
    assert sideways_stress_mpa(250.0, 2.78 * 250.0) == pytest.approx(250.0, rel=1e-3)
    assert sideways_stress_mpa(250.0, 0.5601 * 250.0) == pytest.approx(0.56 * 250.0, rel=2e-3)
    assert sideways_stress_mpa(250.0, 100.0) == 100.0


def test_shares_add_up_and_a_pressed_member_grows_its_moments() -> None:
    limit = limits(section_of("strut 41x41 12 ga"), 1000.0)
    assert limit is not None
    pulled = member_share(limit, 0.5 * limit.tension_n, 0.25 * limit.moment_y_nmm, 0.0)
    assert pulled.total == pytest.approx(0.75)
    push = 0.1 * limit.euler_y_n
    pressed = member_share(limit, -push, 0.25 * limit.moment_y_nmm, 0.0)
    assert pressed.bending_y == pytest.approx(0.25 / (1.0 - 0.18), rel=1e-9)
    assert math.isinf(member_share(limit, -limit.euler_y_n, 1.0, 0.0).total)
