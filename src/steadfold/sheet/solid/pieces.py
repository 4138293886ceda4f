"""The pieces of a folded part with their seams matched: what its solid is bounded by, before any kernel.

Where a bend meets a panel, both get the same corners on the tangent line, so that they share whole runs.
A run that two pieces share is a *seam*; every other run is an edge of the sheet and carries a side wall.
Corners that meet in a seam are one corner, whatever their number; corners that merely lie in one place
(two panels that touch when folded, two notches that meet in a point) stay apart.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from steadfold.sheet.outline import Face, Isometry, Outline, Point
from steadfold.sheet.part import Part
from steadfold.sheet.pose import BendPose, Frame, Pose, fold

MATCH_MM = 1e-4
"""Corners of a panel and of a strip nearer than this on a tangent line are one corner. Well above the
rounding of outlines (1e-9), well below anything that is cut."""

SHORTEST_MM = 1e-6
"""Runs shorter than this are left out."""


class SolidError(ValueError):
    """A part that is not one closed solid; `str()` says where and why."""


@dataclass(frozen=True)
class Run:
    """One segment of a loop: from a corner to a corner (their numbers), in the piece's own plane.

    `seam` is the number of the seam it shares with another piece, None for an edge of the sheet.
    """

    start: Point
    end: Point
    bulge: float
    start_corner: int = -1
    end_corner: int = -1
    seam: int | None = None

    def turned_about(self) -> Run:
        """The same run from its end to its start."""
        return Run(self.end, self.start, -self.bulge, self.end_corner, self.start_corner, self.seam)


@dataclass(frozen=True)
class Round:
    """A loop that is one full circle; it runs anticlockwise round metal, clockwise round a hole."""

    centre: Point
    radius_mm: float
    anticlockwise: bool


Loop = tuple[Run, ...] | Round
"""A closed loop of runs, or a full circle that no seam touches."""


@dataclass(frozen=True)
class Curl:
    """How a bend strip is rolled up: the angle it turns through, the length of its middle surface, and the
    allowance its own plane is drawn with."""

    angle_rad: float
    length_mm: float
    allowance_mm: float

    @property
    def flat(self) -> bool:
        """True when the strip lies plane."""
        return abs(self.angle_rad) < 1e-9

    @property
    def stretch(self) -> float:
        """Length on the middle surface over length in the strip's own plane, across the bend."""
        return self.length_mm / self.allowance_mm


@dataclass(frozen=True)
class Piece:
    """One face of metal of a panel or of a bend strip.

    The frame is right-handed (along × away = face); the first loop is the outer one and every loop has the
    metal on its left, seen from the face. `curl` is None for a panel.
    """

    name: str
    frame: Frame
    loops: tuple[Loop, ...]
    curl: Curl | None = None

    def points(self, x_mm: np.ndarray, y_mm: np.ndarray, height_mm: float) -> np.ndarray:
        """Points in space (n, 3) from points of the piece's plane and a height over the middle surface."""
        if self.curl is None:
            return self.frame.points(np.column_stack([x_mm, y_mm]), height_mm)
        share = np.asarray(y_mm, dtype=float) / self.curl.allowance_mm
        return BendPose(self.frame, self.curl.angle_rad, self.curl.length_mm).points(x_mm, share, height_mm)


@dataclass(frozen=True)
class Pieces:
    """All pieces of a part in a pose; `corners` and `seams` count the corners and the seams."""

    thickness_mm: float
    pieces: tuple[Piece, ...]
    corners: int
    seams: int


def pieces_of(part: Part, share: float | tuple[float, ...] = 1.0) -> Pieces:
    """The pieces of a part folded by a share (0 flat, 1 fully; one for all bends or one a bend), seams matched.

    Raises `SolidError` when the pieces do not hang together.
    """
    pose = fold(part, share)
    drawn = _drawn_pieces(part, pose)
    frames = [_right_handed(frame, Isometry(away=(0.0, -1.0)))[0] for frame in pose.panels]
    matches = _cut_at_each_others_corners(part, drawn, frames)
    _check_one_piece(part, drawn, matches)
    seam_of: dict[_Place, int] = {}
    joined = _Joined()
    for seam, (one, other) in enumerate(matches):
        seam_of[one] = seam_of[other] = seam
        joined.join(one, _next_place(drawn, other))
        joined.join(_next_place(drawn, one), other)
    pieces: list[Piece] = []
    numbers: dict[_Place, int] = {}
    for at, piece in enumerate(drawn):
        loops: list[Loop] = []
        for nth, loop in enumerate(piece.loops):
            seamed = [seam_of.get((at, nth, i)) for i in range(len(loop.runs))]
            if loop.round is not None and all(seam is None for seam in seamed):
                loops.append(loop.round)
                continue
            roots = [joined.root((at, nth, i)) for i in range(len(loop.runs))]
            corners = [numbers.setdefault(root, len(numbers)) for root in roots]
            ends = corners[1:] + corners[:1]
            loops.append(
                tuple(
                    Run(run.start, run.end, run.bulge, corner, end, seam)
                    for run, corner, end, seam in zip(loop.runs, corners, ends, seamed, strict=True)
                )
            )
        pieces.append(Piece(piece.name, piece.frame, tuple(loops), piece.curl))
    return Pieces(part.thickness_mm, tuple(pieces), len(numbers), len(matches))


_Place = tuple[int, int, int]
"""Where a run, and the corner it starts from, is: piece, loop, place in the loop."""


@dataclass
class _DrawnLoop:
    """A loop while it is being matched; its runs are cut in place."""

    runs: list[Run]
    round: Round | None


@dataclass(frozen=True)
class _DrawnPiece:
    name: str
    panel: int | None
    bend: int | None
    frame: Frame
    curl: Curl | None
    loops: list[_DrawnLoop]


def _drawn_pieces(part: Part, pose: Pose) -> list[_DrawnPiece]:
    drawn = []
    for index, panel in enumerate(part.panels):
        frame, mirror = _right_handed(pose.panels[index], Isometry(away=(0.0, -1.0)))
        for face in panel.faces:
            loops = _drawn_loops(face.moved(mirror), True)
            drawn.append(_DrawnPiece(f"panel {panel.name!r}", index, None, frame, None, loops))
    for index, bend in enumerate(part.bends):
        parent, child = part.panels[bend.parent].name, part.panels[bend.child].name
        name = f"the bend between panels {parent!r} and {child!r}"
        frame, mirror = _right_handed(pose.bends[index].start, Isometry(along=(-1.0, 0.0)))
        curl = Curl(pose.bends[index].angle_rad, pose.bends[index].length_mm, bend.allowance_mm)
        for face in bend.faces:
            loops = _drawn_loops(face.moved(mirror), False)
            drawn.append(_DrawnPiece(name, None, index, frame, curl, loops))
    return drawn


def _right_handed(frame: Frame, mirror: Isometry) -> tuple[Frame, Isometry]:
    if np.dot(np.cross(frame.along, frame.away), frame.face) > 0:
        return frame, Isometry()
    along, away = mirror.along[0] * frame.along, mirror.away[1] * frame.away
    return Frame(frame.origin, along, away, frame.face), mirror


def _drawn_loops(face: Face, rounds: bool) -> list[_DrawnLoop]:
    outlines = [face.outer.anticlockwise(), *(hole.clockwise() for hole in face.holes)]
    return [_DrawnLoop(_runs(outline), _round(outline) if rounds else None) for outline in outlines]


def _round(outline: Outline) -> Round | None:
    found = outline.circle
    return None if found is None else Round(found[0], found[1], outline.area_mm2 > 0)


def _runs(outline: Outline) -> list[Run]:
    runs: list[Run] = []
    for start, end, bulge in outline.segments():
        if math.dist(start, end) >= SHORTEST_MM:
            runs.append(Run(runs[-1].end if runs else start, end, bulge))
    runs[0] = replace(runs[0], start=runs[-1].end)
    return runs


@dataclass(frozen=True)
class _Straight:
    """A straight run on a tangent line: its place, and its ends in the panel's plane."""

    place: _Place
    start: Point
    end: Point

    def along(self, point: Point) -> float | None:
        """How far along the run a point lies, None when it lies off the run's line."""
        length = math.dist(self.start, self.end)
        dx, dy = (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length
        px, py = point[0] - self.start[0], point[1] - self.start[1]
        return px * dx + py * dy if abs(px * dy - py * dx) < MATCH_MM else None


def _cut_at_each_others_corners(
    part: Part, drawn: list[_DrawnPiece], frames: list[Frame]
) -> list[tuple[_Place, _Place]]:
    """Cut the runs that meet on tangent lines so that they meet whole; the pairs that meet, panel's first.

    At a panel without metal (two bends that touch, a sheet that ends in its bend) the strip that leads there
    stands for the panel.
    """
    plates: dict[int, list[_Straight]] = defaultdict(list)
    strips: dict[int, list[_Straight]] = defaultdict(list)
    for at, piece in enumerate(drawn):
        if piece.panel is not None:
            plates[piece.panel] += [_Straight(p, run.start, run.end) for p, run in _straight_runs(at, piece)]
        elif piece.bend is not None:
            bend = part.bends[piece.bend]
            for y, panel in ((0.0, bend.parent), (bend.allowance_mm, bend.child)):
                leads_there = panel == bend.child and not part.panels[panel].faces
                (plates if leads_there else strips)[panel] += _ends_in_plane(at, piece, y, frames[panel])
    cuts: dict[_Place, list[float]] = defaultdict(list)
    meeting: list[tuple[_Straight, _Straight]] = []
    for panel, on_strips in strips.items():
        for plate in plates[panel]:
            for strip in on_strips:
                if _meet(plate, strip):
                    meeting.append((plate, strip))
                    _note_cuts(cuts[plate.place], plate, strip)
                    _note_cuts(cuts[strip.place], strip, plate)
    first_of = _cut(drawn, cuts)
    matches = []
    for plate, strip in meeting:
        plate_parts, strip_parts = _parts(plate, cuts[plate.place]), _parts(strip, cuts[strip.place])
        for i, (a, b) in enumerate(plate_parts):
            for j, (c, d) in enumerate(strip_parts):
                if math.dist(a, d) < 2 * MATCH_MM and math.dist(b, c) < 2 * MATCH_MM:
                    matches.append((_nth(first_of, plate.place, i), _nth(first_of, strip.place, j)))
    return matches


def _straight_runs(at: int, piece: _DrawnPiece) -> Iterator[tuple[_Place, Run]]:
    for nth, loop in enumerate(piece.loops):
        for i, run in enumerate(loop.runs):
            if not run.bulge:
                yield (at, nth, i), run


def _ends_in_plane(at: int, piece: _DrawnPiece, y_mm: float, frame: Frame) -> Iterator[_Straight]:
    """The runs of a strip on its tangent line at y, in the plane of the panel there."""
    strip = Piece(piece.name, piece.frame, (), piece.curl)
    axes = np.column_stack([frame.along, frame.away])
    for place, run in _straight_runs(at, piece):
        if abs(run.start[1] - y_mm) < MATCH_MM and abs(run.end[1] - y_mm) < MATCH_MM:
            ends = strip.points(np.array([run.start[0], run.end[0]]), np.array([y_mm, y_mm]), 0.0)
            (ax, ay), (bx, by) = ((ends - frame.origin) @ axes).tolist()
            yield _Straight(place, (ax, ay), (bx, by))


def _meet(plate: _Straight, strip: _Straight) -> bool:
    """True when two runs lie on one line, run against each other and share more than a corner."""
    a, b = plate.along(strip.start), plate.along(strip.end)
    if a is None or b is None or b >= a:
        return False
    return min(a, math.dist(plate.start, plate.end)) - max(b, 0.0) > MATCH_MM


def _note_cuts(cuts: list[float], run: _Straight, other: _Straight) -> None:
    length = math.dist(run.start, run.end)
    for point in (other.end, other.start):
        along = run.along(point)
        if along is None or not MATCH_MM < along < length - MATCH_MM:
            continue
        if all(abs(along - cut) > MATCH_MM for cut in cuts):
            cuts.append(along)


def _parts(run: _Straight, cuts: list[float]) -> list[tuple[Point, Point]]:
    corners = _cut_corners(run.start, run.end, cuts)
    return list(pairwise(corners))


def _cut_corners(start: Point, end: Point, cuts: list[float]) -> list[Point]:
    length = math.dist(start, end)
    dx, dy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    return [start, *((start[0] + cut * dx, start[1] + cut * dy) for cut in sorted(cuts)), end]


def _cut(drawn: list[_DrawnPiece], cuts: dict[_Place, list[float]]) -> dict[_Place, _Place]:
    """Cut the runs in place; where the first part of every run has gone."""
    first_of: dict[_Place, _Place] = {}
    for at, piece in enumerate(drawn):
        for nth, loop in enumerate(piece.loops):
            runs: list[Run] = []
            for i, run in enumerate(loop.runs):
                first_of[at, nth, i] = (at, nth, len(runs))
                corners = _cut_corners(run.start, run.end, cuts.get((at, nth, i), []))
                runs += [Run(a, b, run.bulge) for a, b in pairwise(corners)]
            loop.runs[:] = runs
    return first_of


def _nth(first_of: dict[_Place, _Place], place: _Place, part: int) -> _Place:
    at, nth, i = first_of[place]
    return at, nth, i + part


def _next_place(drawn: list[_DrawnPiece], place: _Place) -> _Place:
    at, nth, i = place
    return at, nth, (i + 1) % len(drawn[at].loops[nth].runs)


class _Joined:
    """Corners that are one, by union and find."""

    def __init__(self) -> None:
        self._above: dict[_Place, _Place] = {}

    def root(self, place: _Place) -> _Place:
        while (above := self._above.get(place, place)) != place:
            place = above
        return place

    def join(self, one: _Place, other: _Place) -> None:
        one, other = sorted((self.root(one), self.root(other)))
        if one != other:
            self._above[other] = one


def _check_one_piece(part: Part, drawn: list[_DrawnPiece], matches: list[tuple[_Place, _Place]]) -> None:
    reached, waiting = {0}, [0]
    beside: dict[int, set[int]] = defaultdict(set)
    for (one, _, _), (other, _, _) in matches:
        beside[one].add(other)
        beside[other].add(one)
    while waiting:
        new = beside[waiting.pop()] - reached
        reached |= new
        waiting.extend(sorted(new))
    lost = sorted({piece.name for at, piece in enumerate(drawn) if at not in reached})
    if lost:
        raise SolidError(
            f"{part.name!r} is not one piece: {_listed(lost)} would fall off; "
            "a cutout parts it, or a bend does not reach its panel"
        )


def _listed(names: list[str]) -> str:
    shown = names if len(names) <= 3 else [*names[:3], f"{len(names) - 3} more"]
    return shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1]
