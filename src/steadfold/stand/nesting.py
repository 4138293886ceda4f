"""Pieces out of stock lengths with the least stock: column generation, then whole numbers, with a bound beside.

Gilmore & Gomory, 'A linear programming approach to the cutting stock problem', Operations Research 9 (1961); each
piece costs its length and a kerf, and each stock length gives its length and one kerf (the last cut may fall away).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.stand.records import StandError

MOST_PATTERNS = 4000
"""Up to here all ways to fill a stock length are listed, and the answer is the best there is."""

TENTH = 10.0
"""Lengths are counted in tenths of a millimetre, rounded up."""


@dataclass(frozen=True)
class Piece:
    """One piece to cut: its name and its length, long point to long point, mm."""

    name: str
    length_mm: float


@dataclass(frozen=True)
class StockCut:
    """One stock length and the pieces that come out of it; `rest_mm` is what is left."""

    stock_mm: float
    pieces: tuple[Piece, ...]
    rest_mm: float


@dataclass(frozen=True)
class Nested:
    """How pieces come out of stock lengths.

    `bought_mm` in all; `bound_mm` is the least any plan could buy by the linear bound; `optimal` is True where nothing
    shorter can exist. `used_share` is the share of what is bought that becomes pieces.
    """

    cuts: tuple[StockCut, ...]
    bought_mm: float
    bound_mm: float
    optimal: bool

    @property
    def used_share(self) -> float:
        """Length of the pieces over length bought."""
        return sum(piece.length_mm for cut in self.cuts for piece in cut.pieces) / self.bought_mm


def nested(pieces: Sequence[Piece], stock_mm: Sequence[float], kerf_mm: float) -> Nested:
    """The plan that buys the least stock. Raises StandError for a piece longer than any stock length."""
    if not pieces:
        return Nested((), 0.0, 0.0, True)
    longest = max(stock_mm, default=0.0)
    for piece in pieces:
        if piece.length_mm > longest + 1e-6:
            raise StandError(
                ("workshop", "stock"),
                f"{piece.name!r} is {piece.length_mm:.0f} mm long and the longest stock is {longest:.0f} mm",
            )
    sizes = sorted({_whole(each.length_mm) for each in pieces}, reverse=True)
    wanted = np.array([sum(1 for each in pieces if _whole(each.length_mm) == size) for size in sizes])
    cost_of = [size + _whole(kerf_mm) for size in sizes]
    room = [(float(stock), int(stock * TENTH + 1e-6) + _whole(kerf_mm)) for stock in sorted(set(stock_mm))]
    patterns, complete = _all_patterns(cost_of, wanted, room)
    if not complete:
        patterns = _generated(cost_of, wanted, room)
    costs = np.array([stock for stock, _ in patterns])
    matrix = np.array([pattern for _, pattern in patterns]).T
    bound = _linear(matrix, costs, wanted)[0]
    chosen = _whole_numbers(matrix, costs, wanted)
    cuts = _cuts(pieces, sizes, patterns, chosen)
    bought = sum(cut.stock_mm for cut in cuts)
    least = _rounded_up(bound, [stock for stock, _ in room])
    return Nested(cuts, bought, bound, complete or bought <= least + 1e-6)


def _whole(length_mm: float) -> int:
    return int(np.ceil(length_mm * TENTH - 1e-6))


def _all_patterns(
    cost_of: Sequence[int], wanted: np.ndarray, room: Sequence[tuple[float, int]]
) -> tuple[list[tuple[float, tuple[int, ...]]], bool]:
    """Every filled-up pattern of every stock length, or the first ones and False where there are too many."""
    found: list[tuple[float, tuple[int, ...]]] = []
    for stock, space in room:
        stack: list[tuple[tuple[int, ...], int]] = [((), space)]
        while stack:
            taken, left = stack.pop()
            if len(taken) == len(cost_of):
                if any(taken) and not any(cost <= left and taken[k] < wanted[k] for k, cost in enumerate(cost_of)):
                    found.append((stock, taken))
                    if len(found) > MOST_PATTERNS:
                        return found, False
                continue
            k = len(taken)
            for count in range(min(int(wanted[k]), left // cost_of[k]) + 1):
                stack.append(((*taken, count), left - count * cost_of[k]))
    return found, True


def _linear(matrix: np.ndarray, costs: np.ndarray, wanted: np.ndarray) -> tuple[float, np.ndarray]:
    """Least cost with parts of patterns allowed, and what one more piece of each size would cost."""
    from scipy.optimize import linprog

    found = linprog(costs, A_ub=-matrix, b_ub=-wanted, method="highs")
    return float(found.fun), -np.asarray(found.ineqlin.marginals)


def _generated(
    cost_of: Sequence[int], wanted: np.ndarray, room: Sequence[tuple[float, int]]
) -> list[tuple[float, tuple[int, ...]]]:
    """Patterns worth having, one after the other: each fills a stock length with what is dearest now (a knapsack)."""
    patterns: list[tuple[float, tuple[int, ...]]] = []
    for k, cost in enumerate(cost_of):
        for stock, space in room:
            if cost <= space:
                single = [0] * len(cost_of)
                single[k] = min(int(wanted[k]), space // cost)
                patterns.append((stock, tuple(single)))
    for _ in range(200):
        matrix = np.array([pattern for _, pattern in patterns]).T
        _, worth = _linear(matrix, np.array([stock for stock, _ in patterns]), wanted)
        gained = False
        for stock, space in room:
            value, pattern = _knapsack(cost_of, worth, wanted, space)
            if value > stock + 1e-6:
                patterns.append((stock, pattern))
                gained = True
        if not gained:
            break
    return patterns


def _knapsack(
    cost_of: Sequence[int], worth: np.ndarray, wanted: np.ndarray, space: int
) -> tuple[float, tuple[int, ...]]:
    """The most valuable filling of a stock length, each size no more often than wanted (dynamic programming)."""
    cells = space + 1
    best = np.zeros(cells)
    choice = np.zeros((len(cost_of), cells), dtype=int)
    for k, cost in enumerate(cost_of):
        table = best.copy()
        for count in range(1, min(int(wanted[k]), space // cost) + 1):
            shift = count * cost
            if shift >= cells:
                break
            candidate = np.full(cells, -np.inf)
            candidate[shift:] = best[: cells - shift] + count * worth[k]
            better = candidate > table + 1e-12
            table = np.where(better, candidate, table)
            choice[k] = np.where(better, count, choice[k])
        best = table
    left = int(np.argmax(best))
    pattern = [0] * len(cost_of)
    for k in range(len(cost_of) - 1, -1, -1):
        pattern[k] = int(choice[k][left])
        left -= pattern[k] * cost_of[k]
    return float(best.max()), tuple(pattern)


def _whole_numbers(matrix: np.ndarray, costs: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    from scipy.optimize import Bounds, LinearConstraint, milp

    found = milp(
        costs, constraints=LinearConstraint(matrix, lb=wanted), integrality=np.ones(len(costs)),
        bounds=Bounds(0, int(wanted.sum())), options={"mip_rel_gap": 0.0, "time_limit": 20.0},
    )  # fmt: skip
    if found.x is None:
        raise StandError(("workshop", "stock"), "the pieces do not come out of these stock lengths")
    return np.asarray(np.round(found.x), dtype=int)


def _rounded_up(bound: float, stock: Sequence[float]) -> float:
    """The least sum of whole stock lengths that is no less than the bound."""
    units = [round(length * TENTH) for length in stock]
    step = int(np.gcd.reduce(units))
    least = -(-round(bound * TENTH - 1e-3) // step) * step
    top = least + max(units)
    reached = np.zeros(top + 1, dtype=bool)
    reached[0] = True
    for unit in units:
        for total in range(unit, top + 1, step):
            if reached[total - unit]:
                reached[total] = True
    return float(np.flatnonzero(reached[least:])[0] + least) / TENTH


def _cuts(
    pieces: Sequence[Piece], sizes: Sequence[int], patterns: Sequence[tuple[float, tuple[int, ...]]], chosen: np.ndarray
) -> tuple[StockCut, ...]:
    """Name the pieces of every stock length used; a pattern may offer more than is still wanted."""
    waiting = {size: [each for each in pieces if _whole(each.length_mm) == size] for size in sizes}
    cuts = []
    for (stock, pattern), times in zip(patterns, chosen, strict=True):
        for _ in range(int(times)):
            taken: list[Piece] = []
            for size, count in zip(sizes, pattern, strict=True):
                for _ in range(count):
                    if waiting[size]:
                        taken.append(waiting[size].pop(0))
            if taken:
                cuts.append(StockCut(stock, tuple(taken), stock - sum(each.length_mm for each in taken)))
    return tuple(sorted(cuts, key=lambda cut: (-cut.stock_mm, cut.rest_mm)))
