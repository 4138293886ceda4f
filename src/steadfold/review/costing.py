"""From a job to money: what each part costs alone and the order as a whole, by the rates or by your own quotes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from steadfold.catalogue import Material, material
from steadfold.fabricate.bend_plan import BendPlan
from steadfold.fabricate.making import bend_order
from steadfold.fabricate.shop import Shop
from steadfold.findings import Finding, Severity
from steadfold.job.models import Job, JobPart
from steadfold.job.stand_table import read_stands
from steadfold.money.amount import Money, money_of, total
from steadfold.money.bars import BarBuy, BarPiece, buy_bars, kind_of
from steadfold.money.calibration import (
    STALE_DAYS,
    Calibration,
    Moved,
    PricedQuote,
    calibrate,
    leave_one_out_error,
    moved_by,
    next_to_quote,
    uncalibrated,
)
from steadfold.money.cost import QUANTITIES, CostAnswer, cost_of, packed_cm3, shipping_of
from steadfold.money.nesting import Nest, Piece, Spacing, StockSheet, nest
from steadfold.money.nesting.records import piece_of
from steadfold.money.postage import carriage
from steadfold.money.quotes import Quote, by_shop
from steadfold.money.rates import Rates, read_rates
from steadfold.money.sale import Goods, Sale, Variant
from steadfold.money.work import NoCost, Operation, SheetUse, blank_use, operations_of, spend_of, web_mm
from steadfold.review.shaping import shaped
from steadfold.review.shop import shop_of
from steadfold.sheet.extent import folded_size_mm
from steadfold.sheet.flat import FlatError, FlatPattern, flat_pattern
from steadfold.sheet.part import Part
from steadfold.stand.cut_list import cut_list, stock_for
from steadfold.stand.records import StandError

Tell = Callable[[float, str], None]
ASKED_AT = (1, 10, 50)
"""Quantities among which the next quote to ask for is looked for."""


@dataclass(frozen=True)
class Priceable:
    """A part with everything that its cost needs. `hardware` is the number of pressed nuts and studs."""

    ordered: JobPart
    material: Material
    part: Part
    flat: FlatPattern
    plan: BendPlan | None
    size_mm: tuple[float, float, float]
    hardware: int = 0

    @property
    def mass_kg(self) -> float:
        """Mass of one."""
        return self.part.volume_mm3 * self.material.density_kg_m3 * 1e-9

    def operations(
        self, shop: Shop, rates: Rates, sheet_use: SheetUse | None = None, share: float = 1.0, finish: str | None = None
    ) -> tuple[Operation, ...]:
        """Its operations; see `operations_of`."""
        return operations_of(
            self.part, self.flat, self.plan, self.material, shop, rates, finish or self.ordered.finish, self.hardware,
            sheet_use, share,
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class ShopView:
    """What the quotes of one shop taught: its calibration, what each quote moved, and how well it predicts."""

    shop: str
    calibration: Calibration
    moved: tuple[Moved, ...]
    error: float | None


@dataclass(frozen=True)
class LaidOut:
    """The parts of one metal and thickness on sheets; `names` are those of the pieces, in order."""

    material: str
    thickness_mm: float
    names: tuple[str, ...]
    nest: Nest


@dataclass(frozen=True)
class StandBars:
    """What the long stock of one stand costs, profile by profile; `why_not` says why there is no cost."""

    stand: str
    bars: tuple[BarBuy, ...]
    why_not: str = ""


@dataclass(frozen=True, eq=False)
class JobCost:
    """What a job costs.

    `parts` are costs of each part ordered alone (as `rate` says them); `order` is all of them ordered together, with
    `order_low` and `order_high`, carriage included. `views` are the shops of the quotes, the one whose rates are used
    first. `stands` are bought apart, not in `order`. `left_out` are parts without a cost, with the reason; `unused`
    sentences about quotes that no part of the job answers to.
    """

    shop: Shop
    rates: Rates
    priced: tuple[Priceable, ...]
    parts: tuple[tuple[str, CostAnswer], ...]
    order: Money
    order_low: Money
    order_high: Money
    views: tuple[ShopView, ...]
    laid_out: tuple[LaidOut, ...]
    left_out: tuple[tuple[str, str], ...]
    unused: tuple[str, ...]
    quote_next: str | None
    stands: tuple[StandBars, ...] = ()

    @property
    def calibration(self) -> Calibration:
        """The calibration that the costs stand on."""
        return self.views[0].calibration if self.views else uncalibrated(float(self.rates.least_order.amount))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Quotes that are old, or still to come."""
        moved = [each for view in self.views[:1] for each in view.moved]
        to_come = tuple(
            Finding(
                "quote-to-come", Severity.NOTE, each.quote.part,
                f"The quote for {each.quote.quantity} × {each.quote.part} is dated {each.quote.quoted}, which is still to "
                "come; it counts as one of today.",
                None, None, "common practice, no source", "look at its date, and at this machine's clock",
            )
            for each in moved if each.to_come
        )  # fmt: skip
        return to_come + tuple(
            Finding(
                "quote-stale", Severity.NOTE, each.quote.part,
                f"The quote for {each.quote.quantity} × {each.quote.part} of {each.quote.quoted} is more than a year "
                "old; it counts for less.",
                None, float(STALE_DAYS), "common practice, no source", "ask for it again",
            )
            for each in moved if each.stale
        )  # fmt: skip


def job_cost(
    job: Job,
    quotes: Sequence[Quote] = (),
    today: date | None = None,
    quantities: Sequence[int] | None = None,
    nest_seconds: float | None = None,
    prefer_shop: str | None = None,
    stop: Callable[[], bool] | None = None,
    tell: Tell = lambda share, what: None,
) -> JobCost:
    """What a job costs, by the shop's rates or, where there are quotes, by those as corrected.

    `nest_seconds` lays all parts out on sheets first (None: each pays for its own rectangle). Of several shops in the
    quotes, `prefer_shop`, else the job's own shop, else the one with most quotes is used. `today` dates the quotes'
    age. Raises `RatesError`, `JobProblems`.
    """
    shop = shop_of(job)
    rates = read_rates(shop.rates)
    priced, left_out = priceables(job, shop, rates, lambda share, what: tell(0.3 * share, what))
    laid: tuple[LaidOut, ...] = ()
    if nest_seconds is not None and priced:
        laid = lay_out(priced, shop, rates, nest_seconds, stop, lambda share, what: tell(0.3 + 0.6 * share, what))
    uses = sheet_uses(laid, priced, shop, rates)
    views, unused = shop_views(quotes, priced, uses, shop, rates, today or date.today(), prefer_shop)
    known = views[0].calibration if views else uncalibrated(float(rates.least_order.amount))
    answers = []
    for each in priced:
        answer = cost_of(
            each.part, each.flat, each.plan, each.material, shop, each.ordered.quantity, each.ordered.finish,
            hardware=each.hardware, rates=rates, sheet_use=uses.get(each.ordered.name), calibration=known,
            folded_size_mm=each.size_mm, at=quantities or QUANTITIES,
        )  # fmt: skip
        answers.append((each.ordered.name, answer))
    order = _order(priced, uses, shop, rates, known)
    choices = {
        f"{n} × {each.ordered.name}": spend_of(each.operations(shop, rates, uses.get(each.ordered.name)), rates, n)
        for each in priced
        for n in ASKED_AT
    }
    tell(1.0, "done")
    return JobCost(
        shop, rates, priced, tuple(answers), *order, views, laid, left_out, unused, next_to_quote(known, choices),
        stand_bars(job, rates),
    )  # fmt: skip


def stand_bars(job: Job, rates: Rates) -> tuple[StandBars, ...]:
    """The bars that each stand of the job needs, by its workshop's stock lengths and saw. Raises `JobProblems`."""
    found = []
    for stand in read_stands(job):
        try:
            pieces = [BarPiece(each.profile, kind_of(each.profile), each.long_mm, 1) for each in cut_list(stand).pieces]
            lengths = {piece.profile: stock_for(piece.profile, stand.workshop) for piece in pieces}
            bars = buy_bars(pieces, rates, lengths_mm=lengths, kerf_mm=stand.workshop.kerf_mm)
            found.append(StandBars(stand.name, bars))
        except (StandError, NoCost) as error:
            found.append(StandBars(stand.name, (), str(error)))
    return tuple(found)


def priceables(
    job: Job, shop: Shop, rates: Rates, tell: Tell = lambda share, what: None
) -> tuple[tuple[Priceable, ...], tuple[tuple[str, str], ...]]:
    """The parts that have a cost, and those that have none with the reason."""
    found, left_out = [], []
    for number, ordered in enumerate(job.parts):
        tell(number / len(job.parts), ordered.name)
        metal = material(ordered.material)
        part = shaped(job, ordered, metal, shop).part
        if part is None:
            left_out.append((ordered.name, "its shape could not be had; `steadfold rate` says why"))
            continue
        try:
            flat = flat_pattern(part)
            plan = bend_order(part, metal, shop) if part.bends and metal.foldable else None
            each = Priceable(
                ordered, metal, part, flat, plan if isinstance(plan, BendPlan) else None, folded_size_mm(part)
            )
            each.operations(shop, rates)
        except (FlatError, NoCost) as error:
            left_out.append((ordered.name, str(error)))
            continue
        found.append(each)
    return tuple(found), tuple(left_out)


def shop_views(
    quotes: Sequence[Quote],
    priced: Sequence[Priceable],
    uses: Mapping[str, SheetUse],
    shop: Shop,
    rates: Rates,
    today: date,
    prefer_shop: str | None = None,
) -> tuple[tuple[ShopView, ...], tuple[str, ...]]:
    """What each shop's quotes teach, the shop to be used first, and sentences about quotes that are not used."""
    by_name = {each.ordered.name.casefold(): each for each in priced}
    least = float(rates.least_order.amount)
    views, unused = [], []
    for name, own in by_shop(quotes).items():
        used = []
        for quote in own:
            each = by_name.get(quote.part.casefold())
            if each is None:
                unused.append(f"line {quote.line} is not used: this job has no part {quote.part!r} with a cost")
                continue
            spend = spend_of(each.operations(shop, rates, uses.get(each.ordered.name)), rates, quote.quantity)
            asked = float(quote.total.amount)
            used.append(PricedQuote(each.ordered.name, quote.quantity, asked, quote.quoted, name, spend))
        if used:
            known = calibrate(used, least, today, name)
            moved = moved_by(known, today)
            views.append(ShopView(name, known, moved, leave_one_out_error(moved)))
    wanted = (prefer_shop or shop.name).casefold()
    if prefer_shop is not None and all(view.shop.casefold() != wanted for view in views):
        unused.append(f"there are no quotes of {prefer_shop!r}")
    views.sort(key=lambda view: (view.shop.casefold() != wanted, -len(view.calibration.quotes)))
    return tuple(views), tuple(unused)


def lay_out(
    priced: Sequence[Priceable],
    shop: Shop,
    rates: Rates,
    seconds: float,
    stop: Callable[[], bool] | None = None,
    tell: Tell = lambda share, what: None,
) -> tuple[LaidOut, ...]:
    """All parts on sheets, metal by metal and thickness by thickness, in equal shares of the time by number of parts.

    Raises `NestError` for a part that lies on no sheet of the shop.
    """
    groups: dict[tuple[str, float], list[Priceable]] = {}
    for each in priced:
        groups.setdefault((each.material.id, round(each.part.thickness_mm, 4)), []).append(each)
    whole = sum(each.ordered.quantity for each in priced)
    done, found = 0, []
    for (metal, thickness), group in groups.items():
        pieces: list[Piece] = [piece_of(e.ordered.name, e.flat, e.ordered.quantity, e.ordered.grain) for e in group]
        count = sum(piece.count for piece in pieces)
        spacing = Spacing(shop.laser.kerf_mm, web_mm(thickness, rates), rates.cutting.edge_mm)
        sheets = [StockSheet(size.length_mm, size.width_mm) for size in shop.sheets]

        def hear(share: float, what: str, done: int = done, count: int = count, metal: str = metal) -> None:
            tell((done + share * count) / whole, f"{metal}: {what}")

        laid = nest(pieces, sheets, spacing, max(2.0, seconds * count / whole), stop=stop, tell=hear)
        found.append(LaidOut(metal, thickness, tuple(piece.name for piece in pieces), laid))
        done += count
    return tuple(found)


def sheet_uses(
    laid: Sequence[LaidOut], priced: Sequence[Priceable], shop: Shop, rates: Rates
) -> dict[str, SheetUse]:
    """Sheet that one of each part takes, by name, from the layouts.

    An order too small to fill a strip across the sheet would pay for the whole strip; then a part pays for its own
    rectangle, since the shop cuts something else beside it.
    """
    found = {}
    by_name = {each.ordered.name: each for each in priced}
    for group in laid:
        for index, name in enumerate(group.names if group.nest.sheets else ()):
            each = by_name[name]
            own = blank_use(each.flat, each.part.thickness_mm, shop, rates)
            share = group.nest.area_of_one_mm2(index)
            nested = SheetUse(share, f"true-shape nesting, {100 * group.nest.density:.0f} % of the sheet used")
            found[name] = nested if share <= own.area_mm2 else own
    return found


def goods_of(cost: JobCost, sale: Sale) -> Callable[[Variant, int], Goods]:
    """What a variant's unit costs landed for a batch, and its parcel; raises `NoCost` for a part without a cost."""
    by_name = {each.ordered.name: each for each in cost.priced}
    why = dict(cost.left_out)
    known = cost.calibration
    uses = sheet_uses(cost.laid_out, cost.priced, cost.shop, cost.rates)

    def goods(variant: Variant, batch: int) -> Goods:
        low = middle = high = Decimal(0)
        mass, size = 0.0, (0.0, 0.0, 0.0)
        share = 1.0 / len(sale.contents)
        for name, count in sale.contents:
            if name not in by_name:
                raise NoCost(f"{name}: {why.get(name, 'it has no cost')}")
            each = by_name[name]
            pieces = count * variant.count
            operations = each.operations(cost.shop, cost.rates, uses.get(name), share, variant.finish)
            number = batch * pieces
            asked = known.predict(spend_of(operations, cost.rates, number), share)
            sent = float(shipping_of(each.mass_kg, each.size_mm, number, cost.rates).price.amount)
            low, middle, high = (
                v + money_of((a + sent) / batch, sale.currency).amount
                for v, a in zip((low, middle, high), (asked.low, asked.middle, asked.high), strict=True)
            )
            mass += pieces * each.mass_kg
            size = _stacked(size, each.size_mm, pieces)
        money = [Money(v, sale.currency).rounded() for v in (middle, low, high)]
        return Goods(money[0], money[1], money[2], mass, size)

    return goods


def _stacked(
    size: tuple[float, float, float], own: tuple[float, float, float], count: int
) -> tuple[float, float, float]:
    """A box with more parts laid on top: each part flat on its largest face, half of its height in the one below."""
    long, wide, high = sorted(own, reverse=True)
    height = high * (1 + 0.5 * (count - 1))
    if not any(size):
        return (long, wide, height)
    return (max(size[0], long), max(size[1], wide), size[2] + height)


def _order(
    priced: Sequence[Priceable], uses: Mapping[str, SheetUse], shop: Shop, rates: Rates, known: Calibration
) -> tuple[Money, Money, Money]:
    """All parts in one order: middle, low and high, carriage included."""
    if not priced:
        nothing = total((), rates.currency)
        return nothing, nothing, nothing
    spent: dict[str, float] = {}
    mass = 0.0
    for each in priced:
        operations = each.operations(shop, rates, uses.get(each.ordered.name), 1 / len(priced))
        for key, money in spend_of(operations, rates, each.ordered.quantity).items():
            spent[key] = spent.get(key, 0.0) + money
        mass += each.mass_kg * each.ordered.quantity
    asked = known.predict(spent)
    volume = sum(packed_cm3(each.size_mm, each.ordered.quantity) for each in priced)
    sent = carriage(mass, volume, rates.shipping, max(each.mass_kg for each in priced)).price
    middle, low, high = (
        (money_of(v, rates.currency) + sent).rounded()
        for v in (asked.middle, asked.low, asked.high)
    )
    return middle, low, high
