"""The flat with its dimensions: overall sizes, bend lines and edges from one corner, each bend numbered and noted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from steadfold.deliver.bend_note import bend_note
from steadfold.deliver.drawing.dimension import FIRST_MM, Running, Side, length, readable, running
from steadfold.deliver.drawing.lines import BEND, CENTRE, NARROW, VISIBLE
from steadfold.deliver.drawing.marks import TEXT_MM, Box, Mark, Place, Words, hits, line, outline_stroke
from steadfold.deliver.drawing.openings import Group, groups_of, openings_of, show
from steadfold.quantities.showing import Units
from steadfold.sheet.flat import BendLine, FlatPattern
from steadfold.sheet.outline import Outline, Point
from steadfold.sheet.part import Part

SCALES = (10.0, 5.0, 2.0, 1.0, 1 / 2, 1 / 2.5, 1 / 4, 1 / 5, 1 / 10, 1 / 20, 1 / 25, 1 / 50, 1 / 100)
"""Scales of ISO 5455, and 1 : 2.5, 1 : 4 and 1 : 25 between them."""

SAME_MM = 0.02
ROOM_LEFT, ROOM_BOTTOM, ROOM_RIGHT, ROOM_TOP = 30.0, 30.0, 16.0, 16.0
"""Room for dimensions round the flat on paper."""


@dataclass(frozen=True)
class FlatDrawing:
    """Marks with their lower left corner at 0, 0, the size they take, the scale, and the openings listed."""

    marks: tuple[Mark, ...]
    width_mm: float
    height_mm: float
    scale: float
    groups: tuple[Group, ...]
    left_out: bool
    """True where the edges were too many to be dimensioned one by one."""


def scale_words(scale: float) -> str:
    """A scale as it is written.

    >>> scale_words(0.4), scale_words(2.0)
    ('1 : 2.5', '2 : 1')
    """
    return f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"


def best_scale(width: float, height: float, room_width: float, room_height: float) -> float:
    """The largest usual scale at which a drawing fits its room; the smallest where none does.

    Enlargement stops at 2 : 1 for what is larger than 50 mm.
    """
    most = 2.0 if max(width, height) > 50.0 else 5.0
    for scale in SCALES:
        if scale <= most and scale * width <= room_width and scale * height <= room_height:
            return scale
    return SCALES[-1]


def flat_drawing(part: Part, flat: FlatPattern, room_width: float, room_height: float, units: Units) -> FlatDrawing:
    """The flat at the largest usual scale that fits a room on paper, dimensions included."""
    x0, y0, x1, y1 = flat.bounds
    scale = best_scale(x1 - x0, y1 - y0, room_width - ROOM_LEFT - ROOM_RIGHT, room_height - ROOM_BOTTOM - ROOM_TOP)
    place = Place(scale, ROOM_LEFT - scale * x0, ROOM_BOTTOM - scale * y0)
    groups = groups_of(openings_of(part, flat, units))
    marks: list[Mark] = [outline_stroke(flat.outer, place, VISIBLE)]
    marks += [outline_stroke(opening, place, VISIBLE) for opening in flat.openings]
    boxes = [_paper_box(opening, place) for opening in flat.openings]
    for bend in flat.bend_lines:
        marks += _bend(part, bend, place, boxes, units)
    for group in groups:
        marks += _opening_marks(group, place)
    marks += _overall(flat, place, units)
    rows, left_out = _rows(flat, place, units)
    marks += rows
    return FlatDrawing(
        tuple(marks),
        ROOM_LEFT + scale * (x1 - x0) + ROOM_RIGHT,
        ROOM_BOTTOM + scale * (y1 - y0) + ROOM_TOP,
        scale,
        groups,
        left_out,
    )


def _bend(part: Part, bend: BendLine, place: Place, boxes: Sequence[Box], units: Units) -> list[Mark]:
    """A bend line with its note above it, where no opening is in the way; only its number where there is no room."""
    a, b = place(bend.start), place(bend.end)
    angle = readable(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    room = math.dist(a, b)
    note, number = f"{bend.bend + 1}  {bend_note(part.bends[bend.bend], units)}", str(bend.bend + 1)
    for text, height, slack in ((note, TEXT_MM, 4.0), (note, 1.8, 1.0), (number, 1.8, -10.0)):
        tried = []
        for share in (0.5, 0.3, 0.7, 0.15, 0.85):
            x, y = a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])
            words = Words((x - 1.1 * sin, y + 1.1 * cos), text, height, angle_deg=angle, bold=text == number)
            if words.width_mm + slack <= 2 * room * min(share, 1 - share):
                tried.append(words)
        free = next((words for words in tried if not hits(words, boxes)), None)
        if free is not None or (tried and text == number):
            return [line([a, b], BEND), free or tried[0]]
    return [line([a, b], BEND), Words((0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]) + 1.1), number, 1.8, bold=True)]


def _paper_box(outline: Outline, place: Place) -> Box:
    """The box round an outline on paper, with room for its centre lines."""
    x0, y0, x1, y1 = outline.bounds
    (left, bottom), (right, top) = place((x0, y0)), place((x1, y1))
    return (left - 1.5, bottom - 1.5, right + 1.5, top + 1.5)


def _opening_marks(group: Group, place: Place) -> list[Mark]:
    marks: list[Mark] = []
    every = len(group.openings) <= 6
    for number, opening in enumerate(group.openings):
        x0, y0, x1, y1 = opening.outline.bounds
        (cx, cy) = place(opening.flat_mm)
        half_x, half_y = 0.5 * place.scale * (x1 - x0), 0.5 * place.scale * (y1 - y0)
        if max(half_x, half_y) > 0.8:
            marks.append(line([(cx - half_x - 1.5, cy), (cx + half_x + 1.5, cy)], CENTRE if half_x > 6 else NARROW))
            marks.append(line([(cx, cy - half_y - 1.5), (cx, cy + half_y + 1.5)], CENTRE if half_y > 6 else NARROW))
        if every or number in (0, len(group.openings) - 1):
            size = TEXT_MM if every or half_x > 1.5 else 1.8
            label = group.letter if len(group.openings) == 1 else f"{group.letter}{number + 1}"
            marks.append(Words((cx + half_x + 0.7, cy + half_y + 0.5), label, size, "start"))
    return marks


def _overall(flat: FlatPattern, place: Place, units: Units) -> list[Mark]:
    x0, y0, x1, y1 = flat.bounds
    left, bottom = place((x0, y0))
    right, top = place((x1, y1))
    # Overall sizes stand opposite the running dimensions.
    marks = length((left, top), (right, top), (1.0, 0.0), top + FIRST_MM, show(x1 - x0, units))
    marks += length((right, bottom), (right, top), (0.0, 1.0), -(right + FIRST_MM), show(y1 - y0, units))
    return marks


def _rows(flat: FlatPattern, place: Place, units: Units) -> tuple[list[Mark], bool]:
    """Running dimensions: x of upright bend lines and edges along the bottom, y of level ones along the left side."""
    marks: list[Mark] = []
    left_out = False
    x0, y0, x1, y1 = flat.bounds
    for axis, low, high in ((0, x0, x1), (1, y0, y1)):
        room = place.scale * (high - low) + 8.0
        bends, edges = _lines_across(flat, axis)
        values = _distinct([low, high, *bends, *edges])
        most = max(2, int(room / (TEXT_MM + 1.0)))
        if len(values) > most:
            left_out = True
            values = _distinct([low, high, *bends])
            if len(values) > most:
                values = [low, high]
        if len(values) <= 2:
            continue
        on_paper = [place((v, v))[axis] for v in values]
        rows = [Running(at, show(v - low, units)) for at, v in zip(on_paper, values, strict=True)]
        edge = place((x0, y0))[1 - axis]
        side: Side = "bottom" if axis == 0 else "left"
        marks += running(rows, side, edge - 9.0, [edge] * len(rows), on_paper[0])
    return marks, left_out


def _lines_across(flat: FlatPattern, axis: int) -> tuple[list[float], list[float]]:
    """Coordinates along an axis of bend lines and of straight outer edges that run square to it."""

    def square(a: Point, b: Point) -> bool:
        return abs(a[axis] - b[axis]) < 1e-6 * max(1.0, math.dist(a, b))

    bends = [bend.start[axis] for bend in flat.bend_lines if square(bend.start, bend.end)]
    edges = [
        start[axis]
        for start, end, bulge in flat.outer.segments()
        if not bulge and math.dist(start, end) > 1.0 and square(start, end)
    ]
    return bends, edges


def _distinct(values: Sequence[float]) -> list[float]:
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > SAME_MM:
            kept.append(value)
    return kept
