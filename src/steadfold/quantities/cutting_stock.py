"""Long pieces cut from stock lengths with the least waste, and a bound that no plan can beat.

One dimension: strut, rail, bar, timber. Patterns come from column generation (Gilmore & Gomory, Operations
Research 9 (1961) 849, recalled): a linear programme over patterns prices the pieces, a knapsack finds the pattern
worth most at those prices, until none is worth its stock. Whole bars are then chosen among the patterns found. A
cut takes the saw's kerf, so every piece and every stock length counts one kerf longer.
"""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

CLOSE = 1e-7
MOST_ROUNDS = 2000
MOST_TRIED = 20_000
"""Branches of one search for a pattern after which lengths on a grid are counted through instead."""
MOST_CELLS = 1_000_000


class CuttingStockError(ValueError):
    """Pieces that cannot be cut from this stock; `str()` is one sentence."""


@dataclass(frozen=True)
class Pattern:
    """How one bar is cut: its stock length, the pieces in order (longest first), and how many bars so."""

    stock: float
    pieces: tuple[float, ...]
    bars: int


@dataclass(frozen=True)
class CuttingPlan:
    """All bars of a cut list.

    `cost` is what they cost (their number when every bar costs 1, else the sum of `cost` of each stock length);
    `bound` is a cost that no plan can go below, so `cost - bound` is the most that a better plan could save.
    """

    patterns: tuple[Pattern, ...]
    cost: float
    bound: float
    kerf: float

    @property
    def bars(self) -> int:
        """Number of bars."""
        return sum(pattern.bars for pattern in self.patterns)

    @property
    def optimal(self) -> bool:
        """True when the bound proves that no plan costs less."""
        return self.cost <= self.bound + 1e-6

    @property
    def length(self) -> float:
        """Length of stock used."""
        return sum(pattern.stock * pattern.bars for pattern in self.patterns)

    @property
    def offcut(self) -> float:
        """Length of stock that is in no piece: ends and kerfs."""
        return self.length - sum(sum(pattern.pieces) * pattern.bars for pattern in self.patterns)


def cut_lengths(
    pieces: Mapping[float, int],
    stock: Mapping[float, float] | Sequence[float],
    kerf: float = 0.0,
    seconds: float = 10.0,
    tell: Callable[[float, str], None] | None = None,
) -> CuttingPlan:
    """The cheapest plan found for `pieces` (length → how many) from stock lengths, as many of each as needed.

    `stock` maps a length to what a bar costs; a plain list of lengths costs its length each, so that the least
    metal is bought; a single length costs 1, so that cost counts bars. `seconds` bounds the search for whole
    bars. Raises `CuttingStockError` for a piece longer than every stock length or numbers that cannot be.

    >>> plan = cut_lengths({1200.0: 4, 700.0: 2}, [3000.0], kerf=3.0)
    >>> plan.bars, plan.optimal
    (3, True)
    """
    costs = _stock_costs(stock)
    _check(pieces, costs, kerf)
    wanted = {length: count for length, count in sorted(pieces.items(), reverse=True) if count}
    if not wanted:
        return CuttingPlan((), 0.0, 0.0, kerf)
    lengths = [length + kerf for length in wanted]
    counts = list(wanted.values())
    # A last piece that ends flush with the stock needs no cut after it; the kerf added to the stock allows for that.
    bars = [(length + kerf, cost, length) for length, cost in costs.items()]
    columns = _first_columns(lengths, counts, bars)
    relaxed, _ = _generated(lengths, counts, bars, columns, tell)
    bound = _bound(relaxed, list(costs.values()))
    until = time.monotonic() + seconds
    chosen, cost = _dived(lengths, counts, bars, columns, until)
    if cost > bound + 1e-6 and time.monotonic() < until:
        chosen, cost = _whole_bars(counts, columns, bars, chosen, cost, bound, until - time.monotonic())
    plan = _patterns(list(wanted), counts, chosen, columns, bars)
    return CuttingPlan(plan, sum(costs[p.stock] * p.bars for p in plan), bound, kerf)


def first_fit(pieces: Mapping[float, int], stock: float, kerf: float = 0.0) -> int:
    """Bars that the longest-first habit of the bench uses: each piece off the first bar that still has room."""
    room: list[float] = []
    for length in sorted((length for length, count in pieces.items() for _ in range(count)), reverse=True):
        for index, left in enumerate(room):
            if length + kerf <= left + CLOSE:
                room[index] -= length + kerf
                break
        else:
            room.append(stock - length)
    return len(room)


def _stock_costs(stock: Mapping[float, float] | Sequence[float]) -> dict[float, float]:
    if isinstance(stock, Mapping):
        return {float(length): float(cost) for length, cost in stock.items()}
    lengths = sorted({float(length) for length in stock})
    return dict.fromkeys(lengths, 1.0) if len(lengths) == 1 else {length: length for length in lengths}


def _check(pieces: Mapping[float, int], costs: Mapping[float, float], kerf: float) -> None:
    if not costs or any(not (0 < length < math.inf and 0 < cost < math.inf) for length, cost in costs.items()):
        raise CuttingStockError("stock lengths and what they cost must be above 0, and there must be one")
    if not 0 <= kerf < math.inf:
        raise CuttingStockError("a kerf is not below 0")
    for length, count in pieces.items():
        if not 0 < length < math.inf or count < 0 or count != int(count):
            raise CuttingStockError(f"{count} pieces of {length:g} cannot be cut")
        if count and length > max(costs) + CLOSE:
            raise CuttingStockError(f"a piece of {length:g} is longer than the longest stock, {max(costs):g}")


_Column = tuple[int, tuple[int, ...]]
"""Index of the stock length, and how many of each piece."""
_Bar = tuple[float, float, float]
"""Length with kerf, cost, length."""


def _first_columns(lengths: list[float], counts: list[int], bars: list[_Bar]) -> list[_Column]:
    """One column a piece, of the stock that gives it cheapest, and the first-fit patterns: a start and a safety net."""
    columns: dict[_Column, None] = {}
    for index, length in enumerate(lengths):
        fitting = [s for s, bar in enumerate(bars) if length <= bar[0] + CLOSE]
        best = min(fitting, key=lambda s: bars[s][1] / min(int((bars[s][0] + CLOSE) // length), counts[index]))
        most = min(int((bars[best][0] + CLOSE) // length), counts[index])
        columns[best, tuple(most if i == index else 0 for i in range(len(lengths)))] = None
    for s in range(len(bars)):
        left = list(counts)
        while any(count and length <= bars[s][0] + CLOSE for count, length in zip(left, lengths, strict=True)):
            room, taken = bars[s][0], [0] * len(lengths)
            for i, length in enumerate(lengths):
                taken[i] = min(left[i], int((room + CLOSE) // length))
                room -= taken[i] * length
                left[i] -= taken[i]
            columns[s, tuple(taken)] = None
    return list(columns)


def _generated(
    lengths: list[float],
    counts: list[int],
    bars: list[_Bar],
    columns: list[_Column],
    tell: Callable[[float, str], None] | None = None,
) -> tuple[float, list[float]]:
    """The optimum of the linear programme over all patterns and how many bars of each; new patterns are added."""
    solver = _programme(counts, columns, bars)
    known = set(columns)
    for turn in range(MOST_ROUNDS):
        solver.run()
        duals = solver.getSolution().row_dual
        prices = [max(price, 0.0) for price in duals]
        added, reach = False, 1.0
        for s, (room, cost, _) in enumerate(bars):
            worth, taken = _knapsack(lengths, counts, prices, room)
            reach = min(reach, cost / worth if worth > cost else 1.0)
            column = (s, taken)
            if worth > cost * (1 + CLOSE) and column not in known:
                known.add(column)
                columns.append(column)
                _add(solver, column, bars)
                added = True
        if tell is not None:
            tell(1 - 1 / (turn + 2), f"{len(columns)} patterns")
        if not added:
            break
    # Prices scaled down until no pattern is worth more than its stock prove a bound, wherever the rounds ended.
    bound = reach * sum(price * count for price, count in zip(prices, counts, strict=True))
    return bound, list(solver.getSolution().col_value)


@cache
def _quiet_start() -> None:
    """Make the library's first solver with standard output closed: it greets there, once a process, whatever it is
    told, and a command that prints JSON has nothing else to say there."""
    import highspy

    sys.stdout.flush()
    try:
        kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    except OSError:
        highspy.Highs()
        return
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _programme(counts: list[int], columns: list[_Column], bars: list[_Bar]) -> Any:
    """A solver that holds the programme: cover every count, at the cost of the bars."""
    import highspy
    import numpy as np

    _quiet_start()
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    nothing = np.array([], dtype=np.int32), np.array([], dtype=float)
    for count in counts:
        solver.addRow(float(count), math.inf, 0, *nothing)
    for column in columns:
        _add(solver, column, bars)
    return solver


def _add(solver: Any, column: _Column, bars: list[_Bar]) -> None:
    import numpy as np

    s, taken = column
    rows = np.array([i for i, count in enumerate(taken) if count], dtype=np.int32)
    solver.addCol(bars[s][1], 0.0, math.inf, len(rows), rows, np.array([float(taken[i]) for i in rows]))


def _bound(relaxed: float, costs: list[float]) -> float:
    """The relaxed optimum, up to the next sum that whole bars can cost at all."""
    scaled = [round(cost * 1000) for cost in costs]
    if any(abs(cost * 1000 - whole) > 1e-6 or not whole for cost, whole in zip(costs, scaled, strict=True)):
        return relaxed
    step = math.gcd(*scaled) / 1000
    return math.ceil(relaxed / step - 1e-6) * step


def _dived(
    lengths: list[float], counts: list[int], bars: list[_Bar], columns: list[_Column], until: float
) -> tuple[list[int], float]:
    """A plan by taking whole bars of the relaxed optimum, then solving for what is left, until all is cut.

    The patterns met on the way join `columns`."""
    left = list(counts)
    taken_of: dict[_Column, int] = {}
    while any(left):
        own = list({(s, tuple(map(min, taken, left))): None for s, taken in columns})
        own = [column for column in own if any(column[1])]
        if time.monotonic() < until:
            _, values = _generated(lengths, left, bars, own)
            whole = {column: math.floor(v + 1e-6) for column, v in zip(own, values, strict=True) if v >= 1 - 1e-6}
            if not whole:
                # The pattern nearest to a whole bar; among such the fullest.
                index = max(range(len(own)), key=lambda i: (round(values[i], 3), _filled(own[i], lengths, bars)))
                whole = {own[index]: 1}
        else:
            whole = {max(own, key=lambda column: _filled(column, lengths, bars) / bars[column[0]][1]): 1}
        for column, times in whole.items():
            taken_of[column] = taken_of.get(column, 0) + times
            left = [max(0, r - times * t) for r, t in zip(left, column[1], strict=True)]
    known = dict.fromkeys(columns)
    columns.extend(column for column in taken_of if column not in known)
    chosen = [taken_of.get(column, 0) for column in columns]
    return chosen, _cost(chosen, columns, bars)


def _filled(column: _Column, lengths: list[float], bars: list[_Bar]) -> float:
    s, taken = column
    return sum(t * length for t, length in zip(taken, lengths, strict=True)) / bars[s][0]


def _cost(chosen: list[int], columns: list[_Column], bars: list[_Bar]) -> float:
    return sum(bars[s][1] * times for (s, _), times in zip(columns, chosen, strict=True))


def _knapsack(
    lengths: list[float], counts: list[int], prices: list[float], room: float
) -> tuple[float, tuple[int, ...]]:
    """The pattern worth most at these prices, no more of a piece than is wanted.

    Branch and bound, depth first; where many pieces are worth alike by length that finds no end, and lengths that lie on a
    grid are counted through it.
    """
    tried = 0
    order = sorted((i for i in range(len(lengths)) if prices[i] > 1e-12), key=lambda i: -prices[i] / lengths[i])
    best_worth, best = 0.0, [0] * len(lengths)
    taken = [0] * len(lengths)

    def deeper(position: int, left: float, worth: float) -> None:
        nonlocal best_worth, best, tried
        tried += 1
        if tried > MOST_TRIED and grid:
            raise _TooMany
        if worth > best_worth + 1e-12:
            best_worth, best = worth, taken.copy()
        if position == len(order):
            return
        i = order[position]
        if worth + _most(position, left) <= best_worth + 1e-12:
            return
        for count in range(min(counts[i], int((left + CLOSE) // lengths[i])), -1, -1):
            taken[i] = count
            deeper(position + 1, left - count * lengths[i], worth + count * prices[i])
            if worth + count * prices[i] + _most(position + 1, left - count * lengths[i]) <= best_worth + 1e-12:
                # Fewer of this piece leave more room for pieces worth less a length.
                break
        taken[i] = 0

    def _most(position: int, left: float) -> float:
        """Worth of the rest if pieces could be cut into any share."""
        worth = 0.0
        for i in order[position:]:
            share = min(counts[i] * lengths[i], left)
            worth += share * prices[i] / lengths[i]
            left -= share
            if left <= 0:
                break
        return worth

    grid = _grid([*lengths, room])
    try:
        deeper(0, room, 0.0)
    except _TooMany:
        return _counted(lengths, counts, prices, room, grid)
    return best_worth, tuple(best)


class _TooMany(Exception):
    """More branches than are worth trying."""


def _grid(lengths: list[float]) -> int:
    """How many steps of a grid go into a length of 1, so that all lengths are whole numbers of steps; 0 where none does."""
    for steps in (1, 10, 100, 1000):
        if all(abs(length * steps - round(length * steps)) < 1e-6 for length in lengths):
            return steps if lengths[-1] * steps <= MOST_CELLS else 0
    return 0


def _counted(
    lengths: list[float], counts: list[int], prices: list[float], room: float, grid: int
) -> tuple[float, tuple[int, ...]]:
    """The same pattern by dynamic programming over the whole lengths of a grid, each count split into powers of two."""
    import numpy as np

    cells = round(room * grid) + 1
    best = np.zeros(cells)
    taken: list[tuple[int, int, Any]] = []
    for i, length in enumerate(lengths):
        left, several = min(counts[i], int((room + CLOSE) // length)) if prices[i] > 1e-12 else 0, 1
        while left:
            times = min(several, left)
            shift = times * round(length * grid)
            better = np.zeros(cells, dtype=bool)
            if shift < cells:
                offer = best[: cells - shift] + times * prices[i]
                better[shift:] = offer > best[shift:] + 1e-12
                best[shift:] = np.where(better[shift:], offer, best[shift:])
            taken.append((i, times, better))
            left, several = left - times, several * 2
    pattern, at = [0] * len(lengths), int(np.argmax(best))
    worth = float(best[at])
    for i, times, better in reversed(taken):
        if better[at]:
            pattern[i] += times
            at -= times * round(lengths[i] * grid)
    return worth, tuple(pattern)


def _whole_bars(
    counts: list[int],
    columns: list[_Column],
    bars: list[_Bar],
    chosen: list[int],
    cost: float,
    bound: float,
    seconds: float,
) -> tuple[list[int], float]:
    """Whole numbers of bars of the patterns found that cover the demand for less than `chosen`, or `chosen`."""
    import highspy

    solver = _programme(counts, columns, bars)
    solver.setOptionValue("time_limit", float(seconds))
    solver.setOptionValue("mip_rel_gap", 0.0)
    # Nothing below the bound exists: the search may stop when it gets there.
    solver.setOptionValue("objective_target", float(bound) + 1e-6)
    for index in range(len(columns)):
        solver.changeColIntegrality(index, highspy.HighsVarType.kInteger)
    solver.run()
    if solver.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return chosen, cost
    found = [round(value) for value in solver.getSolution().col_value]
    covers = all(
        sum(n * taken[i] for n, (_, taken) in zip(found, columns, strict=True)) >= count
        for i, count in enumerate(counts)
    )
    price = _cost(found, columns, bars)
    return (found, price) if covers and price < cost - 1e-9 else (chosen, cost)


def _patterns(
    lengths: list[float], counts: list[int], chosen: list[int], columns: list[_Column], bars: list[_Bar]
) -> tuple[Pattern, ...]:
    """Patterns with nothing cut beyond the demand, each on the shortest stock that costs no more."""
    left = list(counts)
    made: dict[tuple[float, tuple[float, ...]], int] = {}
    for (s, taken), times in sorted(zip(columns, chosen, strict=True), reverse=True):
        for _ in range(times):
            kept = [min(t, r) for t, r in zip(taken, left, strict=True)]
            if not any(kept):
                continue
            left = [r - k for r, k in zip(left, kept, strict=True)]
            pieces = tuple(length for length, k in zip(lengths, kept, strict=True) for _ in range(k))
            made[bars[s][2], pieces] = made.get((bars[s][2], pieces), 0) + 1
    return tuple(Pattern(stock, pieces, times) for (stock, pieces), times in sorted(made.items(), reverse=True))
