"""Shapes that things stand or lie in: saddle, tray, shelf, square pocket."""

from __future__ import annotations

from collections.abc import Mapping

from steadfold.sheet.outline import circle, obround
from steadfold.sheet.shapes.build import (
    MOUNT_HOLES,
    RIGHT_ANGLE,
    WHY_LEG,
    at_least,
    back_panel,
    count,
    fixing_row,
    least_leg,
    length,
    mount_holes,
    number,
)
from steadfold.sheet.shapes.shape import ReadyShape, ShapeError, Sheet, Value
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel


def _saddle(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    width, height, depth = number(values, "width"), number(values, "height"), number(values, "depth")
    cheek = at_least(values, "cheek", least_leg(sheet), WHY_LEG)
    across, deep = number(values, "notch_width"), number(values, "notch_depth")
    if across > 0 and (
        deep >= depth - 2 * least_leg(sheet) or across >= width - 2 * (cheek > 0) * least_leg(sheet) - 6
    ):
        raise ShapeError(
            "notch_depth",
            f"a notch {across:g} × {deep:g} mm leaves nothing of a seat {width:g} × {depth:g} mm",
        )
    notch: tuple[Cutout, ...] = ()
    if across > 0 and deep > 0:
        long = 2 * deep
        shape = (
            obround(long, across, (0.5 * width, depth), RIGHT_ANGLE)
            if long > across
            else circle(across, (0.5 * width, depth))
        )
        notch = (Cutout(shape, "notch"),)
    panels = [
        back_panel(values, width, height),
        rectangular_panel("seat", width, depth, "back", "bottom", RIGHT_ANGLE, cutouts=notch, corner_radius_mm=3.0),
    ]
    if cheek > 0:
        for side in ("left", "right"):
            panels.append(
                rectangular_panel(f"{side} cheek", depth, cheek, "seat", side, RIGHT_ANGLE, corner_radius_mm=5.0)
            )
    return PanelTree(tuple(panels), (("seat", ("seat",)),))


SADDLE = ReadyShape(
    "saddle",
    "a seat with cheeks and an open notch, for a tool that hangs by its body",
    (
        length("width", 90.0, "width of the back and seat", 20.0),
        length("height", 90.0, "height of the back", 15.0),
        length("depth", 80.0, "depth of the seat, from the back's rear face, outside", 15.0),
        length("cheek", 25.0, "height of the cheeks at both ends of the seat, outside; 0 for none"),
        length("notch_width", 34.0, "width of the notch that opens to the front; 0 for none"),
        length("notch_depth", 40.0, "depth of the notch from the front edge"),
        *MOUNT_HOLES,
    ),
    _saddle,
)


def _tray(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    width, depth = number(values, "width"), number(values, "depth")
    wall = at_least(values, "wall", least_leg(sheet), WHY_LEG)
    back = max(at_least(values, "back_wall", least_leg(sheet), WHY_LEG), wall)
    how_many = int(number(values, "drain_holes"))
    drains = []
    for i in range(how_many):
        drains.append(
            Cutout(
                circle(number(values, "drain_hole"), ((i + 0.5) * width / how_many, 0.5 * depth)),
                f"drain {i + 1}",
            )
        )
    panels = [rectangular_panel("floor", width, depth, cutouts=tuple(drains))]
    panels.append(
        rectangular_panel(
            "back",
            width,
            back,
            "floor",
            "top",
            RIGHT_ANGLE,
            cutouts=mount_holes(values, width, back),
            corner_radius_mm=3.0,
        )
    )
    for name, edge, long in (("front", "bottom", width), ("left", "left", depth), ("right", "right", depth)):
        panels.append(rectangular_panel(name, long, wall, "floor", edge, RIGHT_ANGLE, corner_radius_mm=3.0))
    return PanelTree(tuple(panels), (("floor", ("floor",)),))


TRAY = ReadyShape(
    "tray",
    "a floor with four walls; the back wall may be higher and take the fixings",
    (
        length("width", None, "width of the tray, outside", 30.0),
        length("depth", None, "depth of the tray, outside", 30.0),
        length("wall", 30.0, "height of front and side walls, outside", 3.0),
        length("back_wall", 60.0, "height of the back wall, outside", 3.0),
        count("drain_holes", 0, "how many drain holes the floor has, in one row", 0, 40),
        length("drain_hole", 8.0, "diameter of a drain hole", 1.0),
        *fixing_row(inset_mm=40.0, height_mm=45.0, on="back wall", ends_of="tray", foot="floor's underside"),
    ),
    _tray,
)


def _shelf(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    width, height, depth = number(values, "width"), number(values, "height"), number(values, "depth")
    lip = at_least(values, "lip", least_leg(sheet), WHY_LEG)
    side = at_least(values, "side", least_leg(sheet), WHY_LEG)
    panels = [
        back_panel(values, width, height),
        rectangular_panel("shelf", width, depth, "back", "bottom", RIGHT_ANGLE),
    ]
    if lip > 0:
        panels.append(
            rectangular_panel(
                "lip",
                width,
                lip,
                "shelf",
                "far",
                number(values, "lip_turn") * RIGHT_ANGLE,
                corner_radius_mm=3.0,
            )
        )
    if side > 0:
        for edge in ("left", "right"):
            panels.append(
                rectangular_panel(f"{edge} side", depth, side, "shelf", edge, RIGHT_ANGLE, corner_radius_mm=3.0)
            )
    return PanelTree(tuple(panels), (("shelf", ("shelf",)),))


SHELF = ReadyShape(
    "shelf",
    "a back and a shelf, with a front lip and sides that stiffen it",
    (
        length("width", None, "width of the shelf", 30.0),
        length("height", 90.0, "height of the back", 15.0),
        length("depth", 150.0, "depth of the shelf, from the back's rear face, outside", 20.0),
        length("lip", 20.0, "height of the front lip, outside; 0 for none"),
        count("lip_turn", 1, "1 for a lip that stands up, -1 for one that hangs down", -1, 1),
        length("side", 0.0, "height of the two sides, outside; 0 for none. Sides stop short of the root bend"),
        *MOUNT_HOLES,
    ),
    _shelf,
)


def _square_pocket(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    t = sheet.thickness_mm
    inside_width, inside_depth = number(values, "inside_width"), number(values, "inside_depth")
    wall = at_least(values, "wall", least_leg(sheet), WHY_LEG)
    height = max(number(values, "height"), wall)
    width, depth = inside_width + 2 * t, inside_depth + 2 * t
    drain = number(values, "drain_hole")
    drains = (Cutout(circle(drain, (0.5 * width, 0.5 * depth)), "drain"),) if drain > 0 else ()
    panels = [
        back_panel(values, width, height),
        rectangular_panel("floor", width, depth, "back", "bottom", RIGHT_ANGLE, cutouts=drains),
        rectangular_panel("front", width, wall, "floor", "far", RIGHT_ANGLE, corner_radius_mm=3.0),
    ]
    for edge in ("left", "right"):
        panels.append(rectangular_panel(f"{edge} side", depth, wall, "floor", edge, RIGHT_ANGLE, corner_radius_mm=3.0))
    return PanelTree(tuple(panels), (("floor", ("floor",)),))


SQUARE_POCKET = ReadyShape(
    "square pocket",
    "a box open at the top, by its inside, that hangs on a higher back",
    (
        length("inside_width", None, "clear width inside", 10.0),
        length("inside_depth", None, "clear depth inside", 10.0),
        length("wall", 50.0, "height of front and sides, outside", 5.0),
        length("height", 110.0, "height of the back, from the floor's underside", 10.0),
        length("drain_hole", 10.0, "diameter of the hole in the floor; 0 for none"),
        *fixing_row(1, inset_mm=15.0, height_mm=90.0, foot="floor's underside", most=10),
    ),
    _square_pocket,
)
