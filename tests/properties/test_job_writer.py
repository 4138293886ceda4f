"""Writing back: the change is made, and every byte that is not part of it stays."""

from __future__ import annotations

import copy
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from steadfold.job import CannotChange, JobProblems, changed, read_job_text
from steadfold.job.fresh import kinds, new_job
from steadfold.job.layout import Steps
from steadfold.job.writer import edited, toml
from tests.properties.test_job_positions import ways
from tests.properties.toml_texts import SCALARS, toml_texts

NEW_VALUES = st.sampled_from(
    ["new", 'a "b" \\ \n é\x00', 7, -1.5, True, [], ["1 mm", "2 mm"], {"x y": 1}, [{"a": "b"}]]
)


def is_within(lines: list[str], others: list[str]) -> bool:
    """Whether all lines are found among the others in their order."""
    rest = iter(others)
    return all(line in rest for line in lines)


def at(values: Any, way: Steps) -> Any:
    for step in way:
        values = values[step]
    return values


@settings(max_examples=200)
@given(toml_texts(), st.data())
def test_setting_a_value_leaves_every_other_byte(text: str, data: st.DataObject) -> None:
    values = tomllib.loads(text)
    leaves = [way for way, value in ways(values) if not isinstance(value, (dict, list))]
    assume(leaves)
    way, new = data.draw(st.sampled_from(leaves)), data.draw(NEW_VALUES)
    result = edited(text, [(way, new)])
    expected = copy.deepcopy(values)
    at(expected, way[:-1])[way[-1]] = new
    assert tomllib.loads(result) == expected
    if result == text:
        assert at(values, way) == new, "nothing changed, so it stood there before"
        return
    # The text before and behind the old value is there unchanged, and nothing but the new value lies between.
    written = toml(new)
    same = next((at for at, (a, b) in enumerate(zip(text, result, strict=False)) if a != b), len(result))
    place = next(
        place for place in range(max(0, same - len(written)), same + 1) if result.startswith(written, place)
        and text.endswith(result[place + len(written):])
    )  # fmt: skip
    old = text[place : len(text) - (len(result) - place - len(written))]
    assert tomllib.loads(f"x = {old}")["x"] == at(values, way)


@settings(max_examples=200)
@given(toml_texts(), st.data())
def test_taking_a_field_away_leaves_every_other_line(text: str, data: st.DataObject) -> None:
    values = tomllib.loads(text)
    found = [way for way, _ in ways(values)]
    assume(found)
    way = data.draw(st.sampled_from(found))
    result = edited(text, [(way, None)])
    left = tomllib.loads(result)
    inner: Any = left
    for step in way[:-1]:
        # An emptied table may be gone with its last key.
        if isinstance(inner, dict) and step not in inner:
            break
        inner = inner[step]
    else:
        before = at(values, way[:-1])
        if isinstance(before, list):
            assert len(inner if isinstance(inner, list) else []) == len(before) - 1
        else:
            assert way[-1] not in inner
    kept, old = result.split("\n"), text.split("\n")
    changed_lines = [line for line in kept if line not in old]
    # Within brackets one line loses a part; else lines only go.
    assert len(changed_lines) <= 1
    assert is_within([line for line in kept if line in old], old)


@settings(max_examples=200)
@given(toml_texts(), st.data())
def test_adding_a_field_leaves_every_other_line(text: str, data: st.DataObject) -> None:
    values = tomllib.loads(text)
    places = [((), values), *ways(values)]
    way, value = data.draw(st.sampled_from([(w, v) for w, v in places if isinstance(v, (dict, list))]))
    new = data.draw(SCALARS.map(lambda each: each.unwrap() if hasattr(each, "unwrap") else each))
    assume(not type(new).__name__.startswith("date"))
    if isinstance(value, list) and value and all(isinstance(each, dict) for each in value):
        new = {"inner": new}
    steps: Steps = (*way, len(value) if isinstance(value, list) else "zz")
    result = edited(text, [(steps, new)])
    assert at(tomllib.loads(result), steps) == new
    kept, old = result.split("\n"), text.split("\n")
    without_one = [old, *(old[:i] + old[i + 1 :] for i in range(len(old)))]
    assert any(is_within(lines, kept) for lines in without_one), "all old lines but one stand in their order"


@settings(max_examples=100)
@given(toml_texts())
def test_no_change_is_no_change(text: str) -> None:
    assert edited(text, []) == text
    same = [(way, value) for way, value in ways(tomllib.loads(text)) if type(value) in (bool, int)]
    assert tomllib.loads(edited(text, same)) == tomllib.loads(text)


@settings(max_examples=100)
@given(
    st.recursive(
        st.one_of(st.text(), st.integers(-(2**63), 2**63 - 1), st.floats(allow_nan=False), st.booleans()),
        lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(), inner, max_size=3)),
    )
)
def test_written_values_are_read_alike_by_two_other_readers(value: Any) -> None:
    text = f"x = {toml(value)}"
    assert tomllib.loads(text)["x"] == value
    assert tomlkit.loads(text).unwrap()["x"] == value


def test_a_field_of_a_named_part_is_set_and_its_comment_stays() -> None:
    text = new_job()
    new = changed(text, [(("part", "oar rack", "thickness"), "11 ga"), (("part", "oar rack", "tines"), 2)])
    old_lines, new_lines = text.split("\n"), new.split("\n")
    differing = [(a, b) for a, b in zip(old_lines, new_lines, strict=True) if a != b]
    assert [b for _, b in differing] == [
        'thickness = "11 ga"                # or a gauge of that metal, "8 ga", or "5/32 in"', "tines = 2",
    ]  # fmt: skip
    assert read_job_text(new).part("oar rack").thickness_mm == pytest.approx(0.1196 * 25.4)


def test_new_fields_and_tables_go_where_a_person_would_put_them() -> None:
    text = new_job("panels").replace('  wood = "SPF"\n', "")
    text = re.sub(r"  \[part\.cases\].*?\n\n", "", text, flags=re.DOTALL)
    hole = {"shape": "circle", "diameter": "8 mm", "at": ["50 mm", "60 mm"]}
    new = changed(
        text,
        [
            (("part", "paint shelf", "k_factor"), 0.42),
            (("part", "paint shelf", "panel", "shelf", "cutout"), [hole]),
            (("part", "paint shelf", "carries", 1), {"item": "brush", "mass": "90 g", "on": "shelf"}),
            (("part", "paint shelf", "mount", "wood"), "SPF"),
            (("part", "paint shelf", "cases"), {"knock": "none"}),
            (("sale",), {"price": "20"}),
        ],
    )
    part = read_job_text(new).part("paint shelf")
    assert part.k_factor == 0.42
    assert part.tree is not None
    assert len(part.tree.panels[1].cutouts) == 1
    assert [carried.item for carried in part.carries] == ["tin of paint", "brush"]
    assert part.mount is not None
    assert part.mount.wood == "SPF"
    assert part.cases.refused == ("knock",)
    assert is_within(text.split("\n"), new.split("\n"))
    assert new.index("[[part.panel.cutout]]\n", new.index('name = "shelf"')) < new.index('name = "lip"')


def test_a_panel_goes_with_its_cutouts() -> None:
    text = new_job("panels")
    new = edited(text, [(("part", 0, "panel", "back"), None)])
    assert [panel["name"] for panel in tomllib.loads(new)["part"][0]["panel"]] == ["shelf", "lip"]
    assert "cutout" not in new
    with pytest.raises(JobProblems, match="hangs on nothing"):
        changed(text, [(("part", 0, "panel", "back"), None)])


@pytest.mark.parametrize("kind", kinds())
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_mark_stay(kind: str, mark: str) -> None:
    text = mark + new_job(kind).replace("\n", "\r\n")
    new = changed(text, [(("revision",), "B"), (("part", 0, "grain"), "along")])
    assert new.startswith(mark + "#")
    assert new.count("\n") == new.count("\r\n") == text.count("\n") + 1
    old_lines, new_lines = text.split("\r\n"), new.split("\r\n")
    assert [line for line in new_lines if line not in old_lines] == ['revision = "B"', 'grain = "along"']
    assert is_within([line for line in old_lines if line != 'revision = "A"'], new_lines)


def test_what_has_no_place_is_refused() -> None:
    text = new_job()
    for way in (("part", "paddle rack", "tines"), ("part", 3, "tines"), ("name", "x"), ("part", 0, "tines", 1)):
        with pytest.raises(CannotChange):
            edited(text, [(way, "x")])
    with pytest.raises(CannotChange):
        edited(text, [(("name",), Path("x"))])


def test_a_change_that_makes_no_job_is_refused_with_its_line() -> None:
    with pytest.raises(JobProblems) as caught:
        changed(new_job(), [(("part", "oar rack", "width"), "0 mm")])
    (problem,) = caught.value.problems
    assert problem.field == 'part "oar rack", width'
