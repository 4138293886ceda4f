"""A stand of a job answered, in a child process: plain data for the page, and its pictures."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

from steadfold.deliver.stand_picture import frame_svg, lift_svg, sag_budget_svg
from steadfold.job import read_job_text
from steadfold.job.models import LaterTable
from steadfold.job.stand_machine import scale_readings
from steadfold.job.stand_table import read_stand
from steadfold.page.inches import in_inches
from steadfold.review.retold import retold_stand
from steadfold.stand.plain import plain_stand, plain_weighed
from steadfold.stand.records import Stand, StandError
from steadfold.stand.review import review_stand
from steadfold.stand.weigh import Level, ScaleReading, placements, sheet, weigh

Tell = Callable[[float, str], None]

FINEST_SCALE_KG = 1.0
"""Error of a bathroom scale's reading when nobody says another (judgement)."""


def stand_answer(tell: Tell, text: str, path: str, number: int) -> tuple[dict[str, Any], bytes]:
    """What is known of the stand of that number (from 0); `pictures` holds SVG texts by name.

    Raises `JobProblems` at the stand's lines, `IndexError` when there is no such stand.
    """
    job = read_job_text(text, Path(path))
    table = job.stands[number]
    stand = read_stand(table)
    tell(0.2, "frame")
    try:
        report = review_stand(stand)
    except StandError as error:
        raise table.refused((), str(error)) from None
    pictures = {}
    for units in ("mm", "in"):
        pictures[f"frame-{units}"] = frame_svg(report, units)
        if report.budgets:
            pictures[f"budget-{units}"] = sag_budget_svg(report.budgets, stand.limits.sag_mm, units)
        if report.level is not None:
            pictures[f"level-{units}"] = lift_svg(report.level, units)
    told = plain_stand(report)
    weighing = _weighing(table, stand)
    inch = in_inches(told, plain_stand(retold_stand(report, "in"))) | in_inches(weighing or {}, names=(stand.name,))
    return {"stand": told, "weighing": weighing, "pictures": pictures, "inch": inch}, b""


def _row(reading: ScaleReading) -> dict[str, Any]:
    """A reading as the job says it, all but what the scale shows."""

    def point(place: Level) -> list[str]:
        return [f"{value:g} mm" for value in place]

    row: dict[str, Any] = {"say": reading.say, "error": f"{FINEST_SCALE_KG:g} kg", "at": point(reading.at_mm)}
    if reading.pivot_mm is not None:
        row["others_on"] = [point(each) for each in reading.pivot_mm]
    if reading.raised_rad:
        row["raised"] = f"{math.degrees(reading.raised_rad):g} deg"
    return row


def _weighing(table: LaterTable, stand: Stand) -> dict[str, Any] | None:
    """What the scale said, and where to put it."""
    if stand.machine is None:
        return None
    readings = scale_readings(table)
    feet, mass = stand.machine.feet_mm, stand.machine.mass_kg.middle
    plan = sheet(feet, mass, FINEST_SCALE_KG, None)
    steps, _ = placements(feet, mass, FINEST_SCALE_KG)
    return {
        "steps": [{"say": each.say, "about_kg": each.reading.reads_kg, "row": _row(each.reading)} for each in steps],
        "machine": stand.machine.name,
        "plan": plan,
        "weighed": plain_weighed(weigh(readings)) if readings else None,
    }
