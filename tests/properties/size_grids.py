"""Whether a grid of answers keeps the order that the search leans on."""

from __future__ import annotations

from itertools import permutations

from steadfold.money.search import Candidate, Found


def broken_orders(every: Found) -> tuple[int, list[tuple[Candidate, Candidate]]]:
    """How many pairs there are of which one is at least as much in every rising axis and alike in the others, and those
    of them where the one that is more is too weak while the one that is less is enough."""
    rising = [axis.stronger for axis in every.axes]
    place = [{value: k for k, value in enumerate(axis.values)} for axis in every.axes]
    known = {c: a for c, a in every.answers.items() if a.outcome != "cannot be made"}
    pairs, broken = 0, []
    for less, more in permutations(known, 2):
        steps = [at[b] - at[a] for at, a, b in zip(place, less, more, strict=True)]
        if all(step >= 0 if up else step == 0 for step, up in zip(steps, rising, strict=True)):
            pairs += 1
            if known[less].outcome == "enough" and known[more].outcome == "too weak":
                broken.append((less, more))
    return pairs, broken
