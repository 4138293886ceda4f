"""Our index of places against the standard library's reader: same keys, and what stands at a place is its value."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from steadfold.job.layout import Steps, layout
from steadfold.job.positions import JobText, positions
from tests.properties.toml_texts import toml_texts

TRICKY = '''\
# [not.a.table]
top = 1 # "
"quoted key" . 'other' = """a
[b]
""" # after
[a."b c".d]
list = [1, # ]
  [2, "x]", '#'], { y = [3], z.w = 4 },
]
[a]
[[a.rows]]
k = 1
[[a.rows.deep]]
[[a.rows.deep]]
s = \'\'\'it's''\'\'\'
q = """say ""hi"""""
[[a.rows]]
[a.rows.one]
"" = {}
[[a.rows.deep]]
x = 1979-05-27 07:32:00
'''


def parsed(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assume(False)
        raise


def ways(value: Any, way: Steps = ()) -> Iterator[tuple[Steps, Any]]:
    """Every way into a parsed text, with the value at its end."""
    if way:
        yield way, value
    steps = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, inner in steps:
        yield from ways(inner, (*way, step))


def reads_as_key(text: str, start: int, key: str) -> bool:
    """Whether a key that means `key` is written at `start`."""
    for end in range(start + 1, min(len(text), start + 120) + 1):
        try:
            if tomllib.loads(f"{text[start:end]} = 1") == {key: 1}:
                return True
        except tomllib.TOMLDecodeError:
            continue
    return False


def check(text: str) -> None:
    """All ways of the standard reader have a span, and each span, read alone, is the value or the key."""
    expected = dict(ways(parsed(text)))
    found = layout(text).found
    assert set(found) == set(expected)
    # The parts of a dotted name share one value: that of the longest way.
    named = {span.value_at: way for way, span in sorted(found.items(), key=lambda each: len(each[0]))}
    for way, span in found.items():
        told = text[span.value_at : span.end]
        if span.value_at < span.key_at:
            assert told.startswith("[") and told.endswith("]")
            assert text[: span.value_at].rpartition("\n")[2].strip() == ""
        else:
            assert tomllib.loads(f"x = {told}")["x"] == expected[named[span.value_at]]
        if isinstance(way[-1], str):
            assert reads_as_key(text, span.key_at, way[-1])


def test_places_of_a_text_with_every_trick_in_it() -> None:
    check(TRICKY)
    places = positions(TRICKY)
    lines = TRICKY.split("\n")
    for way, line, start in (
        (("top",), 2, "1 #"),
        (("quoted key", "other"), 3, '"""a'),
        (("a", "b c", "d", "list", 1, 1), 8, '"x]"'),
        (("a", "b c", "d", "list", 2, "z", "w"), 8, "4 }"),
        (("a", "rows", 0, "deep", 1, "s"), 15, "'''it's"),
        (("a", "rows", 1, "one", ""), 19, "{}"),
        (("a", "rows", 1, "deep", 0, "x"), 21, "1979"),
    ):
        place = places[way]
        assert place.line == line, way
        assert lines[line - 1][place.column - 1 :].startswith(start), way
    assert places[("a", "rows", 0)].line == 11
    assert places[("a", "rows", 1)].line == 17
    assert places[("quoted key", "other")].key_column == TRICKY.split("\n")[2].index("'") + 1


@settings(max_examples=300)
@given(toml_texts())
def test_every_key_and_value_of_any_toml_text_has_its_place(text: str) -> None:
    check(text)


@settings(max_examples=200)
@given(st.text(st.sampled_from("ab.=[]{}\"'#,\n \\1é"), max_size=40))
def test_text_that_is_no_toml_is_walked_without_a_fall(text: str) -> None:
    positions(text)


def test_a_place_that_is_not_there_is_that_of_the_table_around_it() -> None:
    text = "[[part]]\nname = 'rack'\n"
    job_text = JobText(text, "job.toml", tomllib.loads(text))
    problem = job_text.problem(("part", 0, "width"), "is missing")
    assert (problem.line, problem.column, problem.field) == (1, 1, 'part "rack", width')
    assert problem.render() == 'job.toml:1:1: part "rack", width: is missing\n    [[part]]\n    ^'
