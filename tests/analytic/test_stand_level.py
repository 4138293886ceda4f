"""Levelling by rods: turns by hand geometry, the moved frame beside closed forms, and the fight with a tight brace."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from steadfold.mechanics import Loads
from steadfold.quantities import Range
from steadfold.stand.fight import fight
from steadfold.stand.frames import RodChoice, shelf_frame, triangle_pair
from steadfold.stand.joining import bar_stress_mpa, rod_answers
from steadfold.stand.level import level_plan
from steadfold.stand.moved import Follower, rotation_vectors, rotations
from steadfold.stand.reading import Vial, low_from_bubble_mm, low_from_degrees_mm
from steadfold.stand.records import Held, Leaning, Machine, Member, Reading, Stand, TieRod
from steadfold.stand.section import section_of
from steadfold.stand.shims import shims
from steadfold.stand.statics import cases_of, solved
from steadfold.stand.structure import built, rod_stiffness_n_per_mm, take_up_mm

HEAD, ROD_AT, TIP = 250.0, 600.0, 650.0


def stand(size: str = "3/8", adjuster: str = "nut") -> Stand:
    rods = RodChoice(ROD_AT, HEAD, size, "turnbuckle" if adjuster == "turnbuckle" else "nut")
    frame = triangle_pair(TIP, 560.0, math.radians(30.0), 0.0, "strut 41x41 12 ga", frames=1, rods=rods)
    machine = Machine("press", Range(69.025, 69.025), (308.8, 0.0, 200.0), ((120.0, 0.0), (580.0, 0.0)))
    return Stand("s", frame.nodes, frame.members, frame.held, frame.tie_rods, machine, Leaning(300.0, "tip"),
                 level_at=frame.level_at)  # fmt: skip


def pair(size: str = "M10") -> Stand:
    frame = triangle_pair(
        TIP, 560.0, math.radians(30.0), 500.0, "strut 41x41 12 ga", rods=RodChoice(ROD_AT, HEAD, size)
    )
    machine = Machine("press", Range(125.5, 125.5), (308.8, 225.0, 200.0),
                      ((120.0, 0.0), (580.0, 0.0), (120.0, 500.0), (580.0, 500.0)))  # fmt: skip
    return Stand("p", frame.nodes, frame.members, frame.held, frame.tie_rods, machine, level_at=frame.level_at)


def closed_form_low_mm(low_mm: float, turns: float, per_turn_mm: float, pull_n: float) -> float:
    """How low the tip ends by hand: a stiff arm on a hinge, a rod that stretches, a post clamped at arm level.

    The rod now reaches from the post's head to where its foot lies; turned, stretched by T l / A E and its head
    drawn in by T cos h3 / 3 E I. The arm's own bending between root, foot and tip is left out (0.02 mm here).
    """
    section = section_of("strut 41x41 12 ga")
    angle = math.asin(low_mm / TIP)
    now = math.hypot(ROD_AT * math.cos(angle), HEAD + ROD_AT * math.sin(angle))
    length = now - turns * per_turn_mm
    phi = math.atan2(HEAD, ROD_AT)
    length += pull_n * length / (200_000.0 * 0.0775 * 25.4**2)
    drawn = pull_n * math.cos(phi) * HEAD**3 / (3.0 * section.modulus_mpa * section.second_moment_y_mm4)
    # foot of the rod on its circle about the root, `length` from the head, which has come `drawn` nearer
    low, high = -0.2, 0.2
    for _ in range(80):
        middle = 0.5 * (low + high)
        reach = math.hypot(ROD_AT * math.cos(middle) - drawn, HEAD + ROD_AT * math.sin(middle))
        low, high = (middle, high) if reach < length else (low, middle)
    return TIP * math.sin(0.5 * (low + high))


@pytest.mark.parametrize(
    ("size", "adjuster", "turns"), [("3/8", "nut", 1.34), ("M10", "nut", 1.42), ("3/8", "turnbuckle", 0.67)]
)
def test_turns_by_geometry_are_those_of_the_hand_calculation(size: str, adjuster: str, turns: float) -> None:
    """6 mm low at 650, rod at 600, head 250 above: 2.11 to 2.13 mm of rod."""
    plan = level_plan(stand(size, adjuster), [Reading("tip", 6.0)], own_weight=False)
    assert plan.geometric_turns[0] == pytest.approx(turns, abs=0.01)


def test_stretch_and_the_bending_post_take_a_fifth_of_a_turn_more() -> None:
    """The rods take the load once the brace is loose: 0.90 mm at the tip, + 0.20 turn."""
    plan = level_plan(stand(), [Reading("tip", 6.0)], own_weight=False)
    assert plan.turns[0] - plan.geometric_turns[0] == pytest.approx(0.20, abs=0.005)
    assert plan.turns[0] == pytest.approx(1.54, abs=0.05)
    assert plan.steps[0].low_mm[0] - 6.0 == pytest.approx(0.90, abs=0.02)


@pytest.mark.parametrize("low", [2.0, 6.0, 15.0])
def test_turns_found_leave_less_than_a_tenth_of_a_millimetre_by_the_closed_form(low: float) -> None:
    plan = level_plan(stand(), [Reading("tip", low)], own_weight=False)
    assert plan.worst_left_mm < 0.1
    assert abs(closed_form_low_mm(low, plan.turns[0], 1.5875, plan.steps[-1].rods_n[0])) < 0.1


def test_a_pair_out_of_level_both_ways_is_levelled_side_by_side() -> None:
    """Each side by the closed form of its own; the crossbar and the machine's share make small differences."""
    plan = level_plan(pair("3/8"), [Reading("left tip", 6.0), Reading("right tip", 2.5)], own_weight=False)
    assert plan.worst_left_mm < 0.1
    assert plan.twist_mm == pytest.approx(3.5)
    assert plan.turns[0] > plan.turns[1] > 0.0
    for low, turns, geometric in zip((6.0, 2.5), plan.turns, plan.geometric_turns, strict=True):
        assert geometric * 1.5875 == pytest.approx(_rod_excess(low), rel=1e-9)
        assert 0.05 < turns - geometric < 0.35
    first = plan.steps[1]
    assert first.say.startswith("tighten left rod by 0.50 turn")


def _rod_excess(low: float) -> float:
    angle = math.asin(low / TIP)
    return math.hypot(ROD_AT * math.cos(angle), HEAD + ROD_AT * math.sin(angle)) - math.hypot(ROD_AT, HEAD)


def test_with_the_brace_tight_the_rods_fight_it() -> None:
    """2.11 mm of rod against a tight brace: 5.5 kN in the rod, the brace goes to 3.8 kN of pull, 0.33 mm of rise."""
    ready = built(stand())
    case = cases_of(ready, own_weight=False)[0]
    found = fight(ready, case, np.array([2.11]), ("tip",))
    assert found.rod_n == pytest.approx(5500.0, rel=0.02)
    assert found.brace_n == pytest.approx(3800.0, rel=0.02)
    assert found.rise_mm == pytest.approx(0.33, abs=0.01)
    assert level_plan(stand(), [Reading("tip", 6.0)]).loosen == ("brace",)


def test_lift_per_turn_is_take_up_over_the_sine_carried_to_the_tip() -> None:
    """3/8-16 at phi 22.62 degrees: 1.5875 / sin phi x 650 / 600 = 4.47 mm a turn of the nut."""
    plan = level_plan(stand(), [Reading("tip", 6.0)], own_weight=False)
    assert plan.lift_per_turn_mm[0][0] == pytest.approx(
        1.5875 / math.sin(math.atan2(HEAD, ROD_AT)) * TIP / ROD_AT, rel=2e-3
    )


@pytest.mark.parametrize(("size", "adjuster", "take_up"), [
    ("3/8", "nut", 1.5875), ("3/8", "turnbuckle", 3.175), ("1/2", "nut", 1.9538), ("1/2", "turnbuckle", 3.9077),
])  # fmt: skip
def test_take_up_of_a_turn_is_a_pitch_or_two(size: str, adjuster: str, take_up: float) -> None:
    rod = TieRod("r", "a", "b", size, "turnbuckle" if adjuster == "turnbuckle" else "nut")
    assert take_up_mm(rod) == pytest.approx(take_up, rel=1e-4)
    # at 30 degrees to the arm the lift is twice that
    assert take_up_mm(rod) / math.sin(math.radians(30.0)) == pytest.approx(2.0 * take_up, rel=1e-4)


def test_rods_that_carry_everything_have_the_stress_and_torque_of_the_hand_calculation() -> None:
    """906 / 1751 N: 18 / 35 MPa over 50 mm2, 1.7 / 3.3 N m to turn the nut (0.2 F d)."""
    ready = built(stand(), loosened=frozenset({"brace"}))
    both = cases_of(ready, own_weight=False)[:2]
    for case, tension, stress, torque in zip(both, (906.0, 1751.0), (18.0, 35.0), (1.7, 3.3), strict=True):
        answer = rod_answers(ready, (case,), solved(ready, [case]))[0]
        assert answer.tension_n == pytest.approx(tension, rel=0.02)
        assert answer.stress_mpa == pytest.approx(stress, abs=0.5)
        assert answer.nut_torque_nmm / 1000.0 == pytest.approx(torque, abs=0.05)


@pytest.mark.parametrize(("tension", "lever", "stress"), [
    (1751.0, 40.0, 388.0), (1751.0, 25.0, 243.0), (1751.0, 15.0, 146.0),
    (906.0, 40.0, 201.0), (906.0, 25.0, 125.0), (906.0, 15.0, 75.0),
])  # fmt: skip
def test_a_crossbar_drilled_through_sees_what_its_little_section_says(
    tension: float, lever: float, stress: float
) -> None:
    """19.05 mm bar with a 10 mm hole, Z 181 mm3, the rod 40, 25 or 15 mm off its support."""
    assert bar_stress_mpa(tension, 19.05, 10.0, lever) == pytest.approx(stress, rel=0.01)


def test_the_moved_frame_is_the_linear_one_while_it_hardly_moves() -> None:
    ready = built(stand(), loosened=frozenset({"brace"}))
    case = cases_of(ready, own_weight=True)[0]
    linear = solved(ready, [case])[0]
    rest = Follower(ready, case.loads).rest(np.array(ready.rods_mm))
    assert rest.rods_n[0] == pytest.approx(linear.tie_n[0], rel=1e-3)
    assert rest.lifted_mm(ready, "tip") == pytest.approx(float(linear.displacement[ready.node_of["tip"], 2]), rel=2e-3)


def test_a_strip_rolled_by_an_end_moment_becomes_an_arc_of_a_circle() -> None:
    """M = theta E I / L bends a cantilever to an arc: tip at L sin(theta) / theta, L (1 - cos theta) / theta
    (elastica).

    The standard test of large rotations; sixteen pieces, theta 1 rad.
    """
    count, length, theta = 16, 500.0, 1.0
    nodes = {f"n{k}": (length * k / count, 0.0, 0.0) for k in range(count + 1)}
    strip = Member("strip", "n0", f"n{count}", "flat bar 30x5")
    ready = built(Stand("roll", nodes, (strip,), (Held("n0"),), level_at=("n0",)))
    section = section_of("flat bar 30x5")
    nodal = np.zeros((len(ready.places), 6))
    nodal[ready.node_of[f"n{count}"], 4] = -theta * section.modulus_mpa * section.second_moment_y_mm4 / length
    rest = Follower(ready, Loads(nodal=nodal)).rest(np.zeros(0))
    tip = rest.places[ready.node_of[f"n{count}"]]
    assert tip[0] == pytest.approx(length * math.sin(theta) / theta, rel=1e-3)
    assert tip[2] == pytest.approx(length * (1.0 - math.cos(theta)) / theta, rel=1e-3)


def test_rotations_turn_back_into_their_vectors() -> None:
    vectors = np.random.default_rng(3).normal(size=(50, 3))
    vectors *= (np.linspace(0.0, 3.0, 50) / np.linalg.norm(vectors, axis=1))[:, None]
    assert np.allclose(rotation_vectors(rotations(vectors)), vectors, atol=1e-9)


def test_a_slope_or_a_bubble_says_how_low_an_end_lies() -> None:
    """0.5 degrees over 650 mm: 5.67 mm; 2 divisions of 0.5 mm per m over 600 mm: 0.6 mm."""
    assert low_from_degrees_mm(0.5, 650.0) == pytest.approx(650.0 * math.tan(math.radians(0.5)))
    assert low_from_bubble_mm(2.0, 600.0) == pytest.approx(0.6)
    assert low_from_bubble_mm(2.0, 600.0, Vial(0.3)) == pytest.approx(0.36)


def test_a_stand_on_legs_is_shimmed_to_a_plane_and_its_highest_foot_gets_nothing() -> None:
    """Lows of 0, 2, 5 and 3 mm lie in a plane; feet get just these."""
    frame = shelf_frame(600.0, 400.0, 700.0, "square tube 40x3", low_rails_mm=150.0)
    legs = Stand("legs", frame.nodes, frame.members, frame.held, level_at=frame.level_at)
    lows = {"back left": 0.0, "back right": 2.0, "front right": 5.0, "front left": 3.0}
    found = {each.foot: each.mm for each in shims(legs, [Reading(f"{name} top", low) for name, low in lows.items()])}
    assert found == pytest.approx({f"{name} foot": low for name, low in lows.items()}, abs=1e-9)


def test_slack_rods_take_their_slack_up_first() -> None:
    """2 mm of slack is 2 / 1.5875 turns more."""
    tight = level_plan(stand(), [Reading("tip", 6.0)], own_weight=False)
    slack = stand()
    slack = replace(slack, tie_rods=(replace(slack.tie_rods[0], slack_mm=2.0),))
    found = level_plan(slack, [Reading("tip", 6.0)], own_weight=False)
    assert found.turns[0] - tight.turns[0] == pytest.approx(2.0 / 1.5875, rel=0.01)


def test_a_rod_stretches_by_its_pull_over_its_stiffness() -> None:
    """3/8-16, 900 mm, 2000 N, E 200 GPa, 50.0 mm2: 0.18 mm (F L / A E)."""
    rod = TieRod("r", "a", "b", "3/8")
    assert 2000.0 / rod_stiffness_n_per_mm(rod, 900.0) == pytest.approx(0.18, rel=2e-3)
