"""What joints, fixings and rods of a stand get and may carry, by hand from the published loads behind them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from steadfold.quantities import Range
from steadfold.stand.frames import triangle_pair
from steadfold.stand.joining import (
    fixing_capacity,
    joint_answers,
    joint_capacity,
    on_fixing,
    rod_limit_n,
    through_bolt_in_wood,
)
from steadfold.stand.records import Fixing, Held, Joint, Leaning, Machine, Stand, TieRod
from steadfold.stand.statics import cases_of, member_forces, solved
from steadfold.stand.structure import built

LBF = 4.4482216152605
NUT = Joint("pinned", bolt="1/2", bolts=2, in_channel=True, from_end_mm=40.0)
THROUGH = Fixing("wood board", "M12", 2, 80.0, "8.8", wood="C24", wood_mm=60.0, through=True, washer_mm=37.0)


def stand(joint: Joint, fixing: Fixing | None = None, profile: str = "strut 41x41 12 ga") -> Stand:
    frame = triangle_pair(
        650.0, 560.0, math.radians(30.0), 0.0, profile, frames=1, arm_joint=joint, brace_joint=joint, fixing=fixing
    )
    machine = Machine("press", Range(69.025, 69.025), (308.8, 0.0, 200.0), ((120.0, 0.0), (580.0, 0.0)))
    return Stand(
        "s", frame.nodes, frame.members, frame.held, (), machine, Leaning(300.0, "tip"), level_at=("tip",), knock_n=0.0
    )


def answers(of: Stand) -> dict[str, object]:
    ready = built(of)
    cases = cases_of(ready, own_weight=False)
    results = solved(ready, cases)
    forces = [member_forces(ready, result) for result in results]
    return {each.name: each for each in joint_answers(ready, cases, results, forces)}


def test_two_channel_nuts_share_the_braces_push_along_the_channel() -> None:
    """1443 N on two nuts of 1500 lbf each (published slip, factor 3 inside): 0.108."""
    found = answers(stand(NUT))["brace at brace foot"]
    assert found.share == pytest.approx(1443.0 / (2 * 1500.0 * LBF), rel=0.02)
    assert found.case == "leaning" and found.slips is False and "channel nut" in found.link


def test_nuts_near_the_end_of_a_channel_hold_half() -> None:
    near = replace(NUT, from_end_mm=20.0)
    far, close = (answers(stand(joint))["brace at brace foot"].share for joint in (NUT, near))
    assert close == pytest.approx(2.0 * far, rel=1e-6)


def test_metric_channel_has_no_published_slip_and_is_unproven() -> None:
    found = answers(stand(replace(NUT, bolt="M12"), profile="strut 41x41x2.5"))["brace at brace foot"]
    assert found.share is None and "no published slip" in found.why


def test_a_slip_of_ones_own_is_used_as_it_stands() -> None:
    """1443 of 1200 N: it slips, share 1.2."""
    own = Joint("pinned", in_channel=True, slip_n=1200.0, slip_source="pulled one")
    found = answers(stand(own))["brace at brace foot"]
    assert found.share == pytest.approx(1443.0 / 1200.0, rel=0.02) and found.slips


def test_a_bolt_through_holes_is_rated_in_shear_and_bearing() -> None:
    """M12 8.8, one plane: 0.6 x 800 x 84.3 / 2 = 20,232 N; bearing in 2.667 mm of Fu 310 is less and governs."""
    ready = built(stand(Joint("pinned", bolt="M12", grade="8.8")))
    capacity = joint_capacity(ready, 1, ready.stand.members[1].joints[0])
    shear = {link.what: link.shear_n for link in capacity.links}
    assert shear["M12 8.8"] == pytest.approx(0.6 * 800.0 * 84.3 / 2.0, rel=1e-6)
    assert capacity.shear_n is not None and capacity.shear_n < shear["M12 8.8"]


def test_a_bolt_that_is_not_named_is_unproven() -> None:
    found = answers(stand(Joint("pinned")))
    assert found["brace at brace foot"].share is None and "not given" in found["brace at brace foot"].why


def test_a_through_bolt_pulls_on_its_washer_in_the_wood() -> None:
    """C24: 3 x 2.5 x 0.6 / 1.3 / 1.4 over the ring of a 37 mm washer less its 13.5 mm hole: 2314 N; the bolt holds
    more.

    EN 1995-1-1, 8.5.2(2) and EN 338 (recalled).
    """
    ring = math.pi / 4.0 * (37.0**2 - 13.5**2)
    found = through_bolt_in_wood(THROUGH)
    assert found.tension_n == pytest.approx(3.0 * 2.5 * 0.6 / 1.3 / 1.4 * ring, rel=1e-6)
    assert found.proven


@pytest.mark.parametrize("lost", ["wood", "wood_mm", "washer_mm"])
def test_a_through_bolt_without_its_wood_or_washer_is_unproven(lost: str) -> None:
    assert not through_bolt_in_wood(replace(THROUGH, **{lost: None})).proven
    assert not fixing_capacity(None).proven


def test_pull_and_moment_on_a_fixing_share_by_number_and_distance() -> None:
    """Pull 1250 N out of the bench, shear 256 N, moment 20 N m about y on two bolts 80 mm apart: 625 + 250; 128 N
    each.
    """
    held = Held("root", "clamped", "bench", THROUGH)
    force = np.array([-1250.0, 0.0, 256.0, 0.0, 20_000.0, 0.0])
    pull, across = on_fixing(held, force)
    assert pull == pytest.approx(625.0 + 20_000.0 / 80.0)
    assert across == pytest.approx(128.0)
    floor = Held("foot", "hinged", "floor", THROUGH)
    assert on_fixing(floor, np.array([30.0, 40.0, -100.0, 0.0, 0.0, 0.0])) == pytest.approx((50.0, 25.0))


def test_the_top_of_the_triangle_pulls_and_its_foot_only_presses() -> None:
    found = answers(stand(NUT, THROUGH))
    assert found["root to bench"].axial_n == pytest.approx(1250.0 / 2.0, rel=0.02)
    assert found["brace foot to bench"].axial_n < 0.0
    assert found["root to bench"].share > found["brace foot to bench"].share


@pytest.mark.parametrize(("size", "load"), [("1/4", 240.0), ("3/8", 610.0), ("1/2", 1130.0)])
def test_rods_of_unknown_grade_carry_what_the_hanger_table_allows(size: str, load: float) -> None:
    """Facility Piping Systems Handbook, table 2.10 (9 ksi on the root area), lbf."""
    assert rod_limit_n(TieRod("r", "a", "b", size))[0] == pytest.approx(load * LBF, rel=1e-6)


def test_a_metric_rod_counts_as_the_lowest_class_unless_its_limit_is_given() -> None:
    """M10 4.6: 0.75 x 225 x 58.0 / 2 = 4894 N (ISO 898-1)."""
    rod = TieRod("r", "a", "b", "M10")
    assert rod_limit_n(rod)[0] == pytest.approx(0.75 * 225.0 * 58.0 / 2.0, rel=1e-3)
    assert rod_limit_n(replace(rod, load_limit_n=3000.0)) == (3000.0, "as given")
