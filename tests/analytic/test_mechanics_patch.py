"""The element: constant strain and curvature to rounding, six motions without strain, exact bending in its
plane.

Patch: MacNeal & Harder 1985, rectangle 0.24 by 0.12 with four irregular inner nodes (recalled), here cut into
triangles and turned any way in space. A field that a plate can have everywhere is given to the rim; the inner
nodes must follow it and every element must show the same stress.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from steadfold.mechanics import Loads, Model, Shells, held, shell_forces, solve
from steadfold.mechanics.triangle import element_energy, stiffness_blocks

PLACES = np.array([[0, 0], [0.24, 0], [0.24, 0.12], [0, 0.12], [0.04, 0.02], [0.18, 0.03], [0.16, 0.08], [0.08, 0.08]])
QUADS = [(0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7), (4, 5, 6, 7)]
TRIANGLES = [t for a, b, c, d in QUADS for t in ((a, b, c), (a, c, d))]
THICKNESS, MODULUS, POISSON = 0.001, 1.0e6, 0.25
TURNS = [Rotation.identity(), Rotation.from_euler("xyz", [0.3, -1.1, 2.0]),
         *Rotation.random(3, random_state=7)]


def field(stretch: bool) -> np.ndarray:
    """Displacements (8, 6) of a patch in the x-y plane: MacNeal & Harder's fields, rotations included."""
    x, y = PLACES.T
    out = np.zeros((8, 6))
    if stretch:
        out[:, 0], out[:, 1] = 1e-3 * (x + y / 2), 1e-3 * (y + x / 2)
    else:
        out[:, 2] = 1e-3 * (x**2 + x * y + y**2) / 2
        out[:, 3], out[:, 4] = 1e-3 * (y + x / 2), -1e-3 * (x + y / 2)
    return out


@pytest.mark.parametrize("turn", TURNS, ids=lambda turn: f"{turn.magnitude():.2f}")
@pytest.mark.parametrize("stretch", [True, False], ids=["membrane", "bending"])
def test_a_constant_state_is_carried_exactly_in_any_orientation(turn: Rotation, stretch: bool) -> None:
    matrix = turn.as_matrix()
    given = field(stretch)
    moved = np.concatenate([given[:, :3] @ matrix.T, given[:, 3:] @ matrix.T], axis=1)
    nodes = np.column_stack([PLACES, np.zeros(8)]) @ matrix.T + [3.0, -2.0, 5.0]
    fixed = held(8, range(4))
    model = Model(nodes, shells=Shells(TRIANGLES, THICKNESS, MODULUS, POISSON), fixed=fixed)
    result = solve(model, [Loads(settlement=np.where(fixed, moved, 0.0))])[0]
    np.testing.assert_allclose(result.displacement, moved, atol=1e-9 * np.abs(moved).max())
    inner = shell_forces(result, reference=matrix[:, 0])
    if stretch:  # 1333 MPa both ways, 400 in shear (MacNeal & Harder)
        stress = inner.membrane_n_per_mm / THICKNESS
        np.testing.assert_allclose(stress, np.tile([4000 / 3, 4000 / 3, 400.0], (10, 1)), rtol=1e-9)
    else:  # 1.111e-7 both ways, 0.333e-7 in twist; the normal's far side is stretched by a hollow w
        expected = -np.array([1.0, 1.0, 0.3]) * 1e-3 * 1e6 * 1e-9 / 12 / 0.75
        np.testing.assert_allclose(inner.moment_n, np.tile(expected, (10, 1)), rtol=1e-9)


def test_six_motions_without_strain_and_no_more() -> None:
    """Rank 12 for any shape of triangle, obtuse and slender ones included."""
    generator = np.random.default_rng(5)
    for slender in (1.0, 0.3, 0.05):
        nodes = generator.normal(size=(3, 3)) * [10.0, 10.0 * slender, 10.0 * slender]
        model = Model(nodes, shells=Shells([[0, 1, 2]], 2.0, 210e3, 0.3))
        full = stiffness_blocks(model)[0].transpose(0, 2, 1, 3).reshape(18, 18)
        size = 1 / np.sqrt(np.diag(full))
        values = np.linalg.eigvalsh(full * np.outer(size, size))
        assert (np.abs(values[:6]) < 1e-12).all()
        assert values[6] > 1e-6


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.45])
@pytest.mark.parametrize("aspect", [0.25, 1.0, 4.0, 16.0])
def test_a_rectangle_of_two_triangles_bends_exactly_in_its_plane(poisson: float, aspect: float) -> None:
    """Pure bending u = -x y, v = (x² + nu y²) / 2 stores E I L / 2, whatever the aspect (Felippa 2003)."""
    length, depth = aspect, 1.0
    nodes = np.array([[0, -0.5, 0], [length, -0.5, 0], [length, 0.5, 0], [0, 0.5, 0]]) * [1, depth, 1]
    x, y = nodes[:, 0], nodes[:, 1]
    moved = np.zeros((4, 6))
    moved[:, 0], moved[:, 1], moved[:, 5] = -x * y, (x**2 + poisson * y**2) / 2, x
    for triangles in ([[0, 1, 2], [0, 2, 3]], [[0, 1, 3], [1, 2, 3]]):
        energy = element_energy(Model(nodes, shells=Shells(triangles, 1.0, 1.0, poisson)), moved).sum()
        assert energy == pytest.approx(0.5 * depth**3 / 12 * length, rel=1e-12)


def test_the_result_does_not_depend_on_where_a_triangle_starts() -> None:
    generator = np.random.default_rng(11)
    nodes, moved = generator.normal(size=(3, 3)), generator.normal(size=(3, 6))
    energies = [element_energy(Model(nodes, shells=Shells([order], 0.3, 1e3, 0.3)), moved)[0]
                for order in ([0, 1, 2], [1, 2, 0], [2, 0, 1], [0, 2, 1])]
    np.testing.assert_allclose(energies, energies[0], rtol=1e-12)
