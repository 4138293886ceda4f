"""The steps of a review, in order, for every part of a job."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from steadfold.catalogue import Material, material
from steadfold.fabricate.shop import Shop
from steadfold.findings import Finding, Severity, verdict_of
from steadfold.job.models import Job, JobPart
from steadfold.job.stand_table import read_stands
from steadfold.mount.records import Strength, WallRating
from steadfold.review.holding import Held, held
from steadfold.review.making import cost_findings, made
from steadfold.review.records import Assumption, PartReview, Review
from steadfold.review.shaping import Shaped, shaped
from steadfold.review.shop import shop_of
from steadfold.review.stand_parts import on_parts, read_pieces, under_frames
from steadfold.review.walls import on_walls, wall_findings
from steadfold.sheet.clash import flat_overlaps, folded_clashes
from steadfold.sheet.extent import folded_size_mm
from steadfold.sheet.flat import FlatError, FlatPattern, flat_pattern
from steadfold.sheet.part import Part
from steadfold.stand.answers import StandReport
from steadfold.stand.records import StandError
from steadfold.stand.review import review_stand

Progress = Callable[[float, str], None]
"""Told the share done, 0 to 1, and what is being done."""


def _silent(share: float, what: str) -> None:
    return None


def review(job: Job, progress: Progress = _silent, fine: bool = True, shape_only: bool = False) -> Review:
    """Review a whole job; `fine` False gives quick, coarse strengths, `shape_only` none at all, nor making and cost.

    Raises `JobProblems` when a part cannot be built from what the job says.
    """
    shop = shop_of(job)
    parts = []
    count = max(len(job.parts), 1)
    for number, ordered in enumerate(job.parts):

        def tell(share: float, what: str, number: int = number, name: str = ordered.name) -> None:
            progress((number + share) / count, f"{name}: {what}")

        parts.append(review_part(job, ordered, shop, tell, fine, shape_only))
    stands = () if shape_only else _stands(job, shop, progress)
    progress(1.0, "done")
    return Review(job, tuple(under_frames(part, stands) for part in parts), (), stands)


def _stands(job: Job, shop: Shop, progress: Progress) -> tuple[StandReport, ...]:
    """Every stand of the job, reviewed with the folded parts that carry it; what makes no stand is told at its line."""
    found = []
    for table, stand in zip(job.stands, read_stands(job), strict=True):
        progress(0.99, stand.name)
        try:
            carried, pieces = on_parts(job, table, stand, shop)
            found.append(review_stand(carried, read_parts=partial(read_pieces, pieces)))
        except StandError as error:
            raise table.refused(error.steps, str(error)) from None
    return tuple(found)


def review_part(
    job: Job,
    ordered: JobPart,
    shop: Shop,
    progress: Progress = _silent,
    fine: bool = True,
    shape_only: bool = False,
) -> PartReview:
    """Review one part: its shape, then everything that is computed from it."""
    metal = material(ordered.material)
    progress(0.0, "shape")
    shape = shaped(job, ordered, metal, shop)
    if shape_only:
        return told(ordered, metal, shape, None, None)
    rated = None
    walls: tuple[WallRating, ...] = ()
    if shape.part is not None and not shape.stopped:
        rated = held(job, ordered, shape.part, metal, fine, lambda done, what: progress(0.5 * done, what))
        walls = on_walls(
            job, ordered, shape.part, metal, rated, fine, lambda done, what: progress(0.5 + 0.2 * done, what)
        )
    progress(0.8, "making")
    return told(ordered, metal, shape, rated, shop, fine, walls)


def told(
    ordered: JobPart,
    metal: Material,
    shape: Shaped,
    rated: Held | None,
    shop: Shop | None,
    fine: bool = True,
    walls: tuple[WallRating, ...] = (),
) -> PartReview:
    """Everything known of a part, put together into its review; without a shop its making is left out."""
    strength = rated.strength if rated is not None else None
    findings = [*shape.findings, *_yield(ordered, metal)]
    assumptions = [*shape.assumptions, *_metal_assumed(ordered, metal)]
    if rated is not None:
        findings += rated.findings
        findings += strength.findings if strength is not None else ()
        findings += wall_findings(walls, strength.carried_kg.high if strength is not None else 0.0, ordered.name)
        assumptions += rated.assumptions
    flat, size, making = None, None, None
    if shape.part is not None:
        flat, found = _flat(shape.part)
        findings += found
        size = folded_size_mm(shape.part)
        if shop is not None:
            making = made(ordered, shape.part, flat, metal, shop, size, strength, fine)
            findings += making.findings
            findings += cost_findings(ordered, making)
    return PartReview(
        ordered,
        metal,
        shape.thickness_mm,
        shape.part,
        flat,
        size,
        verdict_of(_share(strength, walls), findings),
        _weakest(findings, strength, walls),
        tuple(_most_severe_first(findings)),
        tuple(assumptions),
        strength,
        making,
        walls,
    )


def _share(strength: Strength | None, walls: tuple[WallRating, ...]) -> float | None:
    """The largest share of what is allowed on any wall the job names; None while a link that may be the weakest is not
    proven."""
    if strength is None:
        return None
    known = [link.share for link in strength.chain if link.share is not None]
    worst = max([*known, *(wall.share for wall in walls if wall.share is not None)], default=None)
    if worst is not None and worst > 1.0:
        return worst
    return None if len(known) < len(strength.chain) else worst


def _flat(part: Part) -> tuple[FlatPattern | None, list[Finding]]:
    found = [
        Finding(
            "flat-overlaps",
            Severity.STOP,
            f"{clash.first} and {clash.second}",
            f"In the flat {clash.first!r} and {clash.second!r} lie over each other, so the part cannot be cut from one sheet.",
            clash.area_mm2,
            0.0,
            "geometry",
            "shorten one of them, or make two parts",
        )
        for clash in flat_overlaps(part)
    ]
    found += [
        Finding(
            "panels-collide",
            Severity.STOP,
            f"{clash.first} and {clash.second}",
            f"When folded, {clash.first!r} and {clash.second!r} pass through each other.",
            clash.depth_mm,
            0.0,
            "geometry",
            "shorten one of them, or change an angle",
        )
        for clash in folded_clashes(part)
    ]
    try:
        return flat_pattern(part), found
    except FlatError as error:
        if not any(f.code == "flat-overlaps" for f in found):
            found.append(Finding("flat-overlaps", Severity.STOP, part.name, str(error), None, None, "geometry"))
        return None, found


def _yield(ordered: JobPart, metal: Material) -> list[Finding]:
    """Whether anybody promises the strength that a rating leans on."""
    if ordered.certificate is not None or metal.yield_promised:
        return []
    assumable = metal.yield_basis == "design limit"
    say = (
        f"{metal.id} is sold without a promised yield; {metal.yield_mpa:g} MPa may be assumed as its lower limit."
        if assumable
        else f"Nobody promises the strength of {metal.id}; {metal.yield_mpa:g} MPa is only typical of it."
    )
    return [
        Finding(
            "yield-not-promised",
            Severity.CAUTION if assumable else Severity.UNPROVEN,
            ordered.name,
            say,
            metal.yield_mpa,
            None,
            metal.source.sentence,
            "break three bars printed the same way and put the lowest into the job as its certificate, or fold it of metal"
            if metal.family == "plastic"
            else "order a grade with a promised yield, or put the mill certificate's yield into the job",
        )
    ]


def _metal_assumed(ordered: JobPart, metal: Material) -> tuple[Assumption, ...]:
    found = [Assumption(f"density of {metal.id}", f"{metal.density_kg_m3:g} kg/m³", metal.source.sentence, "mass")]
    if ordered.certificate is not None:
        found.append(
            Assumption(
                f"yield of {metal.id}", f"{ordered.certificate.yield_mpa:g} MPa", ordered.certificate.source, "rating"
            )
        )
    else:
        found.append(
            Assumption(f"yield of {metal.id}", f"{metal.yield_mpa:g} MPa ({metal.yield_basis})", metal.source.sentence, "rating")
        )
    return tuple(found)


_ORDER = [Severity.STOP, Severity.UNPROVEN, Severity.CAUTION, Severity.NOTE]


def _most_severe_first(findings: list[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda f: _ORDER.index(f.severity))


def _weakest(findings: list[Finding], strength: Strength | None, walls: tuple[WallRating, ...]) -> str:
    """What gives first along the whole chain, or what is missing, in a few words."""
    stops = [f for f in findings if f.severity is Severity.STOP]
    if stops:
        return f"{stops[0].code} at {stops[0].place}"
    if strength is None:
        missing = [f for f in findings if f.severity is Severity.UNPROVEN]
        return f"unproven: {missing[0].code}" if missing else "not computed"
    link = strength.weakest
    other = max(walls[1:], key=lambda wall: wall.share or 0.0, default=None)
    if other is not None and (other.share or 0.0) > max(link.share or 0.0, 1.0):
        return f"on {other.backing}: {other.governs}"
    return f"{link.place} ({link.case}): {link.say.removeprefix(link.place + ': ')}"
