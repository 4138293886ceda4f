"""A bent plate by our shell beside a general finite-element library's plate, from mesh to deflection, at equal error.

Run: python benchmarks/plate_speed.py. A simply supported square under even load: w = 0.00406235 q a⁴ / D (Timoshenko and
Woinowsky-Krieger, recalled), the same triangles for both. The library's is a Morley triangle, which bends only and has
one unknown a corner and a side; ours has six at each corner, the plate's own plane with them. scikit-fem assembles,
scipy solves, both with one thread. Times are of the processor, the best of three.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy loads

# ruff: noqa: E402
import numpy as np
from skfem import Basis, BilinearForm, ElementTriMorley, LinearForm, MeshTri, condense
from skfem import solve as solved_by_library
from skfem.helpers import dd, ddot, eye, trace

from steadfold.mechanics import Loads, Model, Shells, grid, held, solve

SIDE_MM, THICKNESS_MM, MODULUS_MPA, POISSON, PRESSURE_MPA = 200.0, 2.0, 210e3, 0.3, 0.01
STIFFNESS = MODULUS_MPA * THICKNESS_MM**3 / (12 * (1 - POISSON**2))
EXACT_MM = 0.00406235 * PRESSURE_MPA * SIDE_MM**4 / STIFFNESS
CELLS = (8, 16, 32, 64, 96)


def ours(cells: int) -> float:
    """Deflection at the middle by our shell."""
    nodes, triangles = grid(cells, cells, lambda u, v: (SIDE_MM * u, SIDE_MM * v, 0 * u))
    edge = np.flatnonzero((nodes[:, :2] % SIDE_MM < 1e-9).any(axis=1))
    fixed = held(len(nodes), edge, "uz") | held(len(nodes), range(len(nodes)), "ux uy rz")
    model = Model(nodes, shells=Shells(triangles, THICKNESS_MM, MODULUS_MPA, POISSON), fixed=fixed)
    moved = solve(model, [Loads(pressure_mpa=PRESSURE_MPA)])[0].displacement[:, 2]
    return float(np.abs(moved).max())


def theirs(cells: int) -> float:
    """The same by the library."""
    nodes, triangles = grid(cells, cells, lambda u, v: (SIDE_MM * u, SIDE_MM * v, 0 * u))
    basis = Basis(MeshTri(np.ascontiguousarray(nodes[:, :2].T), np.ascontiguousarray(triangles.T)), ElementTriMorley())

    @BilinearForm
    def bending(u, v, _):  # type: ignore[no-untyped-def]
        def moment(curved):  # type: ignore[no-untyped-def]
            return STIFFNESS * ((1 - POISSON) * curved + POISSON * eye(trace(curved), 2))

        return ddot(moment(dd(u)), dd(v))

    @LinearForm
    def load(v, _):  # type: ignore[no-untyped-def]
        return PRESSURE_MPA * v

    found = solved_by_library(*condense(bending.assemble(basis), load.assemble(basis), D=basis.get_dofs().all("u")))
    return float(np.abs(found[basis.nodal_dofs[0]]).max())


def seconds(task: Callable[[], object]) -> float:
    """Best processor time of three."""
    best = np.inf
    for _ in range(3):
        start = time.process_time()
        task()
        best = min(best, time.process_time() - start)
    return float(best)


def main() -> None:
    """Print the table and the ratio of times at equal error."""
    rows: dict[str, list[tuple[float, float]]] = {"ours": [], "library": []}
    print("cells    ours: error, time        library: error, time")
    for cells in CELLS:
        line = f"{cells:5d}"
        for who, task in (("ours", ours), ("library", theirs)):
            error = abs(task(cells) / EXACT_MM - 1)
            took = seconds(lambda task=task, cells=cells: task(cells))  # type: ignore[misc]
            rows[who].append((error, took))
            line += f"   {100 * error:8.4f} %  {1e3 * took:8.1f} ms "
        print(line)
    errors, times = (np.log([row[k] for row in rows["library"]]) for k in (0, 1))
    for error, took in rows["ours"]:
        if errors.min() <= np.log(error) <= errors.max():
            at_equal = float(np.exp(np.interp(np.log(error), errors[::-1], times[::-1])))
            print(f"  at an error of {100 * error:.4f} % the library takes {at_equal / took:.1f} times as long")


if __name__ == "__main__":
    main()
