"""Small parts put into whatever room is left: openings of parts, gaps between them, the end of a sheet.

Room and shape are rasterised, room inwards and shape outwards, so that what fits on the raster fits in truth;
all places of a shape are found at once by a convolution, and the lowest leftmost is taken. What the raster is too
coarse for is then tried in the corners and in the middle of the room that is left.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.signal import fftconvolve

from steadfold.money.nesting.shapes import placed
from steadfold.money.nesting.strip import Laid, StripItem

MOST_CELLS = 250_000
FINEST_MM = 0.25
LEADS = 4
"""How many of the largest shapes are each tried as the first in `fullest`."""


def fullest(
    room: shapely.Geometry,
    items: Sequence[StripItem],
    until: float = float("inf"),
    stop: Callable[[], bool] | None = None,
    most_cells: int = MOST_CELLS,
) -> tuple[Laid, ...]:
    """`fill` with each of the largest items in the lead; the layout that covers most."""
    leads = sorted(range(len(items)), key=lambda i: -items[i].shape.area)[:LEADS]
    layouts = [fill(room, items, until, stop, most_cells, lead) for lead in leads]
    return max(layouts, key=lambda laid: sum(items[each.item].shape.area for each in laid), default=())


@dataclass(frozen=True, eq=False)
class _Turned:
    turn: int
    shape: shapely.Polygon
    mask: np.ndarray
    corner: tuple[float, float]


def fill(
    room: shapely.Geometry,
    items: Sequence[StripItem],
    until: float = float("inf"),
    stop: Callable[[], bool] | None = None,
    most_cells: int = MOST_CELLS,
    lead: int | None = None,
) -> tuple[Laid, ...]:
    """As many copies of the items as go into the room (a polygon or several), the largest first.

    `until` is the time (`time.monotonic`) when it stops with what it has. The item `lead` comes before the larger.
    """
    room = shapely.make_valid(room)
    if room.is_empty or room.area <= 0:
        return ()
    x0, y0, x1, y1 = room.bounds
    cell = max(FINEST_MM, float(np.sqrt((x1 - x0) * (y1 - y0) / most_cells)))
    taken = ~_cells(room, x0, y0, x1, y1, cell, within=True)
    order = sorted(range(len(items)), key=lambda i: (i != lead, -items[i].shape.area))
    laid: list[Laid] = []
    for index in order:
        item = items[index]
        if item.shape.area > room.area:
            continue
        left = item.count
        turned = [_turned(item.shape, turn, cell) for turn in item.turns]
        while left:
            if time.monotonic() > until or (stop is not None and stop()):
                return tuple(laid)
            # The first to be laid is tried snugly before the raster, those the raster has no room for after it.
            spots = [] if not laid else _spots(taken, turned)
            if not spots:
                snug = snug_place(_free(room, items, laid), item.shape, item.turns)
                if snug is not None:
                    laid.append(Laid(index, *snug))
                    left -= 1
                    taken |= _cells(placed(item.shape, *snug), x0, y0, x1, y1, cell, within=False)
                    continue
                spots = _spots(taken, turned) if not laid else []
            if not spots:
                break
            column, row, k = min(spots)
            chosen = turned[k]
            rows, columns = chosen.mask.shape
            taken[row : row + rows, column : column + columns] |= chosen.mask
            shift = (x0 + column * cell - chosen.corner[0], y0 + row * cell - chosen.corner[1])
            laid.append(Laid(index, chosen.turn, shift))
            left -= 1
    return tuple(laid)


def _spots(taken: np.ndarray, turned: Sequence[_Turned]) -> list[tuple[int, int, int]]:
    """Column, row and turn of the first free place for every turn that has one."""
    return [(spot[1], spot[0], k) for k, t in enumerate(turned) if (spot := _lowest_left(taken, t.mask))]


def _free(room: shapely.Geometry, items: Sequence[StripItem], laid: Sequence[Laid]) -> shapely.Geometry:
    """The room without what is laid."""
    if not laid:
        return room
    shapes = [placed(items[each.item].shape, each.turned_deg, each.shift_mm) for each in laid]
    return room.difference(shapely.union_all(shapes))


def snug_place(
    room: shapely.Geometry, shape: shapely.Polygon, turns: Sequence[int]
) -> tuple[int, tuple[float, float]] | None:
    """Turn and shift of a shape that lies in a corner or in the middle of one piece of the room; None where it cannot.

    No raster is in the way: it finds room to spare of any size, but only in those places.
    """
    for part in shapely.get_parts(room):
        x0, y0, x1, y1 = part.bounds
        if part.area < shape.area:
            continue
        shapely.prepare(part)
        for turn in turns:
            a0, b0, a1, b1 = placed(shape, turn, (0.0, 0.0)).bounds
            if a1 - a0 > x1 - x0 + 1e-9 or b1 - b0 > y1 - y0 + 1e-9:
                continue
            middle = ((x0 + x1 - a0 - a1) / 2, (y0 + y1 - b0 - b1) / 2)
            for shift in ((x0 - a0, y0 - b0), (x0 - a0, y1 - b1), (x1 - a1, y0 - b0), (x1 - a1, y1 - b1), middle):
                if part.covers(placed(shape, turn, shift)):
                    return turn, shift
    return None


def _turned(shape: shapely.Polygon, turn: int, cell: float) -> _Turned:
    turned = placed(shape, turn, (0.0, 0.0))
    x0, y0, x1, y1 = turned.bounds
    return _Turned(turn, turned, _cells(turned, x0, y0, x1, y1, cell, within=False), (x0, y0))


def _cells(
    shape: shapely.Geometry, x0: float, y0: float, x1: float, y1: float, cell: float, within: bool
) -> np.ndarray:
    """Cells (rows along y) that lie within a shape, or that it touches."""
    columns = max(1, int(np.ceil((x1 - x0) / cell - 1e-9)))
    rows = max(1, int(np.ceil((y1 - y0) / cell - 1e-9)))
    shapely.prepare(shape)
    xs, ys = np.meshgrid(x0 + cell * np.arange(columns), y0 + cell * np.arange(rows))
    # Centres decide most cells; only those near the edge are looked at whole.
    inside = shapely.contains_xy(shape, xs + cell / 2, ys + cell / 2)
    edge = _grown(inside) & _grown(~inside)
    boundary = shape.boundary
    shapely.prepare(boundary)
    near = shapely.dwithin(boundary, shapely.points(xs + cell / 2, ys + cell / 2), cell) | edge
    boxes = shapely.box(xs[near], ys[near], xs[near] + cell, ys[near] + cell)
    found = inside & ~near
    found[near] = shapely.covers(shape, boxes) if within else shapely.intersects(shape, boxes)
    return found


def _grown(mask: np.ndarray) -> np.ndarray:
    grown = mask.copy()
    grown[1:] |= mask[:-1]
    grown[:-1] |= mask[1:]
    grown[:, 1:] |= mask[:, :-1]
    grown[:, :-1] |= mask[:, 1:]
    return grown


def _lowest_left(taken: np.ndarray, mask: np.ndarray) -> tuple[int, int] | None:
    """Row and column of the leftmost (then lowest) place where a mask meets nothing taken."""
    if mask.shape[0] > taken.shape[0] or mask.shape[1] > taken.shape[1]:
        return None
    meets = fftconvolve(taken.astype(np.float32), mask[::-1, ::-1].astype(np.float32), mode="valid")
    free = meets < 0.5
    columns = np.flatnonzero(free.any(axis=0))
    if not len(columns):
        return None
    column = int(columns[0])
    return int(np.flatnonzero(free[:, column])[0]), column
