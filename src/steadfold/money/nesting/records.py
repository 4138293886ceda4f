"""What is laid out, on what, and how it lies."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.outline import Face, Isometry, Outline

Grain = Literal["along", "across", "any"]
"""Rolling direction of the sheet seen from the part's own frame: along its x axis, across it, or no matter."""

TURNS: dict[Grain, tuple[int, ...]] = {"along": (0, 180), "across": (90, 270), "any": (0, 90, 180, 270)}
"""How a part may be turned on a sheet whose grain runs along its length. Never over: its bends would be mirrored."""

FORMAT = 1


class NestError(ValueError):
    """Parts that cannot be laid out; `str()` is one sentence."""


@dataclass(frozen=True)
class Piece:
    """A part to be cut `count` times: outer contour and openings in its own frame."""

    name: str
    face: Face
    count: int
    grain: Grain = "any"

    @property
    def area_mm2(self) -> float:
        """Metal of one."""
        return self.face.area_mm2


@dataclass(frozen=True)
class StockSheet:
    """A size of sheet; the grain runs along its length. `count` of them are there, None for as many as needed."""

    length_mm: float
    width_mm: float
    count: int | None = None

    @property
    def area_mm2(self) -> float:
        """Area of the whole sheet."""
        return self.length_mm * self.width_mm


@dataclass(frozen=True)
class Spacing:
    """Room for the cut: its width, the metal left between the cuts of neighbours and along the sheet's edge."""

    kerf_mm: float = 0.2
    web_mm: float = 4.0
    edge_mm: float = 10.0

    @property
    def gap_mm(self) -> float:
        """From one part to the next: two kerfs and the web."""
        return self.web_mm + 2 * self.kerf_mm

    @property
    def margin_mm(self) -> float:
        """From a part to the edge of the sheet."""
        return self.edge_mm + self.kerf_mm


@dataclass(frozen=True)
class Placement:
    """One copy of a piece on a sheet: turned about its frame's origin (degrees, a quarter turn each), then shifted.

    x runs along the sheet's length, y across, from its lower left corner. `inside` is the index, on the same sheet,
    of the placement in whose opening it lies; None when it lies beside the others.
    """

    piece: int
    turned_deg: int
    shift_mm: tuple[float, float]
    inside: int | None = None

    @property
    def place(self) -> Isometry:
        """The map from the piece's frame to the sheet's."""
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[self.turned_deg // 90 % 4]
        return Isometry(self.shift_mm, (c, s), (-s, c))


@dataclass(frozen=True)
class NestedSheet:
    """One sheet with what lies on it."""

    stock: StockSheet
    placements: tuple[Placement, ...]


@dataclass(frozen=True)
class Nest:
    """A whole layout.

    `complete` is false when it was stopped or ran out of time before the search had settled: it is then the best
    so far, valid all the same. `left_out` are pieces (by index, once a copy) that the sheets had no room for.
    `notes` are sentences about how it came about.
    """

    pieces: tuple[Piece, ...]
    spacing: Spacing
    sheets: tuple[NestedSheet, ...]
    left_out: tuple[int, ...]
    complete: bool
    notes: tuple[str, ...] = ()

    @property
    def parts_area_mm2(self) -> float:
        """Metal of all parts that lie on a sheet."""
        return sum(self.pieces[p.piece].area_mm2 for sheet in self.sheets for p in sheet.placements)

    def face(self, placement: Placement) -> Face:
        """The placed piece in the sheet's frame, arcs as arcs."""
        return self.pieces[placement.piece].face.moved(placement.place)

    def used_length_mm(self, number: int) -> float:
        """How far along a sheet its parts reach, margin included: what is beyond is a remnant that can be kept."""
        sheet = self.sheets[number]
        reach = max((self.face(p).outer.bounds[2] for p in sheet.placements), default=0.0)
        return min(sheet.stock.length_mm, reach + self.spacing.margin_mm)

    @property
    def used_area_mm2(self) -> float:
        """Sheet that is used up when the remnant of each sheet, over its whole width, goes back to the rack."""
        return sum(self.used_length_mm(i) * sheet.stock.width_mm for i, sheet in enumerate(self.sheets))

    @property
    def density(self) -> float:
        """Metal of the parts over the sheet used up; 0 when nothing lies on a sheet."""
        return self.parts_area_mm2 / self.used_area_mm2 if self.sheets else 0.0

    def area_of_one_mm2(self, piece: int) -> float:
        """Sheet that one copy of a piece has to pay for: its own metal and its share of what is scrapped."""
        return self.pieces[piece].area_mm2 / self.density


def piece_of(name: str, flat: FlatPattern, count: int, grain: Grain = "any") -> Piece:
    """A flat pattern as a piece."""
    return Piece(name, Face(flat.outer.anticlockwise(), tuple(o.clockwise() for o in flat.openings)), count, grain)


def plain_nest(nest: Nest) -> dict[str, Any]:
    """The layout as plain data, to be kept; `nest_from_plain` reads it back the same."""
    return {
        "steadfold_nest": FORMAT,
        "spacing": {"kerf_mm": nest.spacing.kerf_mm, "web_mm": nest.spacing.web_mm, "edge_mm": nest.spacing.edge_mm},
        "pieces": [
            {"name": p.name, "count": p.count, "grain": p.grain, "outer": _plain(p.face.outer),
             "openings": [_plain(o) for o in p.face.holes]}
            for p in nest.pieces
        ],
        "sheets": [
            {
                "length_mm": sheet.stock.length_mm,
                "width_mm": sheet.stock.width_mm,
                "count": sheet.stock.count,
                "placements": [
                    {"piece": p.piece, "turned_deg": p.turned_deg, "shift_mm": list(p.shift_mm), "inside": p.inside}
                    for p in sheet.placements
                ],
            }
            for sheet in nest.sheets
        ],
        "left_out": list(nest.left_out),
        "complete": nest.complete,
        "notes": list(nest.notes),
    }  # fmt: skip


def nest_from_plain(data: Mapping[str, Any]) -> Nest:
    """The layout that `plain_nest` wrote. Raises `NestError` for anything else."""
    try:
        if data["steadfold_nest"] != FORMAT:
            raise NestError(f"this layout is of format {data['steadfold_nest']!r}; {FORMAT} is read here")
        pieces = tuple(
            Piece(name=p["name"], face=_face(p["outer"], p["openings"]), count=p["count"], grain=p["grain"])
            for p in data["pieces"]
        )
        sheets = tuple(
            NestedSheet(
                StockSheet(sheet["length_mm"], sheet["width_mm"], sheet["count"]),
                tuple(
                    Placement(p["piece"], p["turned_deg"], (p["shift_mm"][0], p["shift_mm"][1]), p["inside"])
                    for p in sheet["placements"]
                ),
            )
            for sheet in data["sheets"]
        )
        spacing = Spacing(**data["spacing"])
        return Nest(pieces, spacing, sheets, tuple(data["left_out"]), data["complete"], tuple(data["notes"]))
    except (KeyError, TypeError, IndexError, AttributeError) as error:
        raise NestError(f"this is no layout: {type(error).__name__} {error}") from None


def _plain(outline: Outline) -> list[list[float]]:
    return [[x, y, bulge] for (x, y), bulge in zip(outline.points, outline.bulges, strict=True)]


def _face(outer: list[list[float]], openings: list[list[list[float]]]) -> Face:
    return Face(_outline(outer), tuple(_outline(opening) for opening in openings))


def _outline(rows: list[list[float]]) -> Outline:
    if not all(math.isfinite(value) for row in rows for value in row):
        raise NestError("this is no layout: a coordinate is not a number")
    return Outline(tuple((row[0], row[1]) for row in rows), tuple(row[2] for row in rows))
