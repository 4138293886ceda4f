"""The sag budget: what of the droop is bending, what is joints that turn or shift, what is the bench.

Every part in mm at the places whose height matters, the clearances as the worst case and as a root sum of squares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from steadfold.mechanics import Loads, Result, solve
from steadfold.stand.joining import joint_capacity
from steadfold.stand.records import Joint, Stand
from steadfold.stand.statics import Case, member_forces, sag_mm, solved, support_forces
from steadfold.stand.structure import Built, built

PROBE_N = 1.0
"""Weight hung on a node to learn how each member feels it."""

SAG_SHARE_OF_REACH = 1.0 / 200.0
"""Sag allowed over the reach of an arm where the owner sets none; common practice, no source."""


@dataclass(frozen=True)
class TakeUp:
    """What the clearance of one joint lets a node down by: mm, and whether friction is known to hold it.

    `force_n` along the member at that end, pull positive; `slip_n` what holds it, None where nobody says.
    """

    joint: str
    sag_mm: float
    force_n: float
    slip_n: float | None

    @property
    def holds(self) -> bool:
        """True only where friction is known and stronger than the force."""
        return self.slip_n is not None and abs(self.force_n) <= self.slip_n


@dataclass(frozen=True)
class SagBudget:
    """Droop of one node under the machine, part by part, mm; `racking_mm` None where the bench was never measured.

    `over_mm` is the level distance from where the frame is held, for slopes.
    """

    node: str
    over_mm: float
    elastic_mm: float
    turning_mm: float
    giving_mm: float
    racking_mm: float | None
    take_up: tuple[TakeUp, ...]

    @property
    def still_mm(self) -> float:
        """Droop as long as no joint shifts: bending, turning, giving, racking."""
        return self.elastic_mm + self.turning_mm + self.giving_mm + (self.racking_mm or 0.0)

    @property
    def worst_take_up_mm(self) -> float:
        """All clearances of joints not known to hold, at their worst together."""
        return sum(max(each.sag_mm, 0.0) for each in self.take_up if not each.holds)

    @property
    def likely_take_up_mm(self) -> float:
        """Root sum of squares of the same."""
        return math.sqrt(sum(each.sag_mm**2 for each in self.take_up if not each.holds))

    @property
    def all_take_up_mm(self) -> float:
        """All clearances, the joints that hold included: what is there to be used up if they let go."""
        return sum(max(each.sag_mm, 0.0) for each in self.take_up)

    @property
    def worst_mm(self) -> float:
        """Everything at its worst."""
        return self.still_mm + self.worst_take_up_mm

    @property
    def likely_mm(self) -> float:
        """Everything, with the clearances as a root sum of squares."""
        return self.still_mm + self.likely_take_up_mm

    @property
    def slope_mm_per_m(self) -> float:
        """The likely droop as a slope from where the frame is held."""
        return 1000.0 * self.likely_mm / self.over_mm if self.over_mm > 0.0 else 0.0


def sag_budgets(ready: Built, case: Case, result: Result) -> tuple[SagBudget, ...]:
    """The budget of every node in `level_at` under a case (resting, as a rule) and its answer.

    Turning is what bolted joints add to the same frame with stiff ones, giving what yielding supports add. A
    clearance s along a member lowers a node by s times the member's force from a unit weight there (Betti; exact for
    small displacements), counted in the direction in which the case pushes the joint.
    """
    stand = ready.stand
    stiff, stiff_result = _changed(ready, case, result, stiff_joints=True, stiff_supports=True)
    firm, firm_result = _changed(ready, case, result, stiff_joints=False, stiff_supports=True)
    rotation = racking_rotation_rad(ready, result)
    budgets = []
    for node in stand.level_at:
        whole = sag_mm(ready, result, node)
        on_firm = sag_mm(firm, firm_result, node)
        elastic = sag_mm(stiff, stiff_result, node)
        over = reach_mm(stand, node)
        racking = None if rotation is None else rotation * over
        budgets.append(
            SagBudget(
                node,
                over,
                elastic,
                on_firm - elastic,
                whole - on_firm,
                racking,
                _take_up(ready, case, result, node),
            )
        )
    return tuple(budgets)


def reach_mm(stand: Stand, node: str) -> float:
    """Level distance of a node from the nearest place where the stand is held to bench or wall, or from its feet."""
    x, y, _ = stand.nodes[node]
    places = [stand.nodes[each.node] for each in stand.held]
    return min(math.hypot(x - px, y - py) for px, py, _ in places)


def _changed(
    ready: Built, case: Case, result: Result, stiff_joints: bool, stiff_supports: bool
) -> tuple[Built, Result]:
    """The frame with stiff joints or supports and its answer; the frame itself where that changes nothing."""
    stand = ready.stand
    bolted = stiff_joints and any(_turns(joint) for member in stand.members for joint in member.joints)
    yields = stiff_supports and any(each.gives_n_per_mm is not None for each in stand.held)
    if not bolted and not yields:
        return ready, result
    members, held = stand.members, stand.held
    if bolted:
        members = tuple(
            replace(each, joints=(_stiffened(each.joints[0]), _stiffened(each.joints[1]))) for each in members
        )
    if yields:
        held = tuple(replace(each, gives_n_per_mm=None) for each in held)
    changed = built(replace(stand, members=members, held=held)).on_wall([case.loads])
    return changed, solved(changed, [case])[0]


def _turns(joint: Joint) -> bool:
    return joint.kind == "bolted" and joint.turn_nmm_per_rad is not None


def _stiffened(joint: Joint) -> Joint:
    return replace(joint, kind="welded") if _turns(joint) else joint


def _take_up(ready: Built, case: Case, result: Result, node: str) -> tuple[TakeUp, ...]:
    probe = np.array(case.loads.nodal, dtype=float, copy=True)
    probe[ready.node_of[node], 2] -= PROBE_N
    loads = Loads(nodal=probe, gravity_mm_s2=case.loads.gravity_mm_s2)
    felt = member_forces(ready, solve(ready.structure, [loads])[0])
    plain = member_forces(ready, result)
    found = []
    for index, (member, here, probed) in enumerate(zip(ready.stand.members, plain, felt, strict=True)):
        for end, joint in enumerate(member.joints):
            at = 0 if end == 0 else -1
            if joint.clearance_mm <= 0.0 and joint.turn_play_rad <= 0.0:
                continue
            name = f"{member.name} at {member.start if end == 0 else member.end}"
            pull = float(here.pull_n[at])
            per_unit = (float(probed.pull_n[at]) - pull) / PROBE_N
            sag = per_unit * joint.clearance_mm * (math.copysign(1.0, pull) if abs(pull) > 1e-6 else 1.0)
            if joint.turn_play_rad > 0.0:
                moment = float(here.moment_y_nmm[at])
                unit = (float(probed.moment_y_nmm[at]) - moment) / PROBE_N
                sag += unit * joint.turn_play_rad * (math.copysign(1.0, moment) if abs(moment) > 1e-3 else 1.0)
            found.append(TakeUp(name, sag, pull, friction_n(ready, index, joint)))
    return tuple(found)


def friction_n(ready: Built, index: int, joint: Joint) -> float | None:
    """What the joint holds along its member by friction before it shifts; None where nobody says.

    As given, or the published slip of its channel nuts.
    """
    if joint.slip_n is not None:
        return joint.slip_n
    if not joint.in_channel or joint.bolt is None:
        return None
    capacity = joint_capacity(ready, index, joint)
    return capacity.shear_n if capacity.proven else None


def racking_rotation_rad(ready: Built, result: Result) -> float | None:
    """How far the bench's side leans under what the stand does to it, as a rotation; None where nobody measured it.

    The bench racks like a shear frame: `rack_n_per_mm` at its top, even over its height h, so each level shears by V
    / (k h) per mm of height, V what pulls above it. The stand turns with the line through the places where it is held.
    Statics of a shear frame.
    """
    bench = ready.stand.bench
    if bench is None or bench.rack_n_per_mm is None:
        return None
    forces = support_forces(ready, result)
    places = sorted(
        (ready.stand.nodes[each.node][2], -float(forces[each.node][0]))
        for each in ready.stand.held
        if each.to == "bench"
    )
    heights = np.array([z for z, _ in places])
    pulls = np.array([pull for _, pull in places])
    if len(places) < 2 or np.ptp(heights) < 1.0:
        return 0.0
    stiffness = bench.rack_n_per_mm * bench.top_mm
    shift = np.zeros(len(places))
    for index in range(1, len(places)):
        above = float(pulls[index:].sum())
        shift[index] = shift[index - 1] + above / stiffness * (heights[index] - heights[index - 1])
    return float(np.polyfit(heights - heights.mean(), shift, 1)[0])
