"""What would make a part enough, and what other sheet would do, in a child process."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

from steadfold.job import read_job_text
from steadfold.review.compare import Choice, compare
from steadfold.review.mend import Mending, mend

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
    return {
        "share": found.now_share,
        "now": found.now,
        "changes": [_change(each) for each in found.changes],
        "near": [_change(each) for each in found.near],
        "thinner": None if found.thinner is None else _change(found.thinner),
    }, b""


def _change(found: Mending) -> dict[str, Any]:
    told = asdict(found)
    return {**told, "edits": [{"way": list(way), "value": value} for way, value in found.edits]}


def compared(tell: Tell, text: str, path: str, number: int) -> tuple[dict[str, Any], bytes]:
    """Rating, sag and mass of the part of that number in every stock thickness of its metal."""
    job = read_job_text(text, Path(path))
    with _one_after_the_other() as pool:
        found = compare(job, job.parts[number].name, (), tell, pool)
    choices = [{**asdict(choice), "text": _typed(choice)} for choice in found.choices]
    way = [*job.parts[number].path, "thickness"]
    return {"carried_kg": found.carried_kg, "way": way, "choices": choices}, b""


def _typed(choice: Choice) -> str:
    """The thickness as a job says it: by its gauge where it has one."""
    return choice.label if choice.label.endswith("ga") else f"{choice.thickness_mm:g} mm"
