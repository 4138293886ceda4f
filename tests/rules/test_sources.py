"""No datum without a source: every row of every table leads to one, and every source is leant on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from steadfold.catalogue import facts
from steadfold.catalogue.sources import KINDS, citation, source, source_keys
from steadfold.catalogue.tables import TABLES, table

DATA = [name for name in TABLES if name != "sources"]


def citations(data: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every citation written anywhere in a table, with where it stands."""
    if isinstance(data, dict):
        for name, value in data.items():
            if name == "source" or name.endswith("_source"):
                yield f"{path}.{name}", value
            else:
                yield from citations(value, f"{path}.{name}")
    elif isinstance(data, list):
        for index, value in enumerate(data):
            yield from citations(value, f"{path}[{index}]")


def uncited(data: Any, path: str = "", cited: bool = False) -> Iterator[str]:
    """Places where numbers stand with no source beside or above them."""
    if isinstance(data, dict):
        cited = cited or "source" in data
        for name, value in data.items():
            if not name.endswith("source"):
                yield from uncited(value, f"{path}.{name}", cited)
    elif isinstance(data, list):
        for index, value in enumerate(data):
            yield from uncited(value, f"{path}[{index}]", cited)
    elif isinstance(data, (int, float)) and not isinstance(data, bool) and not cited:
        yield path


def test_the_check_for_uncited_numbers_sees_one() -> None:
    assert list(uncited({"steel": {"rows": [{"mm": 3.0}]}})) == [".steel.rows[0].mm"]
    assert not list(uncited({"steel": {"source": {"key": "x"}, "rows": [{"mm": 3.0}]}}))


@pytest.mark.parametrize("name", DATA)
def test_every_number_has_a_source(name: str) -> None:
    assert not list(uncited(table(name)))


@pytest.mark.parametrize("name", DATA)
def test_every_citation_resolves_and_names_its_clause(name: str) -> None:
    found = list(citations(table(name), name))
    assert found
    for place, row in found:
        assert set(row) <= {"key", "clause", "recalled", "note"}, place
        resolved = citation(row)
        assert resolved.clause.strip(), place
        assert resolved.sentence.strip(), place


def test_no_source_is_unused() -> None:
    used = {row["key"] for name in DATA for _, row in citations(table(name))}
    assert set(source_keys()) == used


def test_sources_stand_once_and_say_what_they_are() -> None:
    keys = [row["key"] for row in table("sources")["source"]]
    assert len(keys) == len(set(keys))
    for key in keys:
        each = source(key)
        assert each.kind in KINDS, key
        assert each.title.strip(), key
        assert each.standard or each.kind != "standard", key


def test_recalled_values_say_so_wherever_they_are_shown() -> None:
    shown = [fact for fact in facts.look_up() if fact.from_memory]
    assert shown
    kinds = {each.title: each.kind for each in map(source, source_keys())}
    for fact in shown:
        practice = any(
            fact.source.startswith(title) and kinds[title] in ("common practice", "assumed") for title in kinds
        )
        assert practice or fact.source.endswith("recalled"), fact


def test_a_rule_of_thumb_is_not_dressed_as_a_standard() -> None:
    for key in source_keys():
        each = source(key)
        if each.kind in ("common practice", "assumed"):
            assert not each.standard and not each.edition, key


def test_every_fact_carries_a_source() -> None:
    for fact in facts.look_up():
        assert fact.topic in facts.TOPICS
        assert fact.source.strip() and fact.text.strip() and fact.name.strip()


def test_facts_of_a_material_say_what_its_yield_is_worth() -> None:
    for word, claim in (("DC01", "not promised"), ("A1008 CS", "typical"), ("S235", "promised (a guaranteed minimum)")):
        assert claim in facts.look_up(word)[0].text


def test_lengths_are_shown_in_mm_and_inch() -> None:
    for word in ("12 ga", "M8", "3/8", "strut 41x41x2.5"):
        found = [fact for fact in facts.look_up(word) if fact.topic in ("gauge", "bolt", "profile")]
        assert found
        assert any(" mm" in fact.text and " in" in fact.text for fact in found)


def test_a_word_nothing_is_known_of_finds_nothing_but_what_is_near() -> None:
    assert facts.look_up("unobtainium") == []
    assert "M8" in facts.near("M9")
    assert len(facts.look_up("")) == len(facts.look_up()) > 300


def test_the_exact_name_comes_before_what_only_mentions_it() -> None:
    assert facts.look_up("304")[0].name == "304"
    assert facts.look_up("M10")[0].name == "M10"
