"""`steadfold mend JOB [PART]`: ranked changes that make a part enough, each proven by the model."""

from __future__ import annotations

import argparse
import json

MOST_LINES = 8
"""A change of more lines than this is not spelled out."""

EXAMPLE = 'steadfold mend examples/boat-shed.toml "oar rack"'


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument("part", metavar="PART", nargs="?", help="the part; the job's first when left out")
    command.add_argument("--apply", type=int, metavar="N", help="put change N into the job file (comments are kept)")


def run(options: argparse.Namespace) -> int:
    """Look for changes, print them, and apply one if asked."""
    from steadfold.cli.problems import say_problem
    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.job.writer import write_job
    from steadfold.quantities import in_units, show_mass
    from steadfold.review.mend import mend, with_change
    from steadfold.review.retold import retold_mended

    job_from(options.job, options.part)
    job = job_from(options.job)
    with progress() as tell:
        found = mend(job, options.part or job.parts[0].name, tell)
    if options.apply is not None:
        if not 1 <= options.apply <= len(found.changes):
            return say_problem(f"there is no change {options.apply}; there are {len(found.changes)}", options.json)
        write_job(options.job, with_change(job, found.changes[options.apply - 1]))
    if options.json:
        rows = [_plain(change) for change in found.changes]
        near = [_plain(change) for change in found.near]
        told = {"steadfold": 1, "part": found.part, "share": found.now_share, "weakest": found.now, "changes": rows}
        thinner = None if found.thinner is None else _plain(found.thinner)
        print(json.dumps({**told, "near": near, "thinner": thinner, "untried": list(found.untried)}, ensure_ascii=False))
        return 0
    units = options.units
    found = retold_mended(found, units)
    now = "not computed" if found.now_share is None else f"uses {100 * found.now_share:.0f} % of what is allowed"
    print(f"{found.part} now {now}: {found.now}")
    for number, change in enumerate(found.changes, start=1):
        print(
            f"  {number}. {change.say}: {100 * change.share:.0f} %, may carry {show_mass(change.rating_kg, units)}, "
            + in_units(f"{change.added_kg:+z.2f} kg, {change.added_mm:+z.2f} mm of sheet", units)
        )
        print(f"     in the job: {_lines(change)}")
    if not found.changes:
        print("  no single change that was tried makes it enough; the nearest:")
        for change in found.near:
            print(f"  -  {change.say}: {100 * change.share:.0f} % ({change.still})")
    for each in found.untried:
        print(f"  Not tried: {each}")
    if found.thinner is not None:
        print(f"  Thinner would do: {found.thinner.say} holds too; the rest buys nothing but weight.")
    if found.changes and options.apply is None:
        print(f'Type the line in, or: steadfold mend {options.job} "{found.part}" --apply 1 (which looks again, then writes)')
    if options.apply is not None:
        print(f"Change {options.apply} is in {options.job}.")
    return 0


def _lines(change) -> str:  # type: ignore[no-untyped-def]
    """The job's own lines that make the change."""
    from steadfold.job.writer import toml

    if len(change.edits) > MOST_LINES:
        return f"{len(change.edits)} lines, the part drawn anew: let --apply write them"
    said = [f"{way[-1]} = {toml(value)}" for way, value in change.edits if value is not None]
    return ", ".join([*said, *(f"without {way[-1]}" for way, value in change.edits if value is None)])


def _plain(change) -> dict:  # type: ignore[no-untyped-def]
    return {
        "say": change.say,
        "share": round(change.share, 4),
        "rating_kg": round(change.rating_kg, 4),
        "added_kg": round(change.added_kg, 4),
        "added_mm": round(change.added_mm, 4),
        "holds": change.holds,
        "still": change.still,
        "edits": [{"way": list(way), "value": value} for way, value in change.edits],
    }
