"""Writing a job file back: one field changed, every other byte as it was; and saving it whole or not at all."""

from __future__ import annotations

import contextlib
import math
import os
import re
import tempfile
import tomllib
from collections.abc import Iterable, Mapping
from copy import deepcopy
from itertools import pairwise
from pathlib import Path
from typing import Any

from steadfold.job.disk import settle
from steadfold.job.layout import Layout, Section, Span, Steps, layout
from steadfold.job.reader import read_job_text
from steadfold.job.ready import Shapes

Changes = Iterable[tuple[Steps, Any]]
"""Way and new value of each field, None to take it away. In a way, a table of an array may be called by its name."""


class CannotChange(ValueError):
    """A change that has no place in the text, such as a field of a part that is not there."""


def changed(text: str, changes: Changes, path: str | Path = "job.toml", shapes: Shapes | None = None) -> str:
    """The text of a job with fields set or taken away; comments and layout elsewhere stay byte for byte.

    `changes` are done in order, see `edited`. The result is read again before it is returned: raises `JobProblems`
    when it is no job, `CannotChange` when there is no place for a change. `path` is where the file lies, for the
    files that the job names.
    """
    new = edited(text, changes)
    read_job_text(new, path, shapes)
    return new


def edited(text: str, changes: Changes) -> str:
    """A TOML text with fields set or taken away, everything else byte for byte as it was.

    `(("part", "oar rack", "thickness"), "12 ga")` sets a field, an existing one in its place and a new one at the
    end of its table; a value of None takes a field, table or array element away; a step equal to the length of an
    array adds to it. A new table may be given as a mapping. Raises `CannotChange` when there is no place for it.
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    plain = text.removeprefix("\ufeff")
    values = tomllib.loads(plain)
    for way, value in changes:
        steps = _numbered(values, way)
        values = _applied(values, steps, value)
        plain = _spliced(plain, steps, value)
        try:
            now = tomllib.loads(plain)
        except tomllib.TOMLDecodeError:
            now = {}
        if _filled(now) != _filled(values):
            raise CannotChange(f"{_in_words(way)} cannot be changed in this file; change it by hand")
        values = now
    return mark + plain


def write_job(path: str | Path, text: str) -> None:
    """Save a job: written aside, flushed to the disk, then renamed, so that the file is the old or the new one.

    A link stays a link; the file's permissions stay. Raises `OSError` when it cannot be saved; then the old
    file is untouched and nothing is left behind.
    """
    target = Path(path).resolve()
    handle, aside = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        os.chmod(aside, target.stat().st_mode & 0o777 if target.exists() else _new_file_mode())
        os.replace(aside, target)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(aside)
        raise
    settle(target.parent)


def clear_leftovers(path: str | Path) -> None:
    """Take away what saves that were killed half way left beside a job.

    Only for whoever alone writes in that folder: another process's save under way would lose its file.
    """
    target = Path(path).resolve()
    left = re.compile(rf"\.{re.escape(target.name)}\.[a-z0-9_]{{8}}")
    for each in target.parent.iterdir():
        if left.fullmatch(each.name):
            with contextlib.suppress(OSError):
                each.unlink()


def _new_file_mode() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _in_words(steps: Steps) -> str:
    return ", ".join(str(step) for step in steps)


def _numbered(values: Mapping[str, Any], way: Steps) -> Steps:
    """The way with names of tables in arrays turned into their numbers."""
    steps: list[str | int] = []
    here: Any = values
    for place, step in enumerate(way):
        if isinstance(here, list):
            if isinstance(step, str):
                names = [each.get("name", each.get("item")) if isinstance(each, dict) else None for each in here]
                if step not in names:
                    raise CannotChange(f"{_in_words(way[: place + 1])}: there is none of that name")
                step = names.index(step)
            last = place == len(way) - 1
            if not 0 <= step < len(here) + (1 if last else 0):
                raise CannotChange(f"{_in_words(way[: place + 1])}: there are only {len(here)}")
            here = here[step] if step < len(here) else None
        elif isinstance(here, dict) or here is None:
            if isinstance(step, int) and (here is not None or step != 0):
                raise CannotChange(f"{_in_words(way[: place + 1])}: this is no list")
            here = here.get(step) if isinstance(here, dict) else None
        else:
            raise CannotChange(f"{_in_words(way[: place + 1])}: this is no table")
        steps.append(step)
    return tuple(steps)


def _applied(values: Mapping[str, Any], steps: Steps, value: Any) -> dict[str, Any]:
    """What the text must hold after the change."""
    new = deepcopy(dict(values))
    here: Any = new
    for step, following in pairwise(steps):
        if isinstance(here, dict) and step not in here:
            if value is None:
                return new
            here[step] = [] if isinstance(following, int) else {}
        elif isinstance(here, list) and step == len(here):
            here.append({})
        here = here[step]
    last = steps[-1]
    if value is None:
        if isinstance(here, dict):
            here.pop(last, None)
        elif isinstance(last, int) and last < len(here):
            del here[last]
    elif isinstance(here, list) and last == len(here):
        here.append(deepcopy(value))
    else:
        here[last] = deepcopy(value)
    return new


def _spliced(text: str, steps: Steps, value: Any) -> str:
    where = layout(text)
    span = where.found.get(steps)
    if value is None:
        return text if span is None else _without(text, where, steps, span)
    if span is None:
        return _with_new(text, where, steps, value)
    if not _is_header(span) and not span.partial:
        return text[: span.value_at] + toml(value) + text[span.end :]
    if isinstance(value, Mapping) and any(section.steps == steps for section in where.sections):
        return _table_set(text, steps, value)
    text = _without(text, where, steps, span)
    where = layout(text)
    return _with_new(text, where, steps, value)


def _table_set(text: str, steps: Steps, value: Mapping[str, Any]) -> str:
    old: Any = tomllib.loads(text)
    for step in steps:
        old = old[step]
    for key in old:
        if key not in value:
            text = _spliced(text, (*steps, key), None)
    for key, each in value.items():
        if key not in old or old[key] != each:
            text = _spliced(text, (*steps, key), each)
    return text


def _section(where: Layout, steps: Steps) -> Section | None:
    """The section whose header declares the nearest table around `steps` (or `steps` itself)."""
    for end in range(len(steps), -1, -1):
        for section in where.sections:
            if section.steps == steps[:end]:
                return section
    return None


def _filled(value: Any) -> Any:
    """The value without empty tables and lists: a table may go with the last key in it."""
    if isinstance(value, dict):
        inner = {key: _filled(each) for key, each in value.items()}
        return {key: each for key, each in inner.items() if each not in ({}, [])}
    return [_filled(each) for each in value] if isinstance(value, list) else value


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _line_end(text: str, at: int) -> int:
    """The offset just behind the line break that ends the line of `at`."""
    found = text.find("\n", at)
    return len(text) if found < 0 else found + 1


def _line_start(text: str, at: int) -> int:
    return text.rfind("\n", 0, at) + 1


def _with_new(text: str, where: Layout, steps: Steps, value: Any) -> str:
    """The text with a key, element or table that was not there."""
    parent = where.found.get(steps[:-1])
    if parent is not None and isinstance(steps[-1], int) and _is_header(parent):
        return _with_new_block(text, where, steps, value)
    if parent is not None and not _is_header(parent) and not parent.partial:
        return _with_new_inside(text, where, steps, value)
    if isinstance(value, (list, tuple)) and value and all(isinstance(each, Mapping) for each in value):
        for number, each in enumerate(value):
            text = _with_new_block(text, layout(text), (*steps, number), each)
        return text
    section = _section(where, steps)
    if section is None or any(isinstance(step, int) for step in steps[len(section.steps) :]):
        raise CannotChange(f"{_in_words(steps)}: there is no place for this")
    return _with_new_line(text, section, steps, value)


def _with_new_inside(text: str, where: Layout, steps: Steps, value: Any) -> str:
    """An element behind the last one of a list or table in brackets."""
    parent = where.found[steps[:-1]]
    first, step = text[parent.value_at], steps[-1]
    if first != ("[" if isinstance(step, int) else "{"):
        raise CannotChange(f"{_in_words(steps)}: there is no place for this")
    new = toml(value) if isinstance(step, int) else f"{toml_key(step)} = {toml(value)}"
    ends = [span.end for way, span in where.found.items() if way[:-1] == steps[:-1]]
    if ends:
        return text[: max(ends)] + ", " + new + text[max(ends) :]
    at, pad = parent.value_at + 1, " " if first == "{" else ""
    return text[:at] + pad + new + pad + text[at:].lstrip(" ")


def _with_new_line(text: str, section: Section, steps: Steps, value: Any) -> str:
    """A line at the end of the section, indented like the line before it."""
    newline = _newline(text)
    key = ".".join(toml_key(str(step)) for step in steps[len(section.steps) :])
    at = _line_end(text, section.end) if section.end else 0
    indent = re.match(r"[ \t]*", text[_line_start(text, section.end) :])
    line = (indent.group() if indent and section.end else "") + f"{key} = {toml(value)}{newline}"
    if at and not text[:at].endswith("\n"):
        line = newline + line.removesuffix(newline)
    return text[:at] + line + text[at:]


def _with_new_block(text: str, where: Layout, steps: Steps, value: Any) -> str:
    """A table under a header of its own, behind the last of its kind or at the end of the table around it."""
    if not isinstance(value, Mapping):
        raise CannotChange(f"{_in_words(steps)}: a table is due here")
    newline = _newline(text)
    siblings = [s for s in where.sections if s.steps[: len(steps) - 1] == steps[:-1] and len(s.steps) >= len(steps)]
    around = siblings or [s for s in where.sections if s.steps[: len(steps) - 2] == steps[:-2]]
    last = around[-1] if around else where.sections[0]
    at = _line_end(text, last.end) if last.end else 0
    names = [toml_key(step) for step in steps if isinstance(step, str)]
    indent = re.match(r"[ \t]*", text[_line_start(text, siblings[0].start) :]) if siblings else None
    space = indent.group() if indent else ""
    lines = [f"{space}[[{'.'.join(names)}]]", *(f"{space}{toml_key(key)} = {toml(v)}" for key, v in value.items())]
    block = newline.join(lines) + newline
    if at and not text[:at].endswith("\n"):
        block = newline + block
    if not space:
        block = newline + block
    return text[:at] + block + text[at:]


def _without(text: str, where: Layout, steps: Steps, span: Span) -> str:
    """The text without a key and its value, an element, or a table with all that belongs to it."""
    if span.inline:
        return _without_inside(text, span)
    blocks = [section for section in where.sections[1:] if section.steps[: len(steps)] == steps]
    lines = [
        inner
        for way, inner in where.found.items()
        if way[: len(steps)] == steps
        and inner.section[: len(steps)] != steps
        and not inner.inline
        and not _is_header(inner)
    ]
    cuts = {_line_start(text, block.start): _line_end(text, block.end) for block in blocks}
    cuts |= {_line_start(text, inner.key_at): _line_end(text, inner.end) for inner in lines}
    for start in sorted(cuts, reverse=True):
        text = text[:start] + text[cuts[start] :]
    return text


def _is_header(span: Span) -> bool:
    """True when the span is that of a [table] header."""
    return span.value_at < span.key_at


def _without_inside(text: str, span: Span) -> str:
    """Take an element of a list or inline table away, with the comma before or behind it."""
    behind = re.compile(r"\s*,[ \t]*").match(text, span.end)
    if behind is not None:
        return text[: span.key_at] + text[behind.end() :]
    before = text[: span.key_at].rstrip()
    if before.endswith(","):
        return before[:-1] + text[span.end :]
    return text[: span.key_at] + text[span.end :]


def toml_key(key: str) -> str:
    """A key as TOML writes it, in quotes where it must be.

    >>> toml_key("inside_radius"), toml_key("a b")
    ('inside_radius', '"a b"')
    """
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else toml(key)


def toml(value: Any) -> str:
    """A value as TOML writes it on one line; tables become inline tables.

    Raises `CannotChange` for what TOML has no word for.

    >>> toml({"count": 3, "step": ["180 mm", "0 mm"]})
    '{ count = 3, step = ["180 mm", "0 mm"] }'
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(_ESCAPED.get(c, c) if c >= " " and c != "\x7f" else _escaped(c) for c in value) + '"'
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            return "nan" if math.isnan(value) else ("inf" if value > 0 else "-inf")
        return repr(value)
    if isinstance(value, Mapping):
        inside = ", ".join(f"{toml_key(key)} = {toml(each)}" for key, each in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(toml(each) for each in value)}]"
    raise CannotChange(f"{type(value).__name__} cannot be written to a job file")


_ESCAPED = {'"': '\\"', "\\": "\\\\"}


def _escaped(character: str) -> str:
    return {"\n": "\\n", "\t": "\\t", "\r": "\\r"}.get(character, f"\\u{ord(character):04x}")
