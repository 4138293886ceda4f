"""The general dowel equations against limit analysis: the static theorem as a linear programme, and k1 to k3."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import linprog

from steadfold.joints import Dowel, yield_loads_n

DOWELS = [
    Dowel(1800.0, 3.0, 120.0, 50.0, 9000.0, 9000.0, gap) for gap in (0.0, 6.0, 12.5, 25.0)
] + [
    Dowel(150.0, 40.0, 120.0, 12.0, 9000.0, 9000.0, 0.0),
    Dowel(150.0, 20.0, 90.0, 60.0, 30000.0, 30000.0, 5.0),
    Dowel(60.0, 10.0, 120.0, 60.0, 90000.0, 90000.0, 0.0),
    Dowel(200.0, 60.0, 200.0, 60.0, 3000.0, 3000.0, 10.0),
]  # fmt: skip


def limit_load_n(dowel: Dowel, steps: int) -> float:
    """Largest load for which forces exist that balance and nowhere exceed bearing or bending (static theorem).

    The dowel lies along x: side member from 0 to ls, gap, main member. Bearing is even within a step, so moments are
    exact at the ends of steps; between them they are checked nowhere else, which errs by the order of a step.
    """
    ls, gap, lm = dowel.side_mm, dowel.gap_mm, dowel.main_mm
    side = np.linspace(0.0, ls, steps + 1)
    main = ls + gap + np.linspace(0.0, lm, steps + 1)
    starts = np.concatenate([side[:-1], main[:-1]])
    ends = np.concatenate([side[1:], main[1:]])
    lengths, middles = ends - starts, (starts + ends) / 2.0
    count = len(starts)
    # side presses one way with the load P, main the other way; moments about each section from the free end
    sections = np.concatenate([side, main])
    rows, bounds = [], []
    for x in sections:
        lever = np.where(middles < x, (x - middles) * lengths, 0.0)
        moment = dowel.side_moment_nmm if x <= ls + 1e-12 else dowel.main_moment_nmm
        rows += [np.append(lever, 0.0), np.append(-lever, 0.0)]
        bounds += [moment, moment]
    total_side = np.append(np.where(middles < ls, lengths, 0.0), -1.0)
    total = np.append(lengths, 0.0)
    turning = np.append(lengths * middles, 0.0)
    most = np.where(middles < ls, dowel.side_n_per_mm, dowel.main_n_per_mm)
    answer = linprog(
        np.append(np.zeros(count), -1.0),
        A_ub=np.array(rows), b_ub=np.array(bounds),
        A_eq=np.array([total_side, total, turning]), b_eq=np.zeros(3),
        bounds=[(-m, m) for m in most] + [(0.0, None)],
    )  # fmt: skip
    assert answer.success, answer.message
    return float(-answer.fun)


@pytest.mark.parametrize("dowel", DOWELS)
def test_the_least_mode_is_the_limit_load_of_the_dowel(dowel: Dowel) -> None:
    lowest = min(yield_loads_n(dowel).values())
    assert limit_load_n(dowel, 160) == pytest.approx(lowest, rel=0.004)


def test_the_programme_closes_in_on_the_equations_as_steps_get_finer() -> None:
    dowel = DOWELS[1]
    lowest = min(yield_loads_n(dowel).values())
    errors = [abs(limit_load_n(dowel, steps) / lowest - 1.0) for steps in (20, 160)]
    assert errors[1] < errors[0] / 3.0 or errors[1] < 1e-5


@pytest.mark.parametrize("dowel", [d for d in DOWELS if d.gap_mm == 0.0 and d.side_moment_nmm == d.main_moment_nmm])
def test_without_a_gap_the_equations_are_those_with_k1_k2_k3(dowel: Dowel) -> None:
    """NDS Table 12.3.1A in its own letters, D 1 mm, so that bearing per length is bearing strength (recalled)."""
    fem, fes, lm, ls = dowel.main_n_per_mm, dowel.side_n_per_mm, dowel.main_mm, dowel.side_mm
    fyb = 6.0 * dowel.side_moment_nmm
    re, rt = fem / fes, lm / ls
    k1 = (math.sqrt(re + 2 * re**2 * (1 + rt + rt**2) + rt**2 * re**3) - re * (1 + rt)) / (1 + re)
    k2 = -1 + math.sqrt(2 * (1 + re) + 2 * fyb * (1 + 2 * re) / (3 * fem * lm**2))
    k3 = -1 + math.sqrt(2 * (1 + re) / re + 2 * fyb * (2 + re) / (3 * fem * ls**2))
    expected = {
        "Im": lm * fem, "Is": ls * fes, "II": k1 * ls * fes, "IIIm": k2 * lm * fem / (1 + 2 * re),
        "IIIs": k3 * ls * fem / (2 + re), "IV": math.sqrt(2 * fem * fyb / (3 * (1 + re))),
    }  # fmt: skip
    assert yield_loads_n(dowel) == pytest.approx(expected, rel=1e-9)


def test_a_wide_gap_leaves_a_cantilever() -> None:
    """With the gap far over the bearing lengths mode IV tends to 2 M / g."""
    loads = yield_loads_n(Dowel(500.0, 50.0, 500.0, 50.0, 9000.0, 9000.0, 5000.0))
    assert loads["IV"] == pytest.approx(18000.0 / 5000.0, rel=1e-3)


def test_a_gap_never_helps() -> None:
    last = math.inf
    for gap in np.linspace(0.0, 40.0, 21):
        lowest = min(yield_loads_n(Dowel(1800.0, 3.0, 120.0, 50.0, 9000.0, 9000.0, float(gap))).values())
        assert lowest < last
        last = lowest
