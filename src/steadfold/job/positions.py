"""Where every key and value of a TOML text stands, so that a problem can name its line.

The standard library's reader tells values but not places. This index is made only when there is something
to say: it walks a text that reader has already accepted, so it follows the grammar without judging it.
"""

from __future__ import annotations

import contextlib
import re
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from steadfold.job.problem import Problem

Steps = tuple[str | int, ...]
"""The way to a value from the top of the file: keys, and numbers from 0 in arrays."""


@dataclass(frozen=True)
class Place:
    """Where a key and its value begin; lines and columns count from 1, columns in characters.

    An element of an array has no key of its own: then both are the element's. A table's value is its header
    or brace.
    """

    key_line: int
    key_column: int
    line: int
    column: int


@dataclass(frozen=True)
class JobText:
    """A TOML text with LF line ends and no byte order mark, the values it holds, and the name of its file."""

    text: str
    file: str
    values: Mapping[str, Any] = field(compare=False)

    @cached_property
    def places(self) -> dict[Steps, Place]:
        """The place of everything in the text."""
        return positions(self.text)

    @cached_property
    def lines(self) -> list[str]:
        """The lines of the text."""
        return self.text.split("\n")

    def place(self, steps: Steps) -> Place | None:
        """The place of what lies there, or of the nearest table around it; None for the file as a whole."""
        for end in range(len(steps), 0, -1):
            found = self.places.get(steps[:end])
            if found is not None:
                return found
        return None

    def problem(self, steps: Steps, sentence: str, of_key: bool = False) -> Problem:
        """A problem with a value (or, `of_key`, with the key itself), with its place and its line."""
        found = self.place(steps)
        if found is None:
            return Problem(self.file, 0, 0, self.name_of(steps), sentence)
        line, column = (found.key_line, found.key_column) if of_key else (found.line, found.column)
        return Problem(self.file, line, column, self.name_of(steps), sentence, self.lines[line - 1])

    def name_of(self, steps: Steps) -> str:
        """The way to a value in words: tables of an array by name if they have one, else by number from 1.

        >>> JobText("", "", {"part": [{"name": "rack"}]}).name_of(("part", 0, "width"))
        'part "rack", width'
        """
        words: list[str] = []
        value: Any = self.values
        for step in steps:
            try:
                value = value[step]
            except (KeyError, IndexError, TypeError):
                value = None
            if not isinstance(step, int):
                words.append(step if len(step) <= 40 else step[:37] + "...")
            elif isinstance(value, dict):
                name = value.get("name", value.get("item"))
                short = isinstance(name, str) and 0 < len(name) <= 40 and name.isprintable()
                words[-1] += f' "{name}"' if short else f" {step + 1}"
        return ", ".join(words)


def positions(text: str) -> dict[Steps, Place]:
    """The place of every table, key, value and array element of a valid TOML text (LF line ends, no mark).

    A table that only appears inside the name of another has the place of that name. Text that is not TOML
    gives the places up to where it goes wrong.
    """
    scan = _Scan(text)
    with contextlib.suppress(IndexError, RecursionError):
        scan.document()
    starts = [0, *(found.end() for found in re.finditer("\n", text))]

    def place(key_at: int, value_at: int) -> Place:
        key_line, line = bisect_right(starts, key_at), bisect_right(starts, value_at)
        return Place(key_line, key_at - starts[key_line - 1] + 1, line, value_at - starts[line - 1] + 1)

    return {steps: place(*offsets) for steps, offsets in scan.found.items()}


_BLANK = re.compile(r"[ \t]*")
_BLANK_LINES = re.compile(r"(?:[ \t\n\r]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_ATOM = re.compile(r"[^,\]}#\n]*")
_STRINGS = (
    re.compile(r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}', re.DOTALL),
    re.compile(r"'''(?:[^']|'(?!''))*'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)


class _Scan:
    """One walk over a text; `found` holds the offsets of key and value by steps."""

    def __init__(self, text: str):
        self.text = text
        self.at = 0
        self.found: dict[Steps, tuple[int, int]] = {}
        self.lengths: dict[Steps, int] = {}

    def document(self) -> None:
        table: Steps = ()
        while True:
            self.skip(_BLANK_LINES)
            if self.at >= len(self.text):
                return
            before = self.at
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            if self.at == before:
                return

    def header(self) -> Steps:
        start = self.at
        array = self.text.startswith("[[", start)
        self.at += 2 if array else 1
        keys = self.key()
        self.at += 2 if array else 1
        steps: Steps = ()
        for number, (key, key_at) in enumerate(keys):
            steps = (*steps, key)
            last = number == len(keys) - 1
            if last and array:
                self.found.setdefault(steps, (key_at, start))
                self.lengths[steps] = self.lengths.get(steps, 0) + 1
            elif last:
                # Named earlier inside the name of one of its own tables: this header is its place.
                self.found[steps] = (key_at, start)
            else:
                self.found.setdefault(steps, (key_at, start))
            if steps in self.lengths:
                steps = (*steps, self.lengths[steps] - 1)
                self.found.setdefault(steps, (key_at, start))
        return steps

    def pair(self, table: Steps) -> None:
        keys = self.key()
        self.at += 1
        self.skip(_BLANK)
        steps, value_at = table, self.at
        for key, key_at in keys:
            steps = (*steps, key)
            self.found.setdefault(steps, (key_at, value_at))
        self.value(steps)

    def key(self) -> list[tuple[str, int]]:
        """A dotted key with the offset of each of its parts; stops at what follows it."""
        parts = []
        while True:
            self.skip(_BLANK)
            start = self.at
            if self.text[start] in "\"'":
                self.string()
                parts.append((_unquoted(self.text[start : self.at]), start))
            else:
                self.skip(_BARE_KEY)
                if self.at == start:
                    raise IndexError(start)
                parts.append((self.text[start : self.at], start))
            self.skip(_BLANK)
            if self.text[self.at] != ".":
                return parts
            self.at += 1

    def value(self, steps: Steps) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.array(steps)
        elif first == "{":
            self.inline(steps)
        else:
            self.skip(_ATOM)

    def array(self, steps: Steps) -> None:
        self.at += 1
        number = 0
        while True:
            self.skip(_BLANK_LINES)
            if self.text[self.at] == "]":
                self.at += 1
                return
            self.found[(*steps, number)] = (self.at, self.at)
            self.value((*steps, number))
            number += 1
            self.skip(_BLANK_LINES)
            if self.text[self.at] == ",":
                self.at += 1
            elif self.text[self.at] != "]":
                raise IndexError(self.at)

    def inline(self, steps: Steps) -> None:
        self.at += 1
        while True:
            self.skip(_BLANK_LINES)
            if self.text[self.at] == "}":
                self.at += 1
                return
            self.pair(steps)
            self.skip(_BLANK_LINES)
            if self.text[self.at] == ",":
                self.at += 1
            elif self.text[self.at] != "}":
                raise IndexError(self.at)

    def string(self) -> None:
        for form in _STRINGS:
            found = form.match(self.text, self.at)
            if found is not None and found.end() > self.at:
                self.at = found.end()
                return
        raise IndexError(self.at)

    def skip(self, form: re.Pattern[str]) -> None:
        found = form.match(self.text, self.at)
        if found is not None:
            self.at = found.end()


_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


def _unquoted(key: str) -> str:
    """The key that a quoted key means."""
    if key[0] == "'":
        return key[1:-1]

    def escaped(found: re.Match[str]) -> str:
        text = found.group(1)
        return _ESCAPES[text] if text in _ESCAPES else chr(int(text[1:], 16))

    return re.sub(r"\\(U[0-9a-fA-F]{8}|u[0-9a-fA-F]{4}|.)", escaped, key[1:-1])
