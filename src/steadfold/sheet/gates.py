"""Bends on the edges of a panel: how far along its edge each may run beside the others.

Where two bends meet in a corner, both stop at the other's tangent line; a bend beside the one the panel hangs by
gives way to it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from steadfold.sheet.outline import Point
from steadfold.sheet.tree import TreeError

TOUCHING_MM = 1e-6
LEAST_GAP_MM = 0.5
"""Two bends on one edge closer than this cannot be cut apart (a kerf and a little metal)."""


@dataclass(frozen=True)
class Gate:
    """A bend on one edge of a panel: from `start` to `end` along the edge (run anticlockwise), and how far its
    tangent line lies inside the edge (`setback_mm`). `relief_width_mm` and `relief_depth_mm` are those of the
    notch beside it where it needs one; the depth is measured from the edge."""

    edge: int
    start_mm: float
    end_mm: float
    setback_mm: float
    relief_width_mm: float
    relief_depth_mm: float
    relief_round: bool
    neighbour: str
    keeps: bool = False
    """True for the bend a panel hangs by: bends beside it give way to it."""


@dataclass(frozen=True)
class Edge:
    """One segment of the nominal outline, run anticlockwise."""

    start: Point
    end: Point
    bulge: float

    @property
    def length(self) -> float:
        """From end to end, mm."""
        return math.dist(self.start, self.end)

    @property
    def along(self) -> Point:
        """Unit direction from start to end."""
        length = self.length
        return ((self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length)

    def at(self, along_mm: float, inward_mm: float) -> Point:
        """A point so far along the edge and so far into the metal."""
        ux, uy = self.along
        return (
            self.start[0] + along_mm * ux - inward_mm * uy,
            self.start[1] + along_mm * uy + inward_mm * ux,
        )

    def share(self, point: Point) -> float:
        """How far along the edge the foot of a point lies, mm."""
        ux, uy = self.along
        return (point[0] - self.start[0]) * ux + (point[1] - self.start[1]) * uy


def on_edge(gates: Sequence[Gate], edge: int) -> list[Gate]:
    """The gates on one edge, in the order they come along it."""
    return sorted((g for g in gates if g.edge == edge), key=lambda g: g.start_mm)


def clipped_gates(panel: str, edges: list[Edge], gates: list[Gate]) -> list[Gate]:
    """The gates shortened to their edge and to where neighbouring bends let them reach."""
    count = len(edges)
    out = [replace(g, start_mm=max(g.start_mm, 0.0), end_mm=min(g.end_mm, edges[g.edge].length)) for g in gates]
    out = [_off_inward_corners(edges, gate) for gate in _given_way(edges, out)]
    for index in range(count):
        before, here = on_edge(out, index - 1 if index else count - 1), on_edge(out, index)
        if not here:
            continue
        first = here[0]
        limit = _corner_limit(edges[index - 1], edges[index], before[-1] if before else None, first)
        if limit is not None:
            out[out.index(first)] = replace(first, start_mm=max(first.start_mm, limit))
    for index in range(count):
        here, after = on_edge(out, index), on_edge(out, (index + 1) % count)
        if not here:
            continue
        last = here[-1]
        limit = _corner_limit_at_end(edges[index], edges[(index + 1) % count], last, after[0] if after else None)
        if limit is not None:
            out[out.index(last)] = replace(last, end_mm=min(last.end_mm, limit))
    for index in range(count):
        here = on_edge(out, index)
        for one, two in itertools.pairwise(here):
            if two.start_mm - one.end_mm < LEAST_GAP_MM - TOUCHING_MM:
                raise TreeError(
                    panel,
                    "offset",
                    f"the bends to {one.neighbour!r} and {two.neighbour!r} on one edge of {panel!r} are "
                    f"{two.start_mm - one.end_mm:.2f} mm apart; leave {LEAST_GAP_MM} mm or more between them",
                )
    for gate in out:
        if gate.end_mm - gate.start_mm < LEAST_GAP_MM:
            raise TreeError(
                panel,
                "offset",
                f"the bend between {panel!r} and {gate.neighbour!r} has no length left on its edge",
            )
    return out


def _off_inward_corners(edges: list[Edge], gate: Gate) -> Gate:
    """A gate kept a relief's width off corners that point into the metal, where its flange would touch the
    neighbouring edge in the flat."""
    edge, before, after = edges[gate.edge], edges[gate.edge - 1], edges[(gate.edge + 1) % len(edges)]
    start, end = gate.start_mm, gate.end_mm
    if not before.bulge and turn_between(before, edge) < -TOUCHING_MM:
        start = max(start, gate.relief_width_mm)
    if not after.bulge and turn_between(edge, after) < -TOUCHING_MM:
        end = min(end, edge.length - gate.relief_width_mm)
    return replace(gate, start_mm=start, end_mm=end)


def _given_way(edges: list[Edge], gates: list[Gate]) -> list[Gate]:
    """Bends next to the one the panel hangs by, moved off the corner so that a relief fits between."""
    own = next((g for g in gates if g.keeps), None)
    if own is None:
        return gates
    count = len(edges)
    out = list(gates)
    following = on_edge(out, (own.edge + 1) % count)
    if following and edges[own.edge].length - own.end_mm < own.relief_width_mm + following[0].setback_mm:
        gate = following[0]
        clear = own.relief_depth_mm + gate.relief_width_mm
        out[out.index(gate)] = replace(gate, start_mm=max(gate.start_mm, clear))
    before = on_edge(out, (own.edge - 1) % count)
    if before and own.start_mm < own.relief_width_mm + before[-1].setback_mm:
        gate = before[-1]
        clear = edges[(own.edge - 1) % count].length - own.relief_depth_mm - gate.relief_width_mm
        out[out.index(gate)] = replace(gate, end_mm=min(gate.end_mm, clear))
    return out


def reaches(gate: Gate | None, margin_mm: float, other_setback_mm: float) -> bool:
    """Whether a bend ends so near the corner that no relief fits between it and the bend round the corner."""
    return gate is not None and margin_mm < other_setback_mm + gate.relief_width_mm


def _corner_limit(before: Edge, here: Edge, other: Gate | None, first: Gate) -> float | None:
    """Least start of the first gate of an edge, given the last gate of the edge before; None for no limit."""
    if before.bulge or first.start_mm > first.setback_mm + first.relief_width_mm + (other.setback_mm if other else 0):
        return None
    if other is not None and not reaches(other, before.length - other.end_mm, first.setback_mm):
        other = None
    if other is not None and not reaches(first, first.start_mm, other.setback_mm):
        return None
    if turn_between(before, here) <= TOUCHING_MM:
        return None
    point = lines_meet(before, other.setback_mm if other else 0.0, here, first.setback_mm)
    if point is None or (other is None and first.start_mm > TOUCHING_MM):
        return None
    return here.share(point)


def _corner_limit_at_end(here: Edge, after: Edge, last: Gate, other: Gate | None) -> float | None:
    """Greatest end of the last gate of an edge, given the first gate of the edge after; None for no limit."""
    margin = here.length - last.end_mm
    if after.bulge or margin > last.setback_mm + last.relief_width_mm + (other.setback_mm if other else 0):
        return None
    if other is not None and not reaches(other, other.start_mm, last.setback_mm):
        other = None
    if other is not None and not reaches(last, margin, other.setback_mm):
        return None
    if turn_between(here, after) <= TOUCHING_MM:
        return None
    point = lines_meet(here, last.setback_mm, after, other.setback_mm if other else 0.0)
    if point is None or (other is None and margin > TOUCHING_MM):
        return None
    return here.share(point)


def turn_between(one: Edge, two: Edge) -> float:
    """Sine of the left turn from one straight edge to the next; negative at a corner that points inwards."""
    (ax, ay), (bx, by) = one.along, two.along
    return ax * by - ay * bx


def lines_meet(one: Edge, one_inward: float, two: Edge, two_inward: float) -> Point | None:
    """Where the lines of two edges, each moved so far into the metal, meet; None when they are parallel."""
    (ax, ay), (bx, by) = one.along, two.along
    cross = ax * by - ay * bx
    if abs(cross) < 1e-6:
        return None
    px, py = one.at(0.0, one_inward)
    qx, qy = two.at(0.0, two_inward)
    share = ((qx - px) * by - (qy - py) * bx) / cross
    return (px + share * ax, py + share * ay)
