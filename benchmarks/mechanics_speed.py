"""Ratios of the numerical core in one run: how each step compares with one sparse factorisation.

Run: python benchmarks/mechanics_speed.py [cells, default 57 (20,000 freedoms)]. Limits are the design's; a
ratio beyond its limit is marked and the exit code is 1. Threads of the BLAS are pinned to one before numpy
loads.
"""

from __future__ import annotations

import os
import resource
import sys
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy loads

# ruff: noqa: E402
import numpy as np
from scipy.sparse.linalg import splu

from steadfold.mechanics import (
    GROUND,
    Contacts,
    Loads,
    Model,
    Shells,
    Springs,
    assembly,
    beam,
    buckling,
    factored,
    grid,
    held,
    natural_modes,
    nodes_at,
    solve,
)
from steadfold.mechanics.factor import Factor


def seconds(task, repeats: int = 3) -> float:  # type: ignore[no-untyped-def]
    """Best time of a few."""
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        task()
        best = min(best, time.perf_counter() - start)
    return best


def tray(cells: int) -> Model:
    """A gently curved plate 200 by 200 by 2, held along one edge: no zero in its matrix by luck."""
    nodes, triangles = grid(cells, cells, lambda u, v: (200 * u, 200 * v, 10 * np.sin(3 * u) * (1 + 0.3 * v)))
    return Model(nodes, shells=Shells(triangles, 2.0, 210e3, 0.3, 7850.0),
                 fixed=held(len(nodes), nodes_at(nodes, x=0)))


def bolted(cells: int, candidates: int) -> Model:
    """The same plate flat, on four bolts, its back against a wall at `candidates` places."""
    nodes, triangles = grid(cells, cells, lambda u, v: (200 * u, 200 * v, 0 * u))
    steps = (cells // 5, 4 * cells // 5)
    bolts = [i * (cells + 1) + j for i in steps for j in steps]
    spots = np.unique(np.linspace(0, len(nodes) - 1, candidates).astype(int))
    return Model(nodes, shells=Shells(triangles, 2.0, 210e3, 0.3, 7850.0),
                 springs=Springs([[b, GROUND] for b in bolts], [1e5, 1e5, 5e4, 1e5, 1e5, 1e5]),
                 contacts=Contacts(spots, (0, 0, 1), 1e-5))


def main(cells: int = 57) -> int:
    """Print the table; 1 where a limit is passed."""
    model = tray(cells)
    beams = beam.beam_set(model)
    freedoms = assembly.freedoms(model)
    matrix = freedoms.reduced_matrix(assembly.stiffness(model, beams))
    places = model.nodes_mm[freedoms.free // 6]
    factor = Factor.of(matrix, places)
    forces = np.zeros((model.node_count, 6))
    forces[-1, 2] = -50.0
    pressed = np.zeros((model.node_count, 6))
    pressed[nodes_at(model.nodes_mm, x=200), 0] = -1.0
    structure = factored(model)
    squeezed = solve(structure, [Loads(pressed)])[0]
    right = np.random.default_rng(1).normal(size=(matrix.shape[0], 24))

    assemble = seconds(lambda: freedoms.reduced_matrix(assembly.stiffness(model, beams)))
    bare = seconds(lambda: splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                                options={"SymmetricMode": True}))
    case = (seconds(lambda: factor.solve(right)) - seconds(lambda: factor.solve(right[:, :1]))) / 23
    twenty_columns = right[:, :20]
    ours = seconds(lambda: Factor.of(matrix, places).solve(twenty_columns, refine=False))
    superlu = seconds(lambda: Factor.of(matrix).solve(twenty_columns, refine=False))
    buckle = seconds(lambda: buckling(structure, squeezed, 3), 1)
    vibrate = seconds(lambda: natural_modes(structure, 6), 1)
    whole = seconds(lambda: solve(model, [Loads(forces)]))

    wall = bolted(cells, 140)
    generator = np.random.default_rng(7)
    cases = []
    for _ in range(20):
        load = np.zeros((wall.node_count, 6))
        load[generator.integers(0, wall.node_count, 3), :3] = generator.normal(size=(3, 3)) * 50
        cases.append(Loads(load))
    prepared = factored(wall)
    one, twenty = seconds(lambda: solve(prepared, cases[:1])), seconds(lambda: solve(prepared, cases))
    compliance = prepared.compliance
    assert compliance is not None
    linear = prepared.factor.solve(np.stack([prepared.freedoms.reduced(np.asarray(c.nodal).reshape(-1))
                                             for c in cases], axis=1))
    movement = compliance.rows.columns.T @ prepared.freedoms.expanded(linear)
    settle = seconds(lambda: [compliance.forces(movement[:, k], None) for k in range(20)])
    four = seconds(lambda: solve(wall, cases[:4]))

    print(f"{model.node_count * 6} freedoms, {model.shells.count} triangles, factorisation {bare:.3f} s")
    rows = [("strain rows, stiffness and assembly / factorisation", assemble / bare, 1.0),
            ("one more load case / factorisation", case / bare, 0.05),
            ("settling contact of 20 cases / factorisation", settle / bare, 0.2),
            ("3 buckling factors / assembly + factorisation", buckle / (assemble + bare), 5.0),
            ("6 modes / assembly + factorisation", vibrate / (assemble + bare), 3.0),
            ("factor and 20 solutions in fronts / by SuperLU", ours / superlu, 1.0),
            ("mesh to verdict, four cases with contact / factorisation", four / bare, 6.0)]
    beyond = 0
    for text, ratio, limit in rows:
        beyond |= ratio > limit
        print(f"  {text:60} {ratio:7.3f}   limit {limit:5.2f}{'   BEYOND' if ratio > limit else ''}")
    print(f"  one case from mesh to displacement {whole:.3f} s; with contact, four cases {four:.3f} s")
    print(f"  20 whole contact answers on a ready structure {twenty:.3f} s, one {one:.3f} s")
    print(f"  largest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2:.2f} GiB")
    return int(beyond)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1])) if len(sys.argv) > 1 else main())
