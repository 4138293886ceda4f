"""The cheapest design that is enough, without trying all: a search over choices in steps.

A candidate is one value of every axis. What is cheap to know (a lower bound of its cost, a reason why it cannot be)
is asked of all; the full model is asked of few. Where an axis says that more of it never weakens, a candidate that
is too weak rules out all that are weaker still, and one that is enough rules out all that cost as much or more. The
one asked next is the one whose answer rules out most whichever way it falls.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any, Literal, Protocol

import numpy as np

Value = str | int | float
Candidate = tuple[Value, ...]
"""One value of every axis, in the order of the axes."""

Outcome = Literal["enough", "too weak", "cannot be made"]

MOST_CANDIDATES = 20_000
SCREENED_AT_ONCE = 32
"""Candidates whose cheap look is one errand for an executor: a look alone is not worth the way there and back."""
FORMAT = 1


class SearchError(ValueError):
    """A search that cannot be made; `str()` is one sentence."""


@dataclass(frozen=True)
class Axis:
    """One choice: its values in order. `stronger` says that a later value never makes the part weaker, all else
    alike; leave it False where that is not certain."""

    name: str
    values: tuple[Value, ...]
    stronger: bool = False


@dataclass(frozen=True)
class Answer:
    """What the full model says of a candidate: whether it is enough, what it costs (or weighs), its rating.

    'too weak' rules out weaker ones; 'cannot be made' says nothing of others. `why` is a sentence for people.
    """

    outcome: Outcome
    cost: float
    rating: float
    why: str = ""


class FullModel(Protocol):
    """The full model: from a candidate to its answer. It must be picklable where processes share the work."""

    def __call__(self, candidate: Candidate) -> Answer:
        """The answer for one candidate."""
        ...


@dataclass(frozen=True)
class Screen:
    """What is cheap to know of a candidate: a cost that it cannot go below, and why it cannot be, None if it may."""

    least_cost: float
    why_not: str | None = None


@dataclass(frozen=True)
class Found:
    """The end of a search.

    `best` is None when nothing is enough. `answers` holds every candidate the full model was asked about; `screened`
    those that the cheap look ruled out, with the reason. `runs` counts the full model's runs of this search, `kept`
    the answers taken from earlier ones. `complete` is False when it was stopped: then `best` is the best so far.
    """

    axes: tuple[Axis, ...]
    best: Candidate | None
    answers: Mapping[Candidate, Answer]
    screened: Mapping[Candidate, str]
    candidates: int
    runs: int
    kept: int
    complete: bool

    def named(self, candidate: Candidate) -> dict[str, Value]:
        """A candidate with the names of its axes."""
        return {axis.name: value for axis, value in zip(self.axes, candidate, strict=True)}

    @property
    def pareto(self) -> tuple[Candidate, ...]:
        """Of those asked, the ones that no other beats in both cost and rating; cheapest first.

        Among those that can be made, enough or not: what more money would buy. Only what was asked is in it.
        """
        made = [c for c, answer in self.answers.items() if answer.outcome != "cannot be made"]
        made.sort(key=lambda c: (self.answers[c].cost, -self.answers[c].rating))
        front: list[Candidate] = []
        best = -math.inf
        for candidate in made:
            if self.answers[candidate].rating > best:
                best = self.answers[candidate].rating
                front.append(candidate)
        return tuple(front)


def candidates_of(axes: Sequence[Axis]) -> list[Candidate]:
    """Every combination. Raises `SearchError` when there are none or more than `MOST_CANDIDATES`."""
    count = math.prod(len(axis.values) for axis in axes) if axes else 0
    if not 0 < count <= MOST_CANDIDATES:
        raise SearchError(f"{count} combinations cannot be searched; from 1 to {MOST_CANDIDATES}")
    if any(len(set(axis.values)) != len(axis.values) for axis in axes):
        raise SearchError("an axis names a value twice")
    return list(product(*(axis.values for axis in axes)))


def cheapest(
    axes: Sequence[Axis],
    screen: Callable[[Candidate], Screen],
    full_model: FullModel,
    *,
    executor: Executor | None = None,
    at_once: int = 1,
    cache_path: str | Path | None = None,
    fingerprint: str = "",
    whole_front: bool = False,
    stop: Callable[[], bool] = lambda: False,
    tell: Callable[[float, str], None] = lambda share, what: None,
) -> Found:
    """The candidate of least cost that the full model finds enough.

    `screen` is asked of all, `full_model` of few, both through `executor` (any of `concurrent.futures`; None runs
    them here), the model `at_once` at a time: as many as there are workers, for with more the search runs ahead of
    what it learns; twice as many for `whole_front`, so that no worker waits. Its answers are written to `cache_path`
    as they come, a line each, so that a kill loses none; they are used again only under the same `fingerprint` (say,
    a hash of the job and the version). `whole_front` asks every candidate that passes the screen, for the whole
    picture of cost against rating. Of candidates that cost the same, whichever was proven first. What the model
    raises comes out of here, after what has finished is written.
    """
    everything = candidates_of(axes)
    looks = _looks(screen, everything, executor, stop, tell)
    if looks is None:
        return Found(tuple(axes), None, {}, {}, len(everything), 0, 0, False)
    screened = {c: look.why_not for c, look in zip(everything, looks, strict=True) if look.why_not is not None}
    state = _State(tuple(axes), everything, np.array([look.least_cost for look in looks]))
    for index, look in enumerate(looks):
        if look.why_not is not None:
            state.open[index] = False
    cache = _Cache(cache_path, fingerprint)
    kept = 0
    for candidate, answer in cache.known.items():
        if candidate in state.index and candidate not in screened:
            state.take(state.index[candidate], answer, prune=not whole_front)
            kept += 1
    runs = 0
    flying: dict[Future[Answer], int] = {}
    try:
        while not stop():
            while len(flying) < (at_once if executor is not None else 1):
                chosen = state.next(set(flying.values()), whole_front)
                if chosen is None:
                    break
                flying[_submit(executor, full_model, everything[chosen])] = chosen
            if not flying:
                break
            done, _ = wait(flying, timeout=0.2, return_when=FIRST_COMPLETED)
            # Those that went well first: what another one raises must not lose them.
            for future in sorted(done, key=lambda f: f.exception() is not None):
                answer, index = future.result(), flying.pop(future)
                cache.write(everything[index], answer)
                runs += 1
                state.take(index, answer, prune=not whole_front)
            left = int(state.open.sum())
            tell(1 - left / len(everything), f"{runs} tried, {left} of {len(everything)} open")
        complete = not flying and not state.open.any()
        # What is still on its way when told to stop is finished and kept: it has been paid for.
        for future, index in flying.items():
            if not future.cancel():
                answer = future.result()
                cache.write(everything[index], answer)
                runs += 1
                state.take(index, answer, prune=not whole_front)
    finally:
        for future in flying:
            future.cancel()
        cache.close()
    return Found(
        tuple(axes), state.best, {everything[i]: a for i, a in state.answers.items()}, screened, len(everything), runs,
        kept, complete,
    )  # fmt: skip


def _looks(
    screen: Callable[[Candidate], Screen],
    candidates: Sequence[Candidate],
    executor: Executor | None,
    stop: Callable[[], bool],
    tell: Callable[[float, str], None],
) -> list[Screen] | None:
    """The cheap look at every candidate, in batches; None when told to stop on the way."""
    batches = [candidates[k : k + SCREENED_AT_ONCE] for k in range(0, len(candidates), SCREENED_AT_ONCE)]
    shared = executor is not None and len(batches) > 1
    flying = [executor.submit(_look_at, screen, batch) for batch in batches] if shared and executor is not None else []
    looks: list[Screen] = []
    try:
        for number, batch in enumerate(batches):
            if stop():
                return None
            looks += flying[number].result() if shared else _look_at(screen, batch)
            tell(0.0, f"{len(looks)} of {len(candidates)} priced")
    finally:
        for future in flying:
            future.cancel()
    return looks


def _look_at(screen: Callable[[Candidate], Screen], candidates: Sequence[Candidate]) -> list[Screen]:
    return [screen(candidate) for candidate in candidates]


def _submit(executor: Executor | None, full_model: FullModel, candidate: Candidate) -> Future[Answer]:
    if executor is not None:
        return executor.submit(full_model, candidate)
    future: Future[Answer] = Future()
    try:
        future.set_result(full_model(candidate))
    except Exception as error:
        future.set_exception(error)
    return future


@dataclass(eq=False)
class _State:
    """What is open, and what each answer rules out."""

    axes: tuple[Axis, ...]
    candidates: list[Candidate]
    least: np.ndarray
    answers: dict[int, Answer] = field(default_factory=dict)
    best: Candidate | None = None

    def __post_init__(self) -> None:
        count = len(self.candidates)
        self.index = {candidate: i for i, candidate in enumerate(self.candidates)}
        self.open = np.ones(count, dtype=bool)
        self.best_cost = math.inf
        steps = [{value: k for k, value in enumerate(axis.values)} for axis in self.axes]
        places = [[step[v] for step, v in zip(steps, candidate, strict=True)] for candidate in self.candidates]
        self.place = np.array(places, dtype=np.int16).reshape(count, len(self.axes))
        self.rising = np.array([axis.stronger for axis in self.axes])

    def weaker(self, index: int) -> np.ndarray:
        """All that cannot be stronger than this one, itself included."""
        here = self.place[index]
        return np.where(self.rising, self.place <= here, self.place == here).all(axis=1)

    def take(self, index: int, answer: Answer, prune: bool) -> None:
        """Note an answer and close what it rules out."""
        self.answers[index] = answer
        self.open[index] = False
        if answer.outcome == "enough" and answer.cost < self.best_cost:
            self.best, self.best_cost = self.candidates[index], answer.cost
        if not prune:
            return
        if answer.outcome == "too weak":
            self.open &= ~self.weaker(index)
        # Whatever cannot cost less than the best is of no use, ties included.
        self.open &= self.least < self.best_cost

    def next(self, flying: set[int], whole_front: bool) -> int | None:
        """The open candidate whose answer rules out most in the worse case; the cheapest among equals."""
        free = self.open.copy()
        free[list(flying)] = False
        indices = np.flatnonzero(free)
        if not len(indices):
            return None
        order = indices[np.argsort(self.least[indices], kind="stable")]
        if whole_front:
            return int(order[0])
        if_enough = len(order) - np.searchsorted(self.least[order], self.least[order], side="left")
        # All of the cheapest few hundred are weighed; among more, an even choice of them.
        tried = range(len(order)) if len(order) <= 400 else np.linspace(0, len(order) - 1, 400).astype(int)
        best, most = 0, -1.0
        for k in tried:
            if_weak = int((self.weaker(int(order[k])) & free).sum())
            worth = min(if_weak, float(if_enough[k])) + 1e-3 * max(if_weak, float(if_enough[k])) / len(order)
            if worth > most + 1e-12:
                best, most = k, worth
        return int(order[best])


class _Cache:
    """Finished answers, a JSON line each, on the disk before the search goes on; a torn last line is dropped."""

    def __init__(self, path: str | Path | None, fingerprint: str):
        self.fingerprint = fingerprint
        self.known: dict[Candidate, Answer] = {}
        self.stream: Any = None
        if path is None:
            return
        file = Path(path)
        torn = False
        if file.exists():
            text = file.read_text(encoding="utf-8", errors="replace")
            torn = bool(text) and not text.endswith("\n")
            for candidate, answer in _lines(text, fingerprint):
                self.known[candidate] = answer
        self.stream = file.open("a", encoding="utf-8")
        if torn:
            self.stream.write("\n")

    def write(self, candidate: Candidate, answer: Answer) -> None:
        """Append one answer and see it onto the disk."""
        if self.stream is None:
            return
        row = {
            "steadfold_size": FORMAT, "of": self.fingerprint, "candidate": list(candidate), "outcome": answer.outcome,
            "cost": answer.cost, "rating": answer.rating, "why": answer.why,
        }  # fmt: skip
        self.stream.write(json.dumps(row, ensure_ascii=False) + "\n")
        self.stream.flush()
        os.fsync(self.stream.fileno())

    def close(self) -> None:
        """Let go of the file."""
        if self.stream is not None:
            self.stream.close()


def _lines(text: str, fingerprint: str) -> Iterator[tuple[Candidate, Answer]]:
    for line in text.splitlines():
        try:
            row = json.loads(line)
            if row["steadfold_size"] == FORMAT and row["of"] == fingerprint:
                answer = Answer(row["outcome"], float(row["cost"]), float(row["rating"]), str(row["why"]))
                yield tuple(row["candidate"]), answer
        except (ValueError, KeyError, TypeError):
            continue
