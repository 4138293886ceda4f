"""`steadfold topple JOB`: will the bench tip, slide or roll, with and without a person leaning, and which way round."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadfold.quantities.showing import Units
    from steadfold.stand.answers import StandReport

EXAMPLE = "steadfold topple examples/press-stand.toml"

CODES = ("topples", "heavy-end-out", "bench-on-wheels", "bench-slides", "bench-unknown", "too-heavy-by-hand")


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML) with a [[stand]]")
    command.add_argument("--stand", metavar="NAME", help="which stand; the job's first when left out")


def run(options: argparse.Namespace) -> int:
    """Weigh up and print: 0 firm enough, 1 not, 3 nothing is known of the bench."""
    from steadfold.cli.stands import stand_from
    from steadfold.stand.plain import plain_finding, plain_topple
    from steadfold.stand.review import review_stand

    _, stand = stand_from(options.job, options.stand)
    report = review_stand(stand)
    told = [each for each in report.findings if each.code in CODES]
    found = report.topple
    if options.json:
        said = {
            "steadfold": 1,
            "stand": stand.name,
            "tipping_factor": None if found is None else plain_topple(found)[f"{_deciding(report)}_factor"],
            "tipping": None if found is None else plain_topple(found),
            "findings": [plain_finding(each) for each in told],
        }
        print(json.dumps(said, ensure_ascii=False, allow_nan=False))
    else:
        _say(report, options.units)
    if found is None:
        return 3 if any(each.code == "bench-unknown" for each in told) else 0
    factor = report.tipping_factor
    return 1 if found.wheels or (factor is not None and factor < found.wanted) else 0


def _deciding(report: StandReport) -> str:
    """Which of the two cases that are rated is nearer to going over."""
    found = report.topple
    assert found is not None
    return "leaning" if found.leaning is not None and found.leaning.factor <= found.resting.factor else "resting"


def _say(report: StandReport, units: Units) -> None:
    from steadfold.cli.rated import finding_lines
    from steadfold.quantities import in_units, show_force, show_length, show_mass
    from steadfold.review.retold import retold_stand

    report = retold_stand(report, units)
    found = report.topple
    print(report.name)
    if found is None:
        print("  It hangs on a wall, or nothing is given of what it stands on: no tipping to reckon.")
    else:
        rows = (
            ("empty", found.empty),
            ("with the machine", found.resting),
            ("with a person leaning", found.leaning),
            ("shoved at the machine's height", found.shoved),
            ("machine turned round", found.turned_resting),
            ("machine turned round, person leaning", found.turned_leaning),
        )
        for words, each in rows:
            if each is not None:
                held, turned = each.restoring_nmm / 1e6, each.overturning_nmm / 1e6
                said = (
                    "never tips"
                    if turned == 0.0
                    else in_units(f"{each.factor:.2f}  ({held:.3g} kN m holds, {turned:.3g} kN m turns)", units)
                )
                print(f"  {words}: {said}")
        print(f"  wanted: {found.wanted:g} at rest and with a person leaning")
        if found.ballast_kg and found.ballast_at_mm is not None:
            print(f"  ballast: {show_mass(found.ballast_kg, units)} at {show_length(found.ballast_at_mm, units, 0)}")
        if found.hold_down_n and found.hold_down_at_mm is not None:
            print(
                f"  or a hold-down: {show_force(found.hold_down_n, units)} at {show_length(found.hold_down_at_mm, units, 0)}"
            )
    for line in finding_lines(tuple(each for each in report.findings if each.code in CODES)):
        print(f"  {line}")
