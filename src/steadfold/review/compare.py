"""The same part in every stock thickness and several metals: 'double the usual gauge' as a number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass, replace

from steadfold.catalogue import Material, gauges_near, material, stock_thicknesses
from steadfold.job.models import Job, JobPart
from steadfold.job.problem import JobProblems
from steadfold.mount.records import Strength
from steadfold.review.review import review_part
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
    tasks = [(job, _other(ordered, m, t), label, fine) for m, t, label in wanted]
    own = executor is None
    pool = executor or workers()
    try:
        futures = {pool.submit(_one, *task): i for i, task in enumerate(tasks)}
        found: dict[int, Choice] = {}
        for done in as_completed(futures):
            found[futures[done]] = done.result()
            progress(len(found) / len(tasks), found[futures[done]].label)
    finally:
        if own:
            pool.shutdown(cancel_futures=True)
    chosen = [replace(found[i], now=_is_now(ordered, found[i])) for i in range(len(tasks))]
    carried = sum(c.count * c.mass_kg.high for c in ordered.carries)
    return Comparison(ordered.name, carried, tuple(chosen))


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
    found = answer.strength
    if found is None:
        say = next((f.say for f in answer.findings if f.severity in ("stop", "unproven")), "not computed")
        return replace(bare, mass_kg=answer.mass_kg, why_not=say)
    return replace(
        bare,
        rating_kg=found.rating_kg,
        sag_mm=found.cases[0].sag_mm,
        mass_kg=answer.mass_kg,
        share=_known_share(found),
        governs=found.governs,
    )


def _known_share(found: Strength) -> float | None:
    return max((link.share for link in found.chain if link.share is not None), default=None)
