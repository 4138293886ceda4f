"""NAFEMS, 'The Standard NAFEMS Benchmarks' (1990): LE3, LE5 and FV16. Targets recalled.

LE5 is itself a folded sheet; its target of -108 MPa agrees with Vlasov's warping torsion (107.9, closed form
below). FV16's printed targets are 0.5 to 1 % above the accurate thin-plate values, which are given beside.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.comparisons import source_value

from steadfold.mechanics import (
    Loads,
    Model,
    Shells,
    fitted_at,
    grid,
    held,
    merged,
    natural_modes,
    nodes_at,
    shares_along,
    shell_forces,
    solve,
)


def le3(cells: int) -> float:
    """R 10 m, t 0.04 m, E 68.25 GPa, nu 0.3, 2 kN out at A and in at C: 0.185 m at A. Three patches.
    """
    middle = np.ones(3) / np.sqrt(3)
    tips = np.eye(3)
    pieces, triangles, offset = [], [], 0
    for k in range(3):
        corners = [tips[k], tips[k] + tips[(k + 1) % 3], middle, tips[k] + tips[(k + 2) % 3]]
        corners = [corner / np.linalg.norm(corner) for corner in corners]

        def place(u, v, corners=corners):  # type: ignore[no-untyped-def]
            flat = sum(np.outer(w, corner) for w, corner in zip(
                ((1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v), corners, strict=True))
            return tuple((10e3 * flat / np.linalg.norm(flat, axis=1, keepdims=True)).T)

        nodes, part = grid(cells, cells, place)
        pieces.append(nodes)
        triangles.append(part + offset)
        offset += len(nodes)
    nodes, joined = merged(np.vstack(pieces), np.vstack(triangles), 1e-3)
    count = len(nodes)
    a, c = nodes_at(nodes, y=0, z=0)[0], nodes_at(nodes, x=0, z=0, within_mm=1e-3)[0]
    fixed = (held(count, nodes_at(nodes, x=0, within_mm=1e-3), "ux ry rz")
             | held(count, nodes_at(nodes, y=0, within_mm=1e-3), "uy rx rz")
             | held(count, nodes_at(nodes, x=0, y=0, within_mm=1e-3), "uz"))
    forces = np.zeros((count, 6))
    forces[a, 0], forces[c, 1] = 2e3, -2e3
    result = solve(Model(nodes, shells=Shells(joined, 40.0, 68.25e3, 0.3), fixed=fixed), [Loads(forces)])[0]
    return float(result.displacement[a, 0])


def test_le3_hemisphere_under_point_loads() -> None:
    """0.185 m. 0.990 of it on 16 by 16, as the prototype had, and nearer on a finer mesh."""
    assert le3(16) == source_value("NAFEMS LE3, mm", "hemisphere, 16 × 16", "NAFEMS LE3", 185.0, rel=0.0099, recalled=True)
    assert le3(24) == source_value("NAFEMS LE3, mm", "hemisphere, 24 × 24", "NAFEMS LE3", 185.0, rel=0.005, recalled=True)


def z_section(columns: int, around: int) -> tuple[float, float]:
    """Stress in MPa at the tips of both flanges, 2.5 m from the root, by a fit over one flange width. L 10
    m, flanges 1 m, web 2 m, t 0.1 m, E 210 GPa, nu 0.3, torque 1.2 MN m as a couple of shears along the
    flanges.
    """
    quarter = around // 4
    corners = [(-1e3, -1e3), (0.0, -1e3), (0.0, 1e3), (1e3, 1e3)]
    pieces, triangles, regions, offset = [], [], [], 0
    for k, cells in enumerate((quarter, 2 * quarter, quarter)):
        (y0, z0), (y1, z1) = corners[k], corners[k + 1]
        nodes, part = grid(columns, cells, lambda u, v, y0=y0, z0=z0, y1=y1, z1=z1: (
            10e3 * u, y0 + (y1 - y0) * v, z0 + (z1 - z0) * v))
        pieces.append(nodes)
        triangles.append(part + offset)
        regions.append(np.full(len(part), k))
        offset += len(nodes)
    nodes, joined = merged(np.vstack(pieces), np.vstack(triangles))
    count = len(nodes)
    shells = Shells(joined, 100.0, 210e3, 0.3, region=np.concatenate(regions))
    forces = np.zeros((count, 6))
    for z, sign in ((1e3, 1.0), (-1e3, -1.0)):
        edge = nodes_at(nodes, x=10e3, z=z)
        forces[edge, 1] = sign * 0.6e6 * shares_along(nodes, edge)
    model = Model(nodes, shells=shells, fixed=held(count, nodes_at(nodes, x=0)))
    inner = shell_forces(solve(model, [Loads(forces)])[0], reference=(1, 0, 0))
    stress = inner.membrane_n_per_mm[:, 0] / 100.0
    upper, lower = [fitted_at(model, inner, stress, place, region, 1000.0)
                    for place, region in (((2500, 1e3, 1e3), 2), ((2500, -1e3, -1e3), 0))]
    return upper, lower


HEADS = "thin-shell theory itself heads for about 110"


def test_le5_z_section_stress_by_a_linear_fit_within_the_flange() -> None:
    """-108 MPa. The prototype had 1.035 and 1.024 of it; thin-shell theory itself heads for about -110."""
    coarse, fine = z_section(32, 16), z_section(64, 32)
    assert coarse[0] == pytest.approx(coarse[1], rel=1e-6)  # the section is its own image turned half round
    assert -coarse[0] == source_value("NAFEMS LE5, MPa", "Z-section, 32 × 16", "NAFEMS LE5", 108.0, rel=0.034, recalled=True, why=HEADS)
    assert -fine[0] == source_value("NAFEMS LE5, MPa", "Z-section, 64 × 32", "NAFEMS LE5", 108.0, rel=0.0205, recalled=True, why=HEADS)


def test_le5_agrees_with_vlasov() -> None:
    """sigma = B omega / Cw with B = T / k sinh(k (L - x)) / cosh(k L), k² = G J / E Cw (Timoshenko &
    Gere).
    """
    b, h, t, length, x, torque, modulus = 1.0, 2.0, 0.1, 10.0, 2.5, 1.2e6, 210e9
    warping = b**3 * h**2 * t * (b + 2 * h) / (12 * (2 * b + h))
    twist = (2 * b + h) * t**3 / 3
    k = np.sqrt(modulus / 2.6 * twist / (modulus * warping))
    bimoment = torque / k * np.sinh(k * (length - x)) / np.cosh(k * length)
    stress = bimoment * h * b * (b + h) / (2 * (2 * b + h)) / warping / 1e6
    assert stress == pytest.approx(107.87, abs=0.02)
    ours = -z_section(64, 32)[0]
    assert ours == source_value(
        "warping stress, MPa", "Z-section in torsion", "Vlasov; Timoshenko & Gere", float(stress), rel=0.022, why=HEADS
    )


PRINTED_HZ = (0.421, 1.029, 2.582, 3.306, 3.753, 6.555)
# lambda = 2 pi f a² sqrt(rho t / D) of the square cantilever plate, nu 0.3: Gorman, J. Sound Vib. 49 (1976)
# and later Ritz solutions agree on 3.47, 8.51, 21.3, 27.2, 31.0, 54.2 (recalled).
ACCURATE = (3.471, 8.508, 21.29, 27.20, 30.96, 54.19)


def fv16(cells: int) -> np.ndarray:
    """First six frequencies: 10 m square, t 0.05 m, E 200 GPa, nu 0.3, 8000 kg/m³, one edge clamped."""
    nodes, triangles = grid(cells, cells, lambda u, v: (1e4 * u, 1e4 * v, 0 * u))
    model = Model(nodes, shells=Shells(triangles, 50.0, 200e3, 0.3, 8000.0),
                  fixed=held(len(nodes), nodes_at(nodes, x=0)))
    return natural_modes(model, 6).frequency_hz


def test_fv16_cantilever_plate_frequencies() -> None:
    ours = fv16(32)
    for number, (mine, hertz) in enumerate(zip(ours, PRINTED_HZ, strict=True), start=1):
        assert mine == source_value("NAFEMS FV16, Hz", f"mode {number}", "NAFEMS FV16", hertz, rel=0.0105, recalled=True)
    rigidity = 200e9 * 0.05**3 / 12 / (1 - 0.3**2)
    accurate = np.array(ACCURATE) / (2 * np.pi * 100.0) * np.sqrt(rigidity / (8000 * 0.05))
    for number, (mine, hertz) in enumerate(zip(ours, accurate, strict=True), start=1):
        source = "Gorman, J. Sound Vib. 49 (1976); later Ritz solutions"
        assert mine == source_value("cantilever plate, Hz", f"mode {number}", source, float(hertz), rel=0.002, recalled=True)
    coarse = np.abs(fv16(8) / accurate - 1)
    assert (coarse > 4 * np.abs(ours / accurate - 1))[2:].all()
