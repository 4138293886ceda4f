"""Reading one table of a job file key by key, noting every problem and going on.

A reader asks a table for each key it knows, in the unit it wants; what is wrong is noted with its place and
the answer is None (or the default). When all is asked for, `done` refuses the keys that nobody asked for.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from steadfold.job.layout import Steps
from steadfold.job.positions import JobText
from steadfold.job.problem import Problem
from steadfold.job.wording import in_words, kind_of, one, shown, typed, unknown
from steadfold.quantities import (
    QuantityError,
    Range,
    read_angle,
    read_force,
    read_length,
    read_mass,
    read_stress,
    read_temperature,
    read_time,
)
from steadfold.sheet.outline import Point

LARGEST_MM = 20_000.0
"""Nothing folded from sheet is larger; a size beyond it is a slip of the unit."""
MOST_PROBLEMS = 100
"""More problems than this are counted, not told: such a file is not a job."""
LONGEST_NAME = 100
LONGEST_TEXT = 2000
_READERS: dict[str, tuple[Callable[[Any], float], str]] = {
    "length": (read_length, '"45 mm" or "1-3/4 in"'),
    "mass": (read_mass, '"1.9 kg" or "4 lb"'),
    "force": (read_force, '"150 N" or "30 lbf"'),
    "angle": (read_angle, '"90 deg"'),
    "stress": (read_stress, '"235 MPa" or "36 ksi"'),
    "temperature": (read_temperature, '"30 C" or "86 F"'),
    "time": (read_time, '"10 min"'),
}
# Arithmetic in a unit is no measurement, and evaluating towers of powers could take for ever.
_NOT_IN_A_UNIT = re.compile(r"[*^()\[\]{}=,;:\\]|[^\x20-\uffff]")
Choice = TypeVar("Choice", bound=str)


class Notebook:
    """The problems found so far in one text."""

    def __init__(self, text: JobText):
        self.text = text
        self._noted: list[tuple[Steps, str, bool]] = []

    def note(self, steps: Steps, sentence: str, of_key: bool = False) -> None:
        """Note a problem with a value, or with the key itself."""
        self._noted.append((steps, sentence, of_key))

    @property
    def mark(self) -> int:
        """How many problems there are; unchanged after a step means that the step went well."""
        return len(self._noted)

    def problems(self) -> list[Problem]:
        """All problems with their places; beyond `MOST_PROBLEMS` only their number."""
        told = [self.text.problem(steps, say, of_key) for steps, say, of_key in self._noted[:MOST_PROBLEMS]]
        if len(self._noted) > MOST_PROBLEMS:
            more = len(self._noted) - MOST_PROBLEMS
            told.append(Problem(self.text.file, 0, 0, "", f"and {more} more problems that are not shown"))
        return told


class Fields:
    """One table of the file. Every method that asks for a key makes it a known one."""

    def __init__(self, values: Mapping[str, Any], steps: Steps, notebook: Notebook):
        self.values = values
        self.steps = steps
        self.notebook = notebook
        self._known: dict[str, None] = {}

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def wrong(self, key: str, sentence: str) -> None:
        """Note a problem with the value of a key (with the table when the key is not there)."""
        self.notebook.note((*self.steps, key), sentence)

    def missing(self, key: str, example: str) -> None:
        """Note that a key is not there."""
        self.notebook.note(self.steps, f'"{key}" is missing; write {key} = {example}')

    def knows(self, *keys: str) -> None:
        """Make keys known that are read elsewhere or do not matter here."""
        self._known.update(dict.fromkeys(keys))

    def raw(self, key: str) -> Any:
        """The value as it stands, or None when the key is not there."""
        self._known[key] = None
        return self.values.get(key)

    def done(self) -> None:
        """Note every key that nobody asked for, with the nearest that somebody did ask for."""
        for key in self.values:
            if key not in self._known:
                self.notebook.note((*self.steps, key), unknown(key, self._known, "a key here"), of_key=True)

    def text(self, key: str, default: str | None = None, required: str = "", longest: int = LONGEST_NAME) -> str | None:
        """A text of one line; `required` is the example to show when it is missing."""
        value = self.raw(key)
        if value is None:
            if required:
                self.missing(key, required)
            return default
        if not isinstance(value, str):
            self.wrong(key, f"{typed(value)}; a text in quotes is due here")
        elif not value.strip():
            self.wrong(key, f'"{key}" is empty; write something or leave the key out')
        elif len(value) > longest:
            self.wrong(key, f"{len(value)} characters are too many here; at most {longest}")
        elif not value.isprintable():
            self.wrong(key, f"{shown(value)} holds characters that cannot be printed")
        else:
            return value.strip()
        return default

    def choice(
        self, key: str, choices: Sequence[Choice], default: Choice | None = None, required: bool = False
    ) -> Choice | None:
        """One of some words; capitals do not matter."""
        value = self.text(key, required=f'"{choices[0]}"' if required else "")
        if value is None:
            return default
        for word in choices:
            if word.casefold() == value.casefold():
                return word
        self.wrong(key, unknown(value, choices, "one of the words for this"))
        return default

    def measure(
        self,
        kind: str,
        key: str,
        default: float | None = None,
        required: str = "",
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
    ) -> float | None:
        """A quantity with its unit: a length in mm, mass in kg, force in N, angle in rad, stress in MPa,
        temperature in °C, time in s. `low` and `high` may be reached, `above` may not."""
        value = self.raw(key)
        if value is None:
            if required:
                self.missing(key, required)
            return default
        return self.measured(kind, value, (*self.steps, key), low, high, above, default)

    def measured(
        self,
        kind: str,
        value: Any,
        steps: Steps,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
        default: float | None = None,
    ) -> float | None:
        """A quantity that is already at hand, such as an element of an array; see `measure`."""
        example = _READERS[kind][1]
        if not isinstance(value, str):
            why = f"{shown(value)} has no unit" if is_number(value) else typed(value)
            self.notebook.note(steps, f"{why}; write {one(kind)} with its unit, like {example}")
            return default
        read = read_measure(kind, value)
        if isinstance(read, str):
            self.notebook.note(steps, read)
            return default
        size = LARGEST_MM if kind == "length" else math.inf
        least, most = (-size if low is None else low), (size if high is None else high)
        if above is not None and not read > above:
            self.notebook.note(steps, f"{shown(value)} must be more than {in_words(kind, above)}")
        elif read < least:
            self.notebook.note(steps, f"{shown(value)} is less than {in_words(kind, least)}, the least here")
        elif read > most:
            self.notebook.note(steps, f"{shown(value)} is more than {in_words(kind, most)}, the most here")
        else:
            return read
        return default

    def length(self, key: str, required: str = "", **limits: float | None) -> float | None:
        """A length in mm, more than 0 unless limits say otherwise."""
        return self.measure("length", key, required=required, **(limits or {"above": 0.0}))

    def mass_range(self, key: str, required: str) -> Range | None:
        """A mass in kg: one value, `[low, high]`, or `{low, high}`; more than 0 and at most 10 t."""
        value = self.raw(key)
        if value is None:
            self.missing(key, required)
            return None
        steps: Steps = (*self.steps, key)
        if isinstance(value, dict):
            if set(value) != {"low", "high"}:
                self.wrong(key, 'a range is written ["1.6 kg", "2.3 kg"] or { low = "1.6 kg", high = "2.3 kg" }')
                return None
            ends = [(value["low"], (*steps, "low")), (value["high"], (*steps, "high"))]
        elif isinstance(value, list):
            if len(value) != 2:
                self.wrong(key, f'a range has two ends, ["1.6 kg", "2.3 kg"], not {len(value)}')
                return None
            ends = [(value[0], (*steps, 0)), (value[1], (*steps, 1))]
        else:
            ends = [(value, steps)]
        read = [self.measured("mass", each, where, above=0.0, high=10_000.0) for each, where in ends]
        low, high = read[0], read[-1]
        if low is None or high is None:
            return None
        if low > high:
            self.wrong(key, "the ends of this range are the wrong way round; the least comes first")
            return None
        return Range(low, high)

    def count(self, key: str, default: int | None = None, low: int = 1, high: int = 1_000_000) -> int | None:
        """A whole number between two limits, both included."""
        value = self.raw(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int):
            self.wrong(key, f"{typed(value)}; write a whole number, like {key} = {low}")
        elif not low <= value <= high:
            self.wrong(key, f"{shown(value)} is out of range; from {low} to {high}")
        else:
            return value
        return default

    def number(self, key: str, say: str, above: float = 0.0, high: float = math.inf) -> float | None:
        """A plain number without unit, more than `above` and at most `high`; `say` explains what is right."""
        value = self.raw(key)
        if value is None:
            return None
        if not is_number(value):
            self.wrong(key, f"{typed(value)}; {say}")
        elif not math.isfinite(as_float(value)) or not above < value <= high:
            self.wrong(key, f"{shown(value)} cannot be; {say}")
        else:
            return float(value)
        return None

    def flag(self, key: str, default: bool | None = None) -> bool | None:
        """true or false."""
        value = self.raw(key)
        if value is None or isinstance(value, bool):
            return default if value is None else value
        self.wrong(key, f"{typed(value)}; write {key} = true or {key} = false")
        return default

    def point(self, key: str, default: Point | None = None, required: bool = False) -> Point | None:
        """Two lengths in mm, of either sign."""
        value = self.raw(key)
        if value is None:
            if required:
                self.missing(key, '["20 mm", "45 mm"]')
            return default
        return self.pair(value, (*self.steps, key)) or default

    def size(self, key: str, required: bool = False) -> Point | None:
        """Two lengths in mm, both more than 0."""
        value = self.raw(key)
        if value is None:
            if required:
                self.missing(key, '["400 mm", "90 mm"]')
            return None
        return self.pair(value, (*self.steps, key), above=0.0)

    def pair(self, value: Any, steps: Steps, above: float | None = None) -> Point | None:
        """Two lengths in an array that is already at hand."""
        if not isinstance(value, list) or len(value) != 2:
            what = f"{len(value)} values" if isinstance(value, list) else kind_of(value)
            self.notebook.note(steps, f'two lengths are due here, like ["20 mm", "45 mm"], not {what}')
            return None
        x = self.measured("length", value[0], (*steps, 0), above=above)
        y = self.measured("length", value[1], (*steps, 1), above=above)
        return None if x is None or y is None else (x, y)

    def table(self, key: str) -> Fields | None:
        """A table under a key, or None when it is not there."""
        value = self.raw(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.wrong(key, f"{typed(value)}; {key} is a table of keys")
            return None
        return Fields(value, (*self.steps, key), self.notebook)

    def tables(self, key: str, most: int) -> list[Fields]:
        """An array of tables, each under its own `[[...]]`; an empty list when there is none."""
        value = self.raw(key)
        if value is None:
            return []
        header = ".".join([*(str(step) for step in self.steps if isinstance(step, str)), key])
        if not isinstance(value, list):
            right = f"write [[{header}]]{' with two brackets' if isinstance(value, dict) else ''}"
            self.wrong(key, f"{kind_of(value)} where a list of tables is due; {right}")
            return []
        if len(value) > most:
            self.wrong(key, f"{len(value)} of these are too many; at most {most}")
            return []
        found = []
        for number, each in enumerate(value):
            if isinstance(each, dict):
                found.append(Fields(each, (*self.steps, key, number), self.notebook))
            else:
                say = f"{typed(each)}; write [[{header}]]"
                self.notebook.note((*self.steps, key, number), say)
        return found


def read_measure(kind: str, text: str) -> float | str:
    """The quantity in a text, or the sentence that says what is wrong with it, another dimension named."""
    reader, example = _READERS[kind]
    right = f"write {one(kind)} with its unit, like {example}"
    if _NOT_IN_A_UNIT.search(text) or not text.isprintable():
        return f"{shown(text)} is not {one(kind)}; {right}"
    try:
        return reader(text)
    except QuantityError as error:
        for other, (read_other, _) in _READERS.items():
            if other != kind and _reads(read_other, text):
                return f"{shown(text)} is {one(other)}, not {one(kind)}; {right}"
        return str(error)
    except (ValueError, OverflowError, ArithmeticError):
        return f"{shown(text)} is not {one(kind)}; {right}"


def _reads(reader: Callable[[str], float], text: str) -> bool:
    try:
        reader(text)
    except (ValueError, OverflowError, ArithmeticError):
        return False
    return True


def is_number(value: Any) -> bool:
    """True for a whole or broken number; true and false are none."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def as_float(value: int | float) -> float:
    """The number as a float, infinite when it is too large for one."""
    try:
        return float(value)
    except OverflowError:
        return math.inf
