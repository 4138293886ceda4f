"""How a bend is written beside its line, the same on every drawing."""

from __future__ import annotations

import math

from steadfold.sheet.part import Bend


def bend_note(bend: Bend) -> str:
    """Direction, angle turned through and inside radius, e.g. `UP 90° R2`.

    UP is towards the viewer of the drawing, which shows the root panel's face.
    """
    direction = "UP" if bend.angle_rad > 0 else "DOWN"
    return (
        f"{direction} {round(abs(math.degrees(bend.angle_rad)), 2):g}° R{round(bend.inside_radius_mm, 2):g}"
    )
