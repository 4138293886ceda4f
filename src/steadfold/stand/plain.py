"""A stand's report as plain data, in the shape that `--json` prints."""

from __future__ import annotations

import math
from typing import Any

from steadfold.findings import Finding
from steadfold.stand.answers import StandReport
from steadfold.stand.diagnose import Diagnosis
from steadfold.stand.level import LevelPlan
from steadfold.stand.topple import Topple
from steadfold.stand.weigh import Weighed


def plain_stand(report: StandReport) -> dict[str, Any]:
    """One stand: lengths mm, forces N, moments N mm, masses kg; None for what was not computed."""
    turns = dict(zip(report.level.rods, report.level.turns, strict=True)) if report.level else {}
    return {
        "name": report.name,
        "verdict": str(report.verdict),
        "weakest": report.weakest,
        "governs": report.governs,
        "frame": report.stand.ready_made,
        "frame_mass_kg": rounded(report.frame_mass_kg),
        "sag_mm": rounded(report.sag_mm),
        "sag_range_mm": None if report.sag_range_mm is None else [rounded(v) for v in report.sag_range_mm],
        "slope_mm_per_m": rounded(report.slope_mm_per_m),
        "sag_budget": [
            {
                "at": each.node,
                "bending_mm": rounded(each.elastic_mm),
                "joints_turning_mm": rounded(each.turning_mm),
                "supports_giving_mm": rounded(each.giving_mm),
                "bench_racking_mm": rounded(each.racking_mm),
                "clearance_worst_mm": rounded(each.worst_take_up_mm),
                "clearance_likely_mm": rounded(each.likely_take_up_mm),
                "clearances": [{"joint": t.joint, "mm": rounded(t.sag_mm), "holds": t.holds} for t in each.take_up],
            }
            for each in report.budgets
        ],
        "members": [
            {
                "name": each.name,
                "profile": each.profile,
                "length_mm": rounded(each.length_mm),
                "axial_n": rounded(each.axial_n),
                "moment_nmm": rounded(each.moment_nmm),
                "utilisation": rounded(each.share),
                "case": each.case,
                "governs": each.governs,
            }
            for each in report.members
        ],
        "joints": [
            {
                "name": each.name,
                "axial_n": rounded(each.axial_n),
                "shear_n": rounded(each.shear_n),
                "utilisation": rounded(each.share),
                "case": each.case,
                "link": each.link,
                "slips": each.slips,
                "why": each.why,
            }
            for each in report.joints
        ],
        "tie_rods": [
            {
                "name": each.name,
                "tension_n": rounded(each.tension_n),
                "utilisation": rounded(each.share),
                "turns_to_level": rounded(turns.get(each.name)),
                "nut_torque_nmm": rounded(each.nut_torque_nmm),
                "crossbar_mpa": rounded(each.bar_mpa),
            }
            for each in report.rods
        ],
        "carried_by": [
            {
                "name": each.name,
                "part": each.part,
                "nodes": list(each.nodes),
                "utilisation": rounded(each.share),
                "lowered_mm": [rounded(v) for v in each.lowered_mm],
                "links": [
                    {
                        "link": link.what,
                        "place": link.place,
                        "utilisation": rounded(link.share),
                        "case": link.case,
                        "say": link.say,
                    }
                    for link in each.links
                ],
            }
            for each in report.carried_by
        ],
        "tipping_factor": rounded(report.tipping_factor),
        "tipping": None if report.topple is None else plain_topple(report.topple),
        "frequency_hz": [rounded(hz) for hz in report.frequency_hz],
        "modes": [
            {"low_hz": rounded(m.low_hz), "high_hz": rounded(m.high_hz), "moves": m.moves}
            for m in (report.humming.modes if report.humming else ())
        ],
        "level": None if report.level is None else plain_level(report.level),
        "shims": [{"foot": each.foot, "mm": rounded(each.mm)} for each in report.shims],
        "diagnosis": None if report.diagnosis is None else plain_diagnosis(report.diagnosis),
        "findings": [plain_finding(each) for each in report.findings],
        "assumptions": [
            {"what": t.what, "value": t.value, "source": t.source, "drives": t.drives} for t in report.taken
        ],
    }


def plain_topple(found: Topple) -> dict[str, Any]:
    """How the bench stands."""
    cases = {
        "empty": found.empty,
        "resting": found.resting,
        "leaning": found.leaning,
        "shoved": found.shoved,
        "turned_resting": found.turned_resting,
        "turned_leaning": found.turned_leaning,
    }
    return {
        **{f"{name}_factor": None if each is None else rounded(each.factor) for name, each in cases.items()},
        "wanted": found.wanted,
        "ballast_kg": rounded(found.ballast_kg),
        "ballast_at_mm": rounded(found.ballast_at_mm),
        "hold_down_n": rounded(found.hold_down_n),
        "hold_down_at_mm": rounded(found.hold_down_at_mm),
        "heavy_end_out": found.heavy_end_out,
        "wheels": found.wheels,
    }


def plain_level(plan: LevelPlan) -> dict[str, Any]:
    """The plan to level a stand."""
    fight = plan.fight
    return {
        "rods": list(plan.rods),
        "places": list(plan.places),
        "low_mm": [rounded(v) for v in plan.low_mm],
        "turns": [rounded(v) for v in plan.turns],
        "geometric_turns": [rounded(v) for v in plan.geometric_turns],
        "lift_per_turn_mm": [[rounded(v) for v in row] for row in plan.lift_per_turn_mm],
        "left_mm": [rounded(v) for v in plan.left_mm],
        "loosen": list(plan.loosen),
        "holds": plan.holds,
        "fight": None
        if fight is None
        else {
            "rod": fight.rod,
            "rod_n": rounded(fight.rod_n),
            "brace": fight.brace,
            "brace_n": rounded(fight.brace_n),
            "rise_mm": rounded(fight.rise_mm),
        },
        "steps": [
            {
                "do": step.say,
                "turns": [rounded(v) for v in step.turns],
                "low_mm": [rounded(v) for v in step.low_mm],
                "rods_n": [rounded(v) for v in step.rods_n],
                "utilisation": rounded(step.share),
                "nearest": step.nearest,
            }
            for step in plan.steps
        ],
    }


def plain_diagnosis(found: Diagnosis) -> dict[str, Any]:
    """Why it sags."""
    return {
        "cause": found.cause,
        "say": found.say,
        "expected_mm": rounded(found.expected_mm),
        "measured_mm": rounded(found.measured_mm),
        "next_reading": found.next_reading,
        "ranges": [
            {
                "cause": each.cause,
                "unit": each.unit,
                "prior": each.prior,
                "low": rounded(each.low),
                "median": rounded(each.median),
                "high": rounded(each.high),
                "sag_mm": rounded(each.sag_mm),
                "chance": rounded(each.chance),
            }
            for each in found.ranges
        ],
    }


def plain_weighed(found: Weighed) -> dict[str, Any]:
    """What weighing says: mass and centre with 95 % ranges; None for what the readings do not tell."""
    mass = found.mass_range_kg
    return {
        "mass_kg": rounded(found.mass_kg),
        "mass_range_kg": [rounded(mass.low), rounded(mass.high)],
        "centre_mm": [rounded(value) for value in found.centre_mm],
        "centre_range_mm": [
            None if place is None else [rounded(place.low), rounded(place.high)]
            for place in (found.centre_range_mm(axis) for axis in range(3))
        ],
        "worst": [rounded(value) for value in found.worst],
        "misfit_chance": rounded(found.misfit_chance),
        "disagree": found.disagree,
        "readings": found.readings,
    }


def plain_finding(finding: Finding) -> dict[str, Any]:
    """One finding."""
    return {
        "code": finding.code,
        "severity": str(finding.severity),
        "place": finding.place,
        "value": rounded(finding.value),
        "limit": rounded(finding.limit),
        "source": finding.source,
        "say": finding.say,
        "remedy": finding.remedy,
    }


def rounded(value: float | None, places: int = 4) -> float | None:
    """`value`, in whatever unit it has, without the noise of its last digits; None for none and for what is not finite."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), places) + 0.0
