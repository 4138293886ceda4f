"""Can it be bent, as far as the drawing alone tells: flanges, holes, reliefs, radii, machine and tools."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

import numpy as np
import shapely

from steadfold.catalogue.materials import Material, min_inside_radius_mm
from steadfold.fabricate.bend_table import HEM_FROM_RAD, NEAR_ENOUGH, die_of, radius_from_die_mm
from steadfold.fabricate.cutting import centre, moved_change
from steadfold.fabricate.measures import BendSide, Measures, neighbours, probe_beyond
from steadfold.fabricate.noted import Mark, Noted
from steadfold.fabricate.press import CAPACITY_COEFFICIENT, bending_strength_mpa, press_force_n
from steadfold.fabricate.shop import COMMON_PRACTICE, Shop
from steadfold.fabricate.strokes import Stroke, strokes_of
from steadfold.findings import Finding, Severity
from steadfold.findings.finding import Change
from steadfold.sheet.allowance import setback

Grain = Literal["along", "across", "any"]
"""Rolling direction seen from the root panel's bottom edge."""

HOLE_TO_TANGENT_T = 2.5
SLOT_TO_TANGENT_T = 4.0
"""Least distance of an opening to a bend's tangent line, in thicknesses: of a hole, and of a slot that
runs along the bend (common practice; a shop's own rule wins)."""
HEM_LEG_T = 4.0
"""Least outside leg of a hem, in thicknesses (common practice, no source)."""
OFF_THE_DIE = 0.25
"""Share by which a drawn radius may differ from the die's and be left alone (common practice, no source)."""
SMALLER_V_T = 6.0
"""The narrowest opening a shop bends over, in thicknesses (handbook V rule)."""
CLOSE_TO_LIMIT = NEAR_ENOUGH
CRACKS_BELOW = 0.5
"""Share of the least inside radius below which a bend is taken to crack for certain (assumed)."""
SHOWS_MM = 2.0
"""A tip that may stand this far off is seen (assumed)."""


def bending_findings(measures: Measures, material: Material, shop: Shop, grain: Grain) -> Iterator[Noted]:
    """Everything about bending but the order of bends."""
    part = measures.part
    if not part.bends:
        return
    if not material.foldable:
        yield Noted(
            Finding(
                "not-foldable", Severity.STOP, part.name, f"{material.id} does not go on a press brake.",
                None, None, material.source.sentence, "choose a sheet metal, or make it of flat pieces",
            )
        )
        return
    yield from _flanges(measures, material, shop)
    yield from _holes_near_bends(measures)
    yield from _reliefs(measures)
    yield from _radii(measures, material, shop, grain)
    yield from _machine(measures, material, shop)
    yield from _hems(measures, shop)
    yield from _steps(measures, material, shop)
    yield from _tips(measures, shop)
    yield from _across_bends(measures, shop)


def at_bend(measures: Measures, index: int) -> Mark:
    """The middle of a bend in the flat."""
    bend = measures.part.bends[index]
    point = measures.strip_places[index]((0.5 * bend.length_mm, 0.5 * bend.allowance_mm))
    return Mark(point, None, index)


def flange_limit_mm(shop: Shop, material: Material, thickness_mm: float, angle_rad: float) -> tuple[float, float]:
    """Least outside flange over the die the shop would take, and over the narrowest it could."""
    usual = die_of(shop, material, thickness_mm, angle_rad) or die_of(shop, material, thickness_mm)
    if usual is None:
        return 0.0, 0.0
    narrow = [
        die.least_flange_at(angle_rad)
        for die in shop.dies
        if die.v_mm >= SMALLER_V_T * thickness_mm - 1e-9 and abs(angle_rad) <= die.max_bend_rad + 1e-9
    ]
    limit = usual.least_flange_at(angle_rad)
    return limit, min([limit, *narrow])


def _flanges(measures: Measures, material: Material, shop: Shop) -> Iterator[Noted]:
    part = measures.part
    for side in measures.sides:
        bend = part.bends[side.bend]
        limit, narrow = flange_limit_mm(shop, material, part.thickness_mm, bend.angle_rad)
        if side.depth_mm >= limit - 1e-6 or abs(bend.angle_rad) >= HEM_FROM_RAD:
            continue
        name = part.panels[side.panel].name
        over = die_of(shop, material, part.thickness_mm, bend.angle_rad)
        severity = Severity.STOP if side.depth_mm < narrow - 1e-6 else Severity.CAUTION
        other = "" if severity is Severity.STOP else "; a narrower die would do, ask the shop"
        yield Noted(
            Finding(
                "flange-too-short", severity, f"panel {name!r}, {measures.bend_name(side.bend)}",
                f"{side.depth_mm:.2f} mm, measured outside, does not reach over the {over.name if over else 'die'}; "
                f"it takes {limit:.2f} mm{other}.",
                side.depth_mm, limit, f"shop file {shop.name!r}: least flange of the die",
                f"lengthen it to {limit:.1f} mm", _longer(measures, side, limit - side.depth_mm),
            ),
            (at_bend(measures, side.bend),),
        )


def _longer(measures: Measures, side: BendSide, by_mm: float) -> Change | None:
    """The panel made deeper, where it was drawn with outside dimensions and nothing hangs on its far edge."""
    panel = measures.part.panels[side.panel]
    if panel.extent_mm is None or not side.is_child or not measures.is_leaf(side.panel):
        return None
    needed = math.ceil(10 * (panel.extent_mm[1] + by_mm) - 1e-6) / 10
    return Change(measures.part.name, f"panel.{panel.name}.size[1]", f"{needed:g} mm")


def _holes_near_bends(measures: Measures) -> Iterator[Noted]:
    part, t = measures.part, measures.part.thickness_mm
    for opening in measures.openings:
        if opening.panel is None:
            continue
        for index in neighbours(part, opening.panel):
            bend = part.bends[index]
            line = measures.tangent(index, bend.child == opening.panel)
            gap = opening.gap_mm(line)
            runs_along = _runs_along(measures, opening.turned_rad, index) and opening.length_mm > 2 * opening.width_mm
            times = SLOT_TO_TANGENT_T if runs_along else HOLE_TO_TANGENT_T
            limit = times * t
            if gap >= limit - 1e-6:
                continue
            to, near = np.asarray(shapely.shortest_line(line, opening.polygon).coords)
            outside = setback(bend.angle_rad, bend.inside_radius_mm, t)
            kind = "a slot along the bend" if runs_along else "an opening"
            yield Noted(
                Finding(
                    "hole-near-bend", Severity.CAUTION, f"{measures.place_of(opening)}, {measures.bend_name(index)}",
                    f"Its edge is {gap:.2f} mm from where the bend begins ({gap + outside:.2f} mm from the outside of "
                    f"the bend); {kind} keeps its shape from {limit:.2f} mm on ({limit + outside:.2f} mm).",
                    gap, limit, f"{times:g} t to the tangent line: {COMMON_PRACTICE}; the shop's own rule wins",
                    f"move it {limit - gap:.2f} mm away from the bend, or cut it after bending",
                    moved_change(measures, opening, near - to, limit - gap),
                ),
                (centre(opening), at_bend(measures, index)),
            )


def _runs_along(measures: Measures, turned_rad: float, index: int) -> bool:
    along = measures.strip_places[index].along
    return abs(math.cos(turned_rad) * along[0] + math.sin(turned_rad) * along[1]) > math.cos(math.radians(20))


def _reliefs(measures: Measures) -> Iterator[Noted]:
    part, t = measures.part, measures.part.thickness_mm
    for index, bend in enumerate(part.bends):
        for at_end in (False, True):
            if probe_beyond(measures, index, at_end, 0.02, 0.25) < 0.15:
                continue
            x = bend.length_mm if at_end else 0.0
            width, depth = max(t, 1.0), bend.inside_radius_mm + t + 0.5
            yield Noted(
                Finding(
                    "no-relief", Severity.CAUTION, f"{'end' if at_end else 'start'} of {measures.bend_name(index)}",
                    f"The bend ends beside metal that stays flat; without a relief {width:.4g} mm wide and "
                    f"{depth:.4g} mm deep the sheet tears there.",
                    0.0, width, f"width t, depth r + t past the tangent line: {COMMON_PRACTICE}",
                    f"cut a relief {width:.4g} x {depth:.4g} mm at the end of the bend",
                ),
                (Mark(measures.strip_places[index]((x, 0.5 * bend.allowance_mm)), None, index),),
            )


def _radii(measures: Measures, material: Material, shop: Shop, grain: Grain) -> Iterator[Noted]:
    part, t = measures.part, measures.part.thickness_mm
    source = material.bend_radius.source.sentence if material.bend_radius else ""
    across = min_inside_radius_mm(material, t)
    along = min_inside_radius_mm(material, t, along_grain=True)
    if across is None or along is None:
        yield Noted(
            Finding(
                "radius-limit-unknown", Severity.UNPROVEN, part.name,
                f"No least inside radius is known here for {material.id} of {t:.4g} mm.",
                None, None, material.source.sentence, "ask the shop for the least radius it bends this metal to",
            )
        )
        return
    both_ways = {_lies_along_x(measures, i) for i in range(len(part.bends))} == {True, False}
    for index, bend in enumerate(part.bends):
        r = bend.inside_radius_mm
        runs_along = grain != "any" and _lies_along_x(measures, index) == (grain == "along")
        limit = along if runs_along else across
        name, mark = measures.bend_name(index), (at_bend(measures, index),)
        if r < CLOSE_TO_LIMIT * across - 1e-6:
            hard = Severity.STOP if r < CRACKS_BELOW * across else Severity.CAUTION
            yield Noted(
                Finding(
                    "radius-too-tight", hard, name,
                    f"Inside radius {r:.3g} mm; {material.id} of {t:.4g} mm may crack below {limit:.3g} mm.",
                    r, limit, source, f"use a radius of {limit:.3g} mm",
                    Change(part.name, "inside_radius", f"{limit:.3g} mm"),
                ),
                mark,
            )
        elif r < CLOSE_TO_LIMIT * along - 1e-6 and (runs_along or (grain == "any" and both_ways)):
            told = "runs along" if runs_along else "may run along"
            yield Noted(
                Finding(
                    "bend-along-grain", Severity.CAUTION, name,
                    f"The bend {told} the rolling direction, where {material.id} wants {along:.3g} mm inside radius; "
                    f"it has {r:.3g} mm.",
                    r, along, source, "lay the part across the rolling direction, or use the larger radius",
                    Change(part.name, "inside_radius", f"{along:.3g} mm"),
                ),
                mark,
            )
        made = radius_from_die_mm(shop, material, t, bend.angle_rad)
        if abs(bend.angle_rad) < HEM_FROM_RAD and abs(r - made) > OFF_THE_DIE * made:
            yield Noted(
                Finding(
                    "radius-not-of-the-die", Severity.NOTE, name,
                    f"Drawn with {r:.3g} mm; bent over the shop's die it comes out at about {made:.3g} mm.",
                    r, made, f"shop file {shop.name!r}: share of the V opening", "let the radius follow the die",
                    Change(part.name, "inside_radius", "auto"),
                ),
                mark,
            )


def _lies_along_x(measures: Measures, index: int) -> bool:
    along = measures.strip_places[index].along
    return abs(along[0]) >= abs(along[1])


def _machine(measures: Measures, material: Material, shop: Shop) -> Iterator[Noted]:
    part, t = measures.part, measures.part.thickness_mm
    source = f"shop file {shop.name!r}"
    for stroke in strokes_of(part):
        index = stroke.bends[0]
        name, mark = measures.bend_name(index), (at_bend(measures, index),)
        if stroke.length_mm > shop.brake.length_mm + 1e-6:
            yield Noted(
                Finding(
                    "bend-too-long", Severity.STOP, name,
                    f"{stroke.length_mm:.0f} mm long; the brake bends {shop.brake.length_mm:.0f} mm.",
                    stroke.length_mm, shop.brake.length_mm, source, "make it in two parts, or another shop",
                ),
                mark,
            )
        die = die_of(shop, material, t, stroke.angle_rad)
        if die is None:
            continue
        per_m = press_force_n(bending_strength_mpa(material), 1.0, t, die.v_mm, CAPACITY_COEFFICIENT)
        force = per_m * stroke.metal_mm / 1000.0
        rule = "1.6 Rm b t² / V against capacity: common press-brake rule, recalled"
        if force > shop.brake.force_kn + 1e-9:
            yield Noted(
                Finding(
                    "press-too-weak", Severity.STOP, name,
                    f"It takes up to {force:.0f} kN over a V of {die.v_mm:.4g} mm; the brake has "
                    f"{shop.brake.force_kn:.0f} kN.",
                    force, shop.brake.force_kn, f"{source}; {rule}",
                    "thinner sheet, a wider die if the flange allows it, or a stronger brake",
                ),
                mark,
            )
        yield from _tool_load(stroke, name, mark, per_m, shop, die.capacity_kn_per_m, f"{source}; {rule}")


def _tool_load(
    stroke: Stroke, name: str, mark: tuple[Mark, ...], per_m: float, shop: Shop, die_kn: float, source: str
) -> Iterator[Noted]:
    able = [p for p in shop.punches if p.max_bend_rad >= abs(stroke.angle_rad) - 1e-9] or list(shop.punches)
    limit = min(die_kn, max(punch.capacity_kn_per_m for punch in able))
    if per_m > limit + 1e-9:
        yield Noted(
            Finding(
                "tooling-overloaded", Severity.CAUTION, name,
                f"{per_m:.0f} kN on every metre of tool; punch and die are made for {limit:.0f} kN.",
                per_m, limit, source, "thinner sheet, or a wider die if the flange allows it",
            ),
            mark,
        )


def _hems(measures: Measures, shop: Shop) -> Iterator[Noted]:
    part, t = measures.part, measures.part.thickness_mm
    for side in measures.sides:
        bend = part.bends[side.bend]
        if abs(bend.angle_rad) < HEM_FROM_RAD or not side.is_child:
            continue
        name, mark = measures.bend_name(side.bend), (at_bend(measures, side.bend),)
        if not shop.brake.flattens_hems:
            yield Noted(
                Finding(
                    "hem-not-pressed-here", Severity.STOP, name, "The shop does not press hems flat.",
                    None, None, f"shop file {shop.name!r}", "leave the hem open, or another shop",
                ),
                mark,
            )
        if side.depth_mm < HEM_LEG_T * t - 1e-6:
            yield Noted(
                Finding(
                    "hem-too-short", Severity.CAUTION, name,
                    f"The leg of the hem measures {side.depth_mm:.2f} mm; it takes {HEM_LEG_T * t:.2f} mm.",
                    side.depth_mm, HEM_LEG_T * t, f"4 t: {COMMON_PRACTICE}",
                    f"lengthen it to {HEM_LEG_T * t:.1f} mm", _longer(measures, side, HEM_LEG_T * t - side.depth_mm),
                ),
                mark,
            )


def least_step_mm(shop: Shop, material: Material, thickness_mm: float, angle_rad: float) -> float:
    """Least outside height of a step between two opposite bends over the shop's die; 0 when no die bends
    so far.

    The panel that already hangs down must clear the die's side while the sheet is flat, and its corner at
    the angle: `max(D, D cos a + V/2 (1/cos a - cos a) - t/2 tan a) + t/2` from middle to middle, a = half
    the angle. Source: derived; checked against the planner.
    """
    die = die_of(shop, material, thickness_mm, angle_rad)
    if die is None:
        return 0.0
    half = 0.5 * min(abs(angle_rad), math.radians(90.0))
    cos = math.cos(half)
    corner = die.half_width_mm * cos + 0.5 * die.v_mm * (1 / cos - cos) - 0.5 * thickness_mm * math.tan(half)
    return max(die.half_width_mm, corner) + 0.5 * thickness_mm + thickness_mm


def _steps(measures: Measures, material: Material, shop: Shop) -> Iterator[Noted]:
    part, t = measures.part, measures.part.thickness_mm
    for panel in range(len(part.panels)):
        touching = neighbours(part, panel)
        for one in touching:
            for two in touching:
                first, second = part.bends[one], part.bends[two]
                if two <= one or first.angle_rad * second.angle_rad > 0 or not _facing(measures, one, two, panel):
                    continue
                if min(abs(first.angle_rad), abs(second.angle_rad)) < math.radians(45):
                    continue
                # Only a near-square step has one outside height that a calliper reads.
                limit = max(least_step_mm(shop, material, t, bend.angle_rad) for bend in (first, second))
                side = next(s for s in measures.sides if s.bend == one and s.panel == panel)
                if side.depth_mm >= limit - 1e-6:
                    continue
                yield Noted(
                    Finding(
                        "step-too-short", Severity.CAUTION, f"panel {part.panels[panel].name!r}",
                        f"{side.depth_mm:.2f} mm between two opposite bends; over this die it takes {limit:.2f} mm.",
                        side.depth_mm, limit, f"shop file {shop.name!r}: width of the die; geometry",
                        f"make the step {limit:.1f} mm, or ask for an offset tool",
                    ),
                    (at_bend(measures, one), at_bend(measures, two)),
                )


def _facing(measures: Measures, one: int, two: int, panel: int) -> bool:
    """True for two parallel bends on opposite edges of a panel that overlap along their length."""
    first, second = measures.strip_places[one], measures.strip_places[two]
    if abs(first.along[0] * second.along[1] - first.along[1] * second.along[0]) > 1e-3:
        return False
    spans = []
    for index in (one, two):
        line = measures.tangent(index, measures.part.bends[index].child == panel)
        spans.append(sorted(x * first.along[0] + y * first.along[1] for x, y in line.coords))
    return min(spans[0][1], spans[1][1]) - max(spans[0][0], spans[1][0]) > 1.0


def _tips(measures: Measures, shop: Shop) -> Iterator[Noted]:
    tolerance = shop.brake.angle_tolerance_rad
    for side in measures.sides:
        off = side.whole_mm * math.tan(tolerance)
        if not side.is_child or off <= SHOWS_MM or not measures.is_leaf(side.panel):
            continue
        name = measures.part.panels[side.panel].name
        yield Noted(
            Finding(
                "angle-shows", Severity.NOTE, f"panel {name!r}, {measures.bend_name(side.bend)}",
                f"At ±{math.degrees(tolerance):.3g}° the end of this {side.whole_mm:.0f} mm flange may stand "
                f"{off:.1f} mm high or low; beside others that shows.",
                off, SHOWS_MM, f"shop file {shop.name!r}: angle tolerance; 2 mm is seen (assumed)",
                "ask for a closer angle on the drawing, or allow for it",
            ),
            (at_bend(measures, side.bend),),
        )


def _across_bends(measures: Measures, shop: Shop) -> Iterator[Noted]:
    """Openings of the two panels furthest apart by bends, when three or more lie between."""
    part = measures.part
    drilled = sorted({opening.panel for opening in measures.openings if opening.panel is not None})
    worst: tuple[int, int, int] = (0, 0, 0)
    for i, one in enumerate(drilled):
        distance = _bends_from(measures, one)
        for two in drilled[i + 1 :]:
            worst = max(worst, (distance[two], one, two))
    count, one, two = worst
    if count < 3:
        return
    off = count * shop.brake.leg_tolerance_mm
    yield Noted(
        Finding(
            "holes-across-bends", Severity.NOTE,
            f"openings of {part.panels[one].name!r} and {part.panels[two].name!r}",
            f"{count} bends lie between them; their distance may be ±{off:.1f} mm off.",
            off, 2 * shop.brake.leg_tolerance_mm, f"shop file {shop.name!r}: tolerance of a leg, once a bend",
            "where they must meet something, make one of them a slot",
        )
    )


def _bends_from(measures: Measures, start: int) -> dict[int, int]:
    found, queue = {start: 0}, [start]
    for panel in queue:
        for index in neighbours(measures.part, panel):
            bend = measures.part.bends[index]
            other = bend.child if bend.parent == panel else bend.parent
            if other not in found:
                found[other] = found[panel] + 1
                queue.append(other)
    return found
