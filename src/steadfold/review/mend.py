"""Changes that would make a part enough, each proven by the model, ranked by what they add."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass
from typing import Any

from steadfold.catalogue import material
from steadfold.job.models import Job, JobPart
from steadfold.job.problem import JobProblems
from steadfold.job.reader import read_job_text
from steadfold.job.writer import CannotChange, changed
from steadfold.quantities import show_length
from steadfold.review.compare import thicknesses
from steadfold.review.records import PartReview
from steadfold.review.reshaping import (
    Edit,
    cannot_be_tried,
    fixings_and_backing,
    folded_of_sheet,
    on_edge,
    tied_channels,
)
from steadfold.review.review import review_part
from steadfold.review.shop import shop_of
from steadfold.review.workers import workers

MOST_PROVEN = 6
"""How many changes that look good on the coarse mesh are proven on the full one."""

PROMISED = {"DC01": ("S235", "S355"), "A1008 CS": ("A1008 SS33",), "A1011 CS": ("A1011 SS36",), "DX51D": ("S250GD",), "S235": ("S355",)}
"""Metals of the same kind with a promised, or a higher, yield."""


@dataclass(frozen=True)
class Mending:
    """One change and what it does: its edits to the job, largest share of what is allowed afterwards, rating, and
    what it adds in mass and sheet (negative where it takes away). `holds` is the full model's word."""

    say: str
    edits: tuple[Edit, ...]
    share: float
    rating_kg: float
    added_kg: float
    added_mm: float
    holds: bool
    still: str


@dataclass(frozen=True)
class Mended:
    """What was found: how the part stands now, the changes that make it enough, best first, and how near the others
    came. `thinner` names a thinner sheet that holds too, when the part is enough already; `untried` are changes that help
    and that the model cannot prove, with the hand formula's word."""

    part: str
    now_share: float | None
    now: str
    changes: tuple[Mending, ...]
    near: tuple[Mending, ...]
    thinner: Mending | None
    untried: tuple[str, ...] = ()


def mend(
    job: Job,
    part_name: str,
    progress: Callable[[float, str], None] = lambda share, what: None,
    executor: Executor | None = None,
) -> Mended:
    """Look for changes to a part. Raises `KeyError` for a part that is not in the job."""
    ordered = job.part(part_name)
    before = review_part(job, ordered, shop_of(job))
    share = share_of(before)
    candidates = [*_candidates(job, ordered, before)]
    own = executor is None
    pool = executor or workers()
    try:
        quick = _tried(pool, job, ordered, before, candidates, False, lambda s, w: progress(0.6 * s, w))
        fit = sorted((m for m in quick if m.holds), key=_rank)[:MOST_PROVEN]
        proven = _tried(
            pool, job, ordered, before, [(m.say, m.edits) for m in fit], True, lambda s, w: progress(0.6 + 0.4 * s, w)
        )
    finally:
        if own:
            pool.shutdown(cancel_futures=True)
    enough = share is not None and share <= 1.0
    changes = sorted((m for m in proven if m.holds), key=_rank)
    thinner = next((m for m in changes if m.added_mm < -1e-9), None) if enough else None
    near = sorted((m for m in quick if not m.holds), key=lambda m: m.share)[:4]
    untried = () if enough else cannot_be_tried(ordered, before.thickness_mm)
    return Mended(part_name, share, before.weakest, tuple(changes), tuple(near), thinner, untried)


def share_of(found: PartReview) -> float | None:
    """Largest known share of what is allowed; None where nothing was computed."""
    if found.strength is None:
        return None
    return max((link.share for link in found.strength.chain if link.share is not None), default=None)


def _rank(m: Mending) -> tuple[float, float]:
    return (round(m.added_kg, 4), m.share)


def _candidates(job: Job, ordered: JobPart, before: PartReview) -> list[tuple[str, tuple[Edit, ...]]]:
    """Changes worth trying: sheet, metal, the dimensions of a ready-made shape, fixings."""
    way = ordered.path
    found: list[tuple[str, tuple[Edit, ...]]] = []
    metal = material(ordered.material)
    now = ordered.thickness_mm or 0.0
    stock = thicknesses(metal)
    thicker = [t for t, _ in stock if t > now * 1.02][:4]
    thinner = [t for t, _ in stock if t < now * 0.98][-2:]
    for t in (*thicker, *thinner):
        found.append((f"take {show_length(t)} sheet", (((*way, "thickness"), f"{t:g} mm"),)))
    for other in PROMISED.get(ordered.material, ()):
        found.append((f"take {other}", (((*way, "material"), other), *_plain_thickness(ordered, way))))
        for t in thicker[:1]:
            edits = (((*way, "material"), other), ((*way, "thickness"), f"{t:g} mm"))
            found.append((f"take {other} in {show_length(t)}", edits))
    found += _shape_changes(ordered, way)
    own = _table(job, ordered)
    sheets = folded_of_sheet(ordered, own, shop_of(job))
    return [*found, *on_edge(ordered, own), *tied_channels(ordered, own, before.thickness_mm), *fixings_and_backing(ordered, own), *sheets]


def _table(job: Job, ordered: JobPart) -> Any:
    """The part's table as it stands in the file."""
    found: Any = tomllib.loads(job.text.text.removeprefix("\ufeff"))
    for step in ordered.path:
        found = found[step]
    return found


def _plain_thickness(ordered: JobPart, way: tuple[str | int, ...]) -> tuple[Edit, ...]:
    """A gauge means another thickness in another metal: keep the millimetres."""
    if ordered.gauge is None or ordered.thickness_mm is None:
        return ()
    return (((*way, "thickness"), f"{ordered.thickness_mm:.3f} mm"),)


def _shape_changes(ordered: JobPart, way: tuple[str | int, ...]) -> list[tuple[str, tuple[Edit, ...]]]:
    """Dimensions of a ready-made shape that make it stiffer or spread its load."""
    values = ordered.shape_values
    found: list[tuple[str, tuple[Edit, ...]]] = []

    def length(key: str, to_mm: float, say: str) -> None:
        found.append((say, (((*way, key), f"{round(to_mm, 1):g} mm"),)))

    for key, word in (("tine_width", "tines"), ("hook_width", "hooks")):
        if key in values:
            for factor in (1.25, 1.5, 2.0):
                wide = float(values[key]) * factor
                length(key, wide, f"make the {word} {show_length(round(wide, 1), 'mm', 0)} wide")
    for key, word in (("tine_lip", "lips along the tines"), ("lip", "front lip"), ("side", "sides"), ("cheek", "cheeks")):
        if key in values:
            for high in (15.0, 20.0, 30.0):
                if high > float(values[key]) + 1.0:
                    length(key, high, f"fold the {word} {high:g} mm high")
    if "mount_holes" in values:
        now = int(values["mount_holes"])
        for more in (1, 2, 3):
            found.append((f"use {now + more} fixings", (((*way, "mount_holes"), now + more),)))
    if "mount_height" in values and "height" in values:
        height = float(values["height"])
        for share in (0.6, 0.75):
            to = share * height
            if abs(to - float(values["mount_height"])) > 3.0:
                length("mount_height", to, f"put the fixings {show_length(to, 'mm', 0)} above the lower edge")
    if "height" in values:
        high = 1.4 * float(values["height"])
        up = (((*way, "height"), f"{round(high, 1):g} mm"), ((*way, "mount_height"), f"{round(0.75 * high, 1):g} mm"))
        if "mount_height" in values:
            found.append((f"make the back {show_length(high, 'mm', 0)} high and put the fixings near its top", up))
    return found


def _tried(
    pool: Executor,
    job: Job,
    ordered: JobPart,
    before: PartReview,
    candidates: Sequence[tuple[str, tuple[Edit, ...]]],
    fine: bool,
    progress: Callable[[float, str], None],
) -> list[Mending]:
    path = str(job.file) if job.file is not None else str(job.folder / "job.toml")
    futures = {
        pool.submit(_one, job.text.text, path, ordered.name, say, edits, fine): say for say, edits in candidates
    }
    found = []
    for number, done in enumerate(as_completed(futures), start=1):
        answer = done.result()
        progress(number / max(len(futures), 1), futures[done])
        if answer is not None:
            share, rating, mass, thickness, still, say, edits = answer
            found.append(
                Mending(
                    say,
                    edits,
                    share,
                    rating,
                    mass - (before.mass_kg or 0.0),
                    thickness - (before.thickness_mm or 0.0),
                    share <= 1.0,
                    still,
                )
            )
    return found


def _one(
    text: str, path: str, name: str, say: str, edits: tuple[Edit, ...], fine: bool
) -> tuple[float, float, float, float, str, str, tuple[Edit, ...]] | None:
    """Review the part with the edits made; None where they make no part."""
    try:
        was = read_job_text(text, path).part(name).quantity
        job = read_job_text(changed(text, edits, path), path)
        found = review_part(job, job.part(name), shop_of(job), fine=fine)
    except (JobProblems, CannotChange, ValueError, KeyError):
        return None
    share = share_of(found)
    if share is None or found.strength is None or found.mass_kg is None or found.thickness_mm is None:
        return None
    if any(f.severity == "stop" for f in found.findings):
        return None
    many = found.ordered.quantity / was  # one part made as several: all of them together
    return share, many * found.strength.rating_kg, many * found.mass_kg, found.thickness_mm, found.weakest, say, edits


def with_change(job: Job, change: Mending) -> str:
    """The job's text with a change made; comments and layout stay."""
    path = str(job.file) if job.file is not None else "job.toml"
    return changed(job.text.text, change.edits, path)



