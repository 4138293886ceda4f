"""Files of one part to take along, in a child process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from steadfold.deliver.part_files import part_files
from steadfold.job import read_job_text
from steadfold.review import Review


def part_file(tell: Callable[[float, str], None], text: str, path: str, number: int, kind: str) -> tuple[str, bytes]:
    """Name and content of a part's dxf, svg, step or glb; `LookupError` when it has no flat."""
    from steadfold.page.answers import shape_only

    job = read_job_text(text, Path(path))
    alone = replace(job, parts=(job.parts[number],))
    made = part_files(Review(alone, (shape_only(alone),)), models=kind in ("step", "glb"))
    for name, data in made.items():
        if name.endswith(f".{kind}"):
            return name, data
    raise LookupError(kind)
