"""The legend of a picture coloured by share of the limit."""

from __future__ import annotations

import numpy as np

from steadfold.deliver import svg
from steadfold.deliver.colour_scale import STEPS, hexed, scale_colours

LEGEND_PX = 70.0
BAR, BEYOND, THICK = 300.0, 70.0, 14.0

STRIPE = "#fff1df"
"""Stripes over the darkest colour where the limit is passed, so that it is seen without telling colours apart."""

TICKS = ((0.0, "0"), (0.25, "0.25"), (0.5, "0.5"), (0.75, "0.75"), (1.0, "1"))


def share_legend(left: float, top: float, greatest: float, bar: float = BAR, beyond: float = BEYOND) -> list[str]:
    """A bar from 0 to 1 with numbers, striped beyond, and a pointer at the greatest share on the part."""
    colours = scale_colours((np.arange(STEPS) + 0.5) / STEPS)
    step = bar / STEPS
    y = top + 22
    drawn = [svg.text(left, top + 8, "share of its limit", 12.5, weight="600")]
    for i, colour in enumerate(colours):
        drawn.append(
            f'<rect x="{svg.number(left + i * step)}" y="{svg.number(y)}" width="{svg.number(step + 0.4)}" '
            f'height="{svg.number(THICK)}" fill="{hexed(colour)}"/>'
        )
    over = left + bar
    drawn.append(
        f'<rect x="{svg.number(over)}" y="{svg.number(y)}" width="{svg.number(beyond)}" height="{svg.number(THICK)}" '
        f'fill="{hexed(colours[-1])}"/>'
    )
    stripes = []
    for x in np.arange(over + 3, over + beyond - 4, 7.0):
        stripes.append(svg.polyline(np.array([[x, y + THICK - 1.5], [min(x + THICK - 3, over + beyond - 1), y + 1.5]])))
    drawn.append(f'<path d="{"".join(stripes)}" fill="none" stroke="{STRIPE}" stroke-width="2.2"/>')
    drawn.append(
        f'<path d="{svg.polyline(np.array([[over, y - 3], [over, y + THICK + 3]]))}" stroke="{svg.INK}" class="line" '
        'stroke-width="1.4"/>'
    )
    for share, label in TICKS:
        drawn.append(svg.text(left + bar * share, y + THICK + 15, label, 11.5, "middle" if share else "start", "soft"))
    drawn.append(svg.text(over + beyond, y + THICK + 15, "beyond", 11.5, "end", "soft"))
    at = left + bar * greatest if greatest <= 1 else over + min(greatest - 1, 1.0) * beyond
    tip = np.array([[at, y - 1], [at - 4.5, y - 9], [at + 4.5, y - 9]])
    drawn.append(f'<path d="{svg.polyline(tip)}Z" fill="{svg.INK}" class="ink"/>')
    drawn.append(svg.text(over + beyond + 14, y + 11.5, f"greatest {greatest:.2f}", 12.5, weight="600"))
    return drawn
