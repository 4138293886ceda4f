"""The search for the cheapest: runs against trying all, with the real model of a part, and how two workers scale.

Run: python benchmarks/size_search.py [--coarse-grid] [--scaling]. Without either, both. The grid is 540 choices of the
boat shed's oar rack through the coarse model, all of them and then as the search asks; it takes two to five minutes.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy loads

# ruff: noqa: E402
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from tests.properties.size_grids import broken_orders

from steadfold.job import read_job
from steadfold.money.search import Answer, Axis, Candidate, Screen, candidates_of, cheapest
from steadfold.review.sizing import size

SHED = Path(__file__).resolve().parents[1] / "examples" / "boat-shed.toml"
VARY = (
    "thickness=1.5 mm,2 mm,2.5 mm,3 mm,4 mm,5 mm",
    "tine_width=16 mm..44 mm/2 mm",
    "material=S235,S355",
    "height=70 mm..90 mm/10 mm",
)
AXES = (
    Axis("gauge", tuple(round(0.8 + 0.15 * k, 2) for k in range(25)), True),
    Axis("flange", tuple(range(10, 50, 4)), True),
    Axis("metal", (1.0, 1.35)),
)
ENOUGH = 300.0
OPERATIONS = 2_000_000
"""Of the model that reckons: some hundredths of a second, a tenth of what the coarse model of a part takes."""


def price(candidate: Candidate) -> float:
    """What it costs."""
    gauge, flange, metal = (float(v) for v in candidate)
    return gauge * (90 + flange) * metal**1.2


def screen(candidate: Candidate) -> Screen:
    """The price is known beforehand."""
    return Screen(price(candidate))


def burning(candidate: Candidate) -> Answer:
    """A model that takes its time, and says in its `why` how long it was at it by the clock and on the processor."""
    start, spent = time.time(), time.process_time()
    gauge, flange, metal = (float(v) for v in candidate)
    summed = 0
    for k in range(OPERATIONS):
        summed += k & 7
    held = gauge**1.6 * flange * metal + 0.0 * summed
    told = f"{os.getpid()} {start} {time.time()} {time.process_time() - spent}"
    return Answer("enough" if 3 * held >= ENOUGH else "too weak", price(candidate), held, told)


def waiting(candidate: Candidate) -> Answer:
    """The same model, waiting where the other reckons: what the search itself adds, apart from what the machine does."""
    start = time.time()
    time.sleep(0.02)
    gauge, flange, metal = (float(v) for v in candidate)
    held = gauge**1.6 * flange * metal
    return Answer(
        "enough" if 3 * held >= ENOUGH else "too weak", price(candidate), held, f"{os.getpid()} {start} {time.time()} 0"
    )


def coarse_grid() -> None:
    """Print the optimum of trying all and of the search on a real part, and where thicker or wider is weaker."""
    job = read_job(SHED)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        start = time.perf_counter()
        every = size(job, "oar rack", VARY, executor=pool, at_once=4, whole_front=True, fine=False).found
        took = time.perf_counter() - start
    start, spent = time.perf_counter(), time.process_time()
    found = size(job, "oar rack", VARY, fine=False).found
    assert every.best is not None and found.best is not None
    # Choices of one price are as good as each other.
    least = every.answers[every.best].cost
    alike = every.answers[found.best].outcome == "enough" and found.answers[found.best].cost == least
    same = "the same optimum" if alike else "ANOTHER OPTIMUM"
    print(f"oar rack, {every.candidates} choices, {len(every.screened)} of which cannot be: all of them {every.runs} runs "
          f"of the coarse model ({took:.0f} s, two workers); the search {found.runs} runs "
          f"({100 * found.runs / every.runs:.1f} %; {time.process_time() - spent:.1f} s of processor): {same}, "
          f"{found.named(found.best)} at {found.answers[found.best].cost:.2f}")  # fmt: skip
    pairs, broken = broken_orders(every)
    print(f"thicker or wider, all else alike: {pairs} pairs, in {len(broken)} the stronger one is too weak where the other "
          f"is enough")  # fmt: skip
    for weak, strong in broken[:10]:
        print(f"  {weak} {every.answers[weak]}\n  {strong} {every.answers[strong]}")


def scaling() -> None:
    """Print how 500 candidates scale from one worker to two, by the clock and as two free cores would."""
    everything = candidates_of(AXES)
    for name, model in (("reckons", burning), ("waits", waiting)):
        one, two = _through(1, model, everything), _through(2, model, everything)
        # On free cores a run takes its processor time; what the workers stand idle for is the search's own doing.
        free = 2 * two[1] * (one[2] / two[2] if two[2] else 1.0) / one[1]
        print(f"model that {name}: all {len(everything)} through one worker {one[0]:.1f} s, through two {two[0]:.1f} s: "
              f"{one[0] / two[0]:.2f} × by the clock; workers busy {100 * one[1]:.1f} and {100 * two[1]:.1f} % of the time, "
              f"{1e3 * one[2]:.0f} and {1e3 * two[2]:.0f} ms of processor a run: {free:.2f} × on two free cores")  # fmt: skip


def _through(
    count: int, model: Callable[[Candidate], Answer], everything: list[Candidate]
) -> tuple[float, float, float]:
    """Seconds of the whole search, share of it that the workers had a task in hand, and processor seconds a run."""
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
        list(pool.map(model, everything[: 2 * count]))  # started and warm
        start = time.perf_counter()
        found = cheapest(AXES, screen, model, executor=pool, at_once=2 * count, whole_front=True)
        took = time.perf_counter() - start
    told = [[float(word) for word in answer.why.split()] for answer in found.answers.values()]
    busy = sum(end - begin for _, begin, end, _ in told) / (count * took)
    return took, busy, sum(spent for *_, spent in told) / len(told)


def main() -> None:
    """Print what is asked for."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--coarse-grid", action="store_true")
    arguments.add_argument("--scaling", action="store_true")
    options = arguments.parse_args()
    if options.coarse_grid or not options.scaling:
        coarse_grid()
    if options.scaling or not options.coarse_grid:
        scaling()
    print(f"{os.cpu_count()} cores, load of the machine {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
