"""Reading and changing a job's text, in a child process: what goes out is plain data for the page.

Every function takes `tell` first, as `workers` calls it, and raises `JobProblems` for a text that is no job.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from steadfold.job import changed, read_job_text
from steadfold.job.layout import Steps
from steadfold.job.models import Job, JobPart, LaterTable
from steadfold.job.problem import JobProblems
from steadfold.job.sale_table import read_sale
from steadfold.job.stand_table import read_stand
from steadfold.job.writer import Changes
from steadfold.money.rates import read_rates
from steadfold.page.form import form
from steadfold.page.sale_form import sale_form
from steadfold.page.stand_form import stand_form
from steadfold.review.shop import shop_of

Tell = Callable[[float, str], None]


def read(tell: Tell, text: str, path: str) -> dict[str, Any]:
    """What the page must know of a job before anything is computed: its name, its parts, and their forms."""
    job = read_job_text(text, Path(path))
    return told(job)


def change(
    tell: Tell, text: str, path: str, changes: Iterable[tuple[list[str | int], Any]]
) -> tuple[str, dict[str, Any]]:
    """The text with fields changed, everything else byte for byte, and what it then says.

    Raises `CannotChange` when there is no place for a change, `JobProblems` when the result is no job, or when a
    stand or the sale that could be read before no longer can.
    """
    ways: Changes = [(tuple(way), value) for way, value in changes]
    new = changed(text, ways, Path(path))
    job = read_job_text(new, Path(path))
    for way, _ in ways:
        if way[0] in ("stand", "sale"):
            _still_read(read_job_text(text, Path(path)), job, way)
    return new, told(job)


def _still_read(before: Job, after: Job, way: Steps) -> None:
    """Stands and the sale are read apart from the job: raise `JobProblems` when a change has spoiled one."""
    problems = _problems_at(after, way)
    if problems is not None and _problems_at(before, way) is None:
        raise problems


def _problems_at(job: Job, way: Steps) -> JobProblems | None:
    try:
        if way[0] == "sale":
            rates = read_rates(shop_of(job).rates)
            read_sale(job, rates.currency, rates.shipping)
        elif len(way) > 1 and isinstance(way[1], int) and way[1] < len(job.stands):
            read_stand(job.stands[way[1]])
    except JobProblems as error:
        return error
    return None


def told(job: Job) -> dict[str, Any]:
    """A job as the page shows it."""
    return {
        "name": job.name,
        "revision_letter": job.revision,
        "parts": [_part(job, number, part) for number, part in enumerate(job.parts)],
        "stands": [_stand(stand) for stand in job.stands],
        "sale": sale_form(job),
        "quotes": _quotes_named(job),
        "leans_on": [str(file) for file in _files(job)],
    }


def _files(job: Job) -> list[Path]:
    """The files that answers about the job stand on besides it: the shop's own, and drawings."""
    found = [job.shop.file, *(part.cad.file for part in job.parts if part.cad is not None)]
    return list(dict.fromkeys(file for file in found if file is not None))


def _quotes_named(job: Job) -> str | None:
    """The file of quotes that the job names, if any."""
    named = None if job.sale is None else job.sale.values.get("quotes")
    return named if isinstance(named, str) else None


def _stand(table: LaterTable) -> dict[str, Any]:
    return {
        "name": str(table.values.get("name", "stand")),
        "note": str(table.values.get("note", "")),
        "fingerprint": _hashed([json.dumps(table.values, sort_keys=True, default=str)]),
        "form": stand_form(table),
        "values": json.loads(json.dumps(table.values, default=str)),
    }


def _part(job: Job, number: int, part: JobPart) -> dict[str, Any]:
    return {
        "name": part.name,
        "quantity": part.quantity,
        "material": part.material,
        "shape": part.shape,
        "fingerprint": fingerprint(job, part),
        "form": form(job, part),
    }


def fingerprint(job: Job, part: JobPart) -> str:
    """The same for the same part in the same shop: an answer computed for it holds as long as this does."""
    own = job.text.values["part"][part.path[1]]
    content = [
        json.dumps(own, sort_keys=True, default=str),
        json.dumps(job.text.values.get("shop", {}), sort_keys=True),
    ]
    for file in (job.shop.file, part.cad.file if part.cad is not None else None):
        if file is not None:
            content.append(hashlib.sha256(file.read_bytes()).hexdigest() if file.is_file() else "gone")
    return _hashed(content)


def _hashed(content: list[str]) -> str:
    return hashlib.sha256("\n".join(content).encode()).hexdigest()[:20]
