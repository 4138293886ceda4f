"""Reading the job that a command names."""

from __future__ import annotations

from dataclasses import replace

from steadfold.job.models import Job
from steadfold.job.problem import JobProblems, Problem
from steadfold.job.reader import read_job


def job_from(path: str, part: str | None = None) -> Job:
    """The job of a file, or only one of its parts; raises `JobProblems` when there is no such part."""
    job = read_job(path)
    if part is None:
        return job
    chosen = tuple(p for p in job.parts if p.name == part)
    if not chosen:
        names = ", ".join(repr(p.name) for p in job.parts)
        raise JobProblems([Problem(path, 0, 0, "", f"there is no part {part!r} in this job; it has {names}")])
    return replace(job, parts=chosen)
