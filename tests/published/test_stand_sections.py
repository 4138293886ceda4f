"""Sections computed from catalogue outlines beside what is printed of them, and of simple shapes in handbooks."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.comparisons import source_value

from steadfold.stand.outline import Wall, circle, drilled_round, rectangle, strip
from steadfold.stand.section import (
    drilled_round_bar,
    plane_properties,
    rectangle_torsion_mm4,
    section_of,
    thin_properties,
)

INCH = 25.4
PRINTED_STRUT = {
    "area_mm2": (0.556, INCH**2, 0.015),
    "second_moment_y_mm4": (0.185, INCH**4, 0.03),
    "modulus_y_mm3": (0.202, INCH**3, 0.06),
    "second_moment_z_mm4": (0.236, INCH**4, 0.02),
    "radius_y_mm": (0.577, INCH, 0.02),
    "radius_z_mm": (0.651, INCH, 0.02),
    "mass_kg_per_m": (1.90, 0.45359237 / 0.3048, 0.02),
}
"""Strut 1-5/8 x 1-5/8 in, 12 ga: industry load tables, common section properties (recalled); tolerance of the source's
own spread, since corner radii differ from maker to maker."""


SECOND = "an independent computation from geometry"
RADII = "its inside radii are one thickness, ours 1.5 mm"


@pytest.mark.parametrize("name", PRINTED_STRUT)
def test_strut_from_geometry_agrees_with_printed_section_tables_recalled(name: str) -> None:
    printed, unit, spread = PRINTED_STRUT[name]
    found = getattr(section_of("strut 41x41 12 ga"), name) / unit
    source = "industry load tables"
    assert found == source_value("section from geometry", f"strut 12 ga, {name}", source, printed, rel=spread, recalled=True,
                                 why="corner radii differ from maker to maker")  # fmt: skip


@pytest.mark.parametrize(
    ("profile", "area", "about_y", "about_z"),
    [("strut 41x41 14 ga", 0.403, 0.138, 0.176), ("strut 41x21 12 ga", 0.389, 0.031, 0.138)],
)
def test_thinner_and_lower_strut_agrees_with_a_second_geometry(
    profile: str, area: float, about_y: float, about_z: float
) -> None:
    """Beside an independent computation with inside corner radii of one thickness; ours are 1.5 mm, hence 6 %."""
    section = section_of(profile)
    assert section.area_mm2 / INCH**2 == source_value(
        "section from geometry", f"{profile}, area, in²", SECOND, area, rel=0.03, why=RADII
    )
    assert section.second_moment_y_mm4 / INCH**4 == source_value(
        "section from geometry", f"{profile}, I about y, in⁴", SECOND, about_y, rel=0.06, why=RADII
    )
    assert section.second_moment_z_mm4 / INCH**4 == source_value(
        "section from geometry", f"{profile}, I about z, in⁴", SECOND, about_z, rel=0.06, why=RADII
    )


def test_rectangle_circle_and_tube_have_their_handbook_moments() -> None:
    """b h3 / 12, pi d4 / 64, (a4 - b4) / 12 with square corners: elementary closed forms."""
    assert plane_properties([rectangle(40.0, 90.0)]).second_moment_y_mm4 == pytest.approx(
        40.0 * 90.0**3 / 12.0, rel=1e-12
    )
    assert plane_properties([circle(20.0)]).second_moment_z_mm4 == pytest.approx(math.pi * 20.0**4 / 64.0, rel=1e-3)
    hollow = plane_properties([rectangle(40.0, 40.0), rectangle(34.0, 34.0)[::-1]])
    assert hollow.second_moment_y_mm4 == pytest.approx((40.0**4 - 34.0**4) / 12.0, rel=1e-12)


def test_a_strip_bent_round_a_quarter_has_the_area_of_its_ring() -> None:
    """pi/2 x mean radius x thickness, a quarter ring."""
    angles = np.linspace(0.0, math.pi / 2.0, 49)
    ring = strip(10.0 * np.column_stack([np.cos(angles), np.sin(angles)]), 2.0)
    assert plane_properties([ring]).area_mm2 == pytest.approx(math.pi / 2.0 * 10.0 * 2.0, rel=3e-4)


TUBE = "EN 10219-2, table"


def test_cold_formed_tube_agrees_with_the_printed_table_of_its_standard_recalled() -> None:
    """EN 10219-2 lists 40 x 40 x 3: A 4.21 cm2, I 9.32 cm4, Wel 4.66 cm3, It 15.8 cm4 (recalled)."""
    section = section_of("square tube 40x3")
    assert section.area_mm2 / 100.0 == source_value(
        "section from geometry", "square tube 40 × 3, area, cm²", TUBE, 4.21, abs=0.005, recalled=True
    )
    assert section.second_moment_y_mm4 / 1e4 == source_value(
        "section from geometry", "square tube 40 × 3, I, cm⁴", TUBE, 9.32, abs=0.01, recalled=True
    )
    assert section.modulus_y_mm3 / 1e3 == source_value(
        "section from geometry", "square tube 40 × 3, W, cm³", TUBE, 4.66, abs=0.01, recalled=True
    )
    assert section.torsion_mm4 / 1e4 == source_value(
        "section from geometry", "square tube 40 × 3, It, cm⁴", TUBE, 15.8, rel=0.02, recalled=True
    )


def test_plain_channel_has_its_shear_centre_where_the_formula_puts_it() -> None:
    """e = 3 b2 / (h + 6 b) from the web, b 40, h 80: 15.0 (Timoshenko & Gere; recalled); J = sum b t3 / 3."""
    walls = [Wall((40.0, 40.0), (0.0, 40.0), 2.0, 0.0, "held"), Wall((0.0, 40.0), (0.0, -40.0), 2.0, 0.0, "held"),
             Wall((0.0, -40.0), (40.0, -40.0), 2.0, 0.0, "held")]  # fmt: skip
    thin = thin_properties(walls)
    centroid = 2.0 * 40.0 * 20.0 / 160.0
    assert -(centroid + thin.shear_centre_mm[0]) == source_value(
        "shear centre", "plain channel 80 × 40", "3 b² / (h + 6 b)", 15.0, "mm", rel=1e-9
    )
    assert thin.torsion_mm4 == pytest.approx(160.0 * 8.0 / 3.0, rel=1e-12)


def test_z_section_has_the_warping_and_torsion_of_the_benchmark() -> None:
    """Cw = b3 h2 t (b + 2 h) / (12 (2 b + h)) = 0.041667 and J = 1.3333e-3 for b 1, h 2, t 0.1 (thin-walled theory)."""
    walls = [Wall((-1.0, 1.0), (0.0, 1.0), 0.1, 0.0, "held"), Wall((0.0, 1.0), (0.0, -1.0), 0.1, 0.0, "held"),
             Wall((0.0, -1.0), (1.0, -1.0), 0.1, 0.0, "held")]  # fmt: skip
    thin = thin_properties(walls)
    assert thin.warping_mm6 == source_value(
        "warping of a Z-section", "b 1, h 2, t 0.1", "thin-walled theory", 0.041667, abs=5e-7
    )
    assert thin.torsion_mm4 == source_value(
        "torsion of a Z-section", "b 1, h 2, t 0.1", "sum b t³ / 3", 1.3333e-3, abs=5e-8
    )


def test_back_to_back_strut_has_its_shear_centre_in_the_middle() -> None:
    section = section_of("strut 41x41x2.5 double")
    single = section_of("strut 41x41x2.5")
    assert section.shear_centre_mm == pytest.approx((0.0, 0.0), abs=1e-9)
    assert section.area_mm2 == pytest.approx(2.0 * single.area_mm2, rel=1e-9)
    moved = 2.0 * (single.second_moment_y_mm4 + single.area_mm2 * single.centre_up_mm**2)
    assert section.second_moment_y_mm4 == pytest.approx(moved, rel=1e-9)


def test_a_bar_drilled_across_keeps_a_quarter_of_its_stiffness() -> None:
    """19.05 mm with a 10 mm hole: I 6465 falls to 1463, Z 679 to 181 (worked example by integration of the chords)."""
    whole = plane_properties([circle(19.05)])
    drilled = drilled_round_bar(19.05, 10.0)
    assert whole.second_moment_y_mm4 == source_value(
        "drilled round bar", "19.05 whole, I", "story of the press stand, by hand", 6465.0, rel=2e-3
    )
    assert whole.modulus_y_mm3 == source_value(
        "drilled round bar", "19.05 whole, Z", "story of the press stand, by hand", 679.0, rel=2e-3
    )
    assert drilled.second_moment_y_mm4 == source_value(
        "drilled round bar", "19.05 drilled 10, I", "story of the press stand, by hand", 1463.0, rel=2e-3
    )
    assert drilled.modulus_y_mm3 == source_value(
        "drilled round bar", "19.05 drilled 10, Z", "story of the press stand, by hand", 181.0, rel=5e-3
    )


def test_a_hole_as_wide_as_its_bar_is_refused() -> None:
    with pytest.raises(ValueError, match="hole of 20 mm"):
        drilled_round(19.05, 20.0)


@pytest.mark.parametrize(("ratio", "beta"), [(1.0, 0.1406), (2.0, 0.229), (5.0, 0.291), (10.0, 0.312)])
def test_rectangle_torsion_agrees_with_the_table_of_saint_venant_recalled(ratio: float, beta: float) -> None:
    """J = beta a b3 (Timoshenko & Goodier, 'Theory of elasticity', table of beta; recalled); formula within 0.5 %."""
    found = rectangle_torsion_mm4(10.0 * ratio, 10.0) / (10.0 * ratio * 1000.0)
    assert found == source_value(
        "torsion of a rectangle",
        f"{ratio:g} to 1",
        "Timoshenko & Goodier, table of beta",
        beta,
        rel=0.005,
        recalled=True,
    )
