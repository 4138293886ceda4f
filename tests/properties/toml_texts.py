"""Random TOML texts, put together by tomlkit with every form of key, table, string and list it can write."""

from __future__ import annotations

import datetime
from typing import Any

import tomlkit
from hypothesis import strategies as st
from tomlkit.exceptions import TOMLKitError

BARE_KEYS = ("a", "b-c", "d_e", "12", "name", "part")
ANY_TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\r"), max_size=8)
KEYS = st.one_of(st.sampled_from(BARE_KEYS), ANY_TEXT)


@st.composite
def strings(draw: st.DrawFn) -> Any:
    """A string, in one of the four forms where TOML allows it."""
    value = draw(st.one_of(ANY_TEXT, st.sampled_from(['x"y', "it's", "# no", "[a]", "{", "a = 1", "tab\t", "é\n"])))
    multiline, literal = draw(st.booleans()), draw(st.booleans())
    try:
        return tomlkit.string(value, literal=literal, multiline=multiline)
    except (TOMLKitError, ValueError):
        return tomlkit.string(value)


SCALARS = st.one_of(
    st.integers(-(10**12), 10**12),
    st.floats(allow_nan=False),
    st.booleans(),
    st.dates(datetime.date(1900, 1, 1), datetime.date(2100, 1, 1)),
    strings(),
)


@st.composite
def lists(draw: st.DrawFn, depth: int) -> Any:
    """A list on one line or several, with comments between its elements."""
    new = tomlkit.array()
    multiline = draw(st.booleans())
    for element in draw(st.lists(values(depth - 1), max_size=4)):
        if multiline:
            new.add_line(element, comment=draw(st.sampled_from((None, "a ] comment", '"'))))
        else:
            new.append(element)
    if multiline:
        new.add_line()
    return new


@st.composite
def inline_tables(draw: st.DrawFn, depth: int) -> Any:
    """A table in braces."""
    new = tomlkit.inline_table()
    for key, value in draw(st.dictionaries(KEYS, values(depth - 1), max_size=3)).items():
        new.append(tomlkit.key(key), value)
    return new


def values(depth: int) -> st.SearchStrategy[Any]:
    """A value that stands behind an equals sign."""
    if depth <= 0:
        return SCALARS
    return st.one_of(SCALARS, lists(depth), inline_tables(depth))


@st.composite
def tables(draw: st.DrawFn, depth: int, table: Any) -> Any:
    """Fill a table (or the document) with pairs, comments and blank lines, then with tables and lists of tables."""
    taken: set[str] = set()
    for _ in range(draw(st.integers(0, 4))):
        form = draw(st.sampled_from(("pair", "pair", "dotted", "comment", "blank")))
        if form == "comment":
            table.add(tomlkit.comment(draw(st.sampled_from(("[not.a.table]", "key = 1", 'a "quote', "é")))))
            continue
        if form == "blank":
            table.add(tomlkit.nl())
            continue
        key = draw(KEYS.filter(lambda each: each not in taken))
        taken.add(key)
        if form == "dotted":
            second = draw(KEYS)
            table.append(tomlkit.key([key, second]), draw(values(1)))
        else:
            item = tomlkit.item(draw(values(2)))
            if draw(st.booleans()):
                item.comment("[x] = 'y'")
            table.append(tomlkit.key(key), item)
    if depth <= 0:
        return table
    for _ in range(draw(st.integers(0, 2))):
        key = draw(KEYS.filter(lambda each: each not in taken))
        taken.add(key)
        if draw(st.booleans()):
            table.append(tomlkit.key(key), draw(tables(depth - 1, tomlkit.table())))
        else:
            several = tomlkit.aot()
            for _ in range(draw(st.integers(1, 3))):
                several.append(draw(tables(depth - 1, tomlkit.table())))
            table.append(tomlkit.key(key), several)
    return table


@st.composite
def toml_texts(draw: st.DrawFn) -> str:
    """A TOML text."""
    return tomlkit.dumps(draw(tables(2, tomlkit.document())))
