"""Outlines and cutouts as a job file draws them, and their repeats."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from steadfold.job.fields import Fields
from steadfold.job.layout import Steps
from steadfold.job.wording import typed
from steadfold.sheet.outline import Isometry, Outline, Point, circle, obround, rectangle
from steadfold.sheet.tree import Cutout

MOST_POINTS = 2000
MOST_CUTOUTS = 2000
"""Most cutouts that one entry may repeat into, and most on one panel."""

CUTOUT_SHAPES = ("circle", "slot", "rectangle", "outline")
ROUNDEST = 100.0
"""Largest bulge of an arc: nearly a full turn, and still two ends apart."""


def read_outline(fields: Fields, key: str) -> Outline | None:
    """A closed outline: points `["0 mm", "0 mm"]`, arcs `{ to = [...], bulge = 0.4 }` or `{ to, through }`.

    An arc runs from the point before it to its `to`; one in the first place runs from the last point. The
    bulge is the tangent of a quarter of the turn, positive to the left.
    """
    value = fields.raw(key)
    if value is None:
        return None
    steps: Steps = (*fields.steps, key)
    note = fields.notebook.note
    if not isinstance(value, list):
        note(
            steps,
            f'{typed(value)}; an outline is a list of points, [["0 mm", "0 mm"], ...]',
        )
        return None
    if not 2 <= len(value) <= MOST_POINTS:
        note(
            steps,
            f"an outline has 2 to {MOST_POINTS} points (two only with arcs between them), not {len(value)}",
        )
        return None
    mark = fields.notebook.mark
    corners = [_corner(fields, each, (*steps, number)) for number, each in enumerate(value)]
    if fields.notebook.mark != mark:
        return None
    points = tuple(corner[0] for corner in corners if corner is not None)
    arriving = [_bulge(fields, corners, number, (*steps, number)) for number in range(len(corners))]
    if fields.notebook.mark != mark:
        return None
    outline = Outline(points, (*arriving[1:], arriving[0]))
    wrong = _crossed(outline)
    if wrong:
        note(steps, wrong)
        return None
    return outline


_Corner = tuple[Point, float | None, Point | None]
"""A point, and the bulge or the point on the way of the arc that arrives at it."""


def _corner(fields: Fields, value: Any, steps: Steps) -> _Corner | None:
    if not isinstance(value, dict):
        point = fields.pair(value, steps)
        return None if point is None else (point, 0.0, None)
    arc = Fields(value, steps, fields.notebook)
    mark = fields.notebook.mark
    to = arc.point("to", required=True)
    through = arc.point("through")
    bulge = arc.number(
        "bulge",
        f"the bulge of an arc is the tangent of a quarter of its turn, from -{ROUNDEST:g} to {ROUNDEST:g}",
        above=-ROUNDEST,
        high=ROUNDEST,
    )
    arc.done()
    if fields.notebook.mark != mark or to is None:
        return None
    if (bulge is None) == (through is None):
        fields.notebook.note(steps, 'an arc is given by "bulge" or by a point it runs "through", one of the two')
        return None
    return to, bulge, through


def _bulge(fields: Fields, corners: Sequence[_Corner | None], number: int, steps: Steps) -> float:
    """The bulge of the segment that arrives at a corner; notes a corner that lies on the one before it."""
    here, before = corners[number], corners[number - 1]
    if here is None or before is None:
        return 0.0
    (end, bulge, through), start = here, before[0]
    if math.dist(start, end) < 1e-3:
        fields.notebook.note(steps, "this point lies on the one before it; an outline closes by itself")
        return 0.0
    if through is None:
        return bulge or 0.0
    if min(math.dist(start, through), math.dist(through, end)) < 1e-3:
        fields.notebook.note(steps, '"through" must lie between the two ends of the arc')
        return 0.0
    return bulge_through(start, through, end)


def bulge_through(start: Point, through: Point, end: Point) -> float:
    """Bulge of the arc from `start` to `end` that passes `through`; 0 when the three lie on a line.

    The angle that an arc's chord is seen under from a point on it is half of what the arc leaves of a full
    turn (Euclid III.20), so a quarter of the turn is (pi - angle) / 2.

    >>> round(bulge_through((0.0, 0.0), (1.0, -1.0), (2.0, 0.0)), 6)
    1.0
    """
    ax, ay = start[0] - through[0], start[1] - through[1]
    bx, by = end[0] - through[0], end[1] - through[1]
    cross, dot = bx * ay - by * ax, ax * bx + ay * by
    seen = math.atan2(abs(cross), dot)
    return math.copysign(math.tan(0.5 * (math.pi - seen)), cross)


def _crossed(outline: Outline) -> str:
    """What keeps an outline from bounding a piece of metal, or ''."""
    if len(outline.points) < 3 and not any(outline.bulges):
        return "an outline of two points needs an arc between them"
    if abs(outline.area_mm2) < 1e-3:
        return "this outline has no area"
    polygon = outline.polygon()
    if not polygon.is_valid:
        return "this outline crosses or touches itself"
    x0, y0, x1, y1 = outline.bounds
    if max(x1 - x0, y1 - y0) > 20_000:
        return "this outline is more than 20 m across"
    return ""


def read_cutouts(fields: Fields) -> tuple[Cutout, ...]:
    """One cutout table with its repeats; an empty tuple when something in it is wrong.

    `at` is the centre of a circle, slot or rectangle, and the origin of an outline's own points.
    """
    mark = fields.notebook.mark
    name = fields.text("name", "") or ""
    shape = fields.choice("shape", CUTOUT_SHAPES, required=True)
    outline = _opening(fields, shape)
    moves = _repeats(fields)
    if shape is not None:
        fields.done()
    if fields.notebook.mark != mark or outline is None:
        return ()
    return tuple(Cutout(outline.moved(Isometry(move)), name) for move in moves)


def _opening(fields: Fields, shape: str | None) -> Outline | None:
    at = fields.point("at", default=(0.0, 0.0) if shape == "outline" else None, required=shape != "outline")
    if shape == "circle":
        diameter = fields.length("diameter", required='"9 mm"')
        return circle(diameter, at) if diameter is not None and at is not None else None
    if shape == "outline":
        drawn = read_outline(fields, "outline")
        if "outline" not in fields:
            fields.missing("outline", '[["0 mm", "0 mm"], ["30 mm", "0 mm"], ["0 mm", "30 mm"]]')
        turned = fields.measure("angle", "turned", default=0.0)
        if drawn is None or at is None or turned is None:
            return None
        return drawn.moved(_turn(at, turned))
    if shape == "slot":
        length = fields.length("length", required='"30 mm"')
        width = fields.length("width", required='"9 mm"')
        turned = fields.measure("angle", "turned", default=0.0)
        if length is None or width is None or at is None or turned is None:
            return None
        if length < width:
            fields.wrong("length", f"a slot is at least as long as it is wide ({width:g} mm); its length is over all")
            return None
        return obround(length, width, at, turned)
    if shape == "rectangle":
        size = fields.size("size", required=True)
        radius = fields.length("corner_radius", above=None, low=0.0)
        turned = fields.measure("angle", "turned", default=0.0)
        if size is None or at is None or turned is None:
            return None
        width, height = size
        if radius is not None and radius > 0.5 * min(size):
            fields.wrong("corner_radius", f"corners of this rectangle can be rounded by {0.5 * min(size):g} mm at most")
            return None
        return rectangle(width, height, (-0.5 * width, -0.5 * height), radius or 0.0).moved(_turn(at, turned))
    return None


def _turn(at: Point, turned_rad: float) -> Isometry:
    along = (math.cos(turned_rad), math.sin(turned_rad))
    return Isometry(at, along, (-along[1], along[0]))


def _repeats(fields: Fields) -> list[Point]:
    """The shifts of all copies, the first one (none) included."""
    value = fields.raw("repeat")
    if value is None:
        return [(0.0, 0.0)]
    steps: Steps = (*fields.steps, "repeat")
    if isinstance(value, dict):
        rows = [Fields(value, steps, fields.notebook)]
    elif isinstance(value, list) and 1 <= len(value) <= 2 and all(isinstance(each, dict) for each in value):
        rows = [Fields(each, (*steps, number), fields.notebook) for number, each in enumerate(value)]
    else:
        fields.wrong(
            "repeat",
            'write repeat = { count = 3, step = ["180 mm", "0 mm"] }, or a list of two such for a grid',
        )
        return [(0.0, 0.0)]
    moves: list[Point] = [(0.0, 0.0)]
    for row in rows:
        moves = list(_repeated(row, moves))
    return moves


def _repeated(row: Fields, moves: list[Point]) -> Iterator[Point]:
    if "count" not in row:
        row.missing("count", "3")
    count = row.count("count", low=1, high=MOST_CUTOUTS)
    step = row.point("step", required=True)
    row.done()
    if count is None or step is None:
        yield from moves
        return
    if count * len(moves) > MOST_CUTOUTS:
        row.wrong("count", f"these are {count * len(moves)} cutouts; at most {MOST_CUTOUTS}")
        return
    if count > 1 and math.hypot(*step) < 1e-3:
        row.wrong("step", "a step of nothing would put all cutouts in one place")
        return
    for number in range(count):
        yield from ((x + number * step[0], y + number * step[1]) for x, y in moves)
