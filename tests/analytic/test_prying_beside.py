"""Prying by hand beside the model's, as a rating prints it: an L by statics, a T by the AISC Manual (recalled)."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from tests.comparisons import beside

from steadfold.job import read_job
from steadfold.joints import prying_tee
from steadfold.joints.capacity import FixingCapacity
from steadfold.mount.rating import strength
from steadfold.mount.records import Carried, CaseChoices, Fixings, HandCheck, Metal
from steadfold.quantities import Range
from steadfold.review.review import review_part, shop_of
from steadfold.sheet.outline import circle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, rectangular_panel

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
SQUARE = math.pi / 2
STEEL = Metal(210e3, 0.3, 7850.0, 235.0)
CEILING = Fixings(0, 6.0, 12.0, 2e5, 1e5, 2e-5, down="face")
ALONE = CaseChoices(refused=("snatch_factor", "knock", "lean", "sag_limit"))
BOLT = FixingCapacity(3000.0, 3000.0, "test", True, "", "", "linear")


def part_of(panels: list[DrawnPanel], thickness: float) -> Part:
    return resolve(PanelTree(tuple(panels)), "part", thickness, din_rule(thickness, thickness, 0.42)).part


def holes(*at: tuple[float, float]) -> tuple[Cutout, ...]:
    return tuple(Cutout(circle(6.6, place)) for place in at)


def pries(part: Part, fixings: Fixings, on: str, at: tuple[float, float], kg: float) -> list[HandCheck]:
    load = Carried("load", Range(kg, kg), 1, on, at, -0.5 * part.thickness_mm)
    found = strength(part, STEEL, fixings, [load], ALONE, BOLT, fine=False)
    return [check for check in found.hand if check.what.startswith("prying")]


@pytest.mark.parametrize(("out", "closed"), [(9, 1.62), (14, 2.47)])
def test_a_gussets_flange_has_its_prying_by_hand_beside_the_models(out: int, closed: float) -> None:
    """Story of the shelf on brackets: 1 + 9 / 14.5 and 1 + 14 / 9.5, which it calls upper bounds."""
    job = read_job(EXAMPLES / "notice-shelf.toml")
    ordered = next(p for p in job.parts if p.name == f"gusset bracket, screws {out} mm out")
    found = review_part(job, ordered, shop_of(job), fine=False).strength
    assert found is not None
    check = next(c for c in found.hand if c.what.startswith("prying"))
    assert beside("prying of a flange", f"gusset bracket, {out} mm, as the rating prints it",
                  "story of the shelf on brackets, worked by hand", closed, check.by_hand) == pytest.approx(1.0, abs=3e-3)  # fmt: skip
    assert 1.0 <= check.by_model <= check.by_hand and "upper bound" in check.why
    assert check.ratio == pytest.approx(check.by_model / check.by_hand)


def test_an_l_that_may_swing_pries_at_least_as_a_stiff_one() -> None:
    """b = 25 to the middle of the arm, a = 20: 2.25 times what hangs there, the part's own weight with it. Statics: the toe
    pushes somewhere between washer and edge, so T / P = 1 + b / a' with a' between 6 and 20."""
    t = 3.0
    flange = rectangular_panel("flange", 80.0, 46.5, cutouts=holes((20, 26.5), (60, 26.5)))
    part = part_of([flange, rectangular_panel("arm", 80.0, 60.0, "flange", "bottom", SQUARE)], t)
    (check,) = pries(part, CEILING, "arm", (40, 50), 20.0)
    assert check.by_hand == pytest.approx(1 + 25.0 / 20.0, rel=1e-6)
    assert check.by_hand * 0.98 <= check.by_model <= 1 + 25.0 / 6.0
    assert "pushes inside its edge" in check.why
    thick = part_of([flange, rectangular_panel("arm", 80.0, 60.0, "flange", "bottom", SQUARE)], 8.0)
    (stiff,) = pries(thick, CEILING, "arm", (40, 50), 20.0)
    assert abs(stiff.ratio - 1) < abs(check.ratio - 1)


def hat(thickness: float) -> Part:
    """Two brims of 40 on a ceiling, 26 mm from a web's middle to each screw, a crown of 60 below them."""
    row = holes((20, 14), (80, 14))
    first = rectangular_panel("brim", 100.0, 40.0, cutouts=row)
    side = rectangular_panel("side", 100.0, 50.0, "brim", "top", SQUARE)
    crown = rectangular_panel("crown", 100.0, 60.0, "side", "far", -SQUARE)
    other = rectangular_panel("other side", 100.0, 50.0, "crown", "far", -SQUARE)
    brim = rectangular_panel("other brim", 100.0, 40.0, "other side", "far", SQUARE, cutouts=holes((20, 26), (80, 26)))
    return part_of([first, side, crown, other, brim], thickness)


def test_a_pair_of_flanges_is_a_t() -> None:
    """The AISC's T (recalled; prying_tee is held to worked values elsewhere): with the hat's own measures, none where thick."""
    (thin,) = pries(hat(2.0), CEILING, "crown", (50, 30), 40.0)
    pull = 40.0 * 9.80665 + hat(2.0).volume_mm3 * 7850e-9 * 9.80665
    tee = prying_tee(pull / 4, 3000.0, 2.0, 235.0, 25.0 - 1.0 + 0.0, 14.0, 50.0, 6.0, 6.6)
    assert thin.by_hand == pytest.approx(tee.bolt_n / (pull / 4), rel=1e-6)
    assert thin.by_model >= 1.0 and (thin.why or abs(thin.ratio - 1) <= 0.15)
    (thick,) = pries(hat(8.0), CEILING, "crown", (50, 30), 40.0)
    assert thick.by_hand == 1.0
    assert thick.by_model >= 0.99


def test_a_back_with_two_rows_or_a_shelf_under_it_is_no_flange() -> None:
    back = rectangular_panel("back", 80.0, 60.0, cutouts=holes((20, 40), (60, 40)))
    shelf = part_of([back, rectangular_panel("arm", 80.0, 60.0, "back", "bottom", SQUARE)], 3.0)
    assert not pries(shelf, replace(CEILING, down="bottom"), "arm", (40, 50), 5.0)
    rows = rectangular_panel("back", 80.0, 60.0, cutouts=holes((20, 40), (60, 25)))
    assert not pries(
        part_of([rows, rectangular_panel("arm", 80.0, 60.0, "back", "bottom", SQUARE)], 3.0),
        CEILING,
        "arm",
        (40, 50),
        5.0,
    )
