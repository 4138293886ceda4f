"""Factoring in dense fronts, beside SuperLU and LAPACK's dense Cholesky (the references)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import linalg as dense
from scipy import sparse

from steadfold.mechanics import (
    GROUND,
    Contacts,
    Loads,
    Mechanism,
    Model,
    Shells,
    Springs,
    assembly,
    beam,
    buckling,
    factored,
    grid,
    held,
    nodes_at,
    solve,
)
from steadfold.mechanics import factor as factoring
from steadfold.mechanics.factor import Factor
from steadfold.mechanics.fronts import Fronts, NotPositive, planned


def plate(cells: int, across: int | None = None) -> Model:
    """A gently curved plate 200 by 200 by 2, held along one edge."""
    nodes, triangles = grid(cells, across or cells, lambda u, v: (200 * u, 200 * v, 10 * np.sin(3 * u) * (1 + 0.3 * v)))
    return Model(nodes, shells=Shells(triangles, 2.0, 210e3, 0.3, 7850.0), fixed=held(len(nodes), nodes_at(nodes, x=0)))


def stiffness(model: Model) -> tuple[sparse.csc_matrix, np.ndarray]:
    """Matrix on the free freedoms, and where they are."""
    freedoms = assembly.freedoms(model)
    matrix = freedoms.reduced_matrix(assembly.stiffness(model, beam.beam_set(model)))
    return matrix, model.nodes_mm[freedoms.free // 6]


def loads(size: int, columns: int = 5) -> np.ndarray:
    return np.random.default_rng(3).normal(size=(size, columns))


@given(st.integers(1, 12), st.integers(1, 12), st.integers(0, 2**31))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_any_pattern_in_any_places_is_solved_as_lapack_does(wide: int, high: int, seed: int) -> None:
    """Random symmetric patterns, far couplings among them, with one to six freedoms a place, some of them equal."""
    generator = np.random.default_rng(seed)
    places = np.repeat(
        generator.integers(0, (wide, high, 3), (wide * high, 3)).astype(float),
        generator.integers(1, 7, wide * high),
        axis=0,
    )
    size = len(places)
    near = np.linalg.norm(places[:, None] - places[None], axis=2) < 1.5
    coupled = np.triu(near & (generator.random((size, size)) < 0.7) | (generator.random((size, size)) < 0.2 / size), 1)
    full = np.where(coupled, generator.normal(size=(size, size)), 0.0)
    full = full + full.T
    full += np.diag(np.abs(full).sum(axis=1) + 1.0)
    right = loads(size)
    matrix = sparse.csc_matrix(full)
    for leaf in (4, 30):
        answer = Fronts.of(planned(matrix, places, leaf), matrix.data).solve(right)
        np.testing.assert_allclose(answer, dense.cho_solve(dense.cho_factor(full), right), rtol=0, atol=1e-12)


@pytest.mark.parametrize("cells", [(12, 12), (40, 6), (42, 42)])
def test_fronts_and_superlu_give_a_plate_the_same_displacement(cells: tuple[int, int]) -> None:
    matrix, places = stiffness(plate(*cells))
    right = loads(matrix.shape[0])
    scale = 1.0 / np.sqrt(matrix.diagonal())
    scaled = sparse.csc_matrix(sparse.diags_array(scale) @ matrix @ sparse.diags_array(scale))
    fronts = Factor(matrix, scale, Fronts.of(planned(scaled, places), scaled.data))
    answer, reference = fronts.solve(right), Factor.of(matrix).solve(right)
    assert np.linalg.norm(answer - reference) <= 1e-9 * np.linalg.norm(reference)
    np.testing.assert_array_equal(fronts.solve(right[:, 0]).shape, reference[:, 0].shape)
    assert np.linalg.norm(fronts.solve(right[:, 0]) - reference[:, 0]) <= 1e-9 * np.linalg.norm(reference[:, 0])


def test_a_large_plate_is_factored_in_fronts_and_a_small_one_is_not() -> None:
    small, large = factored(plate(8)), factored(plate(40))
    assert large.factor.matrix.shape[0] >= factoring.LARGE > small.factor.matrix.shape[0]
    assert isinstance(large.factor.factors, Fronts) and not isinstance(small.factor.factors, Fronts)


def test_the_plan_is_used_again_for_the_same_pattern_only() -> None:
    matrix, places = stiffness(plate(40))
    first = Factor.of(matrix, places)
    other = sparse.csc_matrix(matrix + sparse.diags_array(matrix.diagonal()))
    again = Factor.of(other, like=first)
    far = sparse.csc_matrix(([1.0, 1.0, 1.0, 1.0], ([0, 0, 5000, 5000], [0, 5000, 0, 5000])), shape=matrix.shape)
    third = Factor.of(sparse.csc_matrix(matrix + far), like=first)
    assert isinstance(first.factors, Fronts) and isinstance(again.factors, Fronts) and isinstance(third.factors, Fronts)
    assert again.factors.plan is first.factors.plan
    assert third.factors.plan is not first.factors.plan
    right = loads(matrix.shape[0], 1)
    for answer, of in ((again, other), (third, matrix + far)):
        reference = Factor.of(sparse.csc_matrix(of)).solve(right)
        assert np.linalg.norm(answer.solve(right) - reference) <= 1e-9 * np.linalg.norm(reference)


def test_what_is_not_positive_definite_is_refused_by_fronts_and_left_to_superlu() -> None:
    matrix, places = stiffness(plate(40))
    diagonal = matrix.diagonal()
    shifted = sparse.csc_matrix(matrix - sparse.diags_array(1e-4 * diagonal))  # still a positive diagonal
    with pytest.raises(NotPositive):
        Fronts.of(planned(shifted, places), shifted.data)
    found = Factor.of(shifted, places)
    right = loads(matrix.shape[0], 1)
    assert not isinstance(found.factors, Fronts)
    assert np.linalg.norm(shifted @ found.solve(right) - right) <= 1e-6 * np.linalg.norm(right)


def test_a_large_plate_on_a_hinge_line_is_still_told_how_it_can_move() -> None:
    plane = plate(40)
    flat = replace(plane, nodes_mm=plane.nodes_mm * [1, 1, 0])
    edge = nodes_at(flat.nodes_mm, x=0)
    with pytest.raises(Mechanism, match="can turn about y") as told:
        factored(replace(flat, fixed=held(flat.node_count, edge, "ux uy uz")))
    assert told.value.kind == "turns" and told.value.count == 1


def test_a_factor_leaves_the_matrix_it_was_given_as_it_was() -> None:
    """Products of sparse matrices come with their rows unsorted, and SuperLU sorts what it is given."""
    rows = sparse.random_array((60, 8), density=0.3, rng=np.random.default_rng(1))
    matrix = sparse.csc_matrix(rows @ rows.T) + sparse.csc_matrix(sparse.eye_array(60))
    matrix = matrix[:, np.arange(60)]
    indices = matrix.indices.copy()
    for column in range(60):  # any order of rows is the same matrix
        part = slice(matrix.indptr[column], matrix.indptr[column + 1])
        matrix.indices[part], matrix.data[part] = indices[part][::-1], matrix.data[part][::-1].copy()
    matrix.has_sorted_indices = False
    before = matrix.toarray()
    found = Factor.of(matrix)
    np.testing.assert_array_equal(found.matrix.toarray(), before)
    np.testing.assert_array_equal(matrix.toarray(), before)


@pytest.mark.parametrize("cells", [10, 40])
def test_buckling_against_a_wall_solves_its_own_equation(cells: int) -> None:
    """A strip pushed along its length, its back against a wall at patches: K x = factor (-G) x, with the bearing contacts in K."""
    nodes, triangles = grid(cells, cells, lambda u, v: (200 * u, 200 * v, 0 * u))
    steps = (cells // 5, 4 * cells // 5)
    bolts = [i * (cells + 1) + j for i in steps for j in steps]
    model = Model(
        nodes,
        shells=Shells(triangles, 2.0, 210e3, 0.3, 7850.0),
        springs=Springs([[b, GROUND] for b in bolts], [1e5, 1e5, 5e4, 1e5, 1e5, 1e5]),
        contacts=Contacts(np.arange(0, len(nodes), 7), (0, 0, 1), 1e-5),
    )
    forces = np.zeros((len(nodes), 6))
    forces[nodes_at(nodes, x=200), 0], forces[nodes_at(nodes, x=0), 0] = -200.0, 200.0
    forces[:, 2] = -0.01
    structure = factored(model)
    result = solve(structure, [Loads(forces)])[0]
    found = buckling(structure, result, 2)
    bears = structure.compliance.rows.columns[:, result.contact_n > 0]
    assert bears.shape[1] > 0
    stiff = structure.stiffness + bears @ sparse.diags_array(np.full(bears.shape[1], 1e5)) @ bears.T
    from steadfold.mechanics.buckling import geometric_stiffness

    geometry = geometric_stiffness(structure, result)
    assert len(found.factors) == 2
    for factor, shape in zip(found.factors, found.shapes, strict=True):
        x = shape.reshape(-1)
        assert factor == pytest.approx(float(x @ (stiff @ x)) / -float(x @ (geometry @ x)), rel=1e-6)
        assert np.linalg.norm(stiff @ x + factor * (geometry @ x)) <= 1e-5 * np.linalg.norm(stiff @ x)
