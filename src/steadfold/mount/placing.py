"""Where the items that a part carries bear on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.ops import nearest_points

from steadfold.mount.records import Carried, MountError, Placed
from steadfold.sheet.outline import Point
from steadfold.sheet.part import Part
from steadfold.sheet.pose import Pose

SMALLEST_MASS_KG = 1e-6


def placed(part: Part, pose: Pose, down: np.ndarray, fixed_panel: int, carried: Sequence[Carried]) -> tuple[Placed, ...]:
    """Every single item with its panel and point.

    A place that names several panels (tines) gets its items one a panel, in turn; the place 'holes' gets them in its
    openings. Another point not given is taken where it works hardest: at the outer end of a tine or hook, spread along
    the middle line of a broad panel.
    Raises `MountError` for a mass that is not positive, or a point that is not on its panel's metal.
    """
    found: list[Placed] = []
    for number, load in enumerate(carried):
        if not (load.mass_kg.low >= SMALLEST_MASS_KG and load.mass_kg.high >= load.mass_kg.low):
            raise MountError("carries", "mass", f"{load.item!r} needs a mass above zero", number)
        panels = _panels(part, load, pose, down, fixed_panel, number)
        for i in range(load.count):
            panel = panels[i % len(panels)]
            at = load.at_mm or _in_an_opening(part, panel, load, i // len(panels), _turns(load, panels))
            at = at or _usual_point(part, panel, i // len(panels), _turns(load, panels))
            _check_on(part, panel, at, load, number)
            found.append(Placed(load.item, panel, at, load.reach_mm or 0.0, load.mass_kg))
    return tuple(found)


def _turns(load: Carried, panels: tuple[int, ...]) -> int:
    """How many items one panel gets at the most."""
    return -(-load.count // len(panels))


def _panels(
    part: Part, load: Carried, pose: Pose, down: np.ndarray, fixed_panel: int, number: int
) -> tuple[int, ...]:
    if load.on is not None:
        try:
            return part.panels_at(load.on)
        except KeyError:
            known = ", ".join([name for name, _ in part.places] + [p.name for p in part.panels])
            raise MountError("carries", "on", f"{load.on!r} is no place or panel of this part; it has {known}", number) from None
    if part.places:
        return part.places[0][1]
    level = [
        (abs(float(frame.face @ down)) * part.panels[i].area_mm2, i)
        for i, frame in enumerate(pose.panels)
        if i != fixed_panel
    ]
    return (max(level)[1],) if level else (0,)


def _in_an_opening(part: Part, panel: int, load: Carried, turn: int, turns: int) -> Point | None:
    """The opening that an item on the place 'holes' hangs in, evenly over all of them; None for other places."""
    place = load.on if load.on is not None else part.places[0][0] if part.places else ""
    holes = sorted(h.polygon().centroid.coords[0] for face in part.panels[panel].faces for h in face.holes)
    if place != "holes" or not holes:
        return None
    x, y = holes[int((turn + 0.5) / turns * len(holes)) if turns <= len(holes) else turn % len(holes)]
    return (x, y)


def _usual_point(part: Part, panel: int, turn: int, turns: int) -> Point:
    """A point on a panel for an item without one: outward on slim panels, along the middle of broad ones."""
    x0, y0, x1, y1 = _bounds(part, panel)
    width, depth = x1 - x0, y1 - y0
    if width < 0.7 * depth and turns == 1:
        return (0.5 * (x0 + x1), y1 - min(10.0, 0.1 * depth))
    x = x0 + (turn + 0.5) / turns * width
    return _on_metal(part, panel, (x, 0.5 * (y0 + y1)))


def _bounds(part: Part, panel: int) -> tuple[float, float, float, float]:
    boxes = np.array([face.outer.bounds for face in part.panels[panel].faces])
    return (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))


def _metal(part: Part, panel: int) -> shapely.Geometry:
    return shapely.union_all([face.polygon() for face in part.panels[panel].faces])


def _on_metal(part: Part, panel: int, point: Point) -> Point:
    """The point itself, or the nearest metal where it falls into an opening."""
    metal, here = _metal(part, panel), shapely.Point(point)
    if metal.contains(here):
        return point
    near = nearest_points(metal.buffer(-1.0) if not metal.buffer(-1.0).is_empty else metal, here)[0]
    return (near.x, near.y)


def _check_on(part: Part, panel: int, at: Point, load: Carried, number: int) -> None:
    """An item may hang in an opening (a tool in its hole) but not beyond the panel's outline."""
    name = part.panels[panel].name
    outer = shapely.union_all([face.outer.polygon() for face in part.panels[panel].faces])
    if not outer.buffer(_reach_of_bends(part, panel)).covers(shapely.Point(at)):
        x0, y0, x1, y1 = _bounds(part, panel)
        raise MountError(
            "carries",
            "at",
            f"{load.item!r} at {at[0]:g}, {at[1]:g} mm is off panel {name!r}, whose flat metal runs from "
            f"{x0:.1f}, {y0:.1f} to {x1:.1f}, {y1:.1f} mm",
            number,
        )


def _reach_of_bends(part: Part, panel: int) -> float:
    """How far outside dimensions reach past the plane metal: the setback of the panel's bends."""
    own = [b.inside_radius_mm + b.thickness_mm for b in part.bends if panel in (b.parent, b.child)]
    return max(own, default=0.0) + 1e-6
