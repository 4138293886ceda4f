"""Boundaries of recognised faces as outlines of lines and arcs, and curves that are neither made into them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from steadfold.sheet.from_solid.body import Body, Edge, Use, arc_points, arc_turn
from steadfold.sheet.outline import Face, Outline, Point

CURVE_ERROR_MM = 0.001
"""How far lines and arcs may stray from a curve they stand for."""

Segment = tuple[Point, Point, float]


def outer_uses(body: Body, faces: Sequence[int]) -> list[Use]:
    """The boundary of several faces together: edges between two of them drop out."""
    seen: dict[int, list[Use]] = {}
    for face in faces:
        for use in body.faces[face].uses:
            seen.setdefault(use.edge, []).append(use)
    return [uses[0] for uses in seen.values() if len(uses) == 1]


def chained(body: Body, uses: Sequence[Use], normal: np.ndarray | None = None) -> list[list[Use]]:
    """Uses in closed loops, corner to corner; raises `ValueError` when they do not close.

    Where several boundaries meet in one corner the loop takes the sharpest right turn seen against
    `normal`, so that loops stay simple.
    """
    by_start: dict[int, list[int]] = {}
    for i, use in enumerate(uses):
        by_start.setdefault(_start(body, use), []).append(i)
    free = [True] * len(uses)
    loops = []
    for first in range(len(uses)):
        if not free[first]:
            continue
        free[first] = False
        loop = [uses[first]]
        begin = _start(body, uses[first])
        while (here := _start(body, loop[-1], at_end=True)) != begin:
            following = [i for i in by_start.get(here, ()) if free[i]]
            if not following:
                raise ValueError("a face's boundary does not close")
            if len(following) > 1 and normal is not None:
                came = _heading(body, loop[-1], at_end=True)
                following.sort(key=lambda i: _turn(came, _heading(body, uses[i]), normal))
            free[following[0]] = False
            loop.append(uses[following[0]])
        loops.append(loop)
    return loops


def _start(body: Body, use: Use, at_end: bool = False) -> int:
    edge = body.edges[use.edge]
    return edge.start if use.forward != at_end else edge.end


def _heading(body: Body, use: Use, at_end: bool = False) -> np.ndarray:
    edge = body.edges[use.edge]
    points = edge.points if use.forward else edge.points[::-1]
    if edge.kind == "circle" and edge.centre is not None and edge.axis is not None:
        out = (points[-1] if at_end else points[0]) - edge.centre
        tangent = np.cross(edge.axis, out)
        reference = points[-1] - points[-2] if at_end else points[1] - points[0]
        return tangent if float(tangent @ reference) > 0 else -tangent
    return np.asarray(points[-1] - points[-2] if at_end else points[1] - points[0])


def _turn(came: np.ndarray, goes: np.ndarray, normal: np.ndarray) -> float:
    return math.atan2(float(np.cross(came, goes) @ normal), float(came @ goes))


def run_points(edge: Edge, forward: bool) -> np.ndarray:
    """Points of an edge in the sense it is run."""
    return edge.points if forward else edge.points[::-1]


def dense_points(edge: Edge, count: int = 33) -> np.ndarray:
    """Points along an edge close enough for a smooth map of it to be fitted, shape (n, 3)."""
    if edge.kind == "free":
        return edge.points
    if edge.kind == "line":
        return edge.points[0] + np.linspace(0.0, 1.0, count)[:, None] * (edge.points[1] - edge.points[0])
    return arc_points(edge, count)


def plane_segments(edge: Edge, forward: bool, to_plane: Callable[[np.ndarray], np.ndarray]) -> list[Segment]:
    """An edge that lies in a plane as segments of its drawing; a full circle gives two half turns."""
    flat = to_plane(run_points(edge, forward))
    if edge.kind == "line":
        return [(_point(flat[0]), _point(flat[-1]), 0.0)]
    if edge.kind == "circle":
        assert edge.centre is not None
        turn = arc_turn(edge)
        start, middle, end = _point(flat[0]), _point(flat[1]), _point(flat[2])
        quarter = dense_points(edge, 5)[[0, 1] if forward else [4, 3]]
        a, b = to_plane(quarter) - to_plane(edge.centre[None, :])
        sign = 1.0 if a[0] * b[1] - a[1] * b[0] > 0 else -1.0
        if turn > 1.9 * math.pi or edge.start == edge.end:
            return [(start, middle, sign), (middle, start, sign)]
        if turn > math.pi * 1.02:
            half = math.tan(turn / 8)
            return [(start, middle, sign * half), (middle, end, sign * half)]
        return [(start, end, sign * math.tan(turn / 4))]
    return fitted(flat)


def _point(row: np.ndarray) -> Point:
    return float(row[0]), float(row[1])


def fitted(points: np.ndarray, error_mm: float = CURVE_ERROR_MM) -> list[Segment]:
    """Lines and arcs that follow a run of points (n, 2) within an error, few rather than many."""
    keep = np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 1e-9])
    last = points[-1]
    points = points[keep]
    if len(points) < 2:
        return []
    points[-1] = last
    found: list[Segment] = []
    first = 0
    end = len(points) - 1
    closed = bool(np.hypot(*(points[0] - points[-1])) < 1e-6)
    while first < end:
        reach = end if not (closed and first == 0) else end // 2
        bulge = _one_arc(points[first : reach + 1], error_mm)
        if bulge is None:
            low, high = first + 1, reach
            bulge = 0.0
            while high - low > 1:
                middle = (low + high) // 2
                tried = _one_arc(points[first : middle + 1], error_mm)
                if tried is None:
                    high = middle
                else:
                    low, bulge = middle, tried
            reach = low
        found.append((_point(points[first]), _point(points[reach]), bulge))
        first = reach
    return found


def _one_arc(points: np.ndarray, error_mm: float) -> float | None:
    """The bulge of the one line or arc from the first to the last point that all lie on, else None."""
    chord = points[-1] - points[0]
    length = float(np.hypot(*chord))
    if length < 1e-9:
        return None
    along = chord / length
    offset = points - points[0]
    across = offset[:, 1] * along[0] - offset[:, 0] * along[1]
    forward = offset @ along
    if float(np.abs(across).max()) < 1e-7 or len(points) == 2:
        return 0.0
    middle = int(np.argmin(np.abs(forward - 0.5 * length) + 1e-9 * np.arange(len(points))))
    if middle in (0, len(points) - 1):
        return None
    # circle through first, middle, last in the chord's own axes
    x, y = float(forward[middle]), float(across[middle])
    if abs(y) < 1e-9:
        return 0.0 if float(np.abs(across).max()) < error_mm and bool(np.all(np.diff(forward) > 0)) else None
    height = (x * x + y * y - x * length) / (2 * y)
    radius = math.hypot(0.5 * length, height)
    if radius > 1e6:
        return 0.0 if float(np.abs(across).max()) < error_mm else None
    off = np.hypot(forward - 0.5 * length, across - height) - radius
    if float(np.abs(off).max()) > error_mm:
        return None
    turned = np.unwrap(np.arctan2(across - height, forward - 0.5 * length))
    steps = np.diff(turned)
    turn = float(turned[-1] - turned[0])
    if not (bool(np.all(steps > 0)) or bool(np.all(steps < 0))) or abs(turn) > 1.2 * math.pi:
        return None
    return math.tan(turn / 4)


def outline_of(segments: Sequence[Segment]) -> Outline:
    """Segments in order as one outline; corners on a straight run are kept, since a bend may end there."""
    kept = [s for s in segments if math.dist(s[0], s[1]) > 1e-9]
    if len(kept) < 2:
        raise ValueError("a boundary without inside")
    return Outline(tuple(s[0] for s in kept), tuple(s[2] for s in kept))


def faces_of(outlines: Sequence[Outline]) -> tuple[Face, ...]:
    """Faces from loops with the metal on their left: each opening goes to the smallest piece around it."""
    outers = sorted((o for o in outlines if o.area_mm2 > 0), key=lambda o: o.area_mm2)
    openings: list[list[Outline]] = [[] for _ in outers]
    polygons = [o.polygon() for o in outers]
    for opening in (o for o in outlines if o.area_mm2 <= 0):
        inner = opening.polygon().representative_point()
        for i, polygon in enumerate(polygons):
            if polygon.contains(inner):
                openings[i].append(opening)
                break
        else:
            raise ValueError("an opening lies outside its face")
    return tuple(Face(outer, tuple(own)) for outer, own in zip(outers, openings, strict=True))
