"""Templates at full size: the flat to mark out by hand, and the wall with the centres of the holes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from steadfold.deliver.bend_note import bend_note
from steadfold.deliver.drawing.dimension import readable
from steadfold.deliver.drawing.lines import BEND, CENTRE, NARROW, NEIGHBOUR, VISIBLE
from steadfold.deliver.drawing.marks import Anchor, Mark, Place, Words, circle_stroke, line, outline_stroke, picture
from steadfold.deliver.drawing.openings import show
from steadfold.deliver.drawing.tiles import INSET_MM, MOST_SHEETS, Tiling, tile_pages, tiled
from steadfold.deliver.sheets.fixing import RAILS, Fixed, drill_words, fixing_words
from steadfold.deliver.sheets.head import PAPER_MM, Head, Style
from steadfold.deliver.sheets.typeset import pdf
from steadfold.joints.studs import studs_found
from steadfold.quantities.showing import Units
from steadfold.review import PartReview
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.outline import Isometry, Outline, Point
from steadfold.sheet.part import Part

USUAL_STUDS_MM = (400.0, 406.4, 600.0, 609.6)
TURNS = {"bottom": 0.0, "top": math.pi, "left": 0.5 * math.pi, "right": -0.5 * math.pi}
"""How far the fixed panel is turned so that its side of that name lies below."""

AROUND_MM = 24.0
"""Room round the panel for lines that run past it and what is written on them."""


def flat_template(head: Head, part: PartReview, style: Style) -> bytes | None:
    """The flat at full size over several sheets; None where it would take more than 48."""
    assert part.part is not None and part.flat is not None
    width, height = part.flat.size_mm
    tiling = tiled(width, height, PAPER_MM[style.paper])
    if len(tiling.tiles) > MOST_SHEETS:
        return None
    marks = _flat_marks(part.part, part.flat, style.units)
    say = "Glue it to the sheet, punch the crosses, scribe the bend lines. UP bends towards you, DOWN away."
    return _printed(head, "Template of the flat at full size", tiling, marks, say, style)


def _printed(head: Head, title: str, tiling: Tiling, marks: Sequence[Mark], say: str, style: Style) -> bytes:
    art = picture(marks, tiling.width_mm, tiling.height_mm)
    return pdf("tiles", {"head": head.plain(style, title), "say": say, "tiles": tile_pages(tiling, art, style.units)})


def _flat_marks(part: Part, flat: FlatPattern, units: Units) -> list[Mark]:
    x0, y0, _, _ = flat.bounds
    place = Place(1.0, INSET_MM - x0, INSET_MM - y0)
    marks: list[Mark] = [outline_stroke(o, place, VISIBLE) for o in (flat.outer, *flat.openings)]
    for bend in flat.bend_lines:
        a, b = place(bend.start), place(bend.end)
        marks.append(line([a, b], BEND))
        angle = readable(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
        note = bend_note(part.bends[bend.bend], units)
        size = min(3.5, 0.9 * math.dist(a, b) / (0.83 * len(note)))
        up = (-math.sin(math.radians(angle)), math.cos(math.radians(angle)))
        # Once every 150 mm, so that a sheet of a long part has its note.
        count = max(1, int(math.dist(a, b) / 150.0))
        for i in range(count):
            share = (i + 0.5) / count
            at = (a[0] + share * (b[0] - a[0]) + up[0], a[1] + share * (b[1] - a[1]) + up[1])
            marks.append(Words(at, note, size, angle_deg=angle))
    for centre, diameter in flat.round_holes:
        marks += _cross(place(centre), 0.5 * diameter + 3.0)
    return marks


def _cross(at: Point, reach: float) -> list[Mark]:
    return [
        line([(at[0] - reach, at[1]), (at[0] + reach, at[1])], CENTRE if reach > 8 else NARROW),
        line([(at[0], at[1] - reach), (at[0], at[1] + reach)], CENTRE if reach > 8 else NARROW),
    ]


def mounting_template(head: Head, part: PartReview, fixed: Fixed, style: Style) -> bytes | None:
    """The wall behind the part at full size: hole centres, level line, stud or slot line; None above 48 sheets."""
    marks, width, height = mounting_marks(part, fixed, style.units)
    tiling = tiled(width, height, PAPER_MM[style.paper])
    if len(tiling.tiles) > MOST_SHEETS:
        return None
    shifted = picture_shift(marks)
    say = f"Tape it to the wall, line up the level line. {fixing_words(fixed.mount, style.units)}. "
    return _printed(
        head, "Mounting template at full size", tiling, shifted, say + drill_words(fixed.mount, style.units), style
    )


def picture_shift(marks: Sequence[Mark]) -> list[Mark]:
    """Marks moved into the inset that every tiled drawing has."""
    from steadfold.deliver.drawing.marks import moved

    return moved(marks, INSET_MM, INSET_MM)


def mounting_marks(part: PartReview, fixed: Fixed, units: Units) -> tuple[list[Mark], float, float]:
    """The marks of the mounting template with their lower left corner at 0, 0, and their size."""
    assert part.part is not None
    panel = part.part.panels[fixed.panel]
    turn = TURNS.get(fixed.mount.down, 0.0)
    cos, sin = round(math.cos(turn), 12), round(math.sin(turn), 12)
    turned = Isometry((0.0, 0.0), (cos, sin), (-sin, cos))
    outlines = [face.outer.moved(turned) for face in panel.faces]
    boxes = [outline.bounds for outline in outlines]
    if panel.extent_mm is not None:
        corners = [turned(c) for c in ((0.0, 0.0), (panel.extent_mm[0], panel.extent_mm[1]))]
        boxes.append(
            (
                min(c[0] for c in corners),
                min(c[1] for c in corners),
                max(c[0] for c in corners),
                max(c[1] for c in corners),
            )
        )
    x0, y0 = min(b[0] for b in boxes), min(b[1] for b in boxes)
    x1, y1 = max(b[2] for b in boxes), max(b[3] for b in boxes)
    place = Place(1.0, AROUND_MM - x0, AROUND_MM - y0)
    marks: list[Mark] = [outline_stroke(outline, place, NARROW) for outline in outlines]
    (left, bottom), (right, top) = place((x0, y0)), place((x1, y1))
    marks.append(line([(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)], NEIGHBOUR))
    holes = [place(turned(hole.at_mm)) for hole in fixed.holes]
    for number, (hole, at) in enumerate(zip(fixed.holes, holes, strict=True)):
        marks.append(outline_stroke(_moved(hole.outline, turned), place, VISIBLE))
        marks += _cross(at, 0.5 * hole.width_mm + 6.0)
        marks.append(circle_stroke(at, 0.4, VISIBLE))
        text = f"{number + 1}: {show(at[0] - left, units)} from the left, {show(top - at[1], units)} from the top"
        anchor: Anchor = "start" if at[0] < 0.5 * (left + right) else "end"
        aside = 0.5 * hole.width_mm + 2.0
        marks.append(Words((at[0] + (aside if anchor == "start" else -aside), at[1] + aside), text, 2.2, anchor))
    marks += _level(holes, left, right)
    marks += _behind(fixed, holes, (left, bottom, right, top), units)
    marks.append(Words((left + 2.0, top - 5.0), "TOP", 4.0, "start", bold=True))
    width, height = right - left + 2 * AROUND_MM, top - bottom + 2 * AROUND_MM
    return marks, width, height


def _moved(outline: Outline, turned: Isometry) -> Outline:
    return outline.moved(turned)


def _level(holes: Sequence[Point], left: float, right: float) -> list[Mark]:
    """The level line through the highest row of holes, past both edges."""
    y = max(at[1] for at in holes)
    return [
        line([(left - 16.0, y), (right + 16.0, y)], CENTRE),
        Words((right + 17.0, y + 1.0), "level", 2.2, "middle", 90.0),
    ]


def _behind(fixed: Fixed, holes: Sequence[Point], box: tuple[float, float, float, float], units: Units) -> list[Mark]:
    """The stud or slot line behind the holes, with distances from hole to hole along it."""
    left, bottom, right, top = box
    mount = fixed.mount
    marks: list[Mark] = []
    if mount.to in RAILS:
        for y in sorted({round(at[1], 3) for at in holes}):
            marks.append(line([(left - 18.0, y), (right + 18.0, y)], NEIGHBOUR))
            marks.append(Words((left - 4.0, y + 1.2), "slot line", 2.2, "end", paper=True))
        return marks + _spans(holes, bottom - 9.0, units)
    if mount.to in ("wood stud", "steel stud"):
        for x in sorted({round(at[0], 3) for at in holes}):
            marks.append(line([(x, bottom - 16.0), (x, top + 16.0)], NEIGHBOUR))
            marks.append(Words((x - 1.2, top + 4.0), "stud line", 2.2, "start", 90.0, paper=True))
    return marks + _spans(holes, bottom - 9.0, units)


def _spans(holes: Sequence[Point], y: float, units: Units) -> list[Mark]:
    """Distances between the columns of holes, below the panel."""
    xs = sorted({round(at[0], 3) for at in holes})
    marks: list[Mark] = []
    for a, b in pairwise(xs):
        marks += [
            line([(a, y), (b, y)], NARROW),
            line([(a, y - 2), (a, y + 2)], NARROW),
            line([(b, y - 2), (b, y + 2)], NARROW),
        ]
        marks.append(Words((0.5 * (a + b), y + 1.0), show(b - a, units), 2.5))
    return marks


def stud_words(fixed: Fixed, units: Units) -> str:
    """Whether the columns of holes meet studs, in a sentence; empty where the part is not on studs."""
    if fixed.mount.to not in ("wood stud", "steel stud"):
        return ""
    xs = sorted({round(hole.at_mm[0], 3) for hole in fixed.holes})
    if len(xs) < 2:
        return "All fixings go into one stud."
    span = xs[-1] - xs[0]
    spacings = (fixed.mount.stud_spacing_mm,) if fixed.mount.stud_spacing_mm else USUAL_STUDS_MM
    meets = [s for s in spacings if abs(span / s - round(span / s)) * s < 2.0 and round(span / s) >= 1]
    if meets:
        every = show(meets[0], units)
        return f"The outer holes are {show(span, units)} {units} apart and meet studs every {every} {units}."
    said = ", ".join(show(s, units) for s in spacings)
    few = min(min(studs_found(span, s)) for s in spacings)
    tail = "no stud at all is met for sure" if few == 0 else f"only {few} is met for sure"
    return (
        f"The outer holes are {show(span, units)} {units} apart. Studs every {said} {units} do not lie under both: "
        f"screw a board across the studs first, or drill holes where the studs are ({tail} elsewhere)."
    )
