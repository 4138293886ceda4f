"""Cuts through the net section of panels: where reliefs, notches and openings leave less metal than beside them.

Bends and rows of fixings are cut in `cuts`. Here a straight line through a panel is cut wherever the panel is narrower than
nearer its root, piece of metal by piece, and every thin web beside an opening where it is thinnest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from steadfold.mechanics import LineReader
from steadfold.mount.cuts import WINDOW_T, Cut, Line, bend_lines, cut_at, fixing_lines, windows
from steadfold.mount.structure import Mounted
from steadfold.sheet.mesh import placed
from steadfold.sheet.outline import Outline
from steadfold.sheet.part import Part
from steadfold.sheet.pose import Frame

LEAST_LIGAMENT_T = 2.0
"""Metal wanted between two openings, in thicknesses (common practice, no source)."""

NARROWER = 0.97
"""A section counts as net where it has less than this share of the metal nearer the root, or on both sides of it."""

MOST_SECTIONS = 8
"""Net sections that are cut in one panel and direction, the narrowest first."""

MOST_WEBS = 24
"""Thin webs that are cut in one part, the thinnest first."""

NET_PLACES = ("the net section of", "the web of")
"""How the places of these cuts begin."""

BESIDE_MM = 0.02
"""How far beside a corner of an outline a section is looked at."""


@dataclass(frozen=True)
class Web:
    """Metal thinner than wanted between two openings, or an opening and a free edge: panel, the two nearest points in its
    frame, and the middle of the opening."""

    panel: int
    ends_mm: tuple[tuple[float, float], tuple[float, float]]
    opening_mm: tuple[float, float]

    @property
    def width_mm(self) -> float:
        """Metal left."""
        (a, b), (c, d) = self.ends_mm
        return math.hypot(c - a, d - b)


def cut_lines(here: Mounted) -> tuple[Line, ...]:
    """All cuts of a part on its wall: along its bends, beside its rows of fixings, and through its net sections."""
    return (
        *bend_lines(here.part, here.mesh, here.pose, here.model),
        *fixing_lines(
            here.part, here.mesh, here.pose, here.model, here.holes, here.rings, here.fixings.hole_least_mm, here.down
        ),
        *net_lines(here),
    )


def net_lines(here: Mounted) -> tuple[Line, ...]:
    """Lines through the net sections of every panel, parallel to its root bend and square to it, and through thin webs."""
    places = placed(here.mesh, here.pose)
    found: list[Line] = []
    beyond_of = [_regions_beyond(here, panel) for panel in range(len(here.part.panels))]
    for panel, _ in enumerate(here.part.panels):
        metal = _metal(here.part, panel)
        for along, first_mm in _directions(here, panel):
            for level, flush in _narrow_levels(metal, along, first_mm):
                frame = _frame(here, panel, along, level)
                pieces = _pieces(metal, along, level)
                name = here.part.panels[panel].name
                place = f"{NET_PLACES[0]} {name}, {flush:.0f} mm from its {'root' if first_mm is not None else 'edge'}"
                line = _line(here, places, panel, frame, pieces, place, beyond_of[panel])
                found += [line] if line is not None else []
    for web in sorted(thin_webs(here.part), key=lambda w: w.width_mm)[:MOST_WEBS]:
        (x0, y0), (x1, y1) = web.ends_mm
        if web.width_mm < 1e-6:
            continue
        along = ((x1 - x0) / web.width_mm, (y1 - y0) / web.width_mm)
        level = 0.5 * ((x0 + x1) * -along[1] + (y0 + y1) * along[0])
        middle = 0.5 * ((x0 + x1) * along[0] + (y0 + y1) * along[1])
        own = [(a, b) for a, b in _pieces(_metal(here.part, web.panel), along, level) if a < middle < b]
        x, y = web.opening_mm
        place = f"{NET_PLACES[1]} {here.part.panels[web.panel].name} at {x:.0f}, {y:.0f} mm"
        frame = _frame(here, web.panel, along, level)
        line = _line(here, places, web.panel, frame, tuple(own), place, beyond_of[web.panel], alone=True)
        found += [line] if line is not None else []
    return tuple(found)


def thin_webs(part: Part) -> tuple[Web, ...]:
    """Every web thinner than two thicknesses between two openings, or between an opening and a free edge."""
    limit = LEAST_LIGAMENT_T * part.thickness_mm
    found = []
    for number, panel in enumerate(part.panels):
        for face in panel.faces:
            if not face.holes:
                continue
            edges = [_free_edge(part, number, face.outer), *(hole.polygon().exterior for hole in face.holes)]
            tree = shapely.STRtree(edges)
            for one, two in tree.query(edges, predicate="dwithin", distance=limit).T:
                if one < two and edges[one].distance(edges[two]) < limit:
                    line = shapely.shortest_line(edges[one], edges[two])
                    (x0, y0), (x1, y1) = line.coords
                    middle = edges[two].centroid
                    found.append(Web(number, ((x0, y0), (x1, y1)), (middle.x, middle.y)))
    return tuple(found)


def _free_edge(part: Part, panel: int, outer: Outline) -> shapely.Geometry:
    """The outer edge of a panel without its tangent lines: there the metal goes on."""
    lines = []
    for bend in part.bends:
        for mine, point, along in (
            (bend.parent, bend.parent_point, bend.parent_along),
            (bend.child, bend.child_point, bend.child_along),
        ):
            if mine == panel:
                end = (point[0] + bend.length_mm * along[0], point[1] + bend.length_mm * along[1])
                lines.append(shapely.LineString([point, end]).buffer(1e-3))
    return outer.polygon().exterior.difference(shapely.union_all(lines))


def _metal(part: Part, panel: int) -> shapely.Geometry:
    return shapely.union_all([face.polygon() for face in part.panels[panel].faces])


def _directions(here: Mounted, panel: int) -> list[tuple[tuple[float, float], float | None]]:
    """Directions of cuts in a panel's frame, with the width of the root bend where there is one (the cut then lies on the left
    of its direction as seen from the root): along the root bend, and square to it."""
    root = _root_bend(here, panel)
    if root is None:
        return [((1.0, 0.0), None), ((0.0, 1.0), None)]
    number, of_child = root
    bend = here.part.bends[number]
    along = bend.child_along if of_child else bend.parent_along
    away = bend.child_away if of_child else (-bend.parent_away[0], -bend.parent_away[1])
    left = along if -along[1] * away[0] + along[0] * away[1] > 0 else (-along[0], -along[1])
    return [(left, bend.length_mm), ((-left[1], left[0]), None)]


def _root_bend(here: Mounted, panel: int) -> tuple[int, bool] | None:
    """The bend on the way from a panel to the one with the fixings, and whether the panel is its child."""
    fixed = here.fixings.panel
    if panel == fixed:
        return None
    come: dict[int, tuple[int, bool]] = {}
    reached = [fixed]
    while reached:
        now = reached.pop()
        for number, bend in enumerate(here.part.bends):
            for one, other, of_child in ((bend.parent, bend.child, True), (bend.child, bend.parent, False)):
                if one == now and other != fixed and other not in come:
                    come[other] = (number, of_child)
                    reached.append(other)
    return come.get(panel)


def _narrow_levels(
    metal: shapely.Geometry, along: tuple[float, float], root_width_mm: float | None
) -> list[tuple[float, float]]:
    """Levels, square to a direction, of net sections, and how far each is from where the metal begins.

    From a root, every place where the metal is at its least or drops at a step, narrower than nearer the root; else
    where it is at its least with more metal on both sides.
    """
    away = np.array([-along[1], along[0]])
    corners = shapely.get_coordinates(metal) @ away
    first, last = float(corners.min()), float(corners.max())
    levels = np.unique(np.concatenate([corners - BESIDE_MM, corners + BESIDE_MM, _middles(metal) @ away]).round(2))
    levels = levels[(levels > first + 0.5 * BESIDE_MM) & (levels < last - 0.5 * BESIDE_MM)]
    if len(levels) < 3:
        return []
    widths = _widths(metal, along, levels)
    before = np.maximum.accumulate(np.concatenate([[root_width_mm or widths[0]], widths[:-1]]))
    after = np.maximum.accumulate(widths[::-1])[::-1]
    last_width, next_width = np.concatenate([[np.inf], widths[:-1]]), np.concatenate([widths[1:], [np.inf]])
    least = (widths <= last_width + 1e-9) & (widths <= next_width + 1e-9)
    step = (widths < NARROWER * last_width) & (np.diff(levels, prepend=-np.inf) < 3 * BESIDE_MM)
    net = (least | step) & (widths < NARROWER * before) & (widths > 1e-3)
    if root_width_mm is None:
        net &= widths < NARROWER * after
    chosen = np.flatnonzero(net)
    chosen = chosen[np.argsort(widths[chosen], kind="stable")][:MOST_SECTIONS]
    return [(float(levels[i]), float(levels[i]) - first) for i in np.sort(chosen)]


def _middles(metal: shapely.Geometry) -> np.ndarray:
    """Middles of the openings (k, 2): a round one is widest there."""
    rings = [ring for part in shapely.get_parts(metal) for ring in part.interiors]
    return np.array([[0.5 * (b[0] + b[2]), 0.5 * (b[1] + b[3])] for b in (r.bounds for r in rings)]).reshape(-1, 2)


def _widths(metal: shapely.Geometry, along: tuple[float, float], levels: np.ndarray) -> np.ndarray:
    """Metal along lines at some levels, from low to high: where each line leaves it less where it enters, over all sides of its
    outlines."""
    turn = np.array([along, (-along[1], along[0])])
    total = np.zeros(len(levels))
    for piece in shapely.get_parts(metal):
        piece = shapely.orient_polygons(piece)
        for ring in (piece.exterior, *piece.interiors):
            run, level = turn @ shapely.get_coordinates(ring).T
            near = slice(*np.searchsorted(levels, (level.min(), level.max() + 1e-9)))
            low, high, at_level = level[:-1], level[1:], levels[near, None]
            up, down = (low <= at_level) & (at_level < high), (high <= at_level) & (at_level < low)
            share = (at_level - low) / np.where(high == low, 1.0, high - low)
            at = run[:-1] + share * (run[1:] - run[:-1])
            total[near] += (np.where(up, at, 0.0) - np.where(down, at, 0.0)).sum(axis=1)
    return total


def _chords(metal: shapely.Geometry, along: tuple[float, float], levels: np.ndarray) -> np.ndarray:
    u, v = np.asarray(along, dtype=float), np.array([-along[1], along[0]])
    run = shapely.get_coordinates(metal) @ u
    low, high = float(run.min()) - 1.0, float(run.max()) + 1.0
    ends = np.stack([levels[:, None] * v + low * u, levels[:, None] * v + high * u], axis=1)
    return np.asarray(shapely.linestrings(ends))


def _pieces(metal: shapely.Geometry, along: tuple[float, float], level: float) -> tuple[tuple[float, float], ...]:
    """Runs of metal along a line at a level, each from where to where along it."""
    cut = shapely.intersection(metal, _chords(metal, along, np.array([level]))[0])
    runs = []
    for piece in shapely.get_parts(cut):
        if piece.geom_type == "LineString" and piece.length > 1e-3:
            at = shapely.get_coordinates(piece) @ np.asarray(along)
            runs.append((float(at.min()), float(at.max())))
    return tuple(sorted(runs))


def _frame(here: Mounted, panel: int, along: tuple[float, float], level: float) -> Frame:
    """The frame in space of a cut in a panel, its origin where the cut's own place is 0."""
    own = here.pose.panels[panel]
    run = along[0] * own.along + along[1] * own.away
    away = -along[1] * own.along + along[0] * own.away
    return Frame(own.origin + level * away, run, away, own.face)


def _regions_beyond(here: Mounted, panel: int) -> list[tuple[int, np.ndarray]]:
    """Bends on a panel: number of the region, and the ends (2, 3) of their tangent line on it in space."""
    own = here.pose.panels[panel]
    found = []
    for number, bend in enumerate(here.part.bends):
        for mine, point, along in (
            (bend.parent, bend.parent_point, bend.parent_along),
            (bend.child, bend.child_point, bend.child_along),
        ):
            if mine == panel:
                end = (point[0] + bend.length_mm * along[0], point[1] + bend.length_mm * along[1])
                found.append((here.mesh.panel_count + number, own.points(np.array([point, end]))))
    return found


def _line(
    here: Mounted,
    places: np.ndarray,
    panel: int,
    frame: Frame,
    pieces: Sequence[tuple[float, float]],
    place: str,
    bends: Sequence[tuple[int, np.ndarray]],
    alone: bool = False,
) -> Line | None:
    """The line of nodes between what of a panel lies beyond a cut and the rest of it, cut piece by piece.

    What hangs wholly beyond on the panel's bends counts to that side, so that its forces come in with it. Nodes go with the
    piece of metal that they are nearest to; `alone` keeps the nodes near the only piece. None where the mesh has no such
    nodes, or a washer holds both sides as one.
    """
    sheet = here.mesh
    mine = sheet.region == panel
    side = mine & ((places[sheet.triangles].mean(axis=1) - frame.origin) @ frame.away > 0)
    own = np.intersect1d(np.unique(sheet.triangles[side]), np.unique(sheet.triangles[mine & ~side]))
    run = (places[own] - frame.origin) @ frame.along
    if alone and pieces:
        slack = 0.25 * (pieces[0][1] - pieces[0][0])
        near = (run > pieces[0][0] - slack) & (run < pieces[0][1] + slack)
        own, run = own[near], run[near]
    if len(own) < 2 or not pieces or _clamped_across(here, places, panel, frame, pieces):
        return None
    beyond = side.copy()
    for region, ends in bends:
        if np.all((ends - frame.origin) @ frame.away > 1e-6):
            beyond |= sheet.region == region
    order = np.argsort(run)
    nodes, run = own[order], run[order]
    off = np.array([np.maximum(np.maximum(a - run, run - b), 0.0) for a, b in pieces])
    belongs = np.argmin(off, axis=0)
    t = here.part.thickness_mm
    cuts: list[Cut] = []
    for number, piece in enumerate(pieces):
        inside = np.flatnonzero(belongs == number)
        if len(inside) < 2:
            continue
        cuts.append(cut_at("net section", place, inside, frame, (piece,), t))
        if piece[1] - piece[0] > 1.5 * WINDOW_T * t:
            parts = windows(place, run[inside], frame, (piece,), t, WINDOW_T * t)
            cuts += [replace(c, inside=inside[c.inside]) for c in parts]
    if not cuts:
        return None
    elements = np.flatnonzero(beyond & np.isin(sheet.triangles, nodes).any(axis=1))
    return Line(LineReader(here.model, elements, nodes), tuple(cuts))


def _clamped_across(
    here: Mounted, places: np.ndarray, panel: int, frame: Frame, pieces: Sequence[tuple[float, float]]
) -> bool:
    """Whether a washer lies across the cut: it would carry over what the cut should."""
    for spider in here.model.spiders:
        if spider.kind != "rigid" or not np.any(here.mesh.node_region[spider.ring] == panel):
            continue
        level = (places[spider.ring] - frame.origin) @ frame.away
        run = (places[spider.ring] - frame.origin) @ frame.along
        beside = run.max() > pieces[0][0] and run.min() < pieces[-1][1]
        if beside and level.min() < 1e-6 and level.max() > -1e-6:
            return True
    return False
