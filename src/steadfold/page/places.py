"""Which place of a part a dimension means, found by changing it a little and seeing which measure follows.

No shape is known here: a dimension of 140 mm means the measure that is 140 mm and grows with it one to one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from steadfold.sheet.outline import Outline
from steadfold.sheet.shapes.shape import Dimension, ReadyShape, ShapeError, Sheet, Value
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, TreeError

STEP_MM = 0.25
STEP_RAD = math.radians(1.0)
MOST_PLACES = 3


@dataclass(frozen=True)
class Measure:
    """Something that can be measured on a tree: its value, and where to draw it."""

    value: float
    place: dict[str, Any]


def measures(tree: PanelTree, thickness_mm: float) -> dict[tuple[str, ...], Measure]:
    """Everything measurable on a tree by outside dimensions, each under a name that stays when sizes change.

    A place is a line in a panel's frame, or a panel's bend; panels are called by name.
    """
    found: dict[tuple[str, ...], Measure] = {}
    parents = {panel.name: panel for panel in tree.panels}
    for panel in tree.panels:
        x0, y0, x1, y1 = panel.outline.bounds
        mid_x, mid_y = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
        found["x", panel.name] = Measure(x1 - x0, line(panel, (x0, mid_y), (x1, mid_y)))
        found["y", panel.name] = Measure(y1 - y0, line(panel, (mid_x, y0), (mid_x, y1)))
        t = thickness_mm
        found["clear x", panel.name] = Measure(x1 - x0 - 2 * t, line(panel, (x0 + t, mid_y), (x1 - t, mid_y)))
        found["clear y", panel.name] = Measure(y1 - y0 - 2 * t, line(panel, (mid_x, y0 + t), (mid_x, y1 - t)))
        if panel.parent is not None:
            found["bend", panel.name] = Measure(abs(panel.angle_rad), {"bend": panel.name})
            found["offset", panel.name] = Measure(panel.offset_mm, _offset(parents[panel.parent], panel))
        for number, cutout in enumerate(panel.cutouts):
            found.update(_of_cutout(panel, cutout, number))
    return found


def line(panel: DrawnPanel, start: tuple[float, float], end: tuple[float, float]) -> dict[str, Any]:
    """A line to draw in a panel's frame."""
    return {"panel": panel.name, "from": [*start], "to": [*end]}


def _offset(parent: DrawnPanel, child: DrawnPanel) -> dict[str, Any]:
    try:
        _, start, end = parent.edge_line(child.edge)
    except TreeError:
        return {"bend": child.name}
    length = math.dist(start, end)
    share = child.offset_mm / length if length else 0.0
    at = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
    return line(parent, start, at)


def _of_cutout(panel: DrawnPanel, cutout: Cutout, number: int) -> dict[tuple[str, ...], Measure]:
    x0, y0, x1, y1 = panel.outline.bounds
    a0, b0, a1, b1 = cutout.outline.bounds
    cx, cy = 0.5 * (a0 + a1), 0.5 * (b0 + b1)
    key = str(number)
    found: dict[tuple[str, ...], Measure] = {
        ("hole x", panel.name, key): Measure(a1 - a0, line(panel, (a0, cy), (a1, cy))),
        ("hole y", panel.name, key): Measure(b1 - b0, line(panel, (cx, b0), (cx, b1))),
        ("left", panel.name, key): Measure(cx - x0, line(panel, (x0, cy), (cx, cy))),
        ("right", panel.name, key): Measure(x1 - cx, line(panel, (cx, cy), (x1, cy))),
        ("below", panel.name, key): Measure(cy - y0, line(panel, (cx, y0), (cx, cy))),
        ("above", panel.name, key): Measure(y1 - cy, line(panel, (cx, cy), (cx, y1))),
        ("open", panel.name, key): Measure(y1 - b0, line(panel, (cx, b0), (cx, y1))),
    }
    if number:
        px, py = _middle(panel.cutouts[number - 1].outline)
        if abs(px - cx) > 1e-9:
            found["pitch", panel.name, key] = Measure(abs(cx - px), line(panel, (px, cy), (cx, cy)))
        elif abs(py - cy) > 1e-9:
            found["pitch", panel.name, key] = Measure(abs(cy - py), line(panel, (cx, py), (cx, cy)))
    return found


def _middle(outline: Outline) -> tuple[float, float]:
    x0, y0, x1, y1 = outline.bounds
    return 0.5 * (x0 + x1), 0.5 * (y0 + y1)


def places_of(shape: ReadyShape, values: Mapping[str, Value], sheet: Sheet) -> dict[str, list[dict[str, Any]]]:
    """For every dimension of a ready-made shape the places it means, the first the one to show before others."""
    try:
        here = shape.build(values, sheet)
    except (ShapeError, TreeError):
        return {}
    before = measures(here, sheet.thickness_mm)
    found = {}
    for dimension in shape.dimensions:
        found[dimension.key] = _places(shape, values, sheet, dimension, here, before)
    return found


def _places(
    shape: ReadyShape,
    values: Mapping[str, Value],
    sheet: Sheet,
    dimension: Dimension,
    here: PanelTree,
    before: Mapping[tuple[str, ...], Measure],
) -> list[dict[str, Any]]:
    value = values[dimension.key]
    if isinstance(value, (bool, str)):
        return []
    steps: tuple[float, ...] = {"length": (STEP_MM, -STEP_MM), "angle": (-STEP_RAD, STEP_RAD)}.get(
        dimension.kind, (1, -1)
    )
    for step in steps:
        changed = _built(shape, {**values, dimension.key: value + step}, sheet)
        if changed is None:
            continue
        after = measures(changed, sheet.thickness_mm)
        if dimension.kind == "count":
            return _counted(here, changed, before, after)
        exact = [
            measure.place
            for key, measure in before.items()
            if key in after
            and abs(measure.value - abs(value)) < 1e-6
            and abs((after[key].value - measure.value) / step - 1.0) < 1e-3
        ]
        return exact[:MOST_PLACES] or _moved(here, before, after)
    return []


def _built(shape: ReadyShape, values: Mapping[str, Value], sheet: Sheet) -> PanelTree | None:
    try:
        return shape.build(values, sheet)
    except (ShapeError, TreeError):
        return None


def _counted(
    here: PanelTree,
    changed: PanelTree,
    before: Mapping[tuple[str, ...], Measure],
    after: Mapping[tuple[str, ...], Measure],
) -> list[dict[str, Any]]:
    """What there is more or fewer of: the panels of a row, or the openings of a panel."""
    one, other = {p.name for p in here.panels}, {p.name for p in changed.panels}
    if one != other:
        stems = {name.rstrip("0123456789 ") for name in one ^ other}
        return [{"panels": [p.name for p in here.panels if p.name.rstrip("0123456789 ") in stems]}]
    holes = [key for key in before if key[0] == "hole x"]
    fewer = {key[1] for key in set(before) ^ set(after) if key[0] == "hole x"}
    rows = [before[key].place for key in holes if key[1] in fewer]
    return rows[:60] or _moved(here, before, after)


def _moved(
    here: PanelTree, before: Mapping[tuple[str, ...], Measure], after: Mapping[tuple[str, ...], Measure]
) -> list[dict[str, Any]]:
    """The panels on which anything changes."""
    names = {key[1] for key in before if key not in after or abs(after[key].value - before[key].value) > 1e-9}
    return [{"panels": [p.name for p in here.panels if p.name in names]}] if names else []


def places_of_panel(panel: DrawnPanel, parent: DrawnPanel | None) -> dict[str, list[dict[str, Any]]]:
    """The places that the keys of a panel of one's own mean."""
    x0, y0, x1, y1 = panel.outline.bounds
    mid_x, mid_y = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
    found: dict[str, list[dict[str, Any]]] = {
        "size 0": [line(panel, (x0, mid_y), (x1, mid_y))],
        "size 1": [line(panel, (mid_x, y0), (mid_x, y1))],
        "bend": [{"bend": panel.name}],
        "corner_radius": [{"panels": [panel.name]}],
        "inside_radius": [{"bend": panel.name}],
        "gap": [{"bend": panel.name}],
    }
    if parent is not None:
        found["offset"] = [_offset(parent, panel)]
    return found
