"""Cutting plans on generated cut lists: nothing overfull, nothing missing, and the bound never above the truth.

Generator: Gau & Wäscher, European Journal of Operational Research 84 (1995) 572 (recalled): stock length L, m
lengths spread evenly between v1 L and v2 L, demands that share an average of d a length out at random.
"""

from __future__ import annotations

import random
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfold.quantities.cutting_stock import CuttingPlan, CuttingStockError, cut_lengths, first_fit


def cut_list(seed: int, m: int, v1: float, v2: float, mean: int, stock: int = 10_000) -> dict[float, int]:
    """A cut list of Gau and Wäscher's generator."""
    chance = random.Random(seed)
    lengths = sorted({round(stock * chance.uniform(v1, v2)) for _ in range(m)}, reverse=True)
    shares = [chance.random() for _ in lengths]
    counts = [max(1, int(share / sum(shares) * m * mean)) for share in shares]
    return {float(length): count for length, count in zip(lengths, counts, strict=True)}


def holds(plan: CuttingPlan, pieces: dict[float, int], kerf: float) -> None:
    """Every piece as often as asked; every bar with a kerf between pieces and after the last, if there is room."""
    cut: dict[float, int] = {}
    for pattern in plan.patterns:
        assert sum(pattern.pieces) + kerf * (len(pattern.pieces) - 1) <= pattern.stock + 1e-6
        for piece in pattern.pieces:
            cut[piece] = cut.get(piece, 0) + pattern.bars
    assert cut == {length: count for length, count in pieces.items() if count}


CLASSES = [(10, 0.01, 0.25), (10, 0.01, 0.75), (10, 0.25, 0.5), (20, 0.01, 0.5), (20, 0.25, 0.75), (30, 0.01, 0.75)]


@pytest.mark.parametrize(("m", "v1", "v2"), CLASSES)
def test_generated_cut_lists_take_at_most_one_bar_above_the_bound(m: int, v1: float, v2: float) -> None:
    for seed in range(4):
        pieces = cut_list(seed, m, v1, v2, 10)
        plan = cut_lengths(pieces, [10_000.0], seconds=20.0)
        holds(plan, pieces, 0.0)
        assert plan.bound <= plan.bars <= plan.bound + 1
        assert plan.bars <= first_fit(pieces, 10_000.0)
        # The bound cannot be less than the metal itself.
        assert plan.bound * 10_000.0 >= sum(length * count for length, count in pieces.items()) - 1e-6


def fewest_bars(pieces: tuple[int, ...], stock: int, kerf: int) -> int:
    """The least number of bars by trying every way: sizes and kerf in whole millimetres."""

    @cache
    def least(left: tuple[int, ...], room: int) -> int:
        if not left:
            return 0
        best = 1 + least_from(left, stock + kerf)
        return min(best, least_from(left, room)) if room < stock + kerf else best

    @cache
    def least_from(left: tuple[int, ...], room: int) -> int:
        if not left:
            return 0
        options = [10**6]
        for i in sorted({left.index(piece) for piece in left if piece + kerf <= room}):
            rest = (*left[:i], *left[i + 1 :])
            options.append(least(rest, room - left[i] - kerf))
        return min(options)

    return least(tuple(sorted(pieces)), stock + kerf)


@given(st.lists(st.integers(20, 100), min_size=1, max_size=7), st.integers(0, 5))
def test_small_cut_lists_are_cut_as_well_as_trying_every_way(pieces: list[int], kerf: int) -> None:
    counts = {float(p): pieces.count(p) for p in pieces}
    plan = cut_lengths(counts, [100.0], kerf=float(kerf))
    holds(plan, counts, kerf)
    truth = fewest_bars(tuple(pieces), 100, kerf)
    assert plan.bound <= truth + 1e-9
    assert plan.bars == truth


@given(
    st.dictionaries(st.integers(1, 58).map(lambda n: n * 100.0), st.integers(0, 9), min_size=1, max_size=6),
    st.sampled_from([0.0, 2.5, 4.0]),
)
def test_two_stock_lengths_never_cost_more_metal_than_one(pieces: dict[float, int], kerf: float) -> None:
    both = cut_lengths(pieces, [3000.0, 6000.0], kerf=kerf)
    holds(both, pieces, kerf)
    long_only = cut_lengths(pieces, {6000.0: 6000.0}, kerf=kerf)
    assert both.length <= long_only.length + 1e-6
    assert both.bound <= both.cost + 1e-6


def test_a_piece_as_long_as_the_stock_needs_no_cut() -> None:
    assert cut_lengths({3000.0: 2}, [3000.0], kerf=3.0).bars == 2


def test_a_piece_longer_than_all_stock_is_refused_by_its_length() -> None:
    with pytest.raises(CuttingStockError, match=r"6001 is longer than the longest stock, 6000"):
        cut_lengths({6001.0: 1}, [3000.0, 6000.0])


def test_nothing_wanted_needs_no_bar() -> None:
    plan = cut_lengths({1000.0: 0}, [3000.0])
    assert plan.bars == 0 and plan.optimal
