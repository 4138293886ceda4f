"""The wall felt in patches: against every place of the wall at once, settled by non-negative least squares."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import nnls

from steadfold.mechanics import GROUND, Contacts, Loads, Model, Springs, bedded, factored, grid, solve
from steadfold.mechanics.contact import one_sided_rows
from steadfold.mechanics.parts import Shells, Ties


def plate(gap: float = 0.0) -> tuple[Model, Contacts, list[Loads]]:
    """A plate 120 × 60 × 2 on two bolts, a wall behind every node, pushed and turned at its lower edge."""
    nodes, triangles = grid(24, 12, lambda u, v: (120 * u, 60 * v, 0 * u))
    bolts = [int(np.argmin(np.hypot(nodes[:, 0] - x, nodes[:, 1] - 40))) for x in (25.0, 95.0)]
    springs = Springs([[b, GROUND] for b in bolts], [1e4, 1e4, 2e5, 2e3, 2e3, 2e3])
    model = Model(nodes, Shells(triangles, 2.0, 210e3, 0.3), springs=springs)
    area = np.bincount(triangles.reshape(-1), np.full(triangles.size, 120 * 60 / len(triangles) / 3), len(nodes))
    bed = Contacts(np.arange(len(nodes)), (0, 0, 1), 5e-3 / area, gap)
    low = np.flatnonzero(nodes[:, 1] == 0)
    loads = []
    for turn, push in ((80.0, 0.0), (-40.0, 2.0), (20.0, -5.0)):
        nodal = np.zeros((len(nodes), 6))
        nodal[low, 3], nodal[low[: len(low) // 2], 2] = turn, push
        loads.append(Loads(nodal))
    return model, bed, loads


def everywhere(model: Model, bed: Contacts, case: Loads) -> np.ndarray:
    """Pushes at every place, from the compliance of all of them (Lawson & Hanson's non-negative least squares)."""
    base = factored(model)
    rows = base.freedoms.reduced_columns(one_sided_rows(replace(model, contacts=bed)).columns).toarray()
    give = rows.T @ base.factor.solve(rows) + np.diag(bed.compliance_mm_per_n)
    alone = solve(base, [case])[0].displacement[bed.nodes, 2] + bed.gap_mm
    root = np.linalg.cholesky(give)
    return nnls(root.T, -np.linalg.solve(root, alone), maxiter=20000)[0]


@pytest.mark.parametrize("gap", [0.0, 0.01])
def test_patches_all_split_are_every_place_of_the_wall(gap: float) -> None:
    model, bed, loads = plate(gap)
    here = bedded(factored(model), bed, loads, tolerance=0.0, most=len(bed.nodes))
    for case, result in zip(loads, solve(here, loads), strict=True):
        by_patch = (here.compliance.rows.columns @ result.contact_n).reshape(-1, 6)[:, 2]  # type: ignore[union-attr]
        expected = everywhere(model, bed, case)
        assert by_patch.sum() == pytest.approx(expected.sum(), rel=0.005)
        assert by_patch @ model.nodes_mm[:, 1] == pytest.approx(expected @ model.nodes_mm[:, 1], rel=0.01, abs=1.0)


@pytest.mark.parametrize("on_rim", [True, False])
def test_few_patches_pull_on_the_bolts_as_every_place_would(on_rim: bool) -> None:
    model, bed, loads = plate()
    x, y = model.nodes_mm[:, :2].T
    rim = (x == 0) | (x == 120) | (y == 0) | (y == 60)
    here = bedded(factored(model), bed, loads, rim if on_rim else None)
    assert here.model.contacts.count < 0.5 * bed.count
    for case, result in zip(loads, solve(here, loads), strict=True):
        pull = result.contact_n.sum()
        assert pull == pytest.approx(everywhere(model, bed, case).sum(), rel=0.03)


def test_the_wall_never_pulls_and_nothing_sinks_into_it_beyond_its_own_give() -> None:
    model, bed, loads = plate()
    here = bedded(factored(model), bed, loads)
    compliance = here.compliance
    assert compliance is not None
    for result in solve(here, loads):
        assert (result.contact_n >= 0).all()
        assert (result.gap_mm >= -1e-6).all()
        mean = compliance.rows.columns.T @ result.displacement.reshape(-1)
        pushed = result.contact_n > 0
        assert -mean[pushed] == pytest.approx(compliance.rows.compliance[pushed] * result.contact_n[pushed], abs=1e-6)
        assert np.abs(result.imbalance[:3]).max() <= 1e-8 * max(result.contact_n.sum(), 1.0)


def test_every_place_is_in_one_patch_and_no_stiffness_is_lost() -> None:
    model, bed, loads = plate()
    here = bedded(factored(model), bed, loads)
    assert (1.0 / here.model.contacts.compliance_mm_per_n).sum() == pytest.approx((1.0 / bed.compliance_mm_per_n).sum())
    assert len(np.unique(here.model.contacts.nodes)) == here.model.contacts.count


def test_a_wall_beside_a_rod_and_a_foot_is_every_place_of_it_beside_them() -> None:
    """A rod stretched by 500 N and a foot under one edge, each in the same system as every place of the wall, settled by
    non-negative least squares.
    """
    plain, bed, loads = plate()
    x, y = plain.nodes_mm[:, :2].T
    rod, foot = int(np.argmin(np.hypot(x - 120, y - 60))), int(np.argmin(np.hypot(x - 60, y - 60)))
    model = replace(plain, ties=Ties([[rod, GROUND]], 5e3, 500.0, [[0.0, 0.0, 1.0]]),
                    contacts=Contacts([foot], (0, 1, 0), 1e-6))  # fmt: skip
    down = np.zeros((len(x), 6))
    down[foot, 1] = -300.0
    loads = [replace(case, nodal=case.nodal + down) for case in loads]
    together = replace(model, contacts=Contacts(np.append(foot, bed.nodes), np.vstack([[0, 1, 0], bed.normals]),
                                                np.append(1e-6, bed.compliance_mm_per_n)))  # fmt: skip
    base, every = factored(plain), one_sided_rows(together)
    rows = base.freedoms.reduced_columns(every.columns).toarray()
    give = rows.T @ base.factor.solve(rows) + np.diag(every.compliance)
    here = bedded(factored(model), bed, loads)
    for case, result in zip(loads, solve(here, loads), strict=True):
        alone = every.columns.T @ solve(base, [case])[0].displacement.reshape(-1) + every.room_mm
        root = np.linalg.cholesky(give)
        expected = nnls(root.T, -np.linalg.solve(root, alone), maxiter=20000)[0]
        assert expected[0] > 10.0
        assert expected[-1] > 10.0
        assert result.contact_n[0] == pytest.approx(expected[0], rel=0.01)
        assert result.tie_n[0] == pytest.approx(expected[-1], rel=0.03)
        assert result.contact_n[1:].sum() == pytest.approx(expected[1:-1].sum(), rel=0.03)
