"""The edges of a part in a view, as lines in mm: what is visible, what is hidden, nothing drawn twice."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from steadfold.deliver.hidden import hidden_spans
from steadfold.deliver.surface import BEND, EDGE, Ridges, Surface
from steadfold.deliver.view import View

EDGE_ON = 1e-6
"""A facet whose normal has a smaller part toward the viewer is not seen."""

SHORTEST_MM = 2e-3
"""Shorter pieces are left out."""

MEET_MM = 1e-3
"""Ends nearer than this are one point."""

PARALLEL_RAD, ASIDE_MM = 5e-5, 0.01
"""Straight pieces fall on each other when they are this parallel and this little aside; corners of outlines are
exact to about 1e-4 mm."""

LineKind = Literal["edge", "bend"]


@dataclass(frozen=True)
class Line:
    """A line in a view: points (n, 2) in mm, whether it is visible, and whether it is an edge or outline of the metal
    or only a tangent line of a bend."""

    points: np.ndarray
    visible: bool
    kind: LineKind = "edge"


def visible_edges(surface: Surface, view: View, hidden: bool = True) -> tuple[Line, ...]:
    """All edges and outlines of a surface in a view, split where they pass behind it.

    Lines that fall on each other are given once, a visible one rather than a hidden one, an edge rather than
    a tangent line; hidden tangent lines are left out. Lines that go on from each other are joined, so that dashes
    run through. Without `hidden` the hidden ones are left out.
    """
    lines, kinds, facing = _candidates(surface.ridges, view)
    triangles = view.seen(surface.corners)[surface.triangles]
    triangles = triangles[_toward(triangles) > 0]
    visible, covered = _split(lines, facing, triangles)
    edge, bend = kinds[visible[0]] == EDGE, kinds[visible[0]] == BEND
    layers = [visible[1][edge]]
    layers.append(covered[1][kinds[covered[0]] == EDGE] if hidden else np.empty((0, 2, 2)))
    layers.append(visible[1][bend])
    seen, behind, tangents = _each_once(layers)
    made = [Line(points, True) for points in _joined(seen)]
    made += [Line(points, False) for points in _joined(behind)]
    made += [Line(points, True, "bend") for points in _joined(tangents)]
    return tuple(made)


def visible_pieces(lines: np.ndarray, surface: Surface, view: View) -> np.ndarray:
    """The visible pieces (s, 2, 2) in the view of straight lines in space (k, 2, 3) that lie on or off a surface."""
    triangles = view.seen(surface.corners)[surface.triangles]
    triangles = triangles[_toward(triangles) > 0]
    return _split(view.seen(lines), np.ones(len(lines), dtype=bool), triangles)[0][1]


def lines_beyond(lines: Iterable[Line], known: Iterable[Line], visible: bool = True) -> tuple[Line, ...]:
    """The visible (or the hidden) edges among lines without what falls on the like lines already known, rejoined."""
    layers = [_pieces(line.points for line in known if line.visible or not visible)]
    layers.append(_pieces(line.points for line in lines if line.visible == visible and line.kind == "edge"))
    return tuple(Line(points, visible) for points in _joined(_each_once(layers)[1]))


def drawn_length(lines: Iterable[Line]) -> float:
    """Length of lines in the picture, mm."""
    return float(sum(np.linalg.norm(np.diff(line.points, axis=0), axis=1).sum() for line in lines))


def _pieces(chains: Iterable[np.ndarray]) -> np.ndarray:
    parts = [np.stack([points[:-1], points[1:]], axis=1) for points in chains]
    return np.concatenate(parts) if parts else np.empty((0, 2, 2))


def _toward(triangles: np.ndarray) -> np.ndarray:
    one, other = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    return one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]


def _candidates(ridges: Ridges, view: View) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Ridges that may be drawn, in the view; a line that only shows as outline is kept where it is one."""
    faces = ridges.normals @ view.toward > EDGE_ON
    outline = faces[:, 0] != faces[:, 1]
    kinds = np.where(outline, EDGE, ridges.kinds)
    lines = view.seen(ridges.ends)
    long = np.hypot(*(lines[:, 1, :2] - lines[:, 0, :2]).T) > 1e-9
    kept = long & ((kinds == EDGE) | (kinds == BEND))
    return lines[kept], kinds[kept], faces[kept].any(axis=1)


_Pieces = tuple[np.ndarray, np.ndarray]
"""The line each piece was cut from (s,), and its ends in the picture (s, 2, 2)."""


def _split(lines: np.ndarray, facing: np.ndarray, triangles: np.ndarray) -> tuple[_Pieces, _Pieces]:
    """Visible and hidden pieces; a line between two facets that look away is hidden as a whole."""
    front = np.flatnonzero(facing)
    of_line, spans = hidden_spans(lines[front], triangles)
    of_line = front[of_line]
    lengths = np.hypot(*(lines[:, 1, :2] - lines[:, 0, :2]).T)
    # Between the hidden spans of a line lie its visible ones, from its start and to its end.
    starts = np.concatenate([front, of_line])
    begins = np.concatenate([np.zeros(len(front)), spans[:, 1]])
    ends_of = np.concatenate([of_line, front])
    ends = np.concatenate([spans[:, 0], np.ones(len(front))])
    begin_order, end_order = np.lexsort((begins, starts)), np.lexsort((ends, ends_of))
    number = starts[begin_order]
    seen = np.column_stack([begins[begin_order], ends[end_order]])
    long = (seen[:, 1] - seen[:, 0]) * lengths[number] > np.minimum(SHORTEST_MM, 0.5 * lengths[number])
    back = np.flatnonzero(~facing)
    covered_of = np.concatenate([of_line, back])
    covered = np.concatenate([spans, np.broadcast_to([0.0, 1.0], (len(back), 2))])
    return _cut(lines, number[long], seen[long]), _cut(lines, covered_of, covered)


def _cut(lines: np.ndarray, number: np.ndarray, spans: np.ndarray) -> _Pieces:
    start, step = lines[number, 0, :2], lines[number, 1, :2] - lines[number, 0, :2]
    return number, np.stack([start + spans[:, :1] * step, start + spans[:, 1:] * step], axis=1)


def _each_once(layers: Sequence[np.ndarray]) -> list[np.ndarray]:
    """The pieces of each layer without what an earlier piece of it, or an earlier layer, already covers."""
    pieces = np.concatenate(layers)
    layer = np.repeat(np.arange(len(layers)), [len(each) for each in layers])
    if not len(pieces):
        return [np.empty((0, 2, 2)) for _ in layers]
    cluster, along = _directions(pieces)
    offset = pieces[:, 0, 1] * along[:, 0] - pieces[:, 0, 0] * along[:, 1]
    order = np.lexsort((offset, cluster))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(cluster[order]) > 0) | (np.diff(offset[order]) > ASIDE_MM)
    group = np.cumsum(new) - 1
    kept: list[list[np.ndarray]] = [[] for _ in layers]
    for members in np.split(order, np.flatnonzero(np.diff(group)) + 1):
        if len(members) == 1:
            kept[layer[members[0]]].append(pieces[members])
            continue
        first = pieces[members[0], 0]
        direction = along[members[0]]
        ways = np.sort((pieces[members] - first) @ direction, axis=1)
        covered: list[tuple[float, float]] = []
        for number in range(len(layers)):
            mine = _union(ways[layer[members] == number])
            for low, high in _minus(mine, covered):
                kept[number].append(np.array([[first + low * direction, first + high * direction]]))
            covered = _union(np.array([*covered, *mine]).reshape(-1, 2))
    return [np.concatenate(each) if each else np.empty((0, 2, 2)) for each in kept]


def _directions(pieces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each piece the number of its direction, either way along it, and that direction's unit vector."""
    step = pieces[:, 1] - pieces[:, 0]
    angle = np.mod(np.arctan2(step[:, 1], step[:, 0]) + PARALLEL_RAD, math.pi) - PARALLEL_RAD
    order = np.argsort(angle)
    cluster = np.empty(len(angle), dtype=int)
    cluster[order] = np.cumsum(np.concatenate([[0], np.diff(angle[order]) > PARALLEL_RAD]))
    mean = np.bincount(cluster, weights=angle) / np.bincount(cluster)
    return cluster, np.column_stack([np.cos(mean), np.sin(mean)])[cluster]


def _union(spans: np.ndarray) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for low, high in sorted(map(tuple, spans.tolist())):
        if joined and low <= joined[-1][1] + MEET_MM:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return joined


def _minus(spans: Iterable[tuple[float, float]], covered: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    left = []
    for low, high in spans:
        at = low
        for start, end in covered:
            if start > at:
                left.append((at, min(start, high)))
            at = max(at, end)
        left.append((at, high))
    return [(low, high) for low, high in left if high - low > MEET_MM]


def _joined(pieces: np.ndarray) -> list[np.ndarray]:
    """Pieces joined end to end wherever exactly two meet, and straight runs as one."""
    keys = np.round(pieces.reshape(-1, 2) / MEET_MM).astype(np.int64)
    _, nodes = np.unique(keys, axis=0, return_inverse=True)
    nodes = nodes.reshape(-1, 2)
    at_node: dict[int, list[int]] = defaultdict(list)
    for i, (a, b) in enumerate(nodes.tolist()):
        at_node[a].append(i)
        at_node[b].append(i)
    used = np.zeros(len(pieces), dtype=bool)
    chains = []
    ends_first = sorted(range(len(pieces)), key=lambda i: all(len(at_node[n]) == 2 for n in nodes[i].tolist()))
    for first in ends_first:
        if used[first]:
            continue
        a, b = nodes[first].tolist()
        from_end = len(at_node[a]) == 2 and len(at_node[b]) != 2
        node, points = (a, [pieces[first, 1], pieces[first, 0]]) if from_end else (b, list(pieces[first]))
        used[first] = True
        while len(at_node[node]) == 2:
            following = next((i for i in at_node[node] if not used[i]), None)
            if following is None:
                break
            used[following] = True
            ahead = nodes[following, 0] == node
            points.append(pieces[following, 1 if ahead else 0])
            node = int(nodes[following, 1 if ahead else 0])
        chains.append(_straightened(np.array(points)))
    return chains


def _straightened(points: np.ndarray) -> np.ndarray:
    if len(points) < 3:
        return points
    before, after = points[1:-1] - points[:-2], points[2:] - points[1:-1]
    cross = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    bent = cross > 1e-6 * np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    return points[np.concatenate([[True], bent, [True]])]
