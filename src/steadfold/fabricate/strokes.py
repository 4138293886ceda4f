"""Which bends the brake makes in one stroke: those on one line of one panel that turn alike."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.sheet.part import Bend, Part

ON_LINE_MM = 0.05
ALIKE_RAD = math.radians(0.1)


@dataclass(frozen=True)
class Stroke:
    """One or several bends made together.

    `along_mm` are the ends of the stroke along the line of its first bend, from that bend's own point.
    `metal_mm` is the length of metal that is bent, gaps and holes taken off.
    """

    bends: tuple[int, ...]
    parent: int
    children: tuple[int, ...]
    angle_rad: float
    inside_radius_mm: float
    allowance_mm: float
    middle_length_mm: float
    along_mm: tuple[float, float]
    metal_mm: float

    @property
    def length_mm(self) -> float:
        """From one end to the other, gaps included."""
        return self.along_mm[1] - self.along_mm[0]


def strokes_of(part: Part) -> tuple[Stroke, ...]:
    """The strokes of a part, in the order of their first bends."""
    groups: list[list[int]] = []
    for index, bend in enumerate(part.bends):
        home = next((group for group in groups if _alike(part.bends[group[0]], bend)), None)
        if home is None:
            groups.append([index])
        else:
            home.append(index)
    return tuple(_stroke(part, group) for group in groups)


def line_place(first: Bend, bend: Bend) -> tuple[float, float]:
    """Where a bend's own x axis lies on the line of another on the same panel: start, and +1 or -1 for
    its sense."""
    dx, dy = bend.parent_point[0] - first.parent_point[0], bend.parent_point[1] - first.parent_point[1]
    (ax, ay), (bx, by) = first.parent_along, bend.parent_along
    return dx * ax + dy * ay, 1.0 if ax * bx + ay * by > 0 else -1.0


def metal_length_mm(bend: Bend) -> float:
    """Length of metal in a bend, as if its strip's area were one full-width piece."""
    return sum(face.area_mm2 for face in bend.faces) / bend.allowance_mm


def _alike(first: Bend, bend: Bend) -> bool:
    if first.parent != bend.parent:
        return False
    dx, dy = bend.parent_point[0] - first.parent_point[0], bend.parent_point[1] - first.parent_point[1]
    off = abs(dx * first.parent_away[0] + dy * first.parent_away[1])
    same_way = first.parent_away[0] * bend.parent_away[0] + first.parent_away[1] * bend.parent_away[1]
    return (
        off < ON_LINE_MM
        and same_way > 1 - 1e-6
        and abs(first.angle_rad - bend.angle_rad) < ALIKE_RAD
        and abs(first.inside_radius_mm - bend.inside_radius_mm) < 0.01
    )


def _stroke(part: Part, group: list[int]) -> Stroke:
    bends = [part.bends[index] for index in group]
    first = bends[0]
    ends: list[float] = []
    for bend in bends:
        start, sense = line_place(first, bend)
        ends += [start, start + sense * bend.length_mm]
    return Stroke(
        tuple(group),
        first.parent,
        tuple(bend.child for bend in bends),
        first.angle_rad,
        first.inside_radius_mm,
        first.allowance_mm,
        first.middle_length_mm,
        (min(ends), max(ends)),
        sum(metal_length_mm(bend) for bend in bends),
    )
