"""What the joints, fixings and rods of a stand get, and what share of what they may carry that is.

A joint in channel holds along the channel by the friction of its nuts alone; a bolt through holes shifts by its
clearance first and then bears. Both are told apart here: the first is strength, the second is sag.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.catalogue import NotInCatalogue, fasteners, material, profiles, wood
from steadfold.joints import (
    FixingCapacity,
    SheetHole,
    allowable_tension_n,
    bolt_capacity,
    dowel_bearing_mpa,
    governing,
    hold,
    reference_lateral,
    sheet_bearing_mpa,
    sheet_capacity,
    strut_nut_capacity,
    unproven,
    weakest,
)
from steadfold.mechanics import Result
from steadfold.stand.carrier import Clamped
from steadfold.stand.footing import FloatArray
from steadfold.stand.records import Fixing, Held, Joint, Member, TieRod
from steadfold.stand.section import drilled_round_bar
from steadfold.stand.statics import Case, MemberForces, support_forces
from steadfold.stand.structure import Built, thread_of
from steadfold.stand.welding import weld

CROSS_PRESS_MPA = {"C16": 2.2, "C24": 2.5, "D30": 5.3}
"""Characteristic compression across the grain; EN 338 (recalled)."""

CROSS_PRESS_NDS_MPA = {"SPF": 2.93, "Hem-Fir": 2.79, "Douglas fir-larch": 4.31, "southern pine": 3.90}
"""Reference compression across the grain, 425, 405, 625 and 565 psi; NDS Supplement, Table 4A and 4B (recalled)."""

UNDER_WASHER = 3.0
"""EN 1995-1-1, 8.5.2(2): a washer may press with three times the compression across the grain (recalled)."""

BOLT_BENDING_YIELD_MPA = 310.0
"""45 ksi, bolts up to 1 in; NDS, Table I1 (recalled)."""

STEEL_PLATE_MM = 5.0
"""Thickness of a usual channel fitting, which is the side member where the channel itself is not."""

PRY_LEVER_MM = 20.0
"""Half the width of strut: the lever by which a single row of fixings takes a moment; common practice, no source."""

LOOSE_ROD_FACTOR = 1.67
"""Yield over allowed stress of a crossbar; AISC 360 (recalled)."""


@dataclass(frozen=True)
class JointAnswer:
    """One joint, fixing, rod or crossbar in its worst case.

    `axial_n` along the member (pull positive) or pull on a fixing; `shear_n` across. `share` of what it may carry,
    None where nobody says; `link` is what decides, `why` what is missing. `slips` is true where the force is more than
    friction is known to hold, None where that is not known.
    """

    name: str
    case: str
    axial_n: float
    shear_n: float
    share: float | None
    link: str
    source: str
    why: str = ""
    slips: bool | None = None


@dataclass(frozen=True)
class RodAnswer:
    """One tie rod in its worst case: pull, stress over the thread, share of its load, torque to turn its nut under it.

    `post_moment_nmm` is what its head asks of the post, `bar_share` the drilled crossbar's own, None without one.
    """

    name: str
    case: str
    tension_n: float
    stress_mpa: float
    limit_n: float
    limit_source: str
    nut_torque_nmm: float
    bar_mpa: float | None
    bar_share: float | None

    @property
    def share(self) -> float:
        """Pull over what the rod may carry."""
        return self.tension_n / self.limit_n


def rod_limit_n(rod: TieRod) -> tuple[float, str]:
    """What a rod of unknown grade may carry, N, and who says so.

    Inch sizes: hanger rod table; metric: class 4.6, 0.75 of proof / 2. The stand's own limit replaces both.
    """
    if rod.load_limit_n is not None:
        return rod.load_limit_n, "as given"
    try:
        found = fasteners.threaded_rod(rod.size)
        return found.load_n, found.source.sentence
    except NotInCatalogue:
        return allowable_tension_n(rod.size, None), "lowest class of ISO 898-1, 0.75 of proof / 2"


def rod_answers(ready: Built, cases: tuple[Case, ...], results: list[Result]) -> tuple[RodAnswer, ...]:
    """Every rod at its largest pull over all cases."""
    answers = []
    for index, rod in enumerate(ready.stand.tie_rods):
        pulls = [float(result.tie_n[index]) for result in results]
        worst = int(np.argmax(pulls))
        tension = pulls[worst]
        _, area, diameter = thread_of(rod.size)
        limit, source = rod_limit_n(rod)
        bar_mpa = bar_share = None
        if rod.crossbar is not None:
            bar_mpa = bar_stress_mpa(tension, *rod.crossbar)
            bar_share = bar_mpa / (material("S235").yield_mpa / LOOSE_ROD_FACTOR)
        answers.append(
            RodAnswer(
                rod.name, cases[worst].name, tension, tension / area, limit, source, 0.2 * tension * diameter, bar_mpa,
                bar_share,
            )
        )  # fmt: skip
    return tuple(answers)


def bar_stress_mpa(tension_n: float, diameter_mm: float, hole_mm: float, off_support_mm: float) -> float:
    """Bending stress at the hole of a round bar that a rod pulls on, `off_support_mm` from where the bar is held.

    T x lever over the modulus that the hole leaves. Statics; the bar counts as held like a cantilever there.
    """
    return tension_n * off_support_mm / drilled_round_bar(diameter_mm, hole_mm).modulus_y_mm3


def joint_answers(
    ready: Built, cases: tuple[Case, ...], results: list[Result], forces: list[tuple[MemberForces, ...]]
) -> tuple[JointAnswer, ...]:
    """Every joint between members and every fixing to bench, wall or floor, each in its worst case."""
    answers: list[JointAnswer] = []
    supports = [support_forces(ready, result) for result in results]
    for index, member in enumerate(ready.stand.members):
        for end, joint in enumerate(member.joints):
            if joint.kind == "welded" and joint.bolt is None and joint.slip_n is None:
                if is_welded(ready, index, end):
                    answers.append(_weld(ready, index, end, joint, cases, forces))
                continue
            loads = []
            for case, along in zip(cases, forces, strict=True):
                here = along[index]
                at = 0 if end == 0 else -1
                loads.append(
                    (
                        case.name,
                        float(here.pull_n[at]),
                        math.hypot(float(here.shear_y_n[at]), float(here.shear_z_n[at])),
                    )
                )
            answers.append(_joint(ready, member, index, end, joint, loads))
    for each in ready.stand.held:
        if each.fixing is None and each.kind == "foot":
            continue
        fixed = []
        sheet = _clamped(ready, each)
        for case, held_by in zip(cases, supports, strict=True):
            force = held_by[each.node]
            on_one = on_fixing(each, force) if sheet is None else on_seat(each, force, np.asarray(sheet.out))
            fixed.append((case.name, *on_one))
        answers.append(_fixing(ready, each, fixed))
    return tuple(answers)


def is_welded(ready: Built, index: int, end: int) -> bool:
    """Whether a welded end asks for an answer: it meets another member or what holds it, and is no bare foot.

    Where nobody named the joint of an arm, a post or a crossbar, what is fixed to it says how; crossbars are told of in a
    note.
    """
    member = ready.stand.members[index]
    joint, node = member.joints[end], ready.stations[index][0 if end == 0 else -1][1]
    if joint.throat_mm is None and not joint.said and member.role in ("arm", "post", "crossbar"):
        return False
    if any(ready.node_of[each.node] == node and each.kind != "foot" for each in ready.stand.held):
        return True
    return any(
        number == node for other, along in enumerate(ready.stations) if other != index for _, number in along
    )  # fmt: skip


def _weld(
    ready: Built, index: int, end: int, joint: Joint, cases: tuple[Case, ...],
    forces: list[tuple[MemberForces, ...]],
) -> JointAnswer:  # fmt: skip
    member, at = ready.stand.members[index], 0 if end == 0 else -1
    name = f"weld of {member.name} at {member.start if end == 0 else member.end}"
    found = None if joint.throat_mm is None else weld(profiles.profile(member.profile), joint.throat_mm)
    worst, share = (cases[0].name, 0.0, 0.0), -1.0
    for case, along in zip(cases, forces, strict=True):
        here = along[index]
        load = np.array([v[at] for v in (here.pull_n, here.shear_y_n, here.shear_z_n, here.twist_nmm,
                                         here.moment_y_nmm, here.moment_z_nmm)])  # fmt: skip
        used = float(np.abs(load).sum()) if found is None else found.line.load_n_per_mm(load) / found.holds_n_per_mm
        if used > share:
            worst, share = (case.name, float(load[0]), math.hypot(float(load[1]), float(load[2]))), used
    if found is None:
        why = "the throat of its weld is not given" if joint.throat_mm is None else f"{member.profile} is not welded here"
        return JointAnswer(name, *worst, None, "weld", "none", why)
    return JointAnswer(name, *worst, share, f"fillet weld, throat {joint.throat_mm:g} mm, all round", found.say)


def _worst(capacity: FixingCapacity, loads: list[tuple[str, float, float]]) -> tuple[str, float, float, float, str]:
    """Case, pull, shear, share and link of the worst loading; the largest load where no share is known."""
    rated = []
    for case, pull, across in loads:
        link, share = governing(capacity, pull, across)
        rated.append((case, pull, across, share, link))
    known = [each for each in rated if not math.isnan(each[3])]
    if known and len(known) == len(rated):
        return max(known, key=lambda each: each[3])
    unknown = [each for each in rated if math.isnan(each[3])]
    return max(unknown, key=lambda each: math.hypot(each[1], each[2]))


def _joint(
    ready: Built, member: Member, index: int, end: int, joint: Joint, loads: list[tuple[str, float, float]]
) -> JointAnswer:
    name = f"{member.name} at {member.start if end == 0 else member.end}"
    largest = max((abs(pull) for _, pull, _ in loads), default=0.0)
    slips = None if joint.slip_n is None else largest > joint.slip_n
    capacity = joint_capacity(ready, index, joint)
    # whichever way the member pushes or pulls, its bolts feel it as shear; what crosses it pulls at nuts
    across = [(case, side, pull) for case, pull, side in loads]
    case, side, pull, share, link = _worst(capacity, across)
    slip = capacity.shear_n if joint.in_channel and slips is None and capacity.proven else None
    if slip is not None:
        slips = largest > slip
    return JointAnswer(
        name, case, pull, side, None if math.isnan(share) else float(share), link, capacity.source,
        "" if capacity.proven else capacity.why_unproven, slips,
    )  # fmt: skip


def joint_capacity(ready: Built, index: int, joint: Joint) -> FixingCapacity:
    """What the bolts of one member end may carry together: along the member (as shear) and across it (as tension).

    In channel: `bolts` nuts by friction and pull-out. Through holes: bolts in shear and bearing in the member's wall.
    """
    profile = profiles.profile(ready.stand.members[index].profile)
    if joint.slip_n is not None and joint.in_channel:
        return FixingCapacity(
            joint.slip_n, joint.slip_n, joint.slip_source or "as given", True, "", "as given", "linear",
            "friction of its nuts",
        )  # fmt: skip
    if joint.bolt is None:
        return unproven("which bolt joins it is not given", "bolt", source="none")
    if joint.in_channel and isinstance(profile, profiles.StrutChannel):
        nut = strut_nut_capacity(joint.bolt, profile.id, joint.from_end_mm)
        return _times(weakest((nut, bolt_capacity(joint.bolt, joint.grade))), joint.bolts)
    bolt = fasteners.bolt(joint.bolt)
    links = [bolt_capacity(joint.bolt, joint.grade)]
    sheet = _wall_of(profile, bolt, joint.from_end_mm)
    if sheet is not None:
        links.append(sheet_capacity(sheet, bolt.diameter_mm))
    return _times(weakest(tuple(links)), joint.bolts)


def _wall_of(profile: profiles.Profile, bolt: fasteners.Bolt, end_mm: float | None) -> SheetHole | None:
    if isinstance(profile, profiles.Timber | profiles.RoundBar | profiles.TSlot):
        return None
    hole = bolt.clearance_hole_mm()
    end = end_mm if end_mm is not None and end_mm > 0.5 * hole else None
    return SheetHole(
        profile.thickness_mm, material(profile.material).ultimate_low_mpa, hole, bolt.washer.outside_mm, end_mm=end,
        one_sided=False,
    )  # fmt: skip


def _times(capacity: FixingCapacity, count: int) -> FixingCapacity:
    """The same capacity for `count` fixings that share evenly."""
    return FixingCapacity(
        None if capacity.tension_n is None else capacity.tension_n * count,
        None if capacity.shear_n is None else capacity.shear_n * count,
        capacity.source, capacity.proven, capacity.why_unproven, f"{capacity.factor_note}; {count} sharing evenly",
        capacity.interaction, capacity.what, tuple(_times(each, count) for each in capacity.links),
    )  # fmt: skip


def on_fixing(held: Held, force: FloatArray) -> tuple[float, float]:
    """Pull and shear on one fastener of a fixing, N, from what holds the node: forces and moments shared evenly.

    A moment adds a couple between the fasteners (or the edge of the fitting, where there is one or their distance is
    not given); a twist about the pull adds to the shear likewise.
    """
    fixing = held.fixing
    count = 1 if fixing is None else fixing.count
    lever = PRY_LEVER_MM
    if fixing is not None and fixing.count > 1 and fixing.apart_mm:
        lever = fixing.apart_mm
    if held.to == "floor":
        pull, across = -force[2], math.hypot(force[0], force[1])
        bends, twists = math.hypot(force[3], force[4]), abs(force[5])
    else:
        pull, across = -force[0], math.hypot(force[1], force[2])
        bends, twists = math.hypot(force[4], force[5]), abs(force[3])
    tension = float(pull) / count + bends / lever / max(1.0, count / 2.0)
    return tension, float(across) / count + twists / lever / max(1.0, count / 2.0)


def _clamped(ready: Built, held: Held) -> Clamped | None:
    """The sheet that a node is clamped to; None where it sits on no folded part, or the part is not made ready."""
    return next((each.clamped[held.node] for each in ready.stand.carriers if held.node in each.clamped), None)


def on_seat(held: Held, force: FloatArray, out: FloatArray) -> tuple[float, float]:
    """Pull and shear on one bolt that clamps a node to a folded part, N, as for `on_fixing`.

    `out` is the way out of the sheet. A moment that would lift the fitting turns about its edge, or pulls on the bolt at
    the other end where they stand apart.
    """
    fixing, seat = held.fixing, held.seat
    assert seat is not None
    count = 1 if fixing is None else fixing.count
    lever = 0.5 * seat.washer_mm
    if fixing is not None and fixing.count > 1 and fixing.apart_mm:
        lever = fixing.apart_mm
    pull, moment = -float(force[:3] @ out), force[3:]
    across = float(np.linalg.norm(force[:3] + pull * out))
    twist = abs(float(moment @ out))
    bends = float(np.linalg.norm(moment - (moment @ out) * out))
    pairs = lever * max(1.0, count / 2.0)
    return pull / count + bends / pairs, across / count + twist / pairs


def seat_capacity(fixing: Fixing | None, sheet: Clamped | None, washer_mm: float) -> FixingCapacity:
    """What one bolt that clamps a member to a folded part may carry: the bolt, and the sheet about it.

    The sheet bears on the bolt, tears, and pulls over the washer. Unproven without a bolt.
    """
    if fixing is None or fixing.fastener is None:
        return unproven("which bolt clamps it to the part is not given", "bolt", source="none")
    if fixing.capacity is not None:
        source, pull, shear = fixing.capacity
        return FixingCapacity(pull, shear, source, True, "", "as given", "linear", "its bolt")
    if sheet is None:
        return unproven("the part it sits on was not made ready", "part", source="none")
    try:
        bolt = fasteners.bolt(fixing.fastener)
    except NotInCatalogue as error:
        return unproven(error.message, "bolt")
    hole = bolt.clearance_hole_mm()
    around = SheetHole(sheet.thickness_mm, sheet.ultimate_mpa, hole, max(washer_mm, bolt.washer.outside_mm), one_sided=False)
    return weakest((bolt_capacity(bolt.size, fixing.grade), sheet_capacity(around, bolt.diameter_mm)))


def _fixing(ready: Built, held: Held, loads: list[tuple[str, float, float]]) -> JointAnswer:
    name = f"{held.node} to {held.to if held.seat is None else held.seat.part}"
    capacity = fixing_capacity(held.fixing)
    if held.seat is not None:
        capacity = seat_capacity(held.fixing, _clamped(ready, held), held.seat.washer_mm)
    case, pull, across, share, link = _worst(capacity, loads)
    if max(max(load[1], 0.0) + load[2] for load in loads) < 1.0:
        share, link = 0.0, "nothing pulls on it"
    return JointAnswer(
        name, case, pull, across, None if math.isnan(share) else float(share), link, capacity.source,
        "" if capacity.proven else capacity.why_unproven,
    )  # fmt: skip


def fixing_capacity(fixing: Fixing | None) -> FixingCapacity:
    """What one fastener of a fixing may carry: through bolts in wood here, all else by the room of fixings."""
    if fixing is None:
        return unproven("how it is fixed is not given", "fixing")
    plate = SheetHole(STEEL_PLATE_MM, 360.0, 14.0, 24.0, one_sided=False)
    if fixing.through and fixing.fastener is not None and fixing.capacity is None:
        return through_bolt_in_wood(fixing)
    try:
        return hold(
            fixing.backing, fixing.fastener, strength=fixing.grade, length_mm=fixing.length_mm, wood_name=fixing.wood,
            washer_thickness_mm=0.0, sheet=plate if fixing.length_mm is not None else None, capacity=fixing.capacity,
        )  # fmt: skip
    except NotInCatalogue as error:
        return unproven(error.message, "fixing")


def through_bolt_in_wood(fixing: Fixing) -> FixingCapacity:
    """A bolt right through a piece of wood with a washer on the far side: steel, washer in the wood, bearing in the
    wood.

    Pull: bolt 0.75 proof / 2; washer by compression across the grain (EN 1995-1-1, 8.5.2(2), three times it; NDS as it
    stands). Shear: NDS yield modes with the shank, 0.9 for a lasting load, grain across. Recalled. Unproven without a
    wood, its thickness or a washer.
    """
    what = f"{fixing.fastener} through wood"
    missing = [
        word
        for word, value in (("wood", fixing.wood), ("wood_thickness", fixing.wood_mm), ("washer", fixing.washer_mm))
        if value is None
    ]
    assert fixing.fastener is not None
    if missing:
        return unproven(f"{' and '.join(missing)} of the bolted bench not given", what)
    assert fixing.wood is not None and fixing.wood_mm is not None and fixing.washer_mm is not None
    bolt = fasteners.bolt(fixing.fastener)
    species = wood.species(fixing.wood)
    ring = math.pi / 4.0 * (fixing.washer_mm**2 - bolt.clearance_hole_mm() ** 2)
    if species.id in CROSS_PRESS_MPA:
        press = UNDER_WASHER * CROSS_PRESS_MPA[species.id] * wood.kmod("permanent") / wood.partial_factor("connections")
        press /= 1.4  # EN compares with factored loads: 1.35 to 1.5 on a load that stays
        source = "EN 1995-1-1, 8.5.2(2), kmod 0.6, gamma_M 1.3, load factor 1.4, recalled"
        gravity = (species.density_mean_kg_m3 or 350.0) / 1000.0 / 1.12
    else:
        press = CROSS_PRESS_NDS_MPA[species.id]
        source = "NDS Supplement, compression across the grain, recalled"
        gravity = species.specific_gravity or 0.35
    lateral = reference_lateral(
        bolt.diameter_mm, bolt.diameter_mm, BOLT_BENDING_YIELD_MPA, STEEL_PLATE_MM,
        sheet_bearing_mpa(360.0, STEEL_PLATE_MM), fixing.wood_mm,
        dowel_bearing_mpa(gravity, bolt.diameter_mm, math.pi / 2.0), 0.0, math.pi / 2.0,
    )  # fmt: skip
    washer = FixingCapacity(
        press * ring, 0.9 * lateral.value_n, f"washer: {source}; shear: NDS yield mode {lateral.mode}, recalled", True,
        "", "as the standards give it", "linear", f"{fixing.wood_mm:.0f} mm of {species.id} under the washer",
    )  # fmt: skip
    return weakest((bolt_capacity(bolt.size, fixing.grade), washer), what)
