"""Could this be a product? Price, pay-back and risk of each variant, and the assumption that matters most."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from steadfold.findings import Finding, Severity
from steadfold.money.amount import Money, money_of
from steadfold.money.demand import CashAnswer, Demand, Venture, simulate
from steadfold.money.sale import (
    Goods,
    Landed,
    PayBack,
    Sale,
    UnitPrice,
    Variant,
    pay_back,
    price_for_margin,
    unit_price,
)

LIKELY, GAMBLE = 0.1, 0.35
"""Chance of losing money up to which it 'could be a product', and from which 'not as it stands' (judgement)."""

Standing = Literal["could be a product", "is a gamble", "is not a product as it stands", "not known"]


@dataclass(frozen=True)
class Swing:
    """What an assumption does to the money left at the end: at its low and at its high, all others as assumed.

    `must_be` is the value at which nothing is left, None when it never happens within reason; `unit` is said after
    it.
    """

    what: str
    low: float
    high: float
    at_low: float
    at_high: float
    must_be: float | None
    unit: str

    @property
    def size(self) -> float:
        """How far the end moves."""
        return abs(self.at_high - self.at_low)


@dataclass(frozen=True)
class FamilyRow:
    """One variant: what it costs landed at its batch, its price, what is left of a sale, what pays it back."""

    variant: Variant
    goods: Goods
    unit: UnitPrice
    pay_back: PayBack


@dataclass(frozen=True, eq=False)
class ProductAnswer:
    """The whole answer for a sale. `cash` is None when the job says nothing of demand, and then `standing` is
    'not known'."""

    sale: Sale
    rows: tuple[FamilyRow, ...]
    cash: CashAnswer | None
    swings: tuple[Swing, ...]
    standing: Standing
    sentence: str


def product(sale: Sale, landed: Callable[[Variant, int], Goods]) -> ProductAnswer:
    """Price every variant, and ask of the first whether it could be a product.

    `landed` gives the goods of a variant for a batch of so many units. Raises `PriceError` when no price is enough.
    """
    rows = tuple(
        _row(sale, variant, _bought(landed, variant), sale.price if number == 0 else None)
        for number, variant in enumerate(sale.variants)
    )
    first = rows[0]
    if sale.demand is None:
        unknown = "How many would be sold is not said in [sale], so whether it could be a product is not known."
        say = f"{_earns(first, sale)} {unknown}"
        return ProductAnswer(sale, rows, None, (), "not known", say)
    venture = _venture(sale, first)
    cash = simulate(venture, sale.demand)
    swings = _swings(sale, first, venture, sale.demand)
    standing: Standing = (
        "could be a product"
        if cash.chance_of_loss <= LIKELY
        else "is a gamble"
        if cash.chance_of_loss <= GAMBLE
        else "is not a product as it stands"
    )
    return ProductAnswer(sale, rows, cash, swings, standing, _sentence(sale, first, cash, swings, standing))


def _bought(landed: Callable[[Variant, int], Goods], variant: Variant) -> Landed:
    return lambda batch: landed(variant, batch)


def _row(sale: Sale, variant: Variant, landed: Landed, asked: Money | None) -> FamilyRow:
    goods = landed(sale.batch)
    price = asked if asked is not None else price_for_margin(sale, goods)
    return FamilyRow(variant, goods, unit_price(sale, goods, price), pay_back(sale, landed, price))


def _venture(sale: Sale, row: FamilyRow) -> Venture:
    unit = row.unit
    before = float((unit.contribution + unit.landed).amount)
    design = float(sale.money(sale.design).amount)
    return Venture(before, float(unit.landed.amount), design, sale.batch, sale.months, sale.lead_months)


def sale_findings(answer: ProductAnswer) -> tuple[Finding, ...]:
    """What is worth knowing before ordering for sale: a first batch that loses, parcels that bill by size."""
    found = []
    for row in answer.rows:
        sent, back = row.unit.postage, row.pay_back
        if back.first_order_loses:
            batch = f"a single batch of {back.batch} does" if back.batch is not None else "no batch does"
            found.append(
                Finding(
                    "first-order-loses", Severity.CAUTION, row.variant.name,
                    f"Selling the whole first batch of {answer.sale.batch} at {row.unit.price} leaves "
                    f"{back.first_order}: it does not pay the design back; {batch}.",
                    float(back.first_order.amount), 0.0, "contribution of the batch less the design",
                    "order more at once, charge more, or count on a second batch",
                )
            )  # fmt: skip
        if sent is not None and sent.by == "size" and not sent.on_pallet:
            mass = row.goods.mass_kg + answer.sale.packing_kg
            found.append(
                Finding(
                    "ships-by-size", Severity.NOTE, row.variant.name,
                    f"The parcel of {mass:.1f} kg is billed for its size, as {sent.billed_kg:.1f} kg: {sent.price}.",
                    sent.billed_kg, mass, "volume over the carrier's cm³ a kilogram; common practice, no source",
                    "ship it flat or parts in each other, or in a smaller box",
                )
            )  # fmt: skip
    return tuple(found)


def expected_end(venture: Venture, a_month: float) -> float:
    """Money at the end when so many a month are sold from the month goods arrive, and bought one for one."""
    sold = a_month * max(0, venture.months - venture.lead_months)
    return sold * (venture.contribution_before_goods - venture.landed) - venture.design


def _swings(sale: Sale, row: FamilyRow, venture: Venture, demand: Demand) -> tuple[Swing, ...]:
    """The assumptions, the one that moves the end most first."""
    selling = max(1, venture.months - venture.lead_months)
    left = venture.contribution_before_goods - venture.landed
    middle = demand.middle
    found = [
        Swing(
            "how many are sold a month", demand.low, demand.high,
            expected_end(venture, demand.low), expected_end(venture, demand.high),
            venture.design / (left * selling) if left > 0 else None, "a month",
        )
    ]  # fmt: skip

    def with_goods(each: Money) -> float:
        unit = unit_price(sale, replace(row.goods, each=each), row.unit.price)
        return expected_end(replace(venture, contribution_before_goods=float((unit.contribution + each).amount),
                                    landed=float(each.amount)), middle)  # fmt: skip

    low, high = float(row.goods.low.amount), float(row.goods.high.amount)
    found.append(_linear("what one costs landed", low, high, with_goods(row.goods.low), with_goods(row.goods.high),
                         sale.currency))  # fmt: skip

    def with_returns(share: Decimal) -> float:
        unit = unit_price(replace(sale, returns=share), row.goods, row.unit.price)
        return expected_end(
            replace(venture, contribution_before_goods=float((unit.contribution + row.goods.each).amount)), middle
        )

    few, many = sale.returns / 2, sale.returns * 2
    if many > 0:
        found.append(_linear("how many come back", 100 * float(few), 100 * float(many), with_returns(few),
                             with_returns(many), "%"))  # fmt: skip
    if venture.design > 0:
        end = expected_end(venture, middle)
        less, more = 0.7 * venture.design, 1.5 * venture.design
        found.append(_linear("what the design costs", less, more, end + venture.design - less,
                             end + venture.design - more, sale.currency))  # fmt: skip
    return tuple(sorted(found, key=lambda swing: -swing.size))


def _linear(what: str, low: float, high: float, at_low: float, at_high: float, unit: str) -> Swing:
    """A swing of something that the end follows in a straight line."""
    must = None
    if at_low != at_high:
        at = low + (high - low) * at_low / (at_low - at_high)
        must = at if at > 0 else None
    return Swing(what, low, high, at_low, at_high, must, unit)


def _earns(row: FamilyRow, sale: Sale) -> str:
    unit = row.unit
    if unit.contribution.amount <= 0:
        return f"At {unit.price} every sale loses {-unit.contribution}."
    back = row.pay_back
    design = sale.money(sale.design)
    say = f"At {unit.price} a sale leaves {unit.contribution}"
    if design.amount > 0:
        units = f"{back.units}" if back.units is not None else "no number of"
        say += f"; the {design} of design are back after {units} sales"
        if back.first_order_loses:
            single = f", a single batch of {back.batch} would" if back.batch is not None else ""
            say += f", which the first batch of {sale.batch} does not reach{single}"
    return say + "."


def _sentence(sale: Sale, row: FamilyRow, cash: CashAnswer, swings: tuple[Swing, ...], standing: Standing) -> str:
    most = swings[0]
    must = ""
    if most.must_be is not None:
        rises = most.at_high > most.at_low
        value = f"{most.must_be:.3g} {most.unit}" if most.unit != "%" else f"{most.must_be:.3g} %"
        must = f", which has to be {'more' if rises else 'less'} than {value}"
    out = money_of(cash.peak_out, sale.currency)
    return (
        f"{sale.name} {standing}: in {100 * cash.chance_of_loss:.0f} of 100 futures it loses money within "
        f"{sale.months} months, with up to {out} out at the worst. {_earns(row, sale)} "
        f"What matters most is {most.what}{must}."
    )
