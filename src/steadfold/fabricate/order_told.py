"""What the bend order means for the person who orders: findings from a plan, or from there being none."""

from __future__ import annotations

import math
from collections.abc import Iterator

from steadfold.fabricate.bend_plan import BendPlan, NoPlan
from steadfold.fabricate.bending import at_bend
from steadfold.fabricate.measures import Measures
from steadfold.fabricate.noted import Noted
from steadfold.fabricate.shop import COMMON_PRACTICE, Shop
from steadfold.findings import Finding, Severity
from steadfold.findings.finding import Change

LITTLE_MM = 1.0
"""Less room than this beside a tool is told (assumed: sheet and hands are not that exact)."""


def order_findings(measures: Measures, answer: BendPlan | NoPlan, shop: Shop) -> Iterator[Noted]:
    """Findings of a bend order."""
    if isinstance(answer, NoPlan):
        yield from _none(measures, answer, shop)
    else:
        yield from _plan(measures, answer, shop)


def _none(measures: Measures, answer: NoPlan, shop: Shop) -> Iterator[Noted]:
    source = f"tools of shop file {shop.name!r}"
    if not answer.proved:
        yield Noted(
            Finding(
                "bend-order-unfinished", Severity.UNPROVEN, measures.part.name,
                "The search for a bend order was cut off before it found one; nothing says that there is none.",
                None, None, source, "let it search longer, or ask the shop",
            )
        )
        return
    name, mark = measures.bend_name(answer.blocked[0]), (at_bend(measures, answer.blocked[0]),)
    remedy = "; or ".join(remedy.say for remedy in answer.frees) or "split the part in two, or ask the shop"
    turned = math.degrees(answer.angle_rad)
    if answer.why == "too sharp":
        sharpest = math.degrees(max(min(p.max_bend_rad, d.max_bend_rad) for p in shop.punches for d in shop.dies))
        yield Noted(
            Finding(
                "too-sharp-for-tools", Severity.STOP, name,
                f"The bend turns through {turned:.1f}°; this shop's tools reach {sharpest:.0f}° with what the metal "
                "springs back.",
                turned, sharpest, source, remedy,
            ),
            mark,
        )
        return
    body, tool = answer.pair
    if answer.why == "trapped":
        say = f"After bending {name} the part is trapped on the {tool}: it comes off neither downwards nor sideways."
    else:
        say = (
            f"No order of bends works: at {name}, turned through {turned:.0f}°, {body!r} meets the {tool} "
            f"({answer.tool}) and would lie {answer.depth_mm:.1f} mm inside it."
        )
    yield Noted(
        Finding(
            "no-bend-order", Severity.STOP, name, say, answer.depth_mm, 0.0, source, remedy, _shorter(measures, answer)
        ),
        mark,
    )
    goose = next((r for r in answer.frees if r.what == "another punch" and "gooseneck" in r.say), None)
    if goose is not None:
        yield Noted(
            Finding(
                "needs-gooseneck", Severity.CAUTION, name, "A gooseneck punch would do it; this shop lists none.",
                None, None, source, "ask the shop for a gooseneck punch, or choose a shop that has one",
            ),
            mark,
        )


def _shorter(measures: Measures, answer: NoPlan) -> Change | None:
    """The shortening that was tried, where one panel drawn with outside dimensions is enough."""
    for remedy in answer.frees:
        if remedy.panel is None or remedy.amount_mm is None or " and " in remedy.say:
            continue
        panel = measures.part.panels[measures.part.panel_index(remedy.panel)]
        if panel.extent_mm is not None and panel.extent_mm[1] > remedy.amount_mm:
            size = panel.extent_mm[1] - remedy.amount_mm
            return Change(measures.part.name, f"panel.{panel.name}.size[1]", f"{size:.4g} mm")
    return None


def _plan(measures: Measures, plan: BendPlan, shop: Shop) -> Iterator[Noted]:
    source = f"tools of shop file {shop.name!r}"
    if not plan.complete:
        yield Noted(
            Finding(
                "bend-order-unfinished", Severity.NOTE, measures.part.name,
                f"{len(plan.steps)} steps in {plan.cost_s:.0f} s at the brake is the best order found so far; not all "
                "were looked at.",
                plan.cost_s, None, source, "none needed: the order works with these tools",
            )
        )
    kinds = {punch.name: punch.kind for punch in shop.punches}
    for step in plan.steps:
        index = step.bends[0]
        name, mark = measures.bend_name(index), (at_bend(measures, index),)
        if kinds.get(step.tool.split(" over ")[0]) == "gooseneck":
            yield Noted(
                Finding(
                    "needs-gooseneck", Severity.NOTE, name, "This bend is planned with the gooseneck punch.",
                    None, None, source, "make sure the shop has one as long as the bend",
                ),
                mark,
            )
        if step.way_out == "sideways":
            yield Noted(
                Finding(
                    "comes-out-sideways", Severity.NOTE, name,
                    "After this bend the part hooks round the punch and is slid off along it.",
                    None, None, source, "leave room beside the brake, or widen the opening between the flanges",
                ),
                mark,
            )
        if step.work == "bend" and step.gauge is None:
            yield Noted(
                Finding(
                    "no-edge-to-gauge", Severity.NOTE, name,
                    "No straight edge parallel to this bend can be reached by two fingers of the backgauge; it is bent "
                    "to a mark.",
                    None, None, f"{source}; {COMMON_PRACTICE}", "have the bend line marked by the laser",
                ),
                mark,
            )
        if step.clearance_mm is not None and step.clearance_mm < LITTLE_MM:
            yield Noted(
                Finding(
                    "clears-by-little", Severity.NOTE, name,
                    f"The part clears these tools by {max(step.clearance_mm, 0.0):.1f} mm.",
                    step.clearance_mm, LITTLE_MM, f"{source}; 1 mm is assumed", "show the shop this step first",
                ),
                mark,
            )
