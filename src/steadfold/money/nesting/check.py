"""Whether a layout can be cut: measured on the true outlines, not on what the search worked with."""

from __future__ import annotations

import numpy as np
import shapely

from steadfold.money.nesting.records import TURNS, Nest, NestedSheet

CHORD_MM = 0.01
SLACK_MM = 0.03
"""How much closer than asked still counts as asked: chords of both outlines, and rounding."""


def nest_faults(nest: Nest) -> tuple[str, ...]:
    """Sentences about everything wrong with a layout; none for one that can be cut.

    Checked: every copy there once or left out, turned only as its grain allows, within the sheet's margin, no
    neighbour nearer than the gap.
    """
    said = []
    placed = [0] * len(nest.pieces)
    for number, sheet in enumerate(nest.sheets):
        for index in sheet_faults(nest, sheet):
            name = nest.pieces[sheet.placements[index].piece].name
            said.append(f"sheet {number + 1}: {name!r} (number {index + 1}) lies too near a neighbour or the edge")
        for placement in sheet.placements:
            piece = nest.pieces[placement.piece]
            placed[placement.piece] += 1
            if placement.turned_deg not in TURNS[piece.grain]:
                said.append(f"sheet {number + 1}: {piece.name!r} is turned against its grain")
    for index, piece in enumerate(nest.pieces):
        if placed[index] + nest.left_out.count(index) != piece.count:
            said.append(f"{piece.name!r}: {placed[index]} of {piece.count} are on a sheet")
    return tuple(said)


def sheet_faults(nest: Nest, sheet: NestedSheet) -> tuple[int, ...]:
    """Indices of placements too near the edge, or too near one before them."""
    if not sheet.placements:
        return ()
    shapes = [nest.face(p).polygon(CHORD_MM) for p in sheet.placements]
    margin, gap = nest.spacing.margin_mm - SLACK_MM, nest.spacing.gap_mm - SLACK_MM
    bounds = shapely.bounds(shapes)
    room = (margin, margin, sheet.stock.length_mm - margin, sheet.stock.width_mm - margin)
    outside = (bounds[:, 0] < room[0]) | (bounds[:, 1] < room[1]) | (bounds[:, 2] > room[2]) | (bounds[:, 3] > room[3])
    faulty = set(np.flatnonzero(outside).tolist())
    tree = shapely.STRtree(shapes)
    one, other = tree.query(shapes, predicate="dwithin", distance=max(gap, 0.0))
    for i, j in zip(one.tolist(), other.tolist(), strict=True):
        if i <= j or j in faulty:
            continue
        # Parts that may touch share an edge without sharing metal.
        if gap > 0 or shapes[i].intersection(shapes[j]).area > SLACK_MM * shapely.length(shapes[i]) * 0.5:
            faulty.add(i)
    return tuple(sorted(faulty))
