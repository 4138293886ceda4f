"""The search for the cheapest against trying everything; kills, other executors, and the answers it keeps."""

from __future__ import annotations

import json
import math
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadfold.money.search import Answer, Axis, Candidate, Screen, SearchError, candidates_of, cheapest

GAUGES = tuple(round(0.8 + 0.2 * k, 1) for k in range(20))
FLANGES = tuple(range(10, 60, 5))
METALS = {"soft": (1.0, 1.0), "hard": (1.35, 1.5), "light": (0.6, 2.4)}
AXES = (Axis("gauge", GAUGES, True), Axis("flange", FLANGES, True), Axis("metal", tuple(METALS)))
ENOUGH = 400.0


def strength(candidate: Candidate) -> float:
    """A flanged strip: stronger with its gauge and its flange, by its metal."""
    gauge, flange, metal = candidate
    return float(gauge) ** 1.6 * float(flange) * METALS[str(metal)][0] * 3.0


def price(candidate: Candidate) -> float:
    """Metal by volume and its price, and a set-up for thick sheet."""
    gauge, flange, metal = candidate
    return float(gauge) * (90 + float(flange)) * METALS[str(metal)][1] * 0.02 + (2.0 if float(gauge) > 3 else 0.0)


def model(candidate: Candidate) -> Answer:
    """Thick sheet with a small flange cannot be bent."""
    gauge, flange, _ = candidate
    if float(flange) < 4.5 * float(gauge):
        return Answer("cannot be made", price(candidate), 0.0, "flange too short")
    held = strength(candidate)
    return Answer("enough" if held >= ENOUGH else "too weak", price(candidate), held)


def screen(candidate: Candidate) -> Screen:
    """The price is known beforehand."""
    return Screen(price(candidate))


def exhaustive() -> Candidate:
    return min((c for c in candidates_of(AXES) if model(c).outcome == "enough"), key=price)


def test_the_search_finds_what_trying_all_six_hundred_finds_with_a_quarter_of_the_runs() -> None:
    everything = candidates_of(AXES)
    assert len(everything) == 600
    found = cheapest(AXES, screen, model)
    assert found.best == exhaustive()
    assert found.complete
    assert found.runs <= len(everything) / 4
    assert found.runs == len(found.answers)


@settings(max_examples=40)
@given(st.data())
def test_random_monotone_models_end_in_their_optimum(data: st.DataObject) -> None:
    """Strength grows with two axes, in steps drawn at random; price does what it likes; a third axis is free."""
    steps = [data.draw(st.lists(st.floats(0.1, 5.0), min_size=5, max_size=5)) for _ in range(2)]
    free = data.draw(st.lists(st.floats(0.5, 2.0), min_size=3, max_size=3))
    prices = data.draw(st.lists(st.integers(1, 50), min_size=75, max_size=75))
    unmade = data.draw(st.sets(st.integers(0, 74), max_size=10))
    limit = data.draw(st.floats(1.0, 40.0))
    axes = (Axis("a", tuple(range(5)), True), Axis("b", tuple(range(5)), True), Axis("c", tuple(range(3))))
    order = {candidate: index for index, candidate in enumerate(candidates_of(axes))}

    def random_model(candidate: Candidate) -> Answer:
        a, b, c = (int(v) for v in candidate)
        held = (sum(steps[0][: a + 1]) + sum(steps[1][: b + 1])) * free[c]
        outcome: Any = "enough" if held >= limit else "too weak"
        if order[candidate] in unmade:
            outcome = "cannot be made"
        return Answer(outcome, float(prices[order[candidate]]), held)

    found = cheapest(axes, lambda c: Screen(float(prices[order[c]])), random_model)
    enough = [c for c in order if random_model(c).outcome == "enough"]
    if not enough:
        assert found.best is None
    else:
        assert found.best is not None
        assert random_model(found.best).outcome == "enough"
        assert prices[order[found.best]] == min(prices[order[c]] for c in enough)


def test_an_axis_that_is_not_monotone_is_not_pruned_by() -> None:
    """A taller lip that buckles: strong in the middle only. Said not to rise, the search still finds it."""
    axes = (Axis("lip", tuple(range(12))),)

    def humped(candidate: Candidate) -> Answer:
        lip = int(candidate[0])
        return Answer("enough" if 4 <= lip <= 6 else "too weak", float(lip), 10.0 - abs(lip - 5))

    assert cheapest(axes, lambda c: Screen(float(c[0])), humped).best == (4,)


def test_what_the_screen_rules_out_is_never_asked_about() -> None:
    def strict(candidate: Candidate) -> Screen:
        return Screen(math.inf, "not on the shelf") if candidate[2] == "soft" else screen(candidate)

    found = cheapest(AXES, strict, model)
    assert found.best is not None and found.best[2] != "soft"
    assert len(found.screened) == 200
    assert all(candidate[2] != "soft" for candidate in found.answers)


def test_the_whole_front_is_that_of_trying_all() -> None:
    found = cheapest(AXES, screen, model, whole_front=True)
    made = [c for c in candidates_of(AXES) if model(c).outcome != "cannot be made"]
    beaten = {
        c
        for c in made
        if any(
            price(o) <= price(c) and strength(o) >= strength(c) and (price(o), -strength(o)) != (price(c), -strength(c))
            for o in made
        )
    }
    assert {(price(c), strength(c)) for c in found.pareto} == {(price(c), strength(c)) for c in made if c not in beaten}
    assert found.best == exhaustive()


def test_threads_and_processes_give_the_same_answer() -> None:
    with ThreadPoolExecutor(3) as threads:
        assert cheapest(AXES, screen, model, executor=threads, at_once=3).best == exhaustive()
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as processes:
        assert cheapest(AXES, screen, model, executor=processes, at_once=2).best == exhaustive()


def test_a_cluster_engine_gives_the_same_answer() -> None:
    """A local cluster of two processes, through its executor."""
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        executor = client.get_executor(pure=False)
        assert cheapest(AXES, screen, model, executor=executor, at_once=2).best == exhaustive()


def test_finished_answers_are_used_again_and_other_jobs_are_not(tmp_path: Path) -> None:
    cache = tmp_path / "answers.jsonl"
    first = cheapest(AXES, screen, model, cache_path=cache, fingerprint="job A")
    again = cheapest(AXES, screen, model, cache_path=cache, fingerprint="job A")
    assert (again.runs, again.kept, again.best) == (0, first.runs, first.best)
    other = cheapest(AXES, screen, model, cache_path=cache, fingerprint="job B")
    assert (other.runs, other.kept) == (first.runs, 0)


def test_a_torn_last_line_costs_that_answer_and_no_other(tmp_path: Path) -> None:
    cache = tmp_path / "answers.jsonl"
    first = cheapest(AXES, screen, model, cache_path=cache)
    whole = cache.read_bytes()
    cache.write_bytes(whole[:-9])
    again = cheapest(AXES, screen, model, cache_path=cache)
    assert (again.kept, again.runs, again.best) == (first.runs - 1, 1, first.best)
    assert cheapest(AXES, screen, model, cache_path=cache).runs == 0


KILLED = """
import sys, time
sys.path[:0] = {path!r}
from tests.properties.test_money_search import AXES, model, screen
from steadfold.money.search import cheapest
def slow(candidate):
    time.sleep(0.03)
    return model(candidate)
cheapest(AXES, screen, slow, cache_path={cache!r}, whole_front=True)
"""


def test_a_kill_loses_no_finished_candidate(tmp_path: Path) -> None:
    cache = tmp_path / "answers.jsonl"
    root = str(Path(__file__).resolve().parents[2])
    script = KILLED.format(path=[root], cache=str(cache))
    child = subprocess.Popen([sys.executable, "-c", script])
    try:
        until = time.monotonic() + 60
        while time.monotonic() < until and (not cache.exists() or cache.read_bytes().count(b"\n") < 10):
            time.sleep(0.02)
    finally:
        os.kill(child.pid, signal.SIGKILL)
        child.wait()
    finished = cache.read_bytes().count(b"\n")
    assert 10 <= finished < 600
    asked: list[Candidate] = []

    def counting(candidate: Candidate) -> Answer:
        asked.append(candidate)
        return model(candidate)

    after = cheapest(AXES, screen, counting, cache_path=cache, whole_front=True)
    assert after.kept == finished
    assert after.runs == len(asked) == 600 - finished
    known = {tuple(json.loads(line)["candidate"]) for line in cache.read_text().splitlines()[:finished]}
    assert known.isdisjoint(asked)


def test_what_the_model_raises_comes_out_after_the_others_are_kept(tmp_path: Path) -> None:
    cache = tmp_path / "answers.jsonl"

    def breaking(candidate: Candidate) -> Answer:
        if candidate[0] == 2.0:
            raise RuntimeError("the mesh broke")
        return model(candidate)

    with ThreadPoolExecutor(4) as threads, pytest.raises(RuntimeError, match="the mesh broke"):
        cheapest(AXES, screen, breaking, executor=threads, at_once=4, cache_path=cache, whole_front=True)
    assert cache.read_bytes().endswith(b"\n")
    assert cheapest(AXES, screen, model, cache_path=cache).best == exhaustive()


def test_told_to_stop_it_says_so_and_keeps_the_best_so_far() -> None:
    asked: list[Candidate] = []

    def counting(candidate: Candidate) -> Answer:
        asked.append(candidate)
        return model(candidate)

    found = cheapest(AXES, screen, counting, stop=lambda: len(asked) >= 5)
    assert not found.complete
    assert len(found.answers) == 5


@pytest.mark.parametrize("axes", [(), (Axis("gauge", ()),), (Axis("gauge", (1, 1)),), (Axis("n", tuple(range(30_000))),)])
def test_a_search_that_makes_no_sense_is_refused(axes: tuple[Axis, ...]) -> None:
    with pytest.raises(SearchError):
        cheapest(axes, screen, model)
