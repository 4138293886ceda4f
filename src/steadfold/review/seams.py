"""What the seams of a part may carry: welds by their throat, bolts by steel and sheet, rivets by the user's word."""

from __future__ import annotations

from steadfold.catalogue import Material, fasteners
from steadfold.joints.backing import fastener_named, hold, strength_named
from steadfold.joints.fillet import SOURCE, THINNEST_MM, fillet_n_per_mm
from steadfold.joints.sheet_hole import SheetHole
from steadfold.quantities import show_length
from steadfold.sheet.part import SeamHold
from steadfold.sheet.seams import DrawnSeam

WELDABLE = ("mild steel", "galvanised", "stainless")
"""Families of the catalogue whose weld is as strong as the sheet beside it; aluminium softens there."""


LEAST_END_D = 1.2
"""Least distance of a hole from the edge, over its diameter: EN 1993-1-8, Table 3.3 (recalled)."""


def seam_hold(drawn: DrawnSeam, material: Material, thickness_mm: float) -> SeamHold:
    """What a seam may carry in service. Raises `NotInCatalogue` for a bolt that the catalogue does not hold."""
    if drawn.how == "welded":
        return _weld(drawn, material, thickness_mm)
    if drawn.shear_n is not None or drawn.tension_n is not None:
        why = "" if drawn.shear_n is not None else "nobody says what one holds in shear"
        return SeamHold(None, drawn.shear_n, drawn.tension_n, f"given: {drawn.source}", why, None, drawn.fastener)
    if drawn.how == "riveted":
        return SeamHold(
            why="no catalogue lists rivets here; give the shear and pull of one with their source",
            fastener=drawn.fastener,
        )
    if drawn.fastener is None:
        return SeamHold(why="the job does not name the bolt")
    return _bolt(drawn, drawn.fastener, material, thickness_mm)


def _weld(drawn: DrawnSeam, material: Material, thickness_mm: float) -> SeamHold:
    if drawn.throat_mm is None:
        return SeamHold(why="the job gives no throat of the weld")
    if material.family not in WELDABLE:
        return SeamHold(
            why=f"{material.id} at a weld is as weak as the heat leaves it, which nobody says here",
            throat_mm=drawn.throat_mm,
        )
    throat = min(drawn.throat_mm, thickness_mm)
    thin = (
        f"; sheet of {show_length(thickness_mm)} is thinner than the standard's {THINNEST_MM:g} mm"
        if thickness_mm < THINNEST_MM
        else ""
    )
    holds = fillet_n_per_mm(throat, material.ultimate_low_mpa, material.family == "stainless")
    return SeamHold(holds, say=f"throat {show_length(throat)}, {SOURCE}{thin}", throat_mm=throat)


def _bolt(drawn: DrawnSeam, name: str, material: Material, thickness_mm: float) -> SeamHold:
    bolt = fastener_named(name)
    if not isinstance(bolt, fasteners.Bolt):
        return SeamHold(why=f"{name} is no machine screw or bolt", fastener=name)
    hole = bolt.clearance_hole_mm()
    end = drawn.inset_mm if drawn.inset_mm > 0.5 * hole else None
    sheet = SheetHole(thickness_mm, material.ultimate_low_mpa, hole, bolt.washer.outside_mm, end_mm=end)
    if drawn.inset_mm and drawn.inset_mm < LEAST_END_D * hole - 1e-9:
        least = show_length(round(LEAST_END_D * hole, 1))
        return SeamHold(
            why=f"{name} sits nearer to the edge than {least}, where EN 1993-1-8 gives no bearing (Table 3.3, recalled)",
            fastener=name,
        )
    found = hold("steel", name, sheet=sheet, strength=drawn.grade or strength_named(name))
    return SeamHold(None, found.shear_n, found.tension_n, found.factor_note, found.why_unproven, None, name)
