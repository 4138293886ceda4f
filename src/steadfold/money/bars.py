"""Strut, rail, bar and timber by the stock lengths they are sold in: what to buy, how to cut it, what it costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from steadfold.catalogue.profiles import profile as profile_named
from steadfold.catalogue.stock import stock_lengths
from steadfold.money.amount import Money, money_of
from steadfold.money.rates import Rates
from steadfold.money.work import NoCost
from steadfold.quantities.cutting_stock import CuttingPlan, CuttingStockError, cut_lengths


@dataclass(frozen=True)
class BarPiece:
    """So many pieces of one length of a profile. `kind` is the catalogue's kind of long stock, such as 'strut'."""

    profile: str
    kind: str
    length_mm: float
    count: int


@dataclass(frozen=True)
class BarBuy:
    """The bars of one profile: how they are cut, the stock's price, the work's, and how much better it could be."""

    profile: str
    kind: str
    plan: CuttingPlan
    stock: Money
    work: Money

    @property
    def cost(self) -> Money:
        """Stock and work."""
        return self.stock + self.work

    @property
    def sentence(self) -> str:
        """The answer in a sentence."""
        short = "no plan needs less" if self.plan.optimal else f"no plan can need less than {self.plan.bound:.0f} mm"
        bars = ", ".join(f"{n} of {length:.0f} mm" for length, n in sorted(self._by_length().items(), reverse=True))
        return f"{self.profile}: buy {bars}; {self.plan.offcut:.0f} mm of offcut and saw kerf; {short}"

    def _by_length(self) -> dict[float, int]:
        counted: dict[float, int] = {}
        for pattern in self.plan.patterns:
            counted[pattern.stock] = counted.get(pattern.stock, 0) + pattern.bars
        return counted


def kind_of(profile_name: str) -> str:
    """The kind of long stock that a profile of the catalogue is sold as. Raises `NotInCatalogue`."""
    built = type(profile_named(profile_name)).__name__
    return {"StrutChannel": "strut", "TSlot": "T-slot", "Timber": "timber"}.get(built, "bar")


def buy_bars(
    pieces: Sequence[BarPiece],
    rates: Rates,
    system: str = "metric",
    lengths_mm: Mapping[str, Sequence[float]] | None = None,
    kerf_mm: float | None = None,
) -> tuple[BarBuy, ...]:
    """Bars for a cut list, profile by profile, with the least metal bought.

    `lengths_mm` by profile replaces the catalogue's stock lengths, `kerf_mm` the rates' saw. Raises `NoCost` for a
    kind without a price or a piece longer than every stock length, `NotInCatalogue` for a kind that is not sold by
    length.
    """
    found = []
    for profile, kind in dict.fromkeys((piece.profile, piece.kind) for piece in pieces):
        if kind not in rates.bar:
            raise NoCost(f"the rates have no price a metre for {kind}; write it under [rates.bar]")
        wanted: dict[float, int] = {}
        for piece in pieces:
            if (piece.profile, piece.kind) == (profile, kind):
                wanted[piece.length_mm] = wanted.get(piece.length_mm, 0) + piece.count
        own = (lengths_mm or {}).get(profile)
        stock = tuple(own) if own is not None else stock_lengths(kind, system).lengths_mm
        kerf = rates.cutting.saw_kerf_mm if kerf_mm is None else kerf_mm
        try:
            plan = cut_lengths(wanted, {length: length for length in stock}, kerf)
        except CuttingStockError as error:
            raise NoCost(f"{profile}: {error}") from None
        bought = rates.bar[kind] * (Decimal(f"{plan.length:.1f}") / 1000)
        hours = sum(wanted.values()) * rates.times.saw_cut_s / 3600
        work = money_of(hours * float(rates.bench.amount), rates.currency)
        found.append(BarBuy(profile, kind, plan, bought.rounded(), work.rounded()))
    return tuple(found)
