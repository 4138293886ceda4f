"""Pieces of a part that lie over each other in the flat, or pass through each other when it is folded.

Folded, every panel is a plate: its outline (with its openings) times the thickness. A bend is a row of narrow
plates. Two plates that are not parallel have a direction in common; across it each is a set of rectangles whose
ends run straight from corner to corner along that direction. How deep two rectangles lie in each other is the
least overlap on their four axes (separating axes), a least of linear functions of the way along, so its greatest
value is found exactly. Arcs are polygons with the chord error of set operations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.sheet.outline import Face
from steadfold.sheet.part import Part
from steadfold.sheet.pose import BendPose, Frame, flat_places, fold

TOUCHING_MM = 0.01
"""Pieces that lie in each other by less than this touch; they do not clash."""

OVERLAP_MM2 = 0.05
"""Pieces of the flat that share less area than this lie beside each other."""

FACETS_A_TURN = 32
PARALLEL_SINE = 1e-5


@dataclass(frozen=True)
class Clash:
    """Two pieces in one place. `first` and `second` name panels; a bend is named by the two panels it joins.

    `regions` are their numbers (panels first, then bends). In the flat `area_mm2` is the area they share and
    `place_mm` a point of it, in the root panel's frame; folded, `depth_mm` is how far one would have to give way and
    `place_mm` where they are deepest in each other.
    """

    first: str
    second: str
    regions: tuple[int, int]
    place_mm: tuple[float, ...]
    area_mm2: float = 0.0
    depth_mm: float = 0.0


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


def region_name(part: Part, region: int) -> str:
    """The name of a panel, or of a bend by the panels it joins."""
    if region < len(part.panels):
        return part.panels[region].name
    bend = part.bends[region - len(part.panels)]
    return f"bend {part.panels[bend.parent].name}–{part.panels[bend.child].name}"


def flat_overlaps(part: Part) -> list[Clash]:
    """Pairs of pieces that lie over each other in the shop's flat, the greatest area first."""
    panels, strips = flat_places(part)
    shapes: list[shapely.Polygon] = []
    regions: list[int] = []
    faces = [(panel.faces, place) for panel, place in zip(part.panels, panels, strict=True)]
    faces += [(bend.faces, place) for bend, place in zip(part.bends, strips, strict=True)]
    for region, (pieces, place) in enumerate(faces):
        for face in pieces:
            shapes.append(face.moved(place).polygon())
            regions.append(region)
    found: dict[tuple[int, int], tuple[float, tuple[float, ...]]] = {}
    pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects").T
    for i, j in pairs[pairs[:, 0] < pairs[:, 1]]:
        key = (regions[i], regions[j])
        if key[0] == key[1]:
            continue
        shared = shapes[i].intersection(shapes[j])
        if shared.area > OVERLAP_MM2:
            area, place_mm = found.get(key, (0.0, ()))
            spot = shared.representative_point()
            found[key] = (area + shared.area, place_mm or (spot.x, spot.y))
    clashes = [
        Clash(region_name(part, a), region_name(part, b), (a, b), place_mm, area_mm2=area)
        for (a, b), (area, place_mm) in found.items()
    ]
    return sorted(clashes, key=lambda c: -c.area_mm2)


def folded_clashes(part: Part, share: float = 1.0) -> list[Clash]:
    """Pairs of pieces that pass through each other when the part is folded by a share, the deepest first.

    A bend is not looked at against the two panels it joins; those two panels are, since a hem bent too far runs into
    its parent. Where a bend and a panel it joins both meet a third piece, only the panel is named.
    """
    pose = fold(part, share)
    plates: list[Plate] = []
    regions: list[int] = []
    slack: list[float] = []
    for number, (panel, frame) in enumerate(zip(part.panels, pose.panels, strict=True)):
        for face in panel.faces:
            plates.append(Plate(frame, face.polygon(), part.thickness_mm))
            regions.append(number)
            slack.append(TOUCHING_MM)
    for number, (bend, bent) in enumerate(zip(part.bends, pose.bends, strict=True)):
        stretch = bent.length_mm / bend.allowance_mm
        facets, sagitta = bend_plates(bend.faces, stretch, bent, part.thickness_mm)
        plates.extend(facets)
        regions.extend([len(part.panels) + number] * len(facets))
        slack.extend([TOUCHING_MM + 2 * sagitta] * len(facets))
    joined = {(b.parent, len(part.panels) + n) for n, b in enumerate(part.bends)}
    joined |= {(b.child, len(part.panels) + n) for n, b in enumerate(part.bends)}
    found: dict[tuple[int, int], tuple[float, np.ndarray]] = {}
    pairs = _near_pairs(plates, np.asarray(regions))
    # panels first: where they clash, what their bends do need not be known
    for i, j in sorted(pairs, key=lambda pair: regions[pair[1]] >= len(part.panels)):
        key = (regions[i], regions[j])
        if key in joined or _said_by_panels(part, *key, found):
            continue
        depth, place = depth_of_overlap(plates[i], plates[j])
        if depth > max(slack[i], slack[j]) and depth > found.get(key, (0.0, place))[0]:
            found[key] = (depth, place)
    clashes = [
        Clash(
            region_name(part, a), region_name(part, b), (a, b), tuple(float(x) for x in place), depth_mm=float(depth)
        )
        for (a, b), (depth, place) in found.items()
        if not _said_by_panels(part, a, b, found)
    ]
    return sorted(clashes, key=lambda c: -c.depth_mm)


def _said_by_panels(part: Part, a: int, b: int, found: dict[tuple[int, int], tuple[float, np.ndarray]]) -> bool:
    """Whether a clash of a bend is also one of a panel it joins."""
    count = len(part.panels)

    def ends(region: int) -> tuple[int, ...]:
        if region < count:
            return (region,)
        bend = part.bends[region - count]
        return (bend.parent, bend.child)

    if a < count and b < count:
        return False
    return any((min(x, y), max(x, y)) in found for x in ends(a) for y in ends(b) if x != y)


def bend_plates(
    faces: Sequence[Face], stretch: float, bent: BendPose, thickness_mm: float
) -> tuple[list[Plate], float]:
    """A bend as plates between generator lines, and how far they stray from the cylinder.

    `faces` are in the strip's frame, to be stretched across the bend to the length of the middle surface. The first
    and last plate are shortened by what their slope would make them reach past the tangent lines, so that all stay
    within the true shape.
    """
    count = max(1, math.ceil(FACETS_A_TURN * abs(bent.angle_rad) / (2 * math.pi)))
    half_turn = 0.5 * abs(bent.angle_rad) / count
    radius = bent.length_mm / abs(bent.angle_rad) if abs(bent.angle_rad) > 1e-9 else 0.0
    sagitta = (radius + 0.5 * thickness_mm) * (1 - math.cos(half_turn))
    end = 0.5 * thickness_mm * math.tan(half_turn)
    chord = 2 * radius * math.sin(half_turn) if radius else bent.length_mm / count
    height = bent.length_mm / count
    plates = []
    shapes = [shapely.transform(f.polygon(), lambda p: p * np.array([1.0, stretch])) for f in faces]
    lines = bent.points(np.zeros(count + 1), np.linspace(0, 1, count + 1))
    for k in range(count):
        away = (lines[k + 1] - lines[k]) / np.linalg.norm(lines[k + 1] - lines[k])
        frame = Frame(lines[k], bent.start.along, away, np.cross(bent.start.along, away))
        for shape in shapes:
            x0, _, x1, _ = shape.bounds
            from_y = k * height + (end if k == 0 else 0.0)
            to_y = (k + 1) * height - (end if k == count - 1 else 0.0)
            row = shapely.clip_by_rect(shape, x0 - 1, from_y, x1 + 1, max(to_y, from_y))
            for piece in shapely.get_parts(row):
                if piece.geom_type == "Polygon" and piece.area > 1e-9:
                    moved = shapely.transform(piece, lambda p, low=k * height: (p - [0, low]) * [1.0, chord / height])
                    plates.append(Plate(frame, moved, thickness_mm))
    return plates, sagitta


def _near_pairs(plates: Sequence[Plate], regions: np.ndarray) -> np.ndarray:
    """Pairs of plates of different regions, lower region first, that no axis of the world or face of either parts."""
    corners = [plate.corners() for plate in plates]
    low, high = np.array([c.min(axis=0) for c in corners]), np.array([c.max(axis=0) for c in corners])
    near = (low[:, None] < high[None]).all(axis=2) & (high[:, None] > low[None]).all(axis=2)
    near &= regions[:, None] < regions[None]
    kept = []
    for i, j in np.argwhere(near):
        if not (_parted(plates[i], corners[j]) or _parted(plates[j], corners[i])):
            kept.append((i, j))
    return np.array(kept, dtype=int).reshape(-1, 2)


def _parted(plate: Plate, corners: np.ndarray) -> bool:
    """Whether all corners lie beyond one face of a plate, or beyond one side of its bounding box."""
    offset = corners - plate.frame.origin
    half = 0.5 * plate.thickness_mm - TOUCHING_MM
    height = offset @ plate.frame.face
    if height.min() > half or height.max() < -half:
        return True
    x, y = offset @ plate.frame.along, offset @ plate.frame.away
    x0, y0, x1, y1 = plate.outline.bounds
    return bool(x.min() > x1 or x.max() < x0 or y.min() > y1 or y.max() < y0)


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
            up_high + thick, thick - up_low, down_high + other, other - down_low,
            v_high + spread_two - a0, a1 - v_low + spread_two, w_high + spread_one - b0, b1 - w_low + spread_one,
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
