"""Pieces that several ready-made shapes share."""

from __future__ import annotations

import math
from collections.abc import Mapping

from steadfold.sheet.outline import circle
from steadfold.sheet.shapes.shape import Dimension, ShapeError, Sheet, Value
from steadfold.sheet.tree import Cutout, DrawnPanel, rectangular_panel

RIGHT_ANGLE = math.pi / 2


def length(key: str, default: float | None, say: str, low: float = 0.0, high: float = 3000.0) -> Dimension:
    """A length in mm; limits are what the shape makes sense for, not what a shop can make."""
    return Dimension(key, "length", default, say, low, high)


def count(key: str, default: int, say: str, low: int = 0, high: int = 100) -> Dimension:
    """A whole number."""
    return Dimension(key, "count", default, say, low, high)


def angle(key: str, default_deg: float, say: str, low_deg: float = 0.0, high_deg: float = 180.0) -> Dimension:
    """An angle, in rad inside."""
    return Dimension(key, "angle", math.radians(default_deg), say, math.radians(low_deg), math.radians(high_deg))


def fixing_row(
    how_many: int = 2,
    hole_mm: float = 6.6,
    takes: str = "M6",
    inset_mm: float = 25.0,
    height_mm: float = 55.0,
    on: str = "back",
    ends_of: str = "back",
    foot: str = "bottom edge of the back",
    most: int = 40,
) -> tuple[Dimension, ...]:
    """Dimensions of a row of fixing holes on a panel, measured from the ends and the foot of what is named."""
    return (
        count("mount_holes", how_many, f"how many holes the {on} has for its fixings, in one row", 0, most),
        length("mount_hole", hole_mm, f"diameter of those holes ({hole_mm:g} mm takes an {takes})", 2.0, 60.0),
        length("mount_inset", inset_mm, f"from each end of the {ends_of} to the centre of its first hole", 1.0),
        length("mount_height", height_mm, f"from the {foot} to the row of holes", 1.0),
    )


MOUNT_HOLES = fixing_row(hole_mm=9.0, takes="M8")
"""Dimensions of a row of fixing holes in a back panel."""


def number(values: Mapping[str, Value], key: str) -> float:
    """A dimension as a float."""
    value = values[key]
    assert isinstance(value, (int, float))
    return float(value)


def row_of_holes(
    how_many: int, diameter_mm: float, first_mm: float, last_mm: float, height_mm: float, name: str = "hole"
) -> tuple[Cutout, ...]:
    """Round holes evenly spread from the first centre to the last; one hole sits in the middle."""
    if how_many <= 0:
        return ()
    if how_many == 1:
        return (Cutout(circle(diameter_mm, (0.5 * (first_mm + last_mm), height_mm)), name),)
    step = (last_mm - first_mm) / (how_many - 1)
    return tuple(
        Cutout(circle(diameter_mm, (first_mm + i * step, height_mm)), f"{name} {i + 1}") for i in range(how_many)
    )


def mount_holes(values: Mapping[str, Value], width_mm: float, height_mm: float) -> tuple[Cutout, ...]:
    """The row of fixing holes of a back, checked to lie on it."""
    how_many, diameter = int(number(values, "mount_holes")), number(values, "mount_hole")
    inset, height = number(values, "mount_inset"), number(values, "mount_height")
    if how_many == 0:
        return ()
    if inset < 0.5 * diameter + 1 or (how_many > 1 and 2 * inset > width_mm - diameter):
        raise ShapeError(
            "mount_inset",
            f"holes of {diameter:g} mm, {inset:g} mm from each end, do not fit a back {width_mm:g} mm wide",
        )
    if not 0.5 * diameter + 1 <= height <= height_mm - 0.5 * diameter - 1:
        raise ShapeError(
            "mount_height",
            f"a row of {diameter:g} mm holes {height:g} mm up does not fit a back {height_mm:g} mm high",
        )
    return row_of_holes(how_many, diameter, inset, width_mm - inset, height, "mount hole")


def back_panel(values: Mapping[str, Value], width_mm: float, height_mm: float) -> DrawnPanel:
    """The back of a shape with its row of fixing holes, corners rounded."""
    holes = mount_holes(values, width_mm, height_mm)
    return rectangular_panel("back", width_mm, height_mm, corner_radius_mm=3.0, cutouts=holes)


WHY_LEG = "so that something is left beyond its bend"


def least_leg(sheet: Sheet) -> float:
    """The shortest leg that still has something plane beyond its bend."""
    return sheet.inside_radius_mm + sheet.thickness_mm + 1.0


def at_least(values: Mapping[str, Value], key: str, least: float, why: str) -> float:
    """A length that must not be less than something else asks for; 0 (left out) passes."""
    value = number(values, key)
    if 0 < value < least:
        raise ShapeError(key, f"{key} is {value:g} mm; make it {math.ceil(least * 10) / 10:g} mm or more, {why}")
    return value
