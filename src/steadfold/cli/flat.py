"""`steadfold flat JOB`: DXF and SVG of each flat, on request also the models."""

from __future__ import annotations

import argparse
import json

EXAMPLE = "steadfold flat examples/boat-shed.toml --out flats"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument(
        "--out", metavar="DIR", help="the folder to write into, made if missing; 'flats' beside the job if left out"
    )
    command.add_argument("--part", metavar="NAME", help="only this part")
    command.add_argument("--models", action="store_true", help="also write the folded part as STEP and glTF")


def run(options: argparse.Namespace) -> int:
    """Write the files, all or none, and say which."""
    from pathlib import Path

    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.deliver.part_files import part_files
    from steadfold.deliver.writing import write_all
    from steadfold.review import review

    job = job_from(options.job, options.part)
    out = options.out or str(Path(options.job).parent / "flats")
    with progress() as tell:
        result = review(job, tell, shape_only=True)
        files = part_files(result, options.units, models=options.models)
        left_out = [part.name for part in result.parts if part.flat is None]
        write_all(out, files)
    if options.json:
        print(json.dumps({"steadfold": 1, "out": out, "files": sorted(files), "left_out": left_out}))
    else:
        for name in sorted(files):
            print(f"{out}/{name}")
        for name in left_out:
            print(f"{name}: no flat; `steadfold rate` says why")
    return 1 if left_out else 0
