"""Where everything in a TOML text lies, as offsets into the text.

The standard library's reader tells values but not places. This walks a text that reader has already
accepted, so it follows the grammar without judging it.
"""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass, field

Steps = tuple[str | int, ...]
"""The way to a value from the top of the file: keys, and numbers from 0 in arrays."""


@dataclass(frozen=True)
class Span:
    """Where a key begins, and where its value begins and ends. An element of an array has its own start as key.

    A table's value is its header or its braces; a table that only appears in a dotted name has the span of
    that. `inline` is true for what stands inside brackets or braces; else `section` is the table whose
    header it is under.
    `partial` is true for a table that only the front of a dotted key names.
    """

    key_at: int
    value_at: int
    end: int
    section: Steps = ()
    inline: bool = False
    partial: bool = False


@dataclass
class Section:
    """What stands under one header (the first: under none): the table, where the header begins, and where the
    last key, or the header, ends."""

    steps: Steps
    start: int
    end: int


@dataclass
class Layout:
    """The spans of all keys and values, and the sections in the order of the text."""

    found: dict[Steps, Span] = field(default_factory=dict)
    sections: list[Section] = field(default_factory=list)


def layout(text: str) -> Layout:
    """The layout of a valid TOML text without byte order mark; of other text, that of what is right before it
    goes wrong."""
    scan = _Scan(text)
    with contextlib.suppress(IndexError, RecursionError):
        scan.document()
    return scan.layout


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
    """One walk over a text."""

    def __init__(self, text: str):
        self.text = text
        self.at = 0
        self.layout = Layout(sections=[Section((), 0, 0)])
        self.found = self.layout.found
        self.lengths: dict[Steps, int] = {}
        self.depth = 0

    def document(self) -> None:
        while True:
            self.skip(_BLANK_LINES)
            if self.at >= len(self.text):
                return
            before = self.at
            section = self.layout.sections[-1]
            if self.text[self.at] == "[":
                steps = self.header()
                self.layout.sections.append(Section(steps, before, self.at))
            else:
                self.pair(section.steps)
                section.end = self.at
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
            span = Span(key_at, start, self.at, steps)
            if number == len(keys) - 1 and array:
                self.lengths[steps] = self.lengths.get(steps, 0) + 1
                self.found.setdefault(steps, span)
            elif number == len(keys) - 1:
                # Named earlier inside the name of one of its own tables: this header is its place.
                self.found[steps] = span
            else:
                self.found.setdefault(steps, span)
            if steps in self.lengths:
                steps = (*steps, self.lengths[steps] - 1)
                self.found.setdefault(steps, span)
        return steps

    def pair(self, table: Steps) -> None:
        section = self.layout.sections[-1].steps
        keys = self.key()
        self.at += 1
        self.skip(_BLANK)
        steps, value_at = table, self.at
        ways = []
        for key, key_at in keys:
            steps = (*steps, key)
            ways.append((steps, key_at))
        self.value(steps)
        for way, key_at in ways:
            span = Span(key_at, value_at, self.at, section, self.depth > 0, way != steps)
            self.found.setdefault(way, span)

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
        elif first in "[{":
            self.depth += 1
            self.at += 1
            if first == "[":
                self.array(steps)
            else:
                self.inline(steps)
            self.depth -= 1
        else:
            found = _ATOM.match(self.text, self.at)
            if found is not None:
                self.at += len(found.group().rstrip())

    def array(self, steps: Steps) -> None:
        number = 0
        while True:
            self.skip(_BLANK_LINES)
            if self.text[self.at] == "]":
                self.at += 1
                return
            start = self.at
            self.value((*steps, number))
            section = self.layout.sections[-1].steps
            self.found[(*steps, number)] = Span(start, start, self.at, section, True)
            number += 1
            self.skip(_BLANK_LINES)
            if self.text[self.at] == ",":
                self.at += 1
            elif self.text[self.at] != "]":
                raise IndexError(self.at)

    def inline(self, steps: Steps) -> None:
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
