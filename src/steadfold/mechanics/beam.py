"""Straight beams by their six natural deformations: stretch, twist and the two end turns in each plane.

Stiffness is DᵀkD with D exact for rigid motion, so a rigid motion costs no energy even in rounding. End
releases and end springs soften k one after the other (a rank-one change each), which covers every
combination. Source: Przemieniecki, 'Theory of Matrix Structural Analysis' (1968), ch. 5 and 11 (recalled).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .model import Model
from .parts import Beams, FloatArray, tonnes


@dataclass(frozen=True, eq=False)
class BeamSet:
    """Beams of a model made ready: axes (b, 3, 3), length (b,), natural rows (b, 6, 12) in global freedoms,
    natural stiffness (b, 6, 6), local rows (b, 6, 12).
    """

    axes: FloatArray
    length: FloatArray
    rows: FloatArray
    natural: FloatArray
    local_rows: FloatArray


def beam_axes(beams: Beams, nodes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Axes (b, 3, 3), rows x (along), y, z, and lengths. Raises ValueError where `up` runs along the beam."""
    span = nodes[beams.ends[:, 1]] - nodes[beams.ends[:, 0]]
    length = np.linalg.norm(span, axis=1)
    x = span / length[:, None]
    z = beams.up - np.einsum("ij,ij->i", beams.up, x)[:, None] * x
    size = np.linalg.norm(z, axis=1)
    if (size <= 1e-8 * np.linalg.norm(beams.up, axis=1)).any():
        raise ValueError(f"'up' of beam {int(np.argmin(size))} runs along the beam")
    z = z / size[:, None]
    return np.stack([x, np.cross(z, x), z], axis=1), length


def _natural_rows(length: FloatArray) -> FloatArray:
    rows = np.zeros((len(length), 6, 12))
    inverse = 1.0 / length
    rows[:, 0, 0], rows[:, 0, 6] = -1.0, 1.0
    rows[:, 1, 3], rows[:, 1, 9] = -1.0, 1.0
    for row, turn in ((2, 4), (3, 10)):  # about y: the chord turns by -(w2 - w1) / L
        rows[:, row, turn] = 1.0
        rows[:, row, 2], rows[:, row, 8] = -inverse, inverse
    for row, turn in ((4, 5), (5, 11)):  # about z: the chord turns by (v2 - v1) / L
        rows[:, row, turn] = 1.0
        rows[:, row, 1], rows[:, row, 7] = inverse, -inverse
    return rows


def _natural_stiffness(beams: Beams, length: FloatArray) -> FloatArray:
    natural = np.zeros((beams.count, 6, 6))
    natural[:, 0, 0] = beams.modulus_mpa * beams.area_mm2 / length
    natural[:, 1, 1] = beams.shear_modulus_mpa * beams.torsion_mm4 / length
    for first, second_moment, shear_area in ((2, beams.second_moment_y_mm4, beams.shear_area_z_mm2),
                                             (4, beams.second_moment_z_mm4, beams.shear_area_y_mm2)):
        rigidity = beams.modulus_mpa * second_moment
        stiff_in_shear = beams.shear_modulus_mpa * shear_area * length**2
        shear = np.divide(12 * rigidity, stiff_in_shear, out=np.zeros_like(rigidity),
                          where=stiff_in_shear > 0)
        unit = rigidity / (length * (1 + shear))
        natural[:, first, first] = natural[:, first + 1, first + 1] = (4 + shear) * unit
        natural[:, first, first + 1] = natural[:, first + 1, first] = (2 - shear) * unit
    return natural


def _softened(natural: FloatArray, initial: FloatArray, local_rows: FloatArray, springs: FloatArray,
              static: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Natural stiffness and initial natural forces after the springs at the ends have given way.

    For a spring s at local freedom d with gap g: e becomes e - a g with a = -D_d, and s g = a N +
    static_d, where N = k e + N0. So k loses k a aᵀk / (s + aᵀk a) and N0 loses k a (aᵀN0 + static_d) / (s
    + aᵀk a).
    """
    natural, initial = natural.copy(), initial.copy()
    stiffest = np.einsum("eii->ei", natural).copy()
    for freedom in range(12):
        spring = springs[:, freedom]
        soft = np.isfinite(spring)
        if not soft.any():
            continue
        direction = -local_rows[soft, :, freedom]
        reach = np.einsum("eij,ej->ei", natural[soft], direction)
        resistance = np.einsum("ei,ei->e", direction, reach)
        already_loose = resistance <= 1e-12 * np.einsum("ei,ei->e", direction**2, stiffest[soft])
        share = np.where(already_loose, 0.0, 1.0) / np.where(already_loose, 1.0, spring[soft] + resistance)
        drive = np.einsum("ei,ei->e", direction, initial[soft]) + static[soft, freedom]
        initial[soft] -= reach * (share * drive)[:, None]
        natural[soft] -= share[:, None, None] * reach[:, :, None] * reach[:, None, :]
    return natural, initial


def _turned(rows: FloatArray, axes: FloatArray) -> FloatArray:
    """Rows over local end freedoms (b, k, 12) as rows over global ones."""
    count, height = rows.shape[:2]
    return np.einsum("ekpi,eij->ekpj", rows.reshape(count, height, 4, 3), axes).reshape(count, height, 12)


def beam_set(model: Model) -> BeamSet:
    """Axes, lengths and stiffness of all beams of a model."""
    beams = model.beams
    axes, length = beam_axes(beams, model.nodes_mm)
    local_rows = _natural_rows(length)
    none = np.zeros((beams.count, 12))
    natural, _ = _softened(_natural_stiffness(beams, length), np.zeros((beams.count, 6)), local_rows,
                           beams.end_springs.reshape(-1, 12), none)
    return BeamSet(axes, length, _turned(local_rows, axes), natural, local_rows)


def stiffness_blocks(ready: BeamSet) -> FloatArray:
    """Stiffness of every beam as blocks (b, 2, 2, 6, 6) between its ends, global axes."""
    full = np.einsum("eki,ekl,elj->eij", ready.rows, ready.natural, ready.rows, optimize=True)
    return full.reshape(-1, 2, 6, 2, 6).transpose(0, 1, 3, 2, 4)


def element_energy(model: Model, ready: BeamSet, displacement: FloatArray) -> FloatArray:
    """Strain energy (b, ...) in N mm, end springs included, for displacements (n, 6, ...)."""
    moved = displacement[model.beams.ends].reshape(model.beams.count, 12, *displacement.shape[2:])
    deformation = np.einsum("eki,ei...->ek...", ready.rows, moved)
    return np.asarray(0.5 * np.einsum("ek...,ekl,el...->e...", deformation, ready.natural, deformation))


def even_load(model: Model, ready: BeamSet, load_n_per_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Nodal forces (b, 2, 6), global, of an even load (b, 3), global, and the natural forces (b, 6) it
    starts.
    """
    beams, length = model.beams, ready.length
    local = np.einsum("eij,ej->ei", ready.axes, load_n_per_mm)
    static = np.zeros((beams.count, 12))
    static[:, 0:3] = static[:, 6:9] = 0.5 * local * length[:, None]
    initial = np.zeros((beams.count, 6))
    initial[:, 2], initial[:, 3] = local[:, 2] * length**2 / 12, -local[:, 2] * length**2 / 12
    initial[:, 4], initial[:, 5] = -local[:, 1] * length**2 / 12, local[:, 1] * length**2 / 12
    _, initial = _softened(_natural_stiffness(beams, length), initial, ready.local_rows,
                           beams.end_springs.reshape(-1, 12), static)
    nodal = static - np.einsum("ek,eki->ei", initial, ready.local_rows)
    return np.einsum("epi,eij->epj", nodal.reshape(-1, 4, 3), ready.axes).reshape(-1, 2, 6), initial


def end_forces(model: Model, ready: BeamSet, displacement: FloatArray,
               load_n_per_mm: FloatArray) -> FloatArray:
    """Forces (b, 2, 6) that the nodes put on the beam ends, in the beam's own axes.

    At the second end: [5th and 6th] moments about y and z, [0] the axial pull.
    """
    local = np.einsum("eij,ej->ei", ready.axes, load_n_per_mm)
    _, initial = even_load(model, ready, load_n_per_mm)
    moved = displacement[model.beams.ends].reshape(-1, 12)
    natural = np.einsum("ekl,elj,ej->ek", ready.natural, ready.rows, moved, optimize=True) + initial
    forces = np.einsum("ek,eki->ei", natural, ready.local_rows)
    forces[:, 0:3] -= 0.5 * local * ready.length[:, None]
    forces[:, 6:9] -= 0.5 * local * ready.length[:, None]
    return forces.reshape(-1, 2, 6)


def _to_global(matrix: FloatArray, axes: FloatArray) -> FloatArray:
    count = len(axes)
    turn = np.zeros((count, 12, 12))
    for part in range(4):
        turn[:, 3 * part:3 * part + 3, 3 * part:3 * part + 3] = axes
    full = np.matmul(turn.transpose(0, 2, 1), np.matmul(matrix, turn))
    return full.reshape(-1, 2, 6, 2, 6).transpose(0, 1, 3, 2, 4)


def _bending_plane(matrix: FloatArray, plane: FloatArray, *, vertical: bool) -> None:
    """Add a (b, 4, 4) matrix over v1, turn1, v2, turn2 in the x-y plane, or mirrored in the x-z plane."""
    index = np.array([2, 4, 8, 10] if vertical else [1, 5, 7, 11])
    sign = np.array([1.0, -1.0, 1.0, -1.0]) if vertical else np.ones(4)
    matrix[:, index[:, None], index[None, :]] += plane * sign[:, None] * sign[None, :]


def mass_blocks(model: Model, ready: BeamSet) -> FloatArray:
    """Consistent mass (b, 2, 2, 6, 6) in tonnes and mm; cubic in bending; releases are not followed."""
    beams, length = model.beams, ready.length
    weight = np.array([tonnes(1.0)]) * beams.density_kg_m3 * 1e-9 * beams.area_mm2 * length
    matrix = np.zeros((beams.count, 12, 12))
    spin = (beams.second_moment_y_mm4 + beams.second_moment_z_mm4) / beams.area_mm2
    for freedom, value in ((0, weight), (3, weight * spin)):
        for i, j, part in ((0, 0, 3.0), (6, 6, 3.0), (0, 6, 6.0), (6, 0, 6.0)):
            matrix[:, freedom + i, freedom + j] = value / part
    one, ell = np.ones_like(length), length
    plane = np.array([[156 * one, 22 * ell, 54 * one, -13 * ell],
                      [22 * ell, 4 * ell**2, 13 * ell, -3 * ell**2],
                      [54 * one, 13 * ell, 156 * one, -22 * ell],
                      [-13 * ell, -3 * ell**2, -22 * ell, 4 * ell**2]]).transpose(2, 0, 1)
    plane = plane * (weight / 420.0)[:, None, None]
    _bending_plane(matrix, plane, vertical=False)
    _bending_plane(matrix, plane, vertical=True)
    return _to_global(matrix, ready.axes)


def geometric_blocks(model: Model, ready: BeamSet, pull: FloatArray) -> FloatArray:
    """Stiffness (b, 2, 2, 6, 6) that an axial pull (b,) in N adds, turning about the axis included.

    The part of the end moments is left out: lateral buckling of a beam needs shells.
    """
    length = ready.length
    one, ell = np.ones_like(length), length
    plane = np.array([[36 * one, 3 * ell, -36 * one, 3 * ell],
                      [3 * ell, 4 * ell**2, -3 * ell, -ell**2],
                      [-36 * one, -3 * ell, 36 * one, -3 * ell],
                      [3 * ell, -ell**2, -3 * ell, 4 * ell**2]]).transpose(2, 0, 1)
    plane = plane * (pull / (30.0 * length))[:, None, None]
    matrix = np.zeros((model.beams.count, 12, 12))
    _bending_plane(matrix, plane, vertical=False)
    _bending_plane(matrix, plane, vertical=True)
    beams = model.beams
    twist = pull * (beams.second_moment_y_mm4 + beams.second_moment_z_mm4) / beams.area_mm2 / length
    matrix[:, 3, 3] += twist
    matrix[:, 9, 9] += twist
    matrix[:, 3, 9] -= twist
    matrix[:, 9, 3] -= twist
    return _to_global(matrix, ready.axes)
