"""The whole review of a stand: frame, joints, sag, tipping, hum, lifting, and the words for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from steadfold.findings import Finding, Severity, verdict_of
from steadfold.mechanics import Result, buckling
from steadfold.stand.answers import CarriedBy, Drawn, Link, MemberAnswer, StandReport, Taken
from steadfold.stand.column import limits, member_share
from steadfold.stand.diagnose import Diagnosis, diagnose
from steadfold.stand.joining import JointAnswer, RodAnswer, joint_answers, rod_answers
from steadfold.stand.level import LevelPlan, level_plan
from steadfold.stand.records import Stand
from steadfold.stand.sag import SAG_SHARE_OF_REACH, SagBudget, sag_budgets
from steadfold.stand.shims import Shim, shims
from steadfold.stand.speeds import humming, lift
from steadfold.stand.statics import Case, MemberForces, cases_of, member_forces, solved
from steadfold.stand.structure import Built, built
from steadfold.stand.telling import findings_of
from steadfold.stand.told import Told
from steadfold.stand.topple import Topple, topple

BUCKLING_FACTOR = 2.0
"""Wanted between the load and linear buckling of the whole frame; judgement, as for parts."""


ReadParts = Callable[[Built, Sequence[Case], Sequence[Result]], tuple[CarriedBy, ...]]
"""Reads what the folded parts that carry a frame take in each case: for who knows these parts."""


def _no_parts(ready: Built, cases: Sequence[Case], results: Sequence[Result]) -> tuple[CarriedBy, ...]:
    return ()


def review_stand(stand: Stand, own_weight: bool = True, read_parts: ReadParts = _no_parts) -> StandReport:
    """Everything about one stand. Raises StandError, naming the key, for what makes no stand."""
    ready = built(stand)
    cases = cases_of(ready, own_weight)
    ready = ready.on_wall([case.loads for case in cases])
    results = solved(ready, cases)
    forces = [member_forces(ready, result) for result in results]
    budgets = sag_budgets(ready, cases[0], results[0])
    standing = topple(ready)
    hums = humming(ready, cases[0])
    lifting = None if stand.machine is None else lift(stand.machine)
    factor = _buckling_factor(ready, cases, results)
    plan, under, why = _levelled(stand, own_weight)
    if plan is not None and plan.loosen:
        # once it has been levelled the rods carry it, whatever the braces take up later
        hanging = built(stand, loosened=frozenset(plan.loosen)).on_wall([case.loads for case in cases])
        on_rods = tuple(replace(case, name=f"{case.name}, on its rods") for case in cases)
        hung = solved(hanging, on_rods)
        cases, results = (*cases, *on_rods), [*results, *hung]
        forces = [*forces, *(member_forces(hanging, result) for result in hung)]
    members = _members(ready, cases, forces)
    joints = joint_answers(ready, cases, results, forces)
    rods = rod_answers(ready, cases, results)
    parts = read_parts(ready, cases, results)
    told = Told(
        stand, ready, cases, results, members, joints, rods, budgets, standing, hums, lifting, factor, plan, why, parts
    )
    findings = findings_of(told)
    links = _links(stand, members, joints, rods, budgets, standing, factor, parts)
    known = [link.share for link in links if link.share is not None]
    verdict = verdict_of(max(known, default=None), findings)
    governs = links[0].name if links else "nothing"
    sag, span, slope = _sag(budgets, ready)
    return StandReport(
        stand=stand,
        verdict=verdict,
        weakest=_weakest(links, findings),
        governs=governs,
        links=links,
        members=members,
        joints=joints,
        rods=rods,
        budgets=budgets,
        sag_mm=sag,
        sag_range_mm=span,
        slope_mm_per_m=slope,
        topple=standing,
        humming=hums,
        lift=lifting,
        buckling_factor=factor,
        level=plan,
        shims=under,
        diagnosis=why,
        drawn=_drawn(ready, results[0], members),
        frame_mass_kg=ready.mass_kg,
        findings=findings,
        taken=_taken(told),
        carried_by=parts,
    )


def _members(ready: Built, cases: tuple[Case, ...], forces: list[tuple[MemberForces, ...]]) -> tuple[MemberAnswer, ...]:
    answers = []
    for index, member in enumerate(ready.stand.members):
        section, length = ready.sections[index], ready.lengths_mm[index]
        between = _longest_stretch(ready, index)
        limit = limits(section, between, member.unheld_mm or length)
        best: tuple[float, int, int, str] = (-1.0, 0, 0, "")
        for number, along in enumerate(forces):
            here = along[index]
            for place in range(len(here.at_mm)):
                pull, about_y, about_z = (float(v[place]) for v in (here.pull_n, here.moment_y_nmm, here.moment_z_nmm))
                if limit is None:
                    share, words = abs(pull) + math.hypot(about_y, about_z), ""
                else:
                    parts = member_share(limit, pull, about_y, about_z)
                    share = parts.total
                    bends = parts.bending_y + parts.bending_z
                    words = (
                        "bends" if bends >= parts.axial else limit.governs_compression if pull < 0.0 else "is pulled"
                    )
                if share > best[0]:
                    best = (share, number, place, words)
        share, number, place, words = best
        here = forces[number][index]
        answers.append(
            MemberAnswer(
                member.name, member.role, member.profile, length, section.mass_kg_per_m * length * 1e-3,
                float(here.pull_n[place]), float(math.hypot(here.moment_y_nmm[place], here.moment_z_nmm[place])),
                None if limit is None else share, cases[number].name, float(here.at_mm[place]), words,
                section.strength_source if limit is None else limit.source,
            )
        )  # fmt: skip
    return tuple(answers)


def _longest_stretch(ready: Built, index: int) -> float:
    """The longest part of a member between named nodes: what can buckle between its joints."""
    named = set(ready.node_of.values())
    places = [at for at, number in ready.stations[index] if number in named]
    return max(after - before for before, after in pairwise(places))


def _buckling_factor(ready: Built, cases: tuple[Case, ...], results: list[Result]) -> float | None:
    """Least load factor of linear buckling over the cases of kinds resting and leaning; None where nothing is
    pressed.
    """
    chosen = []
    for name in ("resting", "leaning"):
        of_kind = [result for case, result in zip(cases, results, strict=True) if case.name == name]
        if of_kind:
            chosen.append(max(of_kind, key=lambda result: result.energy_nmm))
    factors = [buckling(ready.structure, result, 1).factors for result in chosen]
    return min((float(found[0]) for found in factors if len(found)), default=None)


def _levelled(stand: Stand, own_weight: bool) -> tuple[LevelPlan | None, tuple[Shim, ...], Diagnosis | None]:
    if not stand.readings:
        return None, (), None
    stand = replace(stand, carriers=())  # the nonlinear frame knows no sheet: there its seats do not give
    plan: LevelPlan | None = None
    under: tuple[Shim, ...] = ()
    now = tuple(each for each in stand.readings if each.machine_on and not each.extra_n)
    if stand.tie_rods and now:
        plan = level_plan(stand, now, own_weight)
    elif any(each.to == "floor" for each in stand.held) and len(now) >= 2:
        under = shims(stand, now)
    why = diagnose(stand, own_weight=own_weight) if stand.machine is not None else None
    return plan, under, why


def _links(
    stand: Stand, members: tuple[MemberAnswer, ...], joints: tuple[JointAnswer, ...], rods: tuple[RodAnswer, ...],
    budgets: tuple[SagBudget, ...], standing: Topple | None, factor: float | None, parts: tuple[CarriedBy, ...],
) -> tuple[Link, ...]:  # fmt: skip
    """The whole chain, hardest worked first; what is not known stands at the end. Hum is told, and breaks nothing."""
    links = [Link(each.name, each.share) for each in members]
    links += [Link(each.name, each.share) for each in joints]
    links += [Link(each.name, each.share) for each in rods]
    links += [Link(f"crossbar of {each.name}", each.bar_share) for each in rods if each.bar_share is not None]
    links += [Link(f"{each.name}: {link.place}", link.share) for each in parts for link in each.links]
    if standing is not None:
        for each, word in ((standing.resting, "tipping at rest"), (standing.leaning, "tipping with a person leaning")):
            if each is not None:
                links.append(Link(word, standing.wanted / each.factor if each.factor > 0.0 else math.inf))
    if factor is not None:
        links.append(Link("the whole frame buckling", BUCKLING_FACTOR / factor))
    if stand.limits.sag_mm is not None and budgets:
        links.append(Link("sag", max(each.likely_mm for each in budgets) / stand.limits.sag_mm))
    if stand.limits.slope_mm_per_m is not None and budgets:
        links.append(Link("slope", max(each.slope_mm_per_m for each in budgets) / stand.limits.slope_mm_per_m))
    known = sorted((link for link in links if link.share is not None), key=lambda link: -float(link.share or 0.0))
    return (*known, *(link for link in links if link.share is None))


def _weakest(links: tuple[Link, ...], findings: tuple[Finding, ...]) -> str:
    stop = next((each for each in findings if each.severity is Severity.STOP), None)
    if stop is not None:
        return stop.say
    if not links or links[0].share is None:
        return "nothing could be rated"
    words = f"{links[0].name}, {100.0 * links[0].share:.0f} % of what is allowed"
    missing = sum(1 for link in links if link.share is None)
    return words + (f"; {missing} link{'s' if missing > 1 else ''} nobody vouches for" if missing else "")


def _sag(budgets: tuple[SagBudget, ...], ready: Built) -> tuple[float | None, tuple[float, float] | None, float | None]:
    if not budgets:
        return None, None, None
    lowest = max(budgets, key=lambda each: each.likely_mm)
    machine = ready.stand.machine
    light = heavy = 1.0
    if machine is not None and machine.mass_kg.middle > 0.0:
        light, heavy = machine.mass_kg.low / machine.mass_kg.middle, machine.mass_kg.high / machine.mass_kg.middle
    return (
        lowest.likely_mm if abs(lowest.likely_mm) >= 0.005 else 0.0,  # no minus before a nothing
        (min(lowest.still_mm * light, lowest.likely_mm), lowest.still_mm * heavy + lowest.worst_take_up_mm),
        lowest.slope_mm_per_m,
    )


def _drawn(ready: Built, result: Result, members: tuple[MemberAnswer, ...]) -> tuple[Drawn, ...]:
    drawn = []
    for index, member in enumerate(ready.stand.members):
        numbers = [number for _, number in ready.stations[index]]
        places = ready.places[numbers]
        drawn.append(Drawn(member.name, places, places + result.displacement[numbers, :3], members[index].share))
    for rod in ready.stand.tie_rods:
        numbers = [ready.node_of[rod.start], ready.node_of[rod.end]]
        places = ready.places[numbers]
        drawn.append(Drawn(rod.name, places, places + result.displacement[numbers, :3], None))
    return tuple(drawn)


def _taken(told: Told) -> tuple[Taken, ...]:
    stand = told.stand
    taken = [
        Taken(
            "what counts as hard",
            "bench and wall do not give where no stiffness is given",
            "simplification",
            "sag",
        ),
        Taken("how feet share", "four feet in a rectangle share along each side alike", "statics", "forces"),
    ]
    if not stand.leaning.refused:
        source = "the job" if stand.leaning.force_n != 500.0 else "common practice, no source"
        taken.append(Taken("a person leans on it", f"{stand.leaning.force_n:.0f} N", source, "strength and tipping"))
    if stand.knock_n > 0.0:
        taken.append(Taken("a stray push", f"{stand.knock_n:.0f} N", "common practice, no source", "strength"))
    if stand.limits.sag_mm is None:
        share = f"{SAG_SHARE_OF_REACH:g} of the reach"
        taken.append(
            Taken("sag that is not remarked on", share, "common practice, no source", "the finding sags-visibly")
        )
    if stand.machine is not None and stand.machine.size_mm is None:
        taken.append(
            Taken("the machine's box", "over its feet, twice as high as its centre", "judgement", "frequencies")
        )
    if stand.carriers and stand.readings:
        taken.append(
            Taken("levelling and diagnosis", "the folded part under the frame does not give", "simplification", "turns")
        )
    worst = max((float(np.max(result.largest_turn_rad)) for result in told.results), default=0.0)
    taken.append(
        Taken("small movements", f"largest turn {math.degrees(worst):.2f}°", "theory holds to about 5°", "all")
    )
    return tuple(taken)
