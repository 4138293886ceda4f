"""Bend allowances against published examples.

Sources stand in values/bending.json beside every number: DIN 6935 (formulas read; supplementary table recalled),
a metal-trades table book's worked examples, Machinery's Handbook 90° formulas as quoted, K-factor identities.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from tests.comparisons import source_value
from tests.published.catalogue_values import method_of

from steadfold.sheet.allowance import (
    apex_setback,
    bend_allowance,
    bend_deduction,
    din_6935_compensation,
    din_6935_k,
    din_6935_k_factor,
    handbook_90,
    opening_to_bend,
    springback_radius_ratio,
)

ROWS = json.loads((Path(__file__).parent / "values" / "bending.json").read_text(encoding="utf-8"))


def rows(prefix: str) -> list:
    found = [pytest.param(row, id=row["id"]) for row in ROWS if row["id"].startswith(prefix)]
    assert found
    return found


def close(value: float, row: dict, key: str | None = None) -> None:
    expected = row["expected"] if key is None else row["expected"][key]
    tolerance = row["tolerance"]
    given = ", ".join(
        f"{name} {each:g}" if isinstance(each, float) else f"{name} {each}" for name, each in row["inputs"].items()
    )
    assert value == source_value(
        method_of(row),
        f"{given}: {key}" if key else given or row["id"],
        row["source"].split(";")[0],
        expected,
        rel=tolerance.get("rel", 0.0),
        abs=tolerance.get("abs", 0.0),
        recalled=row["from_memory"],
    )


@pytest.mark.parametrize("row", rows("bend.din_k."))
def test_k_of_din_6935_multiplies_half_the_thickness(row: dict) -> None:
    close(din_6935_k(row["inputs"]["r_over_s"], 1.0), row)


@pytest.mark.parametrize("row", rows("bend.din_v.") + rows("bend.din_vtab."))
def test_compensation_takes_the_opening_angle(row: dict) -> None:
    given = row["inputs"]
    close(din_6935_compensation(math.radians(given["beta_deg"]), given["r_mm"], given["s_mm"]), row)


def test_the_table_books_60_degree_example() -> None:
    """The book takes k = 0.7 from its chart (0.689 by formula) and prints v = 5.77 with L = a + b - v."""
    row = next(r for r in ROWS if r["id"] == "bend.din_book60")
    given = row["inputs"]
    developed = opening_to_bend(math.radians(given["beta_deg"])) * (given["r_mm"] + given["s_mm"] * given["k_used"] / 2)
    v = developed - 2 * (given["r_mm"] + given["s_mm"])
    close(v, row, "v_mm")
    close(given["a_mm"] + given["b_mm"] + v, row, "L_mm")
    close(din_6935_k(given["r_mm"], given["s_mm"]), next(r for r in ROWS if r["id"] == "bend.din_book60_k"))


def test_the_table_books_two_bends() -> None:
    row = next(r for r in ROWS if r["id"] == "bend.din_flat_2bend")
    given = row["inputs"]
    v = din_6935_compensation(math.radians(90), given["r_mm"], given["s_mm"])
    close(given["a_mm"] + given["b_mm"] + given["c_mm"] + 2 * v, row)


@pytest.mark.parametrize("row", rows("bend.ba_bd."))
def test_allowance_setback_and_deduction(row: dict) -> None:
    """These identities measure to the apex at every angle; ours does up to 90° and to the tangent beyond."""
    given = row["inputs"]
    angle, r, t, k = math.radians(given["bend_angle_deg"]), given["R_mm"], given["T_mm"], given["K"]
    allowance = bend_allowance(angle, r, t, k)
    close(allowance, row, "BA")
    close(apex_setback(angle, r, t), row, "OSSB")
    close(2 * apex_setback(angle, r, t) - allowance, row, "BD")
    if angle <= math.pi / 2 + 1e-12:
        close(bend_deduction(angle, r, t, k), row, "BD")
    else:
        assert bend_deduction(angle, r, t, k) == pytest.approx(2 * (r + t) - allowance, abs=1e-12)


def test_half_of_k_is_the_k_factor_so_that_v_is_minus_the_deduction_at_90_degrees() -> None:
    row = next(r for r in ROWS if r["id"] == "bend.identity_v_bd")
    given = row["inputs"]
    assert din_6935_k_factor(given["r"], given["s"]) == pytest.approx(given["K"], abs=1e-12)
    close(bend_deduction(math.radians(90), given["r"], given["s"], given["K"]), row, "BD")
    close(din_6935_compensation(math.radians(90), given["r"], given["s"]), row, "v")


def test_a_60_degree_opening_is_a_120_degree_bend_and_its_apex_deduction_is_not_minus_v() -> None:
    row = next(r for r in ROWS if r["id"] == "bend.din_60_as_bd")
    given = row["inputs"]
    angle = math.radians(given["bend_angle_deg"])
    allowance = bend_allowance(angle, given["r"], given["s"], given["K"])
    close(allowance, row, "BA")
    close(2 * apex_setback(angle, given["r"], given["s"]) - allowance, row, "BD")
    v = din_6935_compensation(math.radians(60), given["r"], given["s"])
    assert abs(v + row["expected"]["BD"]) > 10


@pytest.mark.parametrize("row", rows("bend.mh90."))
def test_handbook_90(row: dict) -> None:
    given = row["inputs"]
    close(handbook_90(given["R_in"], given["T_in"], given["Y"]), row)


@pytest.mark.parametrize("row", rows("bend.mh_K."))
def test_the_handbooks_y_is_a_k_factor_times_half_pi(row: dict) -> None:
    """K = 2 Y / pi; the formula's 1.57 for pi / 2 leaves a difference below 0.0002 of the radius."""
    k = row["expected"]
    t, r = 0.125, 0.375
    assert bend_allowance(math.pi / 2, r, t, k) == pytest.approx(handbook_90(r, t, row["inputs"]["Y"]), abs=0.0015)


@pytest.mark.parametrize("row", rows("bend.springback."))
def test_springback(row: dict) -> None:
    given = row["inputs"]
    inch = "Ri_in" in given
    r, y, e, t = (
        (given["Ri_in"], given["Y_psi"], given["E_psi"], given["T_in"])
        if inch
        else (given["Ri_mm"], given["Y_MPa"], given["E_MPa"], given["T_mm"])
    )
    ratio = springback_radius_ratio(r, t, y, e)
    close(ratio, row, "Ri_over_Rf")
    close(r / ratio, row, "Rf_in" if inch else "Rf_mm")
