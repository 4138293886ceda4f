"""Beside every rating: the hand formula with its values put in, the ratio, why they part, and a prediction to test tonight.

Source: arithmetic. What is printed as a formula's values must give the number printed after it.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from steadfold.job import read_job
from steadfold.mount.hand import PARTS_BY
from steadfold.review import PartReview, review

EXAMPLES = Path(__file__).parents[2] / "examples"
NUMBER = r"([\d.e-]+)"
SPLIT = re.compile(
    f"of {NUMBER} mm the root's sinking makes {NUMBER} and its turning {NUMBER} mm, the sheet beyond it {NUMBER}"
)
JOBS = ("rigger-tines", "boat-shed", "plier-bar", "notice-shelf", "press-stand")


@cache
def rated(job: str) -> tuple[PartReview, ...]:
    return tuple(part for part in review(read_job(EXAMPLES / f"{job}.toml"), fine=False).parts if part.ordered.carries)


def worked_out(values: str) -> float | None:
    """The number that `98.1 × 126.5 / (28.0 × 3² / 6)` makes; None for words."""
    plain = values.replace("×", "*").replace("²", "**2").replace("³", "**3")
    if not re.fullmatch(r"[\d.\s*/()+-]+", plain):
        return None
    return float(eval(plain))  # only digits and signs pass the pattern


@pytest.mark.parametrize("job", [job for job in JOBS if job != "press-stand"])
def test_each_rating_has_its_formulas_with_values_that_give_the_number(job: str) -> None:
    for part in rated(job):
        assert part.strength is not None and len(part.strength.hand) >= 3, part.name
        counted = 0
        for check in part.strength.hand:
            assert check.formula and check.values and check.unit
            number = worked_out(check.values)
            if number is not None:
                counted += 1
                assert number == pytest.approx(check.by_hand, rel=0.02), (part.name, check.what)
        assert counted >= 2, part.name


@pytest.mark.parametrize("job", JOBS)
def test_where_formula_and_model_part_by_more_than_15_percent_it_is_said_why(job: str) -> None:
    for part in rated(job):
        assert part.strength is not None
        for check in part.strength.hand:
            assert abs(check.ratio - 1) <= PARTS_BY or len(check.why) > 40, (part.name, check.what)


@pytest.mark.parametrize("job", JOBS)
def test_the_parts_of_a_sag_add_up_to_it(job: str) -> None:
    """Sinking and turning of the root and what the sheet beyond it bends are all of the sag."""
    for part in rated(job):
        assert part.strength is not None
        for check in part.strength.hand:
            told = SPLIT.search(check.why)
            if told is not None:
                total, *parts = map(float, told.groups())
                assert sum(parts) == pytest.approx(total, rel=0.06) and total == pytest.approx(check.by_model, rel=0.01)


def test_the_sheet_of_a_flat_tine_beyond_its_root_bends_as_the_formula_says() -> None:
    part = next(part for part in rated("rigger-tines") if part.name == "flat tines 3 mm")
    assert part.strength is not None
    sag = next(check for check in part.strength.hand if check.what.startswith("sag"))
    beyond = re.search(r"the sheet beyond it ([\d.]+)", sag.why)
    assert beyond is not None and float(beyond[1]) == pytest.approx(sag.by_hand, rel=0.15)


@pytest.mark.parametrize("job", [job for job in JOBS if job != "press-stand"])
def test_each_rating_tells_what_to_hang_tonight_and_the_sag_to_expect(job: str) -> None:
    """Nothing is hung on that bends it for good, and half the mass would sag half: the model is in proportion."""
    for part in rated(job):
        strength = part.strength
        assert strength is not None and strength.sag_of_items_mm is not None
        told = re.fullmatch(r"Hang (?:.*?)([\d.]+) kg.*: .* should sag ([\d.e-]+) mm.*", strength.tonight)
        assert told is not None, strength.tonight
        in_all = re.search(r"\(([\d.]+) kg in all\)", strength.tonight)
        hung = float(in_all[1]) if in_all else float(told[1])
        carried = strength.carried_kg.high
        assert float(told[2]) == pytest.approx(strength.sag_of_items_mm * hung / carried, rel=0.08)
        resting = next(case for case in strength.cases if case.name == "resting")
        assert hung <= carried * min(1.0, resting.load_factor_set / 1.5) * 1.01
