"""The assembly sheet: how to put one part up where the job says, in steps with pictures."""

from __future__ import annotations

from typing import Any

from steadfold.deliver.drawing.lines import NARROW
from steadfold.deliver.drawing.marks import Mark, Stroke, Words, moved, picture
from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.fixing import IN_WOOD, RAILS, Fixed, backing_words, drill_words, fixing_words, hardware
from steadfold.deliver.sheets.head import Head, Style
from steadfold.deliver.sheets.pictures import fixing_points, isometric_picture, loads_of, section_picture
from steadfold.deliver.sheets.templates import mounting_marks, stud_words
from steadfold.deliver.sheets.typeset import pdf
from steadfold.quantities import in_units, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview

PICTURE_MM = (74.0, 33.0)
BY_HAND_KG = 23.0
"""Heavier than this a part is put up by two (manual handling guidance, recalled)."""


def assembly(head: Head, part: PartReview, fixed: Fixed | None, style: Style) -> bytes:
    """The assembly sheet as PDF."""
    units = style.units
    data: dict[str, Any] = {
        "head": head.plain(style, "Putting it up"),
        "steps": [] if fixed is None else _steps(part, fixed, units),
        "box": box_rows(part, fixed, units),
        "tools": tools_of(fixed),
    }
    return pdf("assembly", data)


def box_rows(part: PartReview, fixed: Fixed | None, units: Units) -> list[list[str]]:
    """What lies in front of the person for one part: the part and its fixings."""
    rows = [["1", part.name]]
    if fixed is not None:
        rows += [[str(each.count), in_units(each.item, units)] for each in hardware(part, fixed)]
    return rows


def tools_of(fixed: Fixed | None) -> list[str]:
    """What to have at hand."""
    if fixed is None:
        return []
    found = ["spirit level", "pencil and tape", "the mounting template, its bar measured"]
    if fixed.mount.to in RAILS:
        return [*found, "key for the screws, torque wrench"]
    found.append("detector for pipes and cables")
    if fixed.mount.to in ("wood stud", "steel stud"):
        found.append("stud finder")
    return [*found, "drill and bits", "driver or socket for the screws"]


def _steps(part: PartReview, fixed: Fixed, units: Units) -> list[dict[str, Any]]:
    assert part.part is not None
    mount = fixed.mount
    steps: list[dict[str, Any]] = []

    def add(title: str, words: str, drawn: dict[str, Any], caution: str = "") -> None:
        steps.append({"title": title, "words": words, "picture": drawn, "caution": caution})

    mass = part.mass_kg or 0.0
    two = f" It is heavier than {show_mass(BY_HAND_KG, units)}: two people." if mass > BY_HAND_KG else ""
    add(
        "Look it over",
        f"One {part.name}, {show_mass(mass, units)}.{two} Edges smooth, holes clear, nothing bent in the post.",
        isometric_picture(part.part, *PICTURE_MM),
    )
    add(
        "Find what holds",
        _find_words(fixed, units),
        section_picture(part, mount, units, *PICTURE_MM),
        _find_caution(fixed),
    )
    marks, width, height = mounting_marks(part, fixed, units)
    rows = "; ".join(
        f"{i + 1}: {show(h.at_mm[0], units)}, {show(h.at_mm[1], units)}" for i, h in enumerate(fixed.holes[:8])
    )
    add(
        "Mark the holes",
        f"Tape the mounting template level and mark {len(fixed.holes)} centres (x, y on the panel in {units}, {rows}).",
        small_drawing(marks, width, height),
    )
    if mount.to not in RAILS:
        add("Drill", drill_words(mount, units), section_picture(part, mount, units, *PICTURE_MM), _drill_caution())
    add(
        "Fix it",
        f"{fixing_words(mount, units)[:1].upper()}{fixing_words(mount, units)[1:]} with washer in every numbered hole. "
        "All in loosely, level it, then tighten in turn until the part touches the wall all round; stop when it does.",
        isometric_picture(part.part, *PICTURE_MM, numbers=fixing_points(part, fixed)),
    )
    add(
        "Try it",
        _try_words(part, units),
        isometric_picture(part.part, *PICTURE_MM, loads=loads_of(part, units)),
        "Stand beside it, not under it, while the load goes on.",
    )
    return steps


def _find_words(fixed: Fixed, units: Units) -> str:
    where = f"It goes into {backing_words(fixed.mount, units)}."
    studs = stud_words(fixed, units)
    if fixed.mount.to == "wood stud":
        return f"{where} Find both edges of each stud and mark its middle. {studs}"
    if fixed.mount.to in RAILS:
        return f"{where} Slide one nut for each hole into the rail before its end is closed."
    if fixed.mount.to in IN_WOOD:
        return f"{where} Tap it: it must be solid behind every hole."
    return f"{where} {studs}".strip()


def _find_caution(fixed: Fixed) -> str:
    if fixed.mount.to in ("unknown", "masonry", "steel stud") and fixed.mount.capacity is None:
        return "What this wall holds is not known. Pull one fixing to proof first, or ask somebody who knows the wall."
    return ""


def _drill_caution() -> str:
    return "Pipes and cables run behind walls: pass a detector over every mark before drilling. Eye protection on."


def _try_words(part: PartReview, units: Units) -> str:
    strength = part.strength
    if strength is None:
        return "Its rating is not computed. Load it little by little and measure how far it goes down."
    first, last = "Load it little by little up to what it is meant to carry.", "The proof-load sheet goes on from here."
    return f"{first} {strength.tonight} {last}"


def small_drawing(marks: list[Mark], width: float, height: float) -> dict[str, Any]:
    """The mounting template made small for a step: thin lines, the numbers of the holes, the lines to line up with."""
    scale = min((PICTURE_MM[0] - 8.0) / width, (PICTURE_MM[1] - 5.0) / height)
    shrunk: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Stroke):
            path = tuple(
                step if step[0] == "Z" else (*_scaled_head(step, scale), *(float(v) * scale for v in step[-2:]))
                for step in mark.path
            )
            shrunk.append(Stroke(path, mark.line if mark.line.dashes_mm else NARROW))
        elif isinstance(mark, Words):
            words = _small_words(mark, scale)
            if words is not None:
                shrunk.append(words)
    dx = 0.5 * (PICTURE_MM[0] - scale * width)
    dy = 0.5 * (PICTURE_MM[1] - 3.0 - scale * height)
    return picture(moved(shrunk, dx, dy), *PICTURE_MM)


def _small_words(mark: Words, scale: float) -> Words | None:
    """The words of the template that a small picture keeps, beside what they name."""
    x, y = mark.at[0] * scale, mark.at[1] * scale
    if mark.text == "stud line":
        return Words((x + 1.2 * scale, y + 12.0 * scale + 0.8), mark.text, 1.8)
    if mark.text == "slot line":
        return Words((x - 14.0 * scale, y + 1.0), mark.text, 1.8, "start", paper=True)
    if ":" in mark.text:
        return Words((x, y), mark.text.split(":")[0], 2.4, mark.anchor, bold=True, paper=True)
    if mark.text in ("TOP", "level"):
        return None
    return Words((x, y - scale - 3.0), mark.text, 1.8, paper=True)


def _scaled_head(step: tuple[float | str, ...], scale: float) -> tuple[float | str, ...]:
    if step[0] == "A":
        return ("A", float(step[1]) * scale, step[2], step[3])
    return (step[0],)
