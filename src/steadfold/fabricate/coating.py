"""Can it be coated: the oven, something to hang by, what keeps the bath, what the coat closes or
insulates."""

from __future__ import annotations

import math
from collections.abc import Iterator

from steadfold.catalogue.finishes import Finish
from steadfold.catalogue.materials import Material
from steadfold.fabricate.bend_table import HEM_FROM_RAD
from steadfold.fabricate.bending import at_bend
from steadfold.fabricate.cutting import centre, widened_change
from steadfold.fabricate.fit import coat_mm
from steadfold.fabricate.measures import Measures, neighbours
from steadfold.fabricate.noted import Mark, Noted
from steadfold.fabricate.shop import COMMON_PRACTICE, Shop
from steadfold.findings import Finding, Severity
from steadfold.findings.finding import Change
from steadfold.sheet.extent import folded_size_mm

LONG_PART_MM = 600.0
"""From this length on a part hangs by two holes (common practice, no source)."""
OPEN_HEM_MM = 1.5
"""A hem open by less than this keeps what it is washed in (common practice, no source)."""
FILLS_BELOW_MM = 3.0
"""Round holes smaller than this fill with powder or its drips (common practice, no source)."""


def mass_kg(measures: Measures, material: Material) -> float:
    """Mass of the bare part."""
    return measures.part.volume_mm3 * material.density_kg_m3 * 1e-9


def coating_findings(measures: Measures, material: Material, shop: Shop, finish: Finish) -> Iterator[Noted]:
    """Everything about coating; nothing for bare metal."""
    if finish.thickness_um[2] <= 0.0:
        return
    part = measures.part
    if not finish.suits(material.family):
        yield Noted(
            Finding(
                "finish-does-not-suit", Severity.STOP, part.name,
                f"{finish.title} is not put on {material.family}; it is for {', '.join(finish.families)}.",
                None, None, finish.source.sentence, "choose another finish", Change(part.name, "finish", "none"),
            )
        )
    yield from _oven(measures, material, shop)
    yield from _hanging(measures, shop, finish)
    yield from _filled_holes(measures, shop, finish)
    yield from _pockets(measures, shop)


def _oven(measures: Measures, material: Material, shop: Shop) -> Iterator[Noted]:
    part, source = measures.part, f"shop file {shop.name!r}"
    size, oven = sorted(folded_size_mm(part)), sorted(shop.coater.oven_mm)
    over = [(s, o) for s, o in zip(size, oven, strict=True) if s > o + 1e-6]
    if over:
        shown, room = (" x ".join(f"{side:.0f}" for side in sides) for sides in (size, oven))
        yield Noted(
            Finding(
                "larger-than-oven", Severity.STOP, part.name, f"Folded it is {shown} mm; the oven takes {room} mm.",
                over[-1][0], over[-1][1], source, "make it in two parts, or another coater",
            )
        )
    mass = mass_kg(measures, material)
    if mass > shop.coater.heaviest_kg:
        yield Noted(
            Finding(
                "too-heavy-for-coater", Severity.STOP, part.name,
                f"It weighs {mass:.1f} kg; the line hangs {shop.coater.heaviest_kg:.4g} kg.",
                mass, shop.coater.heaviest_kg, source, "make it lighter or in two parts, or another coater",
            )
        )


def _hanging(measures: Measures, shop: Shop, finish: Finish) -> Iterator[Noted]:
    if finish.hanging_hole_mm is None:
        return
    least = max(finish.hanging_hole_mm, shop.coater.least_hanging_hole_mm) if finish.id == "powder coat" else (
        finish.hanging_hole_mm
    )
    wide = [opening for opening in measures.openings if opening.width_mm >= least - 1e-6]
    wanted = 2 if max(folded_size_mm(measures.part)) > LONG_PART_MM else 1
    if len(wide) >= wanted:
        return
    have = f"only {len(wide)}" if wide else "none"
    yield Noted(
        Finding(
            "nothing-to-hang-by", Severity.CAUTION, measures.part.name,
            f"It hangs by {wanted} opening{'s' if wanted > 1 else ''} of {least:.4g} mm or more; there is {have}.",
            float(len(wide)), float(wanted), f"shop file {shop.name!r}; {finish.source.sentence}; two from "
            f"{LONG_PART_MM:.0f} mm on: {COMMON_PRACTICE}",
            f"add a hole of {least:.4g} mm on a face that does not show, near the top edge as it hangs",
        )
    )


def _filled_holes(measures: Measures, shop: Shop, finish: Finish) -> Iterator[Noted]:
    coat = coat_mm(shop, finish)[1]
    limit = FILLS_BELOW_MM if coat >= 0.03 else 4 * coat
    for opening in measures.openings:
        if opening.width_mm >= limit - 1e-6:
            continue
        yield Noted(
            Finding(
                "hole-fills-with-coat", Severity.CAUTION, measures.place_of(opening),
                f"{opening.width_mm:.4g} mm closes up under {finish.title}; at the thickest "
                f"{opening.width_mm - 2 * coat:.2f} mm is left, less where it runs.",
                opening.width_mm, limit, f"{COMMON_PRACTICE}; coat: {finish.source.sentence}",
                f"open it to {limit:.4g} mm, have it plugged, or drill it after coating",
                widened_change(measures, opening, limit),
            ),
            (centre(opening),),
        )


def _pockets(measures: Measures, shop: Shop) -> Iterator[Noted]:
    part = measures.part
    for index, bend in enumerate(part.bends):
        gap = 2 * bend.inside_radius_mm
        if abs(bend.angle_rad) >= HEM_FROM_RAD and gap < OPEN_HEM_MM - 1e-9:
            yield Noted(
                Finding(
                    "hem-traps-bath", Severity.CAUTION, measures.bend_name(index),
                    f"The hem is open by {gap:.2f} mm; what the part is washed or dipped in stays in it and weeps "
                    "out in the oven.",
                    gap, OPEN_HEM_MM, COMMON_PRACTICE,
                    f"open the hem to {OPEN_HEM_MM:.4g} mm or more, or ask the coater",
                ),
                (at_bend(measures, index),),
            )
    for panel in range(len(part.panels)):
        share = walled_share(measures, panel)
        drained = any(
            opening.panel == panel and opening.width_mm >= shop.coater.drain_hole_mm - 1e-6
            for opening in measures.openings
        )
        if share >= 0.9 and not drained:
            middle = measures.panel_polygons[panel].centroid
            yield Noted(
                Finding(
                    "pocket-without-drain", Severity.NOTE, f"panel {part.panels[panel].name!r}",
                    f"Walls stand round {100 * share:.0f} % of it and it has no hole of "
                    f"{shop.coater.drain_hole_mm:.4g} mm: hung the wrong way it keeps the bath.",
                    share, 0.9, f"shop file {shop.name!r}; {COMMON_PRACTICE}",
                    f"add a drain hole of {shop.coater.drain_hole_mm:.4g} mm in a corner, or leave the corners open",
                ),
                (Mark((middle.x, middle.y), panel),),
            )


def walled_share(measures: Measures, panel: int) -> float:
    """Share of a panel's edge from which walls stand up to one side, 60° or more."""
    part = measures.part
    edge = float(measures.panel_polygons[panel].exterior.length) if hasattr(
        measures.panel_polygons[panel], "exterior"
    ) else math.inf
    lengths = {1: 0.0, -1: 0.0}
    for index in neighbours(part, panel):
        bend = part.bends[index]
        if abs(bend.angle_rad) >= math.radians(60) and abs(bend.angle_rad) < HEM_FROM_RAD:
            lengths[1 if bend.angle_rad > 0 else -1] += bend.length_mm
    return max(lengths.values()) / edge
