"""A rating from mesh to verdict, beside one bare factorisation of the same matrix; memory of ten times as many freedoms.

Run: python benchmarks/strength_speed.py. The part is a shelf of about 20,000 freedoms on four bolts with all its cases,
buckling, the wall behind, the collapse and the second mesh for the error bar; beside it, four of its loadings on one
mesh, from mesh to verdict. Ratios count, not seconds; a ratio or a memory beyond
its limit is marked and the exit code is 1. Threads of the BLAS are pinned to one before numpy loads.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy loads

# ruff: noqa: E402
import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from steadfold.mechanics import ShellReader, buckling, solve
from steadfold.mount.cases import cases
from steadfold.mount.cuts import bend_lines
from steadfold.mount.rating import solved, strength, told
from steadfold.mount.records import Carried, CaseChoices, Fixings, Metal
from steadfold.mount.structure import against_wall, mounted
from steadfold.quantities import Range
from steadfold.sheet.outline import circle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel

MOST_RATIO = 6.0
MOST_GIB = 4.0
STEEL = Metal(210e3, 0.3, 7850.0, 235.0)
CHOICES = CaseChoices(lean_n=300.0)


def shelf() -> Part:
    """A shelf with a lip and two cheeks, 300 by 120, on four bolts."""
    holes = tuple(Cutout(circle(9.0, (x, y))) for x in (40.0, 260.0) for y in (25.0, 75.0))
    panels = (
        rectangular_panel("back", 300.0, 100.0, cutouts=holes),
        rectangular_panel("shelf", 300.0, 120.0, "back", "bottom", 0.5 * np.pi),
        rectangular_panel("lip", 300.0, 25.0, "shelf", "far", 0.5 * np.pi),
        rectangular_panel("left", 120.0, 25.0, "shelf", "left", 0.5 * np.pi),
        rectangular_panel("right", 120.0, 25.0, "shelf", "right", 0.5 * np.pi),
    )
    return resolve(PanelTree(panels), "shelf", 2.0, din_rule(2.0, 2.0, 0.42)).part


FIXINGS = Fixings(0, 8.0, 16.0, 3e5, 1.2e4, 5e-5)
CARRIED = (Carried("tin", Range(1.0, 1.5), 6, "shelf"),)


def seconds(task: Callable[[], object], repeats: int = 3) -> float:
    """Best processor time of a few runs."""
    best = np.inf
    for _ in range(repeats):
        start = time.process_time()
        task()
        best = min(best, time.process_time() - start)
    return float(best)


def bare(matrix: sparse.csc_matrix) -> object:
    """scipy's factorisation for symmetric matrices, with the ordering that suits plates best."""
    return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def main(size_mm: float = 5.0) -> int:
    """Print the table; 1 where a limit is passed."""
    part = shelf()
    base = mounted(part, STEEL, FIXINGS, CARRIED, size_mm)
    loads = [case.loads for case in cases(base, CHOICES)]
    here = against_wall(base, loads)
    results = solve(here.structure, loads)
    unit = seconds(lambda: bare(here.structure.factor.matrix), 5)
    freedoms = here.structure.factor.matrix.shape[0]
    print(f"{freedoms} freedoms, {len(loads)} cases, {here.wall.count} places on the wall, "
          f"{here.structure.model.contacts.count} kept; one bare factorisation {1e3 * unit:.0f} ms")
    steps = {
        "mesh, assembly, factor": lambda: mounted(part, STEEL, FIXINGS, CARRIED, size_mm),
        "the wall": lambda: against_wall(base, loads),
        "cases solved": lambda: solve(here.structure, loads),
        "cuts made ready": lambda: (bend_lines(part, here.mesh, here.pose, here.model), ShellReader(here.model)),
        "buckling": lambda: buckling(here.structure, results[1], 1),
    }
    for what, task in steps.items():
        print(f"  {what:28s} {seconds(task) / unit:6.2f} factorisations")
    named = cases(base, CHOICES)
    four = tuple(next(k for k, case in enumerate(named) if case.name == name) for name in ("resting", "snatch", "knock", "lean"))

    def verdict() -> object:
        once = solved(part, STEEL, FIXINGS, CARRIED, CHOICES, None, size_mm, 3, 20, None, four)
        return told(once, None, None, np.nan)

    one_mesh = seconds(verdict) / unit
    print(f"  {'four loadings, one mesh':28s} {one_mesh:6.2f} factorisations{'' if one_mesh <= MOST_RATIO else f'  BEYOND {MOST_RATIO:g}'}")
    whole = seconds(lambda: strength(part, STEEL, FIXINGS, CARRIED, CHOICES, None, size_mm)) / unit
    passed = whole <= MOST_RATIO
    print(f"  {'all loadings, two meshes':28s} {whole:6.2f} factorisations{'' if passed else f'  BEYOND {MOST_RATIO:g}'}")
    quick = seconds(lambda: strength(part, STEEL, FIXINGS, CARRIED, CHOICES, None, fine=False))
    print(f"  {'the quick answer':28s} {quick / unit:6.2f} factorisations, {quick:.2f} s")
    peak = float(subprocess.run([sys.executable, __file__, "memory"], capture_output=True, text=True, check=True).stdout.split()[-2])
    fits = peak <= MOST_GIB
    print(f"  200,000 freedoms, rated with one mesh: {peak:.2f} GiB{'' if fits else f'  BEYOND {MOST_GIB:g}'}")
    return 0 if passed and fits and one_mesh <= MOST_RATIO else 1


def memory(size_mm: float = 1.5) -> int:
    """Rate the same shelf on a mesh ten times as fine and print the peak of memory."""
    here = mounted(shelf(), STEEL, FIXINGS, CARRIED, size_mm)
    loads = [case.loads for case in cases(here, CHOICES)]
    here = against_wall(here, loads)
    results = solve(here.structure, loads)
    buckling(here.structure, results[1], 1)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    print(f"{here.structure.factor.matrix.shape[0]} freedoms, {peak:.2f} GiB")
    return 0


if __name__ == "__main__":
    sys.exit(memory() if sys.argv[1:] == ["memory"] else main())
