"""The flat pattern: what is cut, with the bend lines where the brake will fold it."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from steadfold.sheet.outline import Isometry, Outline, Point, arc_of, segment_length
from steadfold.sheet.part import Part
from steadfold.sheet.pose import flat_places

MEETING_MM = 1e-4
"""Ends of segments closer than this are one point."""


class FlatError(ValueError):
    """A part whose pieces do not join into one flat outline."""


@dataclass(frozen=True)
class BendLine:
    """A bend in the flat: its middle line, and the two tangent lines to either side of it."""

    bend: int
    start: Point
    end: Point
    tangents: tuple[tuple[Point, Point], tuple[Point, Point]]

    @property
    def length_mm(self) -> float:
        """Length along the bend."""
        return math.dist(self.start, self.end)


@dataclass(frozen=True)
class FlatPattern:
    """Outer contour (anticlockwise), openings (clockwise) and bend lines, in the root panel's frame; y up, the
    root's face towards the viewer."""

    outer: Outline
    openings: tuple[Outline, ...]
    bend_lines: tuple[BendLine, ...]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y."""
        return self.outer.bounds

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width along x and height along y."""
        x0, y0, x1, y1 = self.bounds
        return x1 - x0, y1 - y0

    @property
    def area_mm2(self) -> float:
        """Area of metal."""
        return abs(self.outer.area_mm2) - sum(abs(o.area_mm2) for o in self.openings)

    @property
    def cut_length_mm(self) -> float:
        """Length of all contours."""
        return self.outer.length_mm + sum(o.length_mm for o in self.openings)

    @property
    def pierces(self) -> int:
        """How often the laser starts: once a contour."""
        return 1 + len(self.openings)

    @property
    def round_holes(self) -> tuple[tuple[Point, float], ...]:
        """Centre and diameter of every opening that is one circle."""
        circles = (o.circle for o in self.openings)
        return tuple((c[0], 2 * c[1]) for c in circles if c is not None)


def flat_pattern(part: Part, k_factor: float | None = None) -> FlatPattern:
    """The flat of a part; with `k_factor` every bend uses that K instead of its own.

    Raises `FlatError` when the pieces do not make one outline (a cutout parts the sheet).
    """
    panels, strips = flat_places(part, k_factor)
    segments: list[tuple[Point, Point, float]] = []
    for panel, place in zip(part.panels, panels, strict=True):
        for face in panel.faces:
            for outline in (face.outer, *face.holes):
                segments.extend(_moved_metal_left(outline, place, outline is face.outer))
    lines = []
    for number, (bend, strip) in enumerate(zip(part.bends, strips, strict=True)):
        own = bend.allowance_mm
        across = (
            own
            if k_factor is None
            else abs(bend.angle_rad) * (bend.inside_radius_mm + k_factor * bend.thickness_mm)
        )
        for face in bend.faces:
            for outline in (face.outer, *face.holes):
                stretched = outline if k_factor is None else _stretched(outline, across / own)
                segments.extend(_moved_metal_left(stretched, strip, outline is face.outer))
        lines.append(_bend_line(number, bend.length_mm, across, strip))
    loops = _loops(_without_gates(segments, lines))
    outers = [loop for loop in loops if loop.area_mm2 > 0]
    if len(outers) != 1:
        raise FlatError(
            f"the flat of {part.name!r} comes apart into {len(outers)} pieces; a cutout or a missing bend parts it"
        )
    openings = sorted((loop for loop in loops if loop.area_mm2 <= 0), key=lambda o: o.bounds)
    return FlatPattern(outers[0], tuple(openings), tuple(lines))


def _moved_metal_left(outline: Outline, place: Isometry, is_outer: bool) -> list[tuple[Point, Point, float]]:
    moved = outline.moved(place)
    return list((moved.anticlockwise() if is_outer else moved.clockwise()).segments())


def _stretched(outline: Outline, factor: float) -> Outline:
    """An outline of a strip at another allowance: y scaled, arcs as short chords."""
    if not any(outline.bulges):
        return Outline(tuple((x, y * factor) for x, y in outline.points), outline.bulges)
    vertices = outline.vertices()
    return Outline(tuple((float(x), float(y) * factor) for x, y in vertices), (0.0,) * len(vertices))


def _bend_line(number: int, length: float, across: float, strip: Isometry) -> BendLine:
    middle = 0.5 * across
    return BendLine(
        number,
        strip((0.0, middle)),
        strip((length, middle)),
        ((strip((0.0, 0.0)), strip((length, 0.0))), (strip((0.0, across)), strip((length, across)))),
    )


def _without_gates(
    segments: list[tuple[Point, Point, float]], lines: list[BendLine]
) -> list[tuple[Point, Point, float]]:
    """The segments without what a panel and its strip run both ways along a tangent line between them.

    What only one of them runs is an edge: a sheet that ends in its bend, a cutout that ends on the line.
    """
    tangents = [tangent for line in lines for tangent in line.tangents]
    kept = []
    on_line: dict[int, list[tuple[float, float]]] = {}
    for start, end, bulge in segments:
        number = None if bulge else next((i for i, t in enumerate(tangents) if _in_its_line(start, end, t)), None)
        if number is not None:
            on_line.setdefault(number, []).append((_along(start, tangents[number]), _along(end, tangents[number])))
        elif segment_length(start, end, bulge) > MEETING_MM * 0.01:
            kept.append((start, end, bulge))
    for number, runs in on_line.items():
        (x0, y0), (x1, y1) = tangents[number]
        length = math.dist((x0, y0), (x1, y1))
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        for a, b in _run_once(runs):
            kept.append(((x0 + a * ux, y0 + a * uy), (x0 + b * ux, y0 + b * uy), 0.0))
    return kept


def _run_once(runs: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Stretches of a line that signed runs go along more one way than the other, as runs."""
    stops: list[float] = []
    for stop in sorted(x for run in runs for x in run):
        if not stops or stop - stops[-1] > MEETING_MM:
            stops.append(stop)
    left = []
    for low, high in itertools.pairwise(stops):
        middle = 0.5 * (low + high)
        forward = sum(a < middle < b for a, b in runs)
        backward = sum(b < middle < a for a, b in runs)
        if forward > backward:
            left.append((low, high))
        elif backward > forward:
            left.append((high, low))
    return left


def _along(point: Point, line: tuple[Point, Point]) -> float:
    (x0, y0), (x1, y1) = line
    length = math.dist(*line)
    return ((point[0] - x0) * (x1 - x0) + (point[1] - y0) * (y1 - y0)) / length


def _in_its_line(start: Point, end: Point, line: tuple[Point, Point]) -> bool:
    (x0, y0), (x1, y1) = line
    length = math.dist(*line)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    return all(abs((x - x0) * uy - (y - y0) * ux) < MEETING_MM for x, y in (start, end))


def _loops(segments: list[tuple[Point, Point, float]]) -> list[Outline]:
    """Chain segments end to start into closed outlines, and join straight runs that go on in one line."""
    by_start: dict[tuple[int, int], list[int]] = {}
    for index, (start, _, _) in enumerate(segments):
        by_start.setdefault(_cell(start), []).append(index)
    used = [False] * len(segments)
    loops = []
    for first, (start, end, _) in enumerate(segments):
        # one too short to leave its own place begins no outline; it is passed on the way, or stepped over
        if used[first] or math.dist(start, end) <= MEETING_MM:
            continue
        chain = [first]
        used[first] = True
        while math.dist(segments[chain[-1]][1], segments[first][0]) > MEETING_MM:
            following = _next(segments, by_start, used, chain[-1])
            if following is None:
                raise FlatError("the pieces of the flat do not close into an outline")
            used[following] = True
            chain.append(following)
        loops.append(_plain_circle(_straightened([segments[i] for i in chain])))
    return loops


def _cell(point: Point) -> tuple[int, int]:
    return round(point[0] / 0.01), round(point[1] / 0.01)


def _next(
    segments: list[tuple[Point, Point, float]],
    by_start: dict[tuple[int, int], list[int]],
    used: list[bool],
    last: int,
) -> int | None:
    """The unused segment that starts where the last one ends; the sharpest right turn where several do."""
    end = segments[last][1]
    cx, cy = _cell(end)
    found = [
        i
        for dx in (-1, 0, 1)
        for dy in (-1, 0, 1)
        for i in by_start.get((cx + dx, cy + dy), ())
        if not used[i] and math.dist(segments[i][0], end) < MEETING_MM
    ]
    if len(found) < 2:
        return found[0] if found else None
    came = _direction(segments[last], at_end=True)

    def turn(i: int) -> float:
        goes = _direction(segments[i], at_end=False)
        return math.atan2(came[0] * goes[1] - came[1] * goes[0], came[0] * goes[0] + came[1] * goes[1])

    return min(found, key=turn)


def _direction(segment: tuple[Point, Point, float], at_end: bool) -> Point:
    (x0, y0), (x1, y1), bulge = segment
    angle = math.atan2(y1 - y0, x1 - x0) + (2 if at_end else -2) * math.atan(bulge)
    return (math.cos(angle), math.sin(angle))


def _straightened(chain: list[tuple[Point, Point, float]]) -> Outline:
    """The outline with straight runs and arcs of one circle joined, so that a hole across a bend is one circle."""
    joined: list[tuple[Point, Point, float]] = []
    for segment in chain:
        if joined and (whole := _joined(joined[-1], segment)) is not None:
            joined[-1] = whole
        else:
            joined.append(segment)
    while len(joined) > 2 and (whole := _joined(joined[-1], joined[0])) is not None:
        joined = [whole, *joined[1:-1]]
    if len(joined) < 2:
        joined = chain
    return Outline(tuple(s[0] for s in joined), tuple(s[2] for s in joined))


def _joined(
    one: tuple[Point, Point, float], two: tuple[Point, Point, float]
) -> tuple[Point, Point, float] | None:
    """Two segments as one when the second carries on the first's line or circle for less than a full turn."""
    if not one[2] and not two[2]:
        return (one[0], two[1], 0.0) if _in_line(one[0], one[1], two[1]) else None
    if one[2] * two[2] <= 0:
        return None
    (c1, r1, _, turn1), (c2, r2, _, turn2) = arc_of(*one), arc_of(*two)
    if math.dist(c1, c2) > MEETING_MM or abs(r1 - r2) > MEETING_MM or abs(turn1 + turn2) > 1.9 * math.pi:
        return None
    return (one[0], two[1], math.tan((turn1 + turn2) / 4))


def _plain_circle(outline: Outline) -> Outline:
    """A full circle as two halves from its leftmost point; anything else as it is."""
    found = outline.circle
    if found is None:
        return outline
    (cx, cy), radius = found
    half = math.copysign(1.0, outline.bulges[0])
    return Outline(((cx - radius, cy), (cx + radius, cy)), (half, half))


def _in_line(before: Point, here: Point, after: Point) -> bool:
    ux, uy = here[0] - before[0], here[1] - before[1]
    vx, vy = after[0] - here[0], after[1] - here[1]
    cross = ux * vy - uy * vx
    return (
        abs(cross) <= MEETING_MM * 0.1 * max(math.hypot(ux, uy), math.hypot(vx, vy)) and ux * vx + uy * vy > 0
    )
