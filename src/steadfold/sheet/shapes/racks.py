"""Shapes that hang things from a back: tine rack, hook strip, hole bar."""

from __future__ import annotations

from collections.abc import Mapping

from steadfold.sheet.outline import circle, obround
from steadfold.sheet.shapes.build import (
    MOUNT_HOLES,
    RIGHT_ANGLE,
    WHY_LEG,
    angle,
    at_least,
    back_panel,
    count,
    fixing_row,
    least_leg,
    length,
    number,
)
from steadfold.sheet.shapes.shape import ReadyShape, ShapeError, Sheet, Value
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, rectangular_panel


def _row(
    values: Mapping[str, Value], sheet: Sheet, what: str, reach_key: str, tip_angle: float
) -> tuple[list[DrawnPanel], tuple[str, ...]]:
    """Tines or hooks in a row along the bottom edge of the back, each with a tip."""
    width, how_many = number(values, "width"), int(number(values, f"{what}s"))
    wide, reach = number(values, f"{what}_width"), number(values, reach_key)
    tip = at_least(values, "tip", least_leg(sheet), WHY_LEG)
    inset = number(values, f"{what}_inset")
    room = width - 2 * inset - wide
    if room < 0 or (how_many > 1 and room / (how_many - 1) < wide + 2 * sheet.thickness_mm):
        raise ShapeError(
            f"{what}s",
            f"{how_many} {what}s of {wide:g} mm do not fit a back {width:g} mm wide with a gap between them",
        )
    panels: list[DrawnPanel] = []
    for i in range(how_many):
        offset = inset + (room * i / (how_many - 1) if how_many > 1 else 0.5 * room)
        name = f"{what} {i + 1}"
        panels.append(rectangular_panel(name, wide, reach, "back", "bottom", RIGHT_ANGLE, offset))
        if tip > 0:
            panels.append(
                rectangular_panel(
                    f"tip {i + 1}", wide, tip, name, "far", tip_angle, corner_radius_mm=min(3.0, 0.2 * wide)
                )
            )
    return panels, tuple(f"{what} {i + 1}" for i in range(how_many))


def _tine_rack(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    width, height = number(values, "width"), number(values, "height")
    tines, names = _row(values, sheet, "tine", "tine_length", number(values, "tip_angle"))
    lip = at_least(values, "tine_lip", least_leg(sheet), WHY_LEG)
    if lip > 0:
        reach = number(values, "tine_length")
        for name in names:
            for side in ("left", "right"):
                tines.append(rectangular_panel(f"{name} {side} lip", reach, lip, name, side, RIGHT_ANGLE))
    back = back_panel(values, width, height)
    return PanelTree((back, *tines), (("tines", names),))


TINE_RACK = ReadyShape(
    "tine rack",
    "a back with a row of flat tines that stand out from its bottom edge",
    (
        length("width", None, "width of the back", 20.0),
        length("height", 90.0, "height of the back, to the underside of the tines", 15.0),
        count("tines", 5, "how many tines", 1, 40),
        length("tine_width", 28.0, "width of one tine", 5.0),
        length(
            "tine_length",
            140.0,
            "how far a tine stands out, from the back's rear face to the outside of its tip",
            10.0,
        ),
        length("tine_inset", 0.0, "from each end of the back to the first tine"),
        length("tip", 20.0, "height of the upturned tip, outside; 0 for none"),
        angle("tip_angle", 90.0, "how far the tip is bent up", 15.0, 150.0),
        length(
            "tine_lip",
            0.0,
            "height of a lip along both sides of each tine; 0 for none. Lips stop short of the root bend",
        ),
        *MOUNT_HOLES,
    ),
    _tine_rack,
)


def _hook_strip(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    width, height = number(values, "width"), number(values, "height")
    hooks, names = _row(values, sheet, "hook", "hook_reach", number(values, "tip_angle"))
    back = back_panel(values, width, height)
    return PanelTree((back, *hooks), (("hooks", names),))


HOOK_STRIP = ReadyShape(
    "hook strip",
    "a low strip with a row of narrow hooks",
    (
        length("width", None, "width of the strip", 20.0),
        length("height", 40.0, "height of the strip", 12.0),
        count("hooks", 6, "how many hooks", 1, 60),
        length("hook_width", 16.0, "width of one hook", 4.0),
        length("hook_reach", 40.0, "how far a hook stands out, outside", 8.0),
        length("hook_inset", 0.0, "from each end of the strip to the first hook"),
        length("tip", 22.0, "length of the bent-up tip, outside; 0 for none"),
        angle("tip_angle", 60.0, "how far the tip is bent up", 15.0, 150.0),
        *fixing_row(height_mm=25.0, on="strip", ends_of="strip", foot="bottom edge of the strip"),
    ),
    _hook_strip,
)


def _hole_bar(values: Mapping[str, Value], sheet: Sheet) -> PanelTree:
    width, height, depth = number(values, "width"), number(values, "height"), number(values, "depth")
    lip = at_least(values, "lip", least_leg(sheet), WHY_LEG)
    how_many, across, along = (
        int(number(values, "holes")),
        number(values, "hole"),
        number(values, "slot_length"),
    )
    pitch, rear = number(values, "pitch"), number(values, "hole_from_back")
    first = 0.5 * (width - pitch * (how_many - 1))
    if how_many and ((pitch < across + 1 and how_many > 1) or first < 0.5 * across + 1):
        raise ShapeError(
            "pitch",
            f"{how_many} holes of {across:g} mm every {pitch:g} mm do not fit a bar {width:g} mm wide",
        )
    holes = []
    for i in range(how_many):
        centre = (first + i * pitch, rear)
        shape = obround(along, across, centre, RIGHT_ANGLE) if along > across else circle(across, centre)
        holes.append(Cutout(shape, f"tool hole {i + 1}"))
    reach = rear + 0.5 * max(along, across)
    if how_many and not (rear - 0.5 * max(along, across) > sheet.thickness_mm and reach < depth - sheet.thickness_mm):
        raise ShapeError(
            "hole_from_back",
            f"holes centred {rear:g} mm from the rear face run off a shelf {depth:g} mm deep",
        )
    back = back_panel(values, width, height)
    shelf = rectangular_panel("shelf", width, depth, "back", "bottom", RIGHT_ANGLE, cutouts=tuple(holes))
    panels = [back, shelf]
    if lip > 0:
        panels.append(
            rectangular_panel("lip", width, lip, "shelf", "far", number(values, "lip_angle"), corner_radius_mm=3.0)
        )
    return PanelTree(tuple(panels), (("holes", ("shelf",)),))


HOLE_BAR = ReadyShape(
    "hole bar",
    "a back and a shelf with a row of holes or slots that tools drop into",
    (
        length("width", None, "width of the bar", 20.0),
        length("height", 60.0, "height of the back", 12.0),
        length("depth", 50.0, "depth of the shelf, from the back's rear face, outside", 12.0),
        length("lip", 12.0, "height of the lip along the front, outside; 0 for none"),
        angle("lip_angle", 90.0, "how far the lip is bent up", 15.0, 150.0),
        count("holes", 8, "how many holes", 0, 200),
        length("hole", 12.0, "diameter of a hole, or width of a slot", 1.0),
        length("slot_length", 0.0, "length of a slot from back to front; up to the hole's width means round"),
        length("pitch", 30.0, "from the centre of one hole to the next", 2.0),
        length("hole_from_back", 26.0, "from the back's rear face to the centre of the holes", 1.0),
        *fixing_row(height_mm=38.0),
    ),
    _hole_bar,
)
