"""Shadows along the bend line against meshes in space: the same answer in every random state.

The other side is a general mesh collision library (fcl) with the part placed by `sheet.pose.fold`, which
knows nothing of strokes or shadows.
"""

from __future__ import annotations

import math
import random

import pytest

from steadfold.catalogue import material
from steadfold.fabricate.bend_order import BendSearch, plan_bends
from steadfold.fabricate.bend_plan import BendPlan
from steadfold.fabricate.shop_file import typical_shop
from steadfold.sheet.outline import polygon_outline
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import DrawnPanel, PanelTree, TreeError, rectangular_panel

pytest.importorskip("fcl", reason="the mesh collision library is in the dev extra")
from tests.properties.brake_oracle import MeshBrake

STATES = 1200
NEAR_MM = 0.15
"""Nearer to touching than this the two may differ: the mesh has flats where the strip is round."""


def a_part(draw: random.Random) -> Part | None:
    """A base of four or six corners with up to six flanges, some on flanges, bent either way by 20° to
    135°."""
    t = draw.choice([1.0, 2.0, 3.0])
    if draw.random() < 0.2:
        return a_rack(draw, t)
    w, h = draw.uniform(90, 220), draw.uniform(90, 220)
    if draw.random() < 0.3:
        ring = [(0, 0), (w, 0), (w + 40, 0.5 * h), (w, h), (0, h), (-40, 0.5 * h)]
        base = DrawnPanel("base", polygon_outline(ring), rectangular=False)
        free: list[tuple[str, str | int, float]] = [
            ("base", i, math.dist(ring[i], ring[(i + 1) % 6])) for i in range(6)
        ]
    else:
        base = rectangular_panel("base", w, h)
        free = [("base", "bottom", w), ("base", "right", h), ("base", "top", w), ("base", "left", h)]
    panels = [base]
    for number in range(draw.randint(2, 6)):
        parent, edge, span = free.pop(draw.randrange(len(free)))
        depth = draw.uniform(18, 90)
        angle = draw.choice([1, -1]) * math.radians(draw.choice([90, 90, 90, 30, 60, 120, 135, 20]))
        name = f"flange {number}"
        panels.append(rectangular_panel(name, span, depth, parent, edge, angle))
        if span > 60:
            free.append((name, "far", span))
    try:
        return resolve(PanelTree(tuple(panels)), "random", t, din_rule(t, t, 0.42)).part
    except TreeError:
        return None


def a_rack(draw: random.Random, t: float) -> Part:
    """Tines on one line, each with a tip: tines make one stroke, tips another, whichever comes first."""
    turn, tip_turn = (draw.choice([1, -1]) * math.radians(draw.choice([60, 90, 120])) for _ in range(2))
    reach, tip = draw.uniform(40, 90), draw.uniform(18, 30)
    panels = [rectangular_panel("back", 170, draw.uniform(50, 120))]
    for i in range(3):
        panels.append(rectangular_panel(f"tine {i}", 30, reach, "back", "bottom", turn, offset_mm=15 + 55 * i))
        panels.append(rectangular_panel(f"tip {i}", 30, tip, f"tine {i}", "far", tip_turn))
    return resolve(PanelTree(tuple(panels)), "rack", t, din_rule(t, t, 0.42)).part


def test_tips_of_tines_on_one_line_are_bent_in_one_stroke() -> None:
    search = BendSearch(a_rack(random.Random(1), 2.0), material("DC01"), typical_shop())
    assert sorted(len(stroke.bends) for stroke in search.strokes) == [3, 3]


def test_twelve_hundred_random_states_agree_with_meshes_in_space() -> None:
    draw = random.Random(20)
    compared = colliding = 0
    while compared < STATES:
        part = a_part(draw)
        if part is None:
            continue
        search = BendSearch(part, material("DC01"), typical_shop())
        for _ in range(6):
            index = draw.randrange(len(search.strokes))
            if not search.usable[index]:
                continue
            tooling = search.toolings[draw.choice(search.usable[index])]
            state = draw.randrange(search.full + 1) & ~(1 << index)
            back = draw.random() < 0.5
            angle = abs(search.strokes[index].angle_rad) * draw.choice([0.0, draw.random(), 1.0])
            meshes = MeshBrake(part, search.bodies, index, tooling, search.shop.brake, back)
            for place, body in enumerate(search.bodies.seen_from[index]):
                gap = search.check.gap_mm(index, tooling, back, place, state, angle)
                if abs(gap) < NEAR_MM:
                    continue
                touching = meshes.touching(place, state, angle)
                assert touching == (gap < 0), (body.name, tooling.name, state, math.degrees(angle), gap)
                compared += 1
                colliding += touching
    assert colliding > 60


def plans() -> dict[str, Part]:
    """Parts whose plans are replayed."""
    right = math.pi / 2

    def built(panels: list[DrawnPanel]) -> Part:
        return resolve(PanelTree(tuple(panels)), "part", 2.0, din_rule(2.0, 2.0, 0.42)).part

    edges = ("bottom", "right", "top", "left")
    tray = [rectangular_panel("base", 200, 150)]
    tray += [rectangular_panel(e, 200 if e in ("bottom", "top") else 150, 40, "base", e, right) for e in edges]
    channel = [
        rectangular_panel("leg", 150, 62),
        rectangular_panel("web", 150, 62, "leg", "top", right),
        rectangular_panel("other leg", 150, 62, "web", "top", right),
    ]
    hat = [rectangular_panel("brim", 180, 25)]
    for i, (size, turn) in enumerate([(42, -1), (62, 1), (42, 1), (25, -1)]):
        hat.append(rectangular_panel(f"p{i}", 180, size, hat[-1].name, "top", turn * right))
    boxed = [*tray]
    boxed += [rectangular_panel(f"{e} return", tray[1 + i].outline.points[1][0], 16, e, "far", -right)
              for i, e in enumerate(edges)]
    return {"tray": built(tray), "deep channel": built(channel), "hat": built(hat), "box": built(boxed)}


@pytest.mark.parametrize("name", ["tray", "deep channel", "hat", "box"])
def test_a_plan_replayed_in_degrees_meets_no_tool_in_space(name: str) -> None:
    part = plans()[name]
    plan = plan_bends(part, material("DC01"), typical_shop())
    assert isinstance(plan, BendPlan)
    search = BendSearch(part, material("DC01"), typical_shop())
    by_name = {tooling.name: tooling for tooling in search.toolings}
    for step in plan.steps:
        meshes = MeshBrake(
            part, search.bodies, step.stroke, by_name[step.tool], search.shop.brake, step.child_at_back
        )
        last = math.ceil(math.degrees(step.angle_rad))
        for place, body in enumerate(search.bodies.seen_from[step.stroke]):
            # The two sides of the bend touch the tools by design; what hangs on them may not.
            if body.strip is None and not body.way:
                continue
            if step.made_before & body.mask == 0:
                continue
            for degree in range(last + 1):
                turned = min(math.radians(degree), step.angle_rad)
                assert not meshes.touching(place, step.made_before, turned), (body.name, step.stroke, degree)
