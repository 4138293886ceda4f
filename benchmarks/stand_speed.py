"""How long a stand takes: all cases, the whole review, the plan to level it, the diagnosis; each over one plain solution.

Run: python benchmarks/stand_speed.py. The wanted figures: all cases in 0.3 s, a plan in 1 s.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from steadfold.job import read_job
from steadfold.job.stand_table import read_stands
from steadfold.stand.diagnose import diagnose
from steadfold.stand.level import level_plan
from steadfold.stand.review import review_stand
from steadfold.stand.statics import cases_of, member_forces, solved
from steadfold.stand.structure import built

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "press-stand.toml"


def best(what: Callable[[], object], times: int = 5) -> float:
    """Least of several times in seconds, after one to warm up."""
    what()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        what()
        found.append(time.perf_counter() - start)
    return min(found)


def main() -> None:
    """Print seconds and ratios."""
    stand = read_stands(read_job(EXAMPLE))[0]
    ready = built(stand)
    cases = cases_of(ready)

    def one() -> None:
        solved(built(stand), cases[:1])

    def every() -> None:
        fresh = built(stand)
        for result in solved(fresh, cases):
            member_forces(fresh, result)

    single = best(one)
    rows: list[tuple[str, float]] = [
        ("one case, from the records", single),
        (f"{len(cases)} cases with member forces", best(every)),
        ("whole review, nothing read", best(lambda: review_stand(replace(stand, readings=())))),
        ("plan to level it", best(lambda: level_plan(stand))),
        ("diagnosis", best(lambda: diagnose(stand))),
        ("whole review with plan and diagnosis", best(lambda: review_stand(stand), 3)),
    ]
    for name, seconds in rows:
        print(f"{name:40s} {seconds:8.3f} s   {seconds / single:6.1f} x one case")


if __name__ == "__main__":
    main()
