"""The layout of a whole order: openings first, then sheet after sheet, the best so far kept all along."""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import shapely

from steadfold.money.nesting.cells import fill
from steadfold.money.nesting.check import sheet_faults
from steadfold.money.nesting.openings import Copy, copies_of, fill_openings
from steadfold.money.nesting.records import (
    TURNS,
    Nest,
    NestedSheet,
    NestError,
    Piece,
    Placement,
    Spacing,
    StockSheet,
)
from steadfold.money.nesting.shapes import grown, placed
from steadfold.money.nesting.strip import StripItem, pack_strip

FULL = 0.97
"""Share of a sheet's area beyond which not all of the rest can lie on it."""
LIKELY = 0.82
"""Share of a sheet that parts usually cover; it decides how many are tried at once (measured, see docs)."""
FILLING_SHARE = 0.1
"""Share of the time for openings and gaps."""
MOST_COPIES = 5000

Tell = Callable[[float, str], None]
Spot = tuple[Copy, int, tuple[float, float]]
"""A copy, its turn and its shift, in the frame of the usable part of a sheet."""


@dataclass(frozen=True, eq=False)
class _Task:
    pieces: tuple[Piece, ...]
    shapes: tuple[shapely.Polygon, ...]
    spacing: Spacing
    seed: int
    workers: int
    stop: Callable[[], bool]
    tell: Tell
    notes: list[str]


def nest(
    pieces: Sequence[Piece],
    sheets: Sequence[StockSheet],
    spacing: Spacing | None = None,
    seconds: float = 10.0,
    *,
    stop: Callable[[], bool] | None = None,
    tell: Tell | None = None,
    seed: int = 0,
    workers: int | None = None,
) -> Nest:
    """Lay all copies of all pieces on as little sheet as the time allows.

    `seconds` is for the search as a whole, at least about two a sheet. `stop` is asked several times a second; when
    it says so the best so far is kept, what is not laid yet is laid quickly, and the layout is not `complete`. `tell`
    hears the share done and a sentence. `workers` are threads of the search, one a core up to four when not given.
    Runs differ even with one seed: keep the layout. Raises `NestError` for a piece that lies on no sheet in any
    turn, an outline that crosses itself, or nothing to do.
    """
    spacing = spacing or Spacing()
    task = _Task(
        tuple(pieces),
        tuple(grown(piece, spacing.gap_mm / 2) for piece in pieces),
        spacing,
        seed,
        workers or min(4, os.cpu_count() or 1),
        stop or (lambda: False),
        tell or (lambda share, what: None),
        [],
    )
    _check(task, sheets)
    start = time.monotonic()
    copies = copies_of(pieces)
    fill_openings(copies, pieces, task.shapes, spacing.gap_mm / 2, start + max(2.0, FILLING_SHARE * seconds), task.stop)
    held = sum(copy.is_held for copy in copies)
    notes = task.notes
    if held:
        notes.append(f"{held} of {len(copies)} parts lie in openings of others")
    left = [copy for copy in copies if not copy.is_held]
    made: list[NestedSheet] = []
    stock = {sheet: math.inf if sheet.count is None else sheet.count for sheet in sheets}
    complete = True
    while left and any(count > 0 for count in stock.values()):
        sheet = _best_stock(task, [s for s, count in stock.items() if count > 0], left)
        if sheet is None:
            break
        after = _sheets_for(task, sheet, left)
        budget = max(2.0, (start + seconds - time.monotonic()) / after)
        done = len(made) / (len(made) + after)
        spots, settled = _one_sheet(task, sheet, left, budget, done, 1 / (len(made) + after))
        if not spots:
            break
        spots, sheet = _smaller(task, stock, sheet, spots, left)
        complete = complete and settled
        stock[sheet] -= 1
        laid = {id(copy) for copy, _, _ in spots}
        left = [copy for copy in left if id(copy) not in laid]
        made.append(_nested(task, sheet, spots))
    if task.stop():
        complete = False
        notes.append("stopped early: the best so far")
    leftover = [inner.piece for copy in left for inner in _with_held(copy)]
    if leftover:
        notes.append(f"{len(leftover)} parts found no room on the sheets there are")
    result = Nest(task.pieces, spacing, tuple(made), tuple(sorted(leftover)), complete and not left, tuple(notes))
    task.tell(1.0, f"{100 * result.density:.1f} % of the sheet used")
    return result


def usable_mm(sheet: StockSheet, spacing: Spacing) -> tuple[float, float]:
    """Length and width for shapes that carry half the gap with them."""
    take = 2 * spacing.margin_mm - spacing.gap_mm
    return sheet.length_mm - take, sheet.width_mm - take


def _check(task: _Task, sheets: Sequence[StockSheet]) -> None:
    if not task.pieces or not sheets:
        raise NestError("there is nothing to lay out, or nothing to lay it on")
    spacing = task.spacing
    if not all(0 <= v < math.inf for v in (spacing.kerf_mm, spacing.web_mm, spacing.edge_mm)):
        raise NestError("kerf, web and edge are not below 0")
    if any(piece.count < 0 for piece in task.pieces) or sum(p.count for p in task.pieces) > MOST_COPIES:
        raise NestError(f"at most {MOST_COPIES} parts are laid out at once, and none less than no times")
    for piece, shape in zip(task.pieces, task.shapes, strict=True):
        if not any(_fits(shape, TURNS[piece.grain], *usable_mm(sheet, spacing)) for sheet in sheets):
            x0, y0, x1, y1 = piece.face.outer.bounds
            largest = max(sheets, key=lambda s: s.area_mm2)
            with_grain = "" if piece.grain == "any" else " with its grain"
            raise NestError(
                f"{piece.name!r} is {x1 - x0:.0f} × {y1 - y0:.0f} mm and fits{with_grain} no sheet; the largest is "
                f"{largest.length_mm:.0f} × {largest.width_mm:.0f} mm less {spacing.margin_mm:.1f} mm all round"
            )


def _fits(shape: shapely.Polygon, turns: tuple[int, ...], length: float, width: float) -> bool:
    return bool(_turns_fitting(shape, turns, length, width))


def _turns_fitting(shape: shapely.Polygon, turns: tuple[int, ...], length: float, width: float) -> tuple[int, ...]:
    x0, y0, x1, y1 = shape.bounds
    w, h = x1 - x0, y1 - y0
    sizes = {turn: (w, h) if turn % 180 == 0 else (h, w) for turn in turns}
    return tuple(turn for turn, (a, b) in sizes.items() if a <= length + 1e-9 and b <= width + 1e-9)


def _area(task: _Task, copies: Sequence[Copy]) -> float:
    return sum(task.shapes[copy.piece].area for copy in copies)


def _sheets_for(task: _Task, sheet: StockSheet, copies: Sequence[Copy]) -> int:
    length, width = usable_mm(sheet, task.spacing)
    return max(1, math.ceil(_area(task, copies) / (LIKELY * length * width)))


def _best_stock(task: _Task, stock: Sequence[StockSheet], left: Sequence[Copy]) -> StockSheet | None:
    """The size that needs least sheet for the rest by its area, among those that take the most of its pieces."""

    def rank(sheet: StockSheet) -> tuple[int, float, float]:
        size = usable_mm(sheet, task.spacing)
        fitting = [copy for copy in left if _fits(task.shapes[copy.piece], copy.turns, *size)]
        needed = _sheets_for(task, sheet, fitting) * sheet.area_mm2 if fitting else math.inf
        return len(left) - len(fitting), needed, -sheet.area_mm2

    best = min(stock, key=rank)
    return best if rank(best)[1] < math.inf else None


def _one_sheet(
    task: _Task, sheet: StockSheet, left: Sequence[Copy], seconds: float, done: float, share: float
) -> tuple[list[Spot], bool]:
    """What to lay on one sheet, and whether the search settled."""
    length, width = usable_mm(sheet, task.spacing)
    fitting = [copy for copy in left if _fits(task.shapes[copy.piece], copy.turns, length, width)]
    chosen = _chosen(task, fitting, length * width)
    spots, settled = _packed(task, chosen, length, width, seconds, done, share)
    laid = {id(copy) for copy, _, _ in spots}
    rest = [copy for copy in fitting if id(copy) not in laid]
    if rest:
        # Gaps and the end of the sheet take what was not tried or was cut off.
        until = time.monotonic() + max(1.0, FILLING_SHARE * seconds if spots else 10 * seconds)
        spots = spots + _into_gaps(task, rest, spots, length, width, until)
    return _sound(task, sheet, spots), settled


def _chosen(task: _Task, copies: Sequence[Copy], area: float) -> list[Copy]:
    """Copies to try on one sheet: all when they may fit, else the largest first up to what usually fits."""
    by_size = sorted(copies, key=lambda copy: -task.shapes[copy.piece].area)
    if _area(task, by_size) <= FULL * area:
        return by_size
    chosen: list[Copy] = []
    taken = 0.0
    for copy in by_size:
        own = task.shapes[copy.piece].area
        if taken + own <= (LIKELY + 0.06) * area or not chosen:
            chosen.append(copy)
            taken += own
    return chosen


def _packed(
    task: _Task, chosen: Sequence[Copy], length: float, width: float, seconds: float, done: float, share: float
) -> tuple[list[Spot], bool]:
    """The chosen copies as the packing library lays them, less those that reach beyond the sheet."""
    groups: dict[tuple[object, ...], list[Copy]] = {}
    for copy in chosen:
        groups.setdefault(copy.key, []).append(copy)
    items, stacks = [], []
    for group in groups.values():
        shape = task.shapes[group[0].piece]
        turns = _turns_fitting(shape, group[0].turns, math.inf, width)
        items.append(StripItem(shape, len(group), turns))
        stacks.append(list(group))

    def hear(part: float, reached: float) -> None:
        task.tell(done + share * part, f"{len(chosen)} parts on {reached:.0f} mm of sheet")

    layout = pack_strip(items, width, seconds, task.seed, task.workers, task.stop, hear)
    if layout is None:
        note = "the packing library gave no layout; parts were laid one by one from the corner"
        if not task.stop() and note not in task.notes:
            task.notes.append(note)
        return [], False
    spots = []
    for laid in layout.laid:
        copy = stacks[laid.item].pop()
        reach = placed(items[laid.item].shape, laid.turned_deg, laid.shift_mm).bounds
        if reach[2] <= length + 1e-6 and reach[0] >= -1e-6:
            spots.append((copy, laid.turned_deg, laid.shift_mm))
    return spots, layout.settled


def _into_gaps(
    task: _Task, rest: Sequence[Copy], spots: Sequence[Spot], length: float, width: float, until: float
) -> list[Spot]:
    """Copies laid in what is left of a sheet, the largest first."""
    covered = shapely.unary_union([placed(task.shapes[copy.piece], turn, shift) for copy, turn, shift in spots])
    room = shapely.box(0, 0, length, width).difference(covered)
    groups: dict[tuple[object, ...], list[Copy]] = {}
    for copy in rest:
        groups.setdefault(copy.key, []).append(copy)
    stacks = [list(group) for group in groups.values()]
    items = [
        StripItem(
            task.shapes[stack[0].piece],
            len(stack),
            _turns_fitting(task.shapes[stack[0].piece], stack[0].turns, length, width),
        )
        for stack in stacks
    ]
    stop = task.stop if spots else None
    return [(stacks[each.item].pop(), each.turned_deg, each.shift_mm) for each in fill(room, items, until, stop)]


def _smaller(
    task: _Task, stock: dict[StockSheet, float], sheet: StockSheet, spots: list[Spot], left: Sequence[Copy]
) -> tuple[list[Spot], StockSheet]:
    """The same parts on a smaller sheet when all of the rest lies on this one and reaches no further."""
    if len(spots) < len(left) or not spots:
        return spots, sheet
    bounds = [placed(task.shapes[copy.piece], turn, shift).bounds for copy, turn, shift in spots]
    reach_x, reach_y = max(b[2] for b in bounds), max(b[3] for b in bounds)
    for other in sorted((s for s, count in stock.items() if count > 0), key=lambda s: s.area_mm2):
        length, width = usable_mm(other, task.spacing)
        if other.area_mm2 < sheet.area_mm2 and reach_x <= length + 1e-6 and reach_y <= width + 1e-6:
            return spots, other
    return spots, sheet


def _with_held(copy: Copy) -> list[Copy]:
    return [copy, *(inner for held, _, _ in copy.held for inner in _with_held(held))]


def _nested(task: _Task, sheet: StockSheet, spots: Sequence[Spot]) -> NestedSheet:
    """The sheet as it is kept: every copy on its own, in the sheet's frame."""
    offset = task.spacing.margin_mm - task.spacing.gap_mm / 2
    placements: list[Placement] = []

    def lay(copy: Copy, turn: int, shift: tuple[float, float], inside: int | None) -> None:
        number = len(placements)
        placements.append(Placement(copy.piece, turn, (round(shift[0], 4), round(shift[1], 4)), inside))
        c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[turn // 90 % 4]
        for inner, inner_turn, (x, y) in copy.held:
            lay(inner, (turn + inner_turn) % 360, (shift[0] + c * x - s * y, shift[1] + s * x + c * y), number)

    for copy, turn, (x, y) in spots:
        lay(copy, turn, (x + offset, y + offset), None)
    return NestedSheet(sheet, tuple(placements))


def _sound(task: _Task, sheet: StockSheet, spots: list[Spot]) -> list[Spot]:
    """The spots without those that measure too near a neighbour or the edge on their true outlines."""
    while spots:
        tried = _nested(task, sheet, spots)
        faults = sheet_faults(Nest(task.pieces, task.spacing, (tried,), (), True), tried)
        if not faults:
            return spots
        # A fault of something held counts against the copy that holds it.
        owner, number = [], 0
        for index, (copy, _, _) in enumerate(spots):
            size = len(_with_held(copy))
            owner += [index] * size
            number += size
        bad = {owner[fault] for fault in faults}
        spots = [spot for index, spot in enumerate(spots) if index not in bad]
    return spots
