"""Reading `[sale]`: what is sold on, at which margin, through whom, and how many a month."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path
from typing import Any

from steadfold.catalogue.finishes import names as finishes
from steadfold.job.cad import inside
from steadfold.job.fields import Fields, Notebook, is_number
from steadfold.job.models import Job
from steadfold.job.problem import JobProblems
from steadfold.job.wording import shown, typed, unknown
from steadfold.money.amount import Money, MoneyError, read_money
from steadfold.money.demand import Demand
from steadfold.money.rates import Postage
from steadfold.money.sale import Fees, Sale, Variant

MOST_VARIANTS = 50
MOST_BATCH = 10_000
_PERCENT = re.compile(r"\s*(\d{1,3}(?:\.\d{1,6})?)\s*%\s*")


def read_sale(job: Job, currency: str, postage: Postage) -> Sale | None:
    """The sale that the job describes; None when it has no `[sale]`.

    `currency` is that of the rates; amounts in another are refused. `postage` is what sending costs unless the table
    names a price of its own. Raises `JobProblems` with every problem, each at its line.
    """
    if job.sale is None:
        return None
    notebook = Notebook(job.sale.text)
    fields = Fields(job.sale.values, job.sale.path, notebook)
    sale = _Reader(fields, job, currency).sale(postage)
    fields.done()
    problems = notebook.problems()
    if problems:
        raise JobProblems(problems)
    return sale


class _Reader:
    """One `[sale]` table, read key by key; what is wrong is noted and the default taken."""

    def __init__(self, fields: Fields, job: Job, currency: str):
        self.fields = fields
        self.job = job
        self.currency = currency

    def sale(self, postage: Postage) -> Sale:
        fields = self.fields
        plain = Sale("", self.currency, ())
        contents = self.contents()
        name = fields.text("name") or " and ".join(part for part, _ in contents) or self.job.name
        return Sale(
            name=name,
            currency=self.currency,
            contents=contents,
            margin=self.share("margin", plain.margin, most=95),
            fees=Fees(
                channel=self.share("channel_fee", Decimal(0)),
                payment=self.share("payment_fee", Decimal(0)),
                each_sale=self.money("payment_each"),
                tax=self.share("tax", Decimal(0)),
            ),
            returns=self.share("returns", plain.returns, most=90),
            resold=self.share("resold", plain.resold),
            warranty=self.share("warranty", plain.warranty),
            packaging=self.money("packaging"),
            packing_kg=_or(fields.measure("mass", "packing_mass", low=0.0, high=50.0), plain.packing_kg),
            packing_mm=_or(fields.length("packing_each_side", low=0.0, high=500.0), plain.packing_mm),
            postage=self.postage(postage),
            design=self.money("design"),
            batch=fields.count("batch", plain.batch, high=MOST_BATCH) or plain.batch,
            price=self.price(),
            demand=self.demand(),
            months=fields.count("months", plain.months, high=120) or plain.months,
            lead_months=_or_zero(fields.count("lead_months", plain.lead_months, low=0, high=24), plain.lead_months),
            variants=self.variants(plain.variants),
            quotes=fields.text("quotes", longest=300),
        )

    def contents(self) -> tuple[tuple[str, int], ...]:
        """Parts and how many of each; the job's only part, or its first, when the table does not say."""
        fields = self.fields
        one = fields.text("part")
        several = fields.table("contents")
        if one is not None and several is not None:
            fields.wrong("contents", 'write either part = "..." or contents = { "..." = 1, ... }')
        names = [part.name for part in self.job.parts]
        if several is not None:
            found = []
            for name in several.values:
                if name not in names:
                    several.wrong(name, unknown(name, names, "a part of this job"))
                count = several.count(name, 1, high=1000)
                found.append((name, count or 1))
            if not found:
                fields.wrong("contents", "this is empty; name a part and how many of it")
            return tuple(found)
        if one is not None and one not in names:
            fields.wrong("part", unknown(one, names, "a part of this job"))
        return ((one or names[0], 1),) if names or one else ()

    def share(self, key: str, default: Decimal, most: int = 100) -> Decimal:
        """A percentage as a share, exact."""
        value = self.fields.raw(key)
        if value is None:
            return default
        found = _PERCENT.fullmatch(value) if isinstance(value, str) else None
        if found is None:
            sort = shown(value) if isinstance(value, str) else typed(value)
            self.fields.wrong(key, f'{sort}; write a percentage, like {key} = "12 %"')
        elif Decimal(found[1]) > most:
            self.fields.wrong(key, f"{shown(value)} is too much; at most {most} %")
        else:
            return Decimal(found[1]) / 100
        return default

    def money(self, key: str) -> Money | None:
        """An amount in the currency of the rates, not below 0."""
        value = self.fields.raw(key)
        if value is None:
            return None
        return self.amount(key, value)

    def amount(self, key: str, value: Any) -> Money | None:
        try:
            money = read_money(value)
        except MoneyError as error:
            self.fields.wrong(key, str(error))
            return None
        if money.currency != self.currency:
            self.fields.wrong(key, f"{shown(value)} is not in {self.currency}, the currency of the shop's rates")
        elif money.amount < 0:
            self.fields.wrong(key, f"{shown(value)} is below nothing")
        else:
            return money
        return None

    def price(self) -> Money | None:
        money = self.money("price")
        if money is not None and money.amount == 0:
            self.fields.wrong("price", "a price is more than nothing")
            return None
        return money

    def postage(self, carrier: Postage) -> Postage | None:
        """Sending: the carrier's table, one price for every parcel, or "collected"."""
        value = self.fields.raw("postage")
        if value is None:
            return carrier
        if isinstance(value, str) and value.strip().casefold() == "collected":
            return None
        money = self.amount("postage", value)
        if money is None:
            return carrier
        return Postage((1e6,), (money,), 1e9, money, Money(Decimal(0), self.currency))

    def demand(self) -> Demand | None:
        """`demand = { low = 2, high = 8 }` a month, with lumpiness on request."""
        table = self.fields.table("demand")
        if table is None:
            return None
        say = "write how many are sold a month, like demand = { low = 2, high = 8 }"
        low, high = table.number("low", say, high=1e5), table.number("high", say, high=1e5)
        lumpiness = table.raw("lumpiness")
        table.done()
        if low is None or high is None:
            missing = [key for key in ("low", "high") if key not in table]
            if missing:
                self.fields.wrong("demand", f"{' and '.join(missing)} not given; {say}")
            return None
        even = 1.5 if lumpiness is None else lumpiness
        try:
            return Demand(low, high, float(even) if is_number(even) else -1.0)
        except ValueError as error:
            self.fields.wrong("demand", str(error))
            return None

    def variants(self, default: tuple[Variant, ...]) -> tuple[Variant, ...]:
        """`[[sale.variant]]`, each with a name, and a finish or a count of its own."""
        found = []
        for table in self.fields.tables("variant", MOST_VARIANTS):
            name = table.text("name", required='"bare"')
            finish = table.choice("finish", finishes())
            count = table.count("count", 1, high=1000)
            table.done()
            if name is not None:
                found.append(Variant(name, finish, count or 1))
        if len({variant.name for variant in found}) != len(found):
            self.fields.wrong("variant", "two variants have one name")
        return tuple(found) or default


def _or(value: float | None, default: float) -> float:
    return default if value is None else value


def _or_zero(value: int | None, default: int) -> int:
    return default if value is None else value


def quotes_file(job: Job, sale: Sale) -> Path | None:
    """The CSV of quotes that `[sale]` names, beside the job; None when it names none.

    Raises `JobProblems` for a path that leaves the job's folder or a file that is not there.
    """
    if sale.quotes is None:
        return None
    assert job.sale is not None
    notebook = Notebook(job.sale.text)
    found = inside(Fields(job.sale.values, job.sale.path, notebook), "quotes", sale.quotes, job.folder, (".csv",))
    problems = notebook.problems()
    if problems:
        raise JobProblems(problems)
    return found
