"""How a bend is written beside its line, the same on every drawing."""

from __future__ import annotations

import math

from steadfold.quantities.showing import Units
from steadfold.sheet.part import Bend


def bend_note(bend: Bend, units: Units = "mm") -> str:
    """Direction, angle turned through and inside radius, e.g. `UP 90° R2` (mm) or `UP 90° R0.079` (in).

    UP is towards the viewer of the drawing, which shows the root panel's face.
    """
    direction = "UP" if bend.angle_rad > 0 else "DOWN"
    radius = f"{bend.inside_radius_mm / 25.4:.3f}" if units == "in" else f"{round(bend.inside_radius_mm, 2):g}"
    return f"{direction} {round(abs(math.degrees(bend.angle_rad)), 2):g}° R{radius}"
