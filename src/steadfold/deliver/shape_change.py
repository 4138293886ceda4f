"""What each dimension of a ready-made shape does, found by building the shape with that dimension changed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, islice

import numpy as np

from steadfold.quantities import show_angle
from steadfold.quantities.showing import Units
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.shapes import Dimension, ReadyShape, ShapeError, Sheet, Value
from steadfold.sheet.tree import TreeError

SHEET = Sheet(3.0, 3.0)
"""The metal that shapes are drawn in."""

TYPICAL_MM = {"width": 240.0, "length": 160.0, "depth": 110.0, "inside_width": 70.0, "inside_depth": 50.0}
"""Sizes that a user must give, as the pictures take them."""


@dataclass(frozen=True)
class Change:
    """A shape before and after one of its dimensions was changed.

    `also` holds other dimensions that differ from their defaults in both, without which this one does nothing.
    """

    dimension: Dimension
    old: Value
    new: Value
    before: Part
    after: Part
    also: tuple[tuple[Dimension, Value], ...] = ()


def drawn_values(shape: ReadyShape) -> dict[str, Value]:
    """Every dimension by its key: the default, or a typical size where the user must give one."""
    return {d.key: TYPICAL_MM[d.key] if d.default is None else d.default for d in shape.dimensions}


def built(shape: ReadyShape, values: Mapping[str, Value]) -> Part:
    """The shape's part; raises `ShapeError` or `TreeError` when the values do not go together."""
    tree = shape.build(values, SHEET)
    rule = din_rule(SHEET.thickness_mm, SHEET.inside_radius_mm)
    return resolve(tree, shape.name, SHEET.thickness_mm, rule).part


def change_of(shape: ReadyShape, dimension: Dimension) -> Change:
    """The shape with one dimension changed within its limits: larger rather than smaller, and with the other
    dimensions at their defaults where that does it.

    Raises `ValueError` when no change of it, even with two other dimensions changed first, changes the part.
    """
    base = drawn_values(shape)
    old = base[dimension.key]
    others = [d for d in shape.dimensions if d.key != dimension.key]
    firsts = [(d, value) for d in others for value in islice(_candidates(d, base[d.key], True), 1)]
    for larger in (True, False):
        for count in (0, 1, 2):
            for also in combinations(firsts, count):
                values = {**base, **{d.key: value for d, value in also}}
                before = _built_or_none(shape, values) if any(_candidates(dimension, old, larger)) else None
                for new in _candidates(dimension, old, larger) if before is not None else ():
                    after = _built_or_none(shape, {**values, dimension.key: new})
                    if before is not None and after is not None and after != before:
                        return Change(dimension, old, new, before, after, also)
    raise ValueError(f"no change of {dimension.key!r} changes the {shape.name}")


def _built_or_none(shape: ReadyShape, values: Mapping[str, Value]) -> Part | None:
    try:
        return built(shape, values)
    except (ShapeError, TreeError):
        return None


def _candidates(dimension: Dimension, old: Value, larger: bool) -> Iterator[Value]:
    """Other values within the dimension's limits, the ones worth drawing first; choices count as larger."""
    if dimension.kind in ("choice", "flag"):
        others = dimension.choices if dimension.kind == "choice" else (not old,)
        yield from (value for value in others if larger and value != old)
        return
    assert isinstance(old, (int, float))
    low = -math.inf if dimension.low is None else dimension.low
    high = math.inf if dimension.high is None else dimension.high
    for value in _numbers(dimension, float(old)):
        if low <= value <= high and value != old and (value > old) == larger:
            yield int(value) if dimension.kind == "count" else value


def _numbers(dimension: Dimension, old: float) -> Sequence[float]:
    if dimension.kind == "angle":
        return [old + math.radians(step) for step in (30, 15, -30, -15)]
    if dimension.kind == "count":
        return (3.0,) if old == 0 else (old + 1, old + 2, old - 1, old - 2)
    if old == 0:
        return (20.0, 12.0, 30.0, 10.0, 40.0)
    shares = (1.6, 1.4, 1.25, 1.9, 1.15, 0.75, 0.6) if old < 40 else (1.35, 1.25, 1.15, 1.5, 1.1, 1.05, 0.75, 0.6)
    return [_round(old * share) for share in shares]


def _round(length_mm: float) -> float:
    step = 5.0 if length_mm >= 40 else (1.0 if length_mm >= 10 else 0.5)
    return step * round(length_mm / step)


def farthest_move(change: Change, toward: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """A place on the part before and after (3,), the one that the change carries farthest; of equals, the nearest to
    a viewer in the direction `toward`. None when the parts have other panels or corners, or only an outline's size
    changes."""
    one, other = _places(change.before), _places(change.after)
    if one is None or other is None or one.shape != other.shape:
        return None
    moved = np.linalg.norm(other - one, axis=1)
    if moved.max() < 1.0:
        return None
    most = np.flatnonzero(moved > moved.max() - 0.01)
    nearest = most[np.argmax(other[most] @ toward)]
    return one[nearest], other[nearest]


def _places(part: Part) -> np.ndarray | None:
    """Corners of all panels and centres of their round holes, in space, on the upper skin."""
    pose = fold(part)
    found = []
    for panel, frame in zip(part.panels, pose.panels, strict=True):
        for face in panel.faces:
            found.append(frame.points(np.asarray(face.outer.points), 0.5 * part.thickness_mm))
            for hole in face.holes:
                centre = hole.circle
                points = np.array([centre[0]]) if centre is not None else np.asarray(hole.points)
                found.append(frame.points(points, 0.5 * part.thickness_mm))
    return np.concatenate(found) if found else None


def show_value(dimension: Dimension, value: Value, units: Units = "mm") -> str:
    """A dimension's value for people.

    >>> show_value(Dimension("width", "length", 9.0, ""), 9.0, "in")
    '0.354 in'
    """
    if dimension.kind == "length":
        length = float(value)
        return f"{round(length / 25.4, 3):g} in" if units == "in" else f"{round(length, 2):g} mm"
    if dimension.kind == "angle":
        return show_angle(float(value))
    if dimension.kind == "flag":
        return "yes" if value else "no"
    return str(value)


def show_both(dimension: Dimension, value: Value) -> str:
    """A length in mm and inch; anything else as it is."""
    if dimension.kind != "length" or value == 0:
        return "0" if dimension.kind == "length" else show_value(dimension, value)
    return f"{show_value(dimension, value)} ({show_value(dimension, value, 'in')})"
