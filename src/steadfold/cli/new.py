"""`steadfold new DIR`: a small job to start from."""

from __future__ import annotations

import argparse
import json

EXAMPLE = "steadfold new my-shed"
FILE = "job.toml"
SHAPES = (
    "tine rack", "hole bar", "hook strip", "saddle", "tray", "shelf", "angle bracket", "square pocket", "channel", "hat",
    "panels",
)  # fmt: skip
"""What `--shape` takes; written out here so that `--help` loads nothing heavy."""


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("folder", metavar="DIR", help="a new or empty folder; the job is written into it")
    command.add_argument(
        "--shape", metavar="SHAPE", help=f"what to start with: {', '.join(SHAPES)}; a tine rack if left out"
    )


def run(options: argparse.Namespace) -> int:
    """Write the job; an existing job is never overwritten."""
    from pathlib import Path

    from steadfold.cli.problems import say_problem
    from steadfold.job.fresh import new_job
    from steadfold.job.writer import write_job

    target = Path(options.folder) / FILE
    if target.exists():
        return say_problem(f"{target} is there already and is left as it is; name another folder", options.json)
    try:
        text = new_job(options.shape) if options.shape else new_job()
    except ValueError as error:
        return say_problem(str(error), options.json)
    target.parent.mkdir(parents=True, exist_ok=True)
    write_job(target, text)
    if options.json:
        print(json.dumps({"steadfold": 1, "job": str(target)}))
    else:
        print(f"{target} is yours: change what it says about the part, what it carries and what it is fixed to.")
        print(f"Next: steadfold rate {target}")
    return 0
