"""What holds for any structure: loads = reactions, energy, reciprocity, exact section forces,
superposition.
"""

from __future__ import annotations

import numpy as np
import pytest

from steadfold.mechanics import (
    STANDARD_GRAVITY_MM_S2,
    Loads,
    Mechanism,
    Model,
    Shells,
    averaged,
    factored,
    grid,
    held,
    ilyushin,
    line_forces,
    mass_kg,
    merged,
    nodes_at,
    section_forces,
    shell_forces,
    solve,
    von_mises,
)


def angle(cells: int, skew: float = 0.0) -> tuple[Model, dict[str, np.ndarray]]:
    """An L-bracket: leg 80 down the wall, arm 100 out, 50 wide, 3 thick; held along the foot of the leg.

    skew moves inner nodes about, by a share of the cell, so that no test leans on a regular mesh.
    """
    leg, first = grid(4 * cells // 5, cells // 2, lambda u, v: (0 * u, 50 * v, -80 + 80 * u))
    arm, second = grid(cells, cells // 2, lambda u, v: (100 * u, 50 * v, 0 * u))
    nodes, triangles = merged(np.vstack([leg, arm]), np.vstack([first, second + len(leg)]))
    generator = np.random.default_rng(3)
    shift = generator.uniform(-1, 1, size=nodes.shape) * skew * 100 / cells
    inside_arm = (nodes[:, 0] > 1e-6) & (nodes[:, 0] < 100 - 1e-6) & (np.abs(nodes[:, 1] - 25) < 25 - 1e-6)
    nodes[inside_arm, :2] += shift[inside_arm, :2]
    region = np.where(np.arange(len(triangles)) < len(first), 0, 1)
    shells = Shells(triangles, 3.0, 210e3, 0.3, 7850.0, region)
    model = Model(nodes, shells=shells, fixed=held(len(nodes), nodes_at(nodes, z=-80)))
    return model, {"tip": nodes_at(nodes, x=100), "bend": nodes_at(nodes, x=0, z=0),
                   "arm": np.flatnonzero(region == 1), "leg": np.flatnonzero(region == 0)}


def random_forces(count: int, seed: int) -> np.ndarray:
    forces = np.zeros((count, 6))
    generator = np.random.default_rng(seed)
    forces[generator.integers(0, count, 5)] = generator.normal(size=(5, 6)) * [10, 10, 10, 50, 50, 50]
    return forces


def test_supports_carry_the_loads_and_the_energies_agree() -> None:
    model, _ = angle(20, skew=0.25)
    forces = random_forces(model.node_count, 1)
    case = Loads(forces, gravity_mm_s2=(0, 0, -STANDARD_GRAVITY_MM_S2), pressure_mpa=0.002)
    result = solve(model, [case])[0]
    load = np.abs(forces[:, :3]).sum()
    assert np.abs(result.imbalance[:3]).max() < 1e-8 * load
    assert np.abs(result.imbalance[3:]).max() < 1e-8 * load * 100
    assert result.residual < 1e-9
    assert result.energy_nmm == pytest.approx(result.work_nmm, rel=1e-8)


def test_weight_is_mass_times_gravity() -> None:
    model, _ = angle(10)
    assert mass_kg(model) == pytest.approx(180 * 50 * 3 * 7850e-9, rel=1e-12)
    result = solve(model, [Loads(gravity_mm_s2=(0, 0, -9806.65))])[0]
    assert result.reaction[:, 2].sum() == pytest.approx(180 * 50 * 3 * 7850e-9 * 9.80665, rel=1e-9)


def test_displacements_are_reciprocal() -> None:
    """Betti and Maxwell: the work of one loading along the displacements of another is mutual."""
    model, _ = angle(20, skew=0.25)
    one, two = random_forces(model.node_count, 5), random_forces(model.node_count, 6)
    first, second = solve(model, [Loads(one), Loads(two)])
    mutual = (one * second.displacement).sum()
    assert mutual == pytest.approx((two * first.displacement).sum(), rel=1e-9)
    both = solve(model, [Loads(one + two)])[0]
    np.testing.assert_allclose(both.displacement, first.displacement + second.displacement,
                               atol=1e-9 * np.abs(both.displacement).max())


@pytest.mark.parametrize("cells", [6, 10, 20])
@pytest.mark.parametrize("skew", [0.0, 0.25])
def test_what_crosses_a_bend_line_is_plain_statics_on_any_mesh(cells: int, skew: float) -> None:
    """50 N down at the tip, weight and pressure on the arm: force and moment at the bend to 1e-9."""
    model, part = angle(cells, skew)
    forces = np.zeros((model.node_count, 6))
    forces[part["tip"], 2] = -50.0 / len(part["tip"])
    forces[part["tip"], 1] = 7.0 / len(part["tip"])
    case = Loads(forces, gravity_mm_s2=(0, 0, -9806.65), pressure_mpa=0.001)
    result = solve(model, [case])[0]
    weight = 100 * 50 * 3 * 7850e-9 * 9.80665
    normal = 0.001 * 5000.0
    section = section_forces(result, part["arm"], part["bend"], about_mm=(0, 25, 0))
    np.testing.assert_allclose(section.force_n, [0, 7, -50 - weight + normal], rtol=1e-9, atol=1e-7)
    centre = model.nodes_mm[model.shells.triangles[part["arm"]]].mean(axis=1)
    area = shell_forces(result).area_mm2[part["arm"]]
    lever = (centre[:, 0] * area).sum() * (weight - normal) / area.sum()
    sideways = (centre[:, 1] - 25) @ area * (normal - weight) / area.sum()
    np.testing.assert_allclose(section.moment_nmm, [sideways, 50 * 100 + lever, 7 * 100], rtol=1e-9, atol=1e-5)
    from_leg = section_forces(result, part["leg"], part["bend"], about_mm=(0, 25, 0))
    np.testing.assert_allclose(from_leg.force_n, -section.force_n, atol=1e-7)
    np.testing.assert_allclose(line_forces(result, part["arm"], part["bend"]).sum(axis=0)[:3], section.force_n)


def test_l_bracket_sags_by_its_closed_form() -> None:
    """P a³ / 3 E I + P a² b / E I = 2.3986 mm for a 100, b 80, 50 by 3, 50 N, nu = 0; to 2e-4 on this
    mesh.
    """
    model, part = angle(28)
    free = Shells(model.shells.triangles, 3.0, 210e3, 0.0)
    forces = np.zeros((model.node_count, 6))
    weights = np.full(len(part["tip"]), 1.0)
    ends = np.isclose(model.nodes_mm[part["tip"], 1], 0) | np.isclose(model.nodes_mm[part["tip"], 1], 50)
    weights[ends] = 0.5
    forces[part["tip"], 2] = -50.0 * weights / weights.sum()
    result = solve(Model(model.nodes_mm, shells=free, fixed=model.fixed), [Loads(forces)])[0]
    assert -result.displacement[part["tip"], 2].mean() == pytest.approx(2.3986, rel=2e-4)
    inner = shell_forces(result, reference=(1, 0, 0))
    x = inner.centre_mm[part["arm"], 0]
    moment = inner.moment_n[part["arm"], 0]
    np.testing.assert_allclose(moment, 50.0 * (100 - x) / 50.0, atol=0.02 * 100)
    stress = von_mises(model, inner)[part["arm"]].max(axis=1)
    np.testing.assert_allclose(stress, 6 * np.abs(moment) / 9, atol=0.02 * 67)


def test_ilyushin_is_one_at_the_plastic_hinge_and_at_yield_in_pull() -> None:
    """Pure bending: M = fy t² / 4; pure pull: N = fy t. Both give a share of 1; half the load gives half."""
    nodes, triangles = grid(6, 3, lambda u, v: (60 * u, 30 * v, 0 * u))
    ends = held(len(nodes), np.concatenate([nodes_at(nodes, x=0), nodes_at(nodes, x=60)]))
    model = Model(nodes, shells=Shells(triangles, 2.0, 210e3, 0.0), fixed=ends)
    curved, longer = 12 * (250 * 2**2 / 4) / (210e3 * 2**3), 250 / 210e3  # curvature 12 M / E t³ with M = fy t² / 4
    bend, stretch = np.zeros((len(nodes), 6)), np.zeros((len(nodes), 6))
    bend[:, 2], bend[:, 4] = -curved * nodes[:, 0] ** 2 / 2, curved * nodes[:, 0]
    stretch[:, 0] = longer * nodes[:, 0]
    bend, stretch = np.where(ends, bend, 0.0), np.where(ends, stretch, 0.0)
    results = solve(model, [Loads(settlement=bend), Loads(settlement=stretch), Loads(settlement=0.5 * bend)])
    for result, expected in zip(results, (1.0, 1.0, 0.5), strict=True):
        np.testing.assert_allclose(ilyushin(model, shell_forces(result), 250.0), expected, rtol=1e-6)


def test_a_mean_never_crosses_a_bend() -> None:
    """Values 0 on the leg and 1 on the arm stay 0 and 1 whatever the radius; within a panel they are
    weighted.
    """
    model, part = angle(10)
    inner = shell_forces(solve(model, [Loads(random_forces(model.node_count, 9))])[0])
    value = np.zeros(model.shells.count)
    value[part["arm"]] = 1.0
    np.testing.assert_array_equal(averaged(model, inner, value, 500.0), value)
    along = inner.centre_mm[:, 0]
    mean = averaged(model, inner, along, 500.0)[part["arm"]]
    np.testing.assert_allclose(mean, 50.0, rtol=1e-9)
    np.testing.assert_allclose(averaged(model, inner, along, 0.0), along)


@pytest.mark.parametrize(("freedoms", "kind", "words"), [
    ("", "slides", "all 25 nodes can slide along x"),
    ("uy uz rx ry rz", "slides", "can slide along x"),
    ("ux uy uz rx rz", "turns", "can turn about y through (0.0, 50.0, 0.0)"),
])
def test_a_mechanism_is_named(freedoms: str, kind: str, words: str) -> None:
    nodes, triangles = grid(4, 4, lambda u, v: (100 * u, 100 * v, 0 * u))
    fixed = held(25, nodes_at(nodes, x=0), freedoms)
    with pytest.raises(Mechanism) as found:
        factored(Model(nodes, shells=Shells(triangles, 2.0, 210e3), fixed=fixed))
    assert words in str(found.value)
    assert found.value.kind == kind
    assert found.value.count == (6 if not freedoms else 1)
    assert np.linalg.norm(found.value.motion[:, :3], axis=1).max() == pytest.approx(1.0)


def test_a_loose_part_is_named_by_its_nodes_and_a_slender_one_is_not_a_mechanism() -> None:
    """Two plates in one model, one held: the other is named. A strip 5 m long and 0.3 thick, held, is just
    soft.
    """
    nodes, triangles = grid(2, 2, lambda u, v: (50 * u, 50 * v, 0 * u))
    twice = np.vstack([nodes, nodes + np.array([200.0, 0, 0])])
    shells = Shells(np.vstack([triangles, triangles + 9]), 2.0, 210e3)
    with pytest.raises(Mechanism) as found:
        factored(Model(twice, shells=shells, fixed=held(18, nodes_at(twice, x=0))))
    assert set(found.value.nodes.tolist()) <= set(range(9, 18))
    strip, parts = grid(200, 1, lambda u, v: (5000 * u, 20 * v, 0 * u))
    slender = Model(strip, shells=Shells(parts, 0.3, 210e3, 0.0), fixed=held(len(strip), nodes_at(strip, x=0)))
    forces = np.zeros((len(strip), 6))
    forces[-2:, 2] = 1e-5
    sag = solve(slender, [Loads(forces)])[0].displacement[-2:, 2].mean()
    assert sag == pytest.approx(2e-5 * 5000**3 / 3 / 210e3 / (20 * 0.3**3 / 12), rel=1e-3)
