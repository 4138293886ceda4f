"""Whether a part can be made, in which order of bends, and what it costs."""

from __future__ import annotations

import time
from dataclasses import dataclass

from steadfold.catalogue import Material
from steadfold.fabricate.bend_plan import BendPlan, NoPlan
from steadfold.fabricate.hardware import Fixing
from steadfold.fabricate.making import bend_order, noted_fabrication
from steadfold.fabricate.noted import Noted
from steadfold.fabricate.shop import Shop
from steadfold.findings import Finding, Severity
from steadfold.job.models import JobPart
from steadfold.job.problem import JobProblems, Problem
from steadfold.joints.backing import fastener_known
from steadfold.money.cost import CostAnswer, cost_of
from steadfold.money.rates import RatesError
from steadfold.money.work import NoCost
from steadfold.mount.records import Strength
from steadfold.sheet.flat import FlatError, FlatPattern
from steadfold.sheet.part import Part

LONGEST_SEARCH_S = 20.0
"""A bend order not found to be the best by then is given as the best so far."""


@dataclass(frozen=True)
class Made:
    """How a part is made: its bend order or why there is none, what was noticed, and what it costs.

    `order` is None where nothing is bent or the order was not searched.
    """

    order: BendPlan | NoPlan | None
    noted: tuple[Noted, ...]
    cost: CostAnswer | None
    why_no_cost: str = ""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings without their marks."""
        return tuple(each.finding for each in self.noted)

    @property
    def press_force_kn(self) -> float | None:
        """Largest force of a stroke; None where there is no plan."""
        return self.order.press_force_kn if isinstance(self.order, BendPlan) else None


def made(
    ordered: JobPart,
    part: Part,
    flat: FlatPattern | None,
    material: Material,
    shop: Shop,
    folded_size_mm: tuple[float, float, float] | None,
    strength: Strength | None,
    fine: bool = True,
) -> Made:
    """Review the making of a part; `fine` False leaves the bend order out.

    Raises `JobProblems` when the shop's rates cannot be read.
    """
    if material.family == "plastic":
        say = f"{material.id} is printed, not cut and folded: flat, bends and reliefs are only the model's, and its price is not computed."
        printed = Finding("printed-not-folded", Severity.NOTE, part.name, say)
        return Made(None, (Noted(printed),), None, "a print is not priced here")
    started = time.monotonic()

    def enough() -> bool:
        return time.monotonic() - started > LONGEST_SEARCH_S

    order = None
    if fine and part.bends and material.foldable:
        order = bend_order(part, material, shop, give_up=enough)
    noted: tuple[Noted, ...] = ()
    if fine:
        try:
            noted = tuple(
                noted_fabrication(
                    part,
                    material,
                    shop,
                    ordered.finish,
                    order=order,
                    grain=ordered.grain,
                    fixings=_fixings(ordered, part, strength),
                )
            )
        except FlatError:
            noted = ()  # the flat's own finding says so
    return Made(order, noted, *_cost(ordered, part, flat, order, material, shop, folded_size_mm))


def _fixings(ordered: JobPart, part: Part, strength: Strength | None) -> tuple[Fixing, ...]:
    """The fixings of the mount as the hardware of the part."""
    mount = ordered.mount
    if mount is None or mount.fastener is None or strength is None:
        return ()
    size = getattr(fastener_known(mount.fastener), "size", None)
    panel = mount.holes or part.panels[0].name
    if size is None or not (size.startswith("M") or "-" in size):
        return ()
    return tuple(Fixing(panel, bolt.at_mm, size, head_mm=mount.washer_mm) for bolt in strength.bolts)


def _cost(
    ordered: JobPart,
    part: Part,
    flat: FlatPattern | None,
    order: BendPlan | NoPlan | None,
    material: Material,
    shop: Shop,
    folded_size_mm: tuple[float, float, float] | None,
) -> tuple[CostAnswer | None, str]:
    if flat is None:
        return None, "there is no flat to price"
    plan = order if isinstance(order, BendPlan) else None
    try:
        found = cost_of(
            part,
            flat,
            plan,
            material,
            shop,
            ordered.quantity,
            ordered.finish,
            folded_size_mm=folded_size_mm,
        )
    except NoCost as error:
        return None, str(error)
    except RatesError as error:
        raise JobProblems([Problem("shop", 0, 0, "rates", str(error))]) from None
    return found, ""


def cost_findings(ordered: JobPart, found: Made) -> list[Finding]:
    """What is to be known of the cost."""
    return [*_of_cost(ordered, found), *_of_seams(ordered)]


def _of_seams(ordered: JobPart) -> list[Finding]:
    """That joining is not in the price."""
    if not ordered.seams:
        return []
    hows = [seam.how for seam in ordered.seams]
    many = ", ".join(f"{hows.count(how)} {how}" for how in dict.fromkeys(hows))
    say = f"Its seams ({many}) are joined after folding; that work is not priced here."
    return [Finding("not-computed", Severity.NOTE, ordered.name, say, remedy="ask the shop what joining costs, and add it")]


def _of_cost(ordered: JobPart, found: Made) -> list[Finding]:
    if found.cost is None:
        say = f"What it costs is not computed: {found.why_no_cost}."
        return [Finding("not-computed", Severity.NOTE, ordered.name, say)]
    if found.cost.basis == "uncalibrated":
        return [
            Finding(
                "cost-uncalibrated",
                Severity.NOTE,
                ordered.name,
                f"{found.cost.sentence}.",
                None,
                None,
                "the shipped rates, which nobody quoted",
                "add your own quotes: steadfold cost JOB --quotes quotes.csv",
            )
        ]
    return []
