"""A finding's remedy as edits of the job file, where it can be put there by one press."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any

from steadfold.findings.finding import Change
from steadfold.job.models import Job, JobPart
from steadfold.job.problem import JobProblems
from steadfold.job.writer import CannotChange, changed
from steadfold.page.form import form
from steadfold.quantities import QuantityError, read_length

PLAIN = re.compile(r"[a-z_]+")
PANEL_SIZE = re.compile(r"panel\.(?P<panel>.+)\.size\[(?P<which>[01])\]")
OPENING = re.compile(r"panel\.(?P<panel>.+)\.cutout\[(?P<x>-?[\d.]+),(?P<y>-?[\d.]+)\]\.(?P<key>at|diameter|width)")
EVERY_PANEL = re.compile(r"panel\.\*\.(?P<key>[a-z_]+)")

Edits = list[dict[str, Any]]


def remedy(job: Job, part: JobPart, change: Change) -> dict[str, Any] | None:
    """The edits of a change and what they do in words; None where the job has no such field or would be no job."""
    found = _edits(job, part, change)
    if not found:
        return None
    edits, say = found
    try:
        changed(job.text.text, [(tuple(each["way"]), each["value"]) for each in edits], job.file or "job.toml")
    except (CannotChange, JobProblems):
        return None
    return {"edits": edits, "say": say}


def _edits(job: Job, part: JobPart, change: Change) -> tuple[Edits, str] | None:
    way = ["part", part.path[1]]
    if PLAIN.fullmatch(change.field):
        return [{"way": [*way, change.field], "value": change.text}], f"{change.field.replace('_', ' ')} {change.text}"
    size = PANEL_SIZE.fullmatch(change.field)
    if size is not None:
        return _size(job, part, size["panel"], int(size["which"]), change.text)
    opening = OPENING.fullmatch(change.field)
    if opening is not None:
        at = (float(opening["x"]), float(opening["y"]))
        return _opening(job, part, opening["panel"], at, opening["key"], change.text)
    every = EVERY_PANEL.fullmatch(change.field)
    if every is not None and part.shape == "panels":
        tables = job.text.values["part"][part.path[1]].get("panel", [])
        key, least = every["key"], read_length(change.text)
        smaller = [n for n, table in enumerate(tables) if not _at_least(table.get(key), least)]
        edits = [{"way": [*way, "panel", n, key], "value": change.text} for n in smaller]
        return edits, f"{every['key'].replace('_', ' ')} {change.text} on every panel"
    return None


def _size(job: Job, part: JobPart, panel: str, which: int, text: str) -> tuple[Edits, str] | None:
    """The size of a panel: its own, or the dimension of a ready-made shape that means it."""
    for each in form(job, part)["shape"]:
        if part.shape == "panels":
            meant = each["key"] == f"size {which}" and each["places"][0]["panel"] == panel
        else:
            meant = any(_is_size(place, panel, which) for place in each["places"])
        if meant:
            return [{"way": each["way"], "value": text}], f"{each['label']} {text}"
    return None


def _is_size(place: dict[str, Any], panel: str, which: int) -> bool:
    """A line in the direction asked for that begins at the panel's own edge."""
    if place.get("panel") != panel or "from" not in place:
        return False
    (x0, y0), (x1, y1) = place["from"], place["to"]
    across = abs(y1 - y0) < 1e-9 if which == 0 else abs(x1 - x0) < 1e-9
    starts = y0 if which else x0
    return across and abs(starts) < 1e-9


SAME_MM = 2e-3


def _opening(
    job: Job, part: JobPart, panel: str, at: tuple[float, float], key: str, text: str
) -> tuple[Edits, str] | None:
    """An opening moved or made wider: by its own table, or by the dimension of a ready-made shape that means it."""
    own = job.text.values["part"][part.path[1]]
    if part.shape == "panels":
        for number, table in enumerate(own.get("panel", [])):
            for index, cutout in enumerate(table.get("cutout", [])):
                if str(table.get("name")).strip() == panel and "repeat" not in cutout and _lies(cutout, at):
                    value = json.loads(text) if key == "at" else text
                    way = ["part", part.path[1], "panel", number, "cutout", index, key]
                    return [{"way": way, "value": value}], f"{panel}, opening {index + 1}, {key} {_words(value)}"
        return None
    fields = [
        (each, place) for each in form(job, part)["shape"] for place in each["places"] if place.get("panel") == panel
    ]
    if key != "at":
        for each, place in fields:
            middle = [0.5 * (a + b) for a, b in zip(place.get("from", ()), place.get("to", ()), strict=True)]
            if middle and _near(middle, at) and place["from"] != place["to"]:
                return [{"way": each["way"], "value": text}], f"{each['label']} {text}"
        return None
    new = [read_length(each) for each in json.loads(text)]
    moved = [axis for axis in (0, 1) if abs(new[axis] - at[axis]) > 0.02]
    if len(moved) != 1:
        return None
    axis = moved[0]
    for each, place in fields:
        for ends, other, sign in (("to", "from", 1.0), ("from", "to", -1.0)):
            if ends in place and _near(place[ends], at) and abs(place[other][1 - axis] - at[1 - axis]) < SAME_MM:
                value = f"{round(sign * (new[axis] - place[other][axis]), 2):g} mm"
                return [{"way": each["way"], "value": value}], f"{each['label']} {value}"
    return None


def _at_least(value: Any, least_mm: float) -> bool:
    try:
        return value is not None and read_length(value) >= least_mm
    except QuantityError:
        return False


def _near(one: Sequence[float], other: Sequence[float]) -> bool:
    return all(abs(a - b) < SAME_MM for a, b in zip(one, other, strict=True))


def _words(value: Any) -> str:
    return ", ".join(value) if isinstance(value, list) else str(value)


def _lies(cutout: Mapping[str, Any], at: tuple[float, float]) -> bool:
    """Whether a cutout's table is the one whose middle lies there."""
    try:
        return _near([read_length(each) for each in cutout["at"]], at)
    except (KeyError, TypeError, QuantityError):
        return False
