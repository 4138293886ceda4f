"""Stock and cash month by month when nobody knows how many will be sold.

The mean number a month is log-normal between two ends that hold it nine times in ten; the months about it are
negative binomial (Poisson when `lumpiness` is 1, the same every month when it is 0). A batch is ordered and paid when
stock and what is coming fall to what sells until it arrives; nothing more is ordered that could not arrive in time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

NINE_TENTHS = 1.6448536269514722
"""Standard deviations either side of the middle between which nine tenths of a bell curve lie."""
PATHS = 10_000
BAND = (5.0, 25.0, 50.0, 75.0, 95.0)
"""Percentiles of cash that are kept month by month."""


@dataclass(frozen=True)
class Demand:
    """How many are sold a month: nine times in ten the mean lies between `low` and `high`.

    `lumpiness` is the variance of a month over its mean: 1 when buyers come one by one, more when they come in
    groups, 0 when every month is the same.
    """

    low: float
    high: float
    lumpiness: float = 1.5

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.high < 1e6:
            raise ValueError("demand lies between two numbers above 0, the lower first")
        if not (self.lumpiness == 0 or 1 <= self.lumpiness <= 100):
            raise ValueError("lumpiness is 0, or from 1 to 100")

    @property
    def middle(self) -> float:
        """Median of the mean a month."""
        return math.sqrt(self.low * self.high)

    @property
    def spread(self) -> float:
        """Standard deviation of the logarithm of the mean."""
        return math.log(self.high / self.low) / (2 * NINE_TENTHS)


@dataclass(frozen=True)
class Venture:
    """What is at stake, as plain numbers: `contribution` a unit sold without its landed cost (price less fees,
    packaging, postage, returns, reserve), `landed` a unit bought, `design` paid at the start."""

    contribution_before_goods: float
    landed: float
    design: float
    batch: int
    months: int
    lead_months: int


@dataclass(frozen=True, eq=False)
class CashAnswer:
    """What may come of it.

    `end` are percentiles 5, 50 and 95 of cash after the last month, stock left counted as worthless. `peak_out` is
    the most money out at any time, nine times in ten not more. `pays_back_month` is the median month from which
    cash stays above nothing; None when it does not in half of the cases. `band` is `BAND` by month, shape
    (months + 1, 5). `sold` is the mean number sold, `stock_left` the mean left over.
    """

    chance_of_loss: float
    end: tuple[float, float, float]
    peak_out: float
    pays_back_month: float | None
    sold: float
    stock_left: float
    band: np.ndarray


def monthly_sales(demand: Demand, months: int, paths: int, seed: int) -> np.ndarray:
    """Wanted pieces, shape (paths, months)."""
    random = np.random.default_rng(seed)
    mean = demand.middle * np.exp(demand.spread * random.standard_normal(paths))
    if demand.lumpiness == 0:
        # Fractions add up until they are a whole piece.
        reached = np.floor(mean[:, None] * np.arange(1, months + 1)[None, :] + 1e-9)
        return np.diff(reached, axis=1, prepend=0.0)
    if demand.lumpiness == 1:
        return random.poisson(mean[:, None], (paths, months)).astype(float)
    # Variance = lumpiness × mean: n = mean / (lumpiness − 1), p = 1 / lumpiness.
    return random.negative_binomial(
        mean[:, None] / (demand.lumpiness - 1), 1 / demand.lumpiness, (paths, months)
    ).astype(float)


def simulate(venture: Venture, demand: Demand, paths: int = PATHS, seed: int = 1) -> CashAnswer:
    """Cash and stock of many futures; always the same for the same input."""
    wanted = monthly_sales(demand, venture.months, paths, seed)
    lead, batch = venture.lead_months, venture.batch
    # A batch is asked for when what is there and coming would not last until it could arrive.
    least = demand.middle * (lead + 1)
    cash = np.full(paths, -venture.design - venture.landed * batch)
    stock = np.zeros(paths)
    arriving = np.zeros((paths, venture.months + lead + 2))
    arriving[:, lead] = batch
    books = np.empty((paths, venture.months + 1))
    books[:, 0] = cash
    sold_all = np.zeros(paths)
    for month in range(venture.months):
        stock = stock + arriving[:, month]
        sold = np.minimum(wanted[:, month], stock)
        stock = stock - sold
        sold_all += sold
        cash = cash + sold * venture.contribution_before_goods
        coming = arriving[:, month + 1 :].sum(axis=1)
        if month + 1 + lead < venture.months:
            ordered = np.where(stock + coming <= least, batch, 0)
            arriving[:, month + 1 + lead] += ordered
            cash = cash - ordered * venture.landed
        books[:, month + 1] = cash
    below = books < 0
    last_below = np.where(below.any(axis=1), books.shape[1] - 1 - np.argmax(below[:, ::-1], axis=1), -1)
    pays = np.where(last_below < venture.months, last_below + 1.0, np.inf)
    back = float(np.median(pays))
    low, middle, high = (float(v) for v in np.percentile(cash, (5, 50, 95)))
    left = float((stock + arriving[:, venture.months :].sum(axis=1)).mean())
    return CashAnswer(
        chance_of_loss=float((cash < 0).mean()),
        end=(low, middle, high),
        peak_out=float(np.percentile(np.maximum(0.0, -books.min(axis=1)), 90)),
        pays_back_month=back if math.isfinite(back) else None,
        sold=float(sold_all.mean()),
        stock_left=left,
        band=np.percentile(books, BAND, axis=0).T,
    )
