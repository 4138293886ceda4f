"""`steadfold level JOB`: from how a stand sags now to turns of each nut, in an order that overloads nothing; and why
it sags.
"""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadfold.quantities.showing import Units
    from steadfold.stand.answers import StandReport

EXAMPLE = "steadfold level examples/press-stand.toml"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML) with a [[stand]] and its [[stand.reading]]s")
    command.add_argument("--stand", metavar="NAME", help="which stand; the job's first when left out")
    command.add_argument("--picture", metavar="FILE", help="write the steps as a picture (SVG) here")


def run(options: argparse.Namespace) -> int:
    """Plan and print; 1 when a step would overload something."""
    from steadfold.cli.problems import say_problem
    from steadfold.cli.stands import stand_from
    from steadfold.stand.plain import plain_diagnosis, plain_level, rounded
    from steadfold.stand.review import review_stand

    table, stand = stand_from(options.job, options.stand)
    if not stand.readings:
        raise table.refused(
            (), 'how level it is now is not given; add a [[stand.reading]] with at = "..." and low = "6 mm"'
        )
    report = review_stand(stand)
    if report.level is None and not report.shims:
        raise table.refused(
            ("reading",), "it has no tie rods to turn, and shims under feet want readings at two places"
        )
    if options.picture:
        if report.level is None:
            return say_problem("there is a picture only for rods that are turned, not for shims", options.json)
        from steadfold.deliver.stand_picture import lift_svg
        from steadfold.deliver.writing import write_aside

        write_aside(options.picture, lift_svg(report.level, options.units).encode("utf-8"))
    if options.json:
        said = {
            "steadfold": 1,
            "stand": stand.name,
            "level": None if report.level is None else plain_level(report.level),
            "shims": [{"foot": each.foot, "mm": rounded(each.mm)} for each in report.shims],
            "diagnosis": None if report.diagnosis is None else plain_diagnosis(report.diagnosis),
        }
        print(json.dumps(said, ensure_ascii=False, allow_nan=False))
    else:
        _say(report, options.units)
    return 1 if report.level is not None and not report.level.holds else 0


def _say(report: StandReport, units: Units) -> None:
    from steadfold.quantities import in_units, show_force, show_length
    from steadfold.review.retold import retold_stand

    report = retold_stand(report, units)
    print(report.name)
    plan = report.level
    if plan is not None:
        for rod, turns, plain in zip(plan.rods, plan.turns, plan.geometric_turns, strict=True):
            way = "tighten" if turns >= 0.0 else "slacken"
            print(
                f"  {way} {rod} by {abs(turns):.2f} turns ({plain:.2f} to lift, {turns - plain:.2f} for stretch and bending)"
            )
        for place, low, left in zip(plan.places, plan.low_mm, plan.left_mm, strict=True):
            print(f"  {place}: {show_length(low, units)} low now, {show_length(abs(left), units)} off after")
        if plan.fight is not None:
            rod, brace = show_force(plan.fight.rod_n, units), show_force(plan.fight.brace_n, units)
            print(
                f"  With {plan.fight.brace} still tight the same turns would pull {rod} in {plan.fight.rod} and {brace} in"
                f" the brace, for {show_length(plan.fight.rise_mm, units)} of lift."
            )
        print("  Steps:")
        for number, step in enumerate(plan.steps, 1):
            pulls = ", ".join(show_force(pull, units) for pull in step.rods_n)
            print(f"    {number}. {step.say}  [rods {pulls}; {step.nearest} at {100 * step.share:.0f} % of its limit]")
        if not plan.holds:
            print("  Some step works something beyond its limit: take the machine off to level it.")
    for shim in report.shims:
        print(f"  {shim.foot}: {show_length(shim.mm, units)} under it, or that much of its screw")
    why = report.diagnosis
    if why is not None:
        print(f"  Why: {why.say}.")
        if why.next_reading:
            print(f"  What would tell: {why.next_reading}.")
        for each in why.ranges:
            believed = in_units(f"{each.low:.3g} to {each.high:.3g} {each.unit} (95 %)", units)
            print(f"    {each.cause}: {believed}, chance {each.chance:.0%}; believed before: {each.prior}")
