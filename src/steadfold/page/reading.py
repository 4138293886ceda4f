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
from steadfold.job.models import Job, JobPart, LaterTable
from steadfold.job.writer import Changes
from steadfold.page.form import form
from steadfold.page.sale_form import sale_form
from steadfold.page.stand_form import stand_form

Tell = Callable[[float, str], None]


def read(tell: Tell, text: str, path: str) -> dict[str, Any]:
    """What the page must know of a job before anything is computed: its name, its parts, and their forms."""
    job = read_job_text(text, Path(path))
    return told(job)


def change(
    tell: Tell, text: str, path: str, changes: Iterable[tuple[list[str | int], Any]]
) -> tuple[str, dict[str, Any]]:
    """The text with fields changed, everything else byte for byte, and what it then says.

    Raises `CannotChange` when there is no place for a change, `JobProblems` when the result is no job.
    """
    ways: Changes = [(tuple(way), value) for way, value in changes]
    new = changed(text, ways, Path(path))
    return new, told(read_job_text(new, Path(path)))


def told(job: Job) -> dict[str, Any]:
    """A job as the page shows it."""
    return {
        "name": job.name,
        "revision_letter": job.revision,
        "parts": [_part(job, number, part) for number, part in enumerate(job.parts)],
        "stands": [_stand(stand) for stand in job.stands],
        "sale": sale_form(job),
        "quotes": _quotes_named(job),
    }


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
