"""The stand that a command means, out of a job."""

from __future__ import annotations

from typing import TYPE_CHECKING

from steadfold.job.problem import JobProblems, Problem

if TYPE_CHECKING:
    from steadfold.job.models import LaterTable
    from steadfold.stand.records import Stand


def stand_from(path: str, name: str | None) -> tuple[LaterTable, Stand]:
    """The table and the stand of that name, or the job's first; raises `JobProblems` where there is none."""
    from steadfold.job.reader import read_job
    from steadfold.job.stand_table import read_stand

    job = read_job(path)
    names = [str(table.values.get("name", "")) for table in job.stands]
    for table, each in zip(job.stands, names, strict=True):
        if name is None or each == name:
            return table, read_stand(table)
    if not names:
        raise JobProblems([Problem(path, 0, 0, "", "there is no [[stand]] in this job")])
    known = ", ".join(repr(each) for each in names)
    raise JobProblems([Problem(path, 0, 0, "", f"there is no stand {name!r} in this job; it has {known}")])
