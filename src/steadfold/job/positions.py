"""Where every key and value of a TOML text stands, so that a problem can name its line.

The index is made only when there is something to say: a job without problems never pays for it.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from steadfold.job.layout import Steps, layout
from steadfold.job.problem import Problem


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
    found = layout(text).found
    starts = [0, *(end.end() for end in re.finditer("\n", text))]

    def place(key_at: int, value_at: int) -> Place:
        key_line, line = bisect_right(starts, key_at), bisect_right(starts, value_at)
        return Place(key_line, key_at - starts[key_line - 1] + 1, line, value_at - starts[line - 1] + 1)

    return {steps: place(span.key_at, span.value_at) for steps, span in found.items()}
