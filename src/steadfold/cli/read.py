"""`steadfold read FILE`: a part drawn in the user's own CAD, straight from its file."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadfold.review import PartReview

EXAMPLE = "steadfold read rail_end.step --material DC01 --out flats"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("file", metavar="FILE", help="a STEP file of a folded part, or a DXF file of its flat")
    command.add_argument("--material", metavar="ID", required=True, help="a material of the catalogue, such as DC01")
    command.add_argument("--k", type=float, metavar="K", help="K-factor of every bend; DIN 6935 when left out")
    command.add_argument("--thickness", metavar="LENGTH", help='thickness of a DXF flat, such as "2 mm"')
    command.add_argument("--inside-radius", metavar="LENGTH", help="inside radius where the drawing gives none")
    command.add_argument("--bend-angle", metavar="ANGLE", help='what every bend line of a DXF turns, such as "90 deg"')
    command.add_argument("--file-units", choices=("mm", "in"), help="what the file's numbers are, over its own header")
    command.add_argument("--out", metavar="DIR", help="write flat DXF and SVG of each part into this folder")
    command.add_argument("--job", metavar="JOB", help="write a job file to go on with; never over an existing one")


def run(options: argparse.Namespace) -> int:
    """Read the file, say what was found, and write what was asked for."""
    from steadfold.cli.problems import say_problem
    from steadfold.quantities import read_angle, read_length
    from steadfold.review.drawn import read_file

    if options.k is not None and not 0.0 < options.k < 1.0:
        return say_problem(
            f"a K-factor of {options.k:g} makes no sense; it lies between 0 and 1, mostly 0.3 to 0.5", options.json
        )
    parts = read_file(
        options.file,
        options.material,
        options.k,
        read_length(options.thickness) if options.thickness else None,
        read_length(options.inside_radius) if options.inside_radius else None,
        options.file_units,
        read_angle(options.bend_angle) if options.bend_angle else None,
    )
    written = _write(options, parts) if options.out else []
    if options.job:
        told = _write_job(options, parts)
        if told is not None:
            return say_problem(told, options.json)
        written.append(options.job)
    if options.json:
        from steadfold.review.plain import plain_part

        print(
            json.dumps(
                {"steadfold": 1, "parts": [plain_part(p) for p in parts], "files": written},
                ensure_ascii=False,
                allow_nan=False,
            )
        )
    else:
        from steadfold.cli.rated import say_parts

        say_parts(parts, options.units)
        for name in written:
            print(name)
    return 3


def _write(options: argparse.Namespace, parts: tuple[PartReview, ...]) -> list[str]:
    from steadfold.deliver.part_files import files_of
    from steadfold.deliver.writing import write_all

    files = files_of(parts, options.units)
    write_all(options.out, files)
    return [f"{options.out}/{name}" for name in sorted(files)]


def _write_job(options: argparse.Namespace, parts: tuple[PartReview, ...]) -> str | None:
    """Write a job with the file's parts; gives a sentence when it cannot."""
    import os
    from pathlib import Path

    from steadfold.deliver.writing import write_aside
    from steadfold.job.reader import read_job_text
    from steadfold.job.writer import write_job

    target, source = Path(options.job), Path(options.file)
    if target.exists():
        return f"{target} is there already and is left as it is; name another file"
    target.parent.mkdir(parents=True, exist_ok=True)
    beside = target.parent / source.name
    if not beside.exists() or not os.path.samefile(beside, source):
        if beside.exists():
            return f"{beside} is there already and is another file; name another folder for the job"
        write_aside(beside, source.read_bytes())
    lines = ["steadfold = 1", f"name = {json.dumps(source.stem, ensure_ascii=False)}", 'revision = "A"', ""]
    for number, part in enumerate(parts):
        lines += ["[[part]]", f"name = {json.dumps(part.name, ensure_ascii=False)}"]
        lines += [f"quantity = {part.ordered.quantity}", f'material = "{part.material.id}"']
        lines += [f'shape = "{part.ordered.shape}"', f"file = {json.dumps(source.name, ensure_ascii=False)}"]
        if part.ordered.shape == "dxf":
            lines.append(f'thickness = "{part.thickness_mm:g} mm"')
            if options.bend_angle:
                lines.append(f'bend_angle = "{options.bend_angle}"')
        elif len(parts) > 1:
            lines.append(f"body = {number}")
        if options.k is not None:
            lines.append(f"k_factor = {options.k:g}")
        lines += [
            "# what it carries and what it is fixed to: see docs/job-file.md, [[part.carries]] and [part.mount]",
            "",
        ]
    text = "\n".join(lines)
    read_job_text(text, target)
    write_job(target, text)
    return None
