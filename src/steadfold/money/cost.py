"""What a part costs: operation by operation, at a quantity and at others, with the interval it is known to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from steadfold.catalogue import Material
from steadfold.fabricate.bend_plan import BendPlan
from steadfold.fabricate.shop import Shop
from steadfold.money.amount import Money, money_of
from steadfold.money.calibration import Calibration, uncalibrated
from steadfold.money.postage import Carriage, carriage
from steadfold.money.rates import Rates, read_rates
from steadfold.money.work import Operation, SheetUse, operations_of, spend_of
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.part import Part

QUANTITIES = (1, 2, 5, 10, 20, 50, 100)
"""Quantities that a cost is told at beside the one ordered."""
PACKED_SHARE = 0.5
"""Share of its box that a folded part fills when several lie in each other (assumed)."""


@dataclass(frozen=True)
class CostLine:
    """One operation's money for the whole order, at the rates as corrected by quotes."""

    operation: Operation
    amount: float
    money: Money


@dataclass(frozen=True)
class CostAnswer:
    """What one part costs of an order of `quantity`, carriage to you included, tax not.

    Between `low` and `high` lie 90 % of what shops would ask. `at` is the price of one at other quantities.
    `basis` is 'uncalibrated' as long as no quote of this shop stands behind the rates. `least_counts` is true
    when the order is so small that the least order decides.
    """

    each: Money
    low: Money
    high: Money
    at: tuple[tuple[int, Money], ...]
    quantity: int
    lines: tuple[CostLine, ...]
    shipping: Carriage
    basis: Literal["uncalibrated", "calibrated"]
    quotes: int
    least_counts: bool
    sheet_use: str

    @property
    def operations(self) -> tuple[Operation, ...]:
        """The operations, in order."""
        return tuple(line.operation for line in self.lines)

    @property
    def order(self) -> Money:
        """The whole order."""
        return self.each * self.quantity

    @property
    def sentence(self) -> str:
        """The answer in a sentence."""
        known = "uncalibrated: no quote of this shop stands behind the rates" if self.basis == "uncalibrated" else (
            f"calibrated by {self.quotes} quote{'s' if self.quotes != 1 else ''}"
        )
        return f"{self.each} each for {self.quantity}, between {self.low} and {self.high} ({known})"


def cost_of(
    part: Part,
    flat: FlatPattern,
    plan: BendPlan | None,
    material: Material,
    shop: Shop,
    quantity: int,
    finish: str = "none",
    *,
    hardware: int = 0,
    rates: Rates | None = None,
    sheet_use: SheetUse | None = None,
    calibration: Calibration | None = None,
    folded_size_mm: tuple[float, float, float] | None = None,
    at: Sequence[int] = QUANTITIES,
    share_of_order: float = 1.0,
) -> CostAnswer:
    """What a part costs, ordered alone; with `share_of_order` below 1 what it bears of an order with others.

    `plan` is its bend order, None when there is none yet; `rates` default to the shop's own `[rates]` over the
    typical; `sheet_use` is the sheet that nesting found it takes, else its own rectangle; without
    `folded_size_mm` the parcel is reckoned from the flat. Raises `NoCost` when something has no price,
    `RatesError` for rates that cannot be read, `ValueError` for a quantity below 1.
    """
    if quantity < 1 or any(other < 1 for other in at):
        raise ValueError("a quantity is at least 1")
    rates = rates or read_rates(shop.rates)
    operations = operations_of(part, flat, plan, material, shop, rates, finish, hardware, sheet_use, share_of_order)
    known = calibration or uncalibrated(float(rates.least_order.amount))
    mass_kg = part.volume_mm3 * material.density_kg_m3 * 1e-9
    size = folded_size_mm or (*flat.size_mm, part.thickness_mm)
    sent = shipping_of(mass_kg, size, quantity, rates)
    asked = known.predict(spend_of(operations, rates, quantity), share_of_order)
    return CostAnswer(
        each=_each(asked.middle, sent, quantity, rates),
        low=_each(asked.low, sent, quantity, rates),
        high=_each(asked.high, sent, quantity, rates),
        at=tuple((n, each_at(operations, rates, known, mass_kg, size, n, share_of_order)) for n in at),
        quantity=quantity,
        lines=_lines(operations, rates, known, quantity),
        shipping=sent,
        basis="calibrated" if known.calibrated else "uncalibrated",
        quotes=len(known.quotes),
        least_counts=sum(spend_of(operations, rates, quantity).values()) < share_of_order * known.least,
        sheet_use=next(o.basis for o in operations if o.name == "metal"),
    )


def each_at(
    operations: tuple[Operation, ...],
    rates: Rates,
    calibration: Calibration,
    mass_kg: float,
    size_mm: tuple[float, float, float],
    quantity: int,
    share_of_order: float = 1.0,
) -> Money:
    """The price of one part at a quantity, carriage included."""
    asked = calibration.predict(spend_of(operations, rates, quantity), share_of_order)
    return _each(asked.middle, shipping_of(mass_kg, size_mm, quantity, rates), quantity, rates)


def shipping_of(mass_kg: float, size_mm: tuple[float, float, float], quantity: int, rates: Rates) -> Carriage:
    """Carriage of an order from the shop."""
    return carriage(quantity * mass_kg, packed_cm3(size_mm, quantity), rates.shipping, mass_kg)


def packed_cm3(size_mm: tuple[float, float, float], quantity: int) -> float:
    """Room that parts take: one its box, several half the room their boxes would take, laid in each other."""
    return quantity * math.prod(size_mm) / 1000.0 * (1.0 if quantity == 1 else PACKED_SHARE)


def _each(asked: float, sent: Carriage, quantity: int, rates: Rates) -> Money:
    return ((money_of(asked, rates.currency) + sent.price) / Decimal(quantity)).rounded()


def _lines(operations: tuple[Operation, ...], rates: Rates, known: Calibration, quantity: int) -> tuple[CostLine, ...]:
    """Each operation at the middle of its own rate. They add up to the order before carriage and least order; once
    quotes correct the rates, only about: middles do not add."""
    lines = []
    for operation in operations:
        amount = operation.amount(quantity)
        money = amount * float(rates.charge(operation.charge).amount)
        if operation.charge in known.keys:
            money *= known.factor(operation.charge).middle
        elif known.calibrated:
            money *= known.level
        lines.append(CostLine(operation, amount, money_of(money, rates.currency).rounded()))
    return tuple(lines)
