"""Contact that only pushes and ties that only pull: closed forms, every combination tried, other solvers."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.optimize import nnls

from steadfold.mechanics import (
    GROUND,
    Beams,
    Contacts,
    Loads,
    Mechanism,
    Model,
    Shells,
    Springs,
    Ties,
    buckling,
    factored,
    grid,
    held,
    natural_modes,
    nodes_at,
    solve,
    spaced,
)
from steadfold.mechanics.contact import least_squares, pivoted

E, WIDTH, THICK = 200e3, 50.0, 8.0
RIGIDITY = E * WIDTH * THICK**3 / 12


def half_tee(to_bolt: float, beyond: float, bolt: float, give: float) -> Model:
    """Half of a T-stub: guided at x = 0 and pulled there, bolt to the ground, its tip free to press on a
    wall.
    """
    x = np.concatenate([np.linspace(0, to_bolt, 5), np.linspace(to_bolt, to_bolt + beyond, 5)[1:]])
    nodes = np.column_stack([x, 0 * x, 0 * x])
    ends = np.column_stack([np.arange(8), np.arange(1, 9)])
    beams = Beams(ends, WIDTH * THICK, RIGIDITY / E, WIDTH**3 * THICK / 12, 1e4, E, (0, 0, 1))
    return Model(nodes, beams=beams, fixed=held(9, range(9), "uy rx rz") | held(9, 0, "ux ry"),
                 ties=Ties([[4, GROUND]], bolt, directions=(0, 0, -1)),
                 contacts=Contacts([8], (0, 0, 1), give))


def pull(count: int, node: int, force: float) -> Loads:
    forces = np.zeros((count, 6))
    forces[node, 2] = force
    return Loads(forces)


@pytest.mark.parametrize("bolt", [2e4, 2e5, 1e8])
def test_prying_is_that_of_elementary_beam_theory(bolt: float) -> None:
    """Pull F at the web, bolt at m, tip at m + n. Virtual work with the bolt stretched by (F + Q) / k and
    the wall pressed by c Q: Q (n / EI (m n + n² / 3) + c + 1 / k) = F (n m² / 2 EI - 1 / k); no prying
    where that is negative. The beam without bolt is free to rise: only the tie holds it, and nothing else
    may be left in the answer.
    """
    m, n, give, force = 40.0, 30.0, 1e-7, 1000.0
    result = solve(half_tee(m, n, bolt, give), [pull(9, 0, force)])[0]
    pry = force * (n * m**2 / 2 / RIGIDITY - 1 / bolt) / (n / RIGIDITY * (m * n + n**2 / 3) + give + 1 / bolt)
    pry = max(pry, 0.0)
    assert result.contact_n[-1] == pytest.approx(pry, rel=1e-6, abs=1e-6)
    assert result.tie_n[0] == pytest.approx(force + pry, rel=1e-6)
    assert (result.gap_mm >= -1e-9).all()
    np.testing.assert_allclose(result.imbalance[[2, 4]], 0.0, atol=1e-5)


def test_pushed_instead_of_pulled_it_lies_on_the_wall_and_the_bolt_is_slack() -> None:
    model = half_tee(40.0, 30.0, 2e5, 1e-7)
    beyond = Contacts(range(5, 9), (0, 0, 1), 1e-7)
    result = solve(Model(model.nodes_mm, beams=model.beams, fixed=model.fixed, ties=model.ties, contacts=beyond),
                   [pull(9, 0, -1000.0)])[0]
    assert result.tie_n[0] == 0.0
    assert result.contact_n.sum() == pytest.approx(1000.0, rel=1e-9)


def test_what_nothing_holds_is_named_under_that_load() -> None:
    """A block on the floor by its own contact is held when pressed and free to leave when pulled."""
    nodes = np.array([[0.0, 0, 0], [10, 0, 0]])
    model = Model(nodes, beams=Beams([[0, 1]], 10, 10, 10, 10, E, (0, 0, 1)), contacts=Contacts([0], (0, 0, 1), 1e-5),
                  fixed=held(2, range(2), "ux uy rx ry rz"))
    structure = factored(model)
    assert solve(structure, [pull(2, 1, -5.0)])[0].contact_n[0] == pytest.approx(5.0)
    with pytest.raises(Mechanism, match=r"let go: .*slide along z"):
        solve(structure, [pull(2, 1, 5.0)])


@pytest.mark.parametrize("force", [500.0, 3000.0, 5999.0, 6001.0, 9000.0])
def test_a_tightened_bolt_shares_its_load_until_the_joint_opens(force: float) -> None:
    """Bolt k_b, clamped parts k_c, pre-tension F0: F0 + F k_b / (k_b + k_c) until F = F0 (k_b + k_c) /
    k_c, then F (the joint constant of any machine-design text).
    """
    bolt, clamped, tight = 1e5, 5e5, 5000.0
    # tightening alone presses the parts in, so the tie starts longer by what they give
    tie = Ties([[1, GROUND]], bolt, pretension_n=tight * (1 + bolt / clamped), directions=(0, 0, -1))
    model = Model(np.array([[0.0, 0, 5], [0, 0, 0]]),
                  beams=Beams([[0, 1]], 1e4, 10, 10, 10, E, (1, 0, 0)), ties=tie,
                  contacts=Contacts([1], (0, 0, 1), 1 / clamped), fixed=held(2, range(2), "ux uy rx ry rz"))
    rest, loaded = solve(model, [Loads(), pull(2, 0, force)])
    assert rest.tie_n[0] == pytest.approx(tight, rel=1e-9)
    shared = tight + force * bolt / (bolt + clamped)
    opened = force > tight * (bolt + clamped) / clamped
    assert loaded.tie_n[0] == pytest.approx(force if opened else shared, rel=1e-9)
    assert loaded.contact_n[0] == pytest.approx(0.0 if opened else shared - force, rel=1e-9)


def bracket(candidates: int, give: float) -> Model:
    """A plate 120 by 80 on two springs (its bolts), with contact all over its back."""
    nodes, triangles = grid(12, 8, lambda u, v: (120 * u, 80 * v, 0 * u))
    count = len(nodes)
    bolts = [nodes_at(nodes, x=30, y=60)[0], nodes_at(nodes, x=90, y=60)[0]]
    spots = np.linspace(0, count - 1, candidates).astype(int)
    return Model(nodes, shells=Shells(triangles, 3.0, 210e3, 0.3),
                 springs=Springs([[b, GROUND] for b in bolts], [2e4, 2e4, 5e4, 1e5, 1e5, 1e5]),
                 contacts=Contacts(np.unique(spots), (0, 0, 1), give))


def loadings(count: int, cases: int, seed: int) -> list[Loads]:
    generator = np.random.default_rng(seed)
    out = []
    for _ in range(cases):
        forces = np.zeros((count, 6))
        forces[generator.integers(0, count, 3), :3] = generator.normal(size=(3, 3)) * 100
        out.append(Loads(forces))
    return out


def test_every_combination_tried_by_hand_gives_the_same_answer() -> None:
    """Nine candidates: of the 512 ways to bear, solved as plain springs, just one pushes and never sinks
    in.
    """
    give = 1e-5
    model = bracket(8, give)
    spots = model.contacts.nodes
    case = loadings(model.node_count, 1, 4)[0]
    ours = solve(model, [case])[0]
    found = []
    for bears in product([False, True], repeat=len(spots)):
        chosen = spots[np.array(bears)]
        extra = [[node, GROUND] for node in chosen]
        springs = Springs(np.vstack([model.springs.ends, *extra]) if extra else model.springs.ends,
                          np.concatenate([model.springs.stiffness,
                                          np.tile(np.diag([0, 0, 1 / give, 0, 0, 0]), (len(chosen), 1, 1))]))
        plain = solve(Model(model.nodes_mm, shells=model.shells, springs=springs), [case])[0]
        height = plain.displacement[spots, 2]
        if (height[np.array(bears)] <= 0).all() and (height[~np.array(bears)] >= 0).all():
            found.append((np.array(bears), plain))
    assert len(found) == 1
    np.testing.assert_array_equal(ours.touching, found[0][0])
    np.testing.assert_allclose(ours.displacement, found[0][1].displacement,
                               atol=1e-7 * np.abs(ours.displacement).max())


@pytest.mark.parametrize("give", [1e-8, 1e-6, 1e-4])
def test_forces_equal_non_negative_least_squares(give: float) -> None:
    """60 candidates, 12 loadings: pivoting, our fallback and scipy's nnls on the bare problem agree to
    1e-6.
    """
    structure = factored(bracket(60, give))
    compliance = structure.compliance
    assert compliance is not None
    matrix = compliance.give + np.diag(compliance.rows.compliance)
    for result in solve(structure, loadings(structure.model.node_count, 12, 8)):
        free = structure.factor.solve(structure.freedoms.reduced(
            np.asarray(result.loads.nodal).reshape(-1)))
        offset = compliance.rows.columns.T @ structure.freedoms.expanded(free)
        root = np.linalg.cholesky(matrix)
        bare, _ = nnls(root.T, -np.linalg.solve(root, offset))
        size = max(np.abs(bare).max(), 1.0)
        np.testing.assert_allclose(result.contact_n, bare, atol=1e-6 * size)
        np.testing.assert_allclose(least_squares(matrix, offset), bare, atol=1e-6 * size)
        assert (result.contact_n >= 0).all()
        assert (result.gap_mm >= -1e-6).all()
        assert result.solver == "pivoting"
        assert np.abs(result.imbalance[:3]).max() < 1e-5


def test_pivoting_ends_on_awkward_problems() -> None:
    """Random positive definite problems, half of them nearly singular, from any start: always a true
    solution.
    """
    generator = np.random.default_rng(2)
    for trial in range(200):
        count = int(generator.integers(1, 40))
        rank = count if trial % 2 else max(1, count // 3)
        root = generator.normal(size=(count, rank))
        matrix = root @ root.T + 1e-8 * np.eye(count)
        offset = generator.normal(size=count)
        force, done = pivoted(matrix, offset, generator.random(count) < 0.5)
        assert done
        room = matrix @ force + offset
        size = np.abs(matrix).max() * max(force.max(), 1.0)
        assert (force >= 0).all()
        assert room.min() > -1e-7 * size
        assert np.abs(room * force).max() < 1e-6 * size * max(force.max(), 1.0)


def test_two_wires_hold_a_pole_one_at_a_time() -> None:
    """A hinged pole with a wire to either side: pushed left, only the right wire pulls, by moments about
    its foot.
    """
    nodes = np.array([[0.0, 0, 0], [0, 0, 1000], [-1000, 0, 0], [1000, 0, 0]])
    beams = Beams([[0, 1]], 100, 1e4, 1e4, 1e4, E, (1, 0, 0))
    fixed = held(4, 0, "ux uy uz rx rz") | held(4, 1, "uy") | held(4, [2, 3])
    model = Model(nodes, beams=beams, fixed=fixed, ties=Ties([[1, 2], [1, 3]], 1e3))
    forces = np.zeros((4, 6))
    forces[1, 0] = -200.0
    left = solve(model, [Loads(forces)])[0]
    np.testing.assert_allclose(left.tie_n, [0.0, 200.0 * np.sqrt(2)], rtol=1e-9)
    np.testing.assert_allclose(left.reaction[3, 0], 200.0, rtol=1e-9)


def test_two_leaves_press_on_each_other() -> None:
    """Two cantilevers, one above the other, touching at the tips: each takes half of the push."""
    nodes = np.array([[0.0, 0, 0], [100, 0, 0], [0, 0, 10], [100, 0, 10]])
    beams = Beams([[0, 1], [2, 3]], 100, 100, 100, 100, E, (0, 0, 1))
    model = Model(nodes, beams=beams, fixed=held(4, [0, 2]),
                  contacts=Contacts([3], (0, 0, 1), 1e-9, against=[1]))
    forces = np.zeros((4, 6))
    forces[3, 2] = -60.0
    down, up = solve(model, [Loads(forces), Loads(-forces)])
    assert down.contact_n[0] == pytest.approx(30.0, rel=1e-4)
    np.testing.assert_allclose(down.displacement[1, 2], down.displacement[3, 2], rtol=1e-4)
    assert up.contact_n[0] == 0.0
    np.testing.assert_allclose(down.imbalance, 0.0, atol=1e-7)


def test_a_strut_that_leans_on_a_wall_buckles_and_hums_as_if_propped() -> None:
    """A column pressed against a stop at mid-height by a nudge: with the stop bearing it buckles as two
    spans, and hums at the propped frequency; without it at the pinned one. pi² E I / L² and pi / 2 sqrt(E
    I / m L⁴).
    """
    parts, length = 16, 400.0
    nodes = np.column_stack([np.zeros(parts + 1), np.zeros(parts + 1), np.linspace(0, length, parts + 1)])
    ends = np.column_stack([np.arange(parts), np.arange(1, parts + 1)])
    beams = Beams(ends, 150.0, 112.5, 112.5, 415.0, E, (1, 0, 0), density_kg_m3=7850.0)
    fixed = held(parts + 1, range(parts + 1), "uy rx rz") | held(parts + 1, [0, parts], "ux") | held(parts + 1, 0, "uz")
    model = Model(nodes, beams=beams, fixed=fixed, contacts=Contacts([parts // 2], (1, 0, 0), 1e-7))
    structure = factored(model)
    forces = np.zeros((parts + 1, 6))
    forces[parts, 2] = -1.0
    nudge = forces.copy()
    nudge[parts // 2, 0] = -1e-3
    away = forces.copy()
    away[parts // 2, 0] = 1e-3
    bearing, clear = solve(structure, [Loads(nudge), Loads(away)])
    euler = np.pi**2 * E * 112.5 / length**2
    assert buckling(structure, bearing, 1).factors[0] == pytest.approx(4 * euler, rel=1e-3)
    assert buckling(structure, clear, 1).factors[0] == pytest.approx(euler, rel=1e-3)
    pinned = np.pi / 2 * np.sqrt(E * 112.5 / (7850e-12 * 150.0 * length**4))
    assert natural_modes(structure, 1).frequency_hz[0] == pytest.approx(pinned, rel=1e-3)
    assert natural_modes(structure, 1, state=bearing).frequency_hz[0] == pytest.approx(4 * pinned, rel=2e-3)


def test_bolts_as_ties_give_what_bolts_as_springs_give_while_all_are_taut() -> None:
    """A shelf bracket's back plate on four bolts, wall behind. Shear by springs, pull by ties: out of its
    plane only the one-sided parts hold it, and they must hold it exactly as two-way springs do. 80 wall
    candidates.
    """
    nodes, triangles = grid(18, 12, lambda u, v: (180 * u, 120 * v, 0 * u))
    count = len(nodes)
    bolts = [nodes_at(nodes, x=x, y=y)[0] for x in (30, 150) for y in (20, 100)]
    walls = spaced(nodes, np.setdiff1d(np.arange(count), bolts), 15.0)
    assert 60 < len(walls) < 150
    shells = Shells(triangles, 3.0, 210e3, 0.3)
    contacts = Contacts(walls, (0, 0, 1), 2e-6)
    ends = [[bolt, GROUND] for bolt in bolts]
    two_way = Model(nodes, shells=shells, contacts=contacts, springs=Springs(ends, [1e5, 1e5, 6e4, 0, 0, 0]))
    one_way = Model(nodes, shells=shells, contacts=contacts, springs=Springs(ends, [1e5, 1e5, 0, 0, 0, 0]),
                    ties=Ties(ends, 6e4, directions=(0, 0, -1)))
    cases = []
    for pull_n, turn in ((400.0, 0.0), (300.0, 9e3), (150.0, -9e3)):
        forces = np.zeros((count, 6))
        middle = nodes_at(nodes, x=90, y=60)[0]
        forces[middle] = [0, -200.0, pull_n, turn, 0, 0]
        cases.append(Loads(forces))
    for both, single in zip(solve(two_way, cases), solve(one_way, cases), strict=True):
        assert single.taut.all()
        size = np.abs(both.displacement).max()
        np.testing.assert_allclose(single.displacement, both.displacement, atol=1e-7 * size)
        np.testing.assert_allclose(single.contact_n, both.contact_n, atol=1e-6 * both.contact_n.max())
        assert single.residual < 1e-9
    pressed = np.zeros((count, 6))
    pressed[bolts[0], 2] = -100.0
    pressed[middle, 2] = 30.0
    slack = solve(one_way, [Loads(pressed)])[0]
    assert slack.tie_n[0] == 0.0
    assert slack.contact_n.sum() == pytest.approx(70.0 + slack.tie_n.sum(), rel=1e-8)


def test_thinned_candidates_are_apart_and_leave_no_hole() -> None:
    nodes, _ = grid(30, 30, lambda u, v: (90 * u, 90 * v, 0 * u))
    everything = np.arange(len(nodes))
    kept = spaced(nodes, everything, 10.0, first=[0, 30])
    apart = np.linalg.norm(nodes[kept][:, None] - nodes[kept][None], axis=2) + 1e3 * np.eye(len(kept))
    assert apart.min() >= 10.0
    assert {0, 30} <= set(kept.tolist())
    assert np.linalg.norm(nodes[:, None] - nodes[kept][None], axis=2).min(axis=1).max() < 10.0


def slider(pretension_n: float) -> Model:
    """A bar guided along x that a single rod holds back to the ground; nothing else does."""
    nodes = np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0]])
    beams = Beams([[0, 1]], 100.0, 1e4, 1e4, 1e4, E, (0, 0, 1))
    return Model(nodes, beams=beams, fixed=held(2, [0, 1], "uy uz rx ry rz"),
                 ties=Ties([[0, GROUND]], 1000.0, pretension_n, [[-1.0, 0.0, 0.0]]))


def along(force_n: float) -> Loads:
    forces = np.zeros((2, 6))
    forces[1, 0] = force_n
    return Loads(forces)


@pytest.mark.parametrize(("pretension_n", "force_n"), [(100.0, 0.0), (100.0, -10.0), (0.0, -10.0), (-50.0, -10.0)])
def test_a_rod_that_must_let_go_leaves_a_mechanism_and_not_a_false_balance(pretension_n: float, force_n: float) -> None:
    """Statics: with no load the rod draws the bar up until it is slack, and pushed the other way it never bears: the bar slides."""
    with pytest.raises(Mechanism, match="let go: not held: all 2 nodes can slide along x"):
        solve(slider(pretension_n), [along(force_n)])


@pytest.mark.parametrize("pretension_n", [100.0, 0.0, -50.0])
def test_a_pulled_rod_carries_what_pulls_whatever_it_was_stretched_by(pretension_n: float) -> None:
    """Statics: T = F = 10 N; the rod's end moves by (T - T0) / k."""
    result = solve(slider(pretension_n), [along(10.0)])[0]
    assert result.tie_n[0] == pytest.approx(10.0, rel=1e-9)
    assert result.displacement[0, 0] == pytest.approx((10.0 - pretension_n) / 1000.0, rel=1e-9)


def test_two_rods_against_each_other_keep_their_pull_with_no_load() -> None:
    """Rods of 1,000 N/mm each side of a bar of E A / L = 200,000 N/mm, 100 N each: T by hand:
    the bar shortens by T / 2e5, each rod loses half of that: T = 100 - 1000 T / 4e5.
    """
    base = slider(0.0)
    model = Model(base.nodes_mm, beams=Beams([[0, 1]], 100.0, 1e4, 1e4, 1e4, E, (0, 0, 1)), fixed=base.fixed,
                  ties=Ties([[0, GROUND], [1, GROUND]], 1000.0, 100.0, [[-1.0, 0.0, 0.0], [1.0, 0.0, 0.0]]))
    np.testing.assert_allclose(solve(model, [Loads()])[0].tie_n, 100.0 / (1.0 + 1000.0 / 4e5), rtol=1e-9)
