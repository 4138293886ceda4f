"""Screws in wood against the printed values of the NDS and the formula of EN 1995-1-1."""

from __future__ import annotations

import math

import pytest
from tests.published.catalogue_values import as_printed, ids, rows

from steadfold.catalogue import NotInCatalogue
from steadfold.catalogue.fasteners import MM_PER_INCH, MPA_PER_KSI, N_PER_LBF, wood_fastener
from steadfold.catalogue.wood import (
    kmod,
    lateral_values,
    load_duration_factor,
    partial_factor,
    placement,
    species,
    stud,
    stud_spacings_mm,
    withdrawal_n_per_mm,
    withdrawal_strength_mpa,
)

LAGS = {0.25: "1/4", 0.3125: "5/16", 0.375: "3/8", 0.5: "1/2"}
SCREWS = {0.164: "#8", 0.19: "#10", 0.216: "#12", 0.242: "#14"}
LBF_PER_INCH = N_PER_LBF / MM_PER_INCH


@pytest.mark.parametrize("row", rows("wood.lag.G"), ids=ids)
def test_lag_screws_hold_as_in_nds_table_12_2a(row: dict) -> None:
    name = f"lag screw {LAGS[row['inputs']['D_in']]}"
    assert withdrawal_n_per_mm(name, row["inputs"]["G"]) / LBF_PER_INCH == as_printed(row)


@pytest.mark.parametrize("row", rows("wood.screw."), ids=ids)
def test_wood_screws_hold_as_in_nds_table_12_2b(row: dict) -> None:
    name = f"wood screw {SCREWS[row['inputs']['D_in']]}"
    assert withdrawal_n_per_mm(name, row["inputs"]["G"]) / LBF_PER_INCH == as_printed(row)


def test_two_lag_screws_under_a_lasting_load() -> None:
    """Worked by hand: 2 x 205 lb/in x 2.5 in x 0.9 = 922.5 lbf."""
    (row,) = rows("wood.lag.example")
    inputs = row["inputs"]
    gravity = species("SPF").specific_gravity
    assert gravity is not None
    per_inch = withdrawal_n_per_mm("lag screw 5/16", gravity) / LBF_PER_INCH
    held = inputs["n"] * per_inch * inputs["p_in"] * load_duration_factor("permanent")
    assert held == as_printed(row)


@pytest.mark.parametrize("row", rows("wood.lagZ."), ids=ids)
def test_printed_lateral_values_are_in_the_catalogue(row: dict) -> None:
    inputs = row["inputs"]
    (value,) = [
        each
        for each in lateral_values()
        if each.size == LAGS[inputs["D_in"]]
        and each.specific_gravity == inputs["G"]
        and each.plate_mm == pytest.approx(inputs["ts_in"] * MM_PER_INCH)
    ]
    assert value.parallel_n / N_PER_LBF == pytest.approx(row["expected"][0])
    assert value.across_n / N_PER_LBF == pytest.approx(row["expected"][1])


@pytest.mark.parametrize("value", lateral_values(), ids=lambda v: f"{v.size} G{v.specific_gravity} {v.plate_mm:.2f}")
def test_recalled_root_diameters_and_bending_strengths_reproduce_nds_table_12k(value) -> None:  # type: ignore[no-untyped-def]
    """NDS yield-limit equations, single shear, steel side plate (61,850 psi), 8 D penetration less the tip.

    The catalogue's root diameter and bending yield of lag screws were only recalled; the printed values (to
    10 lbf), recomputed from them, bear them out.
    """
    lag = wood_fastener(f"lag screw {value.size}")
    assert lag.bending_yield_mpa is not None
    nominal, root = lag.diameter_mm / MM_PER_INCH, lag.root_mm / MM_PER_INCH
    bending = lag.bending_yield_mpa / MPA_PER_KSI * 1000.0
    plate, gravity = value.plate_mm / MM_PER_INCH, value.specific_gravity
    for across, printed in ((False, value.parallel_n), (True, value.across_n)):
        bearing = 6100.0 * gravity**1.45 / math.sqrt(nominal) if across else 11200.0 * gravity
        angle = 1.25 if across else 1.0
        if root < 0.25:
            reduction = {"Im": 10 * root + 0.5, "II": 10 * root + 0.5, "III": 10 * root + 0.5}
        else:
            reduction = {"Im": 4.0, "II": 3.6, "III": 3.2}
        lowest = _least_yield_load(
            root, plate, 8.0 * nominal, bearing, 61850.0, bending, {k: v * angle for k, v in reduction.items()}
        )
        assert lowest == pytest.approx(printed / N_PER_LBF, abs=5.5)


def _least_yield_load(
    diameter: float, side: float, main: float, bear: float, plate: float, bending: float, rd: dict[str, float]
) -> float:
    """The six yield modes of NDS Table 12.3.1A in single shear, lbf."""
    re, rt = bear / plate, main / side
    k1 = (math.sqrt(re + 2 * re**2 * (1 + rt + rt**2) + rt**2 * re**3) - re * (1 + rt)) / (1 + re)
    k2 = -1 + math.sqrt(2 * (1 + re) + 2 * bending * (1 + 2 * re) * diameter**2 / (3 * bear * main**2))
    k3 = -1 + math.sqrt(2 * (1 + re) / re + 2 * bending * (2 + re) * diameter**2 / (3 * bear * side**2))
    return min(
        diameter * main * bear / rd["Im"],
        diameter * side * plate / rd["Im"],
        k1 * diameter * side * plate / rd["II"],
        k2 * diameter * main * bear / ((1 + 2 * re) * rd["III"]),
        k3 * diameter * side * bear / ((2 + re) * rd["III"]),
        diameter**2 / rd["III"] * math.sqrt(2 * bear * bending / (3 * (1 + re))),
    )


def test_a_coach_screw_holds_as_en_1995_says() -> None:
    """EN 1995-1-1, eq. 8.39 and 8.38 at a right angle to the grain; d 8 mm, 60 mm of thread, rho 350."""
    (row,) = rows("wood.ec5.8x60")
    strength = withdrawal_strength_mpa(8.0, 60.0, 350.0)
    assert strength == as_printed(row, row["expected"]["fax_k"])
    screw_factor = min(8.0 / 8.0, 1.0)
    assert strength * 8.0 * 60.0 * screw_factor == as_printed(row, row["expected"]["Fax_Rk_N"])
    design = strength * 480.0 * kmod("permanent") / partial_factor("connections")
    assert design == as_printed(row, row["expected"]["Fax_Rd_N_kmod0.6_gM1.3"])


def test_a_screw_outside_the_formula_is_refused() -> None:
    for diameter in (5.0, 14.0):
        with pytest.raises(ValueError, match="6 to 12"):
            withdrawal_strength_mpa(diameter, 60.0, 350.0)
    with pytest.raises(NotInCatalogue):
        withdrawal_n_per_mm("coach screw d8", 0.42)


def test_species_have_their_assigned_density() -> None:
    """NDS Table 12.3.3A and EN 338 (recalled)."""
    assert [species(name).specific_gravity for name in ("SPF", "Hem-Fir", "Douglas fir-larch", "southern pine")] == [
        0.42, 0.43, 0.50, 0.55,
    ]  # fmt: skip
    assert [species(name).density_k_kg_m3 for name in ("C16", "C24", "D30")] == [310.0, 350.0, 530.0]


def test_timber_classes_have_the_read_bending_strength_and_mean_density() -> None:
    """EN 338 table of classes on a reference page: C16 16 MPa, 370 kg/m3; C24 24, 420; D30 30, 640."""
    for name, bending, density in (("C16", 16.0, 370.0), ("C24", 24.0, 420.0), ("D30", 30.0, 640.0)):
        assert (species(name).bending_mpa, species(name).density_mean_kg_m3) == (bending, density)


def test_an_impact_never_raises_what_a_connection_may_carry() -> None:
    """NDS Table 2.3.2, note: the impact factor does not apply to connections (recalled)."""
    assert load_duration_factor("impact") == load_duration_factor("ten minutes") == 1.6


def test_longer_loads_and_wetter_places_leave_less() -> None:
    durations = ("permanent", "long", "medium", "short", "instantaneous")
    for service in (1, 2, 3):
        assert [kmod(name, service) for name in durations] == sorted(kmod(name, service) for name in durations)
    assert kmod("permanent", 3) < kmod("permanent", 1)
    with pytest.raises(NotInCatalogue):
        kmod("permanent", 4)


def test_studs_and_their_spacings() -> None:
    """A 2 x 4 is 1-1/2 x 3-1/2 in; centres 16 and 24 in are 406.4 and 609.6 mm."""
    assert (stud("2x4").width_mm, stud("2x4").depth_mm) == (pytest.approx(38.1, abs=0.2), pytest.approx(88.9, abs=0.2))
    assert list(stud_spacings_mm()) == pytest.approx([400.0, 16 * 25.4, 600.0, 24 * 25.4, 625.0])
    assert placement().penetration_lateral_d == 8.0
