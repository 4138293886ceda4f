"""From a part to what is to be filled: rings of nodes for panels, rows of triangles for bends.

The order matters: panels' outlines first, then bends with regard to the sizes at both their tangent lines,
then the panels' remaining edges with regard to the steps the bends took.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from steadfold.sheet.meshing.outlines import Ring, TangentLine, hole_corners, panel_rings
from steadfold.sheet.meshing.panels import Piece, inside_estimate
from steadfold.sheet.meshing.sizes import SizeField, divided, size_field
from steadfold.sheet.meshing.strips import (
    FINE_EDGE_SHARE,
    Rows,
    StripTriangles,
    least_rows,
    row_count,
    strip_rows,
    strip_triangles,
)
from steadfold.sheet.outline import Point
from steadfold.sheet.part import Part

SNAP_PER_THICKNESS = 0.25
"""A hard point closer to an edge than this share of the thickness is put on the edge."""


COARSE_PER_ROW = 0.4
COARSE_PER_THICKNESS = 0.35
"""Detail beside a tangent line smaller than these shares of a row's height and of the thickness is not followed."""


class MeshError(ValueError):
    """A part, or a point asked for, that no mesh can be made for; `str()` says why."""


@dataclass(frozen=True)
class Wishes:
    """What the mesh is asked for: largest size, facets for 90° of bend, chords for a full circle, points at which
    a node must lie and circles that must be followed, both by panel."""

    size_mm: float
    bend_facets: int
    hole_segments: int
    points: Mapping[int, Sequence[Point]] = field(default_factory=dict)
    circles: Mapping[int, Sequence[tuple[Point, float]]] = field(default_factory=dict)
    finer: Mapping[int, tuple[np.ndarray, np.ndarray]] = field(default_factory=dict)
    """Places in panels, and sizes wanted there, found by attempts before."""
    attempt: int = 0


@dataclass(frozen=True)
class Plan:
    """Pieces to fill with the panel each is of, and every bend's triangles."""

    lines: tuple[tuple[TangentLine, ...], ...]
    panels: tuple[int, ...]
    pieces: tuple[Piece, ...]
    rows: tuple[Rows, ...]
    strips: tuple[StripTriangles, ...]

    def triangle_estimate(self) -> float:
        """About how many triangles the mesh will have."""
        rim = sum(len(ring) for piece in self.pieces for ring in piece.rings)
        inside = sum(inside_estimate(piece) for piece in self.pieces)
        return sum(len(strip.triangles) for strip in self.strips) + rim + 2 * inside


@dataclass(frozen=True)
class _Sheet:
    """One piece of a panel before its edges are divided; rings in `fixed` are taken as they are."""

    panel: int
    rings: tuple[Ring, ...]
    fixed: tuple[bool, ...]
    inner: np.ndarray
    field: SizeField


def tangent_lines(part: Part, bend_facets: int) -> tuple[tuple[TangentLine, ...], ...]:
    """For every panel, the tangent lines of the bends it takes part in."""
    lines: list[list[TangentLine]] = [[] for _ in part.panels]
    for number, bend in enumerate(part.bends):
        row = bend.middle_length_mm / least_rows(bend, bend_facets)
        coarse = min(COARSE_PER_ROW * row, COARSE_PER_THICKNESS * part.thickness_mm)
        for panel, point, along, side in (
            (bend.parent, bend.parent_point, bend.parent_along, 0),
            (bend.child, bend.child_point, bend.child_along, 1),
        ):
            line = TangentLine(2 * number + side, np.array(point), np.array(along), bend.length_mm, coarse)
            lines[panel].append(line)
    return tuple(tuple(found) for found in lines)


def planned(part: Part, wishes: Wishes) -> Plan:
    """Divide everything that is shared, so that panels and bends can be filled one by one."""
    lines = tangent_lines(part, wishes.bend_facets)
    sheets: list[_Sheet] = []
    for panel, own in enumerate(lines):
        sheets.extend(_sheets(part, panel, own, wishes))
    meets = _meetings(sheets, lines)
    rows: list[Rows] = []
    strips: list[StripTriangles] = []
    for number in range(len(part.bends)):
        made_rows, made_strip = _strip(part, number, meets, sheets, wishes)
        rows.append(made_rows)
        strips.append(made_strip)
        for line, xs in ((2 * number, made_strip.xs[0]), (2 * number + 1, made_strip.xs[-1])):
            for index in {meeting.sheet for meeting in meets.get(line, [])}:
                own_line = meets[line][0].line
                middles = own_line.at(0.5 * (xs[1:] + xs[:-1]))
                sheets[index] = replace(sheets[index], field=sheets[index].field.with_sources(middles, np.diff(xs)))
    pieces = tuple(_divided(sheet, lines[sheet.panel], rows, strips) for sheet in sheets)
    return Plan(lines, tuple(s.panel for s in sheets), pieces, tuple(rows), tuple(strips))


def _sheets(part: Part, panel: int, lines: Sequence[TangentLine], wishes: Wishes) -> list[_Sheet]:
    thickness = part.thickness_mm
    attempt = wishes.attempt if panel in wishes.finer else 0
    found = panel_rings(part.panels[panel].faces, lines, thickness, wishes.hole_segments, wishes.size_mm, attempt)
    parts = [(list(rings), [False] * len(rings)) for rings in found]
    points = wishes.points.get(panel, ())
    for centre, diameter in wishes.circles.get(panel, ()):
        _follow_circle(parts, centre, diameter, points, wishes, thickness)
    inner: list[list[Point]] = [[] for _ in parts]
    for point in points:
        at = _placed(parts, point, thickness, part.panels[panel].name)
        if at is not None:
            inner[at].append(point)
    sheets = []
    for (rings, fixed), own in zip(parts, inner, strict=True):
        nodes = np.asarray(own, dtype=float).reshape(-1, 2)
        sizes = size_field([r.points for r in rings], wishes.size_mm, thickness)
        sizes = sizes.with_sources(nodes, _room(rings, nodes))
        if panel in wishes.finer:
            sizes = sizes.with_sources(*wishes.finer[panel])
        sheets.append(_Sheet(panel, tuple(rings), tuple(fixed), nodes, sizes))
    return sheets


def _room(rings: Sequence[Ring], nodes: np.ndarray) -> np.ndarray:
    """For nodes that are to lie inside, how far the nearest edge or other such node is."""
    if not len(nodes):
        return np.empty(0)
    room = shapely.distance(_polygon(rings).boundary, shapely.points(nodes))
    apart = np.hypot(*(nodes[:, None] - nodes[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    return np.minimum(room, apart.min(axis=1))


_Parts = list[tuple[list[Ring], list[bool]]]


def _polygon(rings: Sequence[Ring]) -> shapely.Polygon:
    return shapely.Polygon(rings[0].points, [ring.points for ring in rings[1:]])


def _loop(points: np.ndarray) -> Ring:
    return Ring(points, np.full(len(points), -1))


def _follow_circle(
    parts: _Parts, centre: Point, diameter: float, points: Sequence[Point], wishes: Wishes, thickness: float
) -> None:
    """Part the metal along a circle, unless it comes too close to an edge or to a point where a node must lie."""
    disk = shapely.Point(centre).buffer(0.5 * diameter, quad_segs=32)
    for rings, fixed in list(parts):
        polygon = _polygon(rings)
        clear = polygon.boundary.distance(disk.exterior)
        if points:
            clear = min(clear, min(disk.exterior.distance(shapely.Point(point)) for point in points))
        if clear < 0.5 * thickness or not polygon.intersects(disk.exterior):
            continue
        inside = [i for i in range(1, len(rings)) if disk.contains(shapely.Point(rings[i].points[0]))]
        longest = min(wishes.size_mm, 1.3 * clear)
        count, radius = hole_corners(diameter, wishes.hole_segments, longest)
        angle = 2 * math.pi * np.arange(count) / count
        circle = np.asarray(centre) + radius * np.column_stack([np.cos(angle), np.sin(angle)])
        if not polygon.contains_properly(shapely.LineString(circle)):
            continue
        parts.append(([_loop(circle), *(rings[i] for i in inside)], [True, *(fixed[i] for i in inside)]))
        for i in reversed(inside):
            del rings[i], fixed[i]
        rings.append(_loop(circle[::-1]))
        fixed.append(True)
        return


def _placed(parts: _Parts, point: Point, thickness: float, name: str) -> int | None:
    """The number of the piece a hard point lies inside; None when it was put on an edge."""
    spot = shapely.Point(point)
    polygons = [_polygon(rings) for rings, _ in parts]
    nearest = min(range(len(parts)), key=lambda i: float(polygons[i].distance(spot)), default=None)
    if nearest is None or polygons[nearest].distance(spot) > SNAP_PER_THICKNESS * thickness:
        raise MeshError(f"the point ({point[0]:g}, {point[1]:g}) lies off the metal of panel {name!r}")
    if polygons[nearest].boundary.distance(spot) > SNAP_PER_THICKNESS * thickness:
        return nearest
    _put_on_edge(*parts[nearest], point)
    return None


def _put_on_edge(rings: list[Ring], fixed: Sequence[bool], point: Point) -> None:
    spot = np.asarray(point)
    nearest: tuple[float, int, int, np.ndarray] | None = None
    for number, ring in enumerate(rings):
        start, end = ring.points, np.roll(ring.points, -1, axis=0)
        along = end - start
        share = np.clip(np.sum((spot - start) * along, axis=1) / np.sum(along * along, axis=1), 0, 1)
        foot = start + share[:, None] * along
        away = np.hypot(*(foot - spot).T)
        i = int(np.argmin(away))
        if nearest is None or away[i] < nearest[0]:
            nearest = (float(away[i]), number, i, foot[i])
    if nearest is None:
        return
    _, number, i, place = nearest
    ring = rings[number]
    ends = ring.points[[i, (i + 1) % len(ring.points)]]
    if fixed[number] or np.hypot(*(ends - place).T).min() < 0.05 * np.hypot(*(ends[1] - ends[0])):
        return
    rings[number] = Ring(np.insert(ring.points, i + 1, place, axis=0), np.insert(ring.lines, i + 1, ring.lines[i]))


@dataclass(frozen=True)
class _Meeting:
    """Where an edge of a piece of a panel lies on a tangent line: from and to along the line."""

    low: float
    high: float
    sheet: int
    line: TangentLine


def _meetings(sheets: Sequence[_Sheet], lines: Sequence[Sequence[TangentLine]]) -> dict[int, list[_Meeting]]:
    found: dict[int, list[_Meeting]] = {}
    for index, sheet in enumerate(sheets):
        by_number = {line.number: line for line in lines[sheet.panel]}
        for ring in sheet.rings:
            for i in np.flatnonzero(ring.lines >= 0):
                line = by_number[int(ring.lines[i])]
                along, _ = line.place(ring.points[[i, (i + 1) % len(ring.points)]])
                found.setdefault(line.number, []).append(_Meeting(min(along), max(along), index, line))
    return found


def _strip(
    part: Part, number: int, meets: Mapping[int, list[_Meeting]], sheets: Sequence[_Sheet], wishes: Wishes
) -> tuple[Rows, StripTriangles]:
    bend = part.bends[number]
    at, sizes, breaks = [np.array([0.0, bend.length_mm])], [np.full(2, wishes.size_mm)], []
    for line, panel in ((2 * number, bend.parent), (2 * number + 1, bend.child)):
        edges = meets.get(line, [])
        if not edges and not part.panels[panel].faces:
            _check_free_end(part, panel)
            breaks.append(np.empty(0))
            continue
        if not edges:
            other = part.panels[bend.child if panel == bend.parent else bend.parent].name
            raise MeshError(f"panel {part.panels[panel].name!r} has no metal at its bend to {other!r}")
        breaks.append(np.unique([x for e in edges for x in (e.low, e.high)]))
        for edge in edges:
            count = max(8, int(3 * (edge.high - edge.low) / wishes.size_mm))
            xs = np.linspace(edge.low, edge.high, min(count, 400))
            at.append(xs)
            sizes.append(sheets[edge.sheet].field.at(edge.line.at(xs)))
    places, wanted = np.concatenate(at), np.concatenate(sizes)
    order = np.argsort(places, kind="stable")
    share = FINE_EDGE_SHARE
    if bend.parent in wishes.finer or bend.child in wishes.finer:
        share *= 0.75**wishes.attempt
    rows = strip_rows(bend, row_count(bend, wishes.bend_facets, float(wanted.min()), share), *breaks)
    strip = strip_triangles(rows, places[order], wanted[order])
    if not len(strip.triangles):
        parent, child = part.panels[bend.parent].name, part.panels[bend.child].name
        raise MeshError(f"the bend between {parent!r} and {child!r} has no metal")
    return rows, strip


def _check_free_end(part: Part, panel: int) -> None:
    """A panel without metal is the free end of a curl; between two bends that touch no nodes are shared."""
    if sum(panel in (b.parent, b.child) for b in part.bends) > 1:
        raise MeshError(
            f"two bends of {part.name!r} touch at {part.panels[panel].name!r}, without flat metal between them; "
            "draw at least one thickness of flat there"
        )


def _divided(
    sheet: _Sheet, lines: Sequence[TangentLine], rows: Sequence[Rows], strips: Sequence[StripTriangles]
) -> Piece:
    by_number = {line.number: line for line in lines}
    rings = []
    for ring, fixed in zip(sheet.rings, sheet.fixed, strict=True):
        if fixed:
            rings.append(ring.points)
            continue
        stops: list[np.ndarray] = []
        free: list[bool] = []
        for i, start in enumerate(ring.points):
            end = ring.points[(i + 1) % len(ring.points)]
            own = np.concatenate([start[None], _steps_on(by_number, int(ring.lines[i]), start, end, strips)])
            stops.append(own)
            free.extend(_not_in_bend(by_number, int(ring.lines[i]), own, end, rows))
        points = np.concatenate(stops)
        following, open_edge = np.roll(points, -1, axis=0), np.asarray(free)
        between = iter(divided(points[open_edge], following[open_edge], sheet.field))
        filled = [np.concatenate([p[None], next(between)]) if f else p[None] for p, f in zip(points, free, strict=True)]
        rings.append(np.concatenate(filled))
    return Piece(tuple(rings), sheet.field, sheet.inner)


def _steps_on(
    lines: Mapping[int, TangentLine], number: int, start: np.ndarray, end: np.ndarray, strips: Sequence[StripTriangles]
) -> np.ndarray:
    """A bend's nodes strictly between the ends of an edge on its tangent line, in the edge's sense."""
    if number < 0:
        return np.empty((0, 2))
    line = lines[number]
    xs = strips[number // 2].xs[-1 if number % 2 else 0]
    (first, last), _ = line.place(np.array([start, end]))
    between = xs[(xs > min(first, last) + 1e-6) & (xs < max(first, last) - 1e-6)]
    return line.at(between if last > first else between[::-1])


def _not_in_bend(
    lines: Mapping[int, TangentLine], number: int, stops: np.ndarray, end: np.ndarray, rows: Sequence[Rows]
) -> list[bool]:
    """For each piece of an edge, whether no bend's metal lies along it, so that it may be divided."""
    if number < 0:
        return [True] * len(stops)
    own = rows[number // 2]
    row = own.count - 1 if number % 2 else 0
    covered = [t.upper if number % 2 else t.lower for t in own.trapezoids if t.row == row]
    middles = 0.5 * (stops + np.concatenate([stops[1:], end[None]]))
    return [not any(low < x < high for low, high in covered) for x in lines[number].place(middles)[0]]
