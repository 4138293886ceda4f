"""Small parts put into whatever room is left: openings of parts, gaps between them, the end of a sheet.

Room and shape are rasterised, room inwards and shape outwards, so that what fits on the raster fits in truth;
all places of a shape are found at once by a convolution, and the lowest leftmost is taken.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import shapely.affinity
from scipy.signal import fftconvolve

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
        if not laid and left and (snug := _snug(room, item)) is not None:
            laid.append(Laid(index, *snug))
            left -= 1
            taken |= _cells(_moved(item.shape, *snug), x0, y0, x1, y1, cell, within=False)
        turned = [_turned(item.shape, turn, cell) for turn in item.turns]
        while left:
            if time.monotonic() > until or (stop is not None and stop()):
                return tuple(laid)
            spots = [(spot[1], spot[0], k) for k, t in enumerate(turned) if (spot := _lowest_left(taken, t.mask))]
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


def _moved(shape: shapely.Polygon, turn: int, shift: tuple[float, float]) -> shapely.Polygon:
    c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[turn // 90 % 4]
    return shapely.affinity.affine_transform(shape, [c, -s, s, c, *shift])


def _snug(room: shapely.Geometry, item: StripItem) -> tuple[int, tuple[float, float]] | None:
    """A place for a shape that the raster may be too coarse for: in the middle or in a corner of the room."""
    x0, y0, x1, y1 = room.bounds
    shapely.prepare(room)
    for turn in item.turns:
        turned = _moved(item.shape, turn, (0.0, 0.0))
        a0, b0, a1, b1 = turned.bounds
        if a1 - a0 > x1 - x0 + 1e-9 or b1 - b0 > y1 - y0 + 1e-9:
            continue
        middle = ((x0 + x1 - a0 - a1) / 2, (y0 + y1 - b0 - b1) / 2)
        for shift in ((x0 - a0, y0 - b0), (x0 - a0, y1 - b1), (x1 - a1, y0 - b0), (x1 - a1, y1 - b1), middle):
            if room.covers(_moved(item.shape, turn, shift)):
                return turn, shift
    return None


def _turned(shape: shapely.Polygon, turn: int, cell: float) -> _Turned:
    turned = _moved(shape, turn, (0.0, 0.0))
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
