"""The search for the cheapest: runs against trying all, and how two workers scale on 500 candidates.

Run: python benchmarks/size_search.py. The model burns a fixed number of operations, a few tens of milliseconds, in the processor.
"""

from __future__ import annotations

import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy loads

# ruff: noqa: E402
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from steadfold.money.search import Answer, Axis, Candidate, Screen, candidates_of, cheapest

AXES = (
    Axis("gauge", tuple(round(0.8 + 0.15 * k, 2) for k in range(25)), True),
    Axis("flange", tuple(range(10, 50, 4)), True),
    Axis("metal", (1.0, 1.35)),
)
ENOUGH = 300.0


def price(candidate: Candidate) -> float:
    """What it costs."""
    gauge, flange, metal = (float(v) for v in candidate)
    return gauge * (90 + flange) * metal**1.2


def burning(candidate: Candidate) -> Answer:
    """A model that takes its time."""
    gauge, flange, metal = (float(v) for v in candidate)
    summed = 0
    for k in range(1_200_000):
        summed += k & 7
    held = gauge**1.6 * flange * metal + 0.0 * summed
    return Answer("enough" if 3 * held >= ENOUGH else "too weak", price(candidate), held)


def waiting(candidate: Candidate) -> Answer:
    """The same model, waiting where the other reckons: scaling apart from what else the machine does."""
    time.sleep(0.02)
    gauge, flange, metal = (float(v) for v in candidate)
    held = gauge**1.6 * flange * metal
    return Answer("enough" if 3 * held >= ENOUGH else "too weak", price(candidate), held)


def screen(candidate: Candidate) -> Screen:
    """The price is known beforehand."""
    return Screen(price(candidate))


def main() -> None:
    """Print runs and ratios."""
    everything = candidates_of(AXES)
    best = min((c for c in everything if burning(c).outcome == "enough"), key=price)
    found = cheapest(AXES, screen, burning)
    same = "the same optimum" if found.best == best else "ANOTHER OPTIMUM"
    print(f"{len(everything)} candidates: {found.runs} runs of the model, {same}")
    for name, model in (("reckons", burning), ("waits", waiting)):
        seconds = {}
        for workers in (1, 2):
            with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
                list(pool.map(model, everything[: 2 * workers]))  # started and warm
                start = time.perf_counter()
                cheapest(AXES, screen, model, executor=pool, at_once=2 * workers, whole_front=True)
                seconds[workers] = time.perf_counter() - start
        print(f"model that {name}: all {len(everything)} through one worker {seconds[1]:.1f} s, through two "
              f"{seconds[2]:.1f} s: {seconds[1] / seconds[2]:.2f} ×")
    print(f"{os.cpu_count()} cores, load of the machine {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
