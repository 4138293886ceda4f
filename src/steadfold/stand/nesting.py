"""Pieces of a cut list, by name, out of stock lengths with the least stock bought."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from steadfold.quantities.cutting_stock import CuttingStockError, cut_lengths
from steadfold.stand.records import StandError

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
    waiting: dict[float, list[Piece]] = {}
    for piece in pieces:
        waiting.setdefault(math.ceil(piece.length_mm * TENTH - 1e-6) / TENTH, []).append(piece)
    longest, stock = max(pieces, key=lambda each: each.length_mm), max(stock_mm, default=0.0)
    if longest.length_mm > stock + 1e-6:
        raise StandError(
            ("workshop", "stock"),
            f"{longest.name!r} is {longest.length_mm:.0f} mm long and the longest stock is {stock:.0f} mm",
        )
    try:
        plan = cut_lengths({length: len(same) for length, same in waiting.items()}, {s: s for s in stock_mm}, kerf_mm)
    except CuttingStockError as error:
        raise StandError(("workshop", "stock"), str(error)) from None
    cuts = []
    for pattern in plan.patterns:
        for _ in range(pattern.bars):
            taken = tuple(waiting[length].pop(0) for length in pattern.pieces)
            cuts.append(StockCut(pattern.stock, taken, pattern.stock - sum(each.length_mm for each in taken)))
    ordered = tuple(sorted(cuts, key=lambda cut: (-cut.stock_mm, cut.rest_mm)))
    return Nested(ordered, plan.length, plan.bound, plan.optimal)
