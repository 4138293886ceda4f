"""The same part in every stock thickness and several metals: 'double the usual gauge' as a number."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, wait
from dataclasses import dataclass, replace

from steadfold.catalogue import Material, gauges_near, material, stock_thicknesses
from steadfold.job.models import Job, JobPart
from steadfold.job.problem import JobProblems
from steadfold.mount.metals import quick_strengths
from steadfold.mount.records import MountError, Strength
from steadfold.review.holding import held, prepared
from steadfold.review.shaping import shaped
from steadfold.review.shop import shop_of
from steadfold.review.workers import workers
from steadfold.sheet.shapes.shape import ShapeError

THINNEST_MM, THICKEST_MM = 0.7, 6.4

LIKE_STIFFNESS = 1.05
"""Metals whose fixings are as stiff across as this, one to another, are read from one solution: the stiffness goes with the
strength of the sheet about the hole, and is known far less closely."""


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
    found: dict[int, Choice] = {}
    for batch, choices in _worked(job, tasks, fine, executor):
        for (index, _), choice in zip(batch, choices, strict=True):
            found[index] = replace(choice, now=_is_now(ordered, choice))
        progress(len(found) / len(wanted), found[batch[0][0]].label)
    carried = sum(c.count * c.mass_kg.high for c in ordered.carries)
    return Comparison(ordered.name, carried, tuple(found[i] for i in range(len(wanted))))


Variant = tuple[JobPart, str]
"""The part ordered in another sheet, and what that sheet is called in the shop."""

Batch = list[tuple[int, Variant]]
"""Variants that one solution may serve, each with its place in the table."""


def _worked(
    job: Job, tasks: list[Batch], fine: bool, executor: Executor | None
) -> Iterator[tuple[Batch, list[Choice]]]:
    """Every batch with its choices, as they come; without an executor this process takes its share of the work, from the
    far end, so that it need not wait for the others to start."""
    pool = executor or workers((os.cpu_count() or 1) - 1 or 1)
    try:
        futures = {pool.submit(_batch, job, [variant for _, variant in batch], fine): batch for batch in tasks}
        waiting = list(futures)
        while waiting:
            mine = next((f for f in reversed(waiting) if f.cancel()), None) if executor is None else None
            if mine is not None:
                waiting.remove(mine)
                yield futures[mine], _batch(job, [variant for _, variant in futures[mine]], fine)
            else:
                wait(waiting, return_when=FIRST_COMPLETED)
            for done in [f for f in waiting if f.done()]:
                waiting.remove(done)
                yield futures[done], done.result()
    finally:
        if executor is None:
            pool.shutdown(cancel_futures=True)


def _batches(job: Job, variants: list[Variant]) -> list[Batch]:
    """Variants that one solution may serve, side by side: of one thickness, stiffness and mass."""
    by_key: dict[tuple[float, float, float, float], Batch] = {}
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
        across = [r.fixings.shear_n_per_mm for r in ready]
        alike = {(replace(r.fixings, shear_n_per_mm=0.0), r.carried, r.choices) for r in ready}
        if len(alike) != 1 or max(across) > LIKE_STIFFNESS * min(across) or not ready[0].carried:
            return None
        strengths = quick_strengths(
            part,
            [r.metal for r in ready],
            ready[0].fixings,
            ready[0].carried,
            ready[0].choices,
            [r.capacity for r in ready],
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
    metal = material(ordered.material)
    try:
        shape = shaped(job, ordered, metal, shop_of(job))
        findings, strength = list(shape.findings), None
        if shape.part is not None and not shape.stopped:
            rated = held(job, ordered, shape.part, metal, fine)
            findings, strength = [*findings, *rated.findings], rated.strength
    except (JobProblems, ShapeError, ValueError) as error:
        problems = getattr(error, "problems", None)
        return replace(bare, why_not=problems[0].sentence if problems else str(error))
    mass = None if shape.part is None else shape.part.volume_mm3 * metal.density_kg_m3 * 1e-9
    if strength is None:
        say = next((f.say for f in findings if f.severity in ("stop", "unproven")), "not computed")
        return replace(bare, mass_kg=mass, why_not=say)
    return _choice(ordered, label, mass, strength)


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
