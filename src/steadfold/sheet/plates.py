"""How deep two flat plates lie in each other.

Two plates that are not parallel have a direction in common; across it each is a set of rectangles whose ends run
straight from corner to corner along that direction. How deep two rectangles lie in each other is the least overlap
on their four axes (separating axes), a least of linear functions of the way along, so its greatest value is found
exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.sheet.pose import Frame

TOUCHING_MM = 0.01
"""Pieces that lie in each other by less than this touch; they do not clash."""
PARALLEL_SINE = 1e-5


@dataclass(frozen=True)
class Plate:
    """A flat plate: an outline in the plane of a frame, and a thickness to both sides of it."""

    frame: Frame
    outline: shapely.Polygon
    thickness_mm: float

    def corners(self) -> np.ndarray:
        """Corners of the outer outline on both faces, shape (2 n, 3)."""
        flat = shapely.get_coordinates(self.outline.exterior)[:-1]
        half = 0.5 * self.thickness_mm
        return np.concatenate([self.frame.points(flat, half), self.frame.points(flat, -half)])


def depth_of_overlap(one: Plate, two: Plate) -> tuple[float, np.ndarray]:
    """How deep two plates lie in each other at most, and where; a depth of 0 or less means they do not."""
    direction = np.cross(one.frame.face, two.frame.face)
    sine = float(np.linalg.norm(direction))
    if sine < PARALLEL_SINE:
        return _parallel_depth(one, two)
    direction = direction / sine
    cosine = float(np.dot(one.frame.face, two.frame.face))
    # one line lies on both middle surfaces; ways across it are v in one plate and w in the other
    across_one, across_two = np.cross(one.frame.face, direction), np.cross(two.frame.face, direction)
    base = _on_both(one.frame, two.frame, direction)
    half_one, half_two = 0.5 * one.thickness_mm, 0.5 * two.thickness_mm
    reach_one = (half_two + half_one * abs(cosine)) / sine
    reach_two = (half_one + half_two * abs(cosine)) / sine
    slabs_one = _across(one, base, direction, across_one, reach_one + one.thickness_mm)
    slabs_two = _across(two, base, direction, across_two, reach_two + two.thickness_mm)
    if slabs_one is None or slabs_two is None:
        return 0.0, base
    low = max(slabs_one.bounds[0], slabs_two.bounds[0])
    high = min(slabs_one.bounds[2], slabs_two.bounds[2])
    if high - low < 1e-9:
        return 0.0, base
    events = np.concatenate([shapely.get_coordinates(s)[:, 0] for s in (slabs_one, slabs_two)])
    events = np.unique(np.concatenate([[low, high], events[(events > low) & (events < high)]]))
    events = events[np.concatenate([[True], np.diff(events) > 1e-7])]
    first, second = _intervals(slabs_one, events), _intervals(slabs_two, events)
    slab, a, b = _paired(first, second)
    if not len(slab):
        return 0.0, base
    # across_two turned into the axes of one: two's point (w, z) lies at v = w cos - z sin, up = w sin + z cos
    turn_cos = float(np.dot(across_two, across_one))
    turn_sin = float(np.dot(across_two, one.frame.face))
    overlaps = _overlaps(a, b, turn_cos, turn_sin, half_one, half_two)
    length = np.diff(events)[slab]
    share, depth = _highest(overlaps)
    best = int(np.argmax(depth))
    at = events[slab[best]] + share[best] * length[best]
    v = _middle(a[best], b[best], share[best], turn_cos, reach_one)
    along = _run(overlaps, slab, events, int(slab[best])) if depth[best] > 0 else 0.0
    return float(min(depth[best], along)), base + at * direction + v * across_one


def _parallel_depth(one: Plate, two: Plate) -> tuple[float, np.ndarray]:
    apart = abs(float(np.dot(two.frame.origin - one.frame.origin, one.frame.face)))
    depth = 0.5 * (one.thickness_mm + two.thickness_mm) - apart
    if depth <= 0:
        return depth, one.frame.origin
    axes = np.column_stack([one.frame.along, one.frame.away])
    over = shapely.transform(two.outline, lambda p: (two.frame.points(p) - one.frame.origin) @ axes)
    # a plate that only just reaches over the edge of another touches it
    inner = one.outline.intersection(over).buffer(-0.5 * TOUCHING_MM)
    if inner.is_empty:
        return 0.0, one.frame.origin
    spot = inner.representative_point()
    return depth, one.frame.points(np.array([[spot.x, spot.y]]))[0]


def _on_both(one: Frame, two: Frame, direction: np.ndarray) -> np.ndarray:
    """The point on both middle surfaces nearest to the middle between the frames' origins."""
    middle = 0.5 * (one.origin + two.origin)
    rows = np.array([one.face, two.face, direction])
    return np.linalg.solve(
        rows, np.array([np.dot(one.face, one.origin), np.dot(two.face, two.origin), np.dot(direction, middle)])
    )


def _across(
    plate: Plate, base: np.ndarray, direction: np.ndarray, across: np.ndarray, reach: float
) -> shapely.Geometry | None:
    """A plate's outline in the coordinates along and across the common line, as far as it can matter."""
    frame = plate.frame
    offset = frame.origin - base
    shift = np.array([offset @ direction, offset @ across])
    turn = np.array([[frame.along @ direction, frame.along @ across], [frame.away @ direction, frame.away @ across]])
    moved = shapely.transform(plate.outline, lambda p: p @ turn + shift)
    x0, y0, x1, y1 = moved.bounds
    if y0 > reach or y1 < -reach:
        return None
    clipped = shapely.clip_by_rect(moved, x0 - 1, -reach, x1 + 1, reach)
    return None if clipped.is_empty or clipped.area <= 0 else clipped


@dataclass(frozen=True)
class _Intervals:
    """Metal across the common line: the slab between two events it is in, and from and to at the slab's start and
    end, shape (n, 2, 2)."""

    slab: np.ndarray
    ends: np.ndarray


def _intervals(shape: shapely.Geometry, events: np.ndarray) -> _Intervals:
    coordinates, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(shape)), return_index=True)
    same = ring[1:] == ring[:-1]
    start, end = coordinates[:-1][same], coordinates[1:][same]
    swap = start[:, 0] > end[:, 0]
    start[swap], end[swap] = end[swap].copy(), start[swap].copy()
    steep = end[:, 0] - start[:, 0] > 1e-12
    start, end = start[steep], end[steep]
    middle = 0.5 * (events[1:] + events[:-1])
    crosses = (start[:, 0][:, None] < middle) & (end[:, 0][:, None] > middle)
    edge, slab = np.nonzero(crosses)
    slope = (end[edge, 1] - start[edge, 1]) / (end[edge, 0] - start[edge, 0])
    at = [start[edge, 1] + slope * (events[slab + k] - start[edge, 0]) for k in (0, 1)]
    order = np.lexsort((0.5 * (at[0] + at[1]), slab))
    slab, values = slab[order], np.column_stack(at)[order]
    return _Intervals(slab[::2], np.stack([values[::2], values[1::2]], axis=1))


def _paired(first: _Intervals, second: _Intervals) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    i, j = np.nonzero(first.slab[:, None] == second.slab[None])
    return first.slab[i], first.ends[i], second.ends[j]


def _overlaps(a: np.ndarray, b: np.ndarray, cos: float, sin: float, half_one: float, half_two: float) -> np.ndarray:
    """Overlaps on the four axes at both ends of each slab, shape (pairs, 8, 2): all positive where two rectangles lie
    in each other. `a` and `b` are (pairs, from or to, start or end of the slab)."""
    a0, a1, b0, b1 = a[:, 0], a[:, 1], b[:, 0], b[:, 1]
    up_low, up_high = np.minimum(sin * b0, sin * b1), np.maximum(sin * b0, sin * b1)
    v_low, v_high = np.minimum(cos * b0, cos * b1), np.maximum(cos * b0, cos * b1)
    # seen from two, one's way across lies at w = v cos + up sin and up' = -v sin + up cos
    down_low, down_high = np.minimum(-sin * a0, -sin * a1), np.maximum(-sin * a0, -sin * a1)
    w_low, w_high = np.minimum(cos * a0, cos * a1), np.maximum(cos * a0, cos * a1)
    thick = half_one + half_two * abs(cos)
    other = half_two + half_one * abs(cos)
    spread_two, spread_one = half_two * abs(sin), half_one * abs(sin)
    return np.stack(
        [
            up_high + thick,
            thick - up_low,
            down_high + other,
            other - down_low,
            v_high + spread_two - a0,
            a1 - v_low + spread_two,
            w_high + spread_one - b0,
            b1 - w_low + spread_one,
        ],
        axis=1,
    )


def _highest(overlaps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For every pair, the share of the slab at which the least overlap is greatest, and that overlap."""
    start, slope = overlaps[:, :, 0], overlaps[:, :, 1] - overlaps[:, :, 0]
    i, j = np.triu_indices(overlaps.shape[1], 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        cross = (start[:, i] - start[:, j]) / (slope[:, j] - slope[:, i])
    cross = np.where(np.isfinite(cross), cross, 0.5).clip(0, 1)
    shares = np.concatenate([np.broadcast_to([0.0, 0.5, 1.0], (len(cross), 3)), cross], axis=1)
    least = (start[:, :, None] + slope[:, :, None] * shares[:, None, :]).min(axis=1)
    index = least.argmax(axis=1)
    rows = np.arange(len(index))
    return shares[rows, index], least[rows, index]


def _run(overlaps: np.ndarray, slab: np.ndarray, events: np.ndarray, through: int) -> float:
    """How far along the common line the plates lie in each other without a break, through a given slab."""
    start, slope = overlaps[:, :, 0], overlaps[:, :, 1] - overlaps[:, :, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.where(slope == 0, 0.0, -start / slope)
    low = np.where(slope > 0, root, np.where((slope == 0) & (start <= 0), 2.0, 0.0)).max(axis=1).clip(0, 2)
    high = np.where(slope < 0, root, 1.0).min(axis=1).clip(-1, 1)
    length = np.diff(events)
    first, last = np.full(len(length), np.inf), np.full(len(length), -np.inf)
    meets = low < high
    np.minimum.at(first, slab[meets], low[meets])
    np.maximum.at(last, slab[meets], high[meets])
    if not np.isfinite(first[through]):
        return 0.0
    total = (last[through] - first[through]) * length[through]
    for step in (-1, 1):
        here = through
        while True:
            near, far = (first, last) if step < 0 else (last, first)
            edge = 0.0 if step < 0 else 1.0
            there = here + step
            if abs(near[here] - edge) > 1e-9 or not 0 <= there < len(length) or not np.isfinite(first[there]):
                break
            if abs(far[there] - (1.0 - edge)) > 1e-9:
                break
            total += (last[there] - first[there]) * length[there]
            here = there
    return float(total)


def _middle(a: np.ndarray, b: np.ndarray, share: float, cos: float, reach: float) -> float:
    """About the middle, across the first plate, of what two rectangles share."""
    from_a, to_a = a[:, 0] + share * (a[:, 1] - a[:, 0])
    ends_b = np.sort(cos * (b[:, 0] + share * (b[:, 1] - b[:, 0])))
    low, high = max(from_a, -reach), min(to_a, reach)
    near_low, near_high = max(low, ends_b[0]), min(high, ends_b[1])
    if near_low <= near_high:
        low, high = near_low, near_high
    return 0.5 * (low + high)
