"""One part of a job answered, in a child process: plain data for the page and the bytes of its picture.

Three levels: `shape` is the part without strength, `quick` a coarse strength, `full` what the command line says.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from steadfold.catalogue import material
from steadfold.deliver.bend_note import bend_note
from steadfold.deliver.flat_picture import svg_path
from steadfold.findings import Verdict
from steadfold.job import Job, read_job_text
from steadfold.page.inches import in_inches
from steadfold.page.scene import scene
from steadfold.review import PartReview, Review, plain, review
from steadfold.review.accept import remedy
from steadfold.review.retold import retold
from steadfold.review.shaping import shaped
from steadfold.review.shop import shop_of
from steadfold.sheet.extent import folded_size_mm
from steadfold.sheet.flat import FlatError, flat_pattern
from steadfold.sheet.outline import Outline, Point
from steadfold.sheet.pose import flat_places
from steadfold.sheet.reading_codes import READING_CODES

Level = Literal["shape", "quick", "full"]
LEVELS: tuple[Level, ...] = ("shape", "quick", "full")
Tell = Callable[[float, str], None]

SHAPING_CODES = frozenset(
    {
        "gauge-unclear",
        "panels-collide",
        "flat-overlaps",
        "relief-made",
        "corner-opened",
        "cutout-across-bend",
        "inside-radius-assumed",
    }
)
"""Codes of the general register that are about cutting and folding: found while the shape is made, before any shop."""


def answer(tell: Tell, text: str, path: str, number: int, level: Level) -> tuple[dict[str, Any], bytes]:
    """What is known of the part of that number (from 0), and its picture; raises `JobProblems` and `IndexError`."""
    job = read_job_text(text, Path(path))
    alone = replace(job, parts=(job.parts[number],), stands=())
    if level == "shape":
        whole = Review(alone, (shape_only(alone),))
    else:
        whole = review(alone, tell, fine=level == "full")
    return told(whole, level), scene(whole.parts[0])


def shape_only(alone: Job) -> PartReview:
    """The part as shaped; its verdict is not known yet."""
    ordered = alone.parts[0]
    metal = material(ordered.material)
    shape = shaped(alone, ordered, metal, shop_of(alone))
    flat = None
    if shape.part is not None:
        try:
            flat = flat_pattern(shape.part)
        except FlatError:
            flat = None
    size = folded_size_mm(shape.part) if shape.part is not None else None
    return PartReview(
        ordered,
        metal,
        shape.thickness_mm,
        shape.part,
        flat,
        size,
        Verdict.UNPROVEN,
        "",
        shape.findings,
        shape.assumptions,
    )


def told(whole: Review, level: Level) -> dict[str, Any]:
    """The answer of a review of one part: the library's plain data, and what only the page shows."""
    part = whole.parts[0]
    every = plain(whole)
    own = every["parts"][0]
    inch = in_inches(every, plain(retold(whole, "in"))) | _notes_in_inches(part)
    making = set() if part.making is None else {id(finding) for finding in part.making.findings}
    for shown, finding in zip(own["findings"], part.findings, strict=True):
        found = None if finding.change is None else remedy(whole.job, part.ordered, finding.change)
        edits = [] if found is None else [{"way": list(way), "value": value} for way, value in found.edits]
        # One code, of a thin web, is both the cutter's and the load's: who found it says which.
        shown["making"] = id(finding) in making or finding.code in SHAPING_CODES or finding.code in READING_CODES
        shown["change"] = None if found is None else {"edits": edits, "say": found.say}
    return {
        "level": level,
        "known": level != "shape",
        "part": own,
        "flat": _flat(part),
        "assumptions": every["assumptions"],
        "inch": inch | in_inches({"changes": [each["change"] for each in own["findings"]]}),
    }


def _notes_in_inches(part: PartReview) -> dict[str, str]:
    """How the notes beside bend lines read in inches."""
    bends = part.part.bends if part.part is not None else ()
    return {bend_note(bend): bend_note(bend, "in") for bend in bends}


def _flat(part: PartReview) -> dict[str, Any] | None:
    """The flat to draw: contours as paths (y down), bend lines, and every opening with where it lies."""
    flat, built = part.flat, part.part
    if flat is None or built is None:
        return None
    owners = _owners(part)
    names = [panel.name for panel in built.panels]
    return {
        "bounds": list(flat.bounds),
        "outer": svg_path(flat.outer),
        "corners": [list(p) for p in flat.outer.points],
        "openings": [_opening(o, owners) for o in flat.openings],
        "bends": [
            {
                "bend": line.bend,
                "from": list(line.start),
                "to": list(line.end),
                "tangents": [[list(a), list(b)] for a, b in line.tangents],
                "note": bend_note(built.bends[line.bend]),
                "between": [names[built.bends[line.bend].parent], names[built.bends[line.bend].child]],
            }
            for line in flat.bend_lines
        ],
    }


def _opening(outline: Outline, owners: list[tuple[Point, str, Point]]) -> dict[str, Any]:
    middle = _middle(outline)
    circle = outline.circle
    x0, y0, x1, y1 = outline.bounds
    return {
        "path": svg_path(outline),
        "middle": list(middle),
        "corners": [list(p) for p in outline.points],
        "diameter": None if circle is None else 2 * circle[1],
        "size": [x1 - x0, y1 - y0],
        **_owner(owners, middle),
    }


def _middle(outline: Outline) -> Point:
    x0, y0, x1, y1 = outline.bounds
    return 0.5 * (x0 + x1), 0.5 * (y0 + y1)


def _owners(part: PartReview) -> list[tuple[Point, str, Point]]:
    """Middle in the flat, panel, and middle in the panel's frame of every opening within one panel."""
    built = part.part
    assert built is not None
    places, _ = flat_places(built)
    found = []
    for panel, place in zip(built.panels, places, strict=True):
        for face in panel.faces:
            for hole in face.holes:
                middle = _middle(hole)
                found.append((_middle(hole.moved(place)), panel.name, middle))
    return found


def _owner(owners: list[tuple[Point, str, Point]], middle: Point) -> dict[str, Any]:
    for at, panel, local in owners:
        if abs(at[0] - middle[0]) < 1e-3 and abs(at[1] - middle[1]) < 1e-3:
            return {"panel": panel, "at": list(local)}
    return {"panel": None, "at": None}
