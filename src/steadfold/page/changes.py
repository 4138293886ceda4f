"""What would make a part enough, and what other sheet would do, in a child process."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from steadfold.job import Job, read_job_text
from steadfold.job.models import JobPart
from steadfold.job.problem import JobProblems
from steadfold.money.rates import read_rates
from steadfold.page.inches import in_inches
from steadfold.review.compare import Choice, compare
from steadfold.review.costing import job_cost
from steadfold.review.mend import Mended, Mending, mend
from steadfold.review.retold import retold_mended
from steadfold.review.shop import shop_of
from steadfold.sheet.shapes import ShapeError

Tell = Callable[[float, str], None]


@contextmanager
def _one_after_the_other() -> Iterator[ThreadPoolExecutor]:
    """A pool of one thread: a worker of the page may have no processes of its own, and stops where it is told to."""
    pool = ThreadPoolExecutor(1)
    try:
        yield pool
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def mended(tell: Tell, text: str, path: str, number: int) -> tuple[dict[str, Any], bytes]:
    """Ranked changes that make the part of that number enough, each proven by the model, and the nearest others."""
    job = read_job_text(text, Path(path))
    with _one_after_the_other() as pool:
        found = mend(job, job.parts[number].name, tell, pool)
    told = _mended(found)
    return {**told, "inch": in_inches(told, _mended(retold_mended(found, "in")))}, b""


def _mended(found: Mended) -> dict[str, Any]:
    return {
        "share": found.now_share,
        "now": found.now,
        "changes": [_change(each) for each in found.changes],
        "near": [_change(each) for each in found.near],
        "thinner": None if found.thinner is None else _change(found.thinner),
        "untried": list(found.untried),
    }


def _change(found: Mending) -> dict[str, Any]:
    told = asdict(found)
    return {**told, "edits": [{"way": list(way), "value": value} for way, value in found.edits]}


def compared(tell: Tell, text: str, path: str, number: int) -> tuple[dict[str, Any], bytes]:
    """Rating, sag, mass and cost of the part of that number in every stock thickness of its metal."""
    job = read_job_text(text, Path(path))
    ordered = job.parts[number]
    with _one_after_the_other() as pool:
        found = compare(job, ordered.name, (), lambda share, what: tell(0.7 * share, what), pool)
    choices = []
    for place, choice in enumerate(found.choices):
        tell(0.7 + 0.3 * place / len(found.choices), f"{choice.label}: cost")
        choices.append({**asdict(choice), "text": _typed(choice), "cost_each": _cost_each(job, ordered, choice)})
    return {
        "carried_kg": found.carried_kg,
        "currency": read_rates(shop_of(job).rates).currency,
        "way": [*ordered.path, "thickness"],
        "choices": choices,
        "inch": in_inches({"choices": choices}, names=(ordered.name,)),
    }, b""


def _cost_each(job: Job, ordered: JobPart, choice: Choice) -> float | None:
    """What one costs in that sheet, ordered as many as now; None where the library gives no cost."""
    other = replace(ordered, material=choice.material, thickness_mm=choice.thickness_mm, gauge=None)
    try:
        cost = job_cost(replace(job, parts=(other,), stands=()))
    except (JobProblems, ShapeError, ValueError):
        return None
    return float(cost.parts[0][1].each.amount) if cost.parts else None


def _typed(choice: Choice) -> str:
    """The thickness as a job says it: by its gauge where it has one."""
    return choice.label if choice.label.endswith("ga") else f"{choice.thickness_mm:g} mm"
