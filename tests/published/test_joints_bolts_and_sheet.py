"""Bolts, the sheet around them, and how far they give, against ISO 898-1, EN 1993-1-8 and AISI S100."""

from __future__ import annotations

import math

import pytest
from tests.comparisons import source_value
from tests.published.catalogue_values import rows

from steadfold.catalogue import NotInCatalogue
from steadfold.catalogue.fasteners import N_PER_LBF, bolt_sizes
from steadfold.joints import (
    SheetHole,
    aisi_bearing_n,
    aisi_tear_out_n,
    allowable_shear_n,
    allowable_tension_n,
    bearing_n,
    bolt_axial,
    bolt_capacity,
    bolt_shear,
    bolt_too_short,
    en_bearing_n,
    grip_of,
    hardware_for,
    in_a_row,
    least_end_distance_mm,
    pull_over_n,
    rod_capacity,
    screw_axial,
    screw_load_slip,
    screw_slip_modulus,
    share,
    sheet_capacity,
    tapped_thread,
    washer_over_slot,
)

S235_2MM = SheetHole(2.0, 360.0, 9.0, 16.0, end_mm=16.0, washers_both_sides=True, one_sided=False)


@pytest.mark.parametrize("row", [r for r in rows("fast.m") if r["id"].endswith("proof88")], ids=lambda r: r["id"])
def test_a_bolt_may_carry_three_eighths_of_its_printed_proof_load(row: dict) -> None:
    """ISO 898-1, proof loads of class 8.8 (read)."""
    size = f"M{row['inputs']['d']}"
    assert allowable_tension_n(size, "8.8") == pytest.approx(0.375 * row["expected"], rel=0.006)


def test_an_inch_bolt_may_carry_three_eighths_of_its_printed_proof_load() -> None:
    """SAE J429: 3/8 grade 5, 6600 lbf."""
    assert allowable_tension_n("3/8", "grade 5") / N_PER_LBF == pytest.approx(0.375 * 6600, rel=0.01)


def test_shear_is_the_resistance_of_en_1993_1_8_over_a_further_1_6() -> None:
    """EN 1993-1-8, Table 3.4 (recalled): M8 8.8: 14.05 kN."""
    assert allowable_shear_n("M8", "8.8") == pytest.approx(14054 / 1.6, rel=0.002)


def test_a_bolt_of_no_given_class_counts_as_the_lowest_of_its_standard() -> None:
    """ISO 898-1: 4.6, proof 225 MPa. SAE J429 grade 1: 33 ksi (recalled)."""
    assert allowable_tension_n("M8") == pytest.approx(0.375 * 225 * 36.6)
    assert allowable_tension_n("3/8") / N_PER_LBF == pytest.approx(0.375 * 33_000 * 0.0775, rel=1e-4)
    assert "lowest" in bolt_capacity("M8").source
    assert all(allowable_tension_n(size) > 0.0 for size in bolt_sizes())
    with pytest.raises(NotInCatalogue):
        allowable_tension_n("M8", "grade 5")


def test_pull_and_shear_of_a_bolt_add_as_in_en_1993_1_8() -> None:
    """EN 1993-1-8, Table 3.4 (recalled): Fv/Rv + Ft/(1.4 Rt) <= 1, and Ft <= Rt."""
    capacity = bolt_capacity("M8", "8.8")
    assert capacity.tension_n is not None and capacity.shear_n is not None
    assert share(capacity, 0.7 * capacity.tension_n, 0.5 * capacity.shear_n) == pytest.approx(1.0)
    assert share(capacity, capacity.tension_n, 0.0) == pytest.approx(1.0)


def test_bearing_of_2_mm_sheet_under_an_m8_by_both_standards() -> None:
    """EN 1993-1-8, Table 3.4 (recalled): S235, e1 16, d0 9: 6.83 kN. AISI S100 (recalled), mf 1: 6.91 kN."""
    assert en_bearing_n(S235_2MM, 8.0) == source_value(
        "bearing of sheet", "M8 in 2 mm S235, EN", "EN 1993-1-8, Table 3.4", 6830, "N", rel=0.002, recalled=True
    )
    assert aisi_bearing_n(S235_2MM, 8.0) == source_value(
        "bearing of sheet", "M8 in 2 mm S235, AISI", "AISI S100", 6910, "N", rel=0.002, recalled=True
    )
    loose = SheetHole(2.0, 360.0, 9.0, 16.0, end_mm=16.0)
    assert aisi_bearing_n(loose, 8.0) == pytest.approx(0.75 * 6910, rel=0.002)
    value, rule = bearing_n(S235_2MM, 8.0)
    assert value == pytest.approx(6827 / 1.6, rel=0.001) and rule.startswith("EN")


def test_thin_sheet_under_a_fat_bolt_bears_less_for_its_metal() -> None:
    """AISI S100, Table J3.3.1-1 (recalled): C = 3 below d/t 10, 4 - 0.1 d/t up to 22, 1.8 above."""
    for thickness, coefficient in ((2.0, 3.0), (0.8, 2.5), (0.6, 4.0 - 1.2 / 0.6), (0.5, 1.8)):
        sheet = SheetHole(thickness, 300.0, 13.0, 24.0, washers_both_sides=True)
        expected = coefficient * 12.0 * thickness * 300.0 / 2.5
        assert aisi_bearing_n(sheet, 12.0) == pytest.approx(expected)


def test_sheet_tears_out_between_hole_and_edge() -> None:
    """AISI S100, J6.1 (recalled): 0.6 x 360 x 2 x 2 x (16 - 4.5) / 2.22."""
    assert aisi_tear_out_n(S235_2MM) == pytest.approx(0.6 * 360 * 4 * 11.5 / 2.22)
    assert aisi_tear_out_n(SheetHole(2.0, 360.0, 9.0, 16.0)) is None


def test_a_hole_too_near_the_edge_bears_nothing() -> None:
    """EN 1993-1-8, Table 3.3 (recalled): e1 and e2 at least 1.2 d0."""
    assert least_end_distance_mm(9.0) == pytest.approx(10.8)
    assert en_bearing_n(SheetHole(2.0, 360.0, 9.0, 16.0, end_mm=10.0), 8.0) == 0.0
    assert en_bearing_n(SheetHole(2.0, 360.0, 9.0, 16.0, end_mm=10.8), 8.0) > 0.0
    assert math.isinf(share(sheet_capacity(SheetHole(2.0, 360.0, 9.0, 16.0, end_mm=10.0), 8.0), 0.0, 10.0))


def test_sheet_pulls_over_a_washer_at_a_third_of_its_nominal_strength() -> None:
    """AISI S100, J4.4.2 (recalled): 1.5 t dw Fu / 3.00; one-sided half (read in Yu & LaBoube); dw at most 3/4 in."""
    assert pull_over_n(S235_2MM)[0] == pytest.approx(1.5 * 2 * 16 * 360 / 3)
    one_sided = SheetHole(2.0, 360.0, 9.0, 16.0)
    assert pull_over_n(one_sided)[0] == pytest.approx(0.5 * 1.5 * 2 * 16 * 360 / 3)
    wide, widest = (SheetHole(2.0, 360.0, 9.0, width, one_sided=False) for width in (24.0, 40.0))
    assert pull_over_n(wide)[0] == pull_over_n(widest)[0] == pytest.approx(1.5 * 2 * 19.05 * 360 / 3)
    assert pull_over_n(SheetHole(2.0, 360.0, 9.0, 8.0))[0] == 0.0


def test_rod_of_no_grade_carries_what_pipe_hangers_allow() -> None:
    """Facility Piping Systems Handbook, Table 2.10 (read): 240, 410, 610, 1130 lbf."""
    for size, pounds in (("1/4", 240), ("5/16", 410), ("3/8", 610), ("1/2", 1130)):
        rod = rod_capacity(size)
        assert rod.tension_n is not None and rod.tension_n / N_PER_LBF == pytest.approx(pounds)
        assert math.isnan(share(rod, 10.0, 1.0))


def test_a_short_thread_in_thin_metal_is_unproven() -> None:
    """Common practice, no source: one diameter in steel, two in aluminium."""
    assert tapped_thread("M8", 8.0) is None
    short = tapped_thread("M8", 3.0)
    assert short is not None and not short.proven and short.tension_n is None
    assert tapped_thread("M8", 12.0, "aluminium") is not None
    assert tapped_thread("M8", 16.0, "aluminium") is None
    with pytest.raises(ValueError, match="cheese"):
        tapped_thread("M8", 16.0, "cheese")


def test_a_bolt_that_does_not_show_behind_its_nut_is_too_short() -> None:
    """M8 through 2 + 1.6 + 1.6 + 5 mm: nut 6.8 (ISO 4032, recalled), two pitches 2.5: 19.5 mm, order 20."""
    layers = (2.0, 1.6, 1.6, 5.0)
    grip = grip_of("M8", layers, 16.0)
    assert grip.needed_mm == pytest.approx(19.5) and grip.order_mm == 20.0 and grip.too_short
    finding = bolt_too_short(grip, "back")
    assert finding is not None and finding.code == "bolt-too-short" and "20" in finding.remedy
    enough = grip_of("M8", layers)
    assert bolt_too_short(enough, "back") is None and enough.showing_mm == pytest.approx(3.0)
    tapped = grip_of("M8", layers, 16.0, engagement_mm=5.0)
    assert not tapped.too_short and tapped.showing_mm == pytest.approx(0.8)
    inch = grip_of("1/4", (2.0, 3.0))
    assert inch.order_mm is not None and inch.order_mm % 3.175 == pytest.approx(0.0, abs=1e-9)


def test_hardware_names_its_standards() -> None:
    lines = hardware_for(grip_of("M8", (2.0, 5.0)), 4, "8.8")
    assert [(line.count, line.standard) for line in lines] == [(4, "ISO 4017"), (8, "ISO 7089"), (4, "ISO 4032")]
    assert all("M8" in line.item for line in lines)


def test_a_washer_must_cover_its_slot() -> None:
    """AISC 360, J3.2 (recalled): a long slot wants a plate washer over all of it."""
    assert washer_over_slot(9.0, 9.0, 16.0, "back") is None
    slot = washer_over_slot(30.0, 9.0, 16.0, "back")
    assert slot is not None and slot.code == "slot-too-long-for-washer" and "plate washer" in slot.remedy
    thin = washer_over_slot(9.0, 9.0, 10.0, "back")
    assert thin is not None and "larger washer" in thin.remedy


def test_a_bolt_stretches_as_its_grip_says() -> None:
    """A E / l with As 36.6 mm2 over 20 mm, E 205 GPa: 375 kN/mm; heads and nut make it softer."""
    stiffness = bolt_axial("M8", 20.0)
    assert stiffness.high_n_per_mm == pytest.approx(205e3 * 36.6 / 20.0)
    assert 0.5 < stiffness.low_n_per_mm / stiffness.high_n_per_mm < 0.9
    assert bolt_axial("M8", 20.0, threaded_mm=0.0).high_n_per_mm == pytest.approx(205e3 * math.pi * 16 / 20.0)
    with pytest.raises(ValueError, match="grip"):
        bolt_axial("M8", 0.0)


def test_a_bolt_in_bearing_gives_as_in_en_1993_1_8_table_6_11() -> None:
    """EN 1993-1-8, Table 6.11 (recalled): k11 = 16 d^2 fub/(E 16), k12 = 24 kb kt d fu / E, here M8 8.8 in 2 mm S235
    with e 16: kb = 0.25 x 2 + 0.5 = 1.0, kt = 1.5 x 2/16 = 0.1875."""
    shear, bearing = 64.0 * 800.0, 24.0 * 1.0 * 0.1875 * 8.0 * 360.0
    found = bolt_shear("M8", "8.8", S235_2MM)
    assert found.high_n_per_mm == pytest.approx(1.0 / (1.0 / shear + 1.0 / bearing))
    assert found.low_n_per_mm == pytest.approx(found.high_n_per_mm / 2.0) and found.judgement
    assert bolt_shear("M8", "8.8", S235_2MM, S235_2MM).high_n_per_mm < found.high_n_per_mm


def test_a_screw_slips_in_wood_as_in_en_1995_1_1_table_7_1() -> None:
    """EN 1995-1-1, Table 7.1 (recalled): rho^1.5 d / 23, rho 420, d 8: 2994 N/mm; steel to timber twice that."""
    found = screw_slip_modulus(8.0, 420.0)
    assert found.high_n_per_mm == source_value(
        "slip of a screw",
        "d 8, rho 420, steel to wood",
        "EN 1995-1-1, Table 7.1",
        2 * 2994,
        "N/mm",
        rel=1e-3,
        recalled=True,
    )
    assert found.low_n_per_mm == pytest.approx(2994 * 2 / 3, rel=1e-3)


def test_the_american_slip_modulus_lies_within_the_european_range() -> None:
    """NDS 11.3.6: 270,000 D^1.5 lbf/in for wood to metal: 5/16 in (7.94 mm) against d 8 in rho 420."""
    range_ = screw_slip_modulus(0.3125 * 25.4, 420.0)
    assert range_.low_n_per_mm < screw_load_slip(0.3125 * 25.4) < 1.5 * range_.high_n_per_mm


def test_stiffness_in_a_row_adds_the_give() -> None:
    one = screw_axial(8.0, 60.0, 420.0)
    assert one.low_n_per_mm < one.middle_n_per_mm < one.high_n_per_mm == pytest.approx(25 * 8 * 60)
    two = in_a_row(one, one)
    assert two.low_n_per_mm == pytest.approx(one.low_n_per_mm / 2) and two.judgement
    with pytest.raises(ValueError, match="row"):
        in_a_row()
