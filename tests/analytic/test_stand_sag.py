"""The sag budget part by part, each against a closed form."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from steadfold.quantities import Range
from steadfold.stand.frames import triangle_pair
from steadfold.stand.records import PINNED, WELDED, Bench, Held, Joint, Leaning, Machine, Member, Stand
from steadfold.stand.sag import SagBudget, sag_budgets
from steadfold.stand.section import section_of
from steadfold.stand.statics import cases_of, solved
from steadfold.stand.structure import built

LOOSE = Joint("pinned", clearance_mm=1.59)


def triangle(bench: Bench | None = None) -> Stand:
    frame = triangle_pair(
        650.0, 560.0, math.radians(30.0), 0.0, "strut 41x41 12 ga", frames=1, arm_joint=LOOSE, brace_joint=LOOSE
    )
    machine = Machine("press", Range(69.025, 69.025), (308.8, 0.0, 200.0), ((120.0, 0.0), (580.0, 0.0)))
    return Stand("t", frame.nodes, frame.members, frame.held, (), machine, Leaning(refused=True), bench,
                 level_at=("brace top", "tip"))  # fmt: skip


def budgets(stand: Stand) -> dict[str, SagBudget]:
    ready = built(stand)
    case = cases_of(ready, own_weight=False)[0]
    return {each.node: each for each in sag_budgets(ready, case, solved(ready, [case])[0])}


def test_slip_at_every_joint_lets_the_brace_joint_down_by_nine_millimetres() -> None:
    """1.59 mm at each joint: two on the brace, 2 x 1.59 / sin 30 = 6.36, one on the arm, 1.59 cot 30 = 2.75; 9.1 mm."""
    found = budgets(triangle())["brace top"]
    by_joint = {each.joint: each.sag_mm for each in found.take_up}
    assert by_joint["brace at brace foot"] + by_joint["brace at brace top"] == pytest.approx(6.36, abs=0.005)
    assert by_joint["arm at root"] == pytest.approx(2.754, abs=0.005)
    assert found.worst_take_up_mm == pytest.approx(9.1, abs=0.05)


def test_root_sum_of_squares_is_what_it_says() -> None:
    """sqrt(2 (1.59 / sin 30)2 + (1.59 cot 30)2), no joint known to hold."""
    found = budgets(triangle())["brace top"]
    expected = math.sqrt(2 * (1.59 / 0.5) ** 2 + (1.59 * math.sqrt(3.0)) ** 2)
    assert found.likely_take_up_mm == pytest.approx(expected, rel=1e-3)


def test_clearance_governs_the_sag_of_a_bolted_triangle_a_hundred_times_over() -> None:
    found = budgets(triangle())["tip"]
    assert found.worst_take_up_mm > 100.0 * found.elastic_mm
    assert found.worst_take_up_mm == pytest.approx(9.114 * 650.0 / 560.0, rel=0.002)


def test_joints_known_to_hold_by_friction_do_not_count() -> None:
    stand = triangle()
    held = Joint("pinned", clearance_mm=1.59, slip_n=2000.0, slip_source="pulled one")
    firm = replace(stand, members=tuple(
        replace(m, joints=(held, held if m.role == "brace" else m.joints[1])) for m in stand.members
    ))  # fmt: skip
    found = budgets(firm)["tip"]
    assert found.worst_take_up_mm == 0.0
    assert found.all_take_up_mm == pytest.approx(9.114 * 650.0 / 560.0, rel=0.002)
    weak = Joint("pinned", clearance_mm=1.59, slip_n=500.0, slip_source="pulled one")
    slipping = replace(stand, members=tuple(
        replace(m, joints=(weak, weak if m.role == "brace" else m.joints[1])) for m in stand.members
    ))  # fmt: skip
    assert budgets(slipping)["tip"].worst_take_up_mm == pytest.approx(9.114 * 650.0 / 560.0, rel=0.002)


def test_a_bench_that_racks_lets_the_tip_down_by_the_pull_over_its_stiffness() -> None:
    """A shear frame: side leans by H / (k h); H = M / d = 647 N, k 200 N/mm at 860 mm; 650 mm out: 2.45 mm."""
    bench = Bench(Range(95.0, 95.0), (-940.0, 0.0), ((-120.0, 0.0), (-1760.0, 0.0)), 860.0, rack_n_per_mm=200.0)
    found = budgets(triangle(bench))["tip"]
    assert found.racking_mm == pytest.approx(646.7 / (200.0 * 860.0) * 650.0, rel=0.002)


def test_a_bolted_root_turns_by_the_moment_over_its_stiffness() -> None:
    """A cantilever on a turning spring: P L3 / 3 E I + P L2 / k; the two parts stand apart in the budget."""
    turning = Joint("bolted", turn_nmm_per_rad=3.0e7)
    nodes = {"root": (0.0, 0.0, 0.0), "tip": (600.0, 0.0, 0.0)}
    machine = Machine("vice", Range(40.0, 40.0), (600.0, 0.0, 100.0), ((600.0, 0.0),))
    stand = Stand("arm", nodes, (Member("arm", "root", "tip", "square tube 40x3", (turning, WELDED), role="arm"),),
                  (Held("root"),), (), machine, Leaning(refused=True), level_at=("tip",))  # fmt: skip
    found = budgets(stand)["tip"]
    section = section_of("square tube 40x3")
    load = 40.0 * 9.80665
    bending = load * 600.0**3 / (3.0 * section.modulus_mpa * section.second_moment_y_mm4)
    assert found.elastic_mm == pytest.approx(bending, rel=1e-6)
    assert found.turning_mm == pytest.approx(load * 600.0**2 / 3.0e7, rel=1e-6)


def test_a_yielding_support_adds_its_own_part() -> None:
    """Pull H at a root that gives k lets the tip down by H / k x (reach / drop): the triangle turns about its foot."""
    stand = triangle()
    soft = replace(
        stand,
        members=tuple(replace(m, joints=(PINNED, PINNED if m.role == "brace" else m.joints[1])) for m in stand.members),
        held=tuple(replace(h, gives_n_per_mm=2000.0) if h.node == "root" else h for h in stand.held),
    )
    found = budgets(soft)["tip"]
    drop = 560.0 * math.tan(math.radians(30.0))
    assert found.giving_mm == pytest.approx(646.7 / 2000.0 * 650.0 / drop, rel=0.01)
