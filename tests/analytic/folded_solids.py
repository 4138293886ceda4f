"""Folded brackets as solids by a general finite-element library (scikit-fem): quadratic hexahedra, own active set.

Nothing of the model under test is used but where the panels lie. Each panel and bend is cut into bricks along its
straight edges, one or two quadratic bricks through the thickness; the bricks follow the bends as chords. A washer is a
round disc of the sheet, rigid through the thickness, on its fixing's springs. The wall is a bed of springs on the rear
of the panels on it, washers and all, that push and never pull: so many millimetres for a megapascal.

Only panels with straight edges along two directions; corners rounded elsewhere are taken square.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy import sparse
from scipy.sparse.linalg import splu
from skfem import Basis, ElementHex2, ElementVector, FacetBasis, LinearForm, MeshHex, asm
from skfem.models.elasticity import lame_parameters, linear_elasticity

from steadfold.sheet.part import Part
from steadfold.sheet.pose import flat_places, fold

RINGS, SPOKES = 6, 36
"""Points on a washer's disc at which the wall is felt."""


@dataclass(frozen=True)
class Bolt:
    """A fixing on a panel: its place in the panel's frame, hole and washer, and what it gives."""

    panel: int
    at_mm: tuple[float, float]
    hole_mm: float
    washer_mm: float
    axial_n_per_mm: float
    shear_n_per_mm: float
    turning_nmm: float = 2.0e3


@dataclass(frozen=True)
class Hung:
    """A force (3,) at a point in space that bears on the sheet near a place of a panel, within a distance."""

    panel: int
    at_mm: tuple[float, float]
    height_mm: float
    force_n: tuple[float, float, float]
    within_mm: float


@dataclass(frozen=True, eq=False)
class Solved:
    """Pull of each bolt, N; how much of it the wall pushes back in all, N; a reader of the motion anywhere."""

    pull_n: np.ndarray
    wall_n: float
    freedoms: int
    places_mm: np.ndarray
    moved_mm: np.ndarray

    def moved_at(self, place_mm: np.ndarray) -> np.ndarray:
        """Motion (3,) of the node nearest to a place in space."""
        return self.moved_mm[np.argmin(np.linalg.norm(self.places_mm - place_mm, axis=1))]


def solved(
    part: Part,
    bolts: Sequence[Bolt],
    loads: Sequence[Hung],
    wall_panels: Sequence[int],
    wall_mm_per_mpa: float,
    modulus_mpa: float,
    poisson: float,
    size_mm: float,
    layers: int = 1,
    bricks_per_bend: int = 5,
) -> Solved:
    """Solve a part on its wall."""
    pose = fold(part)
    bricks = _bricks(part, bolts, size_mm, layers, bricks_per_bend)
    mesh = MeshHex(bricks.points.T, bricks.hexes.T)
    basis = Basis(mesh, ElementVector(ElementHex2()), intorder=4)
    stiffness = asm(linear_elasticity(*lame_parameters(modulus_mpa, poisson)), basis).tocsr()
    places = basis.doflocs
    nodes, node_of = np.unique(np.round(places.T, 6), axis=0, return_inverse=True)
    node_of = node_of.reshape(-1)
    component = _components(basis)
    freedom = np.full((len(nodes), 3), -1)
    freedom[node_of, component] = np.arange(places.shape[1])

    count = places.shape[1]
    columns, wall_rows, wall_area = np.arange(count), [], []
    slaves = np.zeros(count, dtype=bool)
    rigid_rows, rigid_cols, rigid_values = [], [], []
    springs = []
    for number, bolt in enumerate(bolts):
        frame = pose.panels[bolt.panel]
        centre = frame.points(np.array([bolt.at_mm]))[0]
        offset = nodes - centre
        level = offset @ frame.face
        away = np.hypot(offset @ frame.along, offset @ frame.away)
        ring = np.flatnonzero((np.abs(level) <= 0.5 * part.thickness_mm + 1e-4) & (away <= 0.5 * bolt.washer_mm + 1e-4))
        first = count + 6 * number
        for axis in range(3):
            dof = freedom[ring, axis]
            slaves[dof] = True
            rigid_rows.append(dof)
            rigid_cols.append(np.full(len(dof), first + axis))
            rigid_values.append(np.ones(len(dof)))
            for turn in range(3):
                lever = np.cross(np.eye(3)[turn], offset[ring])[:, axis]
                rigid_rows.append(dof)
                rigid_cols.append(np.full(len(dof), first + 3 + turn))
                rigid_values.append(lever)
        axes = np.stack([frame.along, frame.away, frame.face])
        block = np.zeros((6, 6))
        block[:3, :3] = axes.T @ np.diag([bolt.shear_n_per_mm, bolt.shear_n_per_mm, bolt.axial_n_per_mm]) @ axes
        block[3:, 3:] = bolt.turning_nmm * np.eye(3)
        springs.append((first, block))
        for radius, area in _ring_areas(0.5 * bolt.hole_mm, 0.5 * bolt.washer_mm):
            for angle in (np.arange(SPOKES) + 0.5) * 2 * math.pi / SPOKES:
                arm = radius * (math.cos(angle) * frame.along + math.sin(angle) * frame.away)
                turning = np.cross(arm, frame.face)
                wall_rows.append((np.arange(first, first + 6), np.concatenate([frame.face, turning])))
                wall_area.append(area / SPOKES)
    total = count + 6 * len(bolts)
    keep = np.concatenate([~slaves, np.ones(6 * len(bolts), dtype=bool)])
    reduce = sparse.csr_matrix(
        (
            np.concatenate([np.ones(int((~slaves).sum())), *rigid_values]),
            (np.concatenate([columns[~slaves], *rigid_rows]), np.concatenate([columns[~slaves], *rigid_cols])),
        ),
        shape=(count, total),
    )
    for panel in wall_panels:
        frame = pose.panels[panel]
        facets = _rear_facets(mesh, bricks, panel)
        area = asm(LinearForm(lambda v, w: v[0] + v[1] + v[2]), FacetBasis(mesh, basis.elem, facets=facets))
        on = np.flatnonzero(np.abs(area) > 1e-12)
        on_nodes = np.unique(node_of[on])
        for node in on_nodes:
            wall_rows.append((freedom[node], frame.face))
            wall_area.append(float(area[freedom[node, 0]]))
    wall = sparse.csr_matrix(
        (
            np.concatenate([values for _, values in wall_rows]),
            np.concatenate([index for index, _ in wall_rows]),
            np.cumsum([0, *(len(values) for _, values in wall_rows)]),
        ),
        shape=(len(wall_rows), total),
    )
    wall = _through(wall, reduce, count)[:, keep]
    matrix = sparse.lil_matrix((total, total))
    for first, block in springs:
        matrix[first : first + 6, first : first + 6] = block
    base = ((reduce.T @ stiffness @ reduce).tocsr() + matrix.tocsr())[keep][:, keep]
    force = np.zeros(count)
    for load in loads:
        _hang(force, load, nodes, freedom, pose.panels[load.panel], part.thickness_mm)
    right = (reduce.T @ force)[keep]
    stiff = np.asarray(wall_area) / wall_mm_per_mpa
    answer, pushes = _settled(base.tocsc(), wall, stiff, right)
    full = np.zeros(total)
    full[keep] = answer
    moved = reduce @ full
    pull = []
    for number, bolt in enumerate(bolts):
        first = count + 6 * number
        pull.append(bolt.axial_n_per_mm * float(full[first : first + 3] @ pose.panels[bolt.panel].face))
    return Solved(np.array(pull), float(pushes.sum()), int(keep.sum()), nodes, moved[freedom])


def _settled(base: sparse.csc_matrix, wall: sparse.csr_matrix, stiff: np.ndarray, right: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Motion and pushes of the wall: springs that press stay, those that would pull are let go, until none changes."""
    active = np.ones(len(stiff), dtype=bool)
    for _ in range(60):
        rows = wall[active]
        matrix = sparse.csc_matrix(base + rows.T @ sparse.diags_array(stiff[active]) @ rows)
        answer = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}).solve(right)
        pressed = wall @ answer < 0
        if (pressed == active).all():
            return answer, np.where(active, -stiff * (wall @ answer), 0.0)
        active = pressed
    raise ArithmeticError("the wall did not settle")


@dataclass(frozen=True, eq=False)
class _Bricks:
    points: np.ndarray
    hexes: np.ndarray
    region: np.ndarray
    layer: np.ndarray
    bottom: np.ndarray


def _bricks(part: Part, bolts: Sequence[Bolt], size_mm: float, layers: int, bricks_per_bend: int) -> _Bricks:
    """Bricks of all panels and bends: rectangles of a grid through the flat middle surface, laid where they are folded."""
    pose = fold(part)
    panels, strips = flat_places(part, 0.5)
    places = (*panels, *strips)
    shapes = []
    for index, panel in enumerate(part.panels):
        discs = shapely.MultiPoint([b.at_mm for b in bolts if b.panel == index]).buffer(1.0)
        metal = []
        for face in panel.faces:
            outer = face.outer.polygon()
            for hole in face.holes:
                if not hole.polygon().intersects(discs):
                    outer = outer.difference(hole.polygon())
            metal.append(outer)
        shapes.append(shapely.union_all(metal))
    for bend in part.bends:
        metal = shapely.union_all([face.polygon() for face in bend.faces])
        shapes.append(shapely.transform(metal, lambda p, b=bend: p * [1.0, b.middle_length_mm / b.allowance_mm]))
    flat = [shapely.transform(shape, place.many) for shape, place in zip(shapes, places, strict=True)]
    marks: list[list[float]] = [[], []]
    squares = []
    for shape in flat:
        for polygon in shapely.get_parts(shape):
            for ring in (polygon.exterior, *polygon.interiors):
                corners = np.asarray(ring.coords)
                marks[0] += list(corners[:, 0])
                marks[1] += list(corners[:, 1])
    for bolt in bolts:
        centre = places[bolt.panel](bolt.at_mm)
        inner, outer = 0.45 * bolt.washer_mm, 0.9 * bolt.washer_mm
        squares.append((np.asarray(centre), inner, outer, 0.5 * bolt.washer_mm))
        for axis in range(2):
            marks[axis] += [centre[axis] + d for d in (-outer, -inner, 0.0, inner, outer)]
    fine = {axis: [] for axis in range(2)}
    for number, bend in enumerate(part.bends):
        box = flat[len(panels) + number].bounds
        across = 1 if abs(strips[number].turned((0.0, 1.0))[1]) > 0.5 else 0
        fine[across].append((box[across], box[across + 2], bend.middle_length_mm / bricks_per_bend))
    lines = [_lines(marks[axis], size_mm, fine[axis]) for axis in range(2)]
    middle = [0.5 * (one[1:] + one[:-1]) for one in lines]
    cells = np.stack(np.meshgrid(*middle, indexing="ij"), axis=-1).reshape(-1, 2)
    index = np.stack(np.meshgrid(*(np.arange(len(m)) for m in middle), indexing="ij"), axis=-1).reshape(-1, 2)
    points, hexes, region, layer = [], [], [], []
    total = 0
    for number, (shape, place) in enumerate(zip(flat, places, strict=True)):
        inside = shapely.contains_xy(shape, cells[:, 0], cells[:, 1])
        for centre, inner, _, _ in squares:
            inside &= np.abs(cells - centre).max(axis=1) > inner
        mine = index[inside]
        steps = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
        corner = (mine[:, None, :] + steps).reshape(-1, 2)
        unique, back = np.unique(corner, axis=0, return_inverse=True)
        quads = back.reshape(-1, 4)
        plane = np.column_stack([lines[0][unique[:, 0]], lines[1][unique[:, 1]]])
        for centre, inner, outer, radius in squares:
            plane = _rounded(plane, centre, inner, outer, radius)
        local = _undone(place, plane)
        for low in range(layers + 1):
            height = part.thickness_mm * (low / layers - 0.5)
            if number < len(panels):
                points.append(pose.panels[number].points(local, height))
            else:
                bend = pose.bends[number - len(panels)]
                points.append(bend.points(local[:, 0], local[:, 1] / bend.length_mm, height))
        step = len(unique)
        for low in range(layers):
            below, above = quads + total + low * step, quads + total + (low + 1) * step
            hexes.append(np.concatenate([below, above], axis=1))
            region.append(np.full(len(quads), number))
            layer.append(np.full(len(quads), low))
        total += step * (layers + 1)
    space = np.concatenate(points)
    merged, same = np.unique(np.round(space, 5), axis=0, return_inverse=True)
    first = np.zeros((len(merged), 3))
    first[same.reshape(-1)] = space
    corners = same.reshape(-1)[np.concatenate(hexes)]
    bottom = np.concatenate([h[:, :4] for h in hexes])
    return _Bricks(first, _ordered(first, corners), np.concatenate(region), np.concatenate(layer), same.reshape(-1)[bottom])


def _ordered(points: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """Corners (m, 8) given as below and above, each around, in scikit-fem's order: 000 001 010 100 011 101 110 111."""
    a, b, c, d, e, f, g, h = corners.T
    return np.stack([a, e, d, b, h, f, c, g], axis=1)


def _undone(place: object, plane: np.ndarray) -> np.ndarray:
    """Points of a frame's own plane from points where an isometry takes them."""
    origin = np.asarray(place((0.0, 0.0)))  # type: ignore[operator]
    along, away = np.asarray(place.turned((1.0, 0.0))), np.asarray(place.turned((0.0, 1.0)))  # type: ignore[attr-defined]
    return (plane - origin) @ np.column_stack([along, away])


def _lines(marks: list[float], size_mm: float, fine: list[tuple[float, float, float]]) -> np.ndarray:
    """Grid lines through all marks, no further apart than wanted."""
    rough = np.sort(np.asarray(marks))
    places = [rough[0]]
    for mark in rough[1:]:
        if mark - places[-1] > 1e-6:
            places.append(mark)
    out = [places[0]]
    for low, high in itertools.pairwise(places):
        step = size_mm
        for start, end, wanted in fine:
            if low > start - 1e-6 and high < end + 1e-6:
                step = min(step, wanted)
        count = max(1, math.ceil((high - low) / step - 1e-9))
        out += list(low + (high - low) * np.arange(1, count + 1) / count)
    return np.asarray(out)


def _rounded(plane: np.ndarray, centre: np.ndarray, inner: float, outer: float, radius: float) -> np.ndarray:
    """Grid points about a bolt moved so that the inner square becomes a circle and the outer one stays."""
    offset = plane - centre
    most = np.abs(offset).max(axis=1)
    size = np.hypot(*offset.T)
    share = np.clip((most - inner) / (outer - inner), 0.0, 1.0)
    near = (most < outer - 1e-9) & (most > 1e-9)
    out = plane.copy()
    on_circle = radius * offset[near] / size[near, None]
    out[near] = centre + (1 - share[near, None]) * on_circle + share[near, None] * offset[near]
    return out


def _rear_facets(mesh: MeshHex, bricks: _Bricks, panel: int) -> np.ndarray:
    """Facets of the rear of a panel."""
    mine = (bricks.region == panel) & (bricks.layer == 0)
    wanted = {tuple(sorted(f)) for f in bricks.bottom[mine]}
    facets = np.sort(mesh.facets, axis=0).T
    return np.flatnonzero([tuple(f) in wanted for f in facets])


def _ring_areas(inner: float, outer: float) -> list[tuple[float, float]]:
    edges = np.linspace(inner, outer, RINGS + 1)
    return [(0.5 * (a + b), math.pi * (b * b - a * a)) for a, b in itertools.pairwise(edges)]


def _components(basis: Basis) -> np.ndarray:
    """Which direction each freedom is."""
    component = np.full(basis.N, -1)
    dofs = basis.element_dofs
    for local in range(dofs.shape[0]):
        component[dofs[local]] = local % 3
    return component


def _through(wall: sparse.csr_matrix, reduce: sparse.csr_matrix, count: int) -> sparse.csr_matrix:
    """Rows on all freedoms (those of the sheet first, then the bolts') as rows on the reduced ones."""
    bolts = wall.shape[1] - count
    lift = sparse.vstack([reduce, sparse.hstack([sparse.csr_matrix((bolts, count)), sparse.eye_array(bolts)])])
    return sparse.csr_matrix(wall @ lift.tocsr())


def _hang(force: np.ndarray, load: Hung, nodes: np.ndarray, freedom: np.ndarray, frame: object, thickness_mm: float) -> None:
    """Spread a force over the nodes near its place, the least forces that give its force and moment."""
    place = frame.points(np.array([load.at_mm]))[0]  # type: ignore[attr-defined]
    acts = frame.points(np.array([load.at_mm]), load.height_mm)[0]  # type: ignore[attr-defined]
    offset = nodes - place
    level = offset @ frame.face  # type: ignore[attr-defined]
    away = np.linalg.norm(offset - np.outer(level, frame.face), axis=1)  # type: ignore[attr-defined]
    near = np.flatnonzero((np.abs(level) <= 0.5 * thickness_mm + 1e-4) & (away <= load.within_mm))
    arms = nodes[near] - place
    middle = arms.mean(axis=0)
    arms = arms - middle
    push = np.asarray(load.force_n)
    moment = np.cross(acts - place - middle, push)
    inertia = np.sum(arms**2) * np.eye(3) - arms.T @ arms
    turn = np.linalg.solve(inertia, moment)
    each = push / len(near) + np.cross(turn, arms)
    for axis in range(3):
        np.add.at(force, freedom[near, axis], each[:, axis])
