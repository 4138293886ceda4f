"""The traveller: goes with the batch, one page a part, its operations in order with room to sign each off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from steadfold.catalogue import finishes
from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.head import Head, Style
from steadfold.deliver.sheets.making import bend_plan_of, checks_of, no_plan_words
from steadfold.deliver.sheets.pictures import isometric_picture
from steadfold.deliver.sheets.typeset import pdf
from steadfold.fabricate.bend_plan import BendPlan
from steadfold.fabricate.shop import Shop
from steadfold.quantities import in_units, show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview
from steadfold.sheet.seams import told as seam_told

MOST_PICTURES = 12


def traveller(head: Head, parts: Sequence[tuple[Head, PartReview, str]], shop: Shop, style: Style) -> bytes:
    """The travellers of all parts as one PDF; each part with its own head and the stem of its files."""
    pages = [_page(own, part, stem, shop, style) for own, part, stem in parts]
    # Each page carries its own part's verdict.
    return pdf("traveller", {"head": head.plain(style, "Traveller"), "pages": pages, "units": style.units})


def _page(head: Head, part: PartReview, stem: str, shop: Shop, style: Style) -> dict[str, Any]:
    assert part.part is not None and part.flat is not None
    units = style.units
    plan = bend_plan_of(part)
    operations = [_cut(part, stem, units), ["deburr", "All edges, both sides; corners that hands reach rounded.", ""]]
    operations += _bends(part, plan, units)
    operations += [["join", f"After folding, {seam_told(part.part, seam, units)}.", ""] for seam in part.part.seams]
    if part.ordered.finish != "none":
        operations.append(_coat(part, units))
    operations.append(["measure", "First piece whole, then one in ten: the table below.", ""])
    total = (part.mass_kg or 0.0) * part.ordered.quantity
    operations.append(
        ["pack", f"{part.ordered.quantity} pieces, {show_mass(total, units)}, edges apart from faces.", ""]
    )
    return {
        "head": head.plain(style, "Traveller"),
        "facts": [
            ["metal", f"{part.material.title}, {show_length(part.thickness_mm or 0.0, units)}"],
            ["mass of one", show_mass(part.mass_kg or 0.0, units)],
            ["files", f"{stem}.dxf, {stem}.step, {stem}-drawing.pdf"],
        ],
        "picture": isometric_picture(part.part, 66.0, 44.0),
        "operations": [[str(i + 1), *operation] for i, operation in enumerate(operations)],
        "steps": _step_pictures(part, plan),
        "checks": [[c.what, c.ordered, c.least, c.most] for c in checks_of(part, shop, units)],
        "coated": part.ordered.finish != "none",
    }


def _cut(part: PartReview, stem: str, units: Units) -> list[str]:
    assert part.flat is not None
    width, height = part.flat.size_mm
    grain = "" if part.ordered.grain == "any" else f" Grain {part.ordered.grain} the bottom edge of the root panel."
    cut = in_units(f"{part.flat.cut_length_mm / 1000:.2f} m", units)
    what = (
        f"{part.ordered.quantity} flats of {show(width, units)} × {show(height, units)} {units} by {stem}.dxf: "
        f"{cut} of cut in {part.flat.pierces} contours each.{grain}"
    )
    return ["cut", what, ""]


def _bends(part: PartReview, plan: BendPlan | None, units: Units) -> list[list[str]]:
    """The bends in the order of the plan; without one, all in one line for the shop to order."""
    assert part.part is not None
    bends = part.part.bends
    if not bends:
        return []
    if plan is None:
        said = f"{len(bends)} bends by the table on the drawing. {no_plan_words(part)}"
        return [["bend", said, ""]]
    found = []
    for step in plan.steps:
        names = ", ".join(part.part.panels[bends[b].child].name for b in step.bends)
        first = bends[step.bends[0]]
        turned = math.degrees(abs(first.angle_rad))
        moves = []
        if step.flip:
            moves.append("flip over")
        if abs(step.turn_deg) > 0.5:
            moves.append(f"turn {step.turn_deg:g}°")
        if step.changes_tool:
            moves.append(f"change to {step.tool}")
        before = (", ".join(moves) + "; ") if moves else ""
        gauge = ""
        if step.gauge is not None:
            gauge = f" Gauge on {step.gauge.panel}, {show(step.gauge.distance_mm, units)} behind the line."
        work = "press flat" if step.work == "press flat" else f"bend by {turned:g}° (over-bend {step.overbend_deg:g}°)"
        ends = " Comes out sideways." if step.way_out == "sideways" else ""
        number = ", ".join(str(b + 1) for b in step.bends)
        force = in_units(f"{step.press_force_kn:.0f} kN", units)
        what = f"{before}line {number} ({names}): {work}, {step.tool}, {force}.{gauge}{ends}"
        found.append(["bend", what[0].upper() + what[1:], ""])
    return found


def _step_pictures(part: PartReview, plan: BendPlan | None) -> list[dict[str, Any]]:
    """The part after each stroke of the plan."""
    assert part.part is not None
    if plan is None or not 1 < len(plan.steps) <= MOST_PICTURES:
        return []
    made: set[int] = set()
    found = []
    for number, step in enumerate(plan.steps):
        made |= set(step.bends)
        share = tuple(1.0 if b in made else 0.0 for b in range(len(part.part.bends)))
        found.append({"number": number + 1, "picture": isometric_picture(part.part, 40.0, 30.0, share)})
    return found


def _coat(part: PartReview, units: Units) -> list[str]:
    finish = finishes.finish(part.ordered.finish)
    low, _, most = finish.thickness_um
    hang = ""
    if finish.hanging_hole_mm is not None:
        hang = f" Hang by a hole of at least {show(finish.hanging_hole_mm, units)} {units} on a hidden face."
    return [
        "coat",
        f"Clean, then {finish.title}, {low:g} to {most:g} µm a side. Masked areas: none asked for.{hang}",
        "",
    ]
