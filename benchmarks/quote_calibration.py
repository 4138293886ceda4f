"""How well quotes teach a shop's rates: the error of the next quote on simulated shops, three ways side by side.

Run: python benchmarks/quote_calibration.py [shops, default 500]. Every shop has its own level, its own rates, a
least order, rounds its totals, gives a discount on quantity that the model knows nothing of, and now and then
quotes something odd; parts and quantities are drawn anew. Beside ours: the typical rates as they stand, and plain
least squares on the rates.
"""

from __future__ import annotations

import os
import sys
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy loads

# ruff: noqa: E402
from datetime import date

import numpy as np

from steadfold.money.calibration import PricedQuote, calibrate, uncalibrated

KEYS = ("order", "setup", "metal: mild steel", "laser", "brake", "bench", "coat", "coat_batch")
LEAST = 45.0
TODAY = date(2025, 6, 1)


def spend_of_a_part(random: np.random.Generator, quantity: int) -> np.ndarray:
    """Money at typical rates for one part of ordinary size: the driver of every key, at a quantity."""
    area = np.exp(random.normal(np.log(0.05), 0.8))
    thickness = random.choice([1.5, 2.0, 3.0, 4.0])
    kilograms = area * thickness * 7.85 * random.uniform(1.1, 1.6)
    cut_hours = random.uniform(4, 14) * np.sqrt(area) / random.uniform(2.0, 5.0) / 60
    strokes = random.integers(0, 9)
    coated = random.random() < 0.6
    bench_hours = random.uniform(60, 180) / 3600
    each = np.array([0, 0, 1.5 * kilograms, 95 * cut_hours, 65 * strokes * 15 / 3600, 45 * bench_hours,
                     11 * 2 * area * coated, 0])
    once = np.array([20, 60 * (6 + 10 * (strokes > 0)) / 60, 0, 0, 0, 0, 0, 25 * coated])
    return once + quantity * each


class SimulatedShop:
    """One shop whose rates nobody knows."""

    def __init__(self, random: np.random.Generator, level: float = 1.0):
        self.random = random
        self.factors = level * np.exp(0.3 * random.standard_normal()) * np.exp(0.3 * random.standard_normal(len(KEYS)))
        self.least = LEAST * np.exp(0.3 * random.standard_normal())
        self.discount = random.uniform(0.0, 0.02)

    def quote(self) -> PricedQuote:
        """A quote for a part it has not seen, at a quantity somebody might order."""
        random = self.random
        quantity = int(random.choice([1, 2, 5, 10, 20, 50, 100]))
        spend = spend_of_a_part(random, quantity)
        total = max(spend @ self.factors, self.least) * (1 - self.discount * np.log(quantity))
        total *= np.exp(0.03 * random.standard_normal())
        if random.random() < 0.04:
            total *= random.choice([0.8, 1.25])
        keyed = {key: float(money) for key, money in zip(KEYS, spend, strict=True)}
        return PricedQuote("part", quantity, max(round(total * 2) / 2, 0.5), TODAY, "simulated", keyed)


def least_squares(quotes: list[PricedQuote], asked: PricedQuote) -> float:
    """What plain least squares on the rates says of the next quote (the shortest solution where there are many)."""
    rows = np.array([[quote.spend[key] for key in KEYS] for quote in quotes])
    factors = np.linalg.lstsq(rows, np.array([quote.total for quote in quotes]), rcond=None)[0]
    return float(np.array([asked.spend[key] for key in KEYS]) @ factors)


def errors(shops: int, quotes: int, seed: int = 0, level: float = 1.0) -> dict[str, np.ndarray]:
    """Relative errors of the next quote by method, and whether our interval held it; one entry a shop."""
    found: dict[str, list[float]] = {"ours": [], "inside": [], "typical": [], "least squares": []}
    for number in range(shops):
        shop = SimulatedShop(np.random.default_rng((seed, quotes, number)), level)
        known = [shop.quote() for _ in range(quotes)]
        asked = shop.quote()
        ours = calibrate(known, LEAST, TODAY).predict(asked.spend)
        found["ours"].append(abs(ours.middle / asked.total - 1))
        found["inside"].append(float(ours.low <= asked.total <= ours.high))
        found["typical"].append(abs(uncalibrated(LEAST).predict(asked.spend).middle / asked.total - 1))
        found["least squares"].append(abs(least_squares(known, asked) / asked.total - 1) if known else np.nan)
    return {key: np.array(values) for key, values in found.items()}


def main() -> None:
    """Print the table."""
    shops = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    print(f"{shops} simulated shops; error of the next quote in %, median / 90th percentile; "
          "share of 90 % intervals that held")
    for level in (1.0, 2.0):
        print(f"level {level:g} times the typical")
        for quotes in (0, 3, 6, 12):
            start = time.perf_counter()
            found = errors(shops, quotes, level=level)
            words = []
            for key in ("ours", "typical", "least squares"):
                if np.isfinite(found[key]).all():
                    middle, tail = 100 * np.percentile(found[key], (50, 90))
                    words.append(f"{key} {middle:5.1f} /{tail:6.1f}")
            print(f"  {quotes:2d} quotes: {',  '.join(words)};  held {found['inside'].mean():.3f}"
                  f"  ({(time.perf_counter() - start) / shops * 1000:.0f} ms a shop)")


if __name__ == "__main__":
    main()
