"""The bodies of a part that is bent step by step, as the press brake meets them.

While a bend is made, everything else is rigid: a panel, and the strip of every other bend, flat or bent.
Where a body is depends only on the bends on its way from the bend being made. A body is a prism between
two rings of corners; seen along the bend line, what of it lies beside a tool is a convex polygon that
only turns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from steadfold.fabricate.sections import convex_parts, hull
from steadfold.fabricate.strokes import Stroke, strokes_of
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold

Rings = tuple[np.ndarray, np.ndarray]


@dataclass(frozen=True)
class Body:
    """A rigid piece seen from one stroke.

    `panel` is the panel whose frame it is laid out in, `strip` its bend (None for a panel), `anchor` the
    bend of the stroke it hangs on (its place in the stroke), `on_child` on which side of it, `way` the
    bends between, each with True where it is walked from parent to child. `path` has a bit for every
    stroke on the way, `mask` also for its own strip's.
    """

    name: str
    panel: int
    strip: int | None
    anchor: int
    on_child: bool
    way: tuple[tuple[int, bool], ...]
    path: int
    mask: int


class Bodies:
    """All bodies of a part, for every stroke, in any state of being bent.

    A state is a number whose bit i says whether stroke i has been made.
    """

    def __init__(self, part: Part):
        self.part = part
        self.strokes = strokes_of(part)
        self.stroke_of = {bend: i for i, stroke in enumerate(self.strokes) for bend in stroke.bends}
        self._joins = _joins(part)
        self._placed: dict[tuple[int, int, int], list[Rings]] = {}
        self._panel_rings = [self._rings_of_panel(i) for i in range(len(part.panels))]
        self._strip_rings = [(self._flat_strip(i), self._bent_strip(i)) for i in range(len(part.bends))]
        self.seen_from = [self._seen_from(i) for i in range(len(self.strokes))]

    def _seen_from(self, index: int) -> tuple[Body, ...]:
        stroke, bends = self.strokes[index], self.part.bends
        touching: dict[int, list[tuple[int, int, bool]]] = {i: [] for i in range(len(self.part.panels))}
        for b, bend in enumerate(bends):
            if b not in stroke.bends:
                touching[bend.parent].append((b, bend.child, True))
                touching[bend.child].append((b, bend.parent, False))
        found: list[Body] = []
        # All sides of the stroke at once: panels between two of its bends belong to the nearer one.
        starts: dict[int, tuple[int, bool]] = {}
        for place, b in enumerate(stroke.bends):
            starts.setdefault(bends[b].parent, (place, False))
            starts.setdefault(bends[b].child, (place, True))
        ways: dict[int, tuple[tuple[tuple[int, bool], ...], int]] = dict.fromkeys(starts, ((), 0))
        strips: set[int] = set()
        queue = list(starts)
        for panel in queue:
            way, path = ways[panel]
            anchor, on_child = starts[panel]
            found.append(Body(self.part.panels[panel].name, panel, None, anchor, on_child, way, path, path))
            for b, other, down in touching[panel]:
                bit = 1 << self.stroke_of[b]
                if b not in strips:
                    strips.add(b)
                    # A strip is laid out from its parent; reached from below, the way goes up through it.
                    strip_way = way if down else (*way, (b, down))
                    name = f"bend of {self.part.panels[bends[b].child].name}"
                    found.append(Body(name, bends[b].parent, b, anchor, on_child, strip_way, path, path | bit))
                if other not in ways:
                    ways[other] = ((*way, (b, down)), path | bit)
                    starts[other] = starts[panel]
                    queue.append(other)
        return tuple(found)

    def sections(self, index: int, place: int, state: int, along: tuple[float, float]) -> list[np.ndarray]:
        """Convex polygons of a body between two places along the bend line: distance from the tangent
        line, and height over the middle surface, upwards where the punch is. `place` counts in
        `seen_from[index]`.
        """
        cut = [_cut_across(rings, along) for rings in self.rings(index, place, state)]
        return [polygon for polygon in cut if len(polygon) > 2]

    def rings(self, index: int, place: int, state: int) -> list[Rings]:
        """Rings of corners, each (n, 3): along the bend line, away from its tangent line, up."""
        bits = state & self.seen_from[index][place].mask
        key = (index, place, bits)
        if key not in self._placed:
            self._placed[key] = self._rings(index, place, bits)
        return self._placed[key]

    def frame(self, index: int, place: int, state: int) -> np.ndarray:
        """From the frame a body is laid out in to (along the bend line, away from it, up), shape (4, 4)."""
        body = self.seen_from[index][place]
        frame = self._anchor_frame(index, body.anchor, body.on_child)
        for b, down in body.way:
            join = self._joins[b][state >> self.stroke_of[b] & 1]
            frame = frame @ (join if down else _inverse(join))
        return frame

    def _rings(self, index: int, place: int, bits: int) -> list[Rings]:
        body, frame = self.seen_from[index][place], self.frame(index, place, bits)
        if body.strip is None:
            rings = self._panel_rings[body.panel]
        else:
            rings = self._strip_rings[body.strip][bool(bits >> self.stroke_of[body.strip] & 1)]
        return [(_moved(frame, a), _moved(frame, b)) for a, b in rings]

    def _anchor_frame(self, index: int, anchor: int, on_child: bool) -> np.ndarray:
        """From the frame of a panel next to a bend of the stroke to (along, away, up)."""
        stroke = self.strokes[index]
        up = 1.0 if stroke.angle_rad > 0 else -1.0
        bend = self.part.bends[stroke.bends[anchor]]
        if on_child:
            along, away, point, out = bend.child_along, bend.child_away, bend.child_point, 1.0
        else:
            along, away, point, out = bend.parent_along, bend.parent_away, bend.parent_point, -1.0
        start, sense = stroke.places[anchor]
        matrix = np.zeros((4, 4))
        matrix[0, :2] = sense * np.array(along)
        matrix[1, :2] = out * np.array(away)
        matrix[2, 2] = up
        matrix[0, 3] = start - matrix[0, :2] @ np.array(point)
        matrix[1, 3] = -matrix[1, :2] @ np.array(point)
        matrix[3, 3] = 1.0
        return matrix

    def _rings_of_panel(self, index: int) -> list[Rings]:
        half = 0.5 * self.part.thickness_mm
        found = []
        for face in self.part.panels[index].faces:
            for ring in convex_parts(face.outer):
                found.append((_at_height(ring, -half), _at_height(ring, half)))
        return found

    def _flat_strip(self, index: int) -> list[Rings]:
        bend = self.part.bends[index]
        half = 0.5 * self.part.thickness_mm
        section = np.array([[0, -half], [bend.allowance_mm, -half], [bend.allowance_mm, half], [0, half]])
        return self._along_strip(index, [section])

    def _bent_strip(self, index: int) -> list[Rings]:
        """The strip in two halves, so that the hull of each fills the inside of the bend but little."""
        bend = self.part.bends[index]
        half = 0.5 * self.part.thickness_mm
        sign = 1.0 if bend.angle_rad > 0 else -1.0
        radius = bend.middle_length_mm / abs(bend.angle_rad)
        count = max(2, math.ceil(abs(bend.angle_rad) / math.radians(60.0)))
        found = []
        for piece in range(count):
            angles = np.linspace(piece, piece + 1, 3) * abs(bend.angle_rad) / count
            points = []
            for angle in angles:
                for r in (radius - half, radius + half):
                    points.append((r * math.sin(angle), sign * (radius - r * math.cos(angle))))
            found.append(hull(np.array(points)))
        return self._along_strip(index, found)

    def _along_strip(self, index: int, polygons: list[np.ndarray]) -> list[Rings]:
        """Sections (away, face) of a strip stretched over its metal, in the frame of the parent panel."""
        bend = self.part.bends[index]
        matrix = np.zeros((4, 4))
        matrix[:2, 0], matrix[:2, 1] = bend.parent_along, bend.parent_away
        matrix[:2, 3] = bend.parent_point
        matrix[2, 2] = matrix[3, 3] = 1.0
        found = []
        for face in bend.faces:
            x0, _, x1, _ = face.outer.bounds
            for polygon in polygons:
                if len(polygon) < 3:
                    continue
                ends = [np.column_stack([np.full(len(polygon), x), polygon]) for x in (x0, x1)]
                found.append((_moved(matrix, ends[0]), _moved(matrix, ends[1])))
        return found


def _joins(part: Part) -> list[tuple[np.ndarray, np.ndarray]]:
    """For each bend, from the child's frame to the parent's: flat, and bent."""
    joins = []
    for bend in part.bends:
        panels = (part.panels[bend.parent], part.panels[bend.child])
        two = Part(part.name, part.thickness_mm, panels, (replace(bend, parent=0, child=1),))
        pair = []
        for share in (0.0, 1.0):
            frame = fold(two, share, flat_k=True).panels[1]
            matrix = np.eye(4)
            matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = frame.along, frame.away, frame.face
            matrix[:3, 3] = frame.origin
            pair.append(matrix)
        joins.append((pair[0], pair[1]))
    return joins


def _inverse(matrix: np.ndarray) -> np.ndarray:
    turned = matrix[:3, :3].T
    back = np.eye(4)
    back[:3, :3] = turned
    back[:3, 3] = -turned @ matrix[:3, 3]
    return back


def _moved(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    return points @ matrix[:3, :3].T + matrix[:3, 3]


def _at_height(ring: np.ndarray, height_mm: float) -> np.ndarray:
    return np.column_stack([ring, np.full(len(ring), height_mm)])


def _cut_across(rings: Rings, along: tuple[float, float]) -> np.ndarray:
    """Shadow along the bend line of what of a convex prism lies between two places along it."""
    low, high = along
    one, two = rings
    corners = np.concatenate([one, two])
    x = corners[:, 0]
    if x.max() <= low or x.min() >= high:
        return np.empty((0, 2))
    if x.min() >= low and x.max() <= high:
        return hull(corners[:, 1:])
    starts = np.concatenate([one, two, one])
    ends = np.concatenate([np.roll(one, -1, axis=0), np.roll(two, -1, axis=0), two])
    points = [corners[(x >= low) & (x <= high), 1:]]
    span = ends[:, 0] - starts[:, 0]
    for limit in along:
        if not math.isfinite(limit):
            continue
        crosses = (starts[:, 0] - limit) * (ends[:, 0] - limit) < 0
        share = (limit - starts[crosses, 0]) / span[crosses]
        points.append(starts[crosses, 1:] + share[:, None] * (ends[crosses, 1:] - starts[crosses, 1:]))
    return hull(np.concatenate(points))


def turned_by(
    polygons: np.ndarray, stroke: Stroke, thickness_mm: float, turned_rad: np.ndarray, back: bool
) -> np.ndarray:
    """Sections (b, m, 2) from a stroke's tangent line placed in the brake at angles (a,): (a, b, m, 2).

    The brake's origin is the punch's tip, on the inner face in the middle of the bend; y points to the
    back. The sheet rises evenly on both sides. `back` tells on which side the body is.
    """
    half = 0.5 * turned_rad
    out, rise = arc_end(stroke, turned_rad)
    cos, sin = np.cos(half)[:, None, None], np.sin(half)[:, None, None]
    away, up = polygons[None, ..., 0], polygons[None, ..., 1]
    y = out[:, None, None] + away * cos - up * sin
    z = rise[:, None, None] - 0.5 * thickness_mm + away * sin + up * cos
    if back:
        return np.stack([y, z], axis=-1)
    # Mirrored, an anticlockwise ring runs clockwise: turn it about.
    return np.stack([-y, z], axis=-1)[:, :, ::-1]


def arc_end(stroke: Stroke, turned_rad: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where the bend's middle surface ends on one side, from its middle: outwards and up, at angles (a,).

    The strip is a circular arc at every moment; its length runs from that of the flat to that of the middle
    surface of the finished bend.
    """
    full = abs(stroke.angle_rad)
    share = np.minimum(turned_rad / full, 1.0)
    length = stroke.allowance_mm + share * (stroke.middle_length_mm - stroke.allowance_mm)
    half = 0.5 * turned_rad
    small = half < 1e-9
    radius = np.where(small, 0.0, length / np.where(small, 1.0, turned_rad))
    out = np.where(small, 0.5 * length, radius * np.sin(half))
    return out, radius * (1 - np.cos(half))
