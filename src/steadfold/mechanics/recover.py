"""Forces inside: plates, beams, springs, and what passes through a cut.

Source of the plate criterion: Ilyushin, 'Plasticite' (1956), the linear approximation with the cross term
as in Crisfield, 'Some approximations in the non-linear analysis of rectangular plates' (TRRL 1973)
(recalled).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse
from scipy.spatial import cKDTree

from . import beam, triangle
from .assembly import spring_motion
from .loads import beam_load, shell_load
from .model import Model
from .parts import FloatArray, IntArray, Springs
from .results import Result, SectionForces, ShellForces


def axes_along(model: Model, reference: ArrayLike | None) -> FloatArray:
    """Axes (m, 3, 3) of the shell elements, x being `reference` (3,) or (m, 3) laid into each element.

    Where the reference stands square on an element, its own side 1-2 takes its place; so it does without one.
    """
    axes = triangle.element_axes(model.nodes_mm[model.shells.triangles])
    if reference is None:
        return axes
    wish = np.broadcast_to(np.asarray(reference, dtype=float), (model.shells.count, 3))
    normal = axes[:, 2]
    flat = wish - np.einsum("ij,ij->i", wish, normal)[:, None] * normal
    size = np.linalg.norm(flat, axis=1)
    usable = size > 1e-6 * np.linalg.norm(wish, axis=1)
    first = np.where(usable[:, None], flat / np.where(usable, size, 1.0)[:, None], axes[:, 0])
    return np.stack([first, np.cross(normal, first), normal], axis=1)


class ShellReader:
    """Reads the shell forces of many cases of one model: what depends on the mesh alone is made once.

    reference: as in `axes_along`.
    """

    def __init__(self, model: Model, reference: ArrayLike | None = None) -> None:
        shells = model.shells
        self.model = model
        self.axes = axes_along(model, reference)
        self.centre_mm = model.nodes_mm[shells.triangles].mean(axis=1)
        self.area_mm2 = np.empty(shells.count)
        self._rows = np.empty((shells.count, 6, 18))
        self._means: dict[float, tuple[sparse.csr_matrix, FloatArray]] = {}
        law = triangle.constitutive(shells)
        for part in triangle.chunks(shells.count):
            corners = model.nodes_mm[shells.triangles[part]]
            rows, self.area_mm2[part] = triangle.strain_rows(corners, self.axes[part], shells.poisson[part])
            mean, thickness = rows.mean(axis=1), shells.thickness_mm[part, None, None]
            self._rows[part, :3] = np.matmul(law[part], mean[:, :3]) * thickness
            self._rows[part, 3:] = np.matmul(law[part], mean[:, 3:]) * thickness**3 / 12.0

    def forces(self, result: Result) -> ShellForces:
        """Membrane forces and moments at the middle of every shell element of one case."""
        return self.all_forces([result])[0]

    def all_forces(self, results: Sequence[Result]) -> list[ShellForces]:
        """The same for several cases."""
        numbers = self.model.shells.triangles
        moved = np.stack([r.displacement for r in results], axis=2)[numbers].reshape(-1, 18, len(results))
        both = np.matmul(self._rows, moved).transpose(2, 0, 1)
        return [ShellForces(self.axes, one[:, :3], one[:, 3:], self.centre_mm, self.area_mm2) for one in both]

    def averaged(self, values: FloatArray, radius_mm: float) -> FloatArray:
        """As the function of that name, for one radius."""
        if radius_mm not in self._means:
            self._means[radius_mm] = _means(self.model, self.centre_mm, self.area_mm2, radius_mm)
        return _divided(*self._means[radius_mm], values)


def shell_forces(result: Result, reference: ArrayLike | None = None) -> ShellForces:
    """Membrane forces and moments at the middle of every shell element; see `ShellForces` and
    `axes_along`.
    """
    return ShellReader(result.model, reference).forces(result)


def _equivalent(first: FloatArray, second: FloatArray) -> FloatArray:
    """The von Mises product of two plane tensors (m, 3): x, y, xy."""
    (a, b, c), (d, e, f) = first.T, second.T
    return np.asarray(a * d + b * e - 0.5 * (a * e + b * d) + 3.0 * c * f)


def fibre_stress(model: Model, forces: ShellForces, side: int) -> FloatArray:
    """Stress (m, 3) in MPa, x, y, xy, on the outer fibre: side +1 where the normal points, -1 behind, 0
    middle.
    """
    thickness = model.shells.thickness_mm[:, None]
    return np.asarray(forces.membrane_n_per_mm / thickness + side * 6.0 * forces.moment_n / thickness**2)


def von_mises(model: Model, forces: ShellForces) -> FloatArray:
    """Von Mises stress (m, 2) in MPa on the two outer fibres: where the normal points, and behind."""
    sides = [fibre_stress(model, forces, side) for side in (1, -1)]
    return np.stack([np.sqrt(np.maximum(_equivalent(s, s), 0.0)) for s in sides], axis=1)


def ilyushin(model: Model, forces: ShellForces, yield_mpa: ArrayLike) -> FloatArray:
    """Share (m,) of the full plastic strength of each element: 1 where the whole thickness yields.

    sqrt(n + m + |nm| / sqrt 3) of the squared membrane share n, the squared moment share m and their product;
    it grows in proportion to the load. Peaks at corners and point supports grow with refinement: average
    first.
    """
    thickness = model.shells.thickness_mm
    strength = np.broadcast_to(np.asarray(yield_mpa, dtype=float), thickness.shape)
    membrane = forces.membrane_n_per_mm / (strength * thickness)[:, None]
    moment = forces.moment_n / (0.25 * strength * thickness**2)[:, None]
    mixed = np.abs(_equivalent(membrane, moment)) / np.sqrt(3.0)
    return np.sqrt(np.maximum(_equivalent(membrane, membrane) + _equivalent(moment, moment) + mixed, 0.0))


def averaged(model: Model, forces: ShellForces, values: FloatArray, radius_mm: ArrayLike) -> FloatArray:
    """Area-weighted mean of element values (m,) or (m, k) over the elements whose middle is within
    `radius_mm`.

    radius_mm: one, or one for each element. Never across regions of the shells. An element always counts
    itself.
    """
    return _divided(*_means(model, forces.centre_mm, forces.area_mm2, radius_mm), values)


def _divided(weights: sparse.csr_matrix, total: FloatArray, values: FloatArray) -> FloatArray:
    return np.asarray((weights @ values) / (total if values.ndim == 1 else total[:, None]))


def _means(
    model: Model, centre_mm: FloatArray, area_mm2: FloatArray, radius_mm: ArrayLike
) -> tuple[sparse.csr_matrix, FloatArray]:
    """The averaging of `averaged` as weights (m, m) and their sums (m,)."""
    count = model.shells.count
    radius = np.broadcast_to(np.asarray(radius_mm, dtype=float), (count,))
    rows, columns = [np.arange(count)], [np.arange(count)]
    for region in np.unique(model.shells.region):
        inside = np.flatnonzero(model.shells.region == region)
        tree = cKDTree(centre_mm[inside])
        pairs = tree.query_pairs(float(radius[inside].max()), output_type="ndarray")
        first, second = inside[pairs[:, 0]], inside[pairs[:, 1]]
        apart = np.linalg.norm(centre_mm[first] - centre_mm[second], axis=1)
        for here, there in ((first, second), (second, first)):
            near = apart <= radius[here]
            rows.append(here[near])
            columns.append(there[near])
    row, column = np.concatenate(rows), np.concatenate(columns)
    weights = sparse.csr_matrix((area_mm2[column], (row, column)), shape=(count, count))
    return weights, np.asarray(weights.sum(axis=1)).reshape(-1)


def fitted_at(model: Model, forces: ShellForces, values: FloatArray, place_mm: ArrayLike, region: int,
              radius_mm: float) -> float:
    """Value at a place from a linear fit of element values (m,) within one region and `radius_mm` of the
    place.

    Fits over the panel's own two directions. Raises ValueError with fewer than four elements to fit.
    """
    place = np.asarray(place_mm, dtype=float)
    away = forces.centre_mm - place
    chosen = np.flatnonzero((model.shells.region == region) & (np.linalg.norm(away, axis=1) <= radius_mm))
    if len(chosen) < 4:
        raise ValueError(f"only {len(chosen)} elements of region {region} within {radius_mm} mm")
    base = forces.axes[chosen[0], :2]
    flat = away[chosen] @ base.T
    weight = np.sqrt(forces.area_mm2[chosen])
    system = np.column_stack([np.ones(len(chosen)), flat]) * weight[:, None]
    fit, *_ = np.linalg.lstsq(system, values[chosen] * weight, rcond=None)
    return float(fit[0])


class LineReader:
    """Reads the forces that some shell elements put on the nodes of a line, for many cases of one model."""

    def __init__(self, model: Model, elements: ArrayLike, line_nodes: ArrayLike, place: IntArray | None = None) -> None:
        """`place` (m, 3) is which of the line's nodes each corner of the elements is, -1 for none; found where it is not
        given."""
        self.model = model
        self.elements = np.asarray(elements, dtype=np.int64)
        self.line_nodes = np.asarray(line_nodes, dtype=np.int64)
        self._numbers = model.shells.triangles[self.elements]
        if place is None:
            position = np.full(model.node_count, -1)
            position[self.line_nodes] = np.arange(len(self.line_nodes))
            place = position[self._numbers]
        self._place = place

    @classmethod
    def joined(cls, readers: Sequence[LineReader]) -> LineReader:
        """One reader for the nodes of several lines of one model, one line after the other, read together."""
        starts = np.cumsum([0, *(len(r.line_nodes) for r in readers)])
        places = [np.where(r._place >= 0, r._place + s, -1) for r, s in zip(readers, starts, strict=False)]
        return cls(readers[0].model, np.concatenate([r.elements for r in readers]),
                   np.concatenate([r.line_nodes for r in readers]), np.concatenate(places))

    @cached_property
    def _stiffness(self) -> FloatArray:
        rows = triangle.root_rows(self.model, self.elements)
        return np.matmul(rows.transpose(0, 2, 1), rows)

    @cached_property
    def _gather(self) -> sparse.csr_matrix:
        corners = self._place.reshape(-1)
        on_line = np.flatnonzero(corners >= 0)
        return sparse.csr_matrix((np.ones(len(on_line)), (corners[on_line], on_line)),
                                 shape=(len(self.line_nodes), len(corners)))

    def forces(self, result: Result) -> FloatArray:
        """Forces (k, 6) on each node of the line, global axes: the elements' own nodal forces less their share
        of weight and pressure, so exact statics on any mesh."""
        return self.all_forces([result])[:, :, 0]

    def all_forces(self, results: Sequence[Result]) -> FloatArray:
        """The same for several cases, (k, 6, cases)."""
        moved = np.stack([r.displacement for r in results], axis=2)[self._numbers].reshape(-1, 18, len(results))
        acting = -np.matmul(self._stiffness, moved)
        loads: dict[tuple[float, ...], FloatArray] = {}
        for k, result in enumerate(results):
            weight = tuple(float(g) for g in result.loads.gravity_mm_s2)
            if np.any(result.loads.pressure_mpa):
                acting[:, :, k] += shell_load(self.model, result.loads, self.elements).reshape(-1, 18)
                continue
            if weight not in loads:
                loads[weight] = shell_load(self.model, result.loads, self.elements).reshape(-1, 18)
            acting[:, :, k] += loads[weight]
        return np.asarray(self._gather @ acting.reshape(-1, 6 * len(results))).reshape(-1, 6, len(results))


def line_forces(result: Result, elements: IntArray, line_nodes: IntArray) -> FloatArray:
    """Forces (k, 6) that the named shell elements put on each node of a line, global axes; see `LineReader`."""
    return LineReader(result.model, elements, line_nodes).forces(result)


def section_forces(result: Result, elements: IntArray, line_nodes: IntArray,
                   about_mm: ArrayLike | None = None) -> SectionForces:
    """Force and moment that pass through a line of nodes out of the elements on one side of it.

    elements: shell elements on that side, at least all that touch the line. about_mm: where moments are
    taken, default the middle of the line. A part of a line gives that part's share.
    """
    nodes = result.model.nodes_mm[line_nodes]
    about = nodes.mean(axis=0) if about_mm is None else np.asarray(about_mm, dtype=float)
    forces = line_forces(result, elements, line_nodes)
    moments = forces[:, 3:] + np.cross(nodes - about, forces[:, :3])
    return SectionForces(forces[:, :3].sum(axis=0), moments.sum(axis=0), about)


def spring_forces(result: Result) -> FloatArray:
    """Force (s, 6) in every spring in its own axes: stiffness times the motion of the second end (or the
    ground) less that of the first, which is what the spring does to its first node.
    """
    return _pulls(result, result.model.springs)


def link_forces(result: Result) -> FloatArray:
    """Force (l, 6) in every link in its own axes: what it does to its first node."""
    return _pulls(result, result.model.links)


def _pulls(result: Result, springs: Springs) -> FloatArray:
    opening = spring_motion(result.model, result.displacement, springs)
    return np.asarray(np.einsum("ekl,el->ek", springs.stiffness, opening))


def beam_forces(result: Result) -> FloatArray:
    """Forces (b, 2, 6) that the nodes put on both ends of every beam, in the beam's own axes.

    [:, 1, 0] is the pull; [:, :, 4:] the end moments about local y and z.
    """
    model = result.model
    return beam.end_forces(model, beam.beam_set(model), result.displacement, beam_load(model, result.loads))
