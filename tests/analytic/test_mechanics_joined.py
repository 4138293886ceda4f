"""Models joined into one system, and a model turned elsewhere: what must not change by either."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from steadfold.mechanics import Beams, Loads, Masses, Model, Springs, held, joined, solve, turned

E = 205e3


def bar(places: list[tuple[float, float, float]]) -> Model:
    return Model(np.array(places), beams=Beams([[0, 1]], 150.0, 112.5, 31250.0, 415.0, E, (0, 0, 1)))


def test_two_halves_joined_are_the_whole_cantilever() -> None:
    """P L^3 / 3 E I, from two bars that share a node."""
    nodes = np.array([[0.0, 0, 0], [100.0, 0, 0], [200.0, 0, 0]])
    first, second = bar([(0, 0, 0), (100, 0, 0)]), bar([(200, 0, 0), (100, 0, 0)])
    whole = joined(nodes, [(first, np.array([0, 1])), (second, np.array([2, 1]))])
    forces = np.zeros((3, 6))
    forces[2, 2] = -10.0
    model = Model(whole.nodes_mm, beams=whole.beams, fixed=held(3, 0))
    result = solve(model, [Loads(forces)])[0]
    assert result.displacement[2, 2] == pytest.approx(-10.0 * 200.0**3 / (3.0 * E * 112.5), rel=1e-9)


def test_a_model_turned_moves_as_it_did_before_turned_with_it() -> None:
    turn = Rotation.from_rotvec([0.3, -1.1, 0.7]).as_matrix()
    nodes = np.array([[0.0, 0, 0], [100.0, 0, 0]])
    model = Model(
        nodes, beams=Beams([[0, 1]], 150.0, 112.5, 31250.0, 415.0, E, (0, 0, 1)),
        springs=Springs([[1, -1]], [10.0, 20.0, 30.0, 0.0, 0.0, 0.0], [np.eye(3)]), fixed=held(2, 0),
        masses=Masses([1], [2.0], [[5.0, 0.0, 3.0]]),
    )  # fmt: skip
    gravity, force = np.array([0.0, 100.0, -9806.65]), np.array([[0.0] * 6, [1.0, 2.0, 3.0, 40.0, 50.0, 60.0]])
    plain = solve(model, [Loads(force, tuple(gravity))])[0].displacement
    moved = np.hstack([force[:, :3] @ turn.T, force[:, 3:] @ turn.T])
    there = solve(turned(model, turn, np.array([7.0, 8.0, 9.0])), [Loads(moved, tuple(turn @ gravity))])[0].displacement
    np.testing.assert_allclose(there, np.hstack([plain[:, :3] @ turn.T, plain[:, 3:] @ turn.T]), atol=1e-12)


def test_what_does_not_fit_together_is_refused() -> None:
    nodes = np.array([[0.0, 0, 0], [100.0, 0, 0]])
    with pytest.raises(ValueError, match="elsewhere"):
        joined(nodes, [(bar([(0, 0, 0), (90, 0, 0)]), np.array([0, 1]))])
    with pytest.raises(ValueError, match="needs its number"):
        joined(nodes, [(bar([(0, 0, 0), (100, 0, 0)]), np.array([0, 5]))])
    guided = Model(nodes, beams=bar([(0, 0, 0), (100, 0, 0)]).beams, fixed=held(2, 0, "ux"))
    with pytest.raises(ValueError, match="cannot be turned"):
        turned(guided, np.eye(3), np.zeros(3))
