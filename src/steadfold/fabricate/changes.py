"""Small changes of tools and panels that are tried when no bend order exists."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely

from steadfold.fabricate.bend_plan import NoPlan
from steadfold.fabricate.shop import Punch
from steadfold.sheet.outline import Face, Outline, polygon_outline
from steadfold.sheet.part import Part

TALLER_BY_MM = 150.0
LEAST_LEFT_MM = 8.0
"""No panel is tried shorter than this."""


def least_amount(works: Callable[[float], bool], most_mm: float) -> float | None:
    """The least amount that works, to half a millimetre and rounded up to it; None if the most does not."""
    if most_mm <= 0 or not works(most_mm):
        return None
    low, high = 0.0, most_mm
    while high - low > 0.5:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if works(middle) else (middle, high)
    rounded = math.ceil(2 * high) / 2
    return rounded if rounded <= most_mm and works(rounded) else high


def raised(punch: Punch, by_mm: float) -> Punch:
    """The same punch with its clamp higher; all else stays."""
    top = max(z for _, z in punch.outline.points)
    points = tuple((y, z + by_mm if z > top - 1e-6 else z) for y, z in punch.outline.points)
    return replace(punch, outline=Outline(points, punch.outline.bulges), height_mm=punch.height_mm + by_mm)


def blocking_panels(part: Part, answer: NoPlan) -> list[tuple[str, ...]]:
    """Groups of panels whose shortening may free the way: the one that meets the tool, or what hangs on
    it; then all that are as deep as it."""
    name = answer.pair[0].removeprefix("bend of ")
    start = part.panel_index(name)
    hanging = [start]
    for panel in hanging:
        hanging += [bend.child for bend in part.bends if bend.parent == panel]
    leaves = [panel for panel in hanging if _joins(part, panel) == 1]
    if not leaves:
        return []
    leaf = part.panels[leaves[0]].name
    depth = leaf_depth_mm(part, leaf)
    alike = tuple(
        panel.name
        for i, panel in enumerate(part.panels)
        if _joins(part, i) == 1 and abs(leaf_depth_mm(part, panel.name) - depth) < 0.5
    )
    return [(leaf,)] if alike == (leaf,) else [(leaf,), alike]


def leaf_depth_mm(part: Part, name: str) -> float:
    """How far a panel with one bend reaches from that bend."""
    index = part.panel_index(name)
    point, away = _edge(part, index)
    corners = np.concatenate([face.outer.vertices(0.05) for face in part.panels[index].faces])
    return float(((corners - point) @ away).max())


def shortened(part: Part, names: tuple[str, ...], by_mm: float) -> Part:
    """The part with the far ends of these panels (one bend each) cut off; arcs become polygons, holes are
    lost, which is all that the brake sees."""
    panels = list(part.panels)
    for name in names:
        index = part.panel_index(name)
        point, away = _edge(part, index)
        end = leaf_depth_mm(part, name) - by_mm
        along = 1e5 * np.array([-away[1], away[0]])
        near, far = point - 1e5 * away, point + end * away
        kept = shapely.Polygon([near - along, near + along, far + along, far - along])
        faces = []
        for face in panels[index].faces:
            for piece in shapely.get_parts(shapely.intersection(face.outer.polygon(0.05), kept)):
                if piece.geom_type == "Polygon" and piece.area > 1e-6:
                    ring = [(float(x), float(y)) for x, y in np.asarray(piece.exterior.coords)[:-1]]
                    faces.append(Face(polygon_outline(ring).anticlockwise()))
        panels[index] = replace(panels[index], faces=tuple(faces))
    return replace(part, panels=tuple(panels))


def _joins(part: Part, index: int) -> int:
    return sum(index in (bend.parent, bend.child) for bend in part.bends)


def _edge(part: Part, index: int) -> tuple[np.ndarray, np.ndarray]:
    """A point on the only bend of a panel, and the direction from it into the panel."""
    for bend in part.bends:
        if bend.child == index:
            return np.array(bend.child_point), np.array(bend.child_away)
        if bend.parent == index:
            return np.array(bend.parent_point), -np.array(bend.parent_away)
    raise ValueError("this panel has no bend")
