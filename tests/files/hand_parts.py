"""Parts written down by hand, panel by panel and bend by bend, so that their tests rest on no other step."""

from __future__ import annotations

import math
from collections.abc import Sequence

from steadfold.sheet.allowance import bend_allowance, setback
from steadfold.sheet.outline import Face, Outline, rectangle
from steadfold.sheet.part import Bend, Panel, Part

WIDTH, THICKNESS, RADIUS, K = 100.0, 2.0, 2.0, 0.42


def angle_part(
    angle_rad: float = math.pi / 2,
    back: float = 50.0,
    flange: float = 30.0,
    radius: float = RADIUS,
    offset: float = 0.0,
    width: float = WIDTH,
    back_holes: Sequence[Outline] = (),
    strip_holes: Sequence[Outline] = (),
    name: str = "angle",
) -> Part:
    """A back 100 mm wide with one flange at its bottom, both by outside dimensions, sheet 2 mm thick.

    The strip's holes are in its own frame: x along the bend from the flange's left end, y away from the back.
    """
    away = setback(angle_rad, radius, THICKNESS)
    allowance = bend_allowance(angle_rad, radius, THICKNESS, K)
    holes = tuple(hole.clockwise() for hole in back_holes)
    panels = (
        Panel("back", (Face(rectangle(WIDTH, back - away, (0.0, away)), holes),), (WIDTH, back)),
        Panel("flange", (Face(rectangle(width, flange - away, (0.0, away))),), (width, flange)),
    )
    strip = Face(rectangle(width, allowance), tuple(hole.clockwise() for hole in strip_holes))
    bend = Bend(
        0,
        1,
        angle_rad,
        radius,
        K,
        width,
        (offset, away),
        (1.0, 0.0),
        (0.0, -1.0),
        (0.0, away),
        (1.0, 0.0),
        (0.0, 1.0),
        (strip,),
        THICKNESS,
    )
    return Part(name, THICKNESS, panels, (bend,))


def comb_part(tines: int = 3, gap: float = 0.0) -> Part:
    """A back with tines side by side on its upper edge, 20 mm apart, bent up in turn by 90° and 60°."""
    allowances = {a: bend_allowance(a, RADIUS, THICKNESS, K) for a in (math.pi / 2, math.pi / 3)}
    width = 20.0 - gap
    panels = [Panel("back", (Face(rectangle(20.0 * tines, 40.0)),))]
    bends = []
    for i in range(tines):
        angle = (math.pi / 2, math.pi / 3)[i % 2]
        panels.append(Panel(f"tine {i}", (Face(rectangle(width, 50.0)),)))
        strip = Face(rectangle(width, allowances[angle]))
        across, out = (1.0, 0.0), (0.0, 1.0)
        bends.append(
            Bend(
                0, i + 1, angle, RADIUS, K, width, (20.0 * i, 40.0), across, out, (0.0, 0.0), across, out,
                (strip,), THICKNESS,
            )
        )  # fmt: skip
    return Part("comb", THICKNESS, tuple(panels), tuple(bends))
