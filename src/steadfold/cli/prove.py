"""`steadfold prove JOB [PART]`: the sheet for a physical proof test, and reading its result back."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict

EXAMPLE = 'steadfold prove examples/boat-shed.toml "oar rack" --measured "2.4 mm" --tested 3'


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument("part", metavar="PART", nargs="?", help="the part; the job's first when left out")
    command.add_argument("--factor", type=float, default=1.25, help="proof load over what it carries (1.25)")
    command.add_argument("--measured", metavar="LENGTH", help="the sag you measured under the proof load")
    command.add_argument("--tested", type=int, default=1, help="how many were tested")
    command.add_argument("--failed", type=int, default=0, help="how many of them failed")


def run(options: argparse.Namespace) -> int:
    """Print the sheet, and what the result says."""
    from steadfold.cli.problems import say_problem
    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.quantities import read_length, show_length, show_mass
    from steadfold.review import review
    from steadfold.review.prove import proof_result, proof_sheet
    from steadfold.review.retold import retold_proof, retold_result

    if not 1.0 <= options.factor <= 4.0:
        return say_problem("a proof load lies between 1 and 4 times what the part carries", options.json)
    job = job_from(options.job)
    job = job_from(options.job, options.part or job.parts[0].name)
    with progress() as tell:
        part = review(job, tell).parts[0]
    try:
        sheet = proof_sheet(part, options.factor)
        result = None
        if options.measured:
            result = proof_result(sheet, read_length(options.measured), options.tested, options.failed)
    except ValueError as error:
        return say_problem(str(error), options.json)
    if options.json:
        print(json.dumps({"steadfold": 1, "sheet": asdict(sheet), "result": None if result is None else asdict(result)}))
        return 0
    units = options.units
    sheet = retold_proof(sheet, units)
    result = None if result is None else retold_result(result, units)
    print(f"Proof test of {sheet.part}")
    print(f"  hang {show_mass(sheet.load_kg, units)} in all for {sheet.hold_s / 60:.0f} minutes: {'; '.join(sheet.places)}")
    low, high = show_length(sheet.low_mm, units), show_length(sheet.high_mm, units)
    print(f"  expect it to sag {show_length(sheet.expected_mm, units)} ({low} to {high})")
    print(f"  stop and unload beyond {show_length(sheet.stop_mm, units)}")
    print(f"  afterwards no more than {show_length(sheet.residual_mm, units)} may stay")
    if sheet.beyond_set:
        print("  By the model this load bends it for good: mend it first, or test one you can spare.")
    for caution in sheet.cautions:
        print(f"  {caution}")
    if result is not None:
        print(f"  measured over expected: {result.ratio:.2f}; {result.say}")
        held = result.tested - result.failed
        print(f"  {held} of {result.tested} held: at 95 % confidence up to {100 * (result.failure_rate_below or 0):.0f} % may fail")
    return 0
