"""The same part in every stock thickness and several metals: 'double the usual gauge' as a number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass, replace

from steadfold.catalogue import Material, gauges_near, material, stock_thicknesses
from steadfold.job.models import Job, JobPart
from steadfold.job.problem import JobProblems
from steadfold.mount.metals import quick_strengths
from steadfold.mount.records import MountError, Strength
from steadfold.review.holding import prepared
from steadfold.review.review import review_part
from steadfold.review.shaping import shaped
from steadfold.review.shop import shop_of
from steadfold.review.workers import workers
from steadfold.sheet.shapes.shape import ShapeError

THINNEST_MM, THICKEST_MM = 0.7, 6.4


@dataclass(frozen=True)
class Choice:
    """One thickness of one metal: what it carries, how far it sags, what it weighs, and what sets its rating.

    `share` is the largest share of what is allowed under what the job says it carries; None where a link is not
    proven. `why_not` says why there is no answer.
    """

    material: str
    thickness_mm: float
    label: str
    now: bool
    rating_kg: float | None
    sag_mm: float | None
    mass_kg: float | None
    share: float | None
    governs: str
    why_not: str = ""


@dataclass(frozen=True)
class Comparison:
    """All choices of a part, metal by metal, thin to thick."""

    part: str
    carried_kg: float
    choices: tuple[Choice, ...]


def thicknesses(metal: Material, system: str | None = None) -> tuple[tuple[float, str], ...]:
    """Stock thicknesses of a metal with their names in the shop, thin to thick."""
    found = {}
    for stock in stock_thicknesses(metal, system):
        if THINNEST_MM <= stock.mm <= THICKEST_MM:
            found[round(stock.mm, 3)] = stock.label
    return tuple(sorted(found.items()))


def compare(
    job: Job,
    part_name: str,
    materials: Sequence[str] = (),
    progress: Callable[[float, str], None] = lambda share, what: None,
    executor: Executor | None = None,
    fine: bool = False,
) -> Comparison:
    """Rate a part in every stock thickness of its own and of other metals.

    Raises `KeyError` for a part that is not in the job, `NotInCatalogue` for an unknown metal.
    """
    ordered = job.part(part_name)
    metals = [material(ordered.material), *(material(m) for m in materials if material(m).id != ordered.material)]
    wanted = [(metal.id, t, label) for metal in metals for t, label in _with_own(ordered, metal)]
    tasks = _batches(job, [(_other(ordered, m, t), label) for m, t, label in wanted])
    own = executor is None
    pool = executor or workers()
    found: dict[int, Choice] = {}
    try:
        futures = {pool.submit(_batch, job, [variant for _, variant in batch], fine): batch for batch in tasks}
        for done in as_completed(futures):
            for (index, _), choice in zip(futures[done], done.result(), strict=True):
                found[index] = replace(choice, now=_is_now(ordered, choice))
            progress(len(found) / len(wanted), found[futures[done][0][0]].label)
    finally:
        if own:
            pool.shutdown(cancel_futures=True)
    carried = sum(c.count * c.mass_kg.high for c in ordered.carries)
    return Comparison(ordered.name, carried, tuple(found[i] for i in range(len(wanted))))


Variant = tuple[JobPart, str]
"""The part ordered in another sheet, and what that sheet is called in the shop."""


def _batches(job: Job, variants: list[Variant]) -> list[list[tuple[int, Variant]]]:
    """Variants that one solution may serve, side by side: of one thickness, stiffness and mass."""
    by_key: dict[tuple[float, float, float, float], list[tuple[int, Variant]]] = {}
    for index, variant in enumerate(variants):
        metal = material(variant[0].material)
        thickness = round(variant[0].thickness_mm or 0.0, 4)
        key = (thickness, metal.modulus_mpa, metal.poisson, metal.density_kg_m3)
        by_key.setdefault(key, []).append((index, variant))
    return list(by_key.values())


def _batch(job: Job, variants: list[Variant], fine: bool) -> list[Choice]:
    """Choices of one thickness: one solution read for every metal where their shapes are the same, else each alone."""
    shared = None if fine or len(variants) < 2 else _shared(job, variants)
    return shared if shared is not None else [_one(job, ordered, label, fine) for ordered, label in variants]


def _shared(job: Job, variants: list[Variant]) -> list[Choice] | None:
    """All variants from one solution; None where something keeps them apart."""
    shop = shop_of(job)
    try:
        shapes = [shaped(job, ordered, material(ordered.material), shop) for ordered, _ in variants]
        part = shapes[0].part
        if part is None or variants[0][0].mount is None or any(s.part != part or s.stopped for s in shapes):
            return None
        ready = [prepared(o, o.mount, part, material(o.material)) for o, _ in variants if o.mount is not None]
        if len({(r.fixings, r.carried, r.choices) for r in ready}) != 1 or not ready[0].carried:
            return None
        strengths = quick_strengths(
            part, [r.metal for r in ready], ready[0].fixings, ready[0].carried, ready[0].choices, [r.capacity for r in ready]
        )
    except (JobProblems, MountError, ShapeError, ValueError):
        return None
    return [
        _choice(ordered, label, part.volume_mm3 * material(ordered.material).density_kg_m3 * 1e-9, strength)
        for (ordered, label), strength in zip(variants, strengths, strict=True)
    ]


def _with_own(ordered: JobPart, metal: Material) -> list[tuple[float, str]]:
    """The stock list and, for the part's own metal, the thickness it has now."""
    found = dict(thicknesses(metal))
    now = ordered.thickness_mm
    if metal.id == ordered.material and now is not None and not any(abs(t - now) < 0.005 * now for t in found):
        near = gauges_near(now, metal, 1) if metal.gauge_table else ()
        found[now] = f"{near[0].number} ga" if near and abs(near[0].mm - now) < 0.01 else f"{now:g} mm"
    return sorted(found.items())


def _is_now(ordered: JobPart, choice: Choice) -> bool:
    now = ordered.thickness_mm
    return choice.material == ordered.material and now is not None and abs(choice.thickness_mm - now) < 0.005 * now


def _other(ordered: JobPart, material_id: str, thickness_mm: float) -> JobPart:
    """The part ordered in another sheet; a certificate is for the sheet it came with and does not go along."""
    keeps = material_id == ordered.material
    return replace(
        ordered,
        material=material_id,
        thickness_mm=thickness_mm,
        gauge=None,
        certificate=ordered.certificate if keeps else None,
    )


def _one(job: Job, ordered: JobPart, label: str, fine: bool) -> Choice:
    assert ordered.thickness_mm is not None
    bare = Choice(ordered.material, ordered.thickness_mm, label, False, None, None, None, None, "")
    try:
        answer = review_part(job, ordered, shop_of(job), fine=fine)
    except (JobProblems, ShapeError, ValueError) as error:
        problems = getattr(error, "problems", None)
        return replace(bare, why_not=problems[0].sentence if problems else str(error))
    if answer.strength is None:
        say = next((f.say for f in answer.findings if f.severity in ("stop", "unproven")), "not computed")
        return replace(bare, mass_kg=answer.mass_kg, why_not=say)
    return _choice(ordered, label, answer.mass_kg, answer.strength)


def _choice(ordered: JobPart, label: str, mass_kg: float | None, found: Strength) -> Choice:
    assert ordered.thickness_mm is not None
    return Choice(
        ordered.material,
        ordered.thickness_mm,
        label,
        False,
        found.rating_kg,
        found.cases[0].sag_mm,
        mass_kg,
        _known_share(found),
        found.governs,
    )


def _known_share(found: Strength) -> float | None:
    return max((link.share for link in found.chain if link.share is not None), default=None)
