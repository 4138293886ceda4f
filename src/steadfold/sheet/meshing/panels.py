"""Triangles in panels whose boundaries are already divided.

Boundary nodes stay as they are, so that neighbours fit; only nodes inside are placed. All pieces are laid out
side by side and triangulated in one go: nodes from a quadtree that follows the wanted sizes, more where
triangles are too large or too sharp, then moved to the middle of their neighbours. The triangulation is
Delaunay throughout; where it does not hold a boundary edge, or a corner stays too sharp, that is reported and
the caller divides the boundary finer there.

Sources: the insertion of circumcentres after Chew (1989) and Ruppert (1995).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import Delaunay, cKDTree

from steadfold.sheet.meshing.corners import corner_cosines
from steadfold.sheet.meshing.sizes import SizeField

TOO_LARGE = 0.85
"""Circumradius over wanted size above which a triangle gets a node; an equilateral triangle of that size has 0.577."""

SHARP_COSINE = np.cos(np.radians(27.0))
STEPS = ("add", "add", "move", "move", "add", "move", "end")
FIRST_GOOD_STEP = 3
MOST_REPAIRS = 60


@dataclass(frozen=True)
class Piece:
    """Metal to fill: rings of nodes (metal on their left, the outer ring first), the sizes wanted, and nodes inside
    that stay where they are, shape (k, 2)."""

    rings: tuple[np.ndarray, ...]
    field: SizeField
    inner: np.ndarray


@dataclass(frozen=True)
class Filled:
    """Nodes (n, 2), first the rings' and then the given inner ones in their order, and triangles (m, 3), anticlockwise.

    `lost` are the middles of boundary edges the triangles do not keep to.
    """

    points: np.ndarray
    triangles: np.ndarray
    lost: np.ndarray


def filled(pieces: Sequence[Piece]) -> list[Filled]:
    """Triangles for every piece."""
    if not pieces:
        return []
    work = _Work(pieces)
    work.seed()
    work.refine()
    return work.results()


def inside_estimate(piece: Piece) -> int:
    """About how many nodes a piece gets inside, rims not counted."""
    leaves = _leaves(piece, np.zeros(2))
    polygon = shapely.Polygon(piece.rings[0], piece.rings[1:])
    shapely.prepare(polygon)
    leaves = leaves[shapely.contains_xy(polygon, leaves[:, 0], leaves[:, 1])]
    away = cKDTree(np.concatenate(piece.rings)).query(leaves)[0]
    return int((away > 0.6 * piece.field.at(leaves)).sum())


class _Work:
    """All pieces side by side: boundary nodes first, then the nodes inside."""

    def __init__(self, pieces: Sequence[Piece]):
        self.pieces = pieces
        self.shifts = []
        self.polygons = []
        points, owner, edges, count, right = [], [], [], 0, 0.0
        for number, piece in enumerate(pieces):
            outer = piece.rings[0]
            shift = np.array([right - outer[:, 0].min(), -outer[:, 1].min()])
            right += float(np.ptp(outer[:, 0])) + 3 * piece.field.largest_mm
            self.shifts.append(shift)
            moved = [ring + shift for ring in piece.rings]
            polygon = shapely.Polygon(moved[0], moved[1:])
            shapely.prepare(polygon)
            self.polygons.append(polygon)
            for ring in moved:
                index = count + np.arange(len(ring))
                edges.append(np.column_stack([index, np.roll(index, -1)]))
                points.append(ring)
                owner.append(np.full(len(ring), number))
                count += len(ring)
        inner = [piece.inner + shift for piece, shift in zip(pieces, self.shifts, strict=True)]
        self.points = np.concatenate([*points, *inner])
        self.owner = np.concatenate([*owner, *(np.full(len(nodes), k) for k, nodes in enumerate(inner))])
        self.edges = np.concatenate(edges)
        self.fixed = len(self.points)
        ends = self.points[self.edges]
        self.middles = ends.mean(axis=1)
        self.lengths = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
        self.middle_tree = cKDTree(self.middles)
        self.size = np.concatenate([np.zeros(count), *(piece.field.at(piece.inner) for piece in pieces)])
        np.add.at(self.size, self.edges.ravel(), np.repeat(0.5 * self.lengths, 2))
        self.triangles = np.empty((0, 3), dtype=np.int64)

    def seed(self) -> None:
        """First nodes inside: middles of the leaves of a quadtree whose cells have the wanted sizes."""
        for number, (piece, shift) in enumerate(zip(self.pieces, self.shifts, strict=True)):
            centres = _leaves(piece, shift)
            centres = centres[shapely.contains_xy(self.polygons[number], centres[:, 0], centres[:, 1])]
            self._add(centres, number, piece.field.at(centres - shift), 0.75)

    def _add(self, points: np.ndarray, number: int, sizes: np.ndarray, apart: float) -> None:
        clear = self._clear(points)
        points, sizes = points[clear], sizes[clear]
        if not len(points):
            return
        here = self.points[: self.fixed][self.owner[: self.fixed] == number]
        away = cKDTree(here).query(points)[0]
        free = away > apart * sizes
        self.points = np.concatenate([self.points, points[free]])
        self.size = np.concatenate([self.size, sizes[free]])
        self.owner = np.concatenate([self.owner, np.full(int(free.sum()), number)])

    def _clear(self, points: np.ndarray) -> np.ndarray:
        """True for points far enough from every boundary edge: outside a circle a little larger than the edge's own."""
        if not len(points):
            return np.zeros(0, dtype=bool)
        away, nearest = self.middle_tree.query(points, k=min(4, len(self.middles)))
        away, nearest = away.reshape(len(points), -1), nearest.reshape(len(points), -1)
        return (away > 0.6 * self.lengths[nearest]).all(axis=1)

    def triangulate(self) -> None:
        """Delaunay triangles of all nodes that lie in the pieces."""
        made = Delaunay(self.points).simplices.astype(np.int64)
        owners = self.owner[made]
        same = (owners[:, 0] == owners[:, 1]) & (owners[:, 0] == owners[:, 2])
        made = made[same]
        rim = np.flatnonzero((made < self.fixed).all(axis=1))
        middle = self.points[made[rim]].mean(axis=1)
        owner = self.owner[made[rim, 0]]
        keep = np.ones(len(made), dtype=bool)
        for number, polygon in enumerate(self.polygons):
            mine = owner == number
            keep[rim[mine]] = shapely.contains_xy(polygon, middle[mine, 0], middle[mine, 1])
        made = made[keep]
        a, b, c = (self.points[made[:, i]] for i in range(3))
        turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        made[turn < 0] = made[turn < 0][:, [0, 2, 1]]
        scale = np.square(b - a).sum(axis=1) + np.square(c - a).sum(axis=1)
        self.triangles = made[np.abs(turn) > 1e-9 * scale]

    def refine(self) -> None:
        """Nodes added and moved, a triangulation after each, until the triangles are good or the steps are over."""
        best: tuple[float, np.ndarray, np.ndarray, np.ndarray] | None = None
        for number, step in enumerate(STEPS):
            self.triangulate()
            cosines = corner_cosines(self.points, self.triangles)
            worst = float(cosines.max(initial=-1.0))
            if number >= FIRST_GOOD_STEP and (best is None or worst < best[0]):
                best = (worst, self.points.copy(), self.owner.copy(), self.triangles.copy())
                if worst < SHARP_COSINE:
                    break
            if step == "add":
                self._insert(cosines)
            else:
                self._move()
        if best is not None:
            _, self.points, self.owner, self.triangles = best
        self._repair()

    def _insert(self, cosines: np.ndarray) -> None:
        """Nodes at the circumcentres of triangles that are too large or too sharp, none close to another."""
        centre, radius = _circumcircles(self.points, self.triangles)
        wanted = self.size[self.triangles].mean(axis=1)
        bad = (radius > TOO_LARGE * wanted) | (cosines > SHARP_COSINE)
        index = np.flatnonzero(bad)
        if not len(index):
            return
        owner = self.owner[self.triangles[index, 0]]
        centre, radius, wanted = centre[index], radius[index], wanted[index]
        good = self._clear(centre)
        for number, polygon in enumerate(self.polygons):
            mine = owner == number
            good[mine] &= shapely.contains_xy(polygon, centre[mine, 0], centre[mine, 1])
        centre, radius, owner, wanted = centre[good], radius[good], owner[good], wanted[good]
        if not len(centre):
            return
        order = np.argsort(-radius / wanted, kind="stable")
        centre, radius, owner, wanted = centre[order], radius[order], owner[order], wanted[order]
        pairs = cKDTree(centre).query_pairs(float(radius.max()), output_type="ndarray")
        keep = np.ones(len(centre), dtype=bool)
        if len(pairs):
            close = np.hypot(*(centre[pairs[:, 0]] - centre[pairs[:, 1]]).T)
            hit = close < np.minimum(radius[pairs[:, 0]], radius[pairs[:, 1]])
            keep[pairs[hit].max(axis=1)] = False
        self.points = np.concatenate([self.points, centre[keep]])
        self.size = np.concatenate([self.size, wanted[keep]])
        self.owner = np.concatenate([self.owner, owner[keep]])

    def _move(self) -> None:
        """Nodes inside moved to the middle of the triangles around them, where that makes no corner sharper
        than it may be."""
        for _ in range(2):
            before = _star_worst(self.points, self.triangles)
            middle = self.points[self.triangles].mean(axis=1)
            corners = self.points[self.triangles]
            area = 0.5 * np.abs(
                (corners[:, 1, 0] - corners[:, 0, 0]) * (corners[:, 2, 1] - corners[:, 0, 1])
                - (corners[:, 1, 1] - corners[:, 0, 1]) * (corners[:, 2, 0] - corners[:, 0, 0])
            )
            weight = area / np.square(self.size[self.triangles].mean(axis=1))
            total = np.bincount(self.triangles.ravel(), np.repeat(weight, 3), len(self.points))
            target = np.column_stack(
                [
                    np.bincount(self.triangles.ravel(), np.repeat(weight * middle[:, i], 3), len(self.points))
                    for i in (0, 1)
                ]
            ) / np.maximum(total, 1e-300)[:, None]
            moved = self.points.copy()
            moved[self.fixed :] = target[self.fixed :]
            idle = total[self.fixed :] == 0
            moved[self.fixed :][idle] = self.points[self.fixed :][idle]
            for _ in range(4):
                after = _star_worst(moved, self.triangles)
                worse = (after > before) & (after > np.cos(np.radians(35.0)))
                worse[: self.fixed] = False
                if not worse.any():
                    break
                moved[worse] = self.points[worse]
            self.points = moved

    def _repair(self) -> None:
        """Single nodes inside moved where that makes the sharpest triangle beside them less sharp."""
        cosines = corner_cosines(self.points, self.triangles)
        if cosines.max(initial=-1.0) <= SHARP_COSINE:
            return
        order = np.argsort(self.triangles.ravel(), kind="stable")
        first = np.searchsorted(self.triangles.ravel()[order], np.arange(len(self.points) + 1))
        around = order // 3
        for _ in range(MOST_REPAIRS):
            worst = int(np.argmax(cosines))
            if cosines[worst] <= SHARP_COSINE:
                return
            helped = False
            for node in self.triangles[worst]:
                if node < self.fixed:
                    continue
                star = around[first[node] : first[node + 1]]
                place, cosine = _best_place(self.points, self.triangles[star], int(node))
                if cosine < cosines[star].max() - 1e-3:
                    self.points[node] = place
                    cosines[star] = corner_cosines(self.points, self.triangles[star])
                    helped = True
            if not helped:
                cosines[worst] = -1.0

    def results(self) -> list[Filled]:
        """The pieces taken apart again."""
        present = _edge_keys(_sides(self.triangles), len(self.points))
        wanted = _edge_keys(self.edges, len(self.points))
        lost = ~np.isin(wanted, present)
        found = []
        for number, (piece, shift) in enumerate(zip(self.pieces, self.shifts, strict=True)):
            mine = np.flatnonzero(self.owner == number)
            renumbered = np.full(len(self.points), -1)
            renumbered[mine] = np.arange(len(mine))
            triangles = self.triangles[self.owner[self.triangles[:, 0]] == number]
            points = self.points[mine] - shift
            given = np.concatenate([*piece.rings, piece.inner])
            points[: len(given)] = given
            gone = self.middles[lost & (self.owner[self.edges[:, 0]] == number)] - shift
            found.append(Filled(points, renumbered[triangles], gone))
        return found


def _best_place(points: np.ndarray, star: np.ndarray, node: int) -> tuple[np.ndarray, float]:
    """Among places about a node, the one that makes the triangles around it least sharp, and the cosine there."""
    own = (star == node).argmax(axis=1)
    ahead = points[star[np.arange(len(star)), (own + 1) % 3]]
    behind = points[star[np.arange(len(star)), (own + 2) % 3]]
    reach = float(np.hypot(*(ahead - points[node]).T).min())
    angle = np.arange(12) * np.pi / 6
    rays = np.column_stack([np.cos(angle), np.sin(angle)])
    places = points[node] + reach * np.concatenate([share * rays for share in (0.08, 0.2, 0.4, 0.7)])
    tips, a, b = np.broadcast_arrays(places[:, None, :], ahead[None], behind[None])
    flat = np.stack([tips.reshape(-1, 2), a.reshape(-1, 2), b.reshape(-1, 2)], axis=1)
    numbers = np.arange(3 * len(flat)).reshape(-1, 3)
    cosine = corner_cosines(flat.reshape(-1, 2), numbers)
    u, v = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    cosine[u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0] <= 0] = 2.0
    worst = cosine.reshape(len(places), len(star)).max(axis=1)
    best = int(np.argmin(worst))
    return places[best], float(worst[best])


def _leaves(piece: Piece, shift: np.ndarray) -> np.ndarray:
    """Middles (n, 2) of quadtree cells no larger than wanted; odd rows shifted so that triangles come out even."""
    low = piece.rings[0].min(axis=0)
    span = np.ptp(piece.rings[0], axis=0)
    cell = piece.field.largest_mm
    counts = np.ceil(span / cell).astype(int) + 1
    start = low + 0.5 * (span - counts * cell)
    ij = np.stack(np.meshgrid(np.arange(counts[0]), np.arange(counts[1]), indexing="ij"), axis=-1).reshape(-1, 2)
    found = []
    for _ in range(16):
        centre = start + (ij + 0.5) * cell
        wanted = piece.field.at(centre)
        split = wanted < 0.72 * cell
        leaf = centre[~split]
        leaf[:, 0] += np.where(ij[~split, 1] % 2 == 0, 0.25, -0.25) * cell
        found.append(leaf)
        ij = (2 * ij[split][:, None, :] + np.array([[0, 0], [1, 0], [0, 1], [1, 1]])).reshape(-1, 2)
        cell *= 0.5
        if not len(ij):
            break
    return np.concatenate(found) + shift


def _circumcircles(points: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    a = points[triangles[:, 0]]
    b, c = points[triangles[:, 1]] - a, points[triangles[:, 2]] - a
    cross = 2 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    bb, cc = np.sum(b * b, axis=1), np.sum(c * c, axis=1)
    offset = np.column_stack([c[:, 1] * bb - b[:, 1] * cc, b[:, 0] * cc - c[:, 0] * bb]) / cross[:, None]
    return a + offset, np.hypot(*offset.T)


def _sides(triangles: np.ndarray) -> np.ndarray:
    return np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])


def _edge_keys(edges: np.ndarray, count: int) -> np.ndarray:
    return edges.min(axis=1) * np.int64(count) + edges.max(axis=1)


def _star_worst(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """For every node, the cosine of the sharpest corner of the triangles around it; 2 where one is turned over."""
    corners = points[triangles]
    turn = (corners[:, 1, 0] - corners[:, 0, 0]) * (corners[:, 2, 1] - corners[:, 0, 1]) - (
        corners[:, 1, 1] - corners[:, 0, 1]
    ) * (corners[:, 2, 0] - corners[:, 0, 0])
    cosine = np.where(turn > 0, corner_cosines(points, triangles), 2.0)
    worst = np.full(len(points), -1.0)
    np.maximum.at(worst, triangles.ravel(), np.repeat(cosine, 3))
    return worst
