"""Beams by the book: cantilever, even load, releases, springs at ends, portal, Euler, vibration.

Closed forms of elementary beam theory (Timoshenko, 'Strength of Materials'; Kleinlogel, 'Rahmenformeln'
for the portal; Blevins for frequencies), recalled and re-derived.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from tests.comparisons import source_value

from steadfold.mechanics import (
    STANDARD_GRAVITY_MM_S2,
    Beams,
    Loads,
    Masses,
    Model,
    Shells,
    Springs,
    beam_forces,
    buckling,
    factored,
    grid,
    held,
    mass_kg,
    natural_modes,
    nodes_at,
    solve,
    spring_forces,
)

E, I_Y, I_Z, AREA, TORSION, LENGTH = 205e3, 112.5, 31250.0, 150.0, 415.0, 200.0  # strip 50 by 3, flat


def chain(parts: int, **more) -> tuple[np.ndarray, Beams]:  # type: ignore[no-untyped-def]
    nodes = np.column_stack([np.linspace(0, LENGTH, parts + 1), np.zeros(parts + 1), np.zeros(parts + 1)])
    ends = np.column_stack([np.arange(parts), np.arange(1, parts + 1)])
    return nodes, Beams(ends, AREA, I_Y, I_Z, TORSION, E, (0, 0, 1), **more)


def end_force(count: int, node: int, **values: float) -> np.ndarray:
    forces = np.zeros((count, 6))
    for name, value in values.items():
        forces[node, ("fx", "fy", "fz", "mx", "my", "mz").index(name)] = value
    return forces


@pytest.mark.parametrize("turn", [Rotation.identity(), *Rotation.random(3, random_state=3)],
                         ids=lambda turn: f"{turn.magnitude():.2f}")
def test_a_cantilever_gives_way_as_beam_theory_says_in_any_orientation(turn: Rotation) -> None:
    nodes, beams = chain(3)
    matrix = turn.as_matrix()
    turned = Beams(beams.ends, AREA, I_Y, I_Z, TORSION, E, matrix @ [0, 0, 1.0])
    forces = end_force(4, 3, fx=1e4, fy=500.0, fz=100.0, mx=2e3)
    forces[:, :3], forces[:, 3:] = forces[:, :3] @ matrix.T, forces[:, 3:] @ matrix.T
    result = solve(Model(nodes @ matrix.T, beams=turned, fixed=held(4, 0)), [Loads(forces)])[0]
    tip = np.concatenate([matrix.T @ result.displacement[3, :3], matrix.T @ result.displacement[3, 3:]])
    g = E / 2.6
    expected = [1e4 * LENGTH / E / AREA, 500 * LENGTH**3 / 3 / E / I_Z, 100 * LENGTH**3 / 3 / E / I_Y,
                2e3 * LENGTH / g / TORSION, -100 * LENGTH**2 / 2 / E / I_Y, 500 * LENGTH**2 / 2 / E / I_Z]
    np.testing.assert_allclose(tip, expected, rtol=1e-8)
    root = beam_forces(result)[0, 0]
    np.testing.assert_allclose(root, [-1e4, -500, -100, -2e3, 100 * LENGTH, -500 * LENGTH], rtol=1e-8)


def test_shear_adds_its_part() -> None:
    """P L / G A_s on top of P L³ / 3 E I."""
    nodes, beams = chain(1, shear_area_z_mm2=125.0)
    result = solve(Model(nodes, beams=beams, fixed=held(2, 0)), [Loads(end_force(2, 1, fz=100.0))])[0]
    expected = 100 * LENGTH**3 / 3 / E / I_Y + 100 * LENGTH / (E / 2.6) / 125.0
    assert result.displacement[1, 2] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("start", "finish", "sag", "moment"), [
    ("fixed", "fixed", 1 / 384, -1 / 12), ("hinged", "hinged", 5 / 384, 0.0), ("fixed", "hinged", 1 / 192, -1 / 8)])
def test_even_load_between_releases(start: str, finish: str, sag: float, moment: float) -> None:
    """One element each side of the middle, released at its outer ends: q L⁴ / 384 and so on; moment at the
    start.
    """
    nodes, _ = chain(2)
    springs = np.full((2, 2, 6), np.inf)
    springs[0, 0, 4] = 0.0 if start == "hinged" else np.inf
    springs[1, 1, 4] = 0.0 if finish == "hinged" else np.inf
    beams = Beams([[0, 1], [1, 2]], AREA, I_Y, I_Z, TORSION, E, (0, 0, 1), end_springs=springs)
    result = solve(Model(nodes, beams=beams, fixed=held(3, [0, 2])), [Loads(beam_n_per_mm=(0, 0, -2.0))])[0]
    found = -result.displacement[1, 2] * E * I_Y / (2.0 * LENGTH**4)
    assert found == source_value("sag of a beam, q L⁴ / E I", f"{start} to {finish}, even load", "beam tables", sag, rel=1e-9)
    assert beam_forces(result)[0, 0, 4] / (2.0 * LENGTH**2) == pytest.approx(moment, rel=1e-9, abs=1e-12)
    np.testing.assert_allclose(result.reaction[:, 2].sum(), 2.0 * LENGTH, rtol=1e-12)


def test_a_spring_at_the_root_adds_its_turn() -> None:
    """w = P L³ / 3 E I + P L² / k; a soft shear joint adds P / k."""
    springs = np.full((1, 2, 6), np.inf)
    springs[0, 0, 4], springs[0, 0, 2] = 1e6, 40.0
    beams = Beams([[0, 1]], AREA, I_Y, I_Z, TORSION, E, (0, 0, 1), end_springs=springs)
    nodes = np.array([[0, 0, 0], [LENGTH, 0, 0]])
    result = solve(Model(nodes, beams=beams, fixed=held(2, 0)), [Loads(end_force(2, 1, fz=100.0))])[0]
    expected = 100 * LENGTH**3 / 3 / E / I_Y + 100 * LENGTH**2 / 1e6 + 100 / 40.0
    assert result.displacement[1, 2] == pytest.approx(expected, rel=1e-12)
    assert result.energy_nmm == pytest.approx(0.5 * 100 * expected, rel=1e-12)


def test_portal_frame_under_a_sideways_push() -> None:
    """Fixed feet, height h, span l, equal sections: k = h / l, foot moments P h / 2 (3 k + 1) / (6 k + 1)."""
    h, span, push = 300.0, 400.0, 50.0
    nodes = np.array([[0, 0, 0], [0, 0, h], [span, 0, h], [span, 0, 0]])
    beams = Beams([[0, 1], [1, 2], [2, 3]], 1e6, 1e4, 1e4, 1e4, E, (0, 1, 0))
    fixed = held(4, [0, 3]) | held(4, range(4), "uy rx rz")
    result = solve(Model(nodes, beams=beams, fixed=fixed), [Loads(end_force(4, 1, fx=push))])[0]
    k = h / span
    np.testing.assert_allclose(np.abs(result.reaction[[0, 3], 4]), push * h / 2 * (3 * k + 1) / (6 * k + 1), rtol=1e-3)
    np.testing.assert_allclose(result.reaction[3, 2], 2 * push * h / 2 * 3 * k / (6 * k + 1) / span, rtol=1e-3)


def test_a_spring_with_an_arm_keeps_the_balance() -> None:
    """A beam end held by one translational spring 30 mm off its axis: the force meets its moment arm."""
    nodes, beams = chain(2)
    nodes = np.vstack([nodes, [LENGTH, 0.0, 30.0]])
    springs = Springs([[2, 3]], [[1e3, 1e3, 1e3, 0, 0, 0]])
    fixed = held(4, 0) | held(4, 3)
    result = solve(Model(nodes, beams=beams, springs=springs, fixed=fixed), [Loads(end_force(4, 1, fz=-80.0))])[0]
    np.testing.assert_allclose(result.imbalance, 0.0, atol=1e-7)
    pull = spring_forces(result)[0]
    np.testing.assert_allclose(-result.reaction[3, :3], -pull[:3], rtol=1e-9, atol=1e-9)
    assert abs(pull[2]) > 1.0


@pytest.mark.parametrize(("fixing", "factor"), [("fixed-free", 2.0), ("pinned", 1.0), ("fixed", 0.5),
                                                ("fixed-pinned", 0.699155)])
def test_struts_buckle_at_eulers_load(fixing: str, factor: float) -> None:
    """pi² E I / (K L)²; the strip 50 by 3 by 200 fixed-free: 1422.6 N."""
    nodes, beams = chain(12)
    fixed = held(13, range(13), "uy rz") | held(13, 0, "ux uz rx")
    if fixing.startswith("fixed"):
        fixed |= held(13, 0, "ry")
    if fixing != "fixed-free":
        fixed |= held(13, 12, "uz")
    if fixing == "fixed":
        fixed |= held(13, 12, "ry")
    structure = factored(Model(nodes, beams=beams, fixed=fixed))
    result = solve(structure, [Loads(end_force(13, 12, fx=-1.0))])[0]
    lowest = buckling(structure, result, 2).factors[0]
    assert lowest == pytest.approx(np.pi**2 * E * I_Y / (factor * LENGTH) ** 2, rel=2e-4)
    euler = np.pi**2 * E * I_Y / (factor * LENGTH) ** 2
    assert lowest == source_value("beam buckling", f"strip 50 × 3 × 200, {fixing}", "Euler", float(euler), "N", rel=2e-4)
    if fixing == "fixed-free":
        assert lowest == pytest.approx(1422.6, rel=1e-3)


def test_cantilever_strip_hums_at_its_closed_form() -> None:
    """62.66 Hz: (1.8751² / 2 pi) sqrt(E I / m L⁴), E 210 GPa, 7850 kg/m³; the second is 6.267 times
    higher.
    """
    nodes, _ = chain(10)
    ends = np.column_stack([np.arange(10), np.arange(1, 11)])
    beams = Beams(ends, AREA, I_Y, I_Z, TORSION, 210e3, (0, 0, 1), density_kg_m3=7850.0)
    model = Model(nodes, beams=beams, fixed=held(11, 0) | held(11, range(11), "uy rx rz"))
    found = natural_modes(model, 2).frequency_hz
    assert found[0] == source_value("modes of a beam, Hz", "strip 200 × 50 × 3, first", "closed form", 62.66, abs=0.01)
    assert found[1] / found[0] == pytest.approx(6.2669, rel=1e-3)
    assert mass_kg(model) == pytest.approx(7850 * 50 * 3 * 200 * 1e-9, rel=1e-12)


def test_a_mass_at_the_tip_and_its_sag_give_the_same_frequency() -> None:
    """One mass on a weightless beam: f = 1 / 2 pi sqrt(g / sag) = 15.76 / sqrt(sag mm)."""
    nodes, beams = chain(1)
    model = Model(nodes, beams=beams, fixed=held(2, 0) | held(2, 1, "uy"), masses=Masses([1], 3.0))
    sag = -solve(model, [Loads(gravity_mm_s2=(0, 0, -STANDARD_GRAVITY_MM_S2))])[0].displacement[1, 2]
    assert sag == pytest.approx(3 * 9.80665 * LENGTH**3 / 3 / E / I_Y, rel=1e-9)
    frequency = natural_modes(model, 1).frequency_hz[0]
    assert frequency == source_value("modes of a beam, Hz", "mass at the tip", "15.76 / sqrt(sag)", float(15.76 / np.sqrt(sag)), rel=1e-3)


def test_what_is_only_pulled_has_no_load_factor() -> None:
    """Definition: the geometric stiffness of a pull adds to the stiffness, so no positive factor takes it away."""
    for pieces in (4, 40):  # all eigenvalues at once, and the few largest sought
        nodes, beams = chain(pieces)
        structure = factored(Model(nodes, beams=beams, fixed=held(pieces + 1, 0)))
        for force in (100.0, 0.0):
            result = solve(structure, [Loads(end_force(pieces + 1, pieces, fx=force))])[0]
            found = buckling(structure, result, 2)
            assert len(found.factors) == 0
            assert found.shapes.shape == (0, pieces + 1, 6)


def test_a_plate_that_is_only_stretched_has_no_load_factor_and_sheared_it_has() -> None:
    """An evenly pulled sheet is stiffened everywhere; a sheared one is pressed along a diagonal and buckles."""
    nodes, triangles = grid(6, 6, lambda u, v: (100 * u, 100 * v, 0 * u))
    left, right = nodes_at(nodes, x=0), nodes_at(nodes, x=100)
    fixed = held(len(nodes), np.concatenate([left, right]), "ux uy uz rz")
    structure = factored(Model(nodes, shells=Shells(triangles, 1.0, E, 0.0), fixed=fixed))
    for freedom, buckles in ((0, False), (1, True)):
        moved = np.zeros((len(nodes), 6))
        moved[right, freedom] = 0.1
        result = solve(structure, [Loads(settlement=moved)])[0]
        assert (len(buckling(structure, result, 1).factors) > 0) is buckles
