"""What to charge for what is sold on, and how many pay the design back.

Prices are without tax; `tax` comes on top of them, and channel and payment take their shares of the sum the buyer
pays. Everything is exact decimals; a price is rounded up to the smaller unit.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from steadfold.money.amount import DIGITS, Money
from steadfold.money.demand import Demand
from steadfold.money.postage import Carriage, carriage
from steadfold.money.rates import Postage

MOST_UNITS = 100_000
"""A design that so many do not pay back is paid back by none."""


class PriceError(ValueError):
    """A price that does not exist; `str()` is one sentence."""


@dataclass(frozen=True)
class Fees:
    """What others take of a sale: shares of what the buyer pays (tax included), and so much a sale."""

    channel: Decimal = Decimal(0)
    payment: Decimal = Decimal(0)
    each_sale: Money | None = None
    tax: Decimal = Decimal(0)

    @property
    def share(self) -> Decimal:
        """Share of the price without tax."""
        return (self.channel + self.payment) * (1 + self.tax)


@dataclass(frozen=True)
class Variant:
    """One way it is sold: a finish of its own (None: as in the job), and how many in a set."""

    name: str
    finish: str | None = None
    count: int = 1


@dataclass(frozen=True)
class Sale:
    """Everything about selling one thing.

    `contents` are parts of the job and how many of each are in one. `margin` is the share of the price, returns
    taken off, that is to be left. `returns` is the share of sales that come back, `resold` the share of those that
    can be sold again; `warranty` the share that is replaced free. `packaging` is its money; `packing_kg` and
    `packing_mm` (on each side) are what it adds to the parcel. `postage` is None when the buyer collects.
    `design` is paid once: drawings, first article, proof test, pictures. `batch` is how many are bought at once.
    """

    name: str
    currency: str
    contents: tuple[tuple[str, int], ...]
    margin: Decimal = Decimal("0.35")
    fees: Fees = Fees()
    returns: Decimal = Decimal("0.03")
    resold: Decimal = Decimal("0.7")
    warranty: Decimal = Decimal("0.02")
    packaging: Money | None = None
    packing_kg: float = 0.3
    packing_mm: float = 20.0
    postage: Postage | None = None
    design: Money | None = None
    batch: int = 20
    price: Money | None = None
    demand: Demand | None = None
    months: int = 24
    lead_months: int = 1
    variants: tuple[Variant, ...] = (Variant("as in the job"),)
    quotes: str | None = None

    def money(self, amount: Money | None) -> Money:
        """The amount, or nothing in the sale's currency."""
        return amount if amount is not None else Money(Decimal(0), self.currency)


@dataclass(frozen=True)
class Goods:
    """One unit at a batch size: what it costs landed, between what, and the parcel that holds it (packing not)."""

    each: Money
    low: Money
    high: Money
    mass_kg: float
    size_mm: tuple[float, float, float]


Landed = Callable[[int], Goods]
"""Goods for a batch of so many units."""


@dataclass(frozen=True)
class UnitPrice:
    """One unit at one price: where its price goes. `contribution` is what is left of a sale, on the average."""

    price: Money
    landed: Money
    packaging: Money
    postage: Carriage | None
    fees: Money
    returns: Money
    reserve: Money
    contribution: Money

    @property
    def margin(self) -> Decimal:
        """Contribution over price."""
        return self.contribution.amount / self.price.amount if self.price.amount else Decimal(0)


@dataclass(frozen=True)
class PayBack:
    """How the design is paid back.

    `units` at the batch as planned (None: never). `batch` is the least single batch whose sale pays it back (None:
    no batch up to `MOST_UNITS`). `first_order` is what the first batch leaves after the design: below nothing, it
    loses.
    """

    units: int | None
    batch: int | None
    first_order: Money

    @property
    def first_order_loses(self) -> bool:
        """True when selling the whole first batch does not pay for it and the design."""
        return self.first_order.amount < 0


def parcel_of(sale: Sale, goods: Goods) -> Carriage | None:
    """What sending one unit to a buyer costs, by mass or by size; None when it is collected."""
    if sale.postage is None:
        return None
    volume = math.prod(side + 2 * sale.packing_mm for side in goods.size_mm) / 1000
    return carriage(goods.mass_kg + sale.packing_kg, volume, sale.postage, goods.mass_kg)


def price_for_margin(sale: Sale, goods: Goods) -> Money:
    """The price without tax at which the margin is left, rounded up.

    price = costs / ((1 − returns) (1 − fees − margin)); without returns and reserve the rule of the trade,
    landed / (1 − margin − fee). Raises `PriceError` when fees and margin leave nothing of the price.
    """
    left = 1 - sale.fees.share - sale.margin
    kept = (1 - sale.returns) * left
    if kept <= 0:
        share = 100 * (sale.fees.share + sale.margin)
        raise PriceError(f"fees and margin together take {share:.1f} % of the price: no price is enough")
    price = _costs(sale, goods) / kept
    unit = Decimal(1).scaleb(-DIGITS.get(sale.currency, 2))
    return Money(price.amount.quantize(unit, ROUND_CEILING), sale.currency)


def unit_price(sale: Sale, goods: Goods, price: Money) -> UnitPrice:
    """Where a price goes: fees, goods, packaging, postage, returns, reserve, and what is left."""
    sent = parcel_of(sale, goods)
    nothing = Money(Decimal(0), sale.currency)
    postage = sent.price if sent is not None else nothing
    packaging = sale.money(sale.packaging)
    fees = price * (sale.fees.share * (1 - sale.returns)) + sale.money(sale.fees.each_sale)
    # A return gives its price back, costs the way back, and only some of the goods can be sold again.
    returns = price * sale.returns + postage * sale.returns - goods.each * (sale.returns * sale.resold)
    reserve = (goods.each + packaging + postage) * sale.warranty
    contribution = price - fees - goods.each - packaging - postage - returns - reserve
    return UnitPrice(price, goods.each, packaging, sent, fees, returns, reserve, contribution)


def pay_back(sale: Sale, landed: Landed, price: Money) -> PayBack:
    """How many units, and which single batch, pay the design back at a price."""
    design = sale.money(sale.design)
    here = unit_price(sale, landed(sale.batch), price).contribution
    units = None
    if here.amount > 0:
        units = math.ceil(design.amount / here.amount)
    if units is not None and units > MOST_UNITS:
        units = None
    return PayBack(units, _least_batch(sale, landed, price), here * sale.batch - design)


def economic_batch(order_cost: float, units_a_year: float, holding_share: float, unit_cost: float) -> float:
    """The batch at which ordering and holding stock cost least: √(2 S D / (h v)).

    Source: the economic order quantity of Harris (1913), recalled; with S 300, D 144, h 0.2, v 24 it is 134.16.
    Raises `ValueError` for anything not above 0.
    """
    if not all(v > 0 for v in (order_cost, units_a_year, holding_share, unit_cost)):
        raise ValueError("all four must be above 0")
    return math.sqrt(2 * order_cost * units_a_year / (holding_share * unit_cost))


def _costs(sale: Sale, goods: Goods) -> Money:
    """What a sale costs whatever its price is."""
    sent = parcel_of(sale, goods)
    postage = sent.price if sent is not None else Money(Decimal(0), sale.currency)
    packaging = sale.money(sale.packaging)
    return (
        goods.each * (1 - sale.returns * sale.resold)
        + packaging
        + postage * (1 + sale.returns)
        + (goods.each + packaging + postage) * sale.warranty
        + sale.money(sale.fees.each_sale)
    )


def _least_batch(sale: Sale, landed: Landed, price: Money) -> int | None:
    """The least batch whose sale leaves the design's cost; sizes in steps of a twentieth, then one by one."""
    design = sale.money(sale.design)

    def pays(batch: int) -> bool:
        return (unit_price(sale, landed(batch), price).contribution * batch) >= design

    low, batch = 0, 1
    while batch <= MOST_UNITS:
        if pays(batch):
            return next(n for n in range(low + 1, batch + 1) if pays(n))
        low, batch = batch, max(batch + 1, batch + batch // 20)
    return None
