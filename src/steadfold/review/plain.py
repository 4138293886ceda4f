"""A review as plain data, in the shape that `--json` prints."""

from __future__ import annotations

import math
from typing import Any

from steadfold.fabricate.bend_plan import NoPlan
from steadfold.findings import Finding
from steadfold.mount.records import CollapseRun, Strength, WallRating
from steadfold.review.making import Made
from steadfold.review.records import PartReview, Review
from steadfold.review.walls import lowest
from steadfold.stand.plain import plain_stand

FORMAT = 1


def plain(review: Review) -> dict[str, Any]:
    """The whole review: lengths mm, masses kg, forces N, stresses MPa, angles deg; None for what was not computed."""
    return {
        "steadfold": FORMAT,
        "job": review.job.name,
        "revision": review.job.revision,
        "verdict": str(review.verdict),
        "parts": [plain_part(part) for part in review.parts],
        "stands": [plain_stand(stand) for stand in review.stands],
        "assumptions": [
            {"what": a.what, "value": a.value, "source": a.source, "drives": a.drives} for a in review.assumptions
        ],
        "findings": [plain_finding(f) for f in review.findings],
    }


def plain_part(part: PartReview) -> dict[str, Any]:
    """One part of the review."""
    bends = part.part.bends if part.part is not None else ()
    radii = {round(b.inside_radius_mm, 6) for b in bends}
    return {
        "name": part.name,
        "verdict": str(part.verdict),
        "weakest": part.weakest,
        "quantity": part.ordered.quantity,
        "material": part.material.id,
        "thickness_mm": _rounded(part.thickness_mm),
        "inside_radius_mm": _rounded(_usual_radius(part)) if radii else None,
        "mass_kg": _rounded(part.mass_kg, 6),
        "flat": _flat(part),
        "folded": _folded(part),
        "strength": _strength(part.strength),
        "mount": _mount(part.strength, part.walls),
        "fabrication": _fabrication(part.making),
        "cost": _cost(part.making),
        "findings": [plain_finding(f) for f in part.findings],
    }


def plain_finding(finding: Finding) -> dict[str, Any]:
    """One finding."""
    return {
        "code": finding.code,
        "severity": str(finding.severity),
        "place": finding.place,
        "value": _rounded(finding.value),
        "limit": _rounded(finding.limit),
        "source": finding.source,
        "say": finding.say,
        "remedy": finding.remedy,
    }


def _usual_radius(part: PartReview) -> float:
    """The inside radius of most of the bend length."""
    assert part.part is not None
    by_radius: dict[float, float] = {}
    for bend in part.part.bends:
        radius = round(bend.inside_radius_mm, 6)
        by_radius[radius] = by_radius.get(radius, 0.0) + bend.length_mm
    return max(by_radius, key=lambda r: by_radius[r])


def _flat(part: PartReview) -> dict[str, Any] | None:
    if part.flat is None or part.part is None:
        return None
    width, height = part.flat.size_mm
    panels = part.part.panels
    return {
        "width_mm": _rounded(width),
        "height_mm": _rounded(height),
        "area_mm2": _rounded(part.flat.area_mm2),
        "cut_length_mm": _rounded(part.flat.cut_length_mm),
        "pierces": part.flat.pierces,
        "bends": [
            {
                "between": [panels[b.parent].name, panels[b.child].name],
                "angle_deg": _rounded(math.degrees(b.angle_rad)),
                "inside_radius_mm": _rounded(b.inside_radius_mm),
                "k_factor": _rounded(b.k_factor, 6),
                "k_source": b.k_source,
                "allowance_mm": _rounded(b.allowance_mm),
                "deduction_mm": _rounded(b.deduction_mm),
                "length_mm": _rounded(b.length_mm),
            }
            for b in part.part.bends
        ],
        "holes": [
            {"diameter_mm": _rounded(diameter), "at_mm": [_rounded(x), _rounded(y)]}
            for (x, y), diameter in part.flat.round_holes
        ],
    }


def _folded(part: PartReview) -> dict[str, Any] | None:
    if part.part is None or part.folded_size_mm is None:
        return None
    return {
        "size_mm": [_rounded(v) for v in part.folded_size_mm],
        "volume_mm3": _rounded(part.part.volume_mm3),
    }


def _strength(found: Strength | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "rating_kg": _rounded(found.rating_kg),
        "rating_range_kg": [_rounded(found.rating_low_kg), _rounded(found.rating_high_kg)],
        "governs": found.governs,
        "carried_kg": [_rounded(found.carried_kg.low), _rounded(found.carried_kg.high)],
        "sag_of_items_mm": _rounded(found.sag_of_items_mm),
        "sag_limit_mm": _rounded(found.sag_limit_mm),
        "cases": [
            {
                "name": c.name,
                "say": c.say,
                "sag_mm": _rounded(c.sag_mm),
                "load_factor_set": _rounded(c.load_factor_set),
                "load_factor_collapse": _rounded(c.load_factor_collapse),
                "load_factor_buckling": _rounded(c.load_factor_buckling),
                "peak_stress_mpa": _rounded(c.peak_stress_mpa, 2),
                "utilisation": _rounded(c.share),
                "governs": c.governs,
            }
            for c in found.cases
        ],
        "chain": [
            {"link": k.name, "place": k.place, "share": _rounded(k.share), "case": k.case, "say": k.say}
            for k in found.chain
        ],
        "hand": [
            {
                "what": h.what,
                "formula": h.formula,
                "values": h.values,
                "by_hand": _rounded(h.by_hand),
                "by_model": _rounded(h.by_model),
                "unit": h.unit,
                "ratio": _rounded(h.ratio),
                "why": h.why,
            }
            for h in found.hand
        ],
        "collapse_run": _collapse(found.collapse),
        "tonight": found.tonight,
        "mesh": {"freedoms": found.freedoms, "discretisation_error": _rounded(found.discretisation_error, 6)},
    }


def _collapse(run: CollapseRun | None) -> dict[str, Any] | None:
    """The collapse that was followed layer by layer; `curve` is shift in mm and load factor."""
    if run is None:
        return None
    return {
        "case": run.case,
        "load_factor": _rounded(run.factor),
        "gives_way": run.reached,
        "followed_to_its_end": run.complete,
        "load_factor_by_sections": _rounded(run.by_section),
        "decides": run.decides,
        "set_after": {
            "load_factor": run.set_factor,
            "set_mm": _rounded(run.set_mm),
            "moved_mm": _rounded(run.moved_mm),
        },
        "curve": [[_rounded(m), _rounded(f)] for m, f in run.curve],
        "freedoms": run.freedoms,
    }


def _mount(found: Strength | None, walls: tuple[WallRating, ...]) -> dict[str, Any] | None:
    if found is None:
        return None
    least = lowest(walls)
    return {
        "walls": [
            {
                "on": wall.backing,
                "fixing": wall.fixing,
                "rating_kg": _rounded(wall.rating_kg),
                "governs": wall.governs,
                "utilisation": _rounded(wall.share),
                "claimed": wall.claimed,
                "why": wall.why,
            }
            for wall in walls
        ],
        "lowest_kg": _rounded(least.rating_kg) if least is not None else None,
        "bolts": [
            {
                "at_mm": [_rounded(v) for v in b.at_mm],
                "tension_n": _rounded(b.tension_n, 2),
                "shear_n": _rounded(b.shear_n, 2),
                "utilisation": _rounded(b.share),
                "case": b.case,
            }
            for b in found.bolts
        ],
    }


def _fabrication(found: Made | None) -> dict[str, Any] | None:
    if found is None or found.order is None:
        return None
    if isinstance(found.order, NoPlan):
        return {"bend_order": None, "press_force_kn": None, "why": str(found.order)}
    return {
        "bend_order": [
            {
                "bend": step.bends[0],
                "bends": list(step.bends),
                "flip": step.flip,
                "turn_deg": step.turn_deg,
                "tool": step.tool,
                "work": step.work,
                "angle_deg": _rounded(math.degrees(step.angle_rad)),
                "over_bend_deg": _rounded(step.overbend_deg),
                "clearance_mm": _rounded(step.clearance_mm),
                "press_force_kn": _rounded(step.press_force_kn),
                "way_out": step.way_out,
            }
            for step in found.order.steps
        ],
        "flips": found.order.flips,
        "searched_to_the_end": found.order.complete,
        "press_force_kn": _rounded(found.order.press_force_kn),
    }


def _cost(found: Made | None) -> dict[str, Any] | None:
    if found is None or found.cost is None:
        return None
    cost = found.cost
    return {
        "each": float(cost.each.amount),
        "low": float(cost.low.amount),
        "high": float(cost.high.amount),
        "currency": cost.each.currency,
        "basis": cost.basis,
        "at": [{"quantity": n, "each": float(money.amount)} for n, money in cost.at],
        "lines": [{"operation": line.operation.name, "amount": float(line.money.amount)} for line in cost.lines],
    }


def _rounded(value: float | None, places: int = 4) -> float | None:
    """A number without the noise of its last digits; None for none and for what is not finite."""
    if value is None or not math.isfinite(value):
        return None
    return round(value, places) + 0.0
