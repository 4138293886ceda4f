"""A part as its owner draws it: panels by outside dimensions, each hung on an edge of another by a bend.

The frame of a panel: x along its near (or bottom) edge, y away from it, both measured on the outside of the
bends as a calliper reads them. A hung panel's outline has its near edge on y = 0; its x runs along the parent's
edge, from that edge's start, so that a row of holes 20 mm from the left end is 20 mm from the left end on
every panel of the chain.

An edge is named (bottom, right, top, left; near and far for bottom and top of a hung panel) or numbered from
0 in the order of the outline. A named bottom, top, near or far edge starts at its left end, a named left or
right edge at its bottom (near) end; a numbered edge starts where the outline comes to it first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.quantities import show_angle
from steadfold.sheet.outline import Outline, Point, rectangle

EDGE_NAMES = {"bottom": 0, "near": 0, "right": 1, "top": 2, "far": 2, "left": 3}
SHARPEST_ANGLE_RAD = math.radians(0.5)
GREATEST_ANGLE_RAD = math.radians(250)


class TreeError(ValueError):
    """A panel tree that cannot be built; `panel` and `field` say where, `str()` says what would be right."""

    def __init__(self, panel: str, field: str, sentence: str):
        super().__init__(panel, field, sentence)
        self.panel = panel
        self.field = field
        self.sentence = sentence

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True)
class Cutout:
    """An opening in the sheet, by its outline in the panel's frame."""

    outline: Outline
    name: str = ""


@dataclass(frozen=True)
class DrawnPanel:
    """One panel by outside dimensions. The first panel of a tree has no parent; every other has one.

    `rectangular` panels may name their edges. `angle_rad` is what the panel turns through, from flat,
    positive towards the viewer of the parent's face. `corner_radius_mm` rounds the corners that no bend
    touches. An `inside_radius_mm` of None is left to the rule of the part.
    """

    name: str
    outline: Outline
    rectangular: bool = True
    parent: str | None = None
    edge: str | int = "bottom"
    angle_rad: float = 0.0
    offset_mm: float = 0.0
    inside_radius_mm: float | None = None
    corner_radius_mm: float = 0.0
    cutouts: tuple[Cutout, ...] = ()

    def edge_line(self, edge: str | int) -> tuple[int, Point, Point]:
        """Segment number, start and end of an edge by its name or number.

        Raises `TreeError` when there is no such edge or it is not straight.
        """
        count = len(self.outline.points)
        if isinstance(edge, str) and not edge.isdigit():
            if edge not in EDGE_NAMES or not self.rectangular:
                right = ", ".join(EDGE_NAMES) if self.rectangular else f"a number from 0 to {count - 1}"
                raise TreeError(self.name, "edge", f"panel {self.name!r} has no edge {edge!r}; write {right}")
            index = EDGE_NAMES[edge]
        else:
            index = int(edge)
        if not 0 <= index < count:
            raise TreeError(self.name, "edge", f"panel {self.name!r} has edges 0 to {count - 1}, not {index}")
        if self.outline.bulges[index]:
            raise TreeError(
                self.name,
                "edge",
                f"edge {index} of panel {self.name!r} is an arc; a bend needs a straight edge",
            )
        start, end = self.outline.points[index], self.outline.points[(index + 1) % count]
        if isinstance(edge, str) and edge in ("top", "far", "left"):
            start, end = end, start
        return index, start, end


@dataclass(frozen=True)
class PanelTree:
    """All panels of a part, the root first, parents before their children; `places` names groups of panels."""

    panels: tuple[DrawnPanel, ...]
    places: tuple[tuple[str, tuple[str, ...]], ...] = ()


def rectangular_panel(
    name: str,
    width_mm: float,
    height_mm: float,
    parent: str | None = None,
    edge: str | int = "bottom",
    angle_rad: float = 0.0,
    offset_mm: float = 0.0,
    inside_radius_mm: float | None = None,
    corner_radius_mm: float = 0.0,
    cutouts: tuple[Cutout, ...] = (),
) -> DrawnPanel:
    """A rectangular panel: width along the bend (or bottom edge), height away from it, outside dimensions."""
    return DrawnPanel(
        name,
        rectangle(width_mm, height_mm),
        True,
        parent,
        edge,
        angle_rad,
        offset_mm,
        inside_radius_mm,
        corner_radius_mm,
        cutouts,
    )


def check_tree(tree: PanelTree) -> None:
    """Raises `TreeError` for names, parents, angles and outlines of which no part can be made."""
    if not tree.panels:
        raise TreeError("", "panel", "a part needs at least one panel")
    seen: set[str] = set()
    for number, panel in enumerate(tree.panels):
        if panel.name in seen:
            raise TreeError(panel.name, "name", f"two panels are named {panel.name!r}; give each its own name")
        if (panel.parent is None) != (number == 0):
            raise TreeError(
                panel.name,
                "from",
                f"panel {panel.name!r} must say which panel it hangs on"
                if number
                else f"the first panel, {panel.name!r}, hangs on nothing; take its 'from' away",
            )
        if panel.parent is not None and panel.parent not in seen:
            raise TreeError(
                panel.name,
                "from",
                f"panel {panel.name!r} hangs on {panel.parent!r}, which is not drawn before it",
            )
        if number and not SHARPEST_ANGLE_RAD <= abs(panel.angle_rad) <= GREATEST_ANGLE_RAD:
            raise TreeError(
                panel.name,
                "bend",
                f"panel {panel.name!r} is bent by {show_angle(panel.angle_rad)}; a bend turns between 0.5° and 180°",
            )
        if not panel.outline.polygon().is_valid or abs(panel.outline.area_mm2) < 1e-6:
            raise TreeError(panel.name, "outline", f"the outline of panel {panel.name!r} crosses itself or has no area")
        seen.add(panel.name)
