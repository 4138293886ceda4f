"""Spiders: beam meets shell, rigid discs, spread loads, chains; in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from steadfold.mechanics import (
    GROUND,
    Beams,
    Loads,
    Model,
    Shells,
    Spider,
    Springs,
    grid,
    held,
    nodes_at,
    shares_along,
    solve,
)

E, WIDTH, THICK = 210e3, 50.0, 3.0
SECOND = WIDTH * THICK**3 / 12


def strip(kind: str = "rigid", offset: float = 0.0) -> tuple[Model, np.ndarray]:
    """A beam of 100 mm (6 parts) goes on as a shell strip of 150 mm (4 by 16), joined by a spider; nu = 0."""
    shell, triangles = grid(16, 4, lambda u, v: (100 + offset + 150 * u, WIDTH * (v - 0.5), 0 * u))
    line = np.column_stack([np.linspace(0, 100, 7), np.zeros(7), np.zeros(7)])
    nodes = np.vstack([shell, line])
    first = len(shell)
    ends = first + np.column_stack([np.arange(6), np.arange(1, 7)])
    beams = Beams(ends, WIDTH * THICK, SECOND, WIDTH**3 * THICK / 12, WIDTH * THICK**3 / 3, E, (0, 0, 1))
    ring = nodes_at(nodes[:first], x=100 + offset)
    spider = Spider(first + 6, ring, kind)  # type: ignore[arg-type]
    model = Model(nodes, shells=Shells(triangles, THICK, E, 0.0), beams=beams, spiders=[spider],
                  fixed=held(len(nodes), first))
    return model, nodes_at(nodes[:first], x=250 + offset)


def test_beam_spider_and_shell_sag_like_one_cantilever() -> None:
    """P L³ / 3 E I with L = 250; the prototype had 1.0002. In its own plane as well, where the strip is
    deep.
    """
    model, tip = strip()
    forces = np.zeros((2, model.node_count, 6))
    for way, axis in enumerate((2, 1)):
        forces[way, tip, axis] = 10.0 * shares_along(model.nodes_mm, tip)
    flat, edge = solve(model, [Loads(forces[0]), Loads(forces[1])])
    assert flat.displacement[tip, 2].mean() == pytest.approx(10 * 250**3 / 3 / E / SECOND, rel=2e-4)
    deep = 10 * 250**3 / 3 / E / (WIDTH**3 * THICK / 12)
    shear = 1.2 * 10 * 150 / (E / 2) / (WIDTH * THICK)  # the shell part alone gives way in shear, nu = 0
    assert edge.displacement[tip, 1].mean() == pytest.approx(deep + shear, rel=2e-3)
    np.testing.assert_allclose(flat.imbalance, 0.0, atol=1e-6)


def test_a_rigid_arm_between_beam_and_shell_carries_its_lever() -> None:
    """The ring 20 mm beyond the beam's end: I of the gap is infinite."""
    model, tip = strip(offset=20.0)
    forces = np.zeros((model.node_count, 6))
    forces[tip, 2] = 10.0 * shares_along(model.nodes_mm, tip)
    sag = solve(model, [Loads(forces)])[0].displacement[tip, 2].mean()
    expected = 10 / E / SECOND / 3 * (270**3 - 170**3 + 150**3)
    assert sag == pytest.approx(expected, rel=2e-4)


def test_a_spread_spider_hands_on_force_and_moment_without_stiffening() -> None:
    """A square ring on four equal springs k at half-width a: turn M / (4 k a²), shift F / (4 k)."""
    a, k = 10.0, 100.0
    nodes = np.array([[a, a, 0], [a, -a, 0], [-a, a, 0], [-a, -a, 0], [0, 0, 0]])
    model = Model(nodes, springs=Springs([[i, GROUND] for i in range(4)], [k, k, k, 1.0, 1.0, 1.0]),
                  spiders=[Spider(4, np.arange(4), "spread")])
    forces = np.zeros((5, 6))
    forces[4] = [40.0, 0, -80.0, 1200.0, 0, 0]
    result = solve(model, [Loads(forces)])[0]
    np.testing.assert_allclose(result.displacement[4], [40 / (4 * k), 0, -80 / (4 * k), 1200 / (4 * k * a**2), 0, 0],
                               atol=1e-12)
    np.testing.assert_allclose(result.imbalance, 0.0, atol=1e-9)
    share = result.displacement[:4, 2] * k
    np.testing.assert_allclose(share, -20 + np.array([30, -30, 30, -30.0]), atol=1e-9)


def test_spiders_may_follow_each_other() -> None:
    """A node carried by a plate, which is carried by a centre on a spring: one rigid body in all."""
    nodes = np.array([[0.0, 0, 0], [100, 0, 0], [100, 50, 0]])
    model = Model(nodes, springs=Springs([[0, GROUND]], [1e3, 1e3, 1e3, 1e6, 1e6, 1e6]),
                  spiders=[Spider(1, np.array([2])), Spider(0, np.array([1]))])
    forces = np.zeros((3, 6))
    forces[2, 2] = -5.0
    result = solve(model, [Loads(forces)])[0]
    turn_x, turn_y = -5.0 * 50 / 1e6, 5.0 * 100 / 1e6
    np.testing.assert_allclose(result.displacement[0], [0, 0, -5e-3, turn_x, turn_y, 0], atol=1e-15)
    assert result.displacement[2, 2] == pytest.approx(-5e-3 + turn_x * 50 - turn_y * 100, rel=1e-12)


def test_spiders_that_cannot_be_are_refused() -> None:
    nodes = np.array([[0.0, 0, 0], [10, 0, 0], [20, 0, 0], [30, 0, 0]])
    springs = Springs([[i, GROUND] for i in range(4)], [1.0] * 6)
    with pytest.raises(ValueError, match="lies on one line"):
        solve(Model(nodes, springs=springs, spiders=[Spider(3, np.arange(3), "spread")]), [Loads()])
    with pytest.raises(ValueError, match="also follows another spider"):
        solve(Model(nodes, springs=springs, spiders=[Spider(0, [2]), Spider(1, [2])]), [Loads()])
    with pytest.raises(ValueError, match="also is held"):
        solve(Model(nodes, springs=springs, spiders=[Spider(0, [2])], fixed=held(4, 2)), [Loads()])
    with pytest.raises(ValueError, match="in a ring"):
        solve(Model(nodes, springs=springs, spiders=[Spider(0, [1]), Spider(1, [0])]), [Loads()])
