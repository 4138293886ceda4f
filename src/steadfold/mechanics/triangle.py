"""The flat triangle: DKT in bending, ANDES 'OPT' in its plane, as strain rows at the three mid-side points.

Both strain fields are integrated exactly by those three points (weight area / 3 each), so one set of rows
gives stiffness, energy, stresses and, point by point through the thickness, plasticity.

Sources: Batoz, Bathe & Ho, 'A study of three-node triangular plate bending elements', Int. J. Num. Meth.
Eng. 15 (1980) 1771-1812 (DKT); Felippa, 'A study of optimal membrane triangles with drilling freedoms',
Comp. Meth. Appl. Mech. Eng. 192 (2003) 2125-2168 (ANDES template, 'OPT' parameters). Both recalled, then
proven by the patch tests and by exact in-plane bending of rectangles.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .model import Model
from .parts import FloatArray, IntArray, Shells

CHUNK = 2048
"""Elements handled at a time: small enough for the processor's cache."""

MID_SIDES = np.array([[0.5, 0.5, 0.0], [0.0, 0.5, 0.5], [0.5, 0.0, 0.5]])
"""Area coordinates of the mid-side points, in the order of sides 1-2, 2-3, 3-1."""

LOWEST_BETA = 0.01
"""Felippa's floor for the higher-order stiffness, reached only as poisson nears 0.5."""


def element_axes(corners: FloatArray) -> FloatArray:
    """Local axes (m, 3, 3) of triangles with corners (m, 3, 3): rows along side 1-2, in plane, normal."""
    along = corners[:, 1] - corners[:, 0]
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    normal = np.cross(along, corners[:, 2] - corners[:, 0])
    normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    return np.stack([along, np.cross(normal, along), normal], axis=1)


def plane_corners(corners: FloatArray, axes: FloatArray) -> FloatArray:
    """Corners in their own plane (m, 3, 2), the first at the origin."""
    return np.einsum("eij,ekj->eki", axes[:, :2], corners - corners[:, :1])


def areas(plane: FloatArray) -> FloatArray:
    """Area (m,) of triangles given in their plane."""
    first, second = plane[:, 1] - plane[:, 0], plane[:, 2] - plane[:, 0]
    return 0.5 * (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])


def _sides(plane: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """x, y from each corner i to the corner before it, x_ij = x_i - x_j, on sides 12, 23, 31; squared
    lengths.
    """
    step = plane - np.roll(plane, -1, axis=1)
    return step[:, :, 0], step[:, :, 1], np.square(step).sum(axis=2)


def corner_slopes(plane: FloatArray) -> FloatArray:
    """Gradients (m, 3 corners, 2) of the linear shape functions: the side opposite, turned: (y_jk, x_kj) /
    2A.
    """
    x, y, _ = _sides(plane)
    turned = np.stack([np.roll(y, -1, axis=1), -np.roll(x, -1, axis=1)], axis=2)
    return np.asarray(turned / (2.0 * areas(plane))[:, None, None])


def _rotation_fields(plane: FloatArray, corner: FloatArray, middle: FloatArray) -> FloatArray:
    """DKT rotation fields from their shape functions at corners and side middles (m, point, 3, ...).

    Gives (m, point, 2, corner, freedom w rx ry, ...): the turns of the normal in the x and in the y
    direction. Source: Batoz, Bathe & Ho 1980, eqs 25-33 (a to e of each side).
    """
    x, y, squared = _sides(plane)
    a, d = -x / squared, -y / squared
    b = 0.75 * x * y / squared
    c = (0.25 * x * x - 0.5 * y * y) / squared
    e = (0.25 * y * y - 0.5 * x * x) / squared
    spread = (slice(None), None, slice(None), *[None] * (middle.ndim - 3))

    def join(coefficient: FloatArray, sign: float = 1.0) -> FloatArray:
        """Coefficient times function on the side that leaves each corner, plus on the one that arrives."""
        leaving = coefficient[spread] * middle
        return np.asarray(leaving + sign * np.roll(leaving, 1, axis=2))

    mixed = join(b)
    turn_x = np.stack([1.5 * join(a, -1.0), mixed, corner - join(c)], axis=3)
    turn_y = np.stack([1.5 * join(d, -1.0), join(e) - corner, -mixed], axis=3)
    return np.stack([turn_x, turn_y], axis=2)


def rotation_rows(plane: FloatArray) -> FloatArray:
    """Turns of the normal (m, 3 points, 2, corner, 3) over w, rx, ry of each corner: minus the slopes of
    w.
    """
    at = MID_SIDES[None]
    corner = at * (2 * at - 1)
    middle = 4 * at * np.roll(at, -1, axis=2)
    full = (len(plane), 3, 3)
    return _rotation_fields(plane, np.broadcast_to(corner, full), np.broadcast_to(middle, full))


def bending_rows(plane: FloatArray) -> FloatArray:
    """Curvature rows (m, 3 points, 3, 9) over w, rx, ry of each corner.

    Curvatures are d(ry)/dx, -d(rx)/dy and their mixed sum, so that +z is stretched where they are positive.
    """
    slope = corner_slopes(plane)
    at, following = MID_SIDES[None, :, :, None], np.roll(MID_SIDES, -1, axis=1)[None, :, :, None]
    corner = (4 * at - 1) * slope[:, None]
    middle = 4 * (at * np.roll(slope, -1, axis=1)[:, None] + following * slope[:, None])
    field = _rotation_fields(plane, corner, middle)  # (m, point, 2, corner, freedom, gradient)
    rows = np.stack([field[:, :, 0, ..., 0], field[:, :, 1, ..., 1],
                     field[:, :, 0, ..., 1] + field[:, :, 1, ..., 0]], axis=2)
    return rows.reshape(len(plane), 3, 3, 9)


def membrane_rows(plane: FloatArray, poisson: FloatArray) -> FloatArray:
    """Strain rows (m, 3 points, 3, 9) over ux, uy, rz of each corner, for the optimal ANDES triangle.

    Source: Felippa 2003, eqs 13-29 and table of the 'OPT' parameters (alpha_b = 3/2, beta_0 = (1 - 4 nu^2)
    / 2, beta_1..9 = 1, 2, 1, 0, 1, -1, -1, -1, -2).
    """
    x, y, squared = _sides(plane)  # columns 12, 23, 31
    area = areas(plane)
    x12, x23, x31 = x.T
    y12, y23, y31 = y.T
    alpha = 1.5
    basic = np.zeros((len(plane), 3, 9))
    for corner in range(3):
        before, after = (corner + 2) % 3, corner  # sides arriving at and leaving the corner, ij = k1 and 12
        opposite = (corner + 1) % 3
        ya, xa = y[:, opposite], -x[:, opposite]  # y23, x32 for corner 1
        y_arrive, x_arrive = -y[:, before], x[:, before]  # y13, x31
        y_leave, x_leave = -y[:, after], x[:, after]  # y21, x12
        basic[:, 0, 3 * corner] = ya
        basic[:, 2, 3 * corner] = xa
        basic[:, 1, 3 * corner + 1] = xa
        basic[:, 2, 3 * corner + 1] = ya
        basic[:, 0, 3 * corner + 2] = alpha / 6 * ya * (y_arrive - y_leave)
        basic[:, 1, 3 * corner + 2] = alpha / 6 * xa * (x_arrive - x_leave)
        basic[:, 2, 3 * corner + 2] = alpha / 3 * (x_arrive * y_arrive - x_leave * y_leave)
    basic *= (0.5 / area)[:, None, None]

    # hierarchical rotations: corner rotation less the mean rotation of the straight-sided triangle
    mean = np.zeros((len(plane), 9))
    mean[:, 0::3] = -np.stack([x23, x31, x12], axis=1)
    mean[:, 1::3] = -np.stack([y23, y31, y12], axis=1)
    mean *= (0.25 / area)[:, None]
    hierarchical = np.repeat(mean[:, None, :], 3, axis=1)
    hierarchical[:, np.arange(3), 3 * np.arange(3) + 2] += 1.0

    # strains along the three sides (12, 23, 31) to strains in x, y
    l12, l23, l31 = squared.T
    to_plane = np.stack([
        np.stack([y23 * -y31 * l12, y31 * -y12 * l23, y12 * -y23 * l31], axis=1),
        np.stack([x23 * -x31 * l12, x31 * -x12 * l23, x12 * -x23 * l31], axis=1),
        np.stack([(y23 * x31 + x23 * y31) * l12, (y31 * x12 + x31 * y12) * l23,
                  (y12 * x23 + x12 * y23) * l31], axis=1)], axis=1)
    to_plane *= (0.25 / area**2)[:, None, None]

    at_corner = np.array([[[1, 2, 1], [0, 1, -1], [-1, -1, -2]],
                          [[-2, -1, -1], [1, 1, 2], [-1, 0, 1]],
                          [[1, -1, 0], [-1, -2, -1], [2, 1, 1]]], dtype=float)
    at_side = 0.5 * (at_corner + np.roll(at_corner, -1, axis=0))  # mid-points of 12, 23, 31
    natural = at_side[None] * (2.0 / 3.0 * area[:, None] / squared)[:, None, :, None]
    beta = np.maximum(0.5 * (1.0 - 4.0 * poisson**2), LOWEST_BETA)
    higher = np.matmul(np.matmul(to_plane[:, None], natural), hierarchical[:, None])
    return np.asarray(basic[:, None] + (1.5 * np.sqrt(beta))[:, None, None, None] * higher)


def strain_rows(corners: FloatArray, axes: FloatArray, poisson: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rows (m, 3 points, 6, 18) over the global freedoms, and areas (m,).

    The first three rows are the strains of the mid-surface, the last three the curvatures, in `axes`.
    """
    plane = plane_corners(corners, axes)
    count = len(plane)
    stretch = membrane_rows(plane, poisson).reshape(count, 3, 3, 3, 3)
    bend = bending_rows(plane).reshape(count, 3, 3, 3, 3)
    rows = np.empty((count, 3, 6, 3, 6))
    flat = axes[:, :2].reshape(count, 1, 2, 3)
    normal = axes[:, 2].reshape(count, 1, 1, 1, 3)
    shape = (count, 3, 3, 3, 3)
    rows[:, :, :3, :, :3] = np.matmul(stretch[..., :2].reshape(count, 1, 27, 2), flat).reshape(shape)
    rows[:, :, :3, :, 3:] = stretch[..., 2:] * normal
    rows[:, :, 3:, :, :3] = bend[..., :1] * normal
    rows[:, :, 3:, :, 3:] = np.matmul(bend[..., 1:].reshape(count, 1, 27, 2), flat).reshape(shape)
    return rows.reshape(count, 3, 6, 18), areas(plane)


def root_rows(model: Model, chosen: IntArray | slice) -> FloatArray:
    """Rows S (m, 18, 18) whose product SᵀS is the stiffness of the chosen elements, so |S u|² / 2 their
    energy.
    """
    shells = model.shells
    corners = model.nodes_mm[shells.triangles[chosen]]
    nu = shells.poisson[chosen]
    thickness, modulus = shells.thickness_mm[chosen], shells.modulus_mpa[chosen]
    rows, area = strain_rows(corners, element_axes(corners), nu)
    scale = np.sqrt(modulus / (1 - nu**2) * area * thickness / 3.0)
    factors = np.empty((len(nu), 6))
    factors[:, :3] = scale[:, None]
    factors[:, 3:] = (scale * thickness / np.sqrt(12.0))[:, None]
    factors[:, 1::3] *= np.sqrt(1 - nu**2)[:, None]
    factors[:, 2::3] *= np.sqrt(0.5 * (1 - nu))[:, None]
    rows[:, :, 0::3] += nu[:, None, None, None] * rows[:, :, 1::3]  # Cholesky factor of the plane-stress law
    rows *= factors[:, None, :, None]
    return rows.reshape(len(nu), 18, 18)


def chunks(count: int) -> Iterator[slice]:
    """Slices over a count of elements, small enough to stay in the cache."""
    for start in range(0, count, CHUNK):
        yield slice(start, min(start + CHUNK, count))


def stiffness_blocks(model: Model) -> FloatArray:
    """Stiffness of every shell element as blocks (m, 3, 3, 6, 6) between its corners, global axes."""
    count = model.shells.count
    blocks = np.empty((count, 3, 3, 6, 6))
    for part in chunks(count):
        rows = root_rows(model, part)
        full = np.matmul(rows.transpose(0, 2, 1), rows)
        blocks[part] = full.reshape(-1, 3, 6, 3, 6).transpose(0, 1, 3, 2, 4)
    return blocks


def element_energy(model: Model, displacement: FloatArray) -> FloatArray:
    """Strain energy (m, ...) of every shell element in N mm, from its strains, for displacements (n, 6,
    ...).
    """
    cases = displacement.shape[2:]
    energy = np.empty((model.shells.count, int(np.prod(cases))))
    for part in chunks(model.shells.count):
        moved = displacement[model.shells.triangles[part]].reshape(-1, 18, energy.shape[1])
        energy[part] = 0.5 * np.square(np.matmul(root_rows(model, part), moved)).sum(axis=1)
    return energy.reshape(-1, *cases)


def constitutive(shells: Shells) -> FloatArray:
    """Plane-stress law (m, 3, 3) in MPa."""
    nu = shells.poisson
    law = np.zeros((shells.count, 3, 3))
    law[:, 0, 0] = law[:, 1, 1] = 1.0
    law[:, 0, 1] = law[:, 1, 0] = nu
    law[:, 2, 2] = 0.5 * (1 - nu)
    return law * (shells.modulus_mpa / (1 - nu**2))[:, None, None]
