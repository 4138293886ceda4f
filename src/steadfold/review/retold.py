"""A review with its sentences told in the reader's units; every number beside them stays as it is.

Told once, where words leave the house: on a terminal, on the page, on paper.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial

from steadfold.fabricate.bend_plan import NoPlan
from steadfold.findings import Finding
from steadfold.mount.records import Strength, WallRating
from steadfold.quantities import in_units
from steadfold.quantities.showing import Units
from steadfold.review.making import Made
from steadfold.review.mend import Mended, Mending
from steadfold.review.prove import ProofResult, ProofSheet
from steadfold.review.records import Assumption, PartReview, Review
from steadfold.stand.answers import CarriedBy, StandReport
from steadfold.stand.diagnose import Diagnosis
from steadfold.stand.level import LevelPlan

Tell = Callable[[str], str]
"""From a sentence to the same in other units."""


def retold(review: Review, units: Units) -> Review:
    """The review with the quantities in its sentences in `units`; itself for "mm".

    Findings, links, cases, the weakest link, what to try tonight, plans, diagnosis, assumptions and walls. Left alone
    are names, sources, the job itself, and hand formulas with their values.
    """
    if units == "mm":
        return review
    names = _names(review)
    return replace(
        review,
        parts=tuple(retold_part(part, units, names) for part in review.parts),
        findings=_findings(review.findings, partial(in_units, units=units, names=names)),
        stands=tuple(retold_stand(stand, units, names) for stand in review.stands),
    )


def retold_part(part: PartReview, units: Units, names: Iterable[str] = ()) -> PartReview:
    """One part, as `retold` tells it; `names` are further ones that stay as they are."""
    if units == "mm":
        return part
    tell = partial(in_units, units=units, names=(*names, *_names_of(part)))
    return replace(
        part,
        weakest=tell(part.weakest),
        findings=_findings(part.findings, tell),
        assumptions=tuple(_assumption(each, tell) for each in part.assumptions),
        strength=None if part.strength is None else _strength(part.strength, tell),
        making=None if part.making is None else _making(part.making, tell),
        walls=tuple(_wall(wall, tell) for wall in part.walls),
    )


def retold_stand(stand: StandReport, units: Units, names: Iterable[str] = ()) -> StandReport:
    """One stand, as `retold` tells it; `names` are further ones that stay as they are."""
    if units == "mm":
        return stand
    tell = partial(in_units, units=units, names=(*names, stand.name))
    return replace(
        stand,
        weakest=tell(stand.weakest),
        governs=tell(stand.governs),
        links=tuple(replace(link, name=tell(link.name)) for link in stand.links),
        members=tuple(replace(each, governs=tell(each.governs), case=tell(each.case)) for each in stand.members),
        joints=tuple(replace(each, link=tell(each.link), why=tell(each.why)) for each in stand.joints),
        level=None if stand.level is None else _level(stand.level, tell),
        diagnosis=None if stand.diagnosis is None else _diagnosis(stand.diagnosis, tell),
        findings=_findings(stand.findings, tell),
        taken=tuple(replace(each, value=tell(each.value)) for each in stand.taken),
        carried_by=tuple(_carried(each, tell) for each in stand.carried_by),
    )


def retold_mended(found: Mended, units: Units) -> Mended:
    """Changes that make a part enough, told in `units`; what they write into the job stays."""
    tell = partial(in_units, units=units, names=(found.part,))
    return replace(
        found,
        now=tell(found.now),
        changes=tuple(_mending(each, tell) for each in found.changes),
        near=tuple(_mending(each, tell) for each in found.near),
        thinner=None if found.thinner is None else _mending(found.thinner, tell),
        untried=tuple(tell(each) for each in found.untried),
    )


def retold_proof(sheet: ProofSheet, units: Units) -> ProofSheet:
    """A proof test's sheet, told in `units`."""
    tell = partial(in_units, units=units, names=(sheet.part,))
    return replace(
        sheet, places=tuple(tell(each) for each in sheet.places), cautions=tuple(tell(each) for each in sheet.cautions)
    )


def retold_result(result: ProofResult, units: Units) -> ProofResult:
    """What a proof test says, told in `units`."""
    return replace(result, say=in_units(result.say, units))


def _names(review: Review) -> tuple[str, ...]:
    """What parts, stands, walls and things that are carried are called in the job: not ours to tell anew."""
    job = review.job
    found = [job.name, *(part.name for part in job.parts), *(stand.name for stand in review.stands)]
    for part in review.parts:
        found += _names_of(part)
    return tuple(dict.fromkeys(found))


def _names_of(part: PartReview) -> tuple[str, ...]:
    found = [part.name, *(each.item for each in part.ordered.carries)]
    if part.part is not None:
        found += [panel.name for panel in part.part.panels]
    return tuple(found)


def _findings(findings: Iterable[Finding], tell: Tell) -> tuple[Finding, ...]:
    return tuple(_finding(each, tell) for each in findings)


def _finding(each: Finding, tell: Tell) -> Finding:
    return replace(each, place=tell(each.place), say=tell(each.say), remedy=tell(each.remedy))


def _assumption(each: Assumption, tell: Tell) -> Assumption:
    return replace(each, value=tell(each.value))


def _strength(found: Strength, tell: Tell) -> Strength:
    return replace(
        found,
        governs=tell(found.governs),
        tonight=tell(found.tonight),
        findings=_findings(found.findings, tell),
        cases=tuple(replace(case, say=tell(case.say), governs=tell(case.governs)) for case in found.cases),
        chain=tuple(
            replace(link, name=tell(link.name), place=tell(link.place), say=tell(link.say)) for link in found.chain
        ),
        hand=tuple(replace(check, why=tell(check.why)) for check in found.hand),
        collapse=None if found.collapse is None else replace(found.collapse, say=tell(found.collapse.say)),
    )


def _wall(wall: WallRating, tell: Tell) -> WallRating:
    return replace(
        wall, backing=tell(wall.backing), fixing=tell(wall.fixing), governs=tell(wall.governs), why=tell(wall.why)
    )


def _making(found: Made, tell: Tell) -> Made:
    noted = tuple(replace(each, finding=_finding(each.finding, tell)) for each in found.noted)
    order = found.order
    if isinstance(order, NoPlan):
        order = replace(order, frees=tuple(replace(each, say=tell(each.say)) for each in order.frees))
    return replace(found, noted=noted, order=order, why_no_cost=tell(found.why_no_cost))


def _level(plan: LevelPlan, tell: Tell) -> LevelPlan:
    return replace(
        plan, steps=tuple(replace(step, say=tell(step.say), nearest=tell(step.nearest)) for step in plan.steps)
    )


def _diagnosis(found: Diagnosis, tell: Tell) -> Diagnosis:
    ranges = tuple(replace(each, prior=tell(each.prior)) for each in found.ranges)
    return replace(found, say=tell(found.say), next_reading=tell(found.next_reading), ranges=ranges)


def _carried(each: CarriedBy, tell: Tell) -> CarriedBy:
    links = tuple(
        replace(link, what=tell(link.what), place=tell(link.place), say=tell(link.say)) for link in each.links
    )
    return replace(each, links=links)


def _mending(change: Mending, tell: Tell) -> Mending:
    return replace(change, say=tell(change.say), still=tell(change.still))
