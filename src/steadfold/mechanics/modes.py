"""Natural vibration about the unloaded state."""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy import sparse
from scipy.sparse import linalg

from . import assembly, beam
from .buckling import bearing_factor, scaled_shapes
from .factor import Factor
from .loads import shell_mass
from .model import Model
from .parts import FloatArray, IntArray, tonnes
from .results import Modes, Result
from .solve import Structure, factored

Sharing = Literal["mixed", "lumped", "consistent"]

FEW = 60
"""Freedoms with mass up to which all of them are solved for."""


def _plate_blocks(model: Model, shared: float) -> FloatArray:
    """Mass (m, 3, 3, 6, 6) in tonnes: part `shared` after linear shape functions, the rest at the corners."""
    mass = shell_mass(model)
    between = (1 - shared) * np.eye(3) / 3.0 + shared * (np.ones((3, 3)) + np.eye(3)) / 12.0
    blocks = np.zeros((model.shells.count, 3, 3, 6, 6))
    turning = model.shells.thickness_mm**2 / 12.0
    for freedom in range(6):
        size = mass * (1.0 if freedom < 3 else turning)
        blocks[:, :, :, freedom, freedom] = size[:, None, None] * between
    return blocks


def _point_blocks(model: Model) -> FloatArray:
    masses = model.masses
    reach = assembly.arm(masses.offsets_mm)[:, :3]
    weight = tonnes(1.0) * masses.mass_kg
    return np.asarray(np.einsum("k,kij,kil->kjl", weight, reach, reach)[:, None, None])


def mass_matrix(structure: Structure, kind: Sharing = "mixed") -> sparse.csr_matrix:
    """Mass matrix (6n, 6n) in tonnes and mm. Beams always carry their consistent mass."""
    model = structure.model
    shared = {"mixed": 0.5, "lumped": 0.0, "consistent": 1.0}[kind]
    return assembly.assembled(model.node_count, [
        (model.shells.triangles, _plate_blocks(model, shared)),
        (model.beams.ends, beam.mass_blocks(model, structure.beams)),
        (model.masses.nodes[:, None], _point_blocks(model))])


def natural_modes(model: Model | Structure, count: int = 6, state: Result | None = None,
                  mass: Sharing = "mixed") -> Modes:
    """The lowest `count` natural frequencies in Hz, and their shapes.

    state: a result whose bearing contacts and ties are kept as springs; without one they are left out.
    mass: how the plates' mass is shared between the corners. Raises ValueError where nothing has mass or
    count is below 1.
    """
    if count < 1:
        raise ValueError("ask for at least one mode")
    structure = model if isinstance(model, Structure) else factored(model)
    factor = bearing_factor(structure, state)
    inertia = structure.freedoms.reduced_matrix(mass_matrix(structure, kind=mass))
    moving = np.flatnonzero(inertia.diagonal() > 0)
    if not moving.size:
        raise ValueError("nothing in the model has mass")
    size = factor.matrix.shape[0]
    if moving.size <= FEW:
        values, shapes = _few_masses(factor, inertia, moving, count)
    else:
        wanted = min(count, moving.size - 2)
        start = np.random.default_rng(20240229).normal(size=size)
        values, shapes = linalg.eigsh(factor.matrix, wanted, M=inertia, sigma=0.0, OPinv=factor.operator(),
                                      v0=start, ncv=min(moving.size - 1, max(2 * wanted + 8, 20)))
    order = np.argsort(values)
    moved = structure.freedoms.expanded(shapes[:, order]).T.reshape(len(order), -1, 6)
    return Modes(np.sqrt(np.maximum(values[order], 0.0)) / (2 * np.pi), scaled_shapes(moved))


def _few_masses(factor: Factor, inertia: sparse.csc_matrix, moving: IntArray,
                count: int) -> tuple[FloatArray, FloatArray]:
    """Eigenvalues and shapes where so few freedoms have mass that their compliance is cheap."""
    unit = np.zeros((factor.matrix.shape[0], moving.size))
    unit[moving, np.arange(moving.size)] = 1.0
    answers = factor.solve(unit)
    weights, axes = np.linalg.eigh(inertia[moving][:, moving].toarray())
    root = axes * np.sqrt(np.maximum(weights, 0.0))
    inverse, turn = np.linalg.eigh(root.T @ answers[moving] @ root)
    best = np.argsort(-inverse)
    best = best[inverse[best] > 1e-12 * inverse[best[0]]][:count]
    return 1.0 / inverse[best], answers @ (root @ turn[:, best])
