"""What the operator pushes against the backgauge: an edge parallel to the bend that two fingers can reach."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.fabricate.bodies import Bodies
from steadfold.fabricate.shop import Brake

SAME_LINE_MM = 0.05
Edge = tuple[float, float, float, str, str]
"""Start and end along the bend line, distance from it, panel, and 'edge' or 'flange'."""
LEAST_TOUCH_MM = 5.0
"""Least length of edge that a finger needs (common practice, no source)."""
LEAST_SPREAD = 0.3
"""Least distance between the two fingers, as a share of the bend's length, and at least 20 mm unless the
bend is shorter (common practice, no source)."""


@dataclass(frozen=True)
class Gauge:
    """A stop: the panel whose edge or standing flange touches it, its distance behind the bend line, and
    between which places along the bend line the fingers find it."""

    panel: str
    on: str
    distance_mm: float
    along_mm: tuple[float, float]


def gauge_for(bodies: Bodies, index: int, child_back: bool, state: int, brake: Brake) -> Gauge | None:
    """The edge to gauge stroke `index` from, in a state; None when there is none that two fingers reach.

    Counts are edges of what lies flat on the die behind the bend, and the outer faces of flanges that
    stand at the end of it, when they are parallel to the bend and nothing lies or stands between them and
    the gauge.
    """
    stroke = bodies.strokes[index]
    edges: list[Edge] = []
    metal: list[np.ndarray] = []
    for place, body in enumerate(bodies.seen_from[index]):
        if child_back != body.on_child or state & body.path:
            continue
        made = body.strip is not None and bool(state & body.mask)
        rings = [np.concatenate(pair)[:, :2] for pair in bodies.rings(index, place, state)]
        # A panel's two rings look alike from above; a strip's are its two ends.
        metal += rings if body.strip is not None else [ring[: len(ring) // 2] for ring in rings]
        if body.strip is None:
            edges += _free_edges(bodies, index, place, state)
        elif made and abs(math.cos(bodies.part.bends[body.strip].angle_rad)) < 0.5:
            for ring in rings:
                if _parallel(bodies, index, place, state):
                    name = bodies.part.panels[bodies.part.bends[body.strip].child].name
                    edges.append((*_span(ring[:, 0]), float(ring[:, 1].max()), name, "flange"))
    best: Gauge | None = None
    best_rank = (False, 0.0)
    length = stroke.length_mm
    wanted = min(length, max(20.0, LEAST_SPREAD * length))
    furthest = [float(ring[:, 1].max()) for ring in metal]
    for level in _levels(edges):
        away = level[0][2]
        line = away + SAME_LINE_MM
        hidden = [_beyond(ring, line) for ring, end in zip(metal, furthest, strict=True) if end > line]
        touched = [(a, b, e[3], e[4]) for e in level for a, b in _left_of(e[:2], hidden)]
        distance = away + 0.5 * stroke.allowance_mm
        if not touched or distance > brake.gauge_reach_mm:
            continue
        first, last = min(piece[0] for piece in touched), max(piece[1] for piece in touched)
        _, _, name, on = max(touched, key=lambda piece: piece[1] - piece[0])
        rank = (on == "edge", round(last - first, 6))
        if last - first >= wanted - 1e-6 and (best is None or rank > best_rank):
            best, best_rank = Gauge(name, on, distance, (first, last)), rank
    return best


def reaches_mm(bodies: Bodies, index: int, child_back: bool, state: int) -> tuple[float, float]:
    """How far what lies flat reaches behind the bend and in front of it."""
    reach = {True: 0.0, False: 0.0}
    for place, body in enumerate(bodies.seen_from[index]):
        if state & body.path:
            continue
        back = child_back == body.on_child
        for one, two in bodies.rings(index, place, state):
            reach[back] = max(reach[back], float(one[:, 1].max()), float(two[:, 1].max()))
    return reach[True], reach[False]


def _span(x: np.ndarray) -> tuple[float, float]:
    return float(x.min()), float(x.max())


def _free_edges(
    bodies: Bodies, index: int, place: int, state: int
) -> list[Edge]:
    """Straight edges of a panel lying flat that look away from the bend and run along it."""
    frame = bodies.frame(index, place, state)
    body = bodies.seen_from[index][place]
    panel = bodies.part.panels[body.panel]
    turn = 1.0 if frame[0, 0] * frame[1, 1] - frame[0, 1] * frame[1, 0] > 0 else -1.0
    found = []
    for face in panel.faces:
        for start, end, bulge in face.outer.anticlockwise().segments():
            (x0, y0), (x1, y1) = (frame[:2, :2] @ np.array(p) + frame[:2, 3] for p in (start, end))
            # Metal lies on the left of the running sense, so an edge with it below runs towards -x.
            runs_back = (x1 - x0) * turn < 0
            if bulge or not runs_back or abs(y1 - y0) > SAME_LINE_MM or abs(x1 - x0) < LEAST_TOUCH_MM:
                continue
            found.append((*_span(np.array([x0, x1])), float(0.5 * (y0 + y1)), panel.name, "edge"))
    return found


def _parallel(bodies: Bodies, index: int, place: int, state: int) -> bool:
    body = bodies.seen_from[index][place]
    assert body.strip is not None
    along = bodies.frame(index, place, state)[:2, :2] @ np.array(bodies.part.bends[body.strip].parent_along)
    return abs(float(along[1])) < 2e-3


def _levels(edges: list[Edge]) -> list[list[Edge]]:
    """Edges at one distance from the bend line, together."""
    levels: list[list[Edge]] = []
    for edge in sorted(edges, key=lambda edge: edge[2]):
        if levels and edge[2] - levels[-1][0][2] < SAME_LINE_MM:
            levels[-1].append(edge)
        else:
            levels.append([edge])
    return levels


def _beyond(ring: np.ndarray, line: float) -> tuple[float, float]:
    """Where along the bend line a convex piece of metal lies that is further away than a line."""
    after = np.concatenate([ring[1:], ring[:1]])
    crossing = (ring[:, 1] - line) * (after[:, 1] - line) < 0
    step = (after - ring)[crossing]
    at = ring[crossing, 0] + (line - ring[crossing, 1]) / step[:, 1] * step[:, 0]
    return _span(np.concatenate([ring[ring[:, 1] > line, 0], at]))


def _left_of(span: tuple[float, float], hidden: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """What of an edge has no metal between it and the gauge, in pieces that a finger can touch."""
    free = [span]
    for low, high in hidden:
        left = []
        for a, b in free:
            if high <= a or low >= b:
                left.append((a, b))
                continue
            left += [(a, low)] if low - a >= LEAST_TOUCH_MM else []
            left += [(high, b)] if b - high >= LEAST_TOUCH_MM else []
        free = left
    return [(a, b) for a, b in free if b - a >= LEAST_TOUCH_MM]
