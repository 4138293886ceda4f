"""Words and values of a job file as the sentences of its problems name them."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable
from typing import Any

from steadfold.catalogue import NotInCatalogue

LONGEST_SENTENCE = 300


def unknown(word: str, known: Iterable[str], what: str) -> str:
    """The sentence for a word nobody knows, naming the nearest that is known, or all when none is near."""
    names = list(known)
    near = difflib.get_close_matches(word.casefold(), [name.casefold() for name in names], n=1, cutoff=0.6)
    nearest = [name for name in names if near and name.casefold() == near[0]]
    if not nearest:
        nearest = [name for name in names if len(word) > 2 and (word in name or name in word)][:1]
    if nearest:
        return f'{shown(word)} is not {what}; did you mean "{nearest[0]}"?'
    listed = ", ".join(names[:20]) + (", ..." if len(names) > 20 else "")
    return f"{shown(word)} is not {what}; known: {listed}"


def not_listed(error: NotInCatalogue) -> str:
    """What the catalogue says of a name it does not hold, long lists cut short."""
    if len(error.message) <= LONGEST_SENTENCE:
        return error.message
    few = ", ".join(error.known[:8])
    return f"{shown(error.name)} is not a {error.what} in the catalogue; known: {few}, ... (steadfold facts lists all)"


def shown(value: Any) -> str:
    """A value as a person would recognise it in the file, cut short."""
    if isinstance(value, str):
        clean = "".join(character if character.isprintable() else "?" for character in value[:50])
        return f'"{clean}{"..." if len(value) > 50 else ""}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**20:
        return "a number of more than 20 digits"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return str(value)


def typed(value: Any) -> str:
    """The start of a sentence about a value of the wrong sort."""
    sort = kind_of(value)
    return f"this is {sort}" if isinstance(value, (dict, list)) else f"{shown(value)} is {sort}"


def kind_of(value: Any) -> str:
    """What sort of TOML value this is, in words."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, str):
        return "a text"
    if isinstance(value, int):
        return "a whole number"
    if isinstance(value, float):
        return "a number"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return "a date or time"


def one(kind: str) -> str:
    """The kind with its article."""
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def in_words(kind: str, value: float) -> str:
    """A limit in the unit people use for it."""
    if kind == "angle":
        return f"{round(math.degrees(value), 6):g} deg"
    units = {"length": "mm", "mass": "kg", "force": "N", "stress": "MPa", "temperature": "C", "time": "s"}
    return f"{value:g} {units[kind]}"
