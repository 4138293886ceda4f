"""Seams: where two panels of a folded part meet and are joined, so that a ring of panels closes.

A part is a tree of panels; a seam ties two of them that no bend joins: an edge to another edge (the corner of a box),
or an edge to a face (a tang that ends on a back, or a flange lapped over a panel).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from steadfold.quantities import show_length
from steadfold.quantities.showing import Units
from steadfold.sheet.outline import Point
from steadfold.sheet.part import Part, Seam, SeamHold, SeamSpot
from steadfold.sheet.pose import Frame, fold
from steadfold.sheet.tree import DrawnPanel, PanelTree, TreeError

How = Literal["welded", "bolted", "riveted"]
HOWS: tuple[How, ...] = ("welded", "bolted", "riveted")

USUAL_GAP_MM = 1.0
"""The widest gap between two edges that still counts as meeting, where the job does not say (common practice, no
source: thin sheet is welded over less)."""

SPOT_T = 2.0
"""A weld is tied at spots so many thicknesses apart."""

FEWEST_SPOTS, MOST_SPOTS = 3, 120

INTO_SHARE = 0.1
"""How far an edge may run into the face it ends on, over the thickness (judgement: filed off before it is joined)."""

SAMPLES = 120
"""Places along an edge where the gap is looked at."""

SHORTEST_MM = 2.0
"""A shorter stretch of two edges that meet is no seam."""


class SeamError(ValueError):
    """A seam that cannot be made; `field` says which key, `str()` what would be right."""

    def __init__(self, field: str, sentence: str):
        super().__init__(field, sentence)
        self.field = field
        self.sentence = sentence

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True)
class DrawnSeam:
    """A seam as the job draws it.

    The edge `edge` of `panel` meets the edge `to_edge` of panel `to`, or its face where that is None, and they lie no
    further apart than `gap_mm`. `throat_mm` belongs to a weld; `pitch_mm`, `inset_mm` (from the edge to the row),
    `fastener` and `grade` to bolts and rivets. `shear_n`, `tension_n` and `source` are the user's own word on what one
    fastener holds.
    """

    panel: str
    edge: str | int
    to: str
    how: How
    to_edge: str | int | None = None
    gap_mm: float = USUAL_GAP_MM
    throat_mm: float | None = None
    pitch_mm: float | None = None
    inset_mm: float = 0.0
    fastener: str | None = None
    grade: str | None = None
    shear_n: float | None = None
    tension_n: float | None = None
    source: str = ""


def seamed(part: Part, tree: PanelTree, drawn: DrawnSeam, hold: SeamHold) -> Part:
    """The part with one more seam.

    Raises `SeamError` for a panel or edge that there is none of, and for edges that do not meet when it is folded.
    """
    return replace(part, seams=(*part.seams, _placed(part, tree, drawn, hold)))


def _placed(part: Part, tree: PanelTree, drawn: DrawnSeam, hold: SeamHold) -> Seam:
    first, second = _panel(part, drawn.panel, "panel"), _panel(part, drawn.to, "to")
    if first == second:
        raise SeamError("to", f"panel {drawn.panel!r} cannot be joined to itself")
    start, end = _edge(tree, drawn.panel, drawn.edge, "edge")
    square = _inward(tree, drawn.panel, start, end)
    inward = square * (_cut_back(part, first, start, end, square) + drawn.inset_mm)
    line = (np.asarray(start) + inward, np.asarray(end) + inward)
    to_line = None
    if drawn.to_edge is not None:
        low, high = _edge(tree, drawn.to, drawn.to_edge, "to_edge")
        square = _inward(tree, drawn.to, low, high)
        back = square * _cut_back(part, second, low, high, square)
        to_line = (low[0] + back[0], low[1] + back[1]), (high[0] + back[0], high[1] + back[1])
    run = _run(part, first, second, line, to_line, drawn)
    length = run[1] - run[0]
    if drawn.how == "welded":
        count = int(np.clip(math.ceil(length / (SPOT_T * part.thickness_mm)), FEWEST_SPOTS, MOST_SPOTS))
    else:
        count = max(1, round(length / drawn.pitch_mm)) if drawn.pitch_mm else 1
    along = (line[1] - line[0]) / math.dist(*line)
    pose = fold(part)
    here, there = pose.panels[first], pose.panels[second]
    spots = []
    for k in range(count):
        own = line[0] + (run[0] + (k + 0.5) * length / count) * along
        other = _foot(there, here.points(own[None])[0], to_line)
        spots.append(SeamSpot((float(own[0]), float(own[1])), (float(other[0]), float(other[1]))))
    direction = along[0] * here.along + along[1] * here.away
    butt = drawn.how == "welded" and _is_butt(here, there, spots)
    x, y, z = (float(v) for v in direction)
    return Seam(first, second, drawn.how, tuple(spots), length, (x, y, z), butt, hold)


def _panel(part: Part, name: str, field: str) -> int:
    try:
        return part.panel_index(name)
    except KeyError:
        names = ", ".join(panel.name for panel in part.panels)
        raise SeamError(field, f"there is no panel {name!r}; the part has {names}") from None


def _drawn(tree: PanelTree, name: str) -> DrawnPanel:
    return next(panel for panel in tree.panels if panel.name == name)


def _edge(tree: PanelTree, name: str, edge: str | int, field: str) -> tuple[Point, Point]:
    try:
        _, start, end = _drawn(tree, name).edge_line(edge)
    except TreeError as error:
        raise SeamError(field, str(error)) from None
    return start, end


def _inward(tree: PanelTree, name: str, start: Point, end: Point) -> np.ndarray:
    """Unit vector from an edge into its panel."""
    along = (np.asarray(end) - np.asarray(start)) / math.dist(start, end)
    square = np.array([-along[1], along[0]])
    middle = 0.5 * (np.asarray(start) + np.asarray(end)) + 1e-3 * square
    return square if _drawn(tree, name).outline.polygon().contains(shapely.Point(*middle)) else -square


def _cut_back(part: Part, panel: int, start: Point, end: Point, inward: np.ndarray) -> float:
    """How far from a drawn edge the metal begins: 0, but for a panel that was made narrower than drawn (mm)."""
    long = math.dist(start, end)
    along = (np.asarray(end) - np.asarray(start)) / long
    metal = shapely.transform(
        _metal(part, panel, True), lambda p: (p - np.asarray(start)) @ np.column_stack([along, inward])
    )
    beside = shapely.clip_by_rect(metal, 1e-6, -1e9, long - 1e-6, 1e9)
    return 0.0 if beside.is_empty else max(float(beside.bounds[1]), 0.0)


def _run(
    part: Part,
    first: int,
    second: int,
    line: tuple[np.ndarray, np.ndarray],
    to_line: tuple[Point, Point] | None,
    drawn: DrawnSeam,
) -> tuple[float, float]:
    """From where to where along the edge (mm from its start) the two meet: the longest stretch within the gap.

    Raises `SeamError` where they do not, or where the edge runs into the face.
    """
    pose, half = fold(part), 0.5 * part.thickness_mm
    here, there = pose.panels[first], pose.panels[second]
    fastened = drawn.how != "welded"
    own_metal, other_metal = _metal(part, first, fastened), _metal(part, second, fastened)
    whole = math.dist(*line)
    places = (np.arange(SAMPLES) + 0.5) / SAMPLES * whole
    along = (line[1] - line[0]) / whole
    own = line[0] + places[:, None] * along
    present = np.array([own_metal.distance(shapely.Point(*p)) < 1e-6 for p in own])
    gaps, deepest = np.full(SAMPLES, np.inf), 0.0
    for k in np.flatnonzero(present):
        space = here.points(np.tile(own[k], (3, 1)), np.array([-half, 0.0, half]))
        gaps[k] = min(_off(there, other_metal, p, half) for p in space)
        if to_line is None:
            deepest = max(deepest, _depth(here, there, other_metal, space[1], half))
        if to_line is not None:
            foot = _foot(there, space[1], to_line)
            back = there.points(np.tile(foot, (3, 1)), np.array([-half, 0.0, half]))
            off_edge = min(_off(here, own_metal, p, half) for p in back)
            # of two edges, the one must lie at the other, not only somewhere on the other's panel
            gaps[k] = max(min(gaps[k], off_edge), float(np.linalg.norm(back[1] - space[1])) - 2.0 * half)
    if deepest > INTO_SHARE * part.thickness_mm:
        depth = show_length(round(deepest, 2))
        raise SeamError(
            "edge",
            f"edge {drawn.edge!r} of {drawn.panel!r} runs {depth} into {drawn.to!r} when it is folded; end it on its face",
        )
    meets = gaps <= drawn.gap_mm + 1e-9
    steps = np.flatnonzero(np.diff(np.concatenate([[False], meets, [False]]).astype(int)))
    stretches = [(int(a), int(b)) for a, b in steps.reshape(-1, 2)]
    best = max(stretches, key=lambda stretch: stretch[1] - stretch[0], default=(0, 0))
    length = (best[1] - best[0]) / SAMPLES * whole
    if length < min(SHORTEST_MM, 0.5 * whole):
        where = f"edge {drawn.to_edge!r} of {drawn.to!r}" if drawn.to_edge is not None else f"panel {drawn.to!r}"
        least = float(gaps.min())
        apart = (
            "there is no metal of it left along the edge"
            if not math.isfinite(least)
            else (
                f"they come no nearer than {show_length(round(least, 2))}, and a gap of {show_length(drawn.gap_mm)} is the most here"
                if least > drawn.gap_mm
                else f"they meet along {show_length(round(length, 2))} only"
            )
        )
        raise SeamError(
            "edge", f"edge {drawn.edge!r} of {drawn.panel!r} does not meet {where} when it is folded: {apart}"
        )
    return best[0] / SAMPLES * whole, best[1] / SAMPLES * whole


def _depth(here: Frame, there: Frame, metal: shapely.Geometry, point: np.ndarray, half_mm: float) -> float:
    """How deep an edge lies in the panel whose face it should end on, or lap over where the two are parallel."""
    x, y, z = _local(there, point)
    if not metal.contains(shapely.Point(x, y)):
        return 0.0
    return max(half_mm * (1.0 + abs(float(here.face @ there.face))) - abs(z), 0.0)


def _metal(part: Part, panel: int, filled: bool) -> shapely.Geometry:
    """A panel's metal, its openings filled where fasteners go through them."""
    faces = part.panels[panel].faces
    return shapely.union_all([face.outer.polygon() if filled else face.polygon() for face in faces])


def _local(frame: Frame, point: np.ndarray) -> tuple[float, float, float]:
    off = point - frame.origin
    return float(off @ frame.along), float(off @ frame.away), float(off @ frame.face)


def _off(frame: Frame, metal: shapely.Geometry, point: np.ndarray, half_mm: float) -> float:
    """Distance of a point from a panel's metal, its thickness counted."""
    x, y, z = _local(frame, point)
    return math.hypot(float(metal.distance(shapely.Point(x, y))), max(abs(z) - half_mm, 0.0))


def _foot(frame: Frame, point: np.ndarray, line: tuple[Point, Point] | None) -> np.ndarray:
    """The nearest place of a panel's plane, or of a line in it, in the panel's frame."""
    x, y, _ = _local(frame, point)
    here = np.array([x, y])
    if line is None:
        return here
    start, way = np.asarray(line[0]), np.asarray(line[1]) - np.asarray(line[0])
    share = float(np.clip((here - start) @ way / (way @ way), 0.0, 1.0))
    return np.asarray(start + share * way)


def _is_butt(here: Frame, there: Frame, spots: Sequence[SeamSpot]) -> bool:
    """Whether two edges lie end to end in one plane, so that a weld through the thickness carries bending too."""
    if abs(float(here.face @ there.face)) < math.cos(math.radians(15.0)):
        return False
    ends = here.points(np.array([s.first for s in spots])), there.points(np.array([s.second for s in spots]))
    return bool(np.abs((ends[1] - ends[0]) @ here.face).max() < 0.25 * USUAL_GAP_MM)


def seam_name(part: Part, seam: Seam) -> str:
    """The two panels a seam joins."""
    return f"seam {part.panels[seam.first].name}–{part.panels[seam.second].name}"


def told(part: Part, seam: Seam, units: Units = "mm") -> str:
    """A seam as a line of text for whoever makes it."""
    names = f"{part.panels[seam.first].name} to {part.panels[seam.second].name}"
    if seam.how == "welded":
        throat = f"throat {show_length(seam.hold.throat_mm, units)}" if seam.hold.throat_mm else "throat not given"
        return f"weld {names}: {show_length(round(seam.length_mm, 1), units)} long, {throat}"
    word = "bolt" if seam.how == "bolted" else "rivet"
    return f"{word} {names}: {len(seam.spots)} × {seam.hold.fastener or 'a fastener that is not named'}"
