"""A finding's change, put into the job: the field it means found in the file, set, and read again."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from steadfold.catalogue import material
from steadfold.findings import Finding
from steadfold.findings.finding import Change
from steadfold.job.models import Job, JobPart
from steadfold.job.part_table import first_radius_mm
from steadfold.job.problem import JobProblems
from steadfold.job.ready import tree_at
from steadfold.job.writer import CannotChange, changed
from steadfold.quantities import QuantityError, read_length
from steadfold.review.mend import Edit
from steadfold.sheet.outline import Outline, Point
from steadfold.sheet.shapes import SHAPES, ShapeError
from steadfold.sheet.tree import PanelTree, TreeError

NEAR_MM = 0.02
_PLAIN = re.compile(r"[a-z_]+")
_SIZE = re.compile(r"panel\.(.+)\.size\[([01])\]")
_OPENING = re.compile(r"panel\.(.+)\.cutout\[(-?[\d.]+),(-?[\d.]+)\]\.(at|diameter|width)")
_EVERY_PANEL = re.compile(r"panel\.\*\.([a-z_]+)")
_SIDES = {False: ("width", "height"), True: ("along its bend", "away from its bend")}


@dataclass(frozen=True)
class Remedy:
    """A finding's change as edits of the job file, what they do in words, and the job's text with them done."""

    edits: tuple[Edit, ...]
    say: str
    text: str


def remedy(job: Job, ordered: JobPart, change: Change) -> Remedy | None:
    """How a finding's change is put into the job; None where the file has no such field or would be no job any more.

    Panels and openings of a ready-made shape are not in the file: the dimension is found that makes them so, by
    building the shape with it.
    """
    found = _edits(job, ordered, change)
    if found is None or not found[0]:
        return None
    edits, say = found
    try:
        text = changed(job.text.text, edits, job.file if job.file is not None else "job.toml")
    except (CannotChange, JobProblems):
        return None
    return Remedy(edits, say, text)


def accepted(job: Job, ordered: JobPart, finding: Finding) -> str | None:
    """The job's text with a finding's change in it, comments kept; None where `remedy` finds no way."""
    found = remedy(job, ordered, finding.change) if finding.change is not None else None
    return None if found is None else found.text


Found = tuple[tuple[Edit, ...], str]


def _edits(job: Job, ordered: JobPart, change: Change) -> Found | None:
    if _PLAIN.fullmatch(change.field):
        return (((*ordered.path, change.field), change.text),), f"{_spoken(change.field)} {change.text}"
    every = _EVERY_PANEL.fullmatch(change.field)
    if every is not None:
        return _every_panel(job, ordered, every[1], change.text)
    size = _SIZE.fullmatch(change.field)
    opening = _OPENING.fullmatch(change.field)
    if size is None and opening is None:
        return None
    if ordered.shape == "panels":
        return _drawn(job, ordered, size, opening, change.text)
    return _ready(ordered, size, opening, change.text)


def _every_panel(job: Job, ordered: JobPart, key: str, text: str) -> Found | None:
    """A measure that every panel should have at least; those that have it already stay as they are."""
    if ordered.shape != "panels":
        return None
    least = read_length(text)
    tables = _table(job, ordered.path).get("panel", [])
    smaller = [number for number, table in enumerate(tables) if not _at_least(table.get(key), least)]
    edits = tuple(((*ordered.path, "panel", number, key), text) for number in smaller)
    return edits, f"{_spoken(key)} {text} on every panel"


def _drawn(
    job: Job, ordered: JobPart, size: re.Match[str] | None, opening: re.Match[str] | None, text: str
) -> Found | None:
    """Edits of a tree of panels: its panels and cutouts are tables of the file."""
    assert ordered.tree is not None
    names = [panel.name for panel in ordered.tree.panels]
    match = size or opening
    assert match is not None
    if match[1] not in names:
        return None
    number = names.index(match[1])
    panel = (*ordered.path, "panel", number)
    if size is not None:
        side = int(size[2])
        label = _SIDES[ordered.tree.panels[number].parent is not None][side]
        return (((*panel, "size", side), text),), f"{match[1]}, {label} {text}"
    assert opening is not None
    wanted = (float(opening[2]), float(opening[3]))
    for place, cutout in enumerate(_table(job, panel).get("cutout", [])):
        if "repeat" not in cutout and "at" in cutout and _near(tuple(map(read_length, cutout["at"])), wanted):
            value = json.loads(text) if opening[4] == "at" else text
            said = ", ".join(value) if isinstance(value, list) else value
            return (
                ((*panel, "cutout", place, opening[4]), value),
            ), f"{match[1]}, opening {place + 1}, {opening[4]} {said}"
    return None


def _ready(ordered: JobPart, size: re.Match[str] | None, opening: re.Match[str] | None, text: str) -> Found | None:
    """The one length of a ready-made shape that, changed, makes the panel or opening as wanted."""
    if ordered.shape not in SHAPES:
        return None
    radius = ordered.inside_radius_mm
    if radius is None:
        radius = first_radius_mm(material(ordered.material), ordered.thickness_mm or 0.0)
    try:
        before = tree_at(ordered, radius)
        wanted = [read_length(t) for t in json.loads(text)] if text.startswith("[") else [read_length(text)]
    except (QuantityError, ShapeError, ValueError):
        return None
    if before is None:
        return None
    for key, to_mm in _tries(ordered, size, opening, wanted):
        try:
            after = tree_at(_with(ordered, key, to_mm), radius)
        except (ShapeError, TreeError):
            continue
        if after is not None and _is_so(after, size, opening, wanted):
            value = f"{round(to_mm, 3):g} mm"
            return (((*ordered.path, key), value),), f"{_spoken(key)} {value}"
    return None


def _tries(
    ordered: JobPart, size: re.Match[str] | None, opening: re.Match[str] | None, wanted: list[float]
) -> Iterator[tuple[str, float]]:
    """Every length of the shape with the values that could be meant."""
    for dimension in SHAPES[ordered.shape].dimensions:
        if dimension.kind != "length":
            continue
        now = ordered.shape_values[dimension.key]
        if size is not None or (opening is not None and opening[4] != "at"):
            yield dimension.key, wanted[0]
            continue
        assert opening is not None
        for to, was in zip(wanted, (float(opening[2]), float(opening[3])), strict=True):
            if abs(to - was) > NEAR_MM:
                for step in (to - was, was - to):
                    if float(now) + step > 0:
                        yield dimension.key, float(now) + step


def _with(ordered: JobPart, key: str, to_mm: float) -> JobPart:
    return replace(ordered, shape_values={**ordered.shape_values, key: to_mm})


def _is_so(tree: PanelTree, size: re.Match[str] | None, opening: re.Match[str] | None, wanted: list[float]) -> bool:
    match = size or opening
    assert match is not None
    panel = next((p for p in tree.panels if p.name == match[1]), None)
    if panel is None:
        return False
    if size is not None:
        x0, _, x1, y1 = panel.outline.bounds
        return abs((x1 - x0, y1)[int(size[2])] - wanted[0]) < NEAR_MM
    assert opening is not None
    if opening[4] == "at":
        return any(_near(_middle(c.outline), (wanted[0], wanted[1])) for c in panel.cutouts)
    here = (float(opening[2]), float(opening[3]))
    return any(
        _near(_middle(c.outline), here) and abs(c.outline.bounds[2] - c.outline.bounds[0] - wanted[0]) < NEAR_MM
        for c in panel.cutouts
    )


def _table(job: Job, way: tuple[str | int, ...]) -> Any:
    table: Any = job.text.values
    for step in way:
        table = table[step]
    return table


def _at_least(value: Any, least_mm: float) -> bool:
    try:
        return value is not None and read_length(value) >= least_mm
    except QuantityError:
        return False


def _spoken(key: str) -> str:
    return key.replace("_", " ")


def _middle(outline: Outline) -> Point:
    x0, y0, x1, y1 = outline.bounds
    return (0.5 * (x0 + x1), 0.5 * (y0 + y1))


def _near(one: tuple[float, ...], two: Point) -> bool:
    return len(one) == 2 and abs(one[0] - two[0]) < NEAR_MM and abs(one[1] - two[1]) < NEAR_MM
