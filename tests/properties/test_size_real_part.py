"""`size` on a part of the boat shed with the real (coarse) model: the optimum of trying all, the order it prunes by, a cluster.

The yardstick is the full model itself asked about every choice: nothing is assumed of it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from steadfold.job import read_job
from steadfold.money.search import Found
from steadfold.review.sizing import size
from steadfold.review.workers import workers
from tests.properties.size_grids import broken_orders

SHED = Path(__file__).parents[2] / "examples" / "boat-shed.toml"
RACK = ("thickness=2 mm,2.5 mm,3 mm,4 mm,5 mm,6 mm", "tine_width=18 mm..36 mm/6 mm", "material=S235,S355")
HOOKS = ("thickness=2.032 mm,2.54 mm,3.175 mm,4.064 mm", "hook_width=14 mm..26 mm/6 mm")


def everything(part: str, vary: tuple[str, ...]) -> Found:
    """The full model's answer for every choice."""
    with workers(2) as pool:
        return size(read_job(SHED), part, vary, executor=pool, at_once=4, whole_front=True, fine=False).found


@pytest.fixture(scope="module")
def racks() -> Iterator[Found]:
    yield everything("oar rack", RACK)


def test_the_search_ends_where_trying_all_ends_with_a_quarter_of_the_runs(racks: Found) -> None:
    """Choices of one price are as good as each other: the prices are compared, and that it is enough."""
    assert racks.runs >= 40 and racks.runs + len(racks.screened) == racks.candidates
    found = size(read_job(SHED), "oar rack", RACK, fine=False).found
    assert found.best is not None and racks.best is not None
    assert found.answers[found.best].cost == racks.answers[racks.best].cost
    assert racks.answers[found.best].outcome == "enough"
    assert found.runs <= racks.runs / 4


def test_thicker_sheet_and_wider_tines_are_never_too_weak_where_less_is_enough(racks: Found) -> None:
    assert {"enough", "too weak"} <= {answer.outcome for answer in racks.answers.values()}
    pairs, broken = broken_orders(racks)
    assert pairs > 200
    assert broken == []


def test_thicker_sheet_and_wider_hooks_are_never_too_weak_where_less_is_enough() -> None:
    every = everything("life jacket hooks", HOOKS)
    assert {"enough", "too weak"} <= {answer.outcome for answer in every.answers.values()}
    pairs, broken = broken_orders(every)
    assert pairs >= 40
    assert broken == []


def test_the_command_finds_the_same_through_a_cluster_as_through_its_own_processes(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    words = [
        "size", str(SHED), "oar rack", "--vary", "thickness=3 mm,4 mm", "--vary", "tine_width=26 mm..30 mm/2 mm",
        "--coarse", "--all", "--json",
    ]  # fmt: skip

    def said(*more: str) -> dict[str, object]:
        done = subprocess.run(
            [sys.executable, "-m", "steadfold.cli.main", *words, *more],
            capture_output=True, text=True, check=False, cwd=tmp_path, env={**os.environ, "OMP_NUM_THREADS": "1"},
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        answer: dict[str, object] = json.loads(done.stdout)
        return answer

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, local_directory=str(tmp_path)
    ) as cluster:
        shared = said("--cluster", cluster.scheduler_address)
    alone = said("--workers", "2")
    assert shared["best"] == alone["best"]
    assert shared["runs"] == alone["runs"] == 6


def test_a_cluster_that_is_not_there_is_a_sentence() -> None:
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    done = subprocess.run(
        [sys.executable, "-m", "steadfold.cli.main", "size", str(SHED), "--cluster", "tcp://127.0.0.1:9"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "no cluster answers at 'tcp://127.0.0.1:9'" in done.stderr and "Traceback" not in done.stderr
