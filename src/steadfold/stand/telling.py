"""What the answers of a stand mean: findings by name, few and to the point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.findings import Finding, Severity
from steadfold.mechanics import Result
from steadfold.stand.answers import CarriedBy, MemberAnswer
from steadfold.stand.diagnose import Diagnosis
from steadfold.stand.joining import JointAnswer, RodAnswer
from steadfold.stand.level import LevelPlan
from steadfold.stand.records import Stand
from steadfold.stand.sag import SAG_SHARE_OF_REACH, SagBudget
from steadfold.stand.speeds import Humming, Lift
from steadfold.stand.statics import Case
from steadfold.stand.structure import Built
from steadfold.stand.topple import Topple

PRACTICE = "common practice, no source"
LARGE_TURN_RAD = 0.0873
"""5 degrees: beyond it the small-displacement theory of the frame says too much."""

UNSURE_MASS = 1.25
"""Highest over lowest mass from which the range itself is worth a word; judgement."""

POST_OVER_ARM = 3.0


@dataclass(frozen=True)
class Told:
    """All answers of one stand, for whoever finds words for them."""

    stand: Stand
    ready: Built
    cases: Sequence[Case]
    results: Sequence[Result]
    members: Sequence[MemberAnswer]
    joints: Sequence[JointAnswer]
    rods: Sequence[RodAnswer]
    budgets: Sequence[SagBudget]
    standing: Topple | None
    hums: Humming | None
    lifting: Lift | None
    buckling_factor: float | None
    plan: LevelPlan | None
    why: Diagnosis | None
    parts: Sequence[CarriedBy] = ()


def findings_of(told: Told) -> tuple[Finding, ...]:
    """Every finding about a stand: what could hurt somebody first."""
    found = _toppling(told) + _weight(told) + _joints(told) + _rods(told) + _sag(told) + _hum(told) + _cracks(told) + _missing(told)
    order = list(Severity)
    return tuple(sorted(found, key=lambda each: order.index(each.severity)))


def _toppling(told: Told) -> list[Finding]:
    stand, standing = told.stand, told.standing
    on_bench = any(each.to == "bench" for each in stand.held)
    if standing is None:
        if on_bench:
            return [
                Finding(
                    "bench-unknown",
                    Severity.UNPROVEN,
                    "bench",
                    "Whether the bench tips is not known: its mass, centre and feet are not given.",
                    source="statics",
                    remedy="a [stand.bench] table; weigh it by lifting one end (steadfold weigh)",
                )
            ]
        return []
    found: list[Finding] = []
    what = "bench" if on_bench else "stand"
    if standing.empty.factor < 1.0:
        found.append(
            Finding(
                "topples",
                Severity.STOP,
                what,
                f"The {what} tips already empty: its centre of mass lies outside its feet.",
                standing.empty.factor,
                1.0,
                "statics",
                "move its feet out",
            )
        )
    for each, words in ((standing.resting, "with the machine on it"), (standing.leaning, "when a person leans on it")):
        if each is None or each.factor >= standing.wanted or standing.empty.factor < 1.0:
            continue
        stop = each.factor < 1.0
        say = (
            f"The {what} goes over {words}: what holds it down is {each.factor:.2f} of what turns it up."
            if stop
            else f"The {what} stands {each.factor:.2f} times firmly enough {words}; {standing.wanted:g} is wanted."
        )
        found.append(
            Finding(
                "topples",
                Severity.STOP if stop else Severity.CAUTION,
                what,
                say,
                each.factor,
                standing.wanted,
                "statics about the outer feet; factor: judgement",
                _steadying(standing),
            )
        )
    if standing.heavy_end_out:
        now, then = standing.leaning or standing.resting, standing.turned_leaning or standing.turned_resting
        assert then is not None
        found.append(
            Finding(
                "heavy-end-out",
                Severity.CAUTION,
                what,
                f"Turned half round, the machine would sit {then.factor:.2f} instead of {now.factor:.2f} firmly: "
                "its heavy end is out.",
                now.factor,
                then.factor,
                "statics",
                "turn the machine round",
            )
        )
    if standing.wheels:
        found.append(
            Finding(
                "bench-on-wheels",
                Severity.STOP,
                what,
                "The bench stands on wheels: with a machine carried off its end it rolls and tips.",
                source=PRACTICE,
                remedy="take it off its wheels, or jack it onto feet",
            )
        )
    shoved = standing.shoved
    if shoved is not None and shoved.factor < 1.0 and standing.empty.factor >= 1.0:
        found.append(
            Finding(
                "topples",
                Severity.CAUTION,
                what,
                f"A shove of {stand.shove_n:.0f} N at the machine's height would tip it ({shoved.factor:.2f}).",
                shoved.factor,
                1.0,
                f"statics; shove: {PRACTICE}",
                _steadying(standing),
            )
        )
    if standing.slide_share > 1.0:
        found.append(
            Finding(
                "bench-slides",
                Severity.CAUTION,
                what,
                f"A shove of {stand.shove_n:.0f} N pushes it across the floor.",
                standing.slide_share,
                1.0,
                f"friction 0.3 unless given: {PRACTICE}",
                "fix it to the floor, or load it",
            )
        )
    return found


def _steadying(standing: Topple) -> str:
    ways = []
    if standing.ballast_kg:
        ways.append(f"{standing.ballast_kg:.1f} kg of ballast at {standing.ballast_at_mm:.0f} mm")
    if standing.hold_down_n:
        ways.append(f"a hold-down good for {standing.hold_down_n:.0f} N at {standing.hold_down_at_mm:.0f} mm")
    return " or ".join(ways) or "ballast at the far end, feet farther out, or a hold-down into floor or wall"


def _weight(told: Told) -> list[Finding]:
    machine = told.stand.machine
    if machine is None:
        return [
            Finding(
                "weight-unsure",
                Severity.UNPROVEN,
                "machine",
                "What stands on it is not given.",
                source="the job",
                remedy="a [stand.machine] table with its mass, or readings of a scale",
            )
        ]
    found = []
    low, high = machine.mass_kg.low, machine.mass_kg.high
    if machine.weighed == "guessed":
        found.append(
            Finding(
                "weight-unsure",
                Severity.UNPROVEN,
                machine.name,
                f"Its mass is a guess ({low:.4g} to {high:.4g} kg).",
                high,
                low,
                "the job",
                "weigh it: steadfold weigh says where to put the scale",
            )
        )
    elif high > UNSURE_MASS * low:
        found.append(
            Finding(
                "weight-unsure",
                Severity.CAUTION,
                machine.name,
                f"Its mass is known only from {low:.4g} to {high:.4g} kg; the high end is counted.",
                high,
                low,
                "the job",
                "weigh it (steadfold weigh)",
            )
        )
    if told.lifting is not None and told.lifting.too_heavy:
        each = told.lifting
        who = "one person" if each.people == 1 else f"{each.people} people"
        found.append(
            Finding(
                "too-heavy-by-hand",
                Severity.CAUTION,
                machine.name,
                f"{each.mass_kg:.0f} kg is more than {who} can lift by hand ({each.can_kg:.0f} kg).",
                each.mass_kg,
                each.can_kg,
                "25 kg each, two thirds of the sum for two, half for more: guidance, recalled",
                "slide it over from a bench of the same height on a plank, or use a hoist rated for it",
            )
        )
    return found


def _joints(told: Told) -> list[Finding]:
    found = []
    slips = [each for each in told.joints if each.slips]
    if slips:
        worst = max(slips, key=lambda each: abs(each.axial_n))
        found.append(
            Finding(
                "joint-slips",
                Severity.CAUTION,
                worst.name,
                f"{abs(worst.axial_n):.0f} N is more than friction is known to hold in "
                f"{_some([each.name for each in slips])}.",
                abs(worst.axial_n),
                None,
                worst.source,
                "a stop or a bolt through a slot beyond the joint; pull to the loaded side, then tighten",
            )
        )
    loose = [b for b in told.budgets if b.likely_take_up_mm > max(0.25, b.still_mm)]
    if loose:
        worst_b = max(loose, key=lambda each: each.worst_take_up_mm)
        found.append(
            Finding(
                "joint-slips",
                Severity.CAUTION,
                worst_b.node,
                f"Bending lets it down {worst_b.still_mm:.2f} mm; clearances in the joints let it down up to "
                f"{worst_b.worst_take_up_mm:.1f} mm more once they shift.",
                worst_b.worst_take_up_mm,
                worst_b.still_mm,
                "hole less bolt, joint by joint",
                "press each joint to its loaded side before tightening, or use fitted bolts",
            )
        )
    for part in told.parts:
        for link in part.links:
            if link.share is None:
                found.append(
                    Finding(
                        "capacity-unproven",
                        Severity.UNPROVEN,
                        part.name,
                        f"{link.place[:1].upper()}{link.place[1:]}: {link.say}.",
                        source="none",
                        remedy="say how the part is held in its [part.mount], or give a capacity with its source",
                    )
                )
    unknown = [each for each in told.joints if each.share is None]
    if unknown:
        reasons = list(dict.fromkeys(each.why for each in unknown))
        found.append(
            Finding(
                "capacity-unproven",
                Severity.UNPROVEN,
                _some([each.name for each in unknown]),
                f"Nobody vouches for {len(unknown)} of {len(told.joints)} joints and fixings: "
                f"{'; '.join(reasons[:3])}.",
                source="; ".join(dict.fromkeys(each.source for each in unknown if each.source != "none")) or "none",
                remedy="name bolts, nuts and wood in the job, or give a capacity with its source",
            )
        )
    welded = [
        member.name
        for member in told.stand.members
        if member.role == "crossbar"
        and any(j.kind == "welded" and j.bolt is None and j.throat_mm is None and not j.said for j in member.joints)
    ]
    if welded:
        found.append(
            Finding(
                "not-computed",
                Severity.NOTE,
                _some(welded),
                "How its ends are joined is not given: they are taken as welded and as strong as itself.",
                source="simplification",
                remedy="a [stand.crossbar_joint]: a bolt, or kind = \"welded\" with its throat",
            )
        )
    return found


def _rods(told: Told) -> list[Finding]:
    found = []
    for each in told.rods:
        if each.bar_share is not None and each.bar_share > 0.85:
            found.append(
                Finding(
                    "drilled-bar",
                    Severity.CAUTION,
                    each.name,
                    f"Its crossbar, drilled through, sees {each.bar_mpa:.0f} MPa at the hole "
                    f"({each.bar_share:.0%} of what mild steel allows).",
                    each.bar_mpa,
                    None,
                    "bending of what the hole leaves; yield 235 / 1.67",
                    "hold the bar within 15 mm of the rod, or use a plate",
                )
            )
    arms = [m.share or 0.0 for m in told.members if m.role == "arm"]
    posts = [m for m in told.members if m.role == "post" and m.share is not None]
    if posts and told.rods and arms:
        worst = max(posts, key=lambda each: each.share or 0.0)
        if (worst.share or 0.0) > max(0.3, POST_OVER_ARM * max(arms)):
            found.append(
                Finding(
                    "post-head-bends",
                    Severity.CAUTION,
                    worst.name,
                    f"The rods move the pull to the top of the post: {worst.moment_nmm / 1000.0:.0f} N m, "
                    f"{worst.share:.0%} of what it may carry, beside {max(arms):.0%} in the arms.",
                    worst.share,
                    1.0,
                    worst.source,
                    "tie the post head back to the benchtop",
                )
            )
    fight = told.plan.fight if told.plan else None
    if told.plan is not None and fight is not None:
        found.append(
            Finding(
                "rods-fight-brace",
                Severity.CAUTION,
                fight.rod,
                f"With {fight.brace} still tight the same turns pull {fight.rod_n:.0f} N in the rod and "
                f"{fight.brace_n:.0f} N in the brace for {fight.rise_mm:.2f} mm of lift.",
                fight.rod_n,
                None,
                "frame with its braces tight",
                "loosen the braces, lift, tighten again",
            )
        )
    if told.plan is not None and not told.plan.holds:
        worst_step = max(told.plan.steps, key=lambda each: each.share)
        found.append(
            Finding(
                "not-level",
                Severity.CAUTION,
                worst_step.nearest,
                f"On the way to level it reaches {worst_step.share:.0%} of what it may carry.",
                worst_step.share,
                1.0,
                "each step checked",
                "take the machine off to level",
            )
        )
    return found


def _sag(told: Told) -> list[Finding]:
    found = []
    limit = told.stand.limits.sag_mm
    for each in told.budgets:
        allowed = limit if limit is not None else SAG_SHARE_OF_REACH * each.over_mm
        if allowed > 0.0 and each.likely_mm > allowed:
            found.append(
                Finding(
                    "sags-visibly",
                    Severity.CAUTION,
                    each.node,
                    f"It is likely to lie {each.likely_mm:.1f} mm low ({each.slope_mm_per_m:.1f} mm per m); "
                    f"{allowed:.1f} mm is the limit.",
                    each.likely_mm,
                    allowed,
                    "the job" if limit is not None else f"reach / 200, {PRACTICE}",
                    "see its sag budget: stiffen the largest part of it",
                )
            )
    unmeasured = told.stand.bench is not None and told.stand.bench.rack_n_per_mm is None
    if unmeasured:
        found.append(
            Finding(
                "not-computed",
                Severity.NOTE,
                "bench",
                "How far the bench itself racks is not in the sag: nobody measured it.",
                source="the job",
                remedy="push its top with a luggage scale and write racking into [stand.bench]",
            )
        )
    turn = max((result.largest_turn_rad for result in told.results), default=0.0)
    if turn > LARGE_TURN_RAD:
        found.append(
            Finding(
                "beyond-theory",
                Severity.UNPROVEN,
                "frame",
                f"Something turns by {np.degrees(turn):.1f}°: the theory used here holds to about 5°.",
                float(np.degrees(turn)),
                5.0,
                "small displacements",
                "stiffen it",
            )
        )
    return found


def _hum(told: Told) -> list[Finding]:
    if told.hums is None:
        return []
    found = []
    for near in told.hums.near:
        if near.apart >= told.stand.limits.speed_apart:
            continue
        mode = near.mode
        between = mode.low_hz <= near.speed.hz <= mode.high_hz
        found.append(
            Finding(
                "hums",
                Severity.CAUTION,
                near.speed.what,
                f"It turns {near.speed.hz:.1f} times a second; the stand swings {mode.moves} somewhere between "
                f"{mode.low_hz:.1f} and {mode.high_hz:.1f} Hz, "
                + ("so the two may meet." if between else "which is near."),
                near.apart,
                told.stand.limits.speed_apart,
                f"frame with the machine loose or stiff on it; {told.stand.limits.speed_apart:.0%} apart: judgement",
                "bolt the machine down and brace the frame against that swing, or change the speed",
            )
        )
    return found


def _cracks(told: Told) -> list[Finding]:
    machine = told.stand.machine
    if machine is None or not machine.speeds:
        return []
    fastest = max(machine.speeds, key=lambda each: each.hz)
    return [
        Finding(
            "cracks-in-time",
            Severity.CAUTION,
            machine.name,
            f"It shakes up to {fastest.hz:.0f} times a second ({fastest.what}): welds, bends and the edges of holes may "
            "crack in time far below what they carry once. Fatigue is not computed.",
            source=PRACTICE,
            remedy="look at welds, bends and bolt holes after ten hours of running and every month; locknuts",
        )
    ]


def _missing(told: Told) -> list[Finding]:
    found = []
    unpromised = [
        section for section in told.ready.sections if section.strength_mpa is not None and not section.promised
    ]
    if unpromised:
        names = list(dict.fromkeys(each.name for each in unpromised))
        found.append(
            Finding(
                "yield-not-promised",
                Severity.UNPROVEN,
                _some(names),
                "No standard promises the yield these are rated by.",
                source=unpromised[0].strength_source,
                remedy="a certificate, or a grade with a promised yield",
            )
        )
    return found


def _some(names: Sequence[str], most: int = 4) -> str:
    """A few names and how many more there are."""
    rest = len(names) - most
    return ", ".join(names[:most]) + (f" and {rest} more" if rest > 0 else "")
