"""`steadfold rate JOB`: the whole job reviewed, verdict first."""

from __future__ import annotations

import argparse
import json

EXAMPLE = "steadfold rate examples/boat-shed.toml"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument("--part", metavar="NAME", help="only this part")


def run(options: argparse.Namespace) -> int:
    """Review the job and say what was found; the exit status is the verdict's."""
    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.review import plain, review

    job = job_from(options.job, options.part)
    with progress() as tell:
        result = review(job, tell)
    if options.json:
        print(json.dumps(plain(result), ensure_ascii=False, allow_nan=False))
    else:
        from steadfold.cli.rated import say_review

        say_review(result, options.units)
    return exit_status(str(result.verdict))


def exit_status(verdict: str) -> int:
    """0 enough or tight, 1 not enough or stop, 3 unproven."""
    return {"enough": 0, "tight": 0, "not enough": 1, "stop": 1, "unproven": 3}[verdict]
