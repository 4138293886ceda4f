"""Sentences told in inches lead back to what they said in millimetres, and leave alone what is no quantity.

One inch is 25.4 mm and one pound 0.45359237 kg by definition (international yard and pound agreement of 1959); the
pound-force goes with the standard gravity 9.80665 m/s² (3rd CGPM, 1901).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadfold.job.reader import read_job
from steadfold.quantities import in_units
from steadfold.review import plain, review
from steadfold.review.retold import retold

ROOT = Path(__file__).parents[2]
INCH_MM, POUND_KG = 25.4, 0.45359237
POUND_FORCE_N = POUND_KG * 9.80665
PSI = POUND_FORCE_N / INCH_MM**2
FOOT_M = 0.3048

BACK = {
    "mm": ("in", INCH_MM),
    "mm²": ("in²", INCH_MM**2),
    "mm³": ("in³", INCH_MM**3),
    "kg": ("lb", POUND_KG),
    "N": ("lbf", POUND_FORCE_N),
    "kN": ("kip", POUND_FORCE_N),
    "MPa": ("ksi", 1000.0 * PSI),
    "N/mm²": ("ksi", 1000.0 * PSI),
    "N m": ("lbf ft", POUND_FORCE_N * FOOT_M),
    "N mm": ("lbf in", POUND_FORCE_N * INCH_MM),
    "kN m": ("kip ft", POUND_FORCE_N * FOOT_M),
    "N/mm": ("lbf/in", POUND_FORCE_N / INCH_MM),
    "mm per m": ("in per ft", INCH_MM / FOOT_M),
    "mm a metre": ("in a foot", INCH_MM / FOOT_M),
    "m": ("ft", FOOT_M),
    "m²": ("ft²", FOOT_M**2),
    "m/min": ("ft/min", FOOT_M),
    "mm a newton on a square centimetre": (
        "in a pound-force on a square inch",
        INCH_MM / POUND_FORCE_N / (100.0 / INCH_MM**2),
    ),
}
"""How much of ours one of theirs is, worked out here from the definitions."""

NUMBERS = st.tuples(st.decimals(0, 99_999, places=0), st.integers(0, 4), st.integers(0, 9999)).map(
    lambda drawn: f"{drawn[0]}.{drawn[2] % 10 ** drawn[1]:0{drawn[1]}d}" if drawn[1] else str(drawn[0])
)


def leads_back(told: str, said: str, factor: float) -> bool:
    """Whether a printed number, taken back, is what was said, within half of the last figure that was printed."""
    half = 0.5 * 10.0 ** -len(said.partition(".")[2])
    return abs(float(told) * factor - float(said)) <= half * (1 + 1e-9)


@settings(derandomize=True, max_examples=400, deadline=None)
@given(NUMBERS, st.sampled_from(sorted(BACK)), st.sampled_from(["", "-", "±", "+"]))
def test_a_quantity_leads_back_to_what_was_printed(number: str, unit: str, sign: str) -> None:
    theirs, factor = BACK[unit]
    told = re.fullmatch(
        rf"it is {re.escape(sign)}([\d.]+) {re.escape(theirs)} there",
        in_units(f"it is {sign}{number} {unit} there", "in"),
    )
    assert told is not None
    assert leads_back(told[1], number, factor)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.lists(NUMBERS, min_size=2, max_size=4), st.sampled_from([" × ", ", ", " to ", " and ", "–"]))
def test_every_length_of_a_list_is_told(numbers: list[str], joint: str) -> None:
    told = in_units(f"the fixing at {joint.join(numbers)} mm", "in")
    assert told.startswith("the fixing at ") and told.endswith(" in")
    parts = told.removeprefix("the fixing at ").removesuffix(" in").split(joint)
    assert len(parts) == len(numbers)
    assert all(leads_back(a, b, INCH_MM) for a, b in zip(parts, numbers, strict=True))


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.text(), NUMBERS, st.sampled_from(sorted(BACK)))
def test_in_millimetres_nothing_changes(text: str, number: str, unit: str) -> None:
    assert in_units(f"{text} {number} {unit} {text}", "mm") == f"{text} {number} {unit} {text}"


@settings(derandomize=True, max_examples=200, deadline=None)
@given(NUMBERS, st.sampled_from(sorted(BACK)))
def test_what_is_told_in_inches_is_not_told_again(number: str, unit: str) -> None:
    once = in_units(f"it is {number} {unit} there", "in")
    assert in_units(once, "in") == once


@pytest.mark.parametrize(
    "sentence",
    [
        'in the job: thickness = "2.5 mm"',
        "the part 'flat tines 3 mm' is in the flat",
        "aluminium of 2680 kg/m³",
        "M8 × 20 and M8 x 20 mm",
        "M = 38834 N mm, h = 14, 124 mm",
        "studs at 2, 3 and 4; step 2 of 3",
        'lag screw 1/4", in wood of gravity 0.42',
        "EN 1993-1-8:2005, Table 3.4; AISI S100-16 J4.4.2",
        "V32 over the 76° punch",
        "1.5 times the load leaves it bent, 94 % of 2",
    ],
)
def test_what_is_no_quantity_stays(sentence: str) -> None:
    assert in_units(sentence, "in") == sentence


def test_names_that_end_in_a_quantity_stay() -> None:
    told = in_units("flat tines 3 mm, 20 mm beyond tine 3, 12 mm from its root", "in", ("flat tines 3 mm", "tine 3"))
    assert told == "flat tines 3 mm, 0.787 in beyond tine 3, 0.472 in from its root"


def test_counts_before_a_mass_or_a_thing_stay() -> None:
    assert in_units("4 × 2.3 kg where rope bears", "in") == "4 × 5.07 lb where rope bears"
    assert in_units("2 of the 3 mm holes", "in") == "2 of the 0.118 in holes"


def test_what_is_said_both_ways_is_said_once() -> None:
    assert in_units("11 gauge in steel is 3.04 mm (0.1196 in);", "in") == "11 gauge in steel is 0.1196 in;"


def test_a_size_round_in_inches_is_shown_round() -> None:
    assert in_units("studs every 406.4 mm", "in") == "studs every 16 in"


STAYS = {"source", "values", "formula", "name", "job", "item", "part", "unit", "material", "k_source", "finish"}
"""Keys of plain data whose texts are names, sources, or a hand formula with its values."""


def sentences(told: Any, key: str = "") -> Iterator[str]:
    """Every sentence of plain data that a reader meets."""
    if isinstance(told, str):
        yield told
    elif isinstance(told, list):
        for each in told:
            yield from sentences(each, key)
    elif isinstance(told, dict):
        for inner, each in told.items():
            if inner not in STAYS:
                yield from sentences(each, inner)


METRIC = re.compile(r"\d[)]? ?(?:mm|kg|MPa|kN|N)\b(?!/m³)")


@pytest.mark.parametrize("job", sorted((ROOT / "examples").glob("*.toml")), ids=lambda path: path.stem)
def test_no_sentence_of_an_example_keeps_a_metric_quantity(job: Path) -> None:
    found = review(read_job(str(job)), fine=False)
    names = [part.name for part in found.parts] + [c.item for part in found.parts for c in part.ordered.carries]
    before, after = plain(found), plain(retold(found, "in"))
    assert any(METRIC.search(each) for each in sentences(before))
    for each in sentences(after):
        for name in names:
            each = each.replace(name, "")
        bare = re.sub(r"(?<!\w)'[^']*'|(?<![\w])\"[^\"]*\"", "", each)
        assert not METRIC.search(bare), each
    assert plain(retold(found, "mm")) == before
    assert [part.strength.rating_kg for part in found.parts if part.strength] == [
        part.strength.rating_kg for part in retold(found, "in").parts if part.strength
    ]
