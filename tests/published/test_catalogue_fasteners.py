"""Bolts, washers, clearance holes, proof loads and rods against printed tables."""

from __future__ import annotations

import math

import pytest
from tests.published.catalogue_values import as_printed, ids, rows, values

from steadfold.catalogue import NotInCatalogue
from steadfold.catalogue.fasteners import (
    MM_PER_INCH,
    N_PER_LBF,
    bolt,
    bolt_sizes,
    design_shear_n,
    design_tension_n,
    grade,
    grade_ids,
    lag_thread_length_mm,
    preload_n,
    proof_load_n,
    rod_sizes,
    threaded_rod,
    tightening_torque_nmm,
    ultimate_load_n,
    wood_fastener,
    wood_fastener_names,
)


@pytest.mark.parametrize("size", bolt_sizes())
def test_stress_areas_are_what_their_formula_gives(size: str) -> None:
    """pi/4 (d - 0.9382 P)^2 (ISO 898-1), 0.7854 (D - 0.9743/n)^2 (ASME B1.1); printed to three digits."""
    each = bolt(size)
    assert each.stress_area_mm2 == pytest.approx(each.stress_area_by_formula_mm2, rel=0.004)


@pytest.mark.parametrize("row", [r for r in rows("fast.m") if r["id"].endswith(".As")], ids=ids)
def test_metric_stress_areas_are_the_printed_ones(row: dict) -> None:
    each = bolt(f"M{row['inputs']['d']}")
    assert each.pitch_mm == row["inputs"]["P"]
    assert each.stress_area_mm2 == as_printed(row)


@pytest.mark.parametrize("row", rows("fast.unc."), ids=ids)
def test_unified_stress_areas_are_the_printed_ones(row: dict) -> None:
    each = bolt(row["inputs"]["size"])
    assert each.threads_per_inch == pytest.approx(row["inputs"]["tpi"])
    assert each.stress_area_mm2 / MM_PER_INCH**2 == as_printed(row)


@pytest.mark.parametrize("row", [r for r in rows("fast.m") if "88" in r["id"]], ids=ids)
def test_class_8_8_carries_the_printed_proof_and_ultimate_loads(row: dict) -> None:
    load = proof_load_n if "proof" in row["id"] else ultimate_load_n
    assert load(f"M{row['inputs']['d']}", "8.8") == as_printed(row)


def test_strength_classes_are_those_of_iso_898_1() -> None:
    for name, (ultimate, proof) in values("bolts")["iso_898_1"]["class"].items():
        assert (grade(name).ultimate_mpa, grade(name).proof_mpa) == (ultimate, proof)


@pytest.mark.parametrize("row", rows("fast.iso273."), ids=ids)
def test_metric_clearance_holes_are_those_of_iso_273(row: dict) -> None:
    assert list(bolt(f"M{row['inputs']['d']}").clearance_mm) == pytest.approx(row["expected"], abs=1e-9)


@pytest.mark.parametrize("row", rows("fast.b1828."), ids=ids)
def test_inch_clearance_holes_are_those_of_b18_2_8(row: dict) -> None:
    holes = [hole / MM_PER_INCH for hole in bolt(row["inputs"]["size"]).clearance_mm]
    assert holes == pytest.approx(row["expected"], abs=row["tolerance"]["abs"])


def test_inch_clearance_holes_are_those_the_handbook_prints() -> None:
    printed = values("bolts")["asme_b18_2_8"]
    for size, inch in printed["loose"].items():
        assert bolt(size).clearance_hole_mm("loose") / MM_PER_INCH == pytest.approx(inch, abs=5e-4)
    for size, inch in printed["normal_drill"].items():
        assert bolt(size).clearance_hole_mm("normal") / MM_PER_INCH == pytest.approx(inch, abs=5e-4)


@pytest.mark.parametrize("fit", ["close", "normal"])
def test_inch_clearance_holes_lie_beside_the_nearest_metric_drills(fit: str) -> None:
    """The nearest standard metric drill is within 0.15 mm (drills step by 0.1, and by 0.25 above 10 or 14 mm)."""
    for size, drill in values("bolts")["asme_b18_2_8_metric_drills"][fit].items():
        assert bolt(size).clearance_hole_mm(fit) == pytest.approx(drill, abs=0.15)


def test_washers_are_those_of_iso_7089() -> None:
    for size, (hole, outside, thickness) in values("bolts")["iso_7089"]["washer"].items():
        washer = bolt(size).washer
        assert (washer.inside_mm, washer.outside_mm, washer.thickness_mm) == (hole, outside, thickness)


@pytest.mark.parametrize("size", bolt_sizes())
def test_holes_heads_and_washers_fit_each_other(size: str) -> None:
    each = bolt(size)
    close, normal, loose = each.clearance_mm
    assert each.diameter_mm < close < normal < loose < each.across_flats_mm
    assert each.tap_drill_mm < each.diameter_mm - 0.5 * each.pitch_mm
    assert each.diameter_mm < each.washer.inside_mm < each.washer.outside_mm <= each.large_washer.outside_mm
    assert each.washer.outside_mm > loose


@pytest.mark.parametrize("row", rows("fast.j429."), ids=ids)
def test_inch_bolts_carry_the_proof_loads_of_sae_j429(row: dict) -> None:
    size = row["inputs"]["size"]
    for name, expected in zip(("grade 2", "grade 5"), row["expected"], strict=True):
        assert proof_load_n(size, name) / N_PER_LBF == as_printed(row, expected)


@pytest.mark.parametrize("row", rows("fast.tap."), ids=ids)
def test_tap_drills_leave_the_usual_share_of_thread(row: dict) -> None:
    each = bolt(row["inputs"]["thread"])
    inch = 1.0 if each.system == "metric" else MM_PER_INCH
    assert each.tap_drill_mm == pytest.approx(row["inputs"]["drill"] * inch, abs=0.01)
    assert each.thread_percent(row["inputs"]["drill"] * inch) == as_printed(row)


def test_a_quarter_inch_grade_2_bolt_is_clamped_as_printed() -> None:
    (row,) = rows("fast.torque.gr2")
    clamp, torque = row["expected"]["clamp_lbf"], row["expected"]["torque_ftlb"]
    assert preload_n("1/4-20", "grade 2") / N_PER_LBF == as_printed(row, clamp)
    assert tightening_torque_nmm("1/4-20", "grade 2") / (N_PER_LBF * 12 * MM_PER_INCH) == as_printed(row, torque)


def test_an_m8_bolt_is_tightened_to_the_usual_25_newton_metres() -> None:
    (row,) = rows("fast.torque.m8")
    assert preload_n("M8", "8.8") == pytest.approx(row["inputs"]["F_N"], rel=0.002)
    assert tightening_torque_nmm("M8", "8.8") / 1000 == pytest.approx(row["expected"], rel=0.002)
    assert tightening_torque_nmm("M8", "8.8", oiled=True) < tightening_torque_nmm("M8", "8.8")


def test_design_resistances_are_those_of_en_1993_1_8() -> None:
    (shear,), (tension,) = rows("fast.ec3.m8.shear"), rows("fast.ec3.m8.tension")
    assert design_shear_n("M8", "8.8") == as_printed(shear)
    assert design_tension_n("M8", "8.8") == as_printed(tension)


@pytest.mark.parametrize("row", rows("fast.hanger."), ids=ids)
def test_hanger_rods_carry_the_handbook_load(row: dict) -> None:
    rod = threaded_rod(row["inputs"]["size"])
    assert rod.root_area_mm2 / MM_PER_INCH**2 == as_printed(row, row["expected"]["root_area"])
    assert rod.load_n / N_PER_LBF == as_printed(row, row["expected"]["load"])
    # the load is the root area at 9 ksi, printed to ten pounds
    by_area = rod.root_area_mm2 / MM_PER_INCH**2 * row["inputs"]["sigma_psi"]
    assert rod.load_n / N_PER_LBF == pytest.approx(by_area, abs=5.0)


@pytest.mark.parametrize("size", rod_sizes())
def test_a_newer_list_never_allows_a_rod_less(size: str) -> None:
    rod = threaded_rod(size)
    assert rod.newer_load_n is None or rod.newer_load_n > rod.load_n


@pytest.mark.parametrize("row", rows("stat.turn."), ids=ids)
def test_one_turn_takes_up_one_pitch(row: dict) -> None:
    size = "3/8" if "3_8" in row["id"] else "1/2"
    assert threaded_rod(size).take_up_per_turn_mm == as_printed(row, row["expected"]["nut_mm"])


def test_metric_and_inch_do_not_mix() -> None:
    with pytest.raises(NotInCatalogue, match="metric"):
        proof_load_n("M8", "grade 5")
    with pytest.raises(NotInCatalogue):
        proof_load_n("3/8", "8.8")


@pytest.mark.parametrize("size", ["M7", "7/16", "M", "", "#9", "M100"])
def test_an_unknown_bolt_is_refused_with_what_is_known(size: str) -> None:
    with pytest.raises(NotInCatalogue, match="known"):
        bolt(size)


@pytest.mark.parametrize("name", wood_fastener_names())
def test_a_wood_screw_has_a_root_inside_its_shank_and_a_head_outside(name: str) -> None:
    each = wood_fastener(name)
    assert 0.6 < each.root_mm / each.diameter_mm < 0.85
    assert each.head_mm > 1.4 * each.diameter_mm


def test_metric_coach_screws_stay_within_en_1995() -> None:
    """EN 1995-1-1, 8.7.2(4): 0.6 <= d1/d <= 0.75."""
    for name in wood_fastener_names():
        each = wood_fastener(name)
        if each.kind == "coach screw":
            assert 0.6 <= each.root_mm / each.diameter_mm <= 0.75


def test_a_lag_screw_is_threaded_over_half_its_length_and_a_half_inch() -> None:
    """ASME B18.2.1 as tabulated in NDS Appendix L2 (recalled): 2 in long has 1-1/2 in of thread, 3 in has 2 in."""
    assert lag_thread_length_mm(2 * MM_PER_INCH) == pytest.approx(1.5 * MM_PER_INCH)
    assert lag_thread_length_mm(3 * MM_PER_INCH) == pytest.approx(2.0 * MM_PER_INCH)
    assert lag_thread_length_mm(0.75 * MM_PER_INCH) == pytest.approx(0.75 * MM_PER_INCH)
    assert lag_thread_length_mm(14 * MM_PER_INCH) == pytest.approx(6.0 * MM_PER_INCH)


def test_a_grade_shears_at_half_or_six_tenths() -> None:
    """EN 1993-1-8, Table 3.4: 0.6 for 4.6, 5.6, 8.8; 0.5 for 4.8, 5.8, 6.8, 10.9 (recalled)."""
    shares = {name: grade(name).shear_share for name in grade_ids("metric")}
    assert shares == {"4.6": 0.6, "4.8": 0.5, "5.8": 0.5, "8.8": 0.6, "10.9": 0.5, "A2-70": 0.6}
    assert math.isclose(grade("grade 5").proof_mpa, 586.05, rel_tol=1e-3)
