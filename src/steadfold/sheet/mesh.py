"""One mesh of a folded part: made once in the plane, carried to any pose.

Panels keep their shape and bend strips are rolled up, so the same triangles show the flat and the folded part,
and conform across bends. The mesh's plane has K = 0.5: lengths on the middle surface are kept.

A round hole becomes a polygon of the hole's area; its corners lie a little outside the circle (0.8 % of the
radius for 20). Other arcs become chords between points on the arc. Metal narrower than about half the
thickness is left out, and how much is said; reliefs that go a little past a tangent line end on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from steadfold.sheet.meshing.corners import corner_cosines
from steadfold.sheet.meshing.outlines import TangentLine
from steadfold.sheet.meshing.panels import Filled, filled
from steadfold.sheet.meshing.plan import MeshError, Plan, Wishes, planned
from steadfold.sheet.outline import Point
from steadfold.sheet.part import Part
from steadfold.sheet.pose import Pose, flat_places, fold

__all__ = [
    "FoldRecipe", "HardPoint", "MeshError", "SheetMesh", "WasherCircle", "fold_recipe", "folded", "mesh",
    "nearest_node", "nodes_near_circle", "nodes_on_edge", "nodes_on_tangent", "ring_of_hole",
]

T = TypeVar("T")

EQUILATERAL = math.sqrt(3) / 4
"""Area of a triangle of equal sides over the square of one."""

LEAST_ANGLE_DEG = 20.0
WANTED_ANGLE_DEG = 20.2
ATTEMPTS = 4
FINEST_PER_THICKNESS = 0.25
DEFAULT_TRIANGLES = 2000
"""About how many triangles of the default size the whole part would take without its bends and holes."""


@dataclass(frozen=True)
class HardPoint:
    """A place in a panel's frame where a node must lie."""

    panel: int
    xy: Point


@dataclass(frozen=True)
class WasherCircle:
    """A circle in a panel's frame that triangles must follow, such as a washer's edge round a hole."""

    panel: int
    centre: Point
    diameter_mm: float


@dataclass(frozen=True, eq=False)
class SheetMesh:
    """Triangles of a part; regions count panels first, then bends.

    `node_region` (n,) and `local` (n, 2) say where each node lies: x and y in its panel's frame in mm, or x along
    its bend in mm and the share of the way across it, 0 to 1. A node on a tangent line counts to the panel.
    `triangles` (m, 3) run anticlockwise seen from the face; `region` (m,) and `row` (m,) give each one's region
    and, in a bend, its facet from the parent's side (-1 in panels). `plane_xy` (n, 2) is the mesh's own plane,
    the flat at K = 0.5 in the root's frame. `tangent_nodes` holds for every bend the nodes on the parent's and on
    the child's tangent line, in order along the bend. `hard_nodes` are the nodes of the hard points asked for, and
    `circles_followed` says which washer circles there was room for. `left_out_mm2` is the metal no triangle
    covers, less what chords add.
    """

    node_region: np.ndarray
    local: np.ndarray
    triangles: np.ndarray
    region: np.ndarray
    row: np.ndarray
    plane_xy: np.ndarray
    panel_count: int
    tangent_nodes: tuple[tuple[np.ndarray, np.ndarray], ...]
    hard_nodes: tuple[int, ...]
    circles_followed: tuple[bool, ...]
    left_out_mm2: float

    @property
    def node_count(self) -> int:
        """How many nodes."""
        return len(self.local)

    @property
    def smallest_angle_deg(self) -> float:
        """The sharpest corner of all triangles in the plane, degrees."""
        return math.degrees(math.acos(min(1.0, float(corner_cosines(self.plane_xy, self.triangles).max()))))

    def nodes_of(self, region: int) -> np.ndarray:
        """Nodes of the triangles of one panel, or of bend b with region `panel_count + b`."""
        return np.unique(self.triangles[self.region == region])

    def areas_mm2(self) -> np.ndarray:
        """Areas (m,) of the triangles in the plane, positive."""
        a, b, c = (self.plane_xy[self.triangles[:, i]] for i in range(3))
        return 0.5 * ((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]))


def mesh(
    part: Part,
    size_mm: float | None = None,
    hard_points: Sequence[HardPoint] = (),
    washer_circles: Sequence[WasherCircle] = (),
    bend_facets: int = 3,
    hole_segments: int = 20,
    target_triangles: int | None = None,
    good_angle_deg: float = WANTED_ANGLE_DEG,
) -> SheetMesh:
    """Mesh a part.

    size_mm: the largest triangle side wanted; by default so that the part's area would take about 2,000. Narrow
    metal gets four triangles across, holes and bends their own sizes, whatever is asked.
    bend_facets: facets for 90° of bend, and at least as many in any bend; 1 or 2 is for a preview.
    hole_segments: chords for a full circle.
    target_triangles: choose the size so that about this many come out. Bends, holes and edges may need more, fewer
    with fewer facets and chords.
    good_angle_deg: with no corner sharper than this the mesh is taken as it is; until then panels are divided again,
    up to four times. Less than the usual is for a preview.
    A hard point less than a quarter of the thickness from an edge is put on the edge, or on its nearest corner.

    Raises `MeshError` where a bend meets no metal, a hard point lies off its panel, or (not known to happen) no
    mesh of sound triangles comes out.
    """
    _check(part, size_mm, bend_facets, hole_segments)
    area = sum(panel.area_mm2 for panel in part.panels)
    if size_mm is None:
        open_metal = DEFAULT_TRIANGLES if target_triangles is None else 0.5 * target_triangles
        size_mm = max(math.sqrt(area / (EQUILATERAL * open_metal)), part.thickness_mm)
    wishes = Wishes(
        float(size_mm), bend_facets, hole_segments,
        _by_panel((h.panel, h.xy) for h in hard_points),
        _by_panel((c.panel, (c.centre, c.diameter_mm)) for c in washer_circles),
    )
    if target_triangles is not None:
        wishes = _for_count(part, wishes, area, target_triangles)
    best: SheetMesh | None = None
    for _ in range(ATTEMPTS):
        plan = planned(part, wishes)
        fills = filled(plan.pieces)
        finer = _where_finer(plan, fills, wishes, good_angle_deg)
        if not any(len(f.lost) for f in fills):
            made = _joined(part, plan, fills, hard_points, washer_circles)
            if best is None or made.smallest_angle_deg > best.smallest_angle_deg:
                best = made
            if best.smallest_angle_deg >= good_angle_deg:
                return best
        if not finer:
            break
        wishes = replace(wishes, finer=finer, attempt=wishes.attempt + 1)
    if best is None or best.smallest_angle_deg < min(LEAST_ANGLE_DEG, good_angle_deg):
        sharpest = "" if best is None else f"; the sharpest has {best.smallest_angle_deg:.1f}°"
        raise MeshError(f"part {part.name!r} could not be divided into triangles of a sound shape{sharpest}")
    return best


def _for_count(part: Part, wishes: Wishes, area_mm2: float, triangles: int) -> Wishes:
    """Wishes with a size for about so many triangles: what bends, holes and edges take, seen from a plan, is taken off
    first; a tenth is always left for the open metal. No finer than a quarter of the thickness."""
    for _ in range(2):
        extra = planned(part, wishes).triangle_estimate() - area_mm2 / (EQUILATERAL * wishes.size_mm**2)
        left = max(triangles - extra, 0.1 * triangles)
        size = max(math.sqrt(area_mm2 / (EQUILATERAL * left)), FINEST_PER_THICKNESS * part.thickness_mm)
        change, wishes = size / wishes.size_mm, replace(wishes, size_mm=size)
        if 0.8 < change < 1.25 or left == 0.1 * triangles:
            break
    return wishes


def _by_panel(pairs: Iterable[tuple[int, T]]) -> dict[int, list[T]]:
    found: dict[int, list[T]] = {}
    for panel, item in pairs:
        found.setdefault(panel, []).append(item)
    return found


def _check(part: Part, size_mm: float | None, bend_facets: int, hole_segments: int) -> None:
    if size_mm is not None and not (math.isfinite(size_mm) and size_mm > 0):
        raise ValueError(f"size_mm must be a length above 0, not {size_mm}")
    if bend_facets < 1 or hole_segments < 6:
        raise ValueError("a bend needs one facet or more for 90°, a circle six chords or more")
    if not (math.isfinite(part.thickness_mm) and part.thickness_mm > 0):
        raise MeshError(f"part {part.name!r} has no thickness")
    for panel in part.panels:
        for face in panel.faces:
            numbers = np.asarray([p for o in (face.outer, *face.holes) for p in o.points])
            if not np.isfinite(numbers).all() or not face.outer.polygon().is_valid:
                raise MeshError(f"the outline of panel {panel.name!r} crosses itself or is not made of numbers")


def _where_finer(
    plan: Plan, fills: Sequence[Filled], wishes: Wishes, good_angle_deg: float
) -> dict[int, tuple[np.ndarray, np.ndarray]]:
    """Places where the next attempt should be finer: at boundary edges that were lost and triangles too sharp."""
    places: dict[int, list[np.ndarray]] = {}
    sizes: dict[int, list[np.ndarray]] = {}
    for panel, (old_places, old_sizes) in wishes.finer.items():
        places[panel], sizes[panel] = [old_places], [old_sizes]
    found = False
    for panel, piece, fill in zip(plan.panels, plan.pieces, fills, strict=True):
        sharp = corner_cosines(fill.points, fill.triangles) > math.cos(math.radians(good_angle_deg))
        corners = fill.points[fill.triangles[sharp]]
        short = np.hypot(*(np.roll(corners, -1, axis=1) - corners).reshape(-1, 2).T).reshape(-1, 3)
        where = np.concatenate([corners.reshape(-1, 2), fill.lost])
        wanted = np.concatenate([np.repeat(0.9 * short.min(axis=1), 3), 0.6 * piece.field.at(fill.lost)])
        wanted *= 0.75**wishes.attempt
        if len(where):
            found = True
            places.setdefault(panel, []).append(where)
            sizes.setdefault(panel, []).append(wanted)
    return {p: (np.concatenate(places[p]), np.concatenate(sizes[p])) for p in places} if found else {}


def _joined(
    part: Part, plan: Plan, fills: Sequence[Filled], hard_points: Sequence[HardPoint], circles: Sequence[WasherCircle]
) -> SheetMesh:
    """Panels and bends put together: nodes on rings and tangent lines that coincide become one."""
    from scipy.spatial import cKDTree

    count = len(part.panels)
    local, owner, triangles, region, row = [], [], [], [], []
    trees: list[tuple[cKDTree, np.ndarray] | None] = []
    total = 0
    panels_flip = [place.mirrors for place in flat_places(part, 0.5)[0]]
    for panel in range(count):
        mine = [i for i, p in enumerate(plan.panels) if p == panel]
        sets = [(fills[i].points, fills[i].triangles, sum(map(len, plan.pieces[i].rings))) for i in mine]
        if not sets:
            trees.append(None)
            continue
        points, faces, rim = _stitched(sets)
        local.append(points)
        owner.append(np.full(len(points), panel))
        triangles.append((faces[:, ::-1] if panels_flip[panel] else faces) + total)
        region.append(np.full(len(faces), panel))
        row.append(np.full(len(faces), -1))
        trees.append((cKDTree(points[rim]), rim + total))
        total += len(points)
    tangent_nodes = []
    strips_flip = [place.mirrors for place in flat_places(part, 0.5)[1]]
    for number, (rows, strip) in enumerate(zip(plan.rows, plan.strips, strict=True)):
        numbers: list[np.ndarray] = []
        for j, xs in enumerate(strip.xs):
            mine_ids = np.full(len(xs), -1, dtype=np.int64)
            if j in (0, rows.count):
                side = 0 if j == 0 else 1
                panel = (part.bends[number].parent, part.bends[number].child)[side]
                line = next(one for one in plan.lines[panel] if one.number == 2 * number + side)
                mine_ids = _at_panel(line, xs, trees[panel])
            new = mine_ids < 0
            mine_ids[new] = total + np.arange(int(new.sum()))
            total += int(new.sum())
            local.append(np.column_stack([xs[new], np.full(int(new.sum()), j / rows.count)]))
            owner.append(np.full(int(new.sum()), count + number))
            numbers.append(mine_ids)
        tangent_nodes.append((numbers[0], numbers[-1]))
        made = np.concatenate(numbers)[strip.triangles]
        triangles.append(made[:, ::-1] if strips_flip[number] else made)
        region.append(np.full(len(made), count + number))
        row.append(strip.rows)
    node_region, places = np.concatenate(owner), np.concatenate(local)
    plane = _in_plane(part, node_region, places)
    found = SheetMesh(
        node_region, places, np.concatenate(triangles), np.concatenate(region), np.concatenate(row), plane, count,
        tuple(tangent_nodes), (), (), 0.0,
    )
    area = sum(panel.area_mm2 for panel in part.panels) + sum(
        face.area_mm2 * bend.middle_length_mm / bend.allowance_mm for bend in part.bends for face in bend.faces
    )
    return replace(
        found,
        hard_nodes=tuple(nearest_node(found, h.panel, h.xy) for h in hard_points),
        circles_followed=tuple(_followed(plan, circle) for circle in circles),
        left_out_mm2=area - float(found.areas_mm2().sum()),
    )


def _stitched(sets: Sequence[tuple[np.ndarray, np.ndarray, int]]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pieces of one panel joined: points, triangles, and the numbers of the points on rings (those that may be
    shared)."""
    from scipy.spatial import cKDTree

    points = np.concatenate([p for p, _, _ in sets])
    first = np.cumsum([0, *(len(p) for p, _, _ in sets)])
    faces = np.concatenate([f + first[i] for i, (_, f, _) in enumerate(sets)])
    rim = np.concatenate([first[i] + np.arange(r) for i, (_, _, r) in enumerate(sets)])
    same = np.arange(len(points))
    pairs = cKDTree(points[rim]).query_pairs(1e-6, output_type="ndarray")
    for low, high in np.sort(rim[pairs], axis=1).reshape(-1, 2):
        same[high] = min(same[high], same[low])
    same = same[same]
    used = np.unique(same[faces])
    renumbered = np.full(len(points), -1)
    renumbered[used] = np.arange(len(used))
    on_rim = np.unique(renumbered[same[rim]])
    return points[used], renumbered[same[faces]], on_rim[on_rim >= 0]


def _at_panel(line: TangentLine, xs: np.ndarray, tree: tuple[object, np.ndarray] | None) -> np.ndarray:
    """The panel's nodes at places along a tangent line; -1 where the panel has none."""
    if tree is None or not len(xs):
        return np.full(len(xs), -1, dtype=np.int64)
    away, index = tree[0].query(line.at(xs))  # type: ignore[attr-defined]
    return np.where(away < 1e-5, tree[1][index], -1)


def _followed(plan: Plan, circle: WasherCircle) -> bool:
    for panel, piece in zip(plan.panels, plan.pieces, strict=True):
        if panel != circle.panel:
            continue
        away = np.hypot(*(piece.rings[0] - np.asarray(circle.centre)).T)
        if np.ptp(away) < 1e-6 * circle.diameter_mm and abs(away[0] / (0.5 * circle.diameter_mm) - 1) < 0.1:
            return True
    return False


def _in_plane(part: Part, node_region: np.ndarray, local: np.ndarray) -> np.ndarray:
    panels, strips = flat_places(part, 0.5)
    plane = np.empty((len(local), 2))
    for region, place in enumerate((*panels, *strips)):
        mine = node_region == region
        points = local[mine]
        if region >= len(panels):
            points = points * np.array([1.0, part.bends[region - len(panels)].middle_length_mm])
        plane[mine] = place.many(points)
    return plane


def folded(mesh: SheetMesh, part: Part, share: float | tuple[float, ...] = 1.0, flat_k: bool = False) -> np.ndarray:
    """Places (n, 3) of the nodes on the middle surface at a share of folding, in the root panel's frame.

    With `flat_k` share 0 is the shop's own flat; see `pose.fold`.
    """
    return placed(mesh, fold(part, share, flat_k))


def placed(mesh: SheetMesh, pose: Pose) -> np.ndarray:
    """Places (n, 3) of the nodes in a pose."""
    space = np.empty((mesh.node_count, 3))
    for region in range(mesh.panel_count + len(pose.bends)):
        mine = mesh.node_region == region
        points = mesh.local[mine]
        if region < mesh.panel_count:
            space[mine] = pose.panels[region].points(points)
        else:
            space[mine] = pose.bends[region - mesh.panel_count].points(points[:, 0], points[:, 1])
    return space


@dataclass(frozen=True, eq=False)
class FoldRecipe:
    """All that is needed to fold the mesh elsewhere, such as in a page.

    Bends come parents first. `parent`, `child` (b,) are panels; `angle_rad` (b,) what each turns through when
    fully folded, signed; `middle_length_mm` and `flat_length_mm` (b,) its length across on the middle surface and in
    the shop's flat. `parent_frame` and `child_frame` (b, 6) hold point, along and away, each x and y, in the panel's
    own frame.

    To fold by a share s: the root's frame is (origin 0, x, y, z). For each bend, with the parent's frame (o, a, b, n):
    start S = o + px a + py b, x-axis u = ax a + ay b, y-axis v = wx a + wy b from `parent_frame`;
    turn t = s * angle, length L = middle + (1 - s) * (flat - middle) (or just middle).
    A strip's node (x, q): S + x u + (L / t) sin(t q) v + (L / t) (1 - cos(t q)) n; for t = 0: S + x u + L q v.
    The child's frame: E is the strip's point (0, 1), v' = cos t v + sin t n, n' = cos t n - sin t v; with
    (qx, qy, cx, cy, dx, dy) from `child_frame`, a' = cx u + dx v', b' = cy u + dy v', o' = E - qx a' - qy b'.
    A panel's node (x, y): o' + x a' + y b'.
    """

    parent: np.ndarray
    child: np.ndarray
    angle_rad: np.ndarray
    middle_length_mm: np.ndarray
    flat_length_mm: np.ndarray
    parent_frame: np.ndarray
    child_frame: np.ndarray


def fold_recipe(part: Part) -> FoldRecipe:
    """The recipe of a part's bends, for use with a mesh's `node_region` and `local`."""
    bends = part.bends
    return FoldRecipe(
        np.array([b.parent for b in bends], dtype=np.int64),
        np.array([b.child for b in bends], dtype=np.int64),
        np.array([b.angle_rad for b in bends]),
        np.array([b.middle_length_mm for b in bends]),
        np.array([b.allowance_mm for b in bends]),
        np.array([(*b.parent_point, *b.parent_along, *b.parent_away) for b in bends]).reshape(-1, 6),
        np.array([(*b.child_point, *b.child_along, *b.child_away) for b in bends]).reshape(-1, 6),
    )


def nearest_node(mesh: SheetMesh, panel: int, xy: Point) -> int:
    """The node of a panel nearest to a point in its frame; `KeyError` if the panel has none."""
    mine = np.flatnonzero(mesh.node_region == panel)
    if not len(mine):
        raise KeyError(panel)
    return int(mine[np.argmin(np.hypot(*(mesh.local[mine] - np.asarray(xy)).T))])


def nodes_near_circle(
    mesh: SheetMesh, panel: int, centre: Point, diameter_mm: float, within_mm: float | None = None
) -> np.ndarray:
    """Nodes of a panel no further from a circle than given (by default 3 % of its radius, which takes in the
    corners of a hole's polygon), in order of their angle about the centre."""
    radius = 0.5 * diameter_mm
    within = 0.03 * radius if within_mm is None else within_mm
    mine = np.flatnonzero(mesh.node_region == panel)
    offset = mesh.local[mine] - np.asarray(centre)
    near = np.abs(np.hypot(*offset.T) - radius) <= within
    order = np.argsort(np.arctan2(offset[near, 1], offset[near, 0]))
    return mine[near][order]


def nodes_on_edge(mesh: SheetMesh, panel: int, start: Point, end: Point, within_mm: float = 1e-3) -> np.ndarray:
    """Nodes of a panel on the straight line from one point to another, both in its frame, in order."""
    mine = np.flatnonzero(mesh.node_region == panel)
    along = np.asarray(end) - np.asarray(start)
    length = float(np.hypot(*along))
    along = along / length
    offset = mesh.local[mine] - np.asarray(start)
    reach = offset @ along
    off = offset @ np.array([-along[1], along[0]])
    near = (np.abs(off) <= within_mm) & (reach >= -within_mm) & (reach <= length + within_mm)
    return mine[near][np.argsort(reach[near])]


def nodes_on_tangent(mesh: SheetMesh, bend: int, of_child: bool = False) -> np.ndarray:
    """Nodes where a bend meets its parent panel, or its child, in order along the bend."""
    return mesh.tangent_nodes[bend][1 if of_child else 0]


def ring_of_hole(
    mesh: SheetMesh, panel: int, centre: Point, diameter_mm: float, washer_mm: float | None = None
) -> np.ndarray:
    """Nodes on the rim of a round hole, or with a washer's diameter, all from the rim to the washer's edge.

    The corners of a meshed washer circle, which lie up to 5 % outside it, are among them. `ValueError` if the
    panel has no node there.
    """
    if washer_mm is None:
        found = nodes_near_circle(mesh, panel, centre, diameter_mm, max(0.05 * diameter_mm, 0.02))
    else:
        mine = np.flatnonzero(mesh.node_region == panel)
        away = np.hypot(*(mesh.local[mine] - np.asarray(centre)).T)
        found = mine[(away >= 0.5 * diameter_mm * 0.98) & (away <= 0.5 * washer_mm * 1.05)]
    if not len(found):
        raise ValueError(f"panel {panel} has no nodes round a hole at ({centre[0]:g}, {centre[1]:g})")
    return found
