"""What a drawing is made of: strokes, filled areas, words, on paper in mm, x right, y up from the lower left corner.

A drawing is a list of marks; `picture` turns it into what the template sets: lines as SVG paths (exact, no raster) and
words by place, so that they stay text in the PDF.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from steadfold.deliver.drawing.lines import INK, LineType
from steadfold.sheet.outline import Outline, Point

Anchor = Literal["start", "middle", "end"]
Step = tuple[float | str, ...]

TEXT_MM = 2.5
"""Height of capitals of dimensions and notes (ISO 3098: 2.5 mm)."""

LETTER_WIDTH = 0.83
"""Advance of a letter over the height of capitals, in the fixed-width face of drawings."""


@dataclass(frozen=True)
class Stroke:
    """A line: steps of a path, each ("M", x, y), ("L", x, y), ("A", radius, large, left, x, y) or ("Z",)."""

    path: tuple[Step, ...]
    line: LineType


@dataclass(frozen=True)
class Area:
    """A filled polygon."""

    points: tuple[Point, ...]
    colour: str = INK


@dataclass(frozen=True)
class Words:
    """A line of text on a baseline that starts, ends or has its middle at a point; `height_mm` is that of capitals.

    `angle_deg` turns it anticlockwise; `paper` puts white behind it.
    """

    at: Point
    text: str
    height_mm: float = TEXT_MM
    anchor: Anchor = "middle"
    angle_deg: float = 0.0
    bold: bool = False
    paper: bool = False

    @property
    def width_mm(self) -> float:
        """Room it takes along its baseline."""
        return LETTER_WIDTH * self.height_mm * len(self.text)


Mark = Stroke | Area | Words


@dataclass(frozen=True)
class Place:
    """Where a view lies on paper: paper = (x, y) + scale * point."""

    scale: float
    x: float
    y: float

    def __call__(self, point: Point | Sequence[float]) -> Point:
        """One point on paper."""
        return (self.x + self.scale * float(point[0]), self.y + self.scale * float(point[1]))


def line(points: Sequence[Point] | np.ndarray, kind: LineType) -> Stroke:
    """An open line through points on paper."""
    first, *rest = [(float(p[0]), float(p[1])) for p in points]
    return Stroke((("M", *first), *(("L", *p) for p in rest)), kind)


def outline_stroke(outline: Outline, place: Place, kind: LineType) -> Stroke:
    """A closed outline on paper, its arcs kept as arcs."""
    steps: list[Step] = [("M", *place(outline.points[0]))]
    for start, end, bulge in outline.segments():
        if not bulge:
            steps.append(("L", *place(end)))
            continue
        radius = math.dist(start, end) * (1 + bulge * bulge) / (4 * abs(bulge))
        steps.append(("A", place.scale * radius, float(abs(bulge) > 1), float(bulge > 0), *place(end)))
    return Stroke((*steps, ("Z",)), kind)


def circle_stroke(centre: Point, radius_mm: float, kind: LineType) -> Stroke:
    """A full circle on paper."""
    x, y = centre
    return Stroke(
        (
            ("M", x - radius_mm, y),
            ("A", radius_mm, 0.0, 1.0, x + radius_mm, y),
            ("A", radius_mm, 0.0, 1.0, x - radius_mm, y),
            ("Z",),
        ),
        kind,
    )


def arc_stroke(centre: Point, radius_mm: float, from_rad: float, turn_rad: float, kind: LineType) -> Stroke:
    """Part of a circle on paper, from an angle on through a turn (positive to the left)."""

    def at(angle: float) -> Point:
        return (centre[0] + radius_mm * math.cos(angle), centre[1] + radius_mm * math.sin(angle))

    half = at(from_rad + 0.5 * turn_rad)
    left = float(turn_rad > 0)
    return Stroke(
        (
            ("M", *at(from_rad)),
            ("A", radius_mm, 0.0, left, *half),
            ("A", radius_mm, 0.0, left, *at(from_rad + turn_rad)),
        ),
        kind,
    )


def moved(marks: Iterable[Mark], dx: float, dy: float) -> list[Mark]:
    """Marks shifted on paper."""
    found: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Stroke):
            found.append(replace(mark, path=tuple(_shifted(step, dx, dy) for step in mark.path)))
        elif isinstance(mark, Area):
            found.append(replace(mark, points=tuple((x + dx, y + dy) for x, y in mark.points)))
        else:
            found.append(replace(mark, at=(mark.at[0] + dx, mark.at[1] + dy)))
    return found


def _shifted(step: Step, dx: float, dy: float) -> Step:
    if step[0] == "Z":
        return step
    *head, x, y = step
    return (*head, float(x) + dx, float(y) + dy)


def extent(marks: Iterable[Mark]) -> tuple[float, float, float, float]:
    """Least x, least y, greatest x, greatest y of all marks; arcs by their ends, words by their usual width."""
    xs: list[float] = []
    ys: list[float] = []
    for mark in marks:
        if isinstance(mark, Stroke):
            for step in mark.path:
                if step[0] != "Z":
                    xs.append(float(step[-2]))
                    ys.append(float(step[-1]))
        elif isinstance(mark, Area):
            xs += [p[0] for p in mark.points]
            ys += [p[1] for p in mark.points]
        else:
            for x, y in words_box(mark):
                xs.append(x)
                ys.append(y)
    return min(xs), min(ys), max(xs), max(ys)


def words_box(words: Words) -> tuple[Point, ...]:
    """Corners of the room a line of text takes."""
    width = words.width_mm
    left = {"start": 0.0, "middle": -0.5 * width, "end": -width}[words.anchor]
    cos, sin = math.cos(math.radians(words.angle_deg)), math.sin(math.radians(words.angle_deg))
    low, high = -0.3 * words.height_mm, words.height_mm
    return tuple(
        (words.at[0] + cos * x - sin * y, words.at[1] + sin * x + cos * y)
        for x, y in ((left, low), (left + width, low), (left + width, high), (left, high))
    )


Box = tuple[float, float, float, float]
"""Least x, least y, greatest x, greatest y on paper."""


def box_of(words: Words) -> Box:
    """The box, level with the paper, round a line of text."""
    xs, ys = zip(*words_box(words), strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def hits(words: Words, boxes: Iterable[Box]) -> bool:
    """True when a line of text lies over one of the boxes, by the box round the text."""
    low_x, low_y, high_x, high_y = box_of(words)
    return any(low_x < x1 and x0 < high_x and low_y < y1 and y0 < high_y for x0, y0, x1, y1 in boxes)


def picture(marks: Sequence[Mark], width_mm: float, height_mm: float) -> dict[str, Any]:
    """The drawing as the template takes it: its lines as SVG, its words with their places from the top left."""
    return {
        "width": width_mm,
        "height": height_mm,
        "svg": svg_of(marks, width_mm, height_mm),
        "words": [
            {
                "x": round(m.at[0], 4),
                "y": round(height_mm - m.at[1], 4),
                "text": m.text,
                "height": m.height_mm,
                "anchor": m.anchor,
                "angle": round(m.angle_deg, 4),
                "bold": m.bold,
                "paper": m.paper,
            }
            for m in marks
            if isinstance(m, Words)
        ],
    }


def svg_of(marks: Sequence[Mark], width_mm: float, height_mm: float) -> str:
    """Strokes and areas as an SVG of true size, one path a kind of line."""
    paths: dict[LineType, list[str]] = {}
    for mark in marks:
        if isinstance(mark, Stroke):
            paths.setdefault(mark.line, []).append(path_data(mark, height_mm))
    body = []
    for kind, data in paths.items():
        dashes = f' stroke-dasharray="{kind.dash_array}"' if kind.dashes_mm else ""
        caps = "butt" if kind.dashes_mm or kind.blunt else "round"
        body.append(
            f'<path d="{"".join(data)}" fill="none" stroke="{kind.colour}" stroke-width="{kind.width_mm:g}"{dashes} '
            f'stroke-linecap="{caps}" stroke-linejoin="round"/>'
        )
    for mark in marks:
        if isinstance(mark, Area):
            corners = "L".join(f"{number(x)} {number(height_mm - y)}" for x, y in mark.points)
            body.append(f'<path d="M{corners}Z" fill="{mark.colour}"/>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width_mm)}mm" height="{number(height_mm)}mm" '
        f'viewBox="0 0 {number(width_mm)} {number(height_mm)}">' + "".join(body) + "</svg>"
    )


def path_data(stroke: Stroke, height_mm: float) -> str:
    """A stroke as SVG path data, y turned down."""
    data = []
    for step in stroke.path:
        if step[0] == "Z":
            data.append("Z")
            continue
        *head, x, y = step
        end = f"{number(float(x))} {number(height_mm - float(y))}"
        if step[0] == "A":
            _, radius, large, left = head
            r = number(float(radius))
            data.append(f"A{r} {r} 0 {int(float(large))} {0 if left else 1} {end}")
        else:
            data.append(f"{step[0]}{end}")
    return "".join(data)


def number(value: float) -> str:
    """A length on paper to a tenth of a micrometre, without needless zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
