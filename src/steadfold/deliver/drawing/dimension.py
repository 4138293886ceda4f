"""Dimensions by ISO 129-1: extension lines, dimension line with filled arrowheads, value above it.

Values read from below or from the right. All on paper, in mm; what a value says comes in as text.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from steadfold.deliver.drawing.lines import NARROW
from steadfold.deliver.drawing.marks import TEXT_MM, Area, Mark, Words, arc_stroke, circle_stroke, line
from steadfold.sheet.outline import Point

ARROW_MM, ARROW_HALF_MM = 3.0, 0.45
GAP_MM, PAST_MM = 1.0, 2.0
"""From the outline to the start of an extension line; how far that runs past the dimension line."""

FIRST_MM, NEXT_MM = 9.0, 7.5
"""From the outline to the first dimension line, and from one to the next."""

ABOVE_MM = 0.9

Side = Literal["left", "right", "top", "bottom"]


def arrowhead(tip: Point, along: Point) -> Area:
    """A filled arrowhead whose tip points along a unit vector."""
    (x, y), (u, v) = tip, along
    back = (x - ARROW_MM * u, y - ARROW_MM * v)
    return Area(
        (
            tip,
            (back[0] - ARROW_HALF_MM * v, back[1] + ARROW_HALF_MM * u),
            (back[0] + ARROW_HALF_MM * v, back[1] - ARROW_HALF_MM * u),
        )
    )


def readable(angle_deg: float) -> float:
    """The angle of text along a direction, read from below or from the right.

    >>> readable(180.0), readable(-90.0), readable(135.0)
    (0.0, 90.0, -45.0)
    """
    turned = (angle_deg + 180.0) % 360.0 - 180.0
    if turned > 90.0 + 1e-6:
        turned -= 180.0
    elif turned <= -90.0 + 1e-6:
        turned += 180.0
    return turned


def length(start: Point, end: Point, along: Point, away_mm: float, text: str) -> list[Mark]:
    """A dimension between two points, measured along a unit vector.

    `away_mm` is where its line lies, measured from the origin along the vector turned to the left.
    """
    u, v = along
    normal = (-v, u)

    def foot(point: Point) -> Point:
        reach = away_mm - (point[0] * normal[0] + point[1] * normal[1])
        return (point[0] + reach * normal[0], point[1] + reach * normal[1])

    a, b = foot(start), foot(end)
    if (b[0] - a[0]) * u + (b[1] - a[1]) * v < 0:
        a, b, start, end = b, a, end, start
    span = math.dist(a, b)
    marks: list[Mark] = []
    for point, on in ((start, a), (end, b)):
        reach = math.dist(point, on)
        if reach > GAP_MM + 0.2:
            w = ((on[0] - point[0]) / reach, (on[1] - point[1]) / reach)
            marks.append(
                line(
                    [
                        (point[0] + GAP_MM * w[0], point[1] + GAP_MM * w[1]),
                        (on[0] + PAST_MM * w[0], on[1] + PAST_MM * w[1]),
                    ],
                    NARROW,
                )
            )
    angle = readable(math.degrees(math.atan2(v, u)))
    words = Words((0.0, 0.0), text)
    inside = span >= 2 * ARROW_MM + 1.0
    if inside:
        marks += [line([a, b], NARROW), arrowhead(a, (-u, -v)), arrowhead(b, (u, v))]
    else:
        out = ARROW_MM + 2.0
        marks.append(line([(a[0] - out * u, a[1] - out * v), (b[0] + out * u, b[1] + out * v)], NARROW))
        marks += [arrowhead(a, (u, v)), arrowhead(b, (-u, -v))]
    up = (-math.sin(math.radians(angle)), math.cos(math.radians(angle)))
    if words.width_mm <= span - (1.0 if inside else 0.0):
        middle = (0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]))
    else:
        # No room between the extension lines: the value stands on the line's prolongation.
        past = 0.5 * words.width_mm + ARROW_MM + 2.5
        middle = (b[0] + past * u, b[1] + past * v)
        tail = past + 0.5 * words.width_mm
        marks.append(line([b, (b[0] + tail * u, b[1] + tail * v)], NARROW))
    marks.append(Words((middle[0] + ABOVE_MM * up[0], middle[1] + ABOVE_MM * up[1]), text, angle_deg=angle))
    return marks


def angle(apex: Point, first_rad: float, turn_rad: float, radius_mm: float, text: str) -> list[Mark]:
    """An angle between two directions from an apex: an arc with arrowheads, the value outside its middle."""
    marks: list[Mark] = [arc_stroke(apex, radius_mm, first_rad, turn_rad, NARROW)]
    sign = math.copysign(1.0, turn_rad)
    lean = 0.5 * ARROW_MM / radius_mm
    for at, direction in ((first_rad, -sign), (first_rad + turn_rad, sign)):
        tip = (apex[0] + radius_mm * math.cos(at), apex[1] + radius_mm * math.sin(at))
        # The head is straight, the arc is not: half its length is leaned into the curve.
        tangent = at - direction * lean
        along = (-direction * math.sin(tangent), direction * math.cos(tangent))
        marks.append(arrowhead(tip, along))
    for at in (first_rad, first_rad + turn_rad):
        marks.append(
            line(
                [
                    (apex[0] + 1.0 * math.cos(at), apex[1] + 1.0 * math.sin(at)),
                    (apex[0] + (radius_mm + 1.5) * math.cos(at), apex[1] + (radius_mm + 1.5) * math.sin(at)),
                ],
                NARROW,
            )
        )
    middle = first_rad + 0.5 * turn_rad
    words = Words((0.0, 0.0), text)
    out = radius_mm + 1.5
    x, y = apex[0] + out * math.cos(middle), apex[1] + out * math.sin(middle)
    anchor: Literal["start", "middle", "end"] = "middle"
    if math.cos(middle) > 0.35:
        anchor = "start"
    elif math.cos(middle) < -0.35:
        anchor = "end"
    down = words.height_mm * (0.5 - 0.5 * math.sin(middle))
    marks.append(Words((x, y - down), text, anchor=anchor, paper=True))
    return marks


@dataclass(frozen=True)
class Running:
    """One value of a row of running dimensions: where it is measured to, and what it says."""

    at_mm: float
    text: str


def running(
    values: Sequence[Running], side: Side, place_mm: float, feet_mm: Sequence[float], origin_mm: float
) -> list[Mark]:
    """Running dimensions from one origin (ISO 129-1, superimposed running dimensioning).

    Values lie along x for top and bottom, along y for left and right. `place_mm` is where their row stands,
    `feet_mm` where the drawing's edge is at each. Values too near to each other are spread, their extension lines
    bent. The origin carries a small circle.
    """
    if not values:
        return []
    horizontal = side in ("top", "bottom")
    out = 1.0 if side in ("top", "right") else -1.0
    spread = spread_out([v.at_mm for v in values], TEXT_MM + 1.0)
    knee = place_mm - out * 4.0

    def on(along: float, across: float) -> Point:
        return (along, across) if horizontal else (across, along)

    marks: list[Mark] = []
    for value, at, foot in zip(values, spread, feet_mm, strict=True):
        start = foot + out * GAP_MM
        marks.append(
            line(
                [on(value.at_mm, start), on(value.at_mm, knee), on(at, place_mm), on(at, place_mm + out * 1.0)], NARROW
            )
        )
        if abs(value.at_mm - origin_mm) < 1e-6:
            marks.append(circle_stroke(on(value.at_mm, foot), 0.8, NARROW))
        text = on(at + (0.5 * TEXT_MM if horizontal else -0.5 * TEXT_MM), place_mm + out * 1.8)
        if horizontal:
            marks.append(Words(text, value.text, anchor="start" if out > 0 else "end", angle_deg=90.0))
        else:
            marks.append(Words(text, value.text, anchor="start" if out > 0 else "end"))
    return marks


def spread_out(values: Sequence[float], least: float) -> list[float]:
    """Values moved as little as may be (least squares) so that each is at least so far above the one before it.

    Values in rising order. Source: isotonic regression by pooling neighbours that are out of order.

    >>> spread_out([0.0, 1.0, 10.0], 3.0)
    [-1.0, 2.0, 10.0]
    """
    pools: list[tuple[float, int]] = []
    for i, value in enumerate(values):
        mean, count = value - i * least, 1
        while pools and pools[-1][0] > mean:
            before, many = pools.pop()
            mean = (mean * count + before * many) / (count + many)
            count += many
        pools.append((mean, count))
    level = [mean for mean, count in pools for _ in range(count)]
    return [mean + i * least for i, mean in enumerate(level)]


@dataclass
class Levels:
    """Rows of dimension lines beside a view, filled from the inside so that no two on one level overlap."""

    rows: list[list[tuple[float, float]]]

    @classmethod
    def empty(cls) -> Levels:
        """No dimension yet."""
        return cls([])

    def take(self, low: float, high: float, room: float = 4.0) -> int:
        """The first level where a span is free; it is taken."""
        low, high = min(low, high) - room, max(low, high) + room
        for number, row in enumerate(self.rows):
            if all(high <= a or low >= b for a, b in row):
                row.append((low, high))
                return number
        self.rows.append([(low, high)])
        return len(self.rows) - 1
