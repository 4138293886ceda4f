"""`steadfold rate JOB`: the whole job reviewed, verdict first."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadfold.review import Review

EXAMPLE = "steadfold rate examples/boat-shed.toml"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument("--part", metavar="NAME", help="only this part")
    command.add_argument("--pictures", metavar="DIR", help="draw how hard each part works, as SVG, into a folder")
    command.add_argument("--details", action="store_true", help="every case, hand formula, note and source as well")
    command.add_argument(
        "--accept", metavar="CODE", help="put the change that cures the part's first finding of this code into the job"
    )


def run(options: argparse.Namespace) -> int:
    """Review the job and say what was found; the exit status is the verdict's."""
    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.review import plain, review

    job = job_from(options.job, options.part)
    with progress() as tell:
        result = review(job, tell)
    if options.accept:
        return _accept(options, result)
    drawn = _drawn(options, result) if options.pictures else []
    if options.json:
        print(json.dumps(plain(result), ensure_ascii=False, allow_nan=False))
    else:
        from steadfold.cli.rated import say_review
        from steadfold.review.retold import retold

        say_review(retold(result, options.units), options.units, options.details, options.job)
        for name in drawn:
            print(f"{options.pictures}/{name}")
    return exit_status(str(result.verdict))


def _drawn(options: argparse.Namespace, result: Review) -> list[str]:
    """Write the pictures; gives their names."""
    from steadfold.deliver.part_files import strength_pictures
    from steadfold.deliver.writing import write_all

    files = strength_pictures(result.parts, options.units)
    write_all(options.pictures, files)
    return sorted(files)


def _accept(options: argparse.Namespace, result: Review) -> int:
    """Make a finding's change in the job file; comments and layout stay."""
    from steadfold.cli.problems import say_problem
    from steadfold.cli.reading import job_from
    from steadfold.job.writer import write_job
    from steadfold.review.accept import accepted

    whole = job_from(options.job)
    for part in result.parts:
        for finding in part.findings:
            if finding.code != options.accept or finding.change is None:
                continue
            text = accepted(whole, whole.part(part.name), finding)
            if text is not None:
                write_job(options.job, text)
                say = f"{part.name}: {finding.remedy}: done in {options.job}"
                print(json.dumps({"steadfold": 1, "done": say}) if options.json else say)
                return 0
    return say_problem(
        f"no finding {options.accept!r} here has a change that the job file has a field for", options.json
    )


def exit_status(verdict: str) -> int:
    """0 enough or tight, 1 not enough or stop, 3 unproven."""
    return {"enough": 0, "tight": 0, "not enough": 1, "stop": 1, "unproven": 3}[verdict]
