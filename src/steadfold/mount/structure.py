"""The part on its wall as a structure: plates, fixings with washers, the wall behind as contact, loads on arms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadfold.mechanics import (
    GROUND,
    STANDARD_GRAVITY_MM_S2,
    Contacts,
    Loads,
    Model,
    Shells,
    Spider,
    Springs,
    Structure,
    bedded,
    factored,
)
from steadfold.mount.fixing_holes import Hole, downward, fixing_holes
from steadfold.mount.placing import placed
from steadfold.mount.records import Carried, Fixings, Metal, MountError, Placed
from steadfold.mount.seams import seam_points, seam_ties
from steadfold.sheet.mesh import WANTED_ANGLE_DEG, HardPoint, MeshError, SheetMesh, WasherCircle, folded, mesh
from steadfold.sheet.part import Part
from steadfold.sheet.pose import Pose, fold

MM2_A_CM2 = 100.0

STEADYING_NMM = 2.0e3
"""A faint stiffness of each fixing against turning, N mm a radian, so that the plates alone are not a mechanism
before the wall is felt; what it carries is measured and said."""


@dataclass(frozen=True)
class Seat:
    """Where something else is bolted on, such as a member of a frame: a point of a panel and the washer that clamps it.

    The seat's own node stands `reach_mm` out from the panel's face (from its rear, where `rear`) and is joined to the
    metal under the washer, or a fitting of that breadth, as one stiff piece.
    """

    panel: int
    at_mm: tuple[float, float]
    reach_mm: float
    washer_mm: float
    rear: bool = False

    def height_mm(self, thickness_mm: float) -> float:
        """Height of its node above the middle of the sheet, towards the face."""
        height = 0.5 * thickness_mm + self.reach_mm
        return -height if self.rear else height


MOST_PATCHES = 140
"""Patches of wall that a full answer feels, at the most."""


@dataclass(frozen=True, eq=False)
class Mounted:
    """A part on its wall, meshed and factored, with what is needed to load it and read its answers.

    `bolt_nodes` and `rings`, the nodes under each washer, follow `holes`, which come with their panel; `load_nodes`
    follow `items`, `seat_nodes` the seats asked for. `out` points from the wall into the room. `wall` is all of the
    wall that could be touched, a place at each node; the structure has none of it until `against_wall`.
    """

    part: Part
    metal: Metal
    fixings: Fixings
    pose: Pose
    mesh: SheetMesh
    nodes_mm: np.ndarray
    structure: Structure
    down: np.ndarray
    out: np.ndarray
    holes: tuple[tuple[int, Hole], ...]
    bolt_nodes: np.ndarray
    rings: tuple[np.ndarray, ...]
    items: tuple[Placed, ...]
    load_nodes: np.ndarray
    wall: Contacts
    seat_nodes: np.ndarray

    @property
    def model(self) -> Model:
        """The mechanical model."""
        return self.structure.model

    @property
    def sideways(self) -> np.ndarray:
        """Horizontal, along the wall."""
        across = np.cross(self.down, self.out)
        size = float(np.linalg.norm(across))
        return across / size if size > 1e-9 else self.pose.panels[self.fixings.panel].along

    def gravity(self) -> tuple[float, float, float]:
        """Acceleration of free fall in the model's axes, mm/s²."""
        x, y, z = STANDARD_GRAVITY_MM_S2 * self.down
        return (float(x), float(y), float(z))


def mounted(
    part: Part,
    metal: Metal,
    fixings: Fixings,
    carried: Sequence[Carried],
    size_mm: float | None = None,
    bend_facets: int = 3,
    hole_segments: int = 20,
    target_triangles: int | None = None,
    seats: Sequence[Seat] = (),
    good_angle_deg: float = WANTED_ANGLE_DEG,
) -> Mounted:
    """Mesh, support and factor a part on its wall; see `mesh` for sizes, facets, chords and angle.

    Raises `MountError` for loads or fixings that make no sense and `Mechanism` when something can still move.
    """
    pose = fold(part)
    frame = pose.panels[fixings.panel]
    down, out = downward(frame, fixings.down), outward(part, pose, fixings.panel)
    wall_panels = _on_the_wall(part, pose, fixings)
    holes = _all_holes(part, fixings, wall_panels)
    items = placed(part, pose, down, fixings.panel, carried)
    circles = [WasherCircle(p, h.at_mm, fixings.washer_mm) for p, h in holes]
    circles += [WasherCircle(s.panel, s.at_mm, s.washer_mm) for s in seats]
    points = seam_points(part)
    sheet = _sound_mesh(part, size_mm, points, circles, bend_facets, hole_segments, target_triangles, good_angle_deg)
    middle = folded(sheet, part)
    bolts = np.array([pose.panels[p].points(np.array([h.at_mm]))[0] for p, h in holes])
    arms = np.array(
        [pose.panels[i.panel].points(np.array([i.at_mm]), 0.5 * part.thickness_mm + i.reach_mm)[0] for i in items]
    ).reshape(-1, 3)
    on = np.array(
        [pose.panels[s.panel].points(np.array([s.at_mm]), s.height_mm(part.thickness_mm))[0] for s in seats]
    ).reshape(-1, 3)
    nodes = np.vstack([middle, bolts, arms, on])
    bolt_nodes = np.arange(len(middle), len(middle) + len(bolts))
    load_nodes = np.arange(bolt_nodes[-1] + 1, len(nodes) - len(on))
    seat_nodes = np.arange(len(nodes) - len(on), len(nodes))
    rings = [_washer_ring(sheet, p, h.at_mm, max(fixings.washer_mm, 1.15 * h.width_mm)) for p, h in holes]
    spiders = [Spider(int(c), ring) for c, ring in zip(bolt_nodes, rings, strict=True)]
    spiders += [
        Spider(int(c), _bearing(sheet, item, part.thickness_mm), "spread") for c, item in zip(load_nodes, items, strict=True)
    ]
    spiders += [
        Spider(int(c), _washer_ring(sheet, seat.panel, seat.at_mm, seat.washer_mm))
        for c, seat in zip(seat_nodes, seats, strict=True)
    ]
    wall = _wall(sheet, pose, fixings, wall_panels, holes, middle, down, out)
    model = Model(
        nodes,
        shells=Shells(
            sheet.triangles, part.thickness_mm, metal.modulus_mpa, metal.poisson, metal.density_kg_m3, sheet.region
        ),
        springs=_fixing_springs(pose, fixings, holes, bolt_nodes, out),
        spiders=spiders,
        links=seam_ties(part, sheet, pose, metal.modulus_mpa),
    )
    return Mounted(
        part, metal, fixings, pose, sheet, nodes, factored(model), down, out, holes, bolt_nodes, tuple(rings), items,
        load_nodes, wall, seat_nodes,
    )  # fmt: skip


def against_wall(here: Mounted, cases: Sequence[Loads], most_patches: int = MOST_PATCHES) -> Mounted:
    """The same part with the wall behind it, felt where it bears in these cases, in so many patches at the most."""
    return replace(here, structure=bedded(here.structure, here.wall, cases, on_rim(here), most=most_patches))


def on_rim(here: Mounted) -> np.ndarray:
    """Which of the wall's places (k,) lie on the edges of what bears on it, or on those of its openings."""
    triangles = here.mesh.triangles[np.isin(here.mesh.triangles, here.wall.nodes).all(axis=1)]
    return np.isin(here.wall.nodes, _rim(triangles, here.mesh.node_count))


def _rim(triangles: np.ndarray, count: int) -> np.ndarray:
    """Nodes on the edges and openings of some triangles."""
    sides = np.sort(np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    code, times = np.unique(sides[:, 0] * count + sides[:, 1], return_counts=True)
    alone = code[times == 1]
    return np.unique(np.concatenate([alone // count, alone % count]))


def _sound_mesh(
    part: Part,
    size_mm: float | None,
    points: list[HardPoint],
    circles: list[WasherCircle],
    bend_facets: int,
    hole_segments: int,
    target_triangles: int | None,
    good_angle_deg: float,
) -> SheetMesh:
    """The mesh asked for or, where a coarse one cannot have sound triangles, the usual one."""
    try:
        return mesh(part, size_mm, points, circles, bend_facets, hole_segments, target_triangles, good_angle_deg)
    except MeshError:
        return mesh(part, None, points, circles)


def outward(part: Part, pose: Pose, panel: int) -> np.ndarray:
    """The way from the wall into the room: the side of the fixed panel on which the part reaches further."""
    frame = pose.panels[panel]
    reach = [0.0]
    for other, place in zip(part.panels, pose.panels, strict=True):
        corners = np.concatenate([np.asarray(face.outer.points) for face in other.faces])
        reach += list((place.points(corners) - frame.origin) @ frame.face)
    return frame.face if max(reach) >= -min(reach) - 1e-6 else -frame.face


def _on_the_wall(part: Part, pose: Pose, fixings: Fixings) -> tuple[int, ...]:
    """The panel that takes the fixings and every other that lies in the same plane, such as a hat's second brim."""
    own = pose.panels[fixings.panel]
    found = [fixings.panel]
    for i, frame in enumerate(pose.panels):
        level = float((frame.origin - own.origin) @ own.face)
        if i != fixings.panel and abs(float(frame.face @ own.face)) > 1 - 1e-9 and abs(level) < 0.05 * part.thickness_mm:
            found.append(i)
    return tuple(found)


def _all_holes(part: Part, fixings: Fixings, panels: tuple[int, ...]) -> tuple[tuple[int, Hole], ...]:
    """The fixing holes of all panels on the wall; the named panel must have some, others may."""
    found = [(fixings.panel, hole) for hole in fixing_holes(part, fixings)]
    for other in panels[1:]:
        try:
            found += [(other, hole) for hole in fixing_holes(part, replace(fixings, panel=other))]
        except MountError:
            continue
    return tuple(found)


def _washer_ring(sheet: SheetMesh, panel: int, at_mm: tuple[float, float], washer_mm: float) -> np.ndarray:
    """Nodes under a washer: round the hole out to the washer's edge."""
    mine = np.flatnonzero(sheet.node_region == panel)
    away = np.hypot(*(sheet.local[mine] - np.asarray(at_mm)).T)
    ring = mine[away <= 0.5 * washer_mm * 1.05]
    return ring if len(ring) >= 3 else mine[np.argsort(away)[:6]]


def _bearing(sheet: SheetMesh, item: Placed, thickness_mm: float) -> np.ndarray:
    """Nodes an item bears on: those near its point, at least six and not all on one line."""
    mine = np.flatnonzero(sheet.node_region == item.panel)
    away = np.hypot(*(sheet.local[mine] - np.asarray(item.at_mm)).T)
    order = np.argsort(away)
    count = max(6, int(np.count_nonzero(away <= 2.0 * thickness_mm)))
    while count < len(mine):
        near = sheet.local[mine[order[:count]]]
        spread = np.linalg.svd(near - near.mean(axis=0), compute_uv=False)
        if spread[1] > 0.2 * spread[0]:
            break
        count += 3
    return mine[order[:count]]


def _fixing_springs(
    pose: Pose, fixings: Fixings, holes: tuple[tuple[int, Hole], ...], bolt_nodes: np.ndarray, out: np.ndarray
) -> Springs:
    axes = np.array([[pose.panels[p].along, np.cross(out, pose.panels[p].along), out] for p, _ in holes])
    one = [fixings.shear_n_per_mm, fixings.shear_n_per_mm, fixings.axial_n_per_mm] + [STEADYING_NMM] * 3
    ends = np.column_stack([bolt_nodes, np.full(len(bolt_nodes), GROUND)])
    stiffness = np.zeros((len(holes), 6, 6))
    stiffness[:, np.arange(6), np.arange(6)] = one
    return Springs(ends, stiffness, axes)


def _wall(
    sheet: SheetMesh,
    pose: Pose,
    fixings: Fixings,
    panels: tuple[int, ...],
    holes: tuple[tuple[int, Hole], ...],
    nodes_mm: np.ndarray,
    down: np.ndarray,
    out: np.ndarray,
) -> Contacts:
    """The wall at every node of the panels on it, under the washers too, each with its share of their area."""
    triangles = sheet.triangles[np.isin(sheet.region, panels)]
    areas = np.repeat(sheet.areas_mm2()[np.isin(sheet.region, panels)] / 3.0, 3)
    area = np.bincount(triangles.reshape(-1), areas, sheet.node_count)
    candidates = np.flatnonzero(area > 0)
    if fixings.band_mm is not None:
        levels = np.array([pose.panels[p].points(np.array([h.at_mm]))[0] for p, h in holes]) @ down
        height = nodes_mm[candidates] @ down
        inside = np.any(np.abs(height[:, None] - levels[None, :]) <= 0.5 * fixings.band_mm + 1e-6, axis=1)
        candidates = candidates[inside]
    return Contacts(candidates, np.tile(out, (len(candidates), 1)), fixings.wall_mm_per_n * MM2_A_CM2 / area[candidates])


def weight_loads(here: Mounted, factor: float, share_of_mass: float = 1.0, name: str = "") -> Loads:
    """Own weight and every item at its greatest mass, the items' weight times a factor."""
    nodal = np.zeros((len(here.nodes_mm), 6))
    for node, item in zip(here.load_nodes, here.items, strict=True):
        newton = item.mass_kg.high * 1e-3 * STANDARD_GRAVITY_MM_S2
        nodal[node, :3] += share_of_mass * factor * newton * here.down
    return Loads(nodal, here.gravity(), name=name)


def with_force(here: Mounted, loads: Loads, node: int, force_n: np.ndarray, name: str) -> Loads:
    """The same loads and one more force at a node."""
    nodal = np.zeros((len(here.nodes_mm), 6)) if loads.nodal is None else np.array(loads.nodal)
    nodal[node, :3] += force_n
    return Loads(nodal, loads.gravity_mm_s2, name=name)
