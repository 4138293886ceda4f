"""Closed outlines and loose lines from the curves of a drawing: duplicates dropped, small gaps closed."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.outline import Segment, outline_of
from steadfold.sheet.outline import Outline, Point

SAME_MM = 0.01
"""Curves and ends closer than this are drawn in the same place."""


@dataclass(frozen=True)
class Piece:
    """A segment of the drawing and the number of the curve it belongs to; `lone` when it is a line by itself."""

    segment: Segment
    curve: int
    lone: bool


@dataclass(frozen=True)
class Loops:
    """Closed outlines; lone lines that are part of none; open runs of curves; what was mended."""

    outlines: tuple[Outline, ...]
    lines: tuple[Piece, ...]
    open_runs: tuple[tuple[Piece, ...], ...]
    duplicates: int
    gaps_mm: tuple[float, ...]


def find_loops(pieces: Sequence[Piece], gap_mm: float) -> Loops:
    """Chain pieces into loops; ends up to `gap_mm` apart are joined."""
    kept, duplicates = _without_duplicates(pieces)
    kept, overlapping = _without_overlaps(kept)
    nodes, places, gaps = _nodes(kept, gap_mm)
    kept = [
        Piece((places[nodes[i][0]], places[nodes[i][1]], p.segment[2]), p.curve, p.lone) for i, p in enumerate(kept)
    ]
    used = [nodes[i][0] != nodes[i][1] for i in range(len(kept))]
    across, hanging = _set_aside(kept, nodes, used)
    outlines, runs = _chained(kept, nodes, used, places)
    left = [False] * len(kept)
    for i in hanging:
        left[i] = True
    runs += _chained(kept, nodes, left, places)[1]
    lines = [kept[i] for i in across] + [run[0] for run in runs if len(run) == 1 and run[0].lone]
    runs = [run for run in runs if len(run) > 1 or not run[0].lone]
    return Loops(tuple(outlines), tuple(lines), tuple(runs), duplicates + overlapping, tuple(gaps))


def _middle(segment: Segment) -> Point:
    (x0, y0), (x1, y1), bulge = segment
    return 0.5 * (x0 + x1) + 0.5 * bulge * (y1 - y0), 0.5 * (y0 + y1) - 0.5 * bulge * (x1 - x0)


def _without_duplicates(pieces: Sequence[Piece]) -> tuple[list[Piece], int]:
    """Pieces each once: the same middle, and the same ends either way round. Full circles are compared whole."""
    seen: dict[tuple[int, int], list[Piece]] = {}
    kept = []
    dropped = 0
    for piece in pieces:
        middle = _middle(piece.segment)
        cell = (math.floor(middle[0] / SAME_MM), math.floor(middle[1] / SAME_MM))
        near = [p for dx in (-1, 0, 1) for dy in (-1, 0, 1) for p in seen.get((cell[0] + dx, cell[1] + dy), ())]
        if any(_same(piece.segment, other.segment) for other in near):
            dropped += 1
            continue
        seen.setdefault(cell, []).append(piece)
        kept.append(piece)
    return kept, dropped


def _same(one: Segment, two: Segment) -> bool:
    if math.dist(_middle(one), _middle(two)) > SAME_MM:
        return False
    straight = math.dist(one[0], two[0]) < SAME_MM and math.dist(one[1], two[1]) < SAME_MM
    turned = math.dist(one[0], two[1]) < SAME_MM and math.dist(one[1], two[0]) < SAME_MM
    return straight or turned


def _without_overlaps(pieces: list[Piece]) -> tuple[list[Piece], int]:
    """Straight lines drawn partly over one another, cut at all their ends and kept once."""
    by_line: dict[tuple[int, int], list[int]] = {}
    for i, piece in enumerate(pieces):
        (x0, y0), (x1, y1), bulge = piece.segment
        length = math.dist((x0, y0), (x1, y1))
        if bulge or length < SAME_MM:
            continue
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        if ux < -1e-9 or (abs(ux) <= 1e-9 and uy < 0):
            ux, uy = -ux, -uy
        by_line.setdefault((round(math.atan2(uy, ux) * 1e4), round((x0 * uy - y0 * ux) / 0.05)), []).append(i)
    dropped: set[int] = set()
    added: list[Piece] = []
    for group in by_line.values():
        if len(group) < 2:
            continue
        base = pieces[group[0]].segment
        length = math.dist(base[0], base[1])
        along = np.array([(base[1][0] - base[0][0]) / length, (base[1][1] - base[0][1]) / length])
        spans = []
        for i in group:
            a, b = sorted(
                (float(np.dot(np.subtract(p, base[0]), along)), p) for p in (pieces[i].segment[0], pieces[i].segment[1])
            )
            off = max(abs(along[0] * (p[1] - base[0][1]) - along[1] * (p[0] - base[0][0])) for _, p in (a, b))
            if off < SAME_MM:
                spans.append((a, b, i))
        spans.sort()
        cluster: list[tuple[tuple[float, Point], tuple[float, Point], int]] = []
        reach = -math.inf
        for span in [*spans, None]:
            if span is not None and (not cluster or span[0][0] < reach - SAME_MM):
                cluster.append(span)
                reach = max(reach, span[1][0])
                continue
            if len(cluster) > 1:
                dropped |= {i for _, _, i in cluster}
                stops: list[tuple[float, Point]] = []
                for stop in sorted(s for a, b, _ in cluster for s in (a, b)):
                    if not stops or stop[0] - stops[-1][0] > SAME_MM:
                        stops.append(stop)
                first = pieces[cluster[0][2]]
                added += [Piece((a[1], b[1], 0.0), first.curve, first.lone) for a, b in itertools.pairwise(stops)]
            if span is not None:
                cluster, reach = [span], span[1][0]
    if not dropped:
        return pieces, 0
    return [p for i, p in enumerate(pieces) if i not in dropped] + added, len(dropped)


def _nodes(pieces: list[Piece], gap_mm: float) -> tuple[list[tuple[int, int]], list[Point], list[float]]:
    """The node at each end of each piece; the nodes' places; and the gaps closed to make them."""
    from scipy.spatial import cKDTree

    ends = np.array([p.segment[k] for p in pieces for k in (0, 1)]).reshape(-1, 2)
    if not len(ends):
        return [], [], []
    root = list(range(len(ends)))

    def top(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    tree = cKDTree(ends)
    for a, b in sorted(tree.query_pairs(1e-6)):
        root[top(b)] = top(a)
    gaps = []
    pairs = sorted(
        (float(math.dist(ends[a], ends[b])), a, b)
        for a, b in tree.query_pairs(max(gap_mm, SAME_MM))
        if top(a) != top(b)
    )
    count: dict[int, int] = {}
    for i in range(len(ends)):
        count[top(i)] = count.get(top(i), 0) + 1
    for distance, a, b in pairs:
        x, y = top(a), top(b)
        # only ends that hang free are joined over a gap, so that a slot narrower than the gap stays open
        if x == y or a // 2 == b // 2 or (distance > SAME_MM and (count[x] > 1 or count[y] > 1)):
            continue
        if distance > 1e-4:
            gaps.append(distance)
        root[y] = x
        count[x] += count[y]
    groups: dict[int, list[int]] = {}
    for i in range(len(ends)):
        groups.setdefault(top(i), []).append(i)
    number: dict[int, int] = {}
    places: list[Point] = []
    for group in groups.values():
        for i in group:
            number[i] = len(places)
        x, y = ends[group].mean(axis=0)
        exact = ends[group[0]]
        close = float(np.abs(ends[group] - exact).max()) < 1e-6
        places.append((float(exact[0]), float(exact[1])) if close else (float(x), float(y)))
    return [(number[2 * i], number[2 * i + 1]) for i in range(len(pieces))], places, gaps


def _set_aside(pieces: list[Piece], nodes: list[tuple[int, int]], used: list[bool]) -> tuple[list[int], list[int]]:
    """Take out what cannot be part of an outline: lines across between other edges, and runs with a free end."""
    at: dict[int, set[int]] = {}
    for i, (a, b) in enumerate(nodes):
        if used[i]:
            at.setdefault(a, set()).add(i)
            at.setdefault(b, set()).add(i)

    def drop(i: int) -> None:
        used[i] = False
        at[nodes[i][0]].discard(i)
        at[nodes[i][1]].discard(i)

    across = [
        i
        for i, piece in enumerate(pieces)
        if used[i] and piece.lone and len(at[nodes[i][0]]) == 3 and len(at[nodes[i][1]]) == 3
    ]
    dropped, hanging = [], []
    for i in across:
        if len(at[nodes[i][0]]) == 3 and len(at[nodes[i][1]]) == 3 and not _needed(i, pieces, nodes, at):
            drop(i)
            dropped.append(i)
    waiting = [n for n, own in at.items() if len(own) == 1]
    while waiting:
        node = waiting.pop()
        if len(at[node]) != 1:
            continue
        (i,) = at[node]
        drop(i)
        hanging.append(i)
        other = nodes[i][1] if nodes[i][0] == node else nodes[i][0]
        if len(at[other]) == 1:
            waiting.append(other)
    return dropped, hanging


def _needed(i: int, pieces: list[Piece], nodes: list[tuple[int, int]], at: dict[int, set[int]]) -> bool:
    """True when a line between two other edges runs straight on from one of them while the third leaves: it is
    outline, not a line across."""
    for node in nodes[i]:
        others = [j for j in at[node] if j != i]
        directions = [_leaving(pieces[j], nodes[j][0] == node) for j in (i, *others)]
        own, one, two = directions
        straight = lambda p, q: p[0] * q[0] + p[1] * q[1] < -1 + 1e-4  # noqa: E731
        if (straight(own, one) or straight(own, two)) and not straight(one, two):
            return True
    return False


def _leaving(piece: Piece, from_start: bool) -> Point:
    (x0, y0), (x1, y1), bulge = piece.segment
    angle = math.atan2(y1 - y0, x1 - x0) + (-2 if from_start else 2) * math.atan(bulge)
    sign = 1.0 if from_start else -1.0
    return sign * math.cos(angle), sign * math.sin(angle)


def _chained(
    pieces: list[Piece], nodes: list[tuple[int, int]], used: list[bool], places: list[Point]
) -> tuple[list[Outline], list[tuple[Piece, ...]]]:
    at: dict[int, list[int]] = {}
    for i, (a, b) in enumerate(nodes):
        if used[i]:
            at.setdefault(a, []).append(i)
            at.setdefault(b, []).append(i)
    outlines, runs = [], []
    for first in range(len(pieces)):
        if not used[first]:
            continue
        used[first] = False
        begin, here = nodes[first]
        run = [(first, True)]
        while here != begin and (following := _next(run[-1], here, pieces, nodes, used, at)) is not None:
            run.append(following)
            here = nodes[following[0]][1 if following[1] else 0]
        start = begin
        while (
            here != start and (before := _next((run[0][0], not run[0][1]), start, pieces, nodes, used, at)) is not None
        ):
            run.insert(0, (before[0], not before[1]))
            start = nodes[before[0]][1 if before[1] else 0]
        begin = start
        segments = [
            (places[nodes[i][0]], places[nodes[i][1]], pieces[i].segment[2])
            if ahead
            else (places[nodes[i][1]], places[nodes[i][0]], -pieces[i].segment[2])
            for i, ahead in run
        ]
        if here == begin and len(segments) > 1:
            outline = outline_of(segments)
            if outline.polygon(0.02).convex_hull.area > SAME_MM * outline.length_mm * 0.5:
                outlines.append(outline)
                continue
        runs.append(tuple(pieces[i] for i, _ in run))
    return outlines, runs


def _next(
    last: tuple[int, bool],
    here: int,
    pieces: list[Piece],
    nodes: list[tuple[int, int]],
    used: list[bool],
    at: dict[int, list[int]],
) -> tuple[int, bool] | None:
    """The next piece from a node and whether it is run forward; the sharpest turn clockwise where several go on."""
    following = [i for i in at[here] if used[i]]
    if not following:
        return None
    back = _leaving(pieces[last[0]], not last[1])
    i = min(following, key=lambda j: _clockwise(back, _leaving(pieces[j], nodes[j][0] == here)))
    used[i] = False
    return i, nodes[i][0] == here


def _clockwise(back: Point, ahead: Point) -> float:
    angle = math.atan2(back[0] * ahead[1] - back[1] * ahead[0], back[0] * ahead[0] + back[1] * ahead[1])
    return angle % (2 * math.pi)


def check_simple(outlines: Sequence[Outline]) -> None:
    """Refuse outlines that cross or touch themselves."""
    import shapely

    for outline in outlines:
        polygon = outline.polygon(0.02)
        if not polygon.is_valid:
            where = re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", shapely.is_valid_reason(polygon))
            x, y = (float(where[0]), float(where[1])) if len(where) > 1 else outline.points[0]
            raise CadRefused(f"the outline crosses or touches itself at ({x:.1f}, {y:.1f}) mm; draw it once round")
