"""A part in other sheets: what is shared between metals, against the same asked of each alone; who does the work."""

from __future__ import annotations

from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import pytest

from steadfold.job import Job, read_job
from steadfold.review import compare as comparing
from steadfold.review.compare import Choice, compare

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


class Here(Executor):
    """Does everything at once in this process, and counts the batches."""

    def __init__(self) -> None:
        self.batches = 0

    def submit(self, task: Any, /, *arguments: Any, **named: Any) -> Future[Any]:
        self.batches += 1
        done: Future[Any] = Future()
        done.set_result(task(*arguments, **named))
        return done


def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two of the stock thicknesses of every metal."""
    every = comparing.thicknesses
    monkeypatch.setattr(comparing, "thicknesses", lambda metal, system=None: every(metal, system)[4:9:4])


@pytest.fixture
def job(monkeypatch: pytest.MonkeyPatch) -> Job:
    few(monkeypatch)
    return read_job(EXAMPLES / "rigger-tines.toml")


def by_name(choices: tuple[Choice, ...]) -> dict[tuple[str, float], Choice]:
    return {(c.material, c.thickness_mm): c for c in choices}


def test_metals_read_from_one_solution_are_rated_as_each_alone(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    """Fixings a little stiffer about stronger sheet are left out: less than a hundredth in rating and sag."""
    pool = Here()
    shared = compare(job, "flat tines 5 mm", ("S355",), executor=pool)
    monkeypatch.setattr(comparing, "_shared", lambda job, variants: None)
    alone = by_name(compare(job, "flat tines 5 mm", ("S355",), executor=Here()).choices)
    assert pool.batches < len(shared.choices)
    for choice in shared.choices:
        beside = alone[choice.material, choice.thickness_mm]
        assert choice.rating_kg == pytest.approx(beside.rating_kg, rel=0.01)
        assert choice.sag_mm == pytest.approx(beside.sag_mm, rel=0.01)
        assert choice.mass_kg == pytest.approx(beside.mass_kg, rel=1e-12)
        assert (choice.label, choice.now) == (beside.label, beside.now)


def test_with_workers_of_its_own_the_table_is_the_same(job: Job) -> None:
    """This process takes part; nothing is done twice and nothing is left out."""
    shares: list[float] = []
    own = compare(job, "flat tines 5 mm", ("S355",), lambda share, what: shares.append(share))
    assert own == compare(job, "flat tines 5 mm", ("S355",), executor=Here())
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_a_thickness_that_cannot_be_rated_says_why(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(comparing, "held", lambda *a: (_ for _ in ()).throw(ValueError("no such wall")))
    monkeypatch.setattr(comparing, "_shared", lambda job, variants: None)
    found = compare(job, "flat tines 5 mm", executor=Here())
    assert {c.why_not for c in found.choices} == {"no such wall"}
