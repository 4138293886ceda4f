"""A drawing at full size over several sheets of paper: fewest sheets, overlaps, rulers to measure the print by."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from steadfold.deliver.drawing.lines import CUT, NARROW, THIN, LineType
from steadfold.deliver.drawing.marks import Area, Mark, Words, circle_stroke, line, picture
from steadfold.quantities.showing import Units

OVERLAP_MM = 10.0
INSET_MM = 6.0
"""Between the drawing and the border of the first and last sheet."""

LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 22.0, 10.0, 22.0, 24.0
"""Round the window on each sheet: what printers cannot print, rulers, heading and foot."""

MOST_SHEETS = 48
"""A drawing that takes more sheets is not printed at full size."""

RULERS: dict[Units, tuple[float, int, int, str]] = {"mm": (100.0, 10, 5, "100 mm"), "in": (101.6, 16, 4, "4 in")}
"""The bars that a print is measured by: length in mm, strokes, how many of them to a long one, and what it measures."""


@dataclass(frozen=True)
class Tile:
    """One sheet: column from the left, row from the top, and the lower left corner of its window on the drawing."""

    column: int
    row: int
    x_mm: float
    y_mm: float

    @property
    def name(self) -> str:
        """A letter for the row and a number for the column, `B2`."""
        return f"{chr(65 + self.row) if self.row < 26 else 'Z' + str(self.row)}{self.column + 1}"


@dataclass(frozen=True)
class Tiling:
    """How a drawing lies over sheets of one size, and their size as printed."""

    width_mm: float
    height_mm: float
    paper_mm: tuple[float, float]
    columns: int
    rows: int
    tiles: tuple[Tile, ...]

    @property
    def window_mm(self) -> tuple[float, float]:
        """Width and height of the drawing that a sheet shows."""
        return window_of(self.paper_mm)


def window_of(paper_mm: tuple[float, float]) -> tuple[float, float]:
    """Width and height of the window of a sheet."""
    return paper_mm[0] - LEFT_MM - RIGHT_MM, paper_mm[1] - TOP_MM - BOTTOM_MM


def sheets_along(length_mm: float, window_mm: float, overlap_mm: float = OVERLAP_MM) -> int:
    """How many sheets a length takes.

    >>> sheets_along(168.0, 178.0), sheets_along(346.0, 178.0), sheets_along(347.0, 178.0)
    (1, 2, 3)
    """
    return max(1, math.ceil((length_mm - overlap_mm) / (window_mm - overlap_mm) - 1e-9))


def tiled(width_mm: float, height_mm: float, paper_mm: tuple[float, float]) -> Tiling:
    """The fewest sheets, upright or across, that show a drawing of this size; its inset is added here.

    What is left over is shared out evenly, so that the overlaps grow rather than the last sheet being bare.
    """
    width, height = width_mm + 2 * INSET_MM, height_mm + 2 * INSET_MM
    options = []
    for paper in (paper_mm, (paper_mm[1], paper_mm[0])):
        window = window_of(paper)
        options.append((sheets_along(width, window[0]), sheets_along(height, window[1]), paper))
    columns, rows, paper = min(options, key=lambda o: o[0] * o[1])
    window = window_of(paper)
    xs, ys = _starts(width, window[0], columns), _starts(height, window[1], rows)
    tiles = [Tile(c, r, xs[c], ys[rows - 1 - r]) for r in range(rows) for c in range(columns)]
    return Tiling(width, height, paper, columns, rows, tuple(tiles))


def _starts(length: float, window: float, count: int) -> list[float]:
    """Where each window starts; one window shows the drawing in its middle."""
    if count == 1:
        return [-0.5 * (window - length)]
    return [i * (window - OVERLAP_MM) for i in range(count)]


def tile_pages(tiling: Tiling, art: dict[str, Any], units: Units = "mm") -> dict[str, Any]:
    """The sheets as the template takes them: the drawing once, and for each sheet its window and what is round it.

    `art` is the picture of the whole drawing, of the tiling's size; the bars round it are 100 mm or 4 in long.
    """
    width, height = tiling.window_mm
    pages = []
    for tile in tiling.tiles:
        pages.append(
            {
                "name": tile.name,
                # From the top left of the window to the top left of the drawing.
                "dx": -tile.x_mm,
                "dy": -(tiling.height_mm - tile.y_mm - height),
                "round": picture(_round(tiling, tile, units), *tiling.paper_mm),
            }
        )
    return {
        "art": art,
        "paper": list(tiling.paper_mm),
        "window": [LEFT_MM, TOP_MM, width, height],
        "columns": tiling.columns,
        "rows": tiling.rows,
        "pages": pages,
    }


def _round(tiling: Tiling, tile: Tile, units: Units) -> list[Mark]:
    """Rulers, border, cut and glue lines and the map of one sheet, in its own mm."""
    paper_width, paper_height = tiling.paper_mm
    width, height = tiling.window_mm
    x0, y0 = LEFT_MM, BOTTOM_MM
    x1, y1 = x0 + width, y0 + height
    marks: list[Mark] = [line([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)], THIN)]
    marks += ruler((x0, y0 - 8.0), False, units) + ruler((x0 - 8.0, y0), True, units)
    long, _, _, said = RULERS[units]
    marks.append(Words((x0 + long + 9, y0 - 6.2), f"Both bars must measure {said}.", 1.8, "start"))
    marks.append(Words((x0 + long + 9, y0 - 9.6), "Print at 100 %, not fitted.", 1.8, "start"))
    right, below = tile.column + 1 < tiling.columns, tile.row + 1 < tiling.rows
    if right:
        at = x1 - OVERLAP_MM
        marks.append(line([(at, y0), (at, y1)], CUT))
        name = Tile(tile.column + 1, tile.row, 0, 0).name
        marks.append(
            Words((x1 - 3.0, y0 + 0.25 * height), f"{name} lies over this strip", 1.8, angle_deg=90.0, paper=True)
        )
    if below:
        at = y0 + OVERLAP_MM
        marks.append(line([(x0, at), (x1, at)], CUT))
        name = Tile(tile.column, tile.row + 1, 0, 0).name
        marks.append(Words((x0 + 0.3 * width, y0 + 3.0), f"{name} lies over this strip", 1.8, paper=True))
    if tile.column:
        marks += _scissors((x0, y0), (x0, y1))
    if tile.row:
        marks += _scissors((x0, y1), (x1, y1))
    for x in ([x1 - OVERLAP_MM] if right else []) + ([x0] if tile.column else []):
        for y in (y0 + 0.5 * height, y0 + 0.85 * height):
            marks += _cross((x, y))
    for y in ([y0 + OVERLAP_MM] if below else []) + ([y1] if tile.row else []):
        for x in (x0 + 0.5 * width, x0 + 0.85 * width):
            marks += _cross((x, y))
    marks += _map(tiling, tile, (paper_width - RIGHT_MM, paper_height - 10.0))
    return marks


def _scissors(a: tuple[float, float], b: tuple[float, float]) -> list[Mark]:
    """The edge along which a sheet is cut before it is laid over its neighbour."""
    upright = a[0] == b[0]
    at = (a[0] + 2.2, a[1] + 0.2 * (b[1] - a[1])) if upright else (a[0] + 0.2 * (b[0] - a[0]), a[1] - 3.2)
    return [line([a, b], NARROW), Words(at, "cut here", 1.8, angle_deg=90.0 if upright else 0.0, paper=True)]


def _cross(at: tuple[float, float], reach: float = 4.0) -> list[Mark]:
    """Where the marks of two sheets must meet."""
    x, y = at
    return [
        line([(x - reach, y), (x + reach, y)], THIN),
        line([(x, y - reach), (x, y + reach)], THIN),
        circle_stroke(at, 1.5, THIN),
    ]


def _map(tiling: Tiling, tile: Tile, corner: tuple[float, float]) -> list[Mark]:
    """All sheets as boxes, this one filled, the upper right corner at `corner`."""
    if len(tiling.tiles) < 2:
        return []
    size = min(4.0, 10.0 / tiling.rows, 40.0 / tiling.columns)
    left, top = corner[0] - size * tiling.columns, corner[1]
    marks: list[Mark] = []
    for each in tiling.tiles:
        x, y = left + size * each.column, top - size * (each.row + 1)
        corners = [(x, y), (x + size, y), (x + size, y + size), (x, y + size)]
        if each == tile:
            marks.append(Area(tuple(corners)))
        marks.append(line([*corners, corners[0]], THIN))
    return marks


def ruler(start: tuple[float, float], upright: bool, units: Units = "mm") -> list[Mark]:
    """A bar of 100 mm from a point, with a stroke every 10 mm; in inches 4 in, with a stroke every quarter."""
    length, strokes, to_a_long_one, said = RULERS[units]
    x, y = start
    bar = LineType("", 0.3, blunt=True)

    def at(along: float, across: float) -> tuple[float, float]:
        return (x + across, y + along) if upright else (x + along, y + across)

    marks: list[Mark] = [line([at(0.0, 0.0), at(length, 0.0)], bar)]
    for stroke in range(strokes + 1):
        high = 3.0 if stroke % to_a_long_one == 0 else 1.8
        # The end strokes stand inside the bar's length, so that its outer edges are that far apart.
        along = stroke * length / strokes + 0.5 * bar.width_mm * ((stroke == 0) - (stroke == strokes))
        marks.append(line([at(along, 0.0), at(along, high)], bar))
    whole = int(said.split()[0])
    for stroke in range(0, strokes + 1, to_a_long_one):
        mm = stroke * length / strokes
        words = said if stroke == strokes else str(stroke * whole // strokes)
        if upright:
            marks.append(Words(at(mm, -1.2), words, 1.6, "middle", 90.0))
        else:
            marks.append(Words(at(mm, -2.8), words, 1.6))
    return marks
