"""What would let a part be bent that no order bends: every change named here was tried."""

from __future__ import annotations

from dataclasses import replace

from steadfold.catalogue.materials import Material
from steadfold.fabricate.bend_order import BendSearch, CutOff
from steadfold.fabricate.bend_plan import NoPlan, Remedy
from steadfold.fabricate.changes import (
    LEAST_LEFT_MM,
    TALLER_BY_MM,
    blocking_panels,
    leaf_depth_mm,
    least_amount,
    raised,
    shortened,
)
from steadfold.fabricate.shop import Shop
from steadfold.fabricate.shop_file import typical_shop
from steadfold.fabricate.strokes import strokes_of
from steadfold.sheet.part import Part

MOST_STROKES_TRIED = 8
"""Parts of more strokes are tried with another punch only, since every trial is a search."""


def explained(part: Part, material: Material, shop: Shop, answer: NoPlan) -> NoPlan:
    """The answer with what frees it: another punch, a taller one, a shorter panel.

    Amounts are found by halving, to half a millimetre, and rounded up.
    """

    if not answer.proved:
        return answer

    def works(changed: Part, changed_shop: Shop) -> bool:
        try:
            return BendSearch(changed, material, changed_shop).alive(0)
        except CutOff:
            return False

    found = []
    for punch in typical_shop().punches:
        if all(punch.outline != own.outline for own in shop.punches) and works(
            part, replace(shop, punches=(*shop.punches, punch))
        ):
            found.append(Remedy("another punch", f"use a {punch.name} punch"))
    if answer.why == "too sharp" or len(strokes_of(part)) > MOST_STROKES_TRIED:
        return replace(answer, frees=tuple(found))

    def taller(by_mm: float) -> bool:
        return works(part, replace(shop, punches=tuple(raised(punch, by_mm) for punch in shop.punches)))

    amount = least_amount(taller, TALLER_BY_MM)
    if amount is not None:
        found.append(Remedy("taller punch", f"use a punch {amount:g} mm taller", amount))
    for names in blocking_panels(part, answer):

        def shorter(by_mm: float, names: tuple[str, ...] = names) -> bool:
            return works(shortened(part, names, by_mm), shop)

        amount = least_amount(shorter, min(leaf_depth_mm(part, name) for name in names) - LEAST_LEFT_MM)
        if amount is not None:
            say = f"make {' and '.join(names)} {amount:g} mm shorter"
            found.append(Remedy("shorter panel", say, amount, names[0]))
            break
    return replace(answer, frees=tuple(found))
