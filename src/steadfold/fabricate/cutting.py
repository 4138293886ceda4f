"""Can it be cut: openings, webs, notches, contours, and what the shop keeps."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from steadfold.catalogue.cutting import smallest_cut
from steadfold.catalogue.materials import Material
from steadfold.fabricate.measures import Measures, Opening
from steadfold.fabricate.noted import Mark, Noted
from steadfold.fabricate.shop import COMMON_PRACTICE, Shop
from steadfold.findings import Finding, Severity
from steadfold.findings.finding import Change
from steadfold.sheet.outline import Outline

SHEET_MARGIN_MM = 10.0
"""Left round a part on its sheet (common practice, no source)."""
SAME_THICKNESS = 0.02
"""Share by which a stock thickness may differ and still be that thickness."""


def cutting_findings(measures: Measures, material: Material, shop: Shop) -> Iterator[Noted]:
    """Everything about cutting, in the order a cutter would ask."""
    yield from _stock(measures, material, shop)
    yield from _sheet_size(measures, shop)
    yield from _contours(measures)
    if not measures.outer.is_valid:
        return
    yield from _small_openings(measures, shop)
    yield from _webs(measures, shop)
    yield from _narrow_places(measures, shop)


def least_opening_mm(shop: Shop, thickness_mm: float) -> float:
    """The least width of an opening in this shop."""
    return max(shop.laser.least_hole_t * thickness_mm, shop.laser.least_hole_mm)


def least_web_mm(shop: Shop, thickness_mm: float) -> float:
    """The least width of metal between two cuts in this shop."""
    return max(shop.laser.least_web_t * thickness_mm, shop.laser.least_web_mm)


def opening_field(measures: Measures, opening: Opening) -> str:
    """The field of a change to an opening: its panel, and where its middle lies in that panel's frame
    (mm)."""
    assert opening.panel is not None
    x, y = opening.at_mm
    return f"panel.{measures.part.panels[opening.panel].name}.cutout[{x:.3f},{y:.3f}]"


def centre(opening: Opening) -> Mark:
    """The middle of an opening in the flat."""
    return Mark(opening.middle, opening.panel)


def _source(shop: Shop) -> str:
    return f"shop file {shop.name!r}; {smallest_cut().source.sentence}"


def _stock(measures: Measures, material: Material, shop: Shop) -> Iterator[Noted]:
    part, t = measures.part, measures.part.thickness_mm
    source = f"shop file {shop.name!r}"
    thickest = shop.laser.thickest_mm.get(material.id, shop.laser.thickest_mm.get(material.family))
    if thickest is not None and t > thickest + 1e-9:
        yield Noted(
            Finding(
                "too-thick-to-cut", Severity.STOP, part.name,
                f"{t:.4g} mm of {material.id} is thicker than the {thickest:.4g} mm this laser cuts.",
                t, thickest, source, f"use {thickest:.4g} mm or less, or another shop",
                Change(part.name, "thickness", f"{thickest:.4g} mm"),
            )
        )
    shelf = next((shelf for shelf in shop.shelves if shelf.material == material.id), None)
    if shelf is None:
        kept = ", ".join(shelf.material for shelf in shop.shelves) or "none"
        yield Noted(
            Finding(
                "metal-not-on-shelf", Severity.CAUTION, part.name,
                f"{material.id} is not among the metals this shop keeps ({kept}); it has to order a sheet.",
                None, None, source, "ask the shop, or choose a metal it keeps",
            )
        )
        return
    nearest = min(shelf.thicknesses_mm, key=lambda kept: abs(kept - t), default=None)
    if nearest is not None and abs(nearest - t) > SAME_THICKNESS * t:
        label = shelf.labels[shelf.thicknesses_mm.index(nearest)]
        yield Noted(
            Finding(
                "thickness-not-on-shelf", Severity.CAUTION, part.name,
                f"The shop keeps {material.id} in {', '.join(shelf.labels)}, not in {t:.4g} mm.",
                t, nearest, source, f"use {label}", Change(part.name, "thickness", label),
            )
        )


def _sheet_size(measures: Measures, shop: Shop) -> Iterator[Noted]:
    corners = np.asarray(shapely.minimum_rotated_rectangle(measures.outer).exterior.coords)[:3]
    turned = sorted(float(np.hypot(*(corners[i + 1] - corners[i]))) for i in range(2))
    upright = sorted(measures.flat.size_mm)
    for sheet in shop.sheets:
        room = (sheet.width_mm - 2 * SHEET_MARGIN_MM, sheet.length_mm - 2 * SHEET_MARGIN_MM)
        if any(size[0] <= room[0] and size[1] <= room[1] for size in (turned, upright)):
            return
    largest = max(shop.sheets, key=lambda sheet: sheet.length_mm * sheet.width_mm)
    size = min((turned, upright), key=lambda size: size[1])
    yield Noted(
        Finding(
            "part-larger-than-sheet", Severity.STOP, measures.part.name,
            f"The flat is {size[0]:.0f} x {size[1]:.0f} mm; the largest sheet, {largest.width_mm:.0f} x "
            f"{largest.length_mm:.0f} mm, has no room for it with {SHEET_MARGIN_MM:.0f} mm left round it.",
            size[1], largest.length_mm - 2 * SHEET_MARGIN_MM,
            f"shop file {shop.name!r}; margin {COMMON_PRACTICE}", "make it in two parts, or shorten it",
        )
    )


def _contours(measures: Measures) -> Iterator[Noted]:
    named = [("the outer contour", measures.flat.outer)]
    named += [(measures.place_of(opening), opening.outline) for opening in measures.openings]
    for name, outline in named:
        where = crossing_of(outline)
        if where is not None:
            yield Noted(
                Finding(
                    "open-outline", Severity.STOP, name,
                    f"The contour crosses or touches itself near {where[0]:.1f}, {where[1]:.1f}.",
                    None, None, "geometry", "draw it as one closed line that meets itself nowhere",
                ),
                (Mark(where),),
            )
    for one, two in measures.opening_pairs(0.0):
        shared = shapely.intersection(one.polygon.exterior, two.polygon.exterior)
        if shared.length > 0.1 or one.polygon.overlaps(two.polygon):
            yield Noted(
                Finding(
                    "cut-twice", Severity.STOP, measures.place_of(one),
                    f"It lies over the {two.what} at {two.at_mm[0]:.1f}, {two.at_mm[1]:.1f} mm.",
                    None, None, "geometry", "leave one of them out, or make them one opening",
                ),
                (centre(one), centre(two)),
            )


def crossing_of(outline: Outline) -> tuple[float, float] | None:
    """Where a contour crosses or touches itself, in its own frame; None where it does not."""
    ring = shapely.LinearRing(outline.vertices(0.01))
    if ring.is_simple:
        return None
    reason = shapely.is_valid_reason(shapely.Polygon(ring))
    found = reason[reason.find("[") + 1 : reason.find("]")].split()
    return (float(found[0]), float(found[1])) if len(found) == 2 else (ring.centroid.x, ring.centroid.y)


def _small_openings(measures: Measures, shop: Shop) -> Iterator[Noted]:
    t = measures.part.thickness_mm
    limit = least_opening_mm(shop, t)
    possible = max(smallest_cut().hole_possible_t * t, smallest_cut().hole_mm)
    for opening in measures.openings:
        if opening.width_mm >= limit - 1e-6:
            continue
        yield Noted(
            Finding(
                "feature-too-small", Severity.CAUTION if opening.width_mm >= possible else Severity.STOP,
                measures.place_of(opening),
                f"It is {opening.width_mm:.4g} mm wide; in {t:.4g} mm sheet the laser wants {limit:.4g} mm.",
                opening.width_mm, limit, _source(shop),
                f"open it to {limit:.4g} mm, or have it drilled after cutting",
                widened_change(measures, opening, limit),
            ),
            (centre(opening),),
        )


def _webs(measures: Measures, shop: Shop) -> Iterator[Noted]:
    t = measures.part.thickness_mm
    limit = least_web_mm(shop, t)
    for one, two in measures.opening_pairs(limit):
        gap = float(shapely.distance(one.polygon, two.polygon))
        if 0 < gap < limit - 1e-6:
            yield Noted(
                Finding(
                    "web-between-slots-thin", Severity.CAUTION, measures.place_of(one),
                    f"{gap:.2f} mm of metal is left to the {two.what} at {two.at_mm[0]:.1f}, {two.at_mm[1]:.1f} mm; "
                    f"the cutter wants {limit:.4g} mm.",
                    gap, limit, _source(shop), f"move them {limit - gap:.2f} mm further apart",
                ),
                (centre(one), centre(two)),
            )
    for opening in measures.openings:
        gap = opening.gap_mm(measures.outer.exterior)
        if gap < limit - 1e-6:
            yield Noted(
                Finding(
                    "cut-near-edge", Severity.CAUTION, measures.place_of(opening),
                    f"{gap:.2f} mm of metal is left to the edge; the cutter wants {limit:.4g} mm.",
                    gap, limit, _source(shop), f"move it {limit - gap:.2f} mm inwards",
                    _moved_from_edge(measures, opening, limit - gap),
                ),
                (centre(opening),),
            )


def _moved_from_edge(measures: Measures, opening: Opening, by_mm: float) -> Change | None:
    """The opening moved straight away from the nearest point of the outer contour."""
    if opening.panel is None:
        return None
    edge, near = np.asarray(shapely.shortest_line(measures.outer.exterior, opening.polygon).coords)
    return moved_change(measures, opening, near - edge, by_mm)


def widened_change(measures: Measures, opening: Opening, to_mm: float) -> Change | None:
    """A change that opens a round hole to a diameter; None for other openings and where it lies in no panel."""
    if opening.panel is None or not opening.is_round:
        return None
    return Change(measures.part.name, f"{opening_field(measures, opening)}.diameter", f"{to_mm:.4g} mm")


def moved_change(measures: Measures, opening: Opening, direction: np.ndarray, by_mm: float) -> Change | None:
    """A change that moves an opening along a direction of the flat; None without a panel or direction."""
    length = float(np.hypot(*direction))
    if opening.panel is None or length < 1e-9:
        return None
    # A hundredth more, so that what is written with two decimals still cures it.
    middle = np.array(opening.middle) + direction / length * (by_mm + 0.01)
    x, y = measures.panel_places[opening.panel].inverted()((float(middle[0]), float(middle[1])))
    return Change(
        measures.part.name, f"{opening_field(measures, opening)}.at", f'["{x:.2f} mm", "{y:.2f} mm"]'
    )


def _narrow_places(measures: Measures, shop: Shop) -> Iterator[Noted]:
    t = measures.part.thickness_mm
    hole, web = least_opening_mm(shop, t), least_web_mm(shop, t)
    filled = shapely.difference(_closed(measures.outer, 0.98 * hole), measures.outer.buffer(0.01))
    for piece in _of_some_size(filled, 0.15 * hole * hole):
        width = _width(piece)
        yield Noted(
            Finding(
                "notch-too-narrow", Severity.CAUTION, f"notch near {piece.centroid.x:.1f}, {piece.centroid.y:.1f}",
                f"The notch is {width:.2f} mm wide; the laser wants {hole:.4g} mm.", width, hole, _source(shop),
                f"widen it to {hole:.4g} mm",
            ),
            (Mark((piece.centroid.x, piece.centroid.y)),),
        )
    lost = shapely.difference(measures.outer, _opened(measures.outer, 0.98 * web).buffer(0.01))
    for piece in _of_some_size(lost, 0.5 * web * web):
        width = _width(piece)
        yield Noted(
            Finding(
                "neck-too-thin", Severity.CAUTION, f"neck near {piece.centroid.x:.1f}, {piece.centroid.y:.1f}",
                f"The metal is only {width:.2f} mm across there; the cutter wants {web:.4g} mm.", width, web,
                _source(shop), f"widen it to {web:.4g} mm",
            ),
            (Mark((piece.centroid.x, piece.centroid.y)),),
        )


def _closed(polygon: shapely.Polygon, width: float) -> shapely.Geometry:
    """What gaps narrower than a width are filled up to."""
    return polygon.buffer(0.5 * width, join_style="mitre").buffer(-0.5 * width, join_style="mitre")


def _opened(polygon: shapely.Polygon, width: float) -> shapely.Geometry:
    """What is left when everything narrower than a width is taken off."""
    return polygon.buffer(-0.5 * width, join_style="mitre").buffer(0.5 * width, join_style="mitre")


def _of_some_size(geometry: shapely.Geometry, least_mm2: float) -> list[shapely.Polygon]:
    return [p for p in shapely.get_parts(geometry) if p.geom_type == "Polygon" and p.area > least_mm2]


def _width(piece: shapely.Polygon) -> float:
    corners = np.asarray(shapely.minimum_rotated_rectangle(piece).exterior.coords)[:3]
    return float(min(np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[2] - corners[1]))))
