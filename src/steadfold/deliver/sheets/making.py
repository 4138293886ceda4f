"""What making a part takes, read from the review: the plan of bends where one was computed, and what to measure."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.catalogue import finishes
from steadfold.deliver.drawing.openings import groups_of, openings_of, show
from steadfold.deliver.sheets.head import sentence
from steadfold.fabricate.bend_plan import BendPlan, NoPlan
from steadfold.fabricate.shop import Shop
from steadfold.quantities.showing import Units
from steadfold.review import PartReview

MOST_CHECKS = 8

NO_ORDER = ("no-bend-order", "too-sharp-for-tools", "bend-order-unfinished")
"""Findings that say why there is no order of bends."""


def bend_plan_of(part: PartReview) -> BendPlan | None:
    """The order of bends that the review found; None where it was not computed or none exists."""
    order = part.making.order if part.making is not None else None
    return order if isinstance(order, BendPlan) else None


def no_plan_words(part: PartReview) -> str:
    """Why there is no order of bends, in a sentence."""
    order = part.making.order if part.making is not None else None
    if not isinstance(order, NoPlan):
        return "Order of bends, tools, gauging and over-bend: not computed. The shop chooses the order."
    found = next((f for f in part.findings if f.code in NO_ORDER), None)
    return sentence(found.say) if found is not None else "No order of bends works with these tools."


@dataclass(frozen=True)
class Check:
    """Something to measure on a finished part: what, the value as ordered, and the limits after coating, as text."""

    what: str
    ordered: str
    least: str
    most: str


def checks_of(part: PartReview, shop: Shop, units: Units) -> list[Check]:
    """What to measure on the first piece, with limits that count cut, bends and coat.

    A length between two bends may be off by the cut's tolerance and one bend's at each of its ends; the coat adds to
    an outside and takes from a hole. Worst case, by the shop's own tolerances.
    """
    assert part.part is not None and part.flat is not None
    low_um, _, most_um = (0.0, 0.0, 0.0)
    if part.ordered.finish != "none":
        low_um, _, most_um = finishes.finish(part.ordered.finish).thickness_um
    coat = (2 * low_um / 1000, 2 * most_um / 1000)
    found: dict[tuple[str, str], Check] = {}
    inner = part.part
    bends_at = [0] * len(inner.panels)
    for bend in inner.bends:
        bends_at[bend.parent] += 1
        bends_at[bend.child] += 1
    for index, panel in enumerate(inner.panels):
        if panel.extent_mm is None:
            continue
        across = panel.extent_mm[1]
        slack = shop.laser.tolerance_mm + shop.brake.leg_tolerance_mm * max(1, min(2, bends_at[index]))
        key = ("flange", show(across, units))
        if key not in found:
            least, most = across - slack + coat[0], across + slack + coat[1]
            found[key] = Check(f"{panel.name}, outside", show(across, units), show(least, units), show(most, units))
    for bend in inner.bends:
        between = 180 - abs(math.degrees(bend.angle_rad))
        if between < 5:
            continue
        slack_deg = math.degrees(shop.brake.angle_tolerance_rad)
        found.setdefault(
            ("angle", f"{between:.2f}"),
            Check("angle between faces", f"{between:g}°", f"{between - slack_deg:g}°", f"{between + slack_deg:g}°"),
        )
    for group in groups_of(openings_of(inner, part.flat, units)):
        circle = group.openings[0].outline.circle
        if circle is None:
            continue
        diameter = 2 * circle[1]
        slack = shop.laser.tolerance_mm
        found.setdefault(
            ("hole", show(diameter, units)),
            Check(
                f"hole {group.letter}", f"⌀{show(diameter, units)}",
                show(diameter - slack - coat[1], units), show(diameter + slack - coat[0], units),
            ),
        )  # fmt: skip
    return list(found.values())[:MOST_CHECKS]
