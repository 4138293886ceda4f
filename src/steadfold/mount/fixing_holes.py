"""The holes of a panel that take its fixings, and which way is down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfold.mount.records import Fixings, MountError
from steadfold.sheet.outline import Outline, Point
from steadfold.sheet.part import Part
from steadfold.sheet.pose import Frame

WIDEST_OVER_FASTENER = 2.6
"""An opening more than this many fastener diameters wide is not taken for its hole."""

SAME_MM = 0.1
"""Two widths are the same within this."""

UNKNOWN_LEAST_MM = 3.0
ALIKE = 1.1
"""Holes up to this much wider than the narrowest that takes the fixing are taken for fixings too, unless the job says which."""

PLAY = 1.1
"""Hole over fixing, usually (ISO 273 medium: 1.1 to 1.2)."""


@dataclass(frozen=True)
class Hole:
    """An opening that takes a fixing: where the fixing sits and how wide the opening is across."""

    at_mm: Point
    width_mm: float
    outline: Outline


def fixing_holes(part: Part, fixings: Fixings) -> tuple[Hole, ...]:
    """The round holes and slots of the panel that take the fixings: those of the width the job says (`hole_mm`), else the
    narrowest that let the fastener through and those like them.

    Raises `MountError` when there is none, or when every hole is smaller than the fastener.
    """
    panel = part.panels[fixings.panel]
    least = fixings.hole_least_mm
    if fixings.hole_mm is not None and fixings.hole_mm < least - SAME_MM:
        raise MountError(
            "mount", "hole", f"a {least:g} mm fastener does not go through a hole of {fixings.hole_mm:g} mm"
        )
    fits = _letting_through(part, fixings)
    if fixings.hole_mm is not None:
        chosen = [hole for hole in fits if abs(hole.width_mm - fixings.hole_mm) <= SAME_MM]
        if fits and not chosen:
            widths = ", ".join(f"{width:g}" for width in sorted({round(hole.width_mm, 2) for hole in fits}))
            raise MountError(
                "mount",
                "hole",
                f"panel {panel.name!r} has no hole {fixings.hole_mm:g} mm wide; those that take the fixing: {widths} mm",
            )
        fits = chosen
    if not fits:
        widths_mm = [_centre_and_width(hole)[1] for face in panel.faces for hole in face.holes]
        smaller = [w for w in widths_mm if w < least]
        if smaller:
            raise MountError(
                "mount",
                "fastener",
                f"the fastener is {least:g} mm and the widest hole it might take in {panel.name!r} is {max(smaller):g} mm; "
                "make the hole larger or the fastener smaller",
            )
        raise MountError(
            "mount",
            "holes",
            f"panel {panel.name!r} has no hole that takes a {least:g} mm fastener; give it one, or name the panel that has",
        )
    narrowest = min(hole.width_mm for hole in fits)
    return tuple(hole for hole in fits if hole.width_mm <= ALIKE * narrowest)


def passed_over(part: Part, fixings: Fixings) -> tuple[Hole, ...]:
    """Holes that would let the fastener through and are not taken for its fixings, where the job does not say which are."""
    taken = fixing_holes(part, fixings)
    return () if fixings.hole_mm is not None else tuple(h for h in _letting_through(part, fixings) if h not in taken)


def _letting_through(part: Part, fixings: Fixings) -> list[Hole]:
    """Openings not much wider than the fastener that it goes through, from left to right."""
    least = fixings.hole_least_mm
    openings = [(o, *_centre_and_width(o)) for face in part.panels[fixings.panel].faces for o in face.holes]
    fits = [Hole(c, w, o) for o, c, w in openings if least - 1e-9 <= w <= WIDEST_OVER_FASTENER * least]
    return sorted(fits, key=lambda hole: hole.at_mm)


def unknown_fastener_mm(part: Part, panel: int) -> float:
    """The size taken for a fixing that no catalogue lists: what goes with a little play through the smallest opening of
    3 mm and more in its panel."""
    widths = [_centre_and_width(hole)[1] for face in part.panels[panel].faces for hole in face.holes]
    least = min((width for width in widths if width >= UNKNOWN_LEAST_MM), default=UNKNOWN_LEAST_MM)
    return max(UNKNOWN_LEAST_MM, least / PLAY)


def _centre_and_width(outline: Outline) -> tuple[Point, float]:
    """Middle of an opening and its least width."""
    found = outline.circle
    if found is not None:
        return found[0], 2 * found[1]
    box = outline.polygon().minimum_rotated_rectangle
    corners = np.asarray(box.exterior.coords)
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    centre = box.centroid
    return (centre.x, centre.y), float(sides.min())


def downward(frame: Frame, down: str) -> np.ndarray:
    """The direction of gravity in space, from which side of the fixed panel looks at the floor."""
    return {
        "bottom": -frame.away,
        "top": frame.away,
        "left": -frame.along,
        "right": frame.along,
        "face": frame.face,
        "rear": -frame.face,
    }[down]
