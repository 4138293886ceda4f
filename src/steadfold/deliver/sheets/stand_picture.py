"""A stand as lines: members, rods, the machine's box, numbers; in isometric view from above and in front."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from steadfold.deliver.drawing.lines import NEIGHBOUR, LineType
from steadfold.deliver.drawing.marks import Mark, Place, Words, line, picture
from steadfold.deliver.sheets.pictures import numbered
from steadfold.deliver.view import View, isometric
from steadfold.stand.answers import StandReport

MEMBER = LineType("", 0.9)
ROD = LineType("", 0.4)
DONE = LineType("", 0.5, (), "#9aa8b1")
"""A member put up in an earlier step."""


def stand_picture(
    report: StandReport, width_mm: float, height_mm: float, shown: Sequence[str] | None = None, new: str | None = None
) -> dict[str, Any]:
    """The frame fitted into a room on paper, its members numbered in the order of the stand.

    With `shown` only those members and rods are drawn; `new` is drawn strong and the others thin, without numbers.
    """
    view = isometric("z")
    machine = report.stand.machine
    corners = np.concatenate([each.places for each in report.drawn])
    box = _box(report) if machine is not None and shown is None else np.empty((0, 3))
    place = _fitted(view, np.concatenate([corners, box]), width_mm, height_mm)
    marks: list[Mark] = []
    if len(box):
        marks += _box_marks(box, place)
        at = place(box[4:].mean(axis=0))
        marks.append(Words((at[0], at[1] - 0.8), machine.name if machine else "", 1.9, paper=True))
    rods = {rod.name for rod in report.stand.tie_rods}
    numbers: list[Mark] = []
    for number, each in enumerate(report.drawn):
        if shown is not None and each.member not in shown:
            continue
        kind = ROD if each.member in rods else MEMBER
        if new is not None and each.member != new:
            kind = DONE
        marks.append(line([place(p) for p in each.places], kind))
        if new is None:
            numbers += numbered(place(0.5 * (each.places[0] + each.places[-1])), str(number + 1))
    return picture([*marks, *numbers], width_mm, height_mm)


Placed = Callable[[np.ndarray], tuple[float, float]]


def _fitted(view: View, points: np.ndarray, width_mm: float, height_mm: float) -> Placed:
    seen = view.seen(points)[:, :2]
    low, high = seen.min(axis=0), seen.max(axis=0)
    wide, tall = np.maximum(high - low, 1.0)
    scale = min((width_mm - 10.0) / float(wide), (height_mm - 10.0) / float(tall))
    x = 0.5 * width_mm - 0.5 * scale * float(low[0] + high[0])
    y = 0.5 * height_mm - 0.5 * scale * float(low[1] + high[1])
    on_paper = Place(scale, x, y)

    def place(point: np.ndarray) -> tuple[float, float]:
        at = view.seen(np.asarray(point, dtype=float)[None])[0]
        return on_paper((float(at[0]), float(at[1])))

    return place


def _box(report: StandReport) -> np.ndarray:
    """The corners (8, 3) of the machine's box, standing on the frame; round its feet where no size is given."""
    machine = report.stand.machine
    assert machine is not None
    feet = np.array(machine.feet_mm, dtype=float)
    low, high = feet.min(axis=0), feet.max(axis=0)
    middle = 0.5 * (low + high)
    size = machine.size_mm or (float(high[0] - low[0]), float(high[1] - low[1]), 300.0)
    bottom = _height_at(report, middle)
    half = 0.5 * np.array(size[:2])
    found = []
    for z in (bottom, bottom + size[2]):
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            found.append((middle[0] + sx * half[0], middle[1] + sy * half[1], z))
    return np.array(found)


def _height_at(report: StandReport, middle: np.ndarray) -> float:
    """How high the members lie that the machine stands on: the highest level ones near its middle, else the origin."""
    level = [
        each.places
        for each in report.drawn
        if abs(float(each.places[0][2] - each.places[-1][2])) < 1.0 and np.ptp(each.places, axis=0).max() > 1.0
    ]
    near = [float(p[0][2]) for p in level if p[:, 0].min() - 1 <= middle[0] <= p[:, 0].max() + 1]
    return max(near or [float(p[0][2]) for p in level] or [0.0])


def _box_marks(box: np.ndarray, place: Placed) -> list[Mark]:
    lower, upper = [place(p) for p in box[:4]], [place(p) for p in box[4:]]
    marks: list[Mark] = [line([a, b], NEIGHBOUR) for ring in (lower, upper) for a, b in pairwise([*ring, ring[0]])]
    return [*marks, *(line([a, b], NEIGHBOUR) for a, b in zip(lower, upper, strict=True))]
