"""From a panel by outside dimensions to the plane metal between its tangent lines, reliefs made.

An edge that carries a bend is moved in by the bend's setback. Where a bend ends inside an edge, a relief is
cut beside it; where two bends meet in a corner, both stop at the other's tangent line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from steadfold.sheet.gates import TOUCHING_MM, Edge, Gate, clipped_gates, lines_meet, on_edge, reaches, turn_between
from steadfold.sheet.outline import Outline, Point, arc_of
from steadfold.sheet.tree import TreeError


@dataclass(frozen=True)
class Trimmed:
    """The plane metal of a panel, the gates as they ended up (same order as given), and how many reliefs were cut."""

    outline: Outline
    gates: tuple[Gate, ...]
    reliefs: int


def trim(panel: str, outline: Outline, gates: Sequence[Gate], corner_radius_mm: float = 0.0) -> Trimmed:
    """Cut a panel's outline back to its tangent lines and make the reliefs.

    `outline` runs anticlockwise; gates name its segments. Raises `TreeError` where bends overlap, touch, or
    leave no metal.
    """
    edges = [Edge(*segment) for segment in outline.segments()]
    clipped = clipped_gates(panel, edges, list(gates))
    walk = _Walk(edges, clipped)
    for index in range(len(edges)):
        walk.edge(index)
    result = _rounded(walk, corner_radius_mm)
    _check(panel, result)
    return Trimmed(result, tuple(clipped), walk.reliefs)


def _margin_at_start(before: Edge, edge: Edge, first: Gate) -> float:
    """Metal left between the corner and a bend's start, along the tangent line or along the edge, the less."""
    if before.bulge:
        return first.start_mm
    point = lines_meet(before, 0.0, edge, first.setback_mm)
    return first.start_mm - (0.0 if point is None else max(edge.share(point), 0.0))


def _margin_at_end(edge: Edge, after: Edge, last: Gate) -> float:
    """Metal left between a bend's end and the corner, along the tangent line or along the edge, the less."""
    if after.bulge:
        return edge.length - last.end_mm
    point = lines_meet(edge, last.setback_mm, after, 0.0)
    return (edge.length if point is None else min(edge.share(point), edge.length)) - last.end_mm


class _Walk:
    """Once round a panel, writing down the points of its trimmed outline."""

    def __init__(self, edges: list[Edge], gates: list[Gate]):
        self.edges = edges
        self.gates = gates
        self.points: list[Point] = []
        self.bulges: list[float] = []
        self.corner: list[bool] = []
        self.reliefs = 0

    def put(self, point: Point, bulge: float = 0.0, corner: bool = False) -> None:
        self.points.append(point)
        self.bulges.append(bulge)
        self.corner.append(corner)

    def edge(self, index: int) -> None:
        """Everything from an edge's first corner to just before its last."""
        edge, here = self.edges[index], on_edge(self.gates, index)
        before = self.edges[index - 1]
        behind = on_edge(self.gates, (index - 1) % len(self.edges))
        self._first_corner(edge, here, before, behind)
        for number, gate in enumerate(here):
            self.put(edge.at(gate.start_mm, gate.setback_mm))
            self.put(edge.at(gate.end_mm, gate.setback_mm))
            following = here[number + 1] if number + 1 < len(here) else None
            if following is not None:
                self._between(edge, gate, following)
        if here:
            self._last_corner(edge, here[-1], self.edges[(index + 1) % len(self.edges)], (index + 1) % len(self.edges))

    def _first_corner(self, edge: Edge, here: list[Gate], before: Edge, behind: list[Gate]) -> None:
        """The corner between the edge before and this one, and the relief before the first bend if it needs one."""
        shared = bool(behind) and self._last_reaches(before, behind[-1], edge, here)
        if not here:
            if not shared:
                self.put(edge.start, edge.bulge, corner=not edge.bulge and not before.bulge)
            else:
                self._edge_after_bend(edge, before, behind[-1])
            return
        first = here[0]
        inward_corner = not before.bulge and turn_between(before, edge) < -TOUCHING_MM
        margin = _margin_at_start(before, edge, first)
        if shared:
            point = lines_meet(before, behind[-1].setback_mm, edge, first.setback_mm)
            if point is not None and reaches(first, margin, behind[-1].setback_mm):
                self.put(point)
                return
            self._edge_after_bend(edge, before, behind[-1])
            self._relief_before(edge, first)
            return
        if inward_corner or margin > first.relief_width_mm + TOUCHING_MM:
            self.put(edge.start, corner=not before.bulge and not inward_corner)
            self._relief_before(edge, first)
            return
        self._flush_start(edge, first, before)

    def _last_reaches(self, edge: Edge, last: Gate, after: Edge, ahead: list[Gate]) -> bool:
        """Whether the last bend of an edge runs up to the corner, so that the corner itself is cut back."""
        if not after.bulge and turn_between(edge, after) < -TOUCHING_MM:
            return False
        margin = _margin_at_end(edge, after, last)
        if margin <= last.relief_width_mm + TOUCHING_MM:
            return True
        if not ahead or after.bulge:
            return False
        other = ahead[0]
        return reaches(last, margin, other.setback_mm) and reaches(other, other.start_mm, last.setback_mm)

    def _edge_after_bend(self, edge: Edge, before: Edge, last: Gate) -> None:
        """Start of an edge whose first corner was cut back by the bend on the edge before."""
        flush = _margin_at_end(before, edge, last) <= TOUCHING_MM
        inward = last.setback_mm if flush else last.relief_depth_mm
        if edge.bulge:
            point = _line_arc_meet(before, inward, edge)
            (cx, cy), _, _, turn = arc_of(edge.start, edge.end, edge.bulge)
            a = math.atan2(point[1] - cy, point[0] - cx)
            b = math.atan2(edge.end[1] - cy, edge.end[0] - cx)
            left = (b - a) % (2 * math.pi) if turn > 0 else -((a - b) % (2 * math.pi))
            self.put(point, math.tan(left / 4))
            return
        point_or_none = lines_meet(before, inward, edge, 0.0)
        self.put(point_or_none if point_or_none is not None else edge.start)

    def _relief_before(self, edge: Edge, gate: Gate) -> None:
        width, depth = gate.relief_width_mm, gate.relief_depth_mm
        self.reliefs += 1
        self.put(edge.at(gate.start_mm - width, 0.0))
        self._notch(edge, gate.start_mm - width, gate.start_mm, depth, gate.relief_round)

    def _relief_after(self, edge: Edge, gate: Gate) -> None:
        width, depth = gate.relief_width_mm, gate.relief_depth_mm
        self.reliefs += 1
        self._notch(edge, gate.end_mm, gate.end_mm + width, depth, gate.relief_round)
        self.put(edge.at(gate.end_mm + width, 0.0))

    def _notch(self, edge: Edge, left: float, right: float, depth: float, rounded: bool) -> None:
        """The bottom of a notch from left to right; its sides follow from the points before and after."""
        if rounded:
            self.put(edge.at(left, depth), -1.0)
            self.put(edge.at(right, depth))
        else:
            self.put(edge.at(left, depth))
            self.put(edge.at(right, depth))

    def _between(self, edge: Edge, one: Gate, two: Gate) -> None:
        gap = two.start_mm - one.end_mm
        if gap <= one.relief_width_mm + two.relief_width_mm + 2.0:
            depth = max(one.relief_depth_mm, two.relief_depth_mm)
            self.reliefs += 1
            self._notch(edge, one.end_mm, two.start_mm, depth, one.relief_round and gap < 6 * depth)
            return
        self._relief_after(edge, one)
        self._relief_before(edge, two)

    def _flush_start(self, edge: Edge, first: Gate, before: Edge) -> None:
        """A bend that starts at (or within a relief's width of) its edge's first corner."""
        flush = _margin_at_start(before, edge, first) <= TOUCHING_MM
        inward = first.setback_mm if flush else first.relief_depth_mm
        if before.bulge:
            point = _line_arc_meet(edge, inward, before)
            self._shorten_last_arc(before, point)
            self.put(point)
        else:
            meeting = lines_meet(before, 0.0, edge, inward)
            if (meeting is not None and edge.share(meeting) < first.start_mm - TOUCHING_MM) or not flush:
                self.put(meeting if meeting is not None else edge.at(0.0, inward))
        if not flush:
            self.reliefs += 1
            self.put(edge.at(first.start_mm, inward))

    def _shorten_last_arc(self, arc: Edge, point: Point) -> None:
        if not self.points:
            return
        (cx, cy), _, _, turn = arc_of(arc.start, arc.end, arc.bulge)
        a = math.atan2(self.points[-1][1] - cy, self.points[-1][0] - cx)
        b = math.atan2(point[1] - cy, point[0] - cx)
        left = (b - a) % (2 * math.pi) if turn > 0 else -((a - b) % (2 * math.pi))
        self.bulges[-1] = math.tan(left / 4)

    def _last_corner(self, edge: Edge, last: Gate, after: Edge, after_index: int) -> None:
        """The end of an edge after its last bend, up to (not including) the next corner's own point."""
        ahead = on_edge(self.gates, after_index)
        if not self._last_reaches(edge, last, after, ahead):
            self._relief_after(edge, last)
            return
        if _margin_at_end(edge, after, last) > TOUCHING_MM and not (
            ahead and not after.bulge and reaches(ahead[0], ahead[0].start_mm, last.setback_mm)
        ):
            self.reliefs += 1
            self.put(edge.at(last.end_mm, last.relief_depth_mm))


def _line_arc_meet(line: Edge, inward: float, arc: Edge) -> Point:
    """Where a line parallel to an edge meets an arc, nearest to the arc's end that touches the edge."""
    (cx, cy), radius, _, _ = arc_of(arc.start, arc.end, arc.bulge)
    px, py = line.at(0.0, inward)
    ux, uy = line.along
    foot = (cx - px) * ux + (cy - py) * uy
    off = (cx - px) * uy - (cy - py) * ux
    half = math.sqrt(max(radius * radius - off * off, 0.0))
    near = arc.start if math.dist(arc.start, line.end) < math.dist(arc.end, line.start) else arc.end
    candidates = [(px + (foot + s) * ux, py + (foot + s) * uy) for s in (-half, half)]
    return min(candidates, key=lambda p: math.dist(p, near))


def _rounded(walk: _Walk, radius_mm: float) -> Outline:
    """The walked points as an outline, with nominal corners rounded and doubled points dropped."""
    points, bulges, corner = walk.points, walk.bulges, walk.corner
    kept = [i for i in range(len(points)) if math.dist(points[i], points[(i + 1) % len(points)]) > TOUCHING_MM]
    points, bulges, corner = [points[i] for i in kept], [bulges[i] for i in kept], [corner[i] for i in kept]
    if radius_mm <= 0:
        return Outline(tuple(points), tuple(bulges))
    out_points: list[Point] = []
    out_bulges: list[float] = []
    count = len(points)
    for i in range(count):
        before, here, after = points[i - 1], points[i], points[(i + 1) % count]
        arc = None if not corner[i] or bulges[i] or bulges[i - 1] else _corner_arc(before, here, after, radius_mm)
        if arc is None:
            out_points.append(here)
            out_bulges.append(bulges[i])
        else:
            start, end, bulge = arc
            out_points += [start, end]
            out_bulges += [bulge, bulges[i]]
    return Outline(tuple(out_points), tuple(out_bulges))


def _corner_arc(before: Point, here: Point, after: Point, radius: float) -> tuple[Point, Point, float] | None:
    one, two = math.dist(before, here), math.dist(here, after)
    ux, uy = (here[0] - before[0]) / one, (here[1] - before[1]) / one
    vx, vy = (after[0] - here[0]) / two, (after[1] - here[1]) / two
    turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    if turn < 1e-3:
        return None
    back = min(radius * math.tan(turn / 2), 0.49 * one, 0.49 * two)
    return (
        (here[0] - back * ux, here[1] - back * uy),
        (here[0] + back * vx, here[1] + back * vy),
        math.tan(turn / 4),
    )


def _check(panel: str, outline: Outline) -> None:
    polygon = outline.polygon()
    if outline.area_mm2 <= 0 or not polygon.is_valid:
        raise TreeError(
            panel,
            "size",
            f"nothing sound is left of panel {panel!r} between its bends and reliefs; make it larger or its bends fewer",
        )
