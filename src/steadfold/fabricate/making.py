"""Everything there is to say about making a part, in the order it is made."""

from __future__ import annotations

from collections.abc import Callable

from steadfold.catalogue.finishes import Finish
from steadfold.catalogue.finishes import finish as finish_named
from steadfold.catalogue.materials import Material
from steadfold.fabricate.bend_order import plan_bends
from steadfold.fabricate.bend_plan import BendPlan, NoPlan
from steadfold.fabricate.bending import Grain, bending_findings
from steadfold.fabricate.coating import coating_findings
from steadfold.fabricate.cutting import cutting_findings
from steadfold.fabricate.fit import Passing, fit_findings
from steadfold.fabricate.handling import handling_findings
from steadfold.fabricate.hardware import Fixing, hardware_findings
from steadfold.fabricate.measures import Measures
from steadfold.fabricate.noted import Noted, alike_together
from steadfold.fabricate.order_told import order_findings
from steadfold.fabricate.shop import Shop
from steadfold.fabricate.what_frees import explained
from steadfold.sheet.part import Part


def bend_order(
    part: Part,
    material: Material,
    shop: Shop,
    progress: Callable[[BendPlan], None] | None = None,
    give_up: Callable[[], bool] | None = None,
) -> BendPlan | NoPlan:
    """The order of bends, or why there is none and what was tried to free it; see `plan_bends`."""
    answer = plan_bends(part, material, shop, progress, give_up)
    return explained(part, material, shop, answer) if isinstance(answer, NoPlan) else answer


def noted_fabrication(
    part: Part,
    material: Material,
    shop: Shop,
    finish: str | Finish,
    *,
    order: BendPlan | NoPlan | None = None,
    grain: Grain = "any",
    fixings: tuple[Fixing, ...] = (),
    passing: tuple[Passing, ...] = (),
) -> list[Noted]:
    """Findings with their marks: cutting, bending, bend order, coating, hardware, handling.

    `order` is a bend order already found (None: it is searched here, unless the metal does not fold). Raises
    `FlatError` when the flat is not one piece.
    """
    coat = finish if isinstance(finish, Finish) else finish_named(finish)
    measures = Measures(part)
    found = [*cutting_findings(measures, material, shop)]
    if not measures.outer.is_valid:
        # Nothing can be measured on a contour that crosses itself; that finding is a stop.
        return alike_together(found)
    found += bending_findings(measures, material, shop, grain)
    if part.bends and material.foldable:
        found += order_findings(measures, order or bend_order(part, material, shop), shop)
    found += coating_findings(measures, material, shop, coat)
    found += fit_findings(measures, passing, shop, coat)
    found += hardware_findings(measures, fixings, shop, coat)
    found += handling_findings(measures, material, shop)
    return alike_together(found)
