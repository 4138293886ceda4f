"""The search against trying every order, and what may not change its answer."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from steadfold.catalogue import material
from steadfold.fabricate.bend_order import BendSearch, Place, plan_bends
from steadfold.fabricate.bend_plan import BendPlan, NoPlan
from steadfold.fabricate.brake_check import BrakeCheck
from steadfold.fabricate.shop import Shop
from steadfold.fabricate.shop_file import typical_shop
from steadfold.sheet.part import Bend, Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import DrawnPanel, PanelTree, TreeError, rectangular_panel

STEEL = material("DC01")


def random_part(draw: random.Random, bends: int) -> Part:
    """A rectangular base with flanges, returns on some of them, a bend sharp enough for the acute punch
    now and then."""
    while True:
        w, h = draw.uniform(70, 200), draw.uniform(70, 200)
        panels: list[DrawnPanel] = [rectangular_panel("base", w, h)]
        free = [("base", "bottom", w), ("base", "right", h), ("base", "top", w), ("base", "left", h)]
        while len(panels) <= bends:
            parent, edge, span = free.pop(draw.randrange(len(free)))
            turn = draw.choice([1, 1, -1]) * math.radians(draw.choice([90, 90, 90, 90, 45, 120]))
            name = f"p{len(panels)}"
            panels.append(rectangular_panel(name, span, draw.uniform(20, 50), parent, edge, turn))
            free.append((name, "far", span))
        try:
            return resolve(PanelTree(tuple(panels)), "random", 2.0, din_rule(2.0, 2.0, 0.42)).part
        except TreeError:
            continue


def cheapest_by_trying_all(part: Part, shop: Shop) -> tuple[float, set[int]] | None:
    """Least seconds over every order, side and tool, and the numbers of flips that plans of that cost
    have; None when no order works. No bound, no states: only what the brake allows and what a move
    costs."""
    search = BendSearch(part, STEEL, shop)
    best, flips = math.inf, set()

    def go(place: Place, cost: float, turned: int) -> None:
        nonlocal best, flips
        if cost > best + 1e-6:
            return
        made, lie, _ = place
        if made == search.full:
            if cost < best - 1e-6:
                best, flips = cost, set()
            flips.add(turned)
            return
        for move in search.moves(place):
            flip = lie is not None and lie.face_up != move.lie.face_up
            go((made | 1 << move.stroke, move.lie, move.tool), cost + move.cost_s, turned + flip)

    go((0, None, -1), 0.0, 0)
    return None if math.isinf(best) else (best, flips)


@pytest.mark.parametrize(("bends", "parts"), [(2, 12), (3, 12), (4, 10), (5, 8), (6, 5)])
def test_the_search_finds_what_trying_every_order_finds(bends: int, parts: int) -> None:
    draw = random.Random(bends)
    shop = typical_shop()
    if bends > 4:
        # Every order on both sides with one punch is what can be tried in reasonable time.
        shop = replace(shop, punches=shop.punches[:1])
    impossible = 0
    for _ in range(parts):
        part = random_part(draw, bends)
        plan, truth = plan_bends(part, STEEL, shop), cheapest_by_trying_all(part, shop)
        if truth is None:
            assert isinstance(plan, NoPlan)
            impossible += 1
            continue
        assert isinstance(plan, BendPlan)
        assert plan.cost_s == pytest.approx(truth[0], abs=1e-6)
        assert plan.flips in truth[1]
        assert sum(step.cost_s for step in plan.steps) == pytest.approx(plan.cost_s)
    assert impossible < parts


def test_where_flips_cost_most_the_search_finds_the_fewest_flips_there_are() -> None:
    """With every other cost at nothing, the cheapest order has the least number of flips of all orders."""
    draw = random.Random(7)
    typical = typical_shop()
    only_flips = replace(
        typical.times, flip_s=1.0, half_turn_s=0.0, quarter_turn_s=0.0, tool_change_s=0.0, out_sideways_s=0.0,
        cut_back_punch_s=0.0,
        no_gauge_s=0.0, gauge_on_flange_s=0.0, long_side_back_s=0.0, stroke_s=0.0,
    )
    shop = replace(typical, punches=typical.punches[:2], times=only_flips)
    for _ in range(6):
        part = random_part(draw, 4)
        plan, truth = plan_bends(part, STEEL, shop), cheapest_by_trying_all(part, shop)
        if truth is None:
            assert isinstance(plan, NoPlan)
        else:
            assert isinstance(plan, BendPlan)
            assert plan.flips == round(truth[0]) == plan.cost_s


def mirrored(part: Part) -> Part:
    """The part as seen in a mirror: every bend the other way."""
    return replace(part, bends=tuple(replace(bend, angle_rad=-bend.angle_rad) for bend in part.bends))


def renamed_and_rerooted(part: Part) -> Part:
    """The same part with its panels in reverse order, the walk from another root."""
    count = len(part.panels)
    place = {i: count - 1 - i for i in range(count)}
    bends: list[Bend] = []
    reached = {0}
    waiting = list(part.bends)
    while waiting:
        for bend in waiting:
            parent, child = place[bend.parent], place[bend.child]
            if parent in reached or child in reached:
                break
        waiting.remove(bend)
        if parent in reached:
            bends.append(replace(bend, parent=parent, child=child))
            reached.add(child)
            continue
        # Walked from the other end: the strip runs from the old child to the old parent.
        bends.append(
            replace(
                bend,
                parent=child,
                child=parent,
                parent_point=bend.child_point,
                parent_along=bend.child_along,
                parent_away=(-bend.child_away[0], -bend.child_away[1]),
                child_point=bend.parent_point,
                child_along=bend.parent_along,
                child_away=(-bend.parent_away[0], -bend.parent_away[1]),
            )
        )
        reached.add(parent)
    return replace(part, panels=part.panels[::-1], bends=tuple(bends))


@pytest.mark.parametrize("seed", range(8))
def test_a_mirrored_part_costs_the_same(seed: int) -> None:
    part = random_part(random.Random(seed), 4)
    one, two = plan_bends(part, STEEL, typical_shop()), plan_bends(mirrored(part), STEEL, typical_shop())
    assert type(one) is type(two)
    if isinstance(one, BendPlan) and isinstance(two, BendPlan):
        assert (one.cost_s, one.flips) == pytest.approx((two.cost_s, two.flips))


@pytest.mark.parametrize("seed", range(8))
def test_a_part_walked_from_another_panel_costs_the_same(seed: int) -> None:
    part = random_part(random.Random(seed), 4)
    one = plan_bends(part, STEEL, typical_shop())
    two = plan_bends(renamed_and_rerooted(part), STEEL, typical_shop())
    assert type(one) is type(two)
    if isinstance(one, BendPlan) and isinstance(two, BendPlan):
        assert one.cost_s == pytest.approx(two.cost_s)


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_read_backwards_unfolds_the_part_without_a_clash(seed: int) -> None:
    """Each step undone from the finished part meets nothing: the states are those of the plan, looked at
    in finer steps than the search took and in reverse."""
    part = random_part(random.Random(100 + seed), 5)
    plan = plan_bends(part, STEEL, typical_shop())
    if isinstance(plan, NoPlan):
        part = random_part(random.Random(seed), 3)
        plan = plan_bends(part, STEEL, typical_shop())
    assert isinstance(plan, BendPlan)
    search = BendSearch(part, STEEL, typical_shop())
    check: BrakeCheck = search.check
    tools = {tooling.name: tooling for tooling in search.toolings}
    standing = search.full
    for step in reversed(plan.steps):
        standing &= ~(1 << step.stroke)
        assert standing == step.made_before
        for place in range(len(search.bodies.seen_from[step.stroke])):
            for tenth in range(math.ceil(math.degrees(step.angle_rad) * 4), -1, -1):
                turned = min(math.radians(0.25 * tenth), step.angle_rad)
                gap = check.gap_mm(step.stroke, tools[step.tool], step.child_at_back, place, standing, turned)
                assert gap >= -0.021


def test_progress_tells_of_plans_that_only_get_better_and_giving_up_keeps_the_best() -> None:
    part = random_part(random.Random(3), 4)
    told: list[BendPlan] = []
    plan = plan_bends(part, STEEL, typical_shop(), told.append)
    assert isinstance(plan, BendPlan)
    assert told
    assert plan.cost_s <= told[-1].cost_s
    early = plan_bends(part, STEEL, typical_shop(), give_up=lambda: True)
    assert isinstance(early, BendPlan)
    assert not early.complete
    assert len(early.steps) == len(plan.steps)
