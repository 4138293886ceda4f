"""A saw template as an SVG at true size: the cut line to mark along, the folds, and a bar of 50 mm to check the
print.
"""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

import numpy as np

from steadfold.deliver import svg
from steadfold.stand.template import SCALE_BAR_MM, Template

TAIL_MM = 30.0
EDGE_MM = 10.0
FOOT_MM = 34.0


def template_svg(made: Template, what: str = "") -> str:
    """One template, 1 mm on paper to the millimetre: cut along its upper line, wrap or lay it, mark along it.

    `what` says which piece it is for.
    """
    wide = max(made.girth_mm, SCALE_BAR_MM, 90.0) + 2.0 * EDGE_MM
    tall = made.rise_mm + TAIL_MM + FOOT_MM + 2.0 * EDGE_MM
    base = EDGE_MM + made.rise_mm

    def at(around: np.ndarray, along: np.ndarray) -> np.ndarray:
        return np.column_stack([EDGE_MM + around - made.around_mm[0], base - along])

    curve = at(made.around_mm, made.along_mm)
    right = float(curve[-1, 0])
    bottom = base + TAIL_MM
    outline = np.vstack([curve, [[right, bottom], [EDGE_MM, bottom]]])
    body = [
        _path(svg.polyline(outline, 3) + "Z", 0.2),
        _path(svg.polyline(curve, 3), 0.5),
        _path(f"M{svg.number(EDGE_MM)} {svg.number(base)}H{svg.number(right)}", 0.15, "2 2"),
    ]
    for fold in made.folds_mm:
        x = EDGE_MM + fold - float(made.around_mm[0])
        body.append(_path(f"M{svg.number(x)} {svg.number(EDGE_MM)}V{svg.number(bottom)}", 0.15, "4 2"))
    angle = math.degrees(made.from_square_rad)
    words = [f"{made.profile}, {angle:.1f}° from square", what, made.say]
    y = bottom + 6.0
    for line in words:
        for part in svg.wrapped(line, (wide - 2.0 * EDGE_MM) * 1.6, 3.2) if line else ():
            body.append(svg.text(EDGE_MM, y, part, 3.2))
            y += 4.2
    foot = max(y + 2.0, tall - 8.0)
    ticks = "".join(
        f"M{svg.number(EDGE_MM + k)} {svg.number(foot)}v-{3 if k % 50 == 0 else 1.5}" for k in (0, 10, 20, 30, 40, 50)
    )
    body.append(_path(f"M{svg.number(EDGE_MM)} {svg.number(foot)}h{svg.number(SCALE_BAR_MM)}{ticks}", 0.25))
    body.append(
        svg.text(EDGE_MM + SCALE_BAR_MM + 3.0, foot, "50 mm: lay a rule on it; if it is not, the page was scaled", 2.8)
    )
    label = escape(f"Template of a cut {angle:.1f} degrees from square on {made.profile}", {'"': "&quot;"})
    high = foot + EDGE_MM
    wide = max(wide, EDGE_MM + SCALE_BAR_MM + 88.0)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{svg.number(wide)}mm" height="{svg.number(high)}mm" '
        f'viewBox="0 0 {svg.number(wide)} {svg.number(high)}" role="img" aria-label="{label}" font-family="sans-serif">\n'
        f'<title>{label}</title>\n<rect width="100%" height="100%" fill="#ffffff"/>\n' + "\n".join(body) + "\n</svg>\n"
    )


def _path(data: str, width: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{data}" fill="none" stroke="{svg.INK}" stroke-width="{width}"{dashed}/>'
