"""A triangle of strut under a heavy machine, worked by hand: forces, moments, droop, and what rods above change.

The worked case: two feet of a 125.5 kg machine on each arm, one frame taking 55 % of it, a person leaning with 300 N
at the tip, a hinged arm with a brace at 30 degrees that meets it at 560 mm. Hand values with A 359, I 77,000, Z
3310, E 200 GPa and g 9.81; ours are compared with 2 %, as the story that sets them asks (section from geometry, E
203 GPa).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from steadfold.mechanics import Loads
from steadfold.quantities import Range
from steadfold.stand.frames import RodChoice, triangle_pair, wall_bracket
from steadfold.stand.records import Joint, Leaning, Machine, Stand
from steadfold.stand.statics import (
    Case,
    cases_of,
    lean_load,
    machine_load,
    member_forces,
    sag_mm,
    solved,
    support_forces,
)
from steadfold.stand.structure import Built, built, turned

PRESS = Machine(
    "press", Range(125.5, 125.5), (308.8, 225.0, 200.0),
    ((120.0, 0.0), (580.0, 0.0), (120.0, 500.0), (580.0, 500.0)),
)  # fmt: skip


ONE_FRAME = Machine("press", Range(69.025, 69.025), (308.8, 0.0, 200.0), ((120.0, 0.0), (580.0, 0.0)))
"""The 55 % of it that one frame takes."""


def stand(angle_deg: float = 30.0, brace_at: float = 560.0, rods: RodChoice | None = None, **joints: Joint) -> Stand:
    frame = triangle_pair(
        650.0, brace_at, math.radians(angle_deg), 0.0, "strut 41x41 12 ga", frames=1, rods=rods, **joints
    )
    return Stand(
        "press stand", frame.nodes, frame.members, frame.held, frame.tie_rods, ONE_FRAME, Leaning(300.0, "tip"),
        level_at=frame.level_at,
    )  # fmt: skip


def pair() -> Stand:
    frame = triangle_pair(650.0, 560.0, math.radians(30.0), 500.0, "strut 41x41 12 ga")
    return Stand(
        "press stand", frame.nodes, frame.members, frame.held, frame.tie_rods, PRESS, Leaning(300.0, "left tip"),
        level_at=frame.level_at,
    )  # fmt: skip


def answers(of: Stand) -> tuple[Built, dict[str, object]]:
    """Resting and leaning, without the frame's own weight, as the hand calculation has them."""
    ready = built(of)
    both = cases_of(ready, own_weight=False)[:2]
    return ready, dict(zip(("resting", "leaning"), solved(ready, both), strict=True))


@pytest.mark.parametrize(
    ("case", "moment", "brace", "pull", "shear", "arm_moment"),
    [("resting", 209.1, 747.0, 647.0, 304.0, 36.5), ("leaning", 404.1, 1443.0, 1250.0, 256.0, 32.6)],
)
def test_triangle_carries_what_hand_statics_says(
    case: str, moment: float, brace: float, pull: float, shear: float, arm_moment: float
) -> None:
    ready, results = answers(stand())
    forces = dict(zip((m.name for m in ready.stand.members), member_forces(ready, results[case]), strict=True))
    root = support_forces(ready, results[case])["root"]
    assert -forces["brace"].axial_n == pytest.approx(brace, rel=0.02)
    assert -root[0] == pytest.approx(pull, rel=0.02)
    assert root[2] == pytest.approx(shear, rel=0.02)
    assert forces["arm"].largest_moment_nmm / 1000.0 == pytest.approx(arm_moment, rel=0.02)
    about_root = brace * math.sin(math.radians(30.0)) * 0.560
    assert about_root == pytest.approx(moment, rel=0.005)


def test_members_loaf_at_a_twelfth_of_what_they_may() -> None:
    """Bending 10 to 11 MPa and 3.5 of pull, of 172 allowed by the industry's tables (recalled): about 8 %."""
    ready, results = answers(stand())
    arm = member_forces(ready, results["leaning"])[0]
    section = ready.sections[0]
    stress = np.abs(arm.moment_y_nmm) / section.modulus_y_mm3 + np.abs(arm.pull_n) / section.area_mm2
    assert 100.0 * stress.max() / 172.0 == pytest.approx(8.0, abs=1.0)


def test_droop_from_stretch_and_bending_is_a_twentieth_of_a_millimetre() -> None:
    """0.043 mm at 560 and 0.065 at the tip by hand."""
    ready, results = answers(stand())
    assert sag_mm(ready, results["leaning"], "brace top") == pytest.approx(0.043, abs=0.001)
    assert sag_mm(ready, results["leaning"], "tip") == pytest.approx(0.065, abs=0.001)


def test_two_frames_share_as_the_centre_of_mass_says() -> None:
    """The centre of mass lies 45 % of the spacing from the left frame: that takes 55 %, 399.3 and 277.9 N on its
    feet.
    """
    ready = built(pair())
    load = machine_load(ready, 125.5, PRESS.centre_mm)
    at = {
        float(x): -float(f)
        for x, y, f in zip(ready.places[:, 0], ready.places[:, 1], load[:, 2], strict=True)
        if f and y == 0
    }
    assert at == pytest.approx({120.0: 399.3, 580.0: 277.9}, rel=0.001)


def test_a_rigid_root_takes_some_of_the_brace_force() -> None:
    """The same frame with a root that cannot turn: brace 1360 N, tip 0.075 mm by another frame program."""
    ready, results = answers(stand(arm_joint=Joint("welded")))
    brace = member_forces(ready, results["leaning"])[1]
    assert -brace.axial_n == pytest.approx(1360.0, rel=0.02)
    assert sag_mm(ready, results["leaning"], "tip") == pytest.approx(0.075, abs=0.001)


@pytest.mark.parametrize(
    ("brace_at", "brace", "pull", "drop"), [(560.0, 833.0, 417.0, 970.0), (400.0, 1166.0, 583.0, 693.0)]
)
def test_a_steeper_brace_pulls_less_on_the_bench(brace_at: float, brace: float, pull: float, drop: float) -> None:
    ready, results = answers(stand(60.0, brace_at))
    forces = member_forces(ready, results["leaning"])
    assert -forces[1].axial_n == pytest.approx(brace, rel=0.02)
    assert -support_forces(ready, results["leaning"])["root"][0] == pytest.approx(pull, rel=0.02)
    assert -ready.stand.nodes["brace foot"][2] == pytest.approx(drop, rel=0.002)


def test_an_arm_that_overhangs_its_brace_bends_over_it() -> None:
    """a = 400: the overhang's moment is 125 N m, 38 MPa."""
    ready, results = answers(stand(60.0, 400.0))
    arm = member_forces(ready, results["leaning"])[0]
    at_brace = np.abs(arm.moment_y_nmm[np.isclose(arm.at_mm, 400.0)]).max()
    assert at_brace / 1000.0 == pytest.approx(125.0, rel=0.01)
    assert at_brace / 3310.0 == pytest.approx(38.0, abs=0.4)


def test_heavy_end_out_adds_a_quarter_to_the_moment() -> None:
    """Centre of mass at 391.2 instead of 308.8 mm: +26.7 %."""
    round_about = turned(pair())
    assert round_about.machine is not None
    assert round_about.machine.centre_mm[0] == pytest.approx(391.2, abs=0.05)
    moments = []
    for each in (pair(), round_about):
        ready = built(each)
        load = machine_load(ready, 125.5, each.machine.centre_mm)
        moments.append(float(-(load[:, 2] * ready.places[:, 0]).sum()))
    assert moments[1] / moments[0] - 1.0 == pytest.approx(0.267, abs=0.001)


@pytest.mark.parametrize("angle", [30.0, 45.0, 60.0])
@pytest.mark.parametrize("above", [False, True])
def test_a_load_on_the_tip_of_a_braced_arm_divides_by_sine_and_tangent(angle: float, above: bool) -> None:
    """F / P = 1 / sin, arm 1 / tan: 2.000/1.732, 1.414/1.000, 1.155/0.577 (statics). Below it is pressed, above it
    pulls.
    """
    frame = wall_bracket(500.0, math.radians(angle), "strut 41x41x2.5", brace_at_mm=500.0, brace_above=above)
    ready = built(Stand("bracket", frame.nodes, frame.members, frame.held, level_at=frame.level_at))
    case = Case("leaning", "", Loads(nodal=lean_load(ready, 1000.0, "tip")))
    arm, brace = member_forces(ready, solved(ready, [case])[0])
    sign = 1.0 if above else -1.0
    assert sign * brace.axial_n == pytest.approx(1000.0 / math.sin(math.radians(angle)), rel=5e-4)
    assert -sign * arm.axial_n == pytest.approx(1000.0 / math.tan(math.radians(angle)), rel=5e-4)


def test_rods_that_carry_everything_pull_at_the_post_head() -> None:
    """Brace slack: T 906 / 1751 N, post 209 / 404 N m, 63 / 122 MPa, H 836 / 1616; the arm is pressed; a lower post
    bolt 300 below leaves 1347 N on the bolt at arm level."""
    rods = RodChoice(600.0, 250.0, "3/8", post_below_mm=300.0)
    ready = built(stand(rods=rods), loosened=frozenset({"brace"}))
    both = cases_of(ready, own_weight=False)[:2]
    for result, pull, post, stress, push in zip(
        solved(ready, both), (906.0, 1751.0), (209.0, 404.0), (63.0, 122.0), (836.0, 1616.0), strict=True
    ):
        forces = dict(zip((m.name for m in ready.stand.members), member_forces(ready, result), strict=True))
        assert result.tie_n[0] == pytest.approx(pull, rel=0.02)
        assert forces["post"].largest_moment_nmm / 1000.0 == pytest.approx(post, rel=0.02)
        assert forces["post"].largest_moment_nmm / 3310.0 == pytest.approx(stress, rel=0.02)
        assert -forces["arm"].axial_n == pytest.approx(push, rel=0.02)
    held = support_forces(ready, solved(ready, both[1:2])[0])
    assert abs(held["post foot"][0]) == pytest.approx(1347.0, rel=0.02)


def test_a_rod_inboard_of_the_load_lifts_the_hinge() -> None:
    """P 1000 N at 800, rod at 600 under 30 degrees: T 2666.7, arm 2309.4, the hinge pulls down with 333.3 N
    (statics).
    """
    head = 600.0 * math.tan(math.radians(30.0))
    frame = triangle_pair(
        800.0, 700.0, math.radians(40.0), 400.0, "strut 41x41 12 ga", rods=RodChoice(600.0, head, "1/2")
    )
    ready = built(
        Stand("rod", frame.nodes, frame.members, frame.held, frame.tie_rods, level_at=frame.level_at),
        loosened=frozenset({"left brace", "right brace"}),
    )
    loads = lean_load(ready, 1000.0, "left tip") + lean_load(ready, 1000.0, "right tip")
    result = solved(ready, [Case("leaning", "", Loads(nodal=loads))])[0]
    arm = member_forces(ready, result)[0]
    assert result.tie_n[0] == pytest.approx(2666.7, rel=1e-3)
    assert -arm.pull_n[0] == pytest.approx(2309.4, rel=1e-3)
    assert support_forces(ready, result)["left root"][2] == pytest.approx(-333.3, rel=1e-3)
