"""`steadfold weigh JOB`: mass and centre of a machine from a scale under one side at a time, or where to put the
scale.
"""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadfold.quantities.showing import Units
    from steadfold.stand.weigh import Weighed

EXAMPLE = "steadfold weigh examples/press-stand.toml"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML) with a [[stand]]")
    command.add_argument("--stand", metavar="NAME", help="which stand; the job's first when left out")
    command.add_argument("--sheet", action="store_true", help="print where to put the scale, to fill in by hand")
    command.add_argument("--scale-error", metavar="MASS", default="0.5 kg", help='one standard error ("0.5 kg")')
    command.add_argument("--scale-limit", metavar="MASS", help='the most the scale takes ("150 kg")')


def run(options: argparse.Namespace) -> int:
    """Weigh and print; the sheet where the job has no readings yet. 1 when the readings contradict each other."""
    from steadfold.cli.problems import say_problem
    from steadfold.cli.stands import stand_from
    from steadfold.job.stand_machine import scale_readings
    from steadfold.quantities import in_units, read_mass
    from steadfold.stand.plain import plain_weighed
    from steadfold.stand.weigh import sheet, weigh

    error = read_mass(options.scale_error)
    limit = None if options.scale_limit is None else read_mass(options.scale_limit)
    if not error > 0.0:
        return say_problem("a scale's error is more than 0 kg: its smallest division at the least", options.json)
    table, stand = stand_from(options.job, options.stand)
    if stand.machine is None:
        return say_problem(f"the stand {stand.name!r} has no [stand.machine] to weigh", options.json)
    readings = scale_readings(table)
    text = sheet(stand.machine.feet_mm, stand.machine.mass_kg.middle, error, limit)
    if options.sheet or not readings:
        if options.json:
            print(json.dumps({"steadfold": 1, "stand": stand.name, "weighed": None, "sheet": text}, ensure_ascii=False))
        else:
            if not readings and not options.sheet:
                print(
                    f"{stand.machine.name} has no [[stand.machine.scale]] readings yet; here is where to put the scale.\n"
                )
            print(in_units(text, options.units, (stand.machine.name,)))
        return 0
    found = weigh(readings)
    if options.json:
        said = {"steadfold": 1, "stand": stand.name, "weighed": plain_weighed(found), "sheet": text}
        print(json.dumps(said, ensure_ascii=False, allow_nan=False))
    else:
        _say(stand.machine.name, found, options.units)
    return 1 if found.disagree else 0


def _say(name: str, found: Weighed, units: Units) -> None:
    from steadfold.quantities import show_length, show_mass

    mass = found.mass_range_kg
    print(
        f"{name}: {show_mass(found.mass_kg, units)}, between {show_mass(mass.low, units)} and {show_mass(mass.high, units)}"
    )
    for axis, word in enumerate(("out (x)", "along (y)", "up (z)")):
        place = found.centre_range_mm(axis)
        if place is None:
            print(f"  centre, {word}: these readings do not say; see the sheet (--sheet)")
        else:
            low, high = show_length(place.low, units, 0), show_length(place.high, units, 0)
            worst = show_length(found.worst[axis + 1] or 0.0, units, 1)
            print(f"  centre, {word}: {low} to {high} (95 %); ± {worst} with every reading off the unkind way")
    print(f"  from {found.readings} readings")
    if found.disagree:
        print("  The readings contradict each other by more than their errors: weigh again, both sides at one height.")
