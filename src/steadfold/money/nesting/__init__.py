"""Parts of one sheet laid out for the laser: true shapes, parts in openings of parts, several sheets.

The layout is kept as data and never solved again to be drawn: the search gives another one each time.
"""

from steadfold.money.nesting.nest import nest
from steadfold.money.nesting.records import (
    Nest,
    NestedSheet,
    NestError,
    Piece,
    Placement,
    Spacing,
    StockSheet,
    nest_from_plain,
    plain_nest,
)

__all__ = [
    "Nest",
    "NestError",
    "NestedSheet",
    "Piece",
    "Placement",
    "Spacing",
    "StockSheet",
    "nest",
    "nest_from_plain",
    "plain_nest",
]
