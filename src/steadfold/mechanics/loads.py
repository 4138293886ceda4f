"""Loads as forces at the nodes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from . import beam
from .assembly import touched_nodes
from .model import Loads, Model
from .parts import BoolArray, FloatArray, IntArray, tonnes
from .triangle import areas, element_axes, plane_corners

ALL = slice(None)


def shell_mass(model: Model, elements: IntArray | slice = ALL) -> FloatArray:
    """Mass (m,) of shell elements in tonnes; of all, or of those named."""
    shells = model.shells
    corners = model.nodes_mm[shells.triangles[elements]]
    volume = areas(plane_corners(corners, element_axes(corners))) * shells.thickness_mm[elements]
    return volume * shells.density_kg_m3[elements] * (1e-9 * tonnes(1.0))


def mass_kg(model: Model) -> float:
    """Mass of the whole model in kg."""
    _, length = beam.beam_axes(model.beams, model.nodes_mm)
    beams = (model.beams.density_kg_m3 * model.beams.area_mm2 * length).sum() * 1e-9
    return float(shell_mass(model).sum() / tonnes(1.0) + beams + model.masses.mass_kg.sum())


def shell_load(model: Model, loads: Loads, elements: IntArray | slice = ALL) -> FloatArray:
    """Forces (m, 3, 6) of weight and pressure, a third at each corner; of all elements, or of those named."""
    out = np.zeros((len(model.shells.triangles[elements]), 3, 6))
    out[:, :, :3] = _shell_force(model, loads, elements)[:, None, :] / 3.0
    return out


def _shell_force(model: Model, loads: Loads, elements: IntArray | slice = ALL) -> FloatArray:
    """Weight and pressure (m, 3) of whole elements."""
    shells = model.shells
    weight = shell_mass(model, elements)[:, None] * np.asarray(loads.gravity_mm_s2, dtype=float)
    if not np.any(loads.pressure_mpa):
        return np.asarray(weight)
    corners = model.nodes_mm[shells.triangles[elements]]
    axes = element_axes(corners)
    pressure = np.broadcast_to(np.asarray(loads.pressure_mpa, dtype=float), (shells.count,))[elements]
    return np.asarray((pressure * areas(plane_corners(corners, axes)))[:, None] * axes[:, 2] + weight)


def beam_load(model: Model, loads: Loads) -> FloatArray:
    """Even load (b, 3) on every beam in N/mm: the one given and the weight, global axes."""
    beams = model.beams
    weight = beams.density_kg_m3 * beams.area_mm2 * (1e-9 * tonnes(1.0))
    given = np.broadcast_to(np.asarray(loads.beam_n_per_mm, dtype=float), (beams.count, 3))
    return np.asarray(given + weight[:, None] * np.asarray(loads.gravity_mm_s2, dtype=float))


def _on_corners(model: Model, force: FloatArray) -> FloatArray:
    """A third of each shell element's force (m, 3) at each of its corners: (n, 3)."""
    corners = model.shells.triangles.reshape(-1)
    thirds = np.repeat(force / 3.0, 3, axis=0)
    return np.stack([np.bincount(corners, thirds[:, k], model.node_count) for k in range(3)], axis=1)


def force_vectors(model: Model, beams: beam.BeamSet, cases: Sequence[Loads]) -> FloatArray:
    """The loads of some cases as forces (6n, k); what they have in common is made once. Raises as `force_vector`."""
    shared: dict[tuple[float, ...], FloatArray] = {}
    out = np.empty((6 * model.node_count, len(cases)), order="F")
    used = touched_nodes(model)
    for k, case in enumerate(cases):
        alike = not np.any(case.pressure_mpa) and not np.any(case.beam_n_per_mm)
        if not alike:
            out[:, k] = force_vector(model, beams, case).reshape(-1)
            continue
        weight = tuple(float(g) for g in case.gravity_mm_s2)
        if weight not in shared:
            shared[weight] = force_vector(model, beams, replace(case, nodal=None)).reshape(-1)
        out[:, k] = shared[weight]
        if case.nodal is not None:
            out[:, k] += _nodal(model, case).reshape(-1)
            _checked(used, out[:, k].reshape(-1, 6))
    return out


def _nodal(model: Model, loads: Loads) -> FloatArray:
    given = np.asarray(loads.nodal, dtype=float)
    if given.shape != (model.node_count, 6):
        raise ValueError(f"nodal loads have shape {given.shape}; expected {(model.node_count, 6)}")
    return given


def _checked(used: BoolArray, forces: FloatArray) -> None:
    if not np.isfinite(forces).all():
        raise ValueError("loads must be finite numbers")
    astray = ~used & forces.any(axis=1)
    if astray.any():
        raise ValueError(f"there is a load on node {int(np.flatnonzero(astray)[0])}, which no part touches")


def force_vector(model: Model, beams: beam.BeamSet, loads: Loads) -> FloatArray:
    """All loads as forces (n, 6) at the nodes.

    Raises ValueError for arrays of the wrong shape, values that are not finite, or a load on a node that
    no part touches.
    """
    count = model.node_count
    forces = np.zeros((count, 6))
    if loads.nodal is not None:
        forces += _nodal(model, loads)
    weighs = any(loads.gravity_mm_s2)
    if model.shells.count and (weighs or np.any(loads.pressure_mpa)):
        forces[:, :3] += _on_corners(model, _shell_force(model, loads))
    if model.beams.count and (weighs or np.any(loads.beam_n_per_mm)):
        nodal, _ = beam.even_load(model, beams, beam_load(model, loads))
        np.add.at(forces, model.beams.ends, nodal)
    if model.masses.count and weighs:
        pull = tonnes(1.0) * model.masses.mass_kg[:, None] * np.asarray(loads.gravity_mm_s2, dtype=float)
        both = np.concatenate([pull, np.cross(model.masses.offsets_mm, pull)], axis=1)
        np.add.at(forces, model.masses.nodes, both)
    _checked(touched_nodes(model), forces)
    return forces
