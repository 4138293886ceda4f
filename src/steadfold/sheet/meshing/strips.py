"""Rows of triangles round a bend.

A bend strip is cut across into rows, one a facet, by generator lines: lines along the bend that stay straight
when it is folded. Every triangle lies between two neighbouring generator lines, so that a facet is plane.
The nodes of every other line are shifted by half a step, which allows triangles twice as long along the bend
at the same smallest angle.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.sheet.meshing.corners import corner_cosines
from steadfold.sheet.meshing.outlines import chords
from steadfold.sheet.meshing.sizes import GRADING
from steadfold.sheet.outline import arc_of
from steadfold.sheet.part import Bend

Interval = tuple[float, float]

LONGEST_PER_ROW = 3.2
"""Longest step along the bend over the height of a row: with shifted nodes the smallest angle is 32°, and stays
above 20° where a step has to be a good third longer."""

GOOD_COSINE = math.cos(math.radians(26.0))
MOST_REPAIRS = 60

SHORTEST_PER_ROW = 0.7
AT_CORNER_PER_ROW = 1.3
"""Step next to an opening's corners over the height of a row."""

FINE_EDGE_SHARE = 1.6
"""How much longer the step at a tangent line may be than the shortest edge of the panel there."""

STEEPEST_LEAN = 1.9
"""How far the end of a row may lean, over the row's height, before the metal's angle there gets too sharp."""

LOWEST_PER_THICKNESS = 0.2
"""Lowest row over the thickness."""

ROW_PER_RADIUS = 0.45
FACETS_FOR_OPENINGS = 3
"""Highest row over the radius of an opening in the bend, kept to from that many facets on."""

SHORT_STEP_PER_ROW = 1.6

CLEAR_PER_ROW = 0.5
CLEAR_PER_LEAN = 0.75
CLEAR_PHASE = 0.4
"""Least distance of a node from a corner on its line: over the row's height, the lean there, and the step."""

CLOSEST_PER_ROW = 0.35
"""Corners closer than this share of a row's height become one."""


@dataclass(frozen=True)
class Trapezoid:
    """Metal of one row between two generator lines: from and to on the lower and on the upper line."""

    row: int
    lower: Interval
    upper: Interval


@dataclass(frozen=True)
class Rows:
    """The metal of a bend strip as trapezoids in rows of one height, from the parent's tangent line."""

    count: int
    height_mm: float
    trapezoids: tuple[Trapezoid, ...]
    breaks: tuple[np.ndarray, ...]
    """On each of the `count + 1` lines, where corners are."""


@dataclass(frozen=True)
class StripTriangles:
    """Nodes of a strip, line by line: `xs[j]` along line j; triangles (m, 3) count through all lines' nodes."""

    xs: tuple[np.ndarray, ...]
    triangles: np.ndarray
    rows: np.ndarray


def row_count(bend: Bend, facets: int, finest_mm: float, fine_edge_share: float = FINE_EDGE_SHARE) -> int:
    """How many rows a bend gets: `facets` for each 90° and at least as many in all.

    No more than `facets` where rows would be lower than half the thickness, and fewer (at least one) where they
    would be lower than a fifth of it: a bend of a few degrees, each facet of which still turns less than one of a
    square bend. More where the sizes at its tangent lines are finer than a row, or a round opening needs them.
    """
    length = bend.middle_length_mm
    count = least_rows(bend, facets)
    fine = math.ceil(SHORTEST_PER_ROW * length / (fine_edge_share * finest_mm) - 1e-6)
    if facets >= FACETS_FOR_OPENINGS:
        fine = max(fine, math.ceil(length / (ROW_PER_RADIUS * _least_radius(bend)) - 1e-6))
    return max(count, min(fine, 4 * max(count, 3)))


def least_rows(bend: Bend, facets: int) -> int:
    """How many rows a bend gets for its angle alone; see `row_count`."""
    length = bend.middle_length_mm
    per_angle = math.ceil(facets * abs(bend.angle_rad) / (0.5 * math.pi) - 1e-6)
    fewest = max(1, min(facets, int(length / (LOWEST_PER_THICKNESS * bend.thickness_mm))))
    turned = max(facets, per_angle)
    stout = max(fewest, int(length / (0.5 * bend.thickness_mm)))
    return max(min(turned, stout), min(per_angle, facets))


def _least_radius(bend: Bend) -> float:
    outlines = [o for face in bend.faces for o in (face.outer, *face.holes)]
    return min((arc_of(*s)[1] for o in outlines for s in o.segments() if s[2]), default=math.inf)


def strip_rows(bend: Bend, count: int, parent_breaks: np.ndarray, child_breaks: np.ndarray) -> Rows:
    """The rows of a bend strip.

    Where its metal ends on a tangent line close to a corner of the panel there, it ends at that corner. An
    opening is taken row by row: its sides run straight from line to line, and its tip is kept where it
    reaches the middle of a row.
    """
    height = bend.middle_length_mm / count
    rings = _rings(bend, height)
    lines = [_intervals(rings, y) for y in np.linspace(0, 1, count + 1).clip(1e-6, 1 - 1e-6) * height * count]
    middles = [_intervals(rings, (row + 0.5) * height) for row in range(count)]
    closest = CLOSEST_PER_ROW * height
    anchors = [np.sort(parent_breaks), *[np.empty(0)] * (count - 1), np.sort(child_breaks)]
    found: list[Trapezoid] = []
    for row, middle in enumerate(middles):
        if lines[row] and lines[row + 1]:
            bases = zip(_bases(middle, lines[row]), _bases(middle, lines[row + 1]), strict=True)
            found.extend(_less_leaning(row, low, high, STEEPEST_LEAN * height) for low, high in bases)
    snaps = [_snapped(_corners(found, j), anchors[j], closest) for j in range(count + 1)]
    kept = []
    for t in found:
        low_snap, high_snap = snaps[t.row], snaps[t.row + 1]
        moved = Trapezoid(
            t.row, (low_snap[t.lower[0]], low_snap[t.lower[1]]), (high_snap[t.upper[0]], high_snap[t.upper[1]])
        )
        if min(moved.lower[1] - moved.lower[0], moved.upper[1] - moved.upper[0]) >= 0.5 * closest:
            kept.append(moved)
    breaks = tuple(np.unique(np.concatenate([_corners(kept, j), anchors[j]])) for j in range(count + 1))
    return Rows(count, height, tuple(kept), breaks)


def _corners(trapezoids: Sequence[Trapezoid], line: int) -> np.ndarray:
    """Where the trapezoids of the rows on both sides of a line have their corners on it."""
    bases = [t.lower for t in trapezoids if t.row == line] + [t.upper for t in trapezoids if t.row == line - 1]
    return np.array(bases, dtype=float).reshape(-1)


def _rings(bend: Bend, height_mm: float) -> list[np.ndarray]:
    stretch = np.array([1.0, bend.middle_length_mm / bend.allowance_mm])
    rings = []
    for face in bend.faces:
        for outline in (face.outer, *face.holes):
            rings.append(chords(outline, 60, 1e9, 0.05 * height_mm) * stretch)
    return rings


def _intervals(rings: Sequence[np.ndarray], y: float) -> list[Interval]:
    """Where a line of constant y runs through metal."""
    crossings: list[float] = []
    for ring in rings:
        ends = np.roll(ring, -1, axis=0)
        cut = (ring[:, 1] > y) != (ends[:, 1] > y)
        a, b = ring[cut], ends[cut]
        crossings.extend(a[:, 0] + (y - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0]))
    crossings.sort()
    found: list[Interval] = []
    for low, high in zip(crossings[::2], crossings[1::2], strict=True):
        if found and low - found[-1][1] < 1e-6:
            found[-1] = (found[-1][0], high)
        elif high - low > 1e-6:
            found.append((low, high))
    return found


def _bases(middle: list[Interval], line: list[Interval]) -> list[Interval]:
    """For the metal at the middle of a row, where each piece starts and ends on a line that bounds the row."""
    gaps = [(one[1], two[0]) for one, two in itertools.pairwise(line)]
    starts, ends = [line[0][0]], []
    for one, two in itertools.pairwise(middle):
        low, high = one[1], two[0]
        match = next((g for g in gaps if g[0] < high and g[1] > low), None)
        if match is not None:
            gaps.remove(match)
        else:
            match = (0.5 * (low + high),) * 2
        ends.append(match[0])
        starts.append(match[1])
    ends.append(line[-1][1])
    return list(zip(starts, ends, strict=True))[: len(middle)]


def _less_leaning(row: int, lower: Interval, upper: Interval, lean: float) -> Trapezoid:
    (a, b), (c, d) = lower, upper
    return Trapezoid(row, (max(a, c - lean), min(b, d + lean)), (max(c, a - lean), min(d, b + lean)))


def _snapped(corners: np.ndarray, anchors: np.ndarray, closest: float) -> dict[float, float]:
    """Where each corner of a line goes: to an anchor within reach, else together with its close neighbours."""
    places: dict[float, float] = {}
    loose: list[float] = []
    for x in np.unique(corners):
        near = anchors[np.argmin(np.abs(anchors - x))] if len(anchors) else np.inf
        if abs(near - x) < closest:
            places[float(x)] = float(near)
        else:
            loose.append(float(x))
    group: list[float] = []
    for x in [*loose, math.inf]:
        if group and x - group[0] >= closest:
            middle = 0.5 * (group[0] + group[-1])
            places.update(dict.fromkeys(group, middle))
            group = []
        group.append(x)
    return places


def strip_triangles(rows: Rows, at_mm: np.ndarray, sizes_mm: np.ndarray) -> StripTriangles:
    """Triangles of a strip, given the sizes wanted at places along it (sorted, shape (n,))."""
    places, phase = _phase(rows, at_mm, sizes_mm)
    xs = []
    for j in range(rows.count + 1):
        wanted = np.arange(0.5 if j % 2 else 0.0, phase[-1] + 0.5)
        steps = np.interp(wanted, phase, places)
        xs.append(_line_nodes(rows, j, steps, places, phase))
    _even_out(rows, xs)
    first = np.concatenate([[0], np.cumsum([len(x) for x in xs])])
    triangles, numbers = [np.empty((0, 3), dtype=np.int64)], [np.empty(0, dtype=np.int64)]
    for t in rows.trapezoids:
        low = _between(xs[t.row], t.lower)
        high = _between(xs[t.row + 1], t.upper)
        made = _zipped(xs[t.row][low], xs[t.row + 1][high], first[t.row] + low[0], first[t.row + 1] + high[0])
        triangles.append(made)
        numbers.append(np.full(len(made), t.row))
    return StripTriangles(tuple(xs), np.concatenate(triangles), np.concatenate(numbers))


def _even_out(rows: Rows, xs: list[np.ndarray]) -> None:
    """Nodes next to triangles that came out sharp moved along their lines, taken away or added, where that helps."""
    states = [_sharpness(rows, xs, row) for row in range(rows.count)]
    for _ in range(MOST_REPAIRS):
        row = max(range(rows.count), key=lambda r: states[r][0])
        total, corners = states[row]
        if total <= 0:
            return
        best: tuple[float, int, np.ndarray] | None = None
        for line in (row, row + 1):
            near = [r for r in (line - 1, line) if 0 <= r < rows.count]
            before = sum(states[r][0] for r in near)
            for candidate in _candidates(rows, xs[line], line, corners[corners[:, 1] == line - row, 0]):
                trial = [*xs[:line], candidate, *xs[line + 1 :]]
                gain = before - sum(_sharpness(rows, trial, r)[0] for r in near)
                if gain > 0.01 * total and (best is None or gain > best[0]):
                    best = (gain, line, candidate)
        if best is None:
            states[row] = (0.0, corners)
            continue
        xs[best[1]] = best[2]
        for r in (best[1] - 1, best[1]):
            if 0 <= r < rows.count:
                states[r] = _sharpness(rows, xs, r)


def _sharpness(rows: Rows, xs: Sequence[np.ndarray], row: int) -> tuple[float, np.ndarray]:
    """How much too sharp a row's triangles are in all (0 if none is), and the sharpest's corners: x, and 0 or 1 for
    the lower or upper line."""
    low, high = xs[row], xs[row + 1]
    points = np.concatenate([np.column_stack([low, np.zeros(len(low))]), np.column_stack([high, np.ones(len(high))])])
    total, sharpest, corners = 0.0, GOOD_COSINE, points[:0]
    for t in rows.trapezoids:
        if t.row != row:
            continue
        a, b = _between(low, t.lower), _between(high, t.upper)
        triangles = _zipped(low[a], high[b], int(a[0]), len(low) + int(b[0]))
        cosines = corner_cosines(points * np.array([1.0, rows.height_mm]), triangles)
        total += float(np.square(np.maximum(cosines - GOOD_COSINE, 0.0)).sum())
        index = int(np.argmax(cosines))
        if cosines[index] > sharpest:
            sharpest, corners = float(cosines[index]), points[triangles[index]]
    return total, corners


def _candidates(rows: Rows, xs: np.ndarray, line: int, corners: np.ndarray) -> Iterator[np.ndarray]:
    """A line's nodes with one of a triangle's corners moved or taken away, or one put between two of them."""
    if len(corners) == 2:
        yield np.sort(np.append(xs, corners.mean()))
    for x in corners:
        if np.abs(rows.breaks[line] - x).min() < 1e-9:
            continue
        i = int(np.argmin(np.abs(xs - x)))
        yield np.delete(xs, i)
        for share in (0.15, 0.3, 0.45):
            for side in (-1, 1):
                moved = xs.copy()
                moved[i] = xs[i] + share * (xs[i + side] - xs[i])
                yield moved


def _phase(rows: Rows, at_mm: np.ndarray, sizes_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Places along the strip and how many steps lie before each, a whole number in all, from graded sizes."""
    height = rows.height_mm
    least, most = SHORTEST_PER_ROW * height, LONGEST_PER_ROW * height
    low = min(float(line[0]) for line in rows.breaks if len(line))
    high = max(float(line[-1]) for line in rows.breaks if len(line))
    inner = np.unique(np.concatenate([line[(line > low + least) & (line < high - least)] for line in rows.breaks]))
    fill = np.linspace(low, high, 2 + int((high - low) / height))
    places = np.concatenate([at_mm, inner, fill])
    sizes = np.concatenate([sizes_mm, np.full(len(inner), AT_CORNER_PER_ROW * height), np.full(len(fill), most)])
    keep = (places >= low) & (places <= high)
    places, sizes = places[keep], sizes[keep].clip(least, most)
    order = np.argsort(places, kind="stable")
    places, sizes = places[order], sizes[order]
    rising = np.minimum.accumulate(sizes - GRADING * places) + GRADING * places
    falling = np.minimum.accumulate((sizes + GRADING * places)[::-1])[::-1] - GRADING * places
    sizes = np.minimum(rising, falling)
    steps = 0.5 * (1 / sizes[1:] + 1 / sizes[:-1]) * np.diff(places)
    phase = np.concatenate([[0.0], np.cumsum(steps)])
    return places, phase * (max(1, round(phase[-1])) / phase[-1])


def _line_nodes(rows: Rows, line: int, steps: np.ndarray, places: np.ndarray, phase: np.ndarray) -> np.ndarray:
    """Nodes on one line: its corners, and those steps between them that lie in metal and clear of the corners.

    Behind a leaning end the next node lies about where the end of the other line is, so that the sharp metal
    there is one triangle.
    """
    below = [(t.upper, t.lower) for t in rows.trapezoids if t.row == line - 1]
    above = [(t.lower, t.upper) for t in rows.trapezoids if t.row == line]
    breaks = rows.breaks[line]
    found: list[np.ndarray] = []
    for a, b in itertools.pairwise(breaks):
        middle = 0.5 * (a + b)
        bases = [(mine, other) for mine, other in below + above if mine[0] < middle < mine[1]]
        if not bases:
            continue
        found.append(np.array([a, b]))
        from_phase, to_phase = np.interp([a, b], places, phase)
        least = np.full(2, CLEAR_PER_ROW * rows.height_mm)
        for mine, other in bases:
            if mine[0] == a:
                least[0] = max(least[0], CLEAR_PER_LEAN * (other[0] - a))
            if mine[1] == b:
                least[1] = max(least[1], CLEAR_PER_LEAN * (b - other[1]))
        clear_phase = np.interp(steps, places, phase)
        clear = (clear_phase > from_phase + CLEAR_PHASE) & (clear_phase < to_phase - CLEAR_PHASE)
        kept = clear & (steps > a + least[0]) & (steps < b - least[1])
        found.append(_closed_up(clear_phase[kept], from_phase, to_phase, rows.height_mm, places, phase))
    return np.unique(np.concatenate(found)) if found else np.empty(0)


def _closed_up(
    at: np.ndarray, start: float, end: float, height_mm: float, places: np.ndarray, phase: np.ndarray
) -> np.ndarray:
    """Nodes between two corners, given by phase, drawn towards a corner that lost its neighbour.

    Only where steps are short against the row's height, so that triangles do not live from the shift of every
    other line.
    """
    moved = at.copy()
    for corner, order in ((start, slice(None, 3)), (end, slice(None, -4, -1))):
        near = at[order]
        if len(near) < 3 or len(at) < 6:
            continue
        side = 1.0 if corner == start else -1.0
        step = abs(float(np.interp(corner + side, phase, places) - np.interp(corner, phase, places)))
        excess = abs(near[0] - corner) - 1.0
        if excess > 0 and step < SHORT_STEP_PER_ROW * height_mm:
            moved[order] = near - side * excess * np.array([0.6, 0.35, 0.15])
    return np.interp(moved, phase, places)


def _between(xs: np.ndarray, base: Interval) -> np.ndarray:
    return np.flatnonzero((xs >= base[0] - 1e-9) & (xs <= base[1] + 1e-9))


def _zipped(low: np.ndarray, high: np.ndarray, first_low: int, first_high: int) -> np.ndarray:
    """Triangles (m, 3) between two chains on parallel lines, each on one step of a chain and the other chain's
    node nearest to the step's middle; anticlockwise with the high chain at greater y."""
    low_middle, high_middle = 0.5 * (low[1:] + low[:-1]), 0.5 * (high[1:] + high[:-1])
    low_apex = np.searchsorted(high_middle, low_middle, side="left")
    high_apex = np.searchsorted(low_middle, high_middle, side="right")
    i, j = np.arange(len(low_middle)), np.arange(len(high_middle))
    below = np.column_stack([first_low + i, first_low + i + 1, first_high + low_apex])
    above = np.column_stack([first_high + j + 1, first_high + j, first_low + high_apex])
    return np.concatenate([below, above]).astype(np.int64)
