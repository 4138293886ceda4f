"""The cheapest (or lightest) choice of gauge, material and dimensions that is enough and can be made.

The choices are fields of the part in the job file; each candidate is the job with those fields set, reviewed by the
full model. What it costs is reckoned before, with counted strokes, so that dear candidates need no model run.
"""

from __future__ import annotations

import hashlib
import itertools
import re
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Literal

from steadfold import __version__
from steadfold.catalogue import material
from steadfold.findings import Severity
from steadfold.job.models import Job, JobPart
from steadfold.job.problem import JobProblems, Problem
from steadfold.job.reader import read_job_text
from steadfold.job.writer import CannotChange, edited
from steadfold.money.cost import cost_of
from steadfold.money.rates import read_rates
from steadfold.money.search import Answer, Axis, Candidate, Found, Screen, Value, cheapest
from steadfold.money.work import NoCost
from steadfold.quantities import QuantityError, read_length
from steadfold.review.compare import thicknesses
from steadfold.review.mend import share_of
from steadfold.review.review import review_part
from steadfold.review.shaping import shaped
from steadfold.review.shop import shop_of
from steadfold.sheet.flat import FlatError, flat_pattern
from steadfold.sheet.part import Part

Aim = Literal["cost", "mass"]

NEVER_WEAKENS = ("thickness", "tine_width", "hook_width")
"""Fields of which more never makes a part weaker, all else alike: what is too weak rules out less of them. A taller
lip or another fixing can move or buckle what holds, so those are tried one by one."""

_RANGE = re.compile(r"(?P<low>.+?)\s*\.\.\s*(?P<high>.+?)\s*/\s*(?P<step>.+)")
MOST_VALUES = 200


@dataclass(frozen=True)
class Sized:
    """What a search for a part ended with. `now` is the answer for the part as it is in the job, when it was asked;
    `unit` is a currency, or kg."""

    part: str
    aim: Aim
    unit: str
    found: Found
    carried_kg: float


@dataclass(frozen=True)
class Model:
    """The full model of candidates of one part; it holds texts only, so that any process can have it."""

    text: str
    path: str
    part: str
    names: tuple[str, ...]
    aim: Aim
    fine: bool

    def job(self, candidate: Candidate) -> Job:
        """The job with the candidate's fields set. Raises `JobProblems` or `CannotChange` when it is none."""
        return _job_of(self, candidate)

    def shaped(self, candidate: Candidate) -> tuple[Job, JobPart, Part]:
        """The candidate's part. Raises `JobProblems`, `CannotChange`, or `ValueError` with a sentence."""
        job = self.job(candidate)
        ordered = job.part(self.part)
        part = shaped(job, ordered, material(ordered.material), shop_of(job)).part
        if part is None:
            raise ValueError("its shape could not be had")
        return job, ordered, part

    def least(self, candidate: Candidate) -> float:
        """What the candidate costs each (strokes counted, uncalibrated middle) or weighs, kg."""
        job, ordered, part = self.shaped(candidate)
        metal, shop = material(ordered.material), shop_of(job)
        if self.aim == "mass":
            return part.volume_mm3 * metal.density_kg_m3 * 1e-9
        quantity = ordered.quantity
        answer = cost_of(part, flat_pattern(part), None, metal, shop, quantity, ordered.finish, at=(quantity,))
        return float(answer.each.amount)

    def screen(self, candidate: Candidate) -> Screen:
        """The candidate's cost, or why it cannot be."""
        try:
            return Screen(self.least(candidate))
        except JobProblems as error:
            return Screen(float("inf"), error.problems[0].sentence)
        except (CannotChange, FlatError, NoCost, ValueError) as error:
            return Screen(float("inf"), str(error))

    def __call__(self, candidate: Candidate) -> Answer:
        """The full model's answer."""
        cost = self.least(candidate)
        job = self.job(candidate)
        found = review_part(job, job.part(self.part), shop_of(job), fine=self.fine)
        share = share_of(found)
        if found.strength is None or share is None:
            return Answer("cannot be made", cost, 0.0, found.weakest)
        rating = found.strength.rating_kg
        if share > 1.0:
            return Answer("too weak", cost, rating, found.weakest)
        stop = next((f for f in found.findings if f.severity is Severity.STOP), None)
        if stop is not None:
            return Answer("cannot be made", cost, rating, stop.say)
        return Answer("enough", cost, rating, f"{found.verdict}: {found.weakest}")


@lru_cache(maxsize=4)
def _job_of(model: Model, candidate: Candidate) -> Job:
    """The job of a candidate; kept, since its price and its review both ask for it."""
    edits = [(("part", model.part, name), value) for name, value in zip(model.names, candidate, strict=True)]
    return read_job_text(edited(model.text, edits), model.path)


def _alone(job: Job, part_name: str, path: str) -> str:
    """The job's text with this part alone, for it is read once a candidate; the whole text where that is no job."""
    others = [part.name for part in job.parts if part.name != part_name]
    tables = [key for key in ("stand", "sale") if key in job.text.values]
    try:
        text = edited(
            job.text.text, [*((("part", name), None) for name in others), *(((key,), None) for key in tables)]
        )
        read_job_text(text, path)
    except (CannotChange, JobProblems):
        return job.text.text
    return text


def size(
    job: Job,
    part_name: str,
    vary: Sequence[str] = (),
    aim: Aim = "cost",
    *,
    executor: Executor | None = None,
    at_once: int = 1,
    cache_path: str | Path | None = None,
    whole_front: bool = False,
    fine: bool = True,
    stop: Callable[[], bool] = lambda: False,
    progress: Callable[[float, str], None] = lambda share, what: None,
) -> Sized:
    """Search the fields in `vary` (see `axis_of`); without any, the thicknesses that the metal is sold in.

    Raises `JobProblems` for a field that cannot be varied, `KeyError` for a part that is not in the job, `RatesError`.
    """
    ordered = job.part(part_name)
    axes = tuple(axis_of(job, ordered, words) for words in vary or ("thickness",))
    path = str(job.file) if job.file is not None else str(job.folder / "job.toml")
    model = Model(_alone(job, part_name, path), path, part_name, tuple(axis.name for axis in axes), aim, fine)
    _check_fields(job, model, axes)
    rates = read_rates(shop_of(job).rates)
    found = cheapest(
        axes,
        model.screen,
        model,
        executor=executor,
        at_once=at_once,
        cache_path=cache_path,
        fingerprint=_fingerprint(job, part_name, aim, fine, model.names),
        whole_front=whole_front,
        stop=stop,
        tell=progress,
    )
    carried = sum(each.total_kg.high for each in ordered.carries)
    return Sized(part_name, aim, rates.currency if aim == "cost" else "kg", found, carried)


def _check_fields(job: Job, model: Model, axes: Sequence[Axis]) -> None:
    """Raise `JobProblems` for a field that the job takes none of the values of: a misspelt one, or without units."""
    for axis in axes:
        why = ""
        for value in axis.values:
            try:
                replace(model, names=(axis.name,)).job((value,))
            except JobProblems as error:
                why = why or error.problems[0].sentence
            except CannotChange as error:
                why = why or str(error)
            else:
                why = ""
                break
        if why:
            raise _wrong(job, f"--vary {axis.name}: {why}")


def axis_of(job: Job, ordered: JobPart, words: str) -> Axis:
    """The axis that words like `thickness`, `material=S235,S355`, `tine_width=20 mm..40 mm/5 mm`, `mount_holes=2..6/1`
    name.

    Values are as they would stand in the job file. `thickness` alone takes all that the metal is sold in. Raises
    `JobProblems` with one sentence.
    """
    name, _, text = (word.strip() for word in words.partition("="))
    if name == "thickness" and not text:
        metal = material(ordered.material)
        return Axis(name, tuple(_as_text(t) for t, _ in thicknesses(metal)), True)
    if not name or not text:
        right = "write it like tine_width=20 mm..40 mm/5 mm or material=S235,S355"
        raise _wrong(job, f"{words!r} names no values; {right}")
    span = _RANGE.fullmatch(text)
    values = _span(job, span, words) if span else tuple(_value(v) for v in text.split(",") if v.strip())
    if not 0 < len(values) <= MOST_VALUES:
        raise _wrong(job, f"{words!r} names {len(values)} values; from 1 to {MOST_VALUES} can be tried")
    if len(set(values)) != len(values):
        raise _wrong(job, f"{words!r} names a value twice")
    rising = name in NEVER_WEAKENS and _sizes(values) == sorted(_sizes(values)) and len(_sizes(values)) == len(values)
    return Axis(name, values, rising)


def _span(job: Job, span: re.Match[str], words: str) -> tuple[Value, ...]:
    """Values from low to high in steps: whole numbers, or lengths."""
    ends = [span[key].strip() for key in ("low", "high", "step")]
    if all(end.isascii() and end.isdigit() for end in ends):
        low, high, step = (int(end) for end in ends)
        if low <= high and step > 0:
            return tuple(itertools.islice(range(low, high + 1, step), MOST_VALUES + 1))
    else:
        try:
            start, stop, by = (read_length(end) for end in ends)
        except QuantityError as error:
            raise _wrong(job, f"{words!r}: {error}") from None
        if start <= stop and by > 0:
            count = min(int((stop - start) / by + 1e-9) + 1, MOST_VALUES + 1)
            return tuple(_as_text(start + k * by) for k in range(count))
    raise _wrong(job, f"{words!r} runs the wrong way; write low..high/step")


def _value(text: str) -> Value:
    word = text.strip()
    return int(word) if re.fullmatch(r"-?\d{1,9}", word) else word


def _sizes(values: Sequence[Value]) -> list[float]:
    """The values as numbers, those that are none left out."""
    found = []
    for value in values:
        try:
            found.append(float(value) if not isinstance(value, str) else read_length(value))
        except QuantityError:
            continue
    return found


def _as_text(length_mm: float) -> str:
    return f"{round(length_mm, 4):g} mm"


def _fingerprint(job: Job, part: str, aim: Aim, fine: bool, names: tuple[str, ...]) -> str:
    """What the answers depend on beside the candidate: job, shop's file, part, aim, model, and version of steadfold."""
    shop = job.shop.file.read_bytes() if job.shop.file is not None else b""
    said = "\n".join([job.fingerprint, hashlib.sha256(shop).hexdigest(), part, aim, str(fine), __version__, *names])
    return hashlib.sha256(said.encode("utf-8")).hexdigest()


def _wrong(job: Job, sentence: str) -> JobProblems:
    return JobProblems([Problem(str(job.file or "job.toml"), 0, 0, "", sentence)])
