"""Parts laid in the openings of other parts, before the sheets are filled: it saves their metal altogether."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import shapely

from steadfold.money.nesting.cells import fill, fullest, snug_place
from steadfold.money.nesting.records import TURNS, Piece
from steadfold.money.nesting.shapes import placed, shrunk
from steadfold.money.nesting.strip import StripItem
from steadfold.sheet.outline import Outline

OPENING_CELLS = 40_000
"""Cells of the raster in one opening: a hundredth of a round one is lost along its edge."""
FINE_CHORD_MM = 0.004
"""How far polygons stray from their arcs where a piece only just goes into an opening."""


@dataclass
class Copy:
    """One copy of a piece while the layout is made, with what lies in its openings, in its own frame.

    `turns` are those it may still take: fewer than its own grain allows once a piece with a grain lies in it.
    """

    piece: int
    turns: tuple[int, ...]
    held: list[tuple[Copy, int, tuple[float, float]]] = field(default_factory=list)
    is_held: bool = False

    @property
    def key(self) -> tuple[object, ...]:
        """Copies with equal keys can stand for each other."""
        return (self.piece, self.turns, tuple((c.key, turn, shift) for c, turn, shift in self.held))


def copies_of(pieces: Sequence[Piece]) -> list[Copy]:
    """Every copy that is asked for, nothing in it yet."""
    return [Copy(i, TURNS[piece.grain]) for i, piece in enumerate(pieces) for _ in range(piece.count)]


def fill_openings(
    copies: list[Copy],
    pieces: Sequence[Piece],
    shapes: Sequence[shapely.Polygon],
    half_gap_mm: float,
    until: float,
    stop: Callable[[], bool] | None = None,
) -> None:
    """Put copies into the openings of others, the widest opening first; changes the copies.

    A piece goes only into openings wider than itself, so that none comes to lie within itself. The layout of one
    opening is used again for its like while there are copies enough.
    """
    openings = [(abs(opening.area_mm2), i, opening) for i, piece in enumerate(pieces) for opening in piece.face.holes]
    smallest = min((shape.area for shape in shapes), default=0.0)
    for area, host, opening in sorted(openings, key=lambda o: -o[0]):
        room = shrunk(opening, half_gap_mm)
        if room.is_empty or area < smallest:
            continue
        known: dict[tuple[int, ...], tuple[tuple[int, int, tuple[float, float]], ...]] = {}
        for copy in (c for c in copies if c.piece == host):
            free: dict[int, list[Copy]] = {}
            for other in copies:
                if not other.is_held and other.piece != host and shapes[other.piece].area < area:
                    free.setdefault(other.piece, []).append(other)
            if not free or time.monotonic() > until or (stop is not None and stop()):
                break
            choices = [(i, turns) for i in free if (turns := _turns_within(copy, pieces[i])) is not None]
            # With copies to spare, how many are left does not change the layout.
            wanted = tuple(min(len(free[i]), int(room.area // shapes[i].area)) for i, _ in choices)
            signature = (*(i for i, _ in choices), -1, *wanted, -1, *copy.turns)
            if signature not in known:
                items = [StripItem(shapes[i], n, turns) for (i, turns), n in zip(choices, wanted, strict=True) if n]
                kept = [i for (i, _), n in zip(choices, wanted, strict=True) if n]
                laid = fullest(room, items, until, stop, OPENING_CELLS) if items else ()
                by_raster = tuple((kept[each.item], each.turned_deg, each.shift_mm) for each in laid)
                covered = sum(shapes[i].area for i, _, _ in by_raster)
                # What covers less is not worth a closer look.
                larger = [(i, turns) for i, turns in choices if shapes[i].area > covered]
                just = _just_in(opening, room, larger, pieces, shapes, half_gap_mm, dict(zip(kept, items, strict=True)))
                known[signature] = just or by_raster
            for i, turn, shift in known[signature]:
                inner = free[i].pop()
                inner.is_held = True
                copy.held.append((inner, turn, shift))
                if pieces[i].grain != "any" and len(copy.turns) == 4:
                    copy.turns = TURNS["along"]


def _just_in(
    opening: Outline,
    room: shapely.Geometry,
    choices: Sequence[tuple[int, tuple[int, ...]]],
    pieces: Sequence[Piece],
    shapes: Sequence[shapely.Polygon],
    half_gap_mm: float,
    items: Mapping[int, StripItem],
) -> tuple[tuple[int, int, tuple[float, float]], ...]:
    """The largest piece that only just goes into an opening, measured on the true outlines, and what still goes beside.

    The shapes of the search are larger than the cut by their chords, and would miss it by some tenths.
    """
    exact = shapely.Polygon(opening.vertices(FINE_CHORD_MM)).buffer(-(2 * half_gap_mm + FINE_CHORD_MM), quad_segs=64)
    for i, turns in sorted(choices, key=lambda choice: -shapes[choice[0]].area):
        place = snug_place(exact, shapely.Polygon(pieces[i].face.outer.vertices(FINE_CHORD_MM)), turns)
        if place is None:
            continue
        beside = room.difference(placed(shapes[i], *place))
        others = [j for j in items if j != i]
        more = fill(beside, [items[j] for j in others], most_cells=OPENING_CELLS) if others else ()
        return ((i, *place), *((others[each.item], each.turned_deg, each.shift_mm) for each in more))
    return ()


def _turns_within(host: Copy, piece: Piece) -> tuple[int, ...] | None:
    """How a piece may lie in a host's frame so that its grain is kept however the host comes to lie; None for never.

    A host that may lie four ways is held to two when a piece with a grain goes into it. What lies in another
    part already does not take on a piece with a grain: its own turn is settled elsewhere.
    """
    if piece.grain == "any":
        return TURNS["any"]
    if host.is_held:
        return None
    turns = host.turns if len(host.turns) == 2 else TURNS["along"]
    allowed = TURNS[piece.grain]
    within = tuple(r for r in TURNS["any"] if all((a + r) % 360 in allowed for a in turns))
    return within or None
