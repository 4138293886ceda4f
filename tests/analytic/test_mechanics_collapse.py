"""Plastic collapse against limit analysis; the return to the yield surface against its definition.

Strip: Mp = fy b t² / 4 (any text on plastic design); a wide plate that cannot narrow carries up to 2 /
sqrt 3 more. Simply supported square under even load: 25.0 Mp / a² with Mp = fy t² / 4 for the von Mises
surface (Hodge & Belytschko, J. Appl. Mech. 35 (1968); recalled); the yield lines of Johansen give 24.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.comparisons import beside, source_value

from steadfold.mechanics import (
    GROUND,
    Contacts,
    Loads,
    Model,
    Shells,
    Spider,
    Ties,
    collapse,
    grid,
    held,
    nodes_at,
    shares_along,
    yielded,
)
from steadfold.mechanics.plasticity import layer_points, returned, tangent

YIELD = 250.0


def strip(poisson: float = 0.3, columns: int = 20, rows: int = 4) -> tuple[np.ndarray, Model]:
    """200 by 40 by 3, one end held."""
    nodes, triangles = grid(columns, rows, lambda u, v: (200 * u, 40 * v, 0 * u))
    return nodes, Model(nodes, shells=Shells(triangles, 3.0, 210e3, poisson),
                        fixed=held(len(nodes), nodes_at(nodes, x=0)))


def tip_load(nodes: np.ndarray, axis: int, x: float = 200.0) -> Loads:
    forces = np.zeros((len(nodes), 6))
    edge = nodes_at(nodes, x=x)
    forces[edge, axis] = shares_along(nodes, edge)
    return Loads(forces)


def test_a_cantilever_strip_forms_its_hinge() -> None:
    """Between Mp / L and 1.155 Mp / L (held across at the root); the prototype had 1.15."""
    nodes, model = strip(columns=40, rows=8)
    found = collapse(model, tip_load(nodes, 2), YIELD)
    hinge = YIELD * 40 * 9 / 4 / 200
    assert found.reached
    assert 1.0 <= found.limit / hinge <= 2 / np.sqrt(3) + 1e-3
    why = "held across at the root: between Mp and 2 / sqrt(3) of it"
    assert beside("collapse", "cantilever strip", "Mp / L", hinge, found.limit, "N", why=why) == pytest.approx(1.15, abs=0.006)
    assert found.solves <= 40
    assert found.first_yield < found.limit
    rows = model.shells.triangles[found.plastic_share > 0.5]
    assert nodes[rows, 0].max() < 60.0  # the hinge is at the root


def test_a_strip_free_to_narrow_bends_at_mp_and_pulls_at_np() -> None:
    """Even moment: fy b t² / 4, with nothing to keep the strip from curling across. Pull through a rigid
    end: fy b t. To half a percent, as the curve is still rising by a hundredth of its first slope where it
    stops.
    """
    nodes, triangles = grid(8, 4, lambda u, v: (200 * u, 40 * v, 0 * u))
    count = len(nodes)
    nodes = np.vstack([nodes, [200.0, 20, 0]])
    root = nodes_at(nodes, x=0)
    middle = nodes_at(nodes, x=0, y=20)
    shells = Shells(triangles, 3.0, 210e3, 0.3)
    curling = held(count + 1, root, "ux ry") | held(count + 1, middle, "uy uz rx") | held(count + 1, count)
    bend = np.zeros((count + 1, 6))
    tip = nodes_at(nodes[:count], x=200)
    bend[tip, 4] = shares_along(nodes, tip)
    moment = collapse(Model(nodes, shells=shells, fixed=curling), Loads(bend), YIELD)
    assert moment.limit == source_value("collapse", "strip, even moment", "fy b t² / 4", YIELD * 40 * 9 / 4, "N mm", rel=0.005)
    assert moment.first_yield / (YIELD * 40 * 9 / 6) == pytest.approx(1 / layer_points(3)[0].max(), rel=1e-3)
    pull = np.zeros((count + 1, 6))
    pull[count, 0] = 1.0
    narrowing = held(count + 1, root, "ux uz ry") | held(count + 1, middle, "uy") | held(count + 1, count, "uy rx rz")
    gripped = Model(nodes, shells=shells, fixed=narrowing, spiders=[Spider(count, tip)])
    assert collapse(gripped, Loads(pull), YIELD).limit == source_value("collapse", "strip pulled", "fy b t", YIELD * 40 * 3, "N", rel=0.005)


def test_the_simply_supported_square_carries_25_mp_over_a_squared() -> None:
    model = square()
    found = collapse(model, Loads(pressure_mpa=1.0), YIELD)
    assert found.reached
    published = 25.0 * YIELD * 4 / 4 / 200**2
    assert found.limit == source_value(
        "collapse", "simply supported square", "25.0 Mp / a²", published, "MPa", rel=0.006, recalled=True
    )
    assert found.solves <= 40
    assert (np.diff(found.moved_mm) > 0).all()
    assert (np.diff(found.permanent_mm) > -1e-9).all()


def test_a_propped_strip_needs_two_hinges() -> None:
    """Held at one end, resting on a wall (contact) at the other, line load at the middle: 6 Mp / L, up to
    1.155 of it where the strip cannot curl. Hinges need a row of elements each, so the limit falls with
    the mesh to first order; carried on to no mesh at all it lies between. The contact gives what a held
    edge gives.
    """
    limit, found = 6 * YIELD * 40 * 9 / 4 / 200, []
    for columns, rows in ((32, 4), (64, 8)):
        nodes, model = strip(columns=columns, rows=rows)
        rest = nodes_at(nodes, x=200)
        down = Loads(-np.asarray(tip_load(nodes, 2, x=100.0).nodal))
        propped = Model(nodes, shells=model.shells, fixed=model.fixed, contacts=Contacts(rest, (0, 0, 1), 1e-6))
        curve = collapse(propped, down, YIELD)
        assert curve.reached
        found.append(curve.limit / limit)
    both_ways = Model(nodes, shells=model.shells, fixed=model.fixed | held(len(nodes), rest, "uz"))
    assert collapse(both_ways, down, YIELD).limit == pytest.approx(curve.limit, rel=1e-5)
    assert found[0] > found[1]
    assert 1.0 <= 2 * found[1] - found[0] <= 2 / np.sqrt(3)
    assert curve.limit / collapse(model, down, YIELD).limit == pytest.approx(3.0, abs=0.03)  # 6 Mp / L to 2 Mp / L


def test_a_tie_that_alone_holds_the_strip_hands_on_its_pull() -> None:
    """Hung by a tie at the tip, hinged at the root, load at the middle: one hinge at 4 Mp / L."""
    nodes, model = strip(columns=32, rows=4)
    count = len(nodes)
    tip = nodes_at(nodes, x=200)
    root = nodes_at(nodes, x=0)
    hung = Model(nodes, shells=model.shells, fixed=held(count, root, "ux uy uz"),
                 ties=Ties([[node, GROUND] for node in tip], 1e5, directions=(0, 0, 1)))
    down = Loads(-np.asarray(tip_load(nodes, 2, x=100.0).nodal))
    found = collapse(hung, down, YIELD)
    limit = 4 * YIELD * 40 * 9 / 4 / 200
    assert 1.0 <= found.limit / limit <= 2 / np.sqrt(3) + 0.01


def square(columns: int = 16) -> Model:
    """A quarter of a square of 200, simply supported, 2 thick."""
    nodes, triangles = grid(columns, columns, lambda u, v: (100 * u, 100 * v, 0 * u))
    count = len(nodes)
    far_x, far_y = nodes_at(nodes, x=100), nodes_at(nodes, y=100)
    fixed = (held(count, nodes_at(nodes, x=0), "ry") | held(count, nodes_at(nodes, y=0), "rx")
             | held(count, range(count), "ux uy rz") | held(count, np.union1d(far_x, far_y), "uz")
             | held(count, far_x, "rx") | held(count, far_y, "ry"))
    return Model(nodes, shells=Shells(triangles, 2.0, 210e3, 0.3), fixed=fixed)


def test_collapse_on_one_factor_is_that_of_limit_analysis() -> None:
    """The strip's hinge between Mp / L and 1.155 of it, the square's 25.0 Mp / a², as with a factor for every step."""
    nodes, model = strip(columns=40, rows=8)
    hinge = yielded(model, tip_load(nodes, 2), YIELD)
    assert hinge.reached
    assert 1.0 <= hinge.limit / (YIELD * 40 * 9 / 4 / 200) <= 2 / np.sqrt(3) + 1e-3
    plate = yielded(square(), Loads(pressure_mpa=1.0), YIELD)
    assert plate.reached
    assert plate.limit / (25.0 * YIELD * 4 / 4 / 200**2) == pytest.approx(1.0, abs=0.01)


def propped(columns: int = 32, rows: int = 4) -> tuple[Model, Loads]:
    nodes, model = strip(columns=columns, rows=rows)
    rest = nodes_at(nodes, x=200)
    down = Loads(-np.asarray(tip_load(nodes, 2, x=100.0).nodal))
    return Model(nodes, shells=model.shells, fixed=model.fixed, contacts=Contacts(rest, (0, 0, 1), 1e-6)), down


def test_collapse_on_one_factor_is_that_of_many_factors_contact_and_all() -> None:
    """Beside Newton's method with a new factor each step: limit within 1.5 %, what stays after unloading within 2 %."""
    nodes, model = strip(columns=40, rows=8)
    for part, loads in ((model, tip_load(nodes, 2)), (square(), Loads(pressure_mpa=1.0)), propped()):
        newton = collapse(part, loads, YIELD)
        point = int(np.argmax(newton.factors > 0.85 * newton.limit))
        found = yielded(part, loads, YIELD, set_factor=float(newton.factors[point]), furthest=30.0)
        assert found.reached and found.complete
        assert found.limit == pytest.approx(newton.limit, rel=0.015)
        assert found.first_yield == pytest.approx(newton.first_yield, rel=1e-6)
        assert found.moved_at_set_mm == pytest.approx(newton.moved_mm[point], rel=0.01)
        assert found.set_mm == pytest.approx(newton.permanent_mm[point], rel=0.02)


def test_below_first_yield_nothing_stays_and_enough_ends_the_search() -> None:
    nodes, model = strip()
    load = tip_load(nodes, 2)
    first = yielded(model, load, YIELD, enough=0.0).first_yield
    found = yielded(model, load, YIELD, set_factor=0.99 * first, enough=1.05 * first)
    assert found.set_mm == 0.0
    assert not found.reached
    assert 1.05 * first <= found.limit < 1.6 * first


def test_a_factor_that_is_not_carried_leaves_no_set_to_tell() -> None:
    nodes, model = strip()
    found = yielded(model, tip_load(nodes, 2), YIELD, set_factor=1.3 * YIELD * 40 * 9 / 4 / 200)
    assert found.reached
    assert found.set_mm is None
    assert found.moved_at_set_mm is None


def test_stresses_return_to_the_surface_the_shortest_way() -> None:
    """On the surface exactly; the flow C⁻¹(trial - s) along the surface's normal P s; what is inside is
    left alone. The tangent is the derivative of the stress, by differences.
    """
    generator = np.random.default_rng(0)
    trial = generator.normal(size=(300, 3)) * 300
    modulus, poisson, strength = np.full(300, 2e5), np.full(300, 0.3), np.full(300, YIELD)
    stress, multiplier = returned(trial, modulus, poisson, strength)
    x, y, xy = stress.T
    equivalent = np.sqrt(x**2 + y**2 - x * y + 3 * xy**2)
    flowing = multiplier > 0
    assert 0.3 < flowing.mean() < 1.0
    np.testing.assert_allclose(equivalent[flowing], YIELD, rtol=1e-12)
    np.testing.assert_allclose(stress[~flowing], trial[~flowing], rtol=1e-13, atol=1e-11)
    law = 2e5 / (1 - 0.09) * np.array([[1, 0.3, 0], [0.3, 1, 0], [0, 0, 0.35]])
    flow = (trial - stress) @ np.linalg.inv(law)
    normal = stress @ (np.array([[2, -1, 0], [-1, 2, 0], [0, 0, 6]]) / 3)
    np.testing.assert_allclose(flow, multiplier[:, None] * normal, atol=1e-12)
    step = 1e-7
    moduli = tangent(stress, multiplier, modulus, poisson)
    for column in range(3):
        change = law[column] * step
        ahead, _ = returned(trial + change, modulus, poisson, strength)
        behind, _ = returned(trial - change, modulus, poisson, strength)
        np.testing.assert_allclose(moduli[:, :, column], (ahead - behind) / (2 * step), atol=1e-6 * 2e5)


def test_layers_carry_both_the_elastic_and_the_plastic_moment_exactly() -> None:
    """Sum of w z² = 2 / 3 and of w |z| = 1."""
    for each_side in (2, 3, 4):
        places, weights = layer_points(each_side)
        assert (weights * places**2).sum() == pytest.approx(2 / 3, rel=1e-13)
        assert (weights * np.abs(places)).sum() == pytest.approx(1.0, rel=1e-13)
