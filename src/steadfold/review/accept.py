"""A finding's change, put into the job: the field it means found in the file, set, and read again."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from steadfold.findings import Finding
from steadfold.job.models import Job, JobPart
from steadfold.job.ready import tree_at
from steadfold.job.writer import changed
from steadfold.quantities import QuantityError, read_length
from steadfold.review.mend import Edit
from steadfold.sheet.outline import Outline, Point
from steadfold.sheet.shapes import SHAPES, ShapeError
from steadfold.sheet.tree import PanelTree, TreeError

NEAR_MM = 0.02
PLAIN = ("thickness", "inside_radius", "finish", "material")
_SIZE = re.compile(r"panel\.(.+)\.size\[1\]")
_OPENING = re.compile(r"panel\.(.+)\.cutout\[(-?[\d.]+),(-?[\d.]+)\]\.(at|diameter|width)")


def edits_of(job: Job, ordered: JobPart, finding: Finding) -> tuple[Edit, ...]:
    """The edits that put a finding's change into the job; empty where the job has no field for it.

    Panels and openings of a ready-made shape are not in the file: the dimension is found that makes them so, by
    building the shape with it.
    """
    change = finding.change
    if change is None:
        return ()
    way = ordered.path
    if change.field in PLAIN:
        return (((*way, change.field), change.text),)
    size = _SIZE.fullmatch(change.field)
    opening = _OPENING.fullmatch(change.field)
    if size is None and opening is None:
        return ()
    if ordered.shape == "panels":
        return _drawn(job, ordered, size, opening, change.text)
    return _ready(ordered, size, opening, change.text)


def accepted(job: Job, ordered: JobPart, finding: Finding) -> str | None:
    """The job's text with a finding's change in it, comments kept; None where it has no field in the file.

    Raises `JobProblems` when the changed text is no job any more.
    """
    edits = edits_of(job, ordered, finding)
    if not edits:
        return None
    return changed(job.text.text, edits, job.file if job.file is not None else "job.toml")


def _drawn(
    job: Job, ordered: JobPart, size: re.Match[str] | None, opening: re.Match[str] | None, text: str
) -> tuple[Edit, ...]:
    """Edits of a tree of panels: its panels and cutouts are tables of the file."""
    assert ordered.tree is not None
    names = [panel.name for panel in ordered.tree.panels]
    match = size or opening
    assert match is not None
    if match[1] not in names:
        return ()
    panel = (*ordered.path, "panel", names.index(match[1]))
    if size is not None:
        return (((*panel, "size", 1), text),)
    assert opening is not None
    table: Any = job.text.values
    for step in panel:
        table = table[step]
    wanted = (float(opening[2]), float(opening[3]))
    for number, cutout in enumerate(table.get("cutout", [])):
        if "repeat" not in cutout and "at" in cutout and _near(tuple(map(read_length, cutout["at"])), wanted):
            value = json.loads(text) if opening[4] == "at" else text
            return (((*panel, "cutout", number, opening[4]), value),)
    return ()


def _ready(
    ordered: JobPart, size: re.Match[str] | None, opening: re.Match[str] | None, text: str
) -> tuple[Edit, ...]:
    """The one length of a ready-made shape that, changed, makes the panel or opening as wanted."""
    shape = SHAPES.get(ordered.shape)
    radius = ordered.inside_radius_mm if ordered.inside_radius_mm is not None else (ordered.thickness_mm or 0.0)
    if shape is None:
        return ()
    try:
        before = tree_at(ordered, radius)
        wanted = [read_length(t) for t in json.loads(text)] if text.startswith("[") else [read_length(text)]
    except (QuantityError, ShapeError, ValueError):
        return ()
    if before is None:
        return ()
    for key, to_mm in _tries(ordered, size, opening, wanted):
        changed_part = _with(ordered, key, to_mm)
        try:
            after = tree_at(changed_part, radius)
        except (ShapeError, TreeError):
            continue
        if after is not None and _is_so(after, size, opening, wanted):
            return (((*ordered.path, key), f"{round(to_mm, 3):g} mm"),)
    return ()


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
            if abs(to - was) > 1e-6:
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
        return abs(panel.outline.bounds[3] - wanted[0]) < NEAR_MM
    assert opening is not None
    if opening[4] == "at":
        return any(_near(_middle(c.outline), (wanted[0], wanted[1])) for c in panel.cutouts)
    here = (float(opening[2]), float(opening[3]))
    return any(
        _near(_middle(c.outline), here) and abs(c.outline.bounds[2] - c.outline.bounds[0] - wanted[0]) < NEAR_MM
        for c in panel.cutouts
    )


def _middle(outline: Outline) -> Point:
    x0, y0, x1, y1 = outline.bounds
    return (0.5 * (x0 + x1), 0.5 * (y0 + y1))


def _near(one: tuple[float, ...], two: Point) -> bool:
    return len(one) == 2 and abs(one[0] - two[0]) < NEAR_MM and abs(one[1] - two[1]) < NEAR_MM
