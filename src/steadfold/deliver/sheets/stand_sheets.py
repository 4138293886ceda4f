"""Sheets of a stand: what to cut, how it goes together, levelling it, weighing what stands on it."""

from __future__ import annotations

import math
from typing import Any

from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.head import Head, Style, sentence
from steadfold.deliver.sheets.stand_picture import stand_picture
from steadfold.deliver.sheets.typeset import pdf
from steadfold.quantities import in_units, show_force, show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.stand.answers import StandReport
from steadfold.stand.assembly import assembly
from steadfold.stand.cut_list import CutList, CutPiece, cut_list
from steadfold.stand.nesting import Nested
from steadfold.stand.records import StandError
from steadfold.stand.weigh import placements

SCALE_ERROR_KG = 1.0
"""One standard error of a bathroom scale (judgement)."""

MOST_PICTURES = 12


def stand_cut_list(head: Head, report: StandReport, style: Style) -> bytes:
    """The cut list of a stand as PDF: pieces with their ends, holes, and how they come out of stock lengths."""
    units = style.units
    found = cut_list(report.stand)
    numbers = {each.member: str(number + 1) for number, each in enumerate(report.drawn)}
    data: dict[str, Any] = {
        "head": head.plain(style, "Cut list"),
        "units": units,
        "picture": stand_picture(report, 120.0, 84.0),
        "pieces": [_piece_row(piece, numbers, units) for piece in found.pieces],
        "holes": [
            [
                numbers.get(piece.name, ""),
                piece.name,
                show(hole.at_mm, units),
                f"⌀{show(hole.diameter_mm, units)}",
                in_units(hole.how, units),
            ]
            for piece in found.pieces
            for hole in piece.holes
        ],
        "stock": [_stock_rows(name, nested, units) for name, nested in found.stock],
        "rods": [[numbers.get(name, ""), name, size, show(length, units)] for name, size, length in found.rods],
        "mass": show_mass(report.frame_mass_kg, units),
    }
    return pdf("stand_cut_list", data)


def _piece_row(piece: CutPiece, numbers: dict[str, str], units: Units) -> list[str]:
    side = (
        ""
        if all(end.setting.from_square_rad == 0 for end in piece.ends)
        else ("long points on one side" if piece.same_side else "long points on opposite sides")
    )
    ends = [in_units(end.setting.say, units) + (f", meets {end.meets}" if end.meets else "") for end in piece.ends]
    return [
        numbers.get(piece.name, ""), piece.name, piece.profile, show(piece.long_mm, units), ends[0], ends[1], side,
        show_mass(piece.mass_kg, units),
    ]  # fmt: skip


def _stock_rows(name: str, nested: Nested, units: Units) -> dict[str, Any]:
    if nested.optimal:
        said = "no plan buys less"
    else:
        said = f"no plan buys less than {show(nested.bound_mm, units)} {units}"
    return {
        "profile": name,
        "say": f"{len(nested.cuts)} lengths, {show(nested.bought_mm, units)} {units} bought; {said}",
        "bars": [
            {
                "stock": cut.stock_mm,
                "label": show(cut.stock_mm, units),
                "rest": show(cut.rest_mm, units),
                "pieces": [
                    {"name": p.name, "length": p.length_mm, "label": show(p.length_mm, units)} for p in cut.pieces
                ],
            }
            for cut in nested.cuts
        ],
    }


def cut_rows_of(report: StandReport) -> list[dict[str, str]]:
    """Members and rods of a stand as rows of the job's cut list."""
    found: CutList = cut_list(report.stand)
    rows = []
    for piece in found.pieces:
        angles = [math.degrees(end.setting.from_square_rad) for end in piece.ends]
        ends = "square" if not any(angles) else " and ".join(f"{angle:.1f}°" for angle in angles) + " from square"
        rows.append(
            {
                "kind": "member",
                "for": report.name,
                "what": f"{piece.name}, {piece.profile}",
                "count": "1",
                "length_mm": f"{piece.long_mm:.1f}",
                "mass_all_kg": f"{piece.mass_kg:.3f}",
                "note": ends,
            }
        )
    for name, size, length in found.rods:
        rows.append(
            {"kind": "rod", "for": report.name, "what": f"{name}, {size}", "count": "1", "length_mm": f"{length:.1f}"}
        )
    return rows


def stand_assembly(head: Head, report: StandReport, style: Style) -> bytes:
    """The order in which a stand goes together as PDF, with what must be propped until when, and a picture a step."""
    steps = assembly(report.stand)
    drawn = {each.member for each in report.drawn}
    up: list[str] = []
    rows: list[dict[str, Any]] = []
    for number, step in enumerate(steps):
        new = next((name for name in step.parts if name in drawn), None)
        up += [name for name in step.parts if name in drawn]
        pictured = new is not None and len([row for row in rows if row["picture"]]) < MOST_PICTURES
        rows.append(
            {
                "number": number + 1,
                "say": sentence(in_units(step.say, style.units)),
                "prop": sentence(step.prop) if step.prop else "",
                "picture": stand_picture(report, 52.0, 34.0, tuple(up), new) if pictured else None,
            }
        )
    data = {
        "head": head.plain(style, "Putting it together"),
        "picture": stand_picture(report, 120.0, 76.0),
        "names": [[str(i + 1), each.member] for i, each in enumerate(report.drawn)],
        "steps": rows,
        "lift": _lift_words(report, style.units),
    }
    return pdf("stand_assembly", data)


def _lift_words(report: StandReport, units: Units) -> str:
    """Whether what stands on it can be lifted on by hand, in a sentence; empty without a machine."""
    lift = report.lift
    if lift is None:
        return ""
    mass, can = show_mass(lift.mass_kg, units), show_mass(lift.can_kg, units)
    if lift.too_heavy:
        return (
            f"The machine's {mass} are more than {lift.people} people lift by hand ({can}): slide it over or hoist it."
        )
    return f"The machine's {mass} want all {lift.people} people; together they lift {can}."


def levelling_plan(head: Head, report: StandReport, style: Style) -> bytes:
    """The levelling plan as PDF: each step with turns, pulls and what is nearest its limit; shims of a stand on legs."""
    units = style.units
    plan = report.level
    data: dict[str, Any] = {
        "head": head.plain(style, "Levelling plan"),
        "units": units,
        "sag": _sag(report.sag_mm, units),
        "slope": "not computed"
        if report.slope_mm_per_m is None
        else in_units(f"{report.slope_mm_per_m:z.2f} mm a metre", units),
        "plan": None,
        "shims": [[shim.foot, show_length(shim.mm, units)] for shim in report.shims],
    }
    if plan is not None:
        data["plan"] = {
            "rods": [[rod, _turns(turns)] for rod, turns in zip(plan.rods, plan.turns, strict=True)],
            "names": list(plan.rods),
            "places": list(plan.places),
            "before": [_sag(low, units) for low in plan.low_mm],
            "after": [_sag(left, units) for left in plan.left_mm],
            "loosen": list(plan.loosen),
            "holds": plan.holds,
            "fight": _fight(plan.fight, units) if plan.fight is not None else "",
            "steps": [
                [
                    sentence(step.say),
                    ", ".join(f"{turns:+.2f}" for turns in step.turns),
                    ", ".join(_sag(low, units) for low in step.low_mm),
                    ", ".join(show_force(force, units) for force in step.rods_n),
                    f"{step.nearest}: {100 * step.share:.0f} %",
                ]
                for step in plan.steps
            ],
        }
    return pdf("levelling_plan", data)


def _turns(turns: float) -> str:
    """Turns of a nut in words, with whole eighths besides: what a hand can tell."""
    if abs(turns) < 0.005:
        return "leave it"
    eighths = round(8 * abs(turns)) / 8
    near = f", about {eighths:g}" if abs(eighths - abs(turns)) > 0.004 else ""
    return f"{'tighten' if turns > 0 else 'slacken'} {abs(turns):.2f} turns{near}"


def _fight(fight: Any, units: Units) -> str:
    rod, brace = show_force(fight.rod_n, units), show_force(abs(fight.brace_n), units)
    return (
        f"With {fight.brace} still tight the same turns pull {rod} in {fight.rod} and put {brace} into the brace, for "
        f"{_sag(fight.rise_mm, units)} of lift."
    )


def _sag(value_mm: float | None, units: Units) -> str:
    if value_mm is None:
        return "not computed"
    return f"{value_mm / 25.4:.3f} in" if units == "in" else f"{value_mm:.2f} mm"


def weighing_sheet(head: Head, report: StandReport, style: Style) -> bytes:
    """The weighing sheet as PDF: where to put the scale, what it should read, what is then known.

    Without three feet of the machine in the job only the rule for two ends is given.
    """
    units = style.units
    length, mass = ("in", "lb") if units == "in" else ("mm", "kg")
    machine = report.stand.machine
    rows: list[list[str]] = []
    known = ""
    if machine is not None:
        try:
            plan, after = placements(machine.feet_mm, machine.mass_kg.high, SCALE_ERROR_KG)
        except StandError:
            plan = ()
        else:
            words = ("mass", "how far out its centre lies", "how far along", "how high")
            shown = [
                f"{word} to {show_mass(1.96 * error, units) if i == 0 else show_length(1.96 * error, units, 0)}"
                for i, (word, error) in enumerate(zip(words, after.error, strict=True))
                if error is not None
            ]
            scale = show_mass(SCALE_ERROR_KG, units)
            known = f"With a scale good to {scale} (one standard error) this gives {', '.join(shown)} (95 %)."
        rows = [[sentence(f"Scale {each.say}"), f"about {show_mass(each.reading.reads_kg, units)}"] for each in plan]
    data = {
        "head": head.plain(style, "Weighing sheet"),
        "length": length,
        "mass": mass,
        "machine": "" if machine is None else machine.name,
        "rows": rows,
        "known": known,
    }
    return pdf("weighing_sheet", data)
