"""Money: an exact decimal amount with its currency. Two currencies never mix."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

DIGITS = {"JPY": 0, "KRW": 0, "ISK": 0, "CLP": 0, "VND": 0, "HUF": 2, "BHD": 3, "KWD": 3, "OMR": 3, "TND": 3}
"""Decimal places of the smaller unit where they are not two (ISO 4217, recalled)."""

SIGNS = {"€": "EUR", "$": "USD", "£": "GBP"}
"""Signs that are read; a dollar sign is taken for the US dollar."""

MOST = Decimal("1e12")
"""More than this is a slip of the keyboard."""

_CURRENCY = re.compile(r"[A-Z]{3}")
_NUMBER = r"[-+−]?\s*(?:\d+(?:\.\d*)?|\.\d+)"
_AMOUNT = re.compile(rf"(?P<before>[A-Z]{{3}}|[€$£])?\s*(?P<number>{_NUMBER})\s*(?P<after>[A-Z]{{3}}|[€$£])?")


class MoneyError(ValueError):
    """A text or a sum that is no money; `str()` is one sentence that says what would be right."""


@dataclass(frozen=True)
class Money:
    """An amount in a currency (three capital letters, ISO 4217). Arithmetic is exact; `rounded` rounds."""

    amount: Decimal
    currency: str

    def __post_init__(self) -> None:
        if not isinstance(self.amount, Decimal) or not self.amount.is_finite():
            raise MoneyError(f"{self.amount!r} is not a decimal amount")
        if not _CURRENCY.fullmatch(self.currency):
            raise MoneyError(f"{self.currency!r} is not a currency; write three capital letters, like EUR")

    def __add__(self, other: Money) -> Money:
        return Money(self.amount + self._same(other), self.currency)

    def __sub__(self, other: Money) -> Money:
        return Money(self.amount - self._same(other), self.currency)

    def __mul__(self, factor: Decimal | int) -> Money:
        return Money(self.amount * factor, self.currency)

    __rmul__ = __mul__

    def __truediv__(self, divisor: Decimal | int) -> Money:
        return Money(self.amount / divisor, self.currency)

    def __neg__(self) -> Money:
        return Money(-self.amount, self.currency)

    def __lt__(self, other: Money) -> bool:
        return self.amount < self._same(other)

    def __le__(self, other: Money) -> bool:
        return self.amount <= self._same(other)

    def __gt__(self, other: Money) -> bool:
        return self.amount > self._same(other)

    def __ge__(self, other: Money) -> bool:
        return self.amount >= self._same(other)

    def _same(self, other: Money) -> Decimal:
        if other.currency != self.currency:
            raise MoneyError(f"{self.currency} and {other.currency} cannot be reckoned together without a rate")
        return other.amount

    def rounded(self) -> Money:
        """To the smaller unit of the currency, halves away from zero."""
        unit = Decimal(1).scaleb(-DIGITS.get(self.currency, 2))
        return Money(self.amount.quantize(unit, ROUND_HALF_UP), self.currency)

    def __str__(self) -> str:
        return f"{self.rounded().amount} {self.currency}"


def zero(currency: str) -> Money:
    """Nothing, in a currency."""
    return Money(Decimal(0), currency)


def total(amounts: Iterable[Money], currency: str) -> Money:
    """The sum; nothing for no amounts."""
    summed = zero(currency)
    for amount in amounts:
        summed = summed + amount
    return summed


def money_of(value: float, currency: str) -> Money:
    """A reckoned `value` in units of the currency as money, to a ten-thousandth of the unit: below that a float holds noise."""
    return Money(Decimal(f"{value:.4f}"), currency)


def read_money(text: object, currency: str | None = None) -> Money:
    """Money from text such as `12.50 EUR`, `EUR 12.50` or `€12.50`.

    With `currency` a number without one is taken to be in it; without it such a number is refused. Raises
    `MoneyError` for anything else, a decimal comma included, since nobody can tell 1,234 from 1.234.

    >>> str(read_money("12.5 EUR"))
    '12.50 EUR'
    """
    example = 'write it like "12.50 EUR"'
    if not isinstance(text, str):
        raise MoneyError(f"{text!r} has no currency; {example}")
    if len(text) > 40:
        raise MoneyError(f"a text of {len(text)} characters is no money; {example}")
    found = _AMOUNT.fullmatch(text.strip())
    if found is None:
        comma = "; the decimal sign is a point, and thousands are not parted" if "," in text else ""
        raise MoneyError(f"{text.strip()!r} is no money; {example}{comma}")
    named = [SIGNS.get(sign, sign) for sign in (found["before"], found["after"]) if sign]
    if len(set(named)) > 1:
        raise MoneyError(f"{text.strip()!r} names two currencies")
    if not named and currency is None:
        raise MoneyError(f"{text.strip()!r} has no currency; {example}")
    try:
        amount = Decimal(found["number"].replace("−", "-").replace(" ", ""))
    except InvalidOperation:
        raise MoneyError(f"{text.strip()!r} is no money; {example}") from None
    if abs(amount) > MOST:
        raise MoneyError(f"{text.strip()!r} is more money than anybody has for this")
    return Money(amount, named[0] if named else str(currency))
