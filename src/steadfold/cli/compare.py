"""`steadfold compare JOB [PART]`: every stock thickness, and other metals, as a table and a picture."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadfold.quantities.showing import Units
    from steadfold.review.compare import Comparison

EXAMPLE = 'steadfold compare examples/boat-shed.toml "oar rack" --materials S355,304'


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument("part", metavar="PART", nargs="?", help="the part; the job's first when left out")
    command.add_argument("--materials", metavar="IDS", default="", help="other metals, parted by commas")
    command.add_argument("--picture", metavar="FILE", help="write the picture (SVG) here")
    command.add_argument("--fine", action="store_true", help="take the full model for every choice (slower)")


def run(options: argparse.Namespace) -> int:
    """Compare and print."""
    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.review.compare import compare

    job = job_from(options.job, options.part)
    name = options.part or job.parts[0].name
    others = [m.strip() for m in options.materials.split(",") if m.strip()]
    with progress() as tell:
        found = compare(job, name, others, tell, fine=options.fine)
    if options.picture:
        from steadfold.deliver.compare_picture import compare_svg
        from steadfold.deliver.writing import write_aside

        write_aside(options.picture, compare_svg(found, options.units).encode("utf-8"))
    if options.json:
        print(json.dumps({"steadfold": 1, **asdict(found)}, ensure_ascii=False))
    else:
        _say(found, options.units, options.fine)
    return 0


def _say(found: Comparison, units: Units, fine: bool) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from steadfold.quantities import in_units, show_length, show_mass

    console = Console(highlight=False)
    console.print(Text(f"{found.part}: carries {show_mass(found.carried_kg, units)} at the most", style="bold"))
    table = Table(box=None, padding=(0, 2))
    for name in ("metal", "thickness", "mass", "may carry", "sags", "uses", "set by"):
        table.add_column(name, justify="left" if name in ("metal", "thickness", "set by") else "right")
    for c in found.choices:
        thick = f"{show_length(c.thickness_mm, units)} {c.label if 'ga' in c.label else ''}{' (now)' if c.now else ''}"
        if c.rating_kg is None:
            table.add_row(c.material, thick, "", "", "", "", in_units(c.why_not, units))
            continue
        table.add_row(
            c.material,
            thick,
            show_mass(c.mass_kg or 0.0, units),
            show_mass(c.rating_kg, units),
            show_length(c.sag_mm or 0.0, units),
            "" if c.share is None else f"{100 * c.share:.0f} %",
            in_units(c.governs, units),
        )
    console.print(table)
    if not fine:
        console.print(
            Text(
                "Coarse models, without buckling: expect them within an eighth. --fine, or rate for the one chosen, says more."
            )
        )
