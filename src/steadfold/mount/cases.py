"""The four cases: resting, snatch, knock and lean."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.mechanics import Loads
from steadfold.mount.records import CaseChoices
from steadfold.mount.structure import Mounted, weight_loads, with_force

SNATCH_FACTOR = 2.0
"""A load let go suddenly onto what carries it works twice (energy of a linear spring)."""

KNOCK_N = 150.0
"""A stray sideways force of somebody passing (common practice, no source)."""

LEAN_N = 500.0
"""A person's share of weight leaning on a shelf within reach (common practice, no source)."""

MOST_CORNERS = 4
LEAN_WIDTH_MM, LEAN_DEPTH_MM = 250.0, 120.0
"""A level panel at least this broad and deep invites a person to lean on it (common practice, no source)."""


@dataclass(frozen=True)
class Case:
    """One loading to solve: which of the four it belongs to, what it is in words, its loads with the items at their
    greatest mass, and the same without the items."""

    name: str
    say: str
    loads: Loads
    without_items: Loads


def factor_for_drop(height_mm: float, sag_mm: float) -> float:
    """How much more a load dropped from a height works than the same at rest: `1 + sqrt(1 + 2 h / sag)`.

    Source: energy of a linear spring (elementary mechanics); 2 for no height.

    >>> round(factor_for_drop(50.0, 2.0), 2)
    8.14
    """
    if sag_mm <= 0:
        raise ValueError("a drop needs a sag to stop it")
    return 1.0 + math.sqrt(1.0 + 2.0 * height_mm / sag_mm)


def cases(here: Mounted, choices: CaseChoices, resting_sag_mm: float | None = None) -> tuple[Case, ...]:
    """Every loading of the four cases that the job does not refuse.

    `resting_sag_mm` is needed where the job gives a drop height.
    """
    rest, bare = weight_loads(here, 1.0, name="resting"), weight_loads(here, 0.0)
    found = [Case("resting", "everything it carries, at rest", rest, bare)]
    if "snatch_factor" not in choices.refused:
        factor = choices.snatch_factor or SNATCH_FACTOR
        say = f"put on or pulled off suddenly, {factor:g} times its weight"
        if choices.drop_height_mm is not None and "drop_height" not in choices.refused and resting_sag_mm:
            factor = factor_for_drop(choices.drop_height_mm, resting_sag_mm)
            say = f"dropped from {choices.drop_height_mm:g} mm, {factor:.1f} times its weight"
        found.append(Case("snatch", say, weight_loads(here, factor, name="snatch"), bare))
    if "knock" not in choices.refused:
        found += _knocks(here, KNOCK_N if choices.knock_n is None else choices.knock_n)
    if "lean" not in choices.refused:
        found += _leans(here, choices.lean_n)
    return tuple(found)


def _knocks(here: Mounted, force_n: float) -> list[Case]:
    """A sideways force both ways at the free corners that stand out furthest, with everything on and with nothing: what it
    carries may steady a part against the wall, and then it is worst off empty."""
    rest, bare = weight_loads(here, 1.0), weight_loads(here, 0.0)
    found = []
    for node, place in _free_corners(here):
        for sign in (1.0, -1.0):
            force = sign * force_n * here.sideways
            say = f"a stray {force_n:g} N sideways at {place}"
            full, empty = (with_force(here, weight, node, force, "knock") for weight in (rest, bare))
            found += [Case("knock", say, full, empty), Case("knock", f"{say}, with nothing on it", empty, empty)]
    return found


def _free_corners(here: Mounted) -> list[tuple[int, str]]:
    """Nodes at the free ends of panels that carry nothing further, furthest from the wall, one for each panel."""
    parents = {bend.parent for bend in here.part.bends}
    frame = here.pose.panels[here.fixings.panel]
    found = []
    for index, panel in enumerate(here.part.panels):
        if index in parents or index == here.fixings.panel:
            continue
        nodes = np.flatnonzero(here.mesh.node_region == index)
        if not len(nodes):
            continue
        out = (here.nodes_mm[nodes] - frame.origin) @ here.out
        aside = np.abs((here.nodes_mm[nodes] - here.nodes_mm[nodes].mean(axis=0)) @ here.sideways)
        # Of the nodes furthest out, the one furthest from the panel's own bend, then furthest aside: its free corner.
        free = here.mesh.local[nodes, 1]
        node = int(nodes[np.lexsort((aside, np.round(free, 3), np.round(out, 2)))[-1]])
        found.append((float(out.max()), node, f"the end of {panel.name}"))
    found.sort(key=lambda f: (-round(f[0], 3), f[1]))
    return [(node, place) for _, node, place in found[:MOST_CORNERS]]


def _leans(here: Mounted, asked_n: float | None) -> list[Case]:
    """A person leaning on the front of the broadest level panel, where the shape invites it or the job says so."""
    panel = _broadest_level_panel(here)
    if panel is None:
        return []
    index, broad = panel
    if asked_n is None and not broad:
        return []
    force_n = LEAN_N if asked_n is None else asked_n
    nodes = np.flatnonzero(here.mesh.node_region == index)
    frame = here.pose.panels[here.fixings.panel]
    out = (here.nodes_mm[nodes] - frame.origin) @ here.out
    aside = (here.nodes_mm[nodes] - here.nodes_mm[nodes].mean(axis=0)) @ here.sideways
    node = int(nodes[np.argmin(np.abs(aside) + 5.0 * (out.max() - out))])
    rest, bare = weight_loads(here, 1.0), weight_loads(here, 0.0)
    force = force_n * here.down
    say = f"a person leaning with {force_n:g} N on the front of {here.part.panels[index].name}"
    return [Case("lean", say, with_force(here, rest, node, force, "lean"), with_force(here, bare, node, force, "lean"))]


def _broadest_level_panel(here: Mounted) -> tuple[int, bool] | None:
    """The level panel with the most metal off the wall, and whether it is broad enough to lean on."""
    level = [
        (here.part.panels[i].area_mm2, i)
        for i, frame in enumerate(here.pose.panels)
        if i != here.fixings.panel and abs(float(frame.face @ here.down)) > 0.9
    ]
    if not level:
        return None
    index = max(level)[1]
    nodes = here.nodes_mm[: here.mesh.node_count][here.mesh.node_region == index]
    wide = float(np.ptp(nodes @ here.sideways))
    deep = float(np.ptp(nodes @ here.out))
    return index, wide >= LEAN_WIDTH_MM and deep >= LEAN_DEPTH_MM
