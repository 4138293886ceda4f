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

UNKNOWN_LEAST_MM = 3.0
PLAY = 1.1
"""Hole over fixing, usually (ISO 273 medium: 1.1 to 1.2)."""


@dataclass(frozen=True)
class Hole:
    """An opening that takes a fixing: where the fixing sits and how wide the opening is across."""

    at_mm: Point
    width_mm: float
    outline: Outline


def fixing_holes(part: Part, fixings: Fixings) -> tuple[Hole, ...]:
    """The round holes and slots of the panel that let the fastener through.

    Raises `MountError` when there is none, or when every hole is smaller than the fastener.
    """
    panel = part.panels[fixings.panel]
    openings = [(o, *_centre_and_width(o)) for face in panel.faces for o in face.holes]
    least = fixings.hole_least_mm
    fits = [(o, c, w) for o, c, w in openings if least - 1e-9 <= w <= WIDEST_OVER_FASTENER * least]
    if not fits:
        smaller = [w for _, _, w in openings if w < least]
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
    return tuple(Hole(c, w, o) for o, c, w in sorted(fits, key=lambda f: f[1]))


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
