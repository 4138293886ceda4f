"""Rates corrected by the user's own quotes: how wide a cost still is, and what each quote moved."""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from steadfold.money.posterior import (
    LEVEL_SPREAD,
    NOISE_FREEDOM,
    NOISE_MIDDLE,
    NOISE_SPREAD,
    RATE_SPREAD,
    Draws,
    Evidence,
    posterior_draws,
)

STALE_DAYS = 365
"""A quote older than this is called stale; it still counts, but less (common practice, no source)."""
MOVED = 0.02
"""A quote that moves a rate by less than this share is said to have moved none."""
PRIOR_DRAWS = 4000
LOW, MIDDLE, HIGH = 5.0, 50.0, 95.0
"""Percentiles of an interval: 90 % lie within."""


@dataclass(frozen=True)
class PricedQuote:
    """A quote beside what the typical rates say of it.

    `spend` is money by rate, from `work.spend_of`, in the currency of the quote; `total` what was asked. Totals
    are without tax and carriage.
    """

    part: str
    quantity: int
    total: float
    quoted: date
    shop: str
    spend: Mapping[str, float]

    @property
    def typical(self) -> float:
        """What the uncorrected rates would have said, least order aside."""
        return sum(self.spend.values())


@dataclass(frozen=True)
class Prediction:
    """What an order costs: the middle, and the ends between which 90 % lie."""

    middle: float
    low: float
    high: float


@dataclass(frozen=True)
class Moved:
    """What one quote did: its error when the others predict it, and the rate that it moved most.

    `error` is predicted over asked, less 1 (None with one quote only: nothing else to predict it from).
    `rate` is '' when it moved none by more than a fiftieth; `factor` is what it multiplied that rate by.
    """

    quote: PricedQuote
    error: float | None
    rate: str
    factor: float
    stale: bool
    to_come: bool = False


@dataclass(frozen=True, eq=False)
class Calibration:
    """Rates as a cloud of samples. With no quotes (`calibrated` false) it is the typical rates' own spread."""

    keys: tuple[str, ...]
    draws: Draws
    least: float
    quotes: tuple[PricedQuote, ...]
    shop: str | None

    @property
    def calibrated(self) -> bool:
        """True when at least one quote stands behind it."""
        return bool(self.quotes)

    @property
    def level(self) -> float:
        """Middle of what the shop asks over the typical, apart from single rates."""
        return float(np.exp(np.median(self.draws.log_level)))

    def work(self, spend: Mapping[str, float], share_of_order: float = 1.0) -> np.ndarray:
        """Samples of what the work costs, without the noise of a single quote; money at typical rates in, by key.

        `share_of_order` of the least order is the least that it costs."""
        count = len(self.draws.log_level)
        summed = np.zeros(count)
        for key, money in spend.items():
            if key in self.keys:
                multiplier = np.exp(self.draws.log_multiplier[:, self.keys.index(key)])
            else:
                # Nobody quoted anything at this rate: its own spread, the same whenever it is asked for.
                random = np.random.default_rng(zlib.crc32(key.encode()))
                multiplier = np.exp(RATE_SPREAD * random.standard_normal(count))
            summed += money * multiplier
        floor = share_of_order * self.least * np.exp(self.draws.log_least)
        return np.exp(self.draws.log_level) * np.maximum(summed, floor)

    def predict(self, spend: Mapping[str, float], share_of_order: float = 1.0) -> Prediction:
        """The next quote for this work: middle and 90 % interval, the noise of quotes included."""
        random = np.random.default_rng(7)
        noise = random.standard_t(NOISE_FREEDOM, len(self.draws.noise)) * self.draws.noise
        priced = self.work(spend, share_of_order) * np.exp(noise)
        low, middle, high = (float(v) for v in np.percentile(priced, (LOW, MIDDLE, HIGH)))
        if not self.calibrated:
            # The middle of the typical rates is the rates themselves, not the sum of skew spreads.
            middle = max(sum(spend.values()), share_of_order * self.least)
        return Prediction(middle, low, high)

    def spread(self, spend: Mapping[str, float]) -> float:
        """Standard deviation of the logarithm of the work's cost: how little is known of it."""
        return float(np.log(self.work(spend)).std())

    def factor(self, key: str) -> Prediction:
        """What a rate has to be multiplied by, level included; 90 % interval."""
        cloud = self.work_factor(key)
        low, middle, high = (float(v) for v in np.percentile(cloud, (LOW, MIDDLE, HIGH)))
        return Prediction(middle, low, high)

    def work_factor(self, key: str) -> np.ndarray:
        """Samples of level times multiplier of one rate; raises `KeyError` for a rate that nothing was quoted at."""
        if key not in self.keys:
            raise KeyError(key)
        return np.exp(self.draws.log_level + self.draws.log_multiplier[:, self.keys.index(key)])


def uncalibrated(least: float) -> Calibration:
    """What is known without any quote; `least` is the least order at the typical rates."""
    random = np.random.default_rng(1)
    draws = Draws(
        LEVEL_SPREAD * random.standard_normal(PRIOR_DRAWS),
        np.zeros((PRIOR_DRAWS, 0)),
        RATE_SPREAD * random.standard_normal(PRIOR_DRAWS),
        NOISE_MIDDLE * np.exp(NOISE_SPREAD * random.standard_normal(PRIOR_DRAWS)),
    )
    return Calibration((), draws, least, (), None)


def calibrate(quotes: Sequence[PricedQuote], least: float, today: date, shop: str | None = None) -> Calibration:
    """Rates corrected by the quotes of one shop, of whatever shop `quotes` hold; no quotes give `uncalibrated`.

    `least` is the least order at the typical rates. Raises `ValueError` for a total that is not above 0 or quotes of several shops.
    """
    if not quotes:
        return uncalibrated(least)
    if len({quote.shop for quote in quotes}) > 1:
        raise ValueError("quotes of several shops are calibrated apart, not together")
    if any(not quote.total > 0 or not quote.typical > 0 for quote in quotes):
        raise ValueError("a quote's total and its work must be above 0")
    keys = tuple(dict.fromkeys(key for quote in quotes for key, money in quote.spend.items() if money > 0))
    spend = np.array([[quote.spend.get(key, 0.0) for key in keys] for quote in quotes])
    ages = np.array([max((today - quote.quoted).days, 0) / 365.25 for quote in quotes])
    draws = posterior_draws(Evidence(spend, np.array([quote.total for quote in quotes]), ages, least))
    return Calibration(keys, draws, least, tuple(quotes), shop or quotes[0].shop)


def moved_by(calibration: Calibration, today: date) -> tuple[Moved, ...]:
    """For each quote: its leave-one-out error, and the rate it moved most, by calibrating without it."""
    told = []
    for index, quote in enumerate(calibration.quotes):
        others = (*calibration.quotes[:index], *calibration.quotes[index + 1 :])
        without = calibrate(others, calibration.least, today, calibration.shop)
        error = without.predict(quote.spend).middle / quote.total - 1 if others else None
        shifts = {key: _shift(calibration, without, key) for key in calibration.keys if quote.spend.get(key, 0.0) > 0}
        rate = max(shifts, key=lambda key: abs(shifts[key]), default="")
        if not rate or abs(np.expm1(shifts[rate])) < MOVED:
            rate = ""
        factor = float(np.exp(shifts[rate])) if rate else 1.0
        age = (today - quote.quoted).days
        told.append(Moved(quote, error, rate, factor, age > STALE_DAYS, age < 0))
    return tuple(told)


def leave_one_out_error(moved: Sequence[Moved]) -> float | None:
    """Median of the absolute leave-one-out errors; None with fewer than two quotes."""
    errors = [abs(each.error) for each in moved if each.error is not None]
    return float(np.median(errors)) if errors else None


def next_to_quote(calibration: Calibration, choices: Mapping[str, Mapping[str, float]]) -> str | None:
    """The choice (a part at a quantity, with its spend) that is known least: have that quoted next; None for none."""
    return max(choices, key=lambda name: calibration.spread(choices[name]), default=None)


def _shift(calibration: Calibration, without: Calibration, key: str) -> float:
    """How far the middle of a rate's logarithm moved."""
    here = float(np.median(np.log(calibration.work_factor(key))))
    there = np.log(without.work_factor(key)) if key in without.keys else without.draws.log_level
    return here - float(np.median(there))
