"""Outlines made ready for the search: polygons that never claim less room than the cut needs."""

from __future__ import annotations

import shapely
import shapely.affinity

from steadfold.money.nesting.records import NestError, Piece
from steadfold.sheet.outline import Outline

CHORD_MM = 0.08
"""How far a polygon may stray from an arc; grown outward by as much again."""
MOST_CORNERS = 60
"""An outline of straight lines with more corners than this is simplified, outward."""
MITRE = 1.1
"""Corners are cut off this many gaps out: never nearer than the gap."""


def grown(piece: Piece, half_gap_mm: float) -> shapely.Polygon:
    """The outer contour grown by half the gap and by whatever its polygon strays: two such may touch.

    Openings are left out: what lies in them is laid first. Raises `NestError` for a contour that crosses itself.
    """
    outer = piece.face.outer
    exact = not any(outer.bulges) and len(outer.points) <= MOST_CORNERS
    chord = 0.0 if exact else CHORD_MM
    shape = shapely.Polygon(outer.vertices(CHORD_MM))
    if not shape.is_valid or shape.area <= 0:
        raise NestError(f"the outline of {piece.name!r} crosses itself or encloses nothing")
    grow = half_gap_mm + 2 * chord
    if grow > 0:
        shape = shape.buffer(grow, join_style="mitre", mitre_limit=MITRE)
        if chord:
            shape = shape.simplify(chord)
    if shape.geom_type != "Polygon" or not shape.is_valid:
        raise NestError(f"the outline of {piece.name!r} cannot be grown by the gap")
    # A notch that the growing closes to a hole is room that nothing reaches.
    return shapely.Polygon(shape.exterior)


def shrunk(opening: Outline, half_gap_mm: float) -> shapely.Geometry:
    """The room in an opening for shapes that are themselves grown by half the gap; empty where there is none."""
    chord = CHORD_MM if any(opening.bulges) else 0.0
    return shapely.Polygon(opening.vertices(CHORD_MM)).buffer(-(half_gap_mm + chord), join_style="mitre")


def placed(shape: shapely.Polygon, turn: int, shift: tuple[float, float]) -> shapely.Polygon:
    """A shape turned about the origin by a multiple of 90°, then shifted; exact."""
    c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[turn // 90 % 4]
    return shapely.affinity.affine_transform(shape, [c, -s, s, c, *shift])
