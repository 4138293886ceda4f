"""Which bends the brake makes in one stroke: those on one line of the sheet that turn alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from steadfold.sheet.outline import Isometry
from steadfold.sheet.part import Bend, Part
from steadfold.sheet.pose import flat_places

ON_LINE_MM = 0.05
ALIKE_RAD = math.radians(0.1)


@dataclass(frozen=True)
class Stroke:
    """One or several bends made together.

    `places` tells for each bend where its own x axis starts on the line of the first, and +1 or -1 for its sense;
    `along_mm` are the ends of the whole on that line. `metal_mm` is the length of metal that is bent, gaps and
    holes taken off.
    """

    bends: tuple[int, ...]
    parents: tuple[int, ...]
    children: tuple[int, ...]
    places: tuple[tuple[float, float], ...]
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
    """The strokes of a part, in the order of their first bends.

    Bends on one line make one stroke when they belong to one panel, or to panels that were bent from one panel in
    one stroke themselves: these stay in line whether that stroke has been made or not.
    """
    strips = flat_places(part)[1]
    groups: list[list[int]] = []
    group_of_child: dict[int, int] = {}
    for index, bend in enumerate(part.bends):
        home = next(
            (
                place
                for place, group in enumerate(groups)
                if _alike(part.bends[group[0]], bend)
                and _same_way(strips[group[0]], strips[index])
                and _stay_in_line(part.bends[group[0]].parent, bend.parent, group_of_child)
            ),
            len(groups),
        )
        if home == len(groups):
            groups.append([])
        groups[home].append(index)
        group_of_child[bend.child] = home
    return tuple(_stroke(part, strips, group) for group in groups)


def metal_length_mm(bend: Bend) -> float:
    """Length of metal in a bend, as if its strip's area were one full-width piece."""
    return sum(face.area_mm2 for face in bend.faces) / bend.allowance_mm


def _alike(first: Bend, bend: Bend) -> bool:
    return (
        abs(first.angle_rad - bend.angle_rad) < ALIKE_RAD
        and abs(first.inside_radius_mm - bend.inside_radius_mm) < 0.01
        and abs(first.allowance_mm - bend.allowance_mm) < 0.01
    )


def _same_way(first: Isometry, strip: Isometry) -> bool:
    """Whether two strips start on one line of the flat and run the same way from it."""
    dx, dy = strip.origin[0] - first.origin[0], strip.origin[1] - first.origin[1]
    off = abs(dx * first.away[0] + dy * first.away[1])
    same = first.away[0] * strip.away[0] + first.away[1] * strip.away[1]
    return off < ON_LINE_MM and same > 1 - 1e-6


def _stay_in_line(one: int, two: int, group_of_child: dict[int, int]) -> bool:
    if one == two:
        return True
    return one in group_of_child and group_of_child[one] == group_of_child.get(two, -1)


def _stroke(part: Part, strips: Sequence[Isometry], group: list[int]) -> Stroke:
    bends = [part.bends[index] for index in group]
    first, line = bends[0], strips[group[0]]
    places, ends = [], []
    for index, bend in zip(group, bends, strict=True):
        strip = strips[index]
        dx, dy = strip.origin[0] - line.origin[0], strip.origin[1] - line.origin[1]
        start = dx * line.along[0] + dy * line.along[1]
        sense = 1.0 if line.along[0] * strip.along[0] + line.along[1] * strip.along[1] > 0 else -1.0
        places.append((start, sense))
        ends += [start, start + sense * bend.length_mm]
    return Stroke(
        tuple(group),
        tuple(bend.parent for bend in bends),
        tuple(bend.child for bend in bends),
        tuple(places),
        first.angle_rad,
        first.inside_radius_mm,
        first.allowance_mm,
        first.middle_length_mm,
        (min(ends), max(ends)),
        sum(metal_length_mm(bend) for bend in bends),
    )
