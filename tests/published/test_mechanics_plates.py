"""Plates: Timoshenko & Woinowsky-Krieger, 'Theory of plates and shells' (1959), tables 8 and 35; Roark's
formulas, table 11.4; Timoshenko & Gere, 'Theory of elastic stability' (1961), ch. 9. Coefficients recalled.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.comparisons import source_value

from steadfold.mechanics import (
    Loads,
    Model,
    Shells,
    buckling,
    factored,
    grid,
    held,
    nodes_at,
    shares_along,
    shell_forces,
    solve,
)

TIMOSHENKO = "Timoshenko & Woinowsky-Krieger, plate tables"


def square(cells: int, clamped: bool) -> tuple[float, float]:
    """Sag and outer-fibre stress at the middle of a 200 mm square, t 2, 0.01 MPa, E 210 GPa, nu 0.3."""
    nodes, triangles = grid(cells, cells, lambda u, v: (100 * u, 100 * v, 0 * u))
    count = len(nodes)
    far_x, far_y = nodes_at(nodes, x=100), nodes_at(nodes, y=100)
    fixed = (held(count, nodes_at(nodes, x=0), "ry") | held(count, nodes_at(nodes, y=0), "rx")
             | held(count, range(count), "ux uy rz") | held(count, np.union1d(far_x, far_y), "uz"))
    fixed |= held(count, far_x, "rx ry" if clamped else "rx") | held(count, far_y, "rx ry" if clamped else "ry")
    model = Model(nodes, shells=Shells(triangles, 2.0, 210e3, 0.3), fixed=fixed)
    result = solve(model, [Loads(pressure_mpa=0.01)])[0]
    inner = shell_forces(result, reference=(1, 0, 0))
    near = np.argsort(np.linalg.norm(inner.centre_mm, axis=1))[:2]
    return float(result.displacement[0, 2]), float(6 * np.abs(inner.moment_n[near, 0]).mean() / 4)


def test_simply_supported_square_sags_and_works_as_tabled() -> None:
    """0.00406 q a⁴ / D = 0.426 mm and 0.0479 q a² -> 28.7 MPa (Timoshenko; Roark 0.2874, 0.0444)."""
    sag, stress = square(16, clamped=False)
    case = "simply supported square, even load"  # 0.004062 with D for nu 0.3
    assert sag == source_value("sag of a plate", case, TIMOSHENKO, 0.4226, "mm", rel=0.002, recalled=True)
    assert stress == source_value("bending of a plate", case, TIMOSHENKO, 28.7, "MPa", rel=0.006, recalled=True)


def test_clamped_square_sags_as_tabled() -> None:
    """0.00126 q a⁴ / D."""
    rigidity = 210e3 * 8 / 12 / 0.91
    sag = 0.001265 * 0.01 * 200**4 / rigidity
    found = square(16, clamped=True)[0]
    assert found == source_value("sag of a plate", "clamped square, even load", TIMOSHENKO, sag, "mm", rel=0.004, recalled=True)


def test_plate_sag_converges_with_the_square_of_the_mesh() -> None:
    """Navier's series for the middle of the simply supported square as the exact value."""
    odd = np.arange(1, 400, 2)
    m, n = np.meshgrid(odd, odd)
    exact = 16 * 0.01 * 200**4 / (np.pi**6 * 210e3 * 8 / 12 / 0.91)
    exact *= float(((-1.0) ** ((m + n) / 2 - 1) / (m * n * (m**2 + n**2) ** 2)).sum())
    errors = [abs(square(cells, clamped=False)[0] / exact - 1) for cells in (4, 8, 16)]
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    assert (rates > 1.8).all()
    assert errors[-1] < 1.2e-3


def critical(length: float, width: float, across: int, free_edge: bool, poisson: float) -> float:
    """Buckling coefficient k of a plate pressed along its length, edges simply supported, or one long edge
    free.
    """
    along = max(4, round(across * length / width))
    nodes, triangles = grid(along, across, lambda u, v: (length * u, width * v, 0 * u))
    count = len(nodes)
    ends = [nodes_at(nodes, x=0), nodes_at(nodes, x=length)]
    low, high = nodes_at(nodes, y=0), nodes_at(nodes, y=width)
    sides = low if free_edge else np.union1d(low, high)
    fixed = (held(count, np.concatenate([*ends, sides]), "uz") | held(count, np.concatenate(ends), "rx")
             | held(count, sides, "ry") | held(count, nodes_at(nodes, x=0, y=0), "ux uy")
             | held(count, nodes_at(nodes, x=length, y=0), "uy"))
    forces = np.zeros((count, 6))
    for edge, sign in zip(ends, (1.0, -1.0), strict=True):
        forces[edge, 0] = sign * width * shares_along(nodes, edge)
    structure = factored(Model(nodes, shells=Shells(triangles, 1.0, 200e3, poisson), fixed=fixed))
    result = solve(structure, [Loads(forces)])[0]
    rigidity = 200e3 / 12 / (1 - poisson**2)
    return float(buckling(structure, result, 2).factors[0] * width**2 / (np.pi**2 * rigidity))


def test_square_plate_buckles_at_four_and_converges_with_the_square_of_the_mesh() -> None:
    """k = 4.00. The prototype had 1.001 on 12 by 12."""
    found = [critical(200, 200, cells, False, 0.3) for cells in (6, 12, 24)]
    errors = [each / 4.0 - 1 for each in found]
    assert found[1] == source_value("plate buckling, k", "simply supported square, 12 × 12", "closed form", 4.0, rel=0.0009)
    assert np.log2(errors[0] / errors[1]) > 1.8
    assert np.log2(errors[1] / errors[2]) > 1.8


@pytest.mark.parametrize(("ratio", "published"), [(1, 1.440), (2, 0.698), (3, 0.564), (4, 0.516)])
def test_strip_with_a_free_edge_buckles_as_tabled(ratio: int, published: float) -> None:
    """Timoshenko & Gere table 9-5, nu = 0.25: one long edge free, the other simply supported; limit 0.43."""
    found = critical(100.0 * ratio, 100.0, 8, True, 0.25)
    case = f"one long edge free, {ratio} to 1"
    assert found == source_value("plate buckling, k", case, "Timoshenko & Gere, table 9-5", published, rel=0.004, recalled=True)
