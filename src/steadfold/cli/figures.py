"""Every number of a part as named rows: what the short form of `rate` leaves to `--details`."""

from __future__ import annotations

import math

from steadfold.fabricate.bend_plan import BendPlan
from steadfold.mount.records import Strength
from steadfold.quantities import show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview
from steadfold.review.making import Made


def figures(part: PartReview, units: Units) -> list[tuple[str, str]]:
    """Name and value, in the order of the work: metal, flat, rating, cases, chain, hand formulas, making, cost."""
    rows = []
    if part.thickness_mm is not None:
        other: Units = "in" if units == "mm" else "mm"
        both = f"{show_length(part.thickness_mm, units)} ({show_length(part.thickness_mm, other)})"
        rows.append(("metal", f"{part.material.id}, {both}"))
    if part.mass_kg is not None:
        rows.append(("mass", show_mass(part.mass_kg, units)))
    if part.flat is not None:
        width, height = part.flat.size_mm
        rows.append(("flat", f"{show_length(width, units)} × {show_length(height, units)}"))
        rows.append(("cut", f"{show_length(part.flat.cut_length_mm, units, 0)} in {part.flat.pierces} contours"))
    if part.folded_size_mm is not None:
        rows.append(
            ("folded", " × ".join(show_length(v, units, 1 if units == "mm" else 2) for v in part.folded_size_mm))
        )
    if part.part is not None and part.part.bends:
        rows.append(("bends", _bends(part)))
    if part.strength is not None:
        rows += _strength(part.strength, units)
    return rows + (_making(part.making) if part.making is not None else [])


def _making(found: Made) -> list[tuple[str, str]]:
    """Bend order and cost."""
    rows = []
    if isinstance(found.order, BendPlan):
        order = ", ".join(
            "+".join(str(b + 1) for b in step.bends) + (" flipped" if step.flip else "") for step in found.order.steps
        )
        force = f"{found.order.press_force_kn:.0f} kN at the most"
        rows.append(("bend order", f"bends {order}; {force}"))
    if found.cost is not None:
        rows.append(("cost", found.cost.sentence))
        rows.append(("at other quantities", ", ".join(f"{n}: {money}" for n, money in found.cost.at)))
    return rows


def _strength(found: Strength, units: Units) -> list[tuple[str, str]]:
    """Rating, each case, each link of the chain, and the hand formulas beside."""
    asked = dict.fromkeys(show_mass(mass, units) for mass in (found.carried_kg.low, found.carried_kg.high))
    carries = " to ".join(asked)
    low, high = show_mass(found.rating_low_kg, units), show_mass(found.rating_high_kg, units)
    between = "" if low == high else f" ({low} to {high} with the model's own error)"
    rating = f"{show_mass(found.rating_kg, units)} in all{between}, set by {found.governs}; it carries {carries}"
    rows = [("rating", rating)]
    for case in found.cases:
        factors = f"set at {case.load_factor_set:.2f}, gives way at {case.load_factor_collapse:.2f}"
        buckles = f", buckles at {case.load_factor_buckling:.1f}" if case.load_factor_buckling is not None else ""
        rows.append((case.name, f"sags {show_length(case.sag_mm, units)}; {factors}{buckles} times the load"))
    for link in sorted(found.chain, key=lambda k: -1.0 if k.share is None else k.share, reverse=True):
        share = "not proven" if link.share is None else f"{100 * link.share:.0f} %"
        rows.append((f"link: {link.name}", f"{share}; {link.say}"))
    for check in found.hand:
        why = f"; {check.why}" if check.why else ""
        rows.append(
            (
                "by hand",
                f"{check.what}: {check.formula} = {check.values} = {check.by_hand:.4g} {check.unit}; "
                f"the model says {check.by_model:.4g} (× {check.ratio:.2f}){why}",
            )
        )
    if found.tonight:
        rows.append(("test tonight", found.tonight))
    return rows


def _bends(part: PartReview) -> str:
    assert part.part is not None
    kinds: dict[str, int] = {}
    for bend in part.part.bends:
        text = f"{abs(math.degrees(bend.angle_rad)):.4g}° R{bend.inside_radius_mm:.3g} K{bend.k_factor:.3g}"
        kinds[text] = kinds.get(text, 0) + 1
    return ", ".join(f"{count} × {text}" for text, count in kinds.items())
