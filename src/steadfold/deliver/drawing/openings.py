"""The openings of a part as a drawing lists them: form and size, how many, and where, in the flat and on the panel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from steadfold.quantities.showing import Units
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.outline import Outline, Point
from steadfold.sheet.part import Part
from steadfold.sheet.pose import flat_places

SAME_MM = 5e-3


@dataclass(frozen=True)
class Opening:
    """One opening: its form in words of a drawing, its outline and middle in the flat, and its panel with the middle
    there.

    On a panel drawn by outside dimensions the place is measured from the outside of its left and near (bottom) edges;
    otherwise, and across a bend, `on_panel_mm` is None.
    """

    form: str
    outline: Outline
    flat_mm: Point
    panel: str
    on_panel_mm: Point | None


@dataclass(frozen=True)
class Group:
    """Openings of one form on one panel, with the letter that stands beside each on the drawing.

    `step_mm` is the even distance from one to the next in the flat, None where they are not evenly in line.
    """

    letter: str
    form: str
    panel: str
    openings: tuple[Opening, ...]
    step_mm: Point | None


def show(length_mm: float, units: Units) -> str:
    """A length for a drawing, without its unit and needless zeros: 0.01 mm or 0.001 in.

    >>> show(12.70, "mm"), show(12.70, "in"), show(9.0, "mm")
    ('12.7', '0.500', '9')
    """
    # A half is rounded up whatever noise its last digits carry, so that equal sizes read alike.
    length_mm += 1e-6
    if units == "in":
        return f"{length_mm / 25.4:.3f}"
    text = f"{length_mm:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def form_of(outline: Outline, units: Units = "mm") -> str:
    """Form and size of an opening: `⌀9`, `slot 14 × 7`, `12 × 6`, `12 × 6 R2` or, for others, `opening 30 × 12`."""
    found = outline.circle
    if found is not None:
        return f"⌀{show(2 * found[1], units)}"
    sides = [(start, end, bulge, math.dist(start, end)) for start, end, bulge in outline.segments()]
    arcs = [side for side in sides if side[2]]
    straights = [side for side in sides if not side[2]]
    if len(sides) == 4 and len(arcs) == 2 and all(abs(abs(side[2]) - 1.0) < 1e-6 for side in arcs):
        width = arcs[0][3]
        if abs(arcs[1][3] - width) < SAME_MM and abs(straights[0][3] - straights[1][3]) < SAME_MM:
            return f"slot {show(straights[0][3] + width, units)} × {show(width, units)}"
    box = _rectangle(outline, straights, arcs, units)
    if box is not None:
        return box
    x0, y0, x1, y1 = outline.bounds
    return f"opening {show(x1 - x0, units)} × {show(y1 - y0, units)}"


_Side = tuple[Point, Point, float, float]
"""A segment: start, end, bulge, length of its chord."""


def _rectangle(outline: Outline, straights: list[_Side], arcs: list[_Side], units: Units) -> str | None:
    """A rectangle, its corners sharp or all of one radius."""
    if len(straights) != 4 or len(arcs) not in (0, 4):
        return None
    quarter = math.tan(math.pi / 8)
    if any(abs(abs(side[2]) - quarter) > 1e-6 for side in arcs):
        return None
    radii = [side[3] / math.sqrt(2) for side in arcs]
    if radii and max(radii) - min(radii) > SAME_MM:
        return None
    runs = [np.subtract(side[1], side[0]) for side in straights]
    if any(abs(float(a @ b)) > 1e-6 * float(np.linalg.norm(a) * np.linalg.norm(b)) for a, b in pairwise(runs)):
        return None
    radius = radii[0] if radii else 0.0
    sizes = sorted((straights[0][3] + 2 * radius, straights[1][3] + 2 * radius), reverse=True)
    text = f"{show(sizes[0], units)} × {show(sizes[1], units)}"
    return f"{text} R{show(radius, units)}" if radius else text


def _middle(outline: Outline) -> Point:
    found = outline.circle
    if found is not None:
        return found[0]
    x0, y0, x1, y1 = outline.bounds
    return (0.5 * (x0 + x1), 0.5 * (y0 + y1))


def openings_of(part: Part, flat: FlatPattern, units: Units = "mm") -> tuple[Opening, ...]:
    """Every opening of the flat, in order from the lower left, with the panel it lies on."""
    places, _ = flat_places(part)
    known: list[tuple[Point, str, Point | None]] = []
    for panel, place in zip(part.panels, places, strict=True):
        for face in panel.faces:
            for hole in face.holes:
                # The middle of a turned opening's box depends on the frame it is boxed in: it is boxed in the flat.
                middle = _middle(hole.moved(place))
                back = place.inverted()(middle)
                known.append((middle, panel.name, back if panel.extent_mm is not None else None))
    found = []
    for outline in flat.openings:
        middle = _middle(outline)
        near = min(known, key=lambda k: math.dist(k[0], middle), default=None)
        if near is not None and math.dist(near[0], middle) < 0.01:
            found.append(Opening(form_of(outline, units), outline, middle, near[1], near[2]))
        else:
            found.append(Opening(form_of(outline, units), outline, middle, "across a bend", None))
    return tuple(sorted(found, key=lambda o: (round(o.flat_mm[1], 2), round(o.flat_mm[0], 2))))


def groups_of(openings: Sequence[Opening]) -> tuple[Group, ...]:
    """The openings by form and panel; one letter a form and panel."""
    by_key: dict[tuple[str, str], list[Opening]] = {}
    for opening in openings:
        by_key.setdefault((opening.panel, opening.form), []).append(opening)
    found = []
    for number, ((panel, form), members) in enumerate(by_key.items()):
        members = sorted(members, key=lambda o: (round(o.flat_mm[0], 2), round(o.flat_mm[1], 2)))
        found.append(Group(letter(number), form, panel, tuple(members), _step([m.flat_mm for m in members])))
    return tuple(found)


def letter(number: int) -> str:
    """A, B, ... Z, AA, AB, ... without I and O, which read as figures.

    >>> letter(0), letter(8), letter(24)
    ('A', 'J', 'AA')
    """
    letters = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    return (
        letters[number]
        if number < len(letters)
        else letter(number // len(letters) - 1) + letters[number % len(letters)]
    )


def _step(points: Sequence[Point]) -> Point | None:
    if len(points) < 3:
        return None
    dx, dy = points[1][0] - points[0][0], points[1][1] - points[0][1]
    even = all(abs(q[0] - p[0] - dx) < SAME_MM and abs(q[1] - p[1] - dy) < SAME_MM for p, q in pairwise(points))
    return (dx, dy) if even else None
