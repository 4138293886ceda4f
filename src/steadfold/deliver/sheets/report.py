"""The full report: pictures first, verdict, numbers, assumptions with their sources, and what was not checked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from steadfold.deliver.drawing.openings import show
from steadfold.deliver.folded_picture import WorkedSheet, worked_svg
from steadfold.deliver.sheets.fixing import Fixed, backing_words, fixing_words
from steadfold.deliver.sheets.head import NOT_A_PASS, Head, Style, reason_of, sentence
from steadfold.deliver.sheets.making import bend_plan_of, no_plan_words
from steadfold.deliver.sheets.pictures import fixing_points, isometric_picture, loads_of
from steadfold.deliver.sheets.stand_picture import stand_picture
from steadfold.deliver.sheets.typeset import pdf
from steadfold.deliver.view import isometric, usual_up
from steadfold.mount.records import Strength
from steadfold.quantities import in_units, show_force, show_length, show_mass, show_stress
from steadfold.quantities.showing import Units
from steadfold.review import PartReview, Review
from steadfold.stand.answers import StandReport

ALWAYS_UNCHECKED = (
    "the wall, stud or rail itself beyond the fixing that goes into it, unless a line of the chain names it",
    "fatigue and loosening by vibration",
    "corrosion, heat, fire and the welding of anything to the part",
    "wind, earthquake, and loads that the job does not name",
    "the sheet that is delivered: thickness, grade and flatness are taken as ordered",
)


MOST_PICTURES_BYTES = 4_000_000
"""Coloured pictures beyond this are left out, so that the report of a long job can still be sent by mail."""


def report(
    head: Head,
    review: Review,
    parts: Sequence[tuple[Head, PartReview, Fixed | None]],
    stands: Sequence[StandReport],
    left_out: Sequence[tuple[str, str, str]],
    style: Style,
) -> bytes:
    """The report as PDF; `left_out` has name, verdict and reason of every part that was not written out."""
    units = style.units
    plain_parts = [_part(own, part, fixed, units) for own, part, fixed in parts]
    room = MOST_PICTURES_BYTES
    for each in plain_parts:
        room -= len(each["shares"])
        if room < 0:
            each["shares"] = ""
    data: dict[str, Any] = {
        "head": head.plain(style, "Report"),
        "verdict": str(review.verdict),
        "overview": [_overview(part, units) for _, part, _ in parts],
        "left_out": [list(row) for row in left_out],
        "parts": plain_parts,
        "stands": [_stand(stand, units) for stand in stands],
        "assumptions": _assumptions([part for _, part, _ in parts], stands),
        "unchecked": _unchecked([part for _, part, _ in parts]),
    }
    return pdf("report", data)


def _overview(part: PartReview, units: Units) -> list[str]:
    strength = part.strength
    rating = show_mass(strength.rating_kg, units) if strength is not None else "not computed"
    carried = show_mass(strength.carried_kg.high, units) if strength is not None else _carried(part, units)
    resting = _resting_sag(strength, units)
    return [
        part.name,
        str(part.ordered.quantity),
        str(part.verdict),
        carried,
        rating,
        resting,
        show_mass(part.mass_kg or 0.0, units),
    ]


def _carried(part: PartReview, units: Units) -> str:
    total = sum(load.total_kg.high for load in part.ordered.carries)
    return show_mass(total, units) if total else "not said"


def _resting_sag(strength: Strength | None, units: Units) -> str:
    if strength is None:
        return "not computed"
    resting = next((case for case in strength.cases if case.name == "resting"), None)
    return "not computed" if resting is None else _sag(resting.sag_mm, units)


def _sag(sag_mm: float | None, units: Units) -> str:
    if sag_mm is None:
        return "not computed"
    return f"{sag_mm / 25.4:.3f} in" if units == "in" else f"{sag_mm:.2f} mm"


def _part(head: Head, part: PartReview, fixed: Fixed | None, units: Units) -> dict[str, Any]:
    assert part.part is not None and part.flat is not None
    width, height = part.flat.size_mm
    strength = part.strength
    facts = [
        ["metal", f"{part.material.title}, {show_length(part.thickness_mm or 0.0, units)}"],
        ["folded", " × ".join(show(v, units) for v in part.folded_size_mm or ()) + f" {units}"],
        ["flat", f"{show(width, units)} × {show(height, units)} {units}"],
        ["mass of one", show_mass(part.mass_kg or 0.0, units)],
        ["finish", part.ordered.finish],
    ]
    if fixed is not None:
        facts.append(
            ["fixed", f"{len(fixed.holes)} × {fixing_words(fixed.mount, units)} in {backing_words(fixed.mount, units)}"]
        )
    return {
        "name": part.name,
        "quantity": part.ordered.quantity,
        "verdict": str(part.verdict),
        "reason": reason_of(part),
        "shares": _worked_picture(part, units),
        "picture": isometric_picture(
            part.part,
            84.0,
            56.0,
            loads=loads_of(part, units),
            numbers=fixing_points(part, fixed) if fixed is not None else (),
        ),
        "facts": facts,
        "strength": None if strength is None else _strength(strength, units),
        "plan": bend_plan_of(part) is not None,
        "no_plan": no_plan_words(part) if part.part.bends else "",
        "cost": _cost(part),
        "fabrication": _fabrication(part, units),
        "findings": [[str(f.severity), f.code, f.say, f.remedy, f.source] for f in part.findings],
        "assumptions": [],
        "stamp": head.stamp,
    }


def _worked_picture(part: PartReview, units: Units) -> str:
    """The part coloured by share of its limit, as SVG; empty without a rating."""
    strength = part.strength
    if strength is None or strength.picture is None or part.part is None:
        return ""
    found = strength.picture
    worked = WorkedSheet(
        np.asarray(found.nodes_mm),
        np.asarray(found.triangles),
        part.part.thickness_mm,
        np.asarray(found.share),
        np.asarray(found.moved_mm),
    )
    return worked_svg(worked, part.name, isometric(usual_up(part.part)), units=units)


def _strength(strength: Strength, units: Units) -> dict[str, Any]:
    error = strength.discretisation_error
    bar = f"{100 * error:.1f} %" if math.isfinite(error) else "not computed"
    return {
        "rating": show_mass(strength.rating_kg, units),
        "low": show_mass(strength.rating_low_kg, units),
        "high": show_mass(strength.rating_high_kg, units),
        "carried": show_mass(strength.carried_kg.high, units),
        "governs": strength.governs,
        "tonight": strength.tonight,
        "mesh": f"{strength.freedoms} freedoms; a second mesh differs by {bar}",
        "cases": [
            [
                case.name,
                case.say,
                _sag(case.sag_mm, units),
                _factor(case.load_factor_set),
                _factor(case.load_factor_collapse),
                _factor(case.load_factor_buckling),
                show_stress(case.peak_stress_mpa, units),
                _share(case.share),
                case.governs,
            ]
            for case in strength.cases
        ],
        "chain": [[link.name, link.place, _share(link.share), link.case, link.say] for link in strength.chain],
        "bolts": [
            [
                str(number + 1),
                f"{show(bolt.at_mm[0], units)}, {show(bolt.at_mm[1], units)}",
                show_force(bolt.tension_n, units),
                show_force(bolt.shear_n, units),
                _share(bolt.share),
                bolt.case,
            ]
            for number, bolt in enumerate(sorted(strength.bolts, key=lambda b: b.at_mm))
        ],
        "hand": [
            [
                check.what,
                f"{check.formula}: {check.values}",
                f"{check.by_hand:.4g} {check.unit}",
                f"{check.by_model:.4g} {check.unit}",
                f"{check.ratio:.2f}",
                check.why,
            ]
            for check in strength.hand
        ],
    }


def _factor(value: float | None) -> str:
    if value is None or not math.isfinite(value):
        return ""
    return "over 100" if value > 100 else f"{value:.2f}"


def _share(value: float | None) -> str:
    return "unproven" if value is None else f"{value:.2f}"


def _fabrication(part: PartReview, units: Units) -> str:
    plan = bend_plan_of(part)
    if plan is None:
        return ""
    gap = plan.clearance_mm
    clears = f", clears these tools by {gap:.1f} mm" if gap is not None else ""
    best = "" if plan.complete else "; not searched to the end"
    said = f"{len(plan.steps)} strokes, {plan.flips} flips, {plan.press_force_kn:.0f} kN at most{clears}{best}."
    return in_units(said, units)


def _cost(part: PartReview) -> dict[str, Any] | None:
    cost = part.making.cost if part.making is not None else None
    if cost is None:
        return None
    return {
        "sentence": cost.sentence + ".",
        "at": [[str(quantity), str(money)] for quantity, money in cost.at],
        "lines": [[line.operation.name, str(line.money)] for line in cost.lines],
    }


def _stand(stand: StandReport, units: Units) -> dict[str, Any]:
    """A stand: picture, sag with its parts, tipping, the chain from the hardest worked link, members."""
    budget = stand.budgets[0] if stand.budgets else None
    facts = [
        ["sag", "not computed" if stand.sag_mm is None else _sag(stand.sag_mm, units)],
        [
            "slope",
            "not computed"
            if stand.slope_mm_per_m is None
            else in_units(f"{stand.slope_mm_per_m:z.2f} mm a metre", units),
        ],
        ["tipping factor", "not computed" if stand.tipping_factor is None else f"{stand.tipping_factor:.2f}"],
        ["swings at", ", ".join(f"{hz:.1f} Hz" for hz in stand.frequency_hz[:3]) or "not computed"],
        ["mass of the frame", show_mass(stand.frame_mass_kg, units)],
    ]
    if stand.sag_range_mm is not None:
        low, high = stand.sag_range_mm
        facts.insert(1, ["between", f"{_sag(low, units)} and {_sag(high, units)}"])
    parts = []
    if budget is not None:
        parts = [
            ["bending and stretch", _sag(budget.elastic_mm, units)],
            ["joints turning", _sag(budget.turning_mm, units)],
            ["bench and wall giving", _sag(budget.giving_mm, units)],
            ["bench racking", _sag(budget.racking_mm, units)],
            ["clearances, likely", _sag(budget.likely_take_up_mm, units)],
            ["clearances, at worst", _sag(budget.worst_take_up_mm, units)],
        ]
    return {
        "name": stand.name,
        "verdict": str(stand.verdict),
        "stamp": str(stand.verdict) if stand.verdict in NOT_A_PASS else "",
        "weakest": sentence(f"Weakest: {stand.weakest}"),
        "picture": stand_picture(stand, 120.0, 84.0),
        "facts": facts,
        "budget": parts,
        "budget_at": "" if budget is None else budget.node,
        "links": [[link.name, _share(link.share)] for link in stand.links[:12]],
        "members": [
            [
                each.name,
                each.profile,
                show_force(each.axial_n, units),
                in_units(f"{each.moment_nmm / 1000:.0f} N m", units),
                _share(each.share),
                each.case,
                each.governs,
            ]
            for each in stand.members
        ],
        "findings": [[str(f.severity), f.code, f.say, f.remedy, f.source] for f in stand.findings],
    }


def _assumptions(parts: Sequence[PartReview], stands: Sequence[StandReport]) -> list[list[str]]:
    found = [(a.what, a.value, a.source, a.drives) for part in parts for a in part.assumptions]
    found += [(a.what, a.value, a.source, a.drives) for stand in stands for a in stand.taken]
    return [list(row) for row in dict.fromkeys(found)]


def _unchecked(parts: Sequence[PartReview]) -> list[str]:
    found = [f"{part.name}: strength, sag and fixings are not computed" for part in parts if part.strength is None]
    orderless = [
        part.name for part in parts if bend_plan_of(part) is None and part.part is not None and part.part.bends
    ]
    if orderless:
        found.append(f"order of bends and collisions with the tools: {', '.join(orderless)}")
    return [*found, *ALWAYS_UNCHECKED]
