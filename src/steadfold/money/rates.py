"""What a shop's hour, kilogram and square metre cost: the typical rates, and the user's over them."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from steadfold.money.amount import Money, MoneyError, read_money
from steadfold.quantities import QuantityError, read_length, read_mass, read_time

Path = tuple[str, ...]

TYPICAL_CURRENCY = "EUR"
SOURCE = "common practice, no source"

CHARGES = ("order", "setup", "laser", "brake", "bench", "coat", "coat_batch", "hardware", "least_order")
"""Keys of the single rates, in the order of the work; metal has one by family."""

_CM3 = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(cm3|cm³|in3|in³)\s*")


@dataclass(frozen=True)
class RateProblem:
    """One thing wrong with the rates: the keys that lead to it, and what would be right."""

    path: Path
    sentence: str

    def __str__(self) -> str:
        return f"rates.{'.'.join(self.path)}: {self.sentence}" if self.path else f"rates: {self.sentence}"


class RatesError(ValueError):
    """Rates that cannot be used; `found` are all there is wrong with them."""

    def __init__(self, found: tuple[RateProblem, ...]):
        super().__init__("; ".join(str(problem) for problem in found))
        self.found = found


@dataclass(frozen=True)
class Postage:
    """What a parcel costs: bands of mass, each up to `mass_kg[i]` for `price[i]`, billed by mass or by size.

    A parcel of V cm³ is billed as if it weighed V / `cm3_per_kg` where that is more than it weighs. What is
    heavier than the last band goes on a pallet: `pallet` and `pallet_per_kg`.
    """

    mass_kg: tuple[float, ...]
    price: tuple[Money, ...]
    cm3_per_kg: float
    pallet: Money
    pallet_per_kg: Money


@dataclass(frozen=True)
class Times:
    """How long the hand's work takes, in seconds; per kilogram and per metre where the name says so."""

    cutter_setup_s: float
    brake_setup_s: float
    pick_up_s: float
    carry_s_per_kg: float
    deburr_s_per_m: float
    press_in_s: float
    saw_cut_s: float
    pack_s: float


@dataclass(frozen=True)
class Cutting:
    """How the cutter runs and how parts lie on the sheet. `web_mm` is metal left between the cuts of neighbours,
    `edge_mm` along the edge of the sheet; the kerf comes on top. `saw_kerf_mm` is what the saw takes of a bar."""

    saw_kerf_mm: float
    share_of_chart: float
    travel_s: float
    web_mm: float
    edge_mm: float
    power_kw: float


@dataclass(frozen=True)
class Rates:
    """Everything money needs to know of a shop. Hourly rates are money an hour.

    `given` are the keys that the user's own file sets; `dated` is when the rates were put down, None when
    the user's file does not say. `metal` is by family, money a kilogram; `bar` by kind of long stock, money a
    metre; `finish_factor` by finish.
    """

    currency: str
    dated: date | None
    order: Money
    least_order: Money
    setup: Money
    laser: Money
    brake: Money
    bench: Money
    coat: Money
    coat_batch: Money
    hardware: Money
    metal: Mapping[str, Money]
    bar: Mapping[str, Money]
    finish_factor: Mapping[str, float]
    times: Times
    cutting: Cutting
    shipping: Postage
    given: tuple[str, ...]

    def charge(self, key: str) -> Money:
        """The rate of a key: one of `CHARGES`, or 'metal' with a family after a colon."""
        if key.startswith("metal: "):
            return self.metal[key.removeprefix("metal: ")]
        found = getattr(self, key)
        assert isinstance(found, Money)
        return found


def typical_text() -> str:
    """The shipped rates as they stand."""
    return (files(__package__) / "typical_rates.toml").read_text(encoding="utf-8")


@cache
def typical_rates() -> Rates:
    """The shipped rates: plain figures that no shop was asked for."""
    return read_rates({})


def read_rates(own: Mapping[str, Any]) -> Rates:
    """Rates from a shop's `[rates]` table as written, over the typical ones.

    Amounts are text with currency, and 'per' with a slash: `"95 EUR/h"`, `"1.50 EUR/kg"`, `"11 EUR/m2"`. In another
    currency than the typical rates' give `per_euro`, what one euro buys. Raises `RatesError` with every problem.
    """
    reader = _Reader(own)
    rates = reader.rates(tomllib.loads(typical_text()))
    if reader.problems:
        raise RatesError(tuple(reader.problems))
    return rates


_MONEY = {
    "order": "", "least_order": "", "setup": "h", "laser": "h", "brake": "h", "bench": "h", "coat": "m2",
    "coat_batch": "", "hardware": "",
}  # fmt: skip
_TIMES = ("cutter_setup", "brake_setup", "pick_up", "carry_per_kg", "deburr_per_m", "press_in", "saw_cut", "pack")
_TABLES = ("metal", "bar", "finish", "times", "cutting", "shipping")


class _Reader:
    """Collects every problem while the tables are read."""

    def __init__(self, own: Mapping[str, Any]):
        self.own = own
        self.problems: list[RateProblem] = []
        self.currency = TYPICAL_CURRENCY
        self.per_euro = Decimal(1)

    def wrong(self, path: Path, sentence: str) -> None:
        self.problems.append(RateProblem(path, sentence))

    def rates(self, typical: dict[str, Any]) -> Rates:
        self.known((), self.own, ("currency", "date", "per_euro", *_MONEY, *_TABLES))
        self.settle_currency()
        single = {key: self.amount((key,), typical, unit) for key, unit in _MONEY.items()}
        families = dict.fromkeys([*typical["metal"], *self.table("metal")])
        metal = {family: self.amount(("metal", family), typical, "kg") for family in families}
        kinds = dict.fromkeys([*typical["bar"], *self.table("bar")])
        bar = {kind: self.amount(("bar", kind), typical, "m") for kind in kinds}
        finishes = dict.fromkeys([*typical["finish"], *self.table("finish")])
        factors = {each: self.number(("finish", each), typical) for each in finishes}
        self.known(("times",), self.table("times"), _TIMES)
        times = Times(*(self.value(("times", key), typical, read_time) for key in _TIMES))
        self.known(("cutting",), self.table("cutting"), tuple(typical["cutting"]))
        cutting = Cutting(
            self.value(("cutting", "saw_kerf"), typical, read_length),
            self.number(("cutting", "share_of_chart"), typical),
            self.value(("cutting", "travel"), typical, read_time),
            self.value(("cutting", "web"), typical, read_length),
            self.value(("cutting", "edge"), typical, read_length),
            self.number(("cutting", "power_kw"), typical),
        )
        if not 0 < cutting.share_of_chart <= 1:
            self.wrong(("cutting", "share_of_chart"), "a share lies between 0 and 1")
        self.known(("shipping",), self.table("shipping"), tuple(typical["shipping"]))
        shipping = self.postage(("shipping",), typical)
        given = tuple(key for key in (*_MONEY, *_TABLES) if key in self.own)
        return Rates(
            currency=self.currency,
            dated=self.dated(),
            **single,
            metal=MappingProxyType(metal),
            bar=MappingProxyType(bar),
            finish_factor=MappingProxyType(factors),
            times=times,
            cutting=cutting,
            shipping=shipping,
            given=given,
        )

    def settle_currency(self) -> None:
        named = self.own.get("currency", TYPICAL_CURRENCY)
        if not isinstance(named, str) or not re.fullmatch(r"[A-Z]{3}", named):
            self.wrong(("currency",), f"{named!r} is not a currency; write three capital letters, like EUR")
            return
        self.currency = named
        rate = self.own.get("per_euro")
        if rate is not None:
            if isinstance(rate, bool) or not isinstance(rate, (int, float)) or not 0 < rate < 1e6:
                self.wrong(("per_euro",), f"{rate!r} cannot be; write what one euro buys, like per_euro = 1.1")
            else:
                self.per_euro = Decimal(str(rate))
        elif named != TYPICAL_CURRENCY:
            say = f"the typical rates are in EUR; write per_euro = ... (how many {named} one euro buys) beside currency"
            self.wrong(("currency",), say)

    def known(self, path: Path, table: Mapping[str, Any], keys: tuple[str, ...]) -> None:
        for key in table:
            if key not in keys:
                near = difflib.get_close_matches(key, keys, n=1, cutoff=0.4)
                hint = f"did you mean {near[0]!r}?" if near else "known here: " + ", ".join(keys)
                self.wrong((*path, key), f"nobody here knows the key {key!r}; {hint}")

    def table(self, key: str) -> Mapping[str, Any]:
        value = self.own.get(key, {})
        if isinstance(value, Mapping):
            return value
        if not any(problem.path == (key,) for problem in self.problems):
            self.wrong((key,), "this should be a table")
        return {}

    def found(self, path: Path, typical: Mapping[str, Any]) -> tuple[Any, bool]:
        """The user's value or the typical one, and whether it is the user's."""
        if len(path) == 1:
            return (self.own[path[0]], True) if path[0] in self.own else (typical[path[0]], False)
        table = self.table(path[0])
        return (table[path[1]], True) if path[1] in table else (typical[path[0]].get(path[1]), False)

    def amount(self, path: Path, typical: Mapping[str, Any], per: str) -> Money:
        value, own = self.found(path, typical)
        money = self.money(path, value, per, own)
        return money if own else Money(money.amount * self.per_euro, self.currency)

    def money(self, path: Path, value: Any, per: str, own: bool) -> Money:
        example = f'"12.50 {self.currency if own else TYPICAL_CURRENCY}{"/" + per if per else ""}"'
        nothing = Money(Decimal(0), self.currency)
        text = value
        if isinstance(value, str) and per:
            head, slash, unit = value.partition("/")
            if not slash or unit.strip().replace("²", "2") not in (per, {"m2": "m^2"}.get(per, per)):
                self.wrong(path, f"{value!r} is not money per {per}; write it like {example}")
                return nothing
            text = head
        try:
            money = read_money(text)
        except MoneyError as error:
            self.wrong(path, str(error) if not per else f"{error} (here {example})")
            return nothing
        if money.amount < 0:
            self.wrong(path, f"{value!r} is a negative rate; nobody pays you for this")
        elif own and money.currency != self.currency:
            self.wrong(path, f"{value!r} is not in {self.currency}, the currency of these rates")
        else:
            return money
        return nothing

    def number(self, path: Path, typical: Mapping[str, Any]) -> float:
        value, _ = self.found(path, typical)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 < value < math.inf:
            self.wrong(path, f"{value!r} is not a number above 0")
            return 1.0
        return float(value)

    def value(self, path: Path, typical: Mapping[str, Any], read: Callable[[Any], float]) -> float:
        value, _ = self.found(path, typical)
        try:
            number = read(value)
        except QuantityError as error:
            self.wrong(path, str(error))
            return 0.0
        if number < 0:
            self.wrong(path, f"{value!r} must not be less than 0")
        return number

    def dated(self) -> date | None:
        value = self.own.get("date")
        if value is None:
            return None
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(value)
        except (TypeError, ValueError):
            self.wrong(("date",), f"{value!r} is not a date; write it like 2025-03-31")
            return None

    def postage(self, path: Path, typical: Mapping[str, Any]) -> Postage:
        (key,) = path
        masses, own_masses = self.found((key, "mass"), typical)
        prices, own_prices = self.found((key, "price"), typical)
        read_masses: list[float] = []
        read_prices: list[Money] = []
        if not isinstance(masses, list) or not isinstance(prices, list) or len(masses) != len(prices) or not masses:
            self.wrong(path, "mass and price are two lists of one length, a price for each band of mass")
        else:
            for mass in masses:
                try:
                    read_masses.append(read_mass(mass))
                except QuantityError as error:
                    self.wrong((key, "mass"), str(error))
            for price in prices:
                money = self.money((key, "price"), price, "", own_prices)
                read_prices.append(money if own_prices else Money(money.amount * self.per_euro, self.currency))
            if own_masses and read_masses != sorted(set(read_masses)):
                self.wrong((key, "mass"), "write the bands of mass from light to heavy")
        volume, _ = self.found((key, "volume_per_kg"), typical)
        return Postage(
            tuple(read_masses),
            tuple(read_prices),
            self.cm3((key, "volume_per_kg"), volume),
            self.amount((key, "pallet"), typical, ""),
            self.amount((key, "pallet_per_kg"), typical, ""),
        )

    def cm3(self, path: Path, value: Any) -> float:
        found = _CM3.fullmatch(value) if isinstance(value, str) else None
        volume = float(found[1]) * (1.0 if found[2].startswith("cm") else 16.387064) if found else 0.0
        if volume <= 0:
            self.wrong(path, f'{value!r} is not a volume above 0; write it like "5000 cm3"')
            return 5000.0
        return volume
