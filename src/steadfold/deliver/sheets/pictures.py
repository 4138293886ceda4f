"""Pictures on the sheets: the part in isometric view with loads, fixings and numbers; a screw in what it goes into."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from steadfold.deliver.drawing.dimension import arrowhead
from steadfold.deliver.drawing.folded_drawing import Seen, lines_of, seen
from steadfold.deliver.drawing.lines import NARROW, THIN, LineType
from steadfold.deliver.drawing.marks import Area, Mark, Place, Words, circle_stroke, extent, line, moved, picture
from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.fixing import IN_WOOD, RAILS, Fixed
from steadfold.deliver.surface import surface_of
from steadfold.deliver.view import isometric, usual_up
from steadfold.job.models import Mount
from steadfold.quantities import show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold

EDGE = LineType("01.2", 0.35)
LOAD = LineType("", 0.6, (), "#5b3fa8")
LOAD_COLOUR = "#5b3fa8"
LONGEST_NAME = 18
"""A longer name of a fixing does not fit beside its picture."""


def isometric_picture(
    part: Part,
    width_mm: float,
    height_mm: float,
    share: float | tuple[float, ...] = 1.0,
    loads: Sequence[tuple[np.ndarray, np.ndarray, str]] = (),
    numbers: Sequence[tuple[np.ndarray, str]] = (),
) -> dict[str, Any]:
    """The part from above and in front, fitted into a room on paper, with loads as arrows and numbered places.

    Each load is its point (3,), direction (3,) and words; each number its point (3,) and what stands in its circle.
    """
    view = isometric(usual_up(part))
    drawn = _isometric(part, share)
    # Arrows need room above.
    arrow = min(12.0, 0.2 * height_mm)
    above = arrow + 4.0 if loads else 3.0
    scale = min((width_mm - 8.0) / drawn.width, (height_mm - above - 3.0) / drawn.height, 2.0)
    place = Place(
        scale,
        0.5 * width_mm - 0.5 * scale * (drawn.low[0] + drawn.high[0]),
        0.5 * (height_mm - above + 3.0) - 0.5 * scale * (drawn.low[1] + drawn.high[1]),
    )
    marks = lines_of(drawn, place, EDGE, THIN)

    def on(point: np.ndarray) -> tuple[float, float]:
        at = view.seen(np.asarray(point, dtype=float)[None])[0]
        return place((float(at[0]), float(at[1])))

    shown: list[tuple[float, float]] = []
    for point, direction, words in loads:
        tip = on(point)
        seen_direction = view.seen(np.asarray(direction, dtype=float)[None])[0]
        flat = (float(seen_direction[0]), float(seen_direction[1]))
        size = math.hypot(*flat)
        if size < 1e-6:
            continue
        u, v = flat[0] / size, flat[1] / size
        tail = (tip[0] - arrow * u, tip[1] - arrow * v)
        marks += [line([tail, (tip[0] - 2 * u, tip[1] - 2 * v)], LOAD)]
        head = arrowhead(tip, (u, v))
        marks.append(Area(head.points, LOAD_COLOUR))
        # Words only where they do not lie on those of a load beside it.
        if words and all(math.dist(tail, other) > 18.0 for other in shown):
            shown.append(tail)
            marks.append(Words((tail[0], tail[1] + 1.2), words, 2.0, paper=True))
    for point, text in numbers:
        marks += numbered(on(point), text)
    return picture(marks, width_mm, height_mm)


@lru_cache(maxsize=16)
def _isometric(part: Part, share: float | tuple[float, ...]) -> Seen:
    """The lines of a part in isometric view; several sheets show the same."""
    return seen(surface_of(part, share), isometric(usual_up(part)), hidden=False)  # type: ignore[arg-type]


def numbered(at: tuple[float, float], text: str) -> list[Mark]:
    """A number in a circle, white behind it."""
    ring = 2.4
    corners = [(at[0] + ring * math.cos(a), at[1] + ring * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 25)]
    return [
        Area(tuple((float(x), float(y)) for x, y in corners), "#ffffff"),
        circle_stroke(at, ring, NARROW),
        Words((at[0], at[1] - 0.95), text, 1.9, bold=True),
    ]


def loads_of(part: PartReview, units: Units, share: float = 1.0) -> list[tuple[np.ndarray, np.ndarray, str]]:
    """Where the items bear and a share of their greatest mass, from the rating's picture; nothing without one."""
    strength = part.strength
    if strength is None or strength.picture is None:
        return []
    masses = {load.item: load.mass_kg.high for load in part.ordered.carries}
    found = []
    for at, down, words in strength.picture.loads:
        mass = masses.get(words.rsplit(": ", 1)[0])
        found.append((at, down, "" if mass is None else show_mass(share * mass, units)))
    return found


def fixing_points(part: PartReview, fixed: Fixed) -> list[tuple[np.ndarray, str]]:
    """The fixings in space, numbered from 1."""
    assert part.part is not None
    frame = fold(part.part).panels[fixed.panel]
    height = 0.5 * part.part.thickness_mm
    return [
        (frame.points(np.array([hole.at_mm]), height)[0], str(number + 1)) for number, hole in enumerate(fixed.holes)
    ]


def section_picture(
    part: PartReview, mount: Mount, units: Units, width_mm: float = 70.0, height_mm: float = 46.0
) -> dict[str, Any]:
    """A cut through one fixing, not to scale: sheet, soft layer, backing and screw, each named."""
    marks: list[Mark] = []
    middle = 0.5 * height_mm
    x = 14.0
    sheet = 2.4
    marks += _layer(x, sheet, 4.0, height_mm - 4.0, "")
    marks.append(Words((x + sheet, height_mm - 2.8), f"sheet {show(part.thickness_mm or 0.0, units)}", 1.8, "end"))
    x += sheet
    if mount.gap_mm:
        marks += _layer(x, 7.0, 6.0, height_mm - 6.0, "dots")
        marks.append(Words((x + 3.5, 1.6), f"{mount.gap_of or 'gap'} {show(mount.gap_mm, units)}", 1.8))
        x += 7.0
    deep = 26.0
    kind = "grain" if mount.to in IN_WOOD else "rail" if mount.to in RAILS else "hatch"
    marks += _layer(x, deep, 6.0, height_mm - 6.0, kind)
    marks.append(Words((x + 0.5 * deep, height_mm - 2.8), "unknown wall" if mount.to == "unknown" else mount.to, 1.8))
    # The screw: washer, head, shank.
    left, end = 14.0, x + (0.82 * deep if kind != "rail" else 6.0)
    marks += [
        Area(
            ((left - 1.0, middle - 4.2), (left, middle - 4.2), (left, middle + 4.2), (left - 1.0, middle + 4.2)),
            "#5b6b76",
        ),
        Area(
            (
                (left - 4.2, middle - 3.0),
                (left - 1.0, middle - 3.0),
                (left - 1.0, middle + 3.0),
                (left - 4.2, middle + 3.0),
            )
        ),
        Area(
            (
                (left, middle - 1.2),
                (end - 2, middle - 1.2),
                (end, middle),
                (end - 2, middle + 1.2),
                (left, middle + 1.2),
            )
        ),
    ]
    if kind == "rail":
        marks.append(
            Area(((x + 3, middle - 5), (x + 7, middle - 5), (x + 7, middle + 5), (x + 3, middle + 5)), "#22303a")
        )
    name = mount.fastener or "fixing"
    if len(name) > LONGEST_NAME:
        name = "fixing"
    marks.append(Words((left - 5.2, middle), name, 1.8, angle_deg=90.0))
    x0, _, x1, _ = extent(marks)
    shift = 0.5 * (width_mm - x0 - x1)
    return picture(moved(marks, shift, 0.0), width_mm, height_mm)


def _layer(x: float, wide: float, low: float, high: float, fill: str) -> list[Mark]:
    """A layer seen in section with the usual filling of its kind."""
    marks: list[Mark] = [line([(x, low), (x + wide, low), (x + wide, high), (x, high), (x, low)], NARROW)]
    if fill == "grain":
        marks += [line([(x + s * wide, low), (x + s * wide, high)], THIN) for s in (0.12, 0.3, 0.42, 0.6, 0.75, 0.9)]
    elif fill == "hatch":
        step = 3.0
        for k in range(int((high - low + wide) / step) + 1):
            y = low - wide + k * step
            a, b = max(low, y), min(high, y + wide)
            if b > a:
                marks.append(line([(x + a - y, a), (x + b - y, b)], THIN))
    elif fill == "dots":
        for i in range(3):
            for k in range(int((high - low) / 3)):
                marks.append(circle_stroke((x + (i + 0.5 + 0.3 * (k % 2)) * wide / 3.4, low + 1.5 + 3 * k), 0.15, THIN))
    return marks
