"""Linear buckling on the factor that the statics already has.

K x = factor (-G) x, with G the stiffness that the membrane forces of plates and the pull of beams add. The
inverse is asked for: the largest 1 / factor of -G against K needs only solutions with K.
"""

from __future__ import annotations

import numpy as np
from scipy import linalg as dense
from scipy import sparse
from scipy.sparse import linalg

from . import assembly, beam, triangle
from .factor import Factor
from .loads import beam_load
from .model import Model
from .parts import FloatArray
from .recover import shell_forces
from .results import Buckling, Result
from .solve import Structure, factored, with_springs

SMALL = 150
"""Freedoms up to which all eigenvalues are found at once."""

UNPRESSED = 1e-9
"""Share of the largest pull from which a push counts, and of the largest growth of stiffness from which a loss does:
less is the rounding of a statics that is balanced to 1e-6."""


def plate_blocks(result: Result) -> FloatArray:
    """Geometric stiffness (m, 3, 3, 6, 6) of the shells in the state of a result.

    Slopes: of the displacement in the plane from the corners; of the one across it from the plate's own
    rotation field at the three mid-side points.
    """
    model, shells = result.model, result.model.shells
    membrane = shell_forces(result).membrane_n_per_mm
    blocks = np.empty((shells.count, 3, 3, 6, 6))
    for part in triangle.chunks(shells.count):
        corners = model.nodes_mm[shells.triangles[part]]
        axes = triangle.element_axes(corners)
        plane = triangle.plane_corners(corners, axes)
        area = triangle.areas(plane)
        count = len(area)
        slope = triangle.corner_slopes(plane)  # (m, corner, 2)
        across = triangle.rotation_rows(plane)  # (m, point, 2, corner, 3)
        rows = np.zeros((count, 3, 3, 2, 3, 6))  # point, component, direction, corner, freedom
        for component in range(2):
            rows[:, :, component, :, :, :3] = (slope.transpose(0, 2, 1)[:, None, :, :, None]
                                               * axes[:, component][:, None, None, None, :])
        rows[:, :, 2, :, :, :3] = -across[..., :1] * axes[:, 2][:, None, None, None, :]
        rows[:, :, 2, :, :, 3:] = -np.matmul(across[..., 1:].reshape(count, 1, 18, 2),
                                             axes[:, :2].reshape(count, 1, 2, 3)).reshape(count, 3, 2, 3, 3)
        force = membrane[part]
        tensor = force[:, [[0, 2], [2, 1]]] * (area / 3.0)[:, None, None]
        weighted = np.einsum("eij,epcjnf->epcinf", tensor, rows)
        full = np.matmul(rows.reshape(count, 18, 18).transpose(0, 2, 1), weighted.reshape(count, 18, 18))
        blocks[part] = full.reshape(-1, 3, 6, 3, 6).transpose(0, 1, 3, 2, 4)
    return blocks


def geometric_stiffness(structure: Structure, result: Result) -> sparse.csr_matrix:
    """Geometric stiffness (6n, 6n) of plates and beams under a result's forces."""
    model = structure.model
    pull = beam.end_forces(model, structure.beams, result.displacement, beam_load(model, result.loads))
    mean_pull = 0.5 * (pull[:, 1, 0] - pull[:, 0, 0])
    return assembly.assembled(model.node_count, [
        (model.shells.triangles, plate_blocks(result)),
        (model.beams.ends, beam.geometric_blocks(model, structure.beams, mean_pull))])


def pressed(structure: Structure, result: Result) -> bool:
    """Whether any plate or beam is pushed in some direction: without that nothing can buckle."""
    model = structure.model
    pull = beam.end_forces(model, structure.beams, result.displacement, beam_load(model, result.loads))
    mean_pull = 0.5 * (pull[:, 1, 0] - pull[:, 0, 0])
    if (mean_pull < -UNPRESSED * np.abs(mean_pull).max(initial=0.0)).any():
        return True
    if not model.shells.count:
        return False
    along, across, shear = shell_forces(result).membrane_n_per_mm.T
    least = 0.5 * (along + across) - np.hypot(0.5 * (along - across), shear)
    largest = float(np.abs([along, across, shear]).max(initial=0.0))
    return bool((least < -UNPRESSED * largest).any())


def bearing_factor(structure: Structure, result: Result | None) -> Factor:
    """Factor of the structure with the contacts and ties that bear in `result` kept as springs both ways."""
    compliance = structure.compliance
    if compliance is None:
        return structure.factor
    rows = compliance.rows
    bears = np.zeros(rows.count, dtype=bool)
    if result is not None:
        bears = np.concatenate([result.contact_n, result.tie_n]) > 0
    if not bears.any() and not compliance.helpers.any():
        return structure.factor
    reduced = structure.freedoms.reduced_columns(rows.columns)
    return Factor.of(with_springs(structure.factor.matrix, reduced,
                                  np.where(bears, 1.0 / rows.compliance, 0.0) - compliance.helpers),
                     like=structure.factor)


def buckling(model: Model | Structure, result: Result, count: int = 3, tolerance: float = 1e-8) -> Buckling:
    """The lowest `count` load factors at which the structure under `result`'s loading buckles, and the
    shapes.

    tolerance: relative, of the factors. Factors above zero only; fewer come back where there are no more, and none
    where nothing is pressed: what is only pulled has no load factor. Contacts and ties that bear stay
    bearing. The rotations before buckling are taken as small. Raises ValueError for count below 1.
    """
    if count < 1:
        raise ValueError("ask for at least one buckling factor")
    structure = model if isinstance(model, Structure) else factored(model)
    if not pressed(structure, result):
        return Buckling(np.zeros(0), np.zeros((0, structure.model.node_count, 6)))
    factor = bearing_factor(structure, result)
    geometry = structure.freedoms.reduced_matrix(geometric_stiffness(structure, result))
    size = factor.matrix.shape[0]
    if size <= SMALL:
        inverse, shapes = dense.eigh(-geometry.toarray(), factor.matrix.toarray())
    else:
        start = np.random.default_rng(20240229).normal(size=size)
        inverse, shapes = linalg.eigsh(-geometry, count, M=factor.matrix, Minv=factor.operator(), which="LA",
                                       v0=start, ncv=min(size - 1, max(4 * count + 4, 20)), tol=tolerance)
    order = np.argsort(-inverse)[:count]
    # a unit shift of one freedom is a trial shape, so the true extreme lies beyond this
    growth = float((np.abs(geometry.diagonal()) / factor.matrix.diagonal()).max(initial=0.0))
    order = order[inverse[order] > UNPRESSED * growth]
    moved = structure.freedoms.expanded(shapes[:, order]).T.reshape(len(order), structure.model.node_count, 6)
    return Buckling(1.0 / inverse[order], scaled_shapes(moved))


def scaled_shapes(shapes: FloatArray) -> FloatArray:
    """Shapes (k, n, 6) with a largest shift of 1, its largest component positive; where nothing shifts, as they come."""
    if not len(shapes):
        return shapes
    flat = shapes[:, :, :3].reshape(len(shapes), -1)
    largest = np.take_along_axis(flat, np.abs(flat).argmax(axis=1)[:, None], axis=1)
    longest = np.linalg.norm(shapes[:, :, :3], axis=2).max(axis=1)
    size = np.where(longest > 0.0, np.sign(largest[:, 0]) / np.where(longest > 0.0, longest, 1.0), 1.0)
    return np.asarray(shapes * size[:, None, None])
