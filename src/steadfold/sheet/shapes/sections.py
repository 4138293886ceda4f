"""Shapes that are one folded section: angle bracket, channel, hat."""

from __future__ import annotations

from collections.abc import Mapping

from steadfold.sheet.shapes.build import (
    RIGHT_ANGLE,
    WHY_LEG,
    angle,
    at_least,
    count,
    least_leg,
    length,
    number,
    row_of_holes,
)
from steadfold.sheet.shapes.shape import ReadyShape, ShapeError, Sheet, Value
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel


def _holes(values: Mapping[str, Value], key: str, along_mm: float, height_mm: float) -> tuple[Cutout, ...]:
    """A row of holes in a leg, from `inset` to `inset` along it."""
    how_many, diameter, inset = int(number(values, key)), number(values, "hole"), number(values, "inset")
    if how_many and (inset < 0.5 * diameter + 1 or (how_many > 1 and along_mm - 2 * inset < diameter)):
        raise ShapeError("inset", f"holes of {diameter:g} mm, {inset:g} mm from each end, do not fit {along_mm:g} mm")
    return row_of_holes(how_many, diameter, inset, along_mm - inset, height_mm)


def _angle_bracket(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    width = number(values, "width")
    upright, arm = number(values, "upright"), number(values, "arm")
    at_least(values, "upright", 2 * least_leg(sheet), WHY_LEG)
    at_least(values, "arm", 2 * least_leg(sheet), WHY_LEG)
    upright_holes = _upright_holes(values, width, upright)
    arm_holes = _holes(values, "arm_holes", width, arm - number(values, "hole_from_edge"))
    return PanelTree(
        (
            rectangular_panel("upright", width, upright, corner_radius_mm=3.0, cutouts=upright_holes),
            rectangular_panel(
                "arm",
                width,
                arm,
                "upright",
                "bottom",
                number(values, "bend"),
                cutouts=arm_holes,
                corner_radius_mm=3.0,
            ),
        ),
        (("arm", ("arm",)),),
    )


def _upright_holes(values: Mapping[str, Value], width: float, upright: float) -> tuple[Cutout, ...]:
    """One row near the top, and a second row lower down when its height is given."""
    rows = [upright - number(values, "hole_from_edge")]
    if number(values, "second_row") > 0:
        rows.append(number(values, "second_row"))
    return tuple(c for height in rows for c in _holes(values, "upright_holes", width, height))


ANGLE_BRACKET = ReadyShape(
    "angle bracket",
    "two legs at an angle, with holes in each",
    (
        length("width", 40.0, "width of the bracket, along its bend", 5.0),
        length("upright", 150.0, "height of the leg on the wall, outside", 8.0),
        length("arm", 250.0, "length of the leg that stands out, outside", 8.0),
        angle("bend", 90.0, "what the arm is bent through", 15.0, 165.0),
        length("hole", 7.0, "diameter of the holes (7 mm takes an M6)", 1.0, 60.0),
        count("upright_holes", 1, "how many holes in a row across the upright", 0, 20),
        count("arm_holes", 1, "how many holes in a row across the arm", 0, 20),
        length("inset", 20.0, "from each side of the bracket to its first hole", 1.0),
        length("hole_from_edge", 20.0, "from the free end of each leg to its row of holes", 1.0),
        length("second_row", 20.0, "height of a second row of holes above the bend, outside; 0 for none"),
    ),
    _angle_bracket,
)


def _channel(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    long, web = number(values, "length"), number(values, "web")
    flange = at_least(values, "flange", least_leg(sheet), WHY_LEG)
    lip = at_least(values, "lip", least_leg(sheet), WHY_LEG)
    at_least(values, "web", 2 * least_leg(sheet), WHY_LEG)
    panels = [rectangular_panel("web", long, web, cutouts=_holes(values, "holes", long, 0.5 * web))]
    for name, edge in (("lower flange", "bottom"), ("upper flange", "top")):
        panels.append(rectangular_panel(name, long, flange, "web", edge, RIGHT_ANGLE))
    if lip > 0:
        for name in ("lower", "upper"):
            panels.append(rectangular_panel(f"{name} lip", long, lip, f"{name} flange", "far", RIGHT_ANGLE))
    return PanelTree(tuple(panels), (("flanges", ("lower flange", "upper flange")),))


CHANNEL = ReadyShape(
    "channel",
    "a web and two flanges, with or without lips",
    (
        length("length", None, "length along the bends", 10.0),
        length("web", 60.0, "width of the web, outside", 6.0),
        length("flange", 30.0, "height of the flanges, outside", 3.0),
        length("lip", 0.0, "width of the lips turned in at the flanges' ends, outside; 0 for none"),
        count("holes", 2, "how many holes along the middle of the web", 0, 60),
        length("hole", 9.0, "diameter of the holes (9 mm takes an M8)", 1.0, 60.0),
        length("inset", 25.0, "from each end to the centre of the first hole", 1.0),
    ),
    _channel,
)


def _hat(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    long, top = number(values, "length"), number(values, "top")
    side = at_least(values, "side", 2 * least_leg(sheet), WHY_LEG)
    brim = at_least(values, "brim", least_leg(sheet), WHY_LEG)
    at_least(values, "top", 2 * least_leg(sheet), WHY_LEG)
    turn = number(values, "bend")
    panels = [rectangular_panel("top", long, top)]
    for name, edge in (("lower", "bottom"), ("upper", "top")):
        panels.append(rectangular_panel(f"{name} side", long, side, "top", edge, -turn))
        panels.append(
            rectangular_panel(
                f"{name} brim",
                long,
                brim,
                f"{name} side",
                "far",
                turn,
                corner_radius_mm=3.0,
                cutouts=_holes(values, "holes", long, brim - number(values, "hole_from_edge")),
            )
        )
    return PanelTree(tuple(panels), (("top", ("top",)),))


HAT = ReadyShape(
    "hat",
    "a top, two sides and two brims that lie on the wall",
    (
        length("length", None, "length along the bends", 10.0),
        length("top", 50.0, "width of the top, outside", 6.0),
        length("side", 30.0, "height of the sides, outside", 6.0),
        length("brim", 25.0, "width of the brims, outside", 3.0),
        angle("bend", 90.0, "what the sides are bent through", 30.0, 120.0),
        count("holes", 2, "how many holes along each brim", 0, 60),
        length("hole", 6.6, "diameter of the holes (6.6 mm takes an M6)", 1.0, 60.0),
        length("inset", 25.0, "from each end to the centre of the first hole", 1.0),
        length("hole_from_edge", 9.0, "from the brim's free edge to the row of holes", 1.0),
    ),
    _hat,
)
