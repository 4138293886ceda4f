"""What may stand under each key of a shop file, and how it is read; numbers of lengths, forces and times need a unit."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from steadfold.quantities import QuantityError, read_angle, read_force, read_length, read_mass, read_time


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise QuantityError(value, f"{value!r} is not a number")
    return float(value)


def _positive(read: Callable[[Any], float]) -> Callable[[Any], float]:
    def reading(value: Any) -> float:
        number = read(value)
        if number <= 0:
            raise QuantityError(value, f"{value!r} must be more than 0")
        return number

    return reading


def _not_negative(read: Callable[[Any], float]) -> Callable[[Any], float]:
    def reading(value: Any) -> float:
        number = read(value)
        if number < 0:
            raise QuantityError(value, f"{value!r} must not be less than 0")
        return number

    return reading


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise QuantityError(value, f"{value!r} is not a text")
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise QuantityError(value, f"{value!r} is neither true nor false")
    return value


def _kilonewton(value: Any) -> float:
    return read_force(value) / 1000.0


def _capacity(value: Any) -> float:
    text = _text(value).strip()
    if not text.endswith("/m"):
        raise QuantityError(value, f"{value!r} is not a force per metre; write it like \"1000 kN/m\"")
    return read_force(text[:-2]) / 1000.0


def _many(read: Callable[[Any], float], count: int) -> Callable[[Any], tuple[float, ...]]:
    def reading(value: Any) -> tuple[float, ...]:
        if not isinstance(value, list) or len(value) != count:
            raise QuantityError(value, f"{value!r} is not a list of {count} values")
        return tuple(read(each) for each in value)

    return reading


def _points(value: Any) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list) or len(value) < 3:
        raise QuantityError(value, "an outline is a list of at least three points [y, z] in mm")
    points = []
    for each in value:
        if not isinstance(each, list) or len(each) != 2:
            raise QuantityError(value, f"{each!r} is not a point [y, z] in mm")
        points.append((_number(each[0]), _number(each[1])))
    return tuple(points)


_length, _gap = _positive(read_length), _not_negative(read_length)
_time = _not_negative(read_time)
_factor = _positive(_number)
Keys = Mapping[str, Callable[[Any], Any]]
"""Key to the function that reads its value, which raises `QuantityError` for a wrong one."""

WORDS: Keys = {"name": _text, "note": _text}

LASER: Keys = {
    "tolerance": _gap, "kerf": _gap, "least_hole_t": _factor, "least_hole": _length, "least_web_t": _factor,
    "least_web": _length,
}
THICKEST = _length
"""How a family's or material's thickest sheet is read."""
BRAKE: Keys = {
    "length": _length, "force": _positive(_kilonewton), "opening": _length, "bed_half_width": _length,
    "end_allowance": _gap, "angle_tolerance": _not_negative(read_angle), "leg_tolerance": _gap,
    "flattens_hems": _flag, "flattening_half_width": _length, "gauge_reach": _length,
}
BENDING: Keys = {"v_of_t": _factor, "hem_radius_t": _not_negative(_number)}
RADIUS_OF_V = _factor
"""How a family's or material's inside radius, as a share of the die's opening, is read."""
PUNCH: Keys = {
    "name": _text, "kind": _text, "half_thickness": _length, "height": _length, "clamp_half_width": _length,
    "included": _positive(read_angle), "capacity": _positive(_capacity), "throat": _length,
    "throat_from": _length, "throat_to": _length, "outline_mm": _points, "max_bend": _positive(read_angle),
}
DIE: Keys = {
    "name": _text, "kind": _text, "v": _length, "half_width": _length, "height": _length,
    "least_flange": _length, "included": _positive(read_angle), "capacity": _positive(_capacity),
    "max_bend": _positive(read_angle),
}
SHEET: Keys = {"width": _length, "length": _length}
SHELF: Keys = {"material": _text, "thickness": lambda value: value}
COATER: Keys = {
    "oven": _many(_length, 3), "heaviest": _positive(read_mass), "coat": _many(_gap, 2),
    "least_hanging_hole": _length, "drain_hole": _length,
}
HANDLING: Keys = {
    "flip": _time, "half_turn": _time, "quarter_turn": _time, "tool_change": _time, "out_sideways": _time,
    "cut_back_punch": _time, "no_gauge": _time, "gauge_on_flange": _time, "long_side_back": _time, "stroke": _time,
    "lift_by_hand": _positive(read_mass),
}
BEND: Keys = {
    "material": _text, "thickness": _length, "inside_radius": _gap, "angle": _positive(read_angle),
    "k_factor": _positive(_number), "deduction": _length,
}
TOP = (
    "name", "note", "laser", "brake", "bending", "punch", "die", "sheet", "shelf", "coater", "handling",
    "bend", "rates",
)
"""Keys and tables at the top of the file."""
