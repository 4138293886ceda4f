"""The flat pattern as an SVG picture at true size, with bend lines, notes and overall sizes."""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

from steadfold.deliver.bend_note import bend_note
from steadfold.quantities import show_length
from steadfold.quantities.showing import Units
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.outline import Outline
from steadfold.sheet.part import Part

METAL, EDGE, BEND, INK = "#e7e9ea", "#1f2a30", "#7a3e9d", "#1f2a30"


def svg_path(outline: Outline) -> str:
    """An outline as an SVG path, y turned down, arcs kept as arcs."""
    x, y = outline.points[0]
    steps = [f"M{_n(x)} {_n(-y)}"]
    for start, end, bulge in outline.segments():
        if not bulge:
            steps.append(f"L{_n(end[0])} {_n(-end[1])}")
            continue
        chord = math.dist(start, end)
        radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
        large = 1 if abs(bulge) > 1 else 0
        steps.append(f"A{_n(radius)} {_n(radius)} 0 {large} {0 if bulge > 0 else 1} {_n(end[0])} {_n(-end[1])}")
    return " ".join(steps) + " Z"


def flat_svg(part: Part, flat: FlatPattern, units: Units = "mm") -> str:
    """The picture: metal, contours, bend lines with their notes, width and height."""
    x0, y0, x1, y1 = flat.bounds
    text = max(2.5, 0.022 * max(x1 - x0, y1 - y0))
    room = 4 * text
    left, top = x0 - room, -y1 - room
    width, height = x1 - x0 + 2 * room, y1 - y0 + 2 * room
    body = [_metal(flat)]
    for line in flat.bend_lines:
        body.append(_bend(part, line.start, line.end, line.bend, text, units))
    body.append(_size(x0, x1, y0, y1, text, units))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="{_n(left)} {_n(top)} {_n(width)} {_n(height)}" font-family="sans-serif" role="img" '
        f'aria-label="{escape("Flat pattern of " + part.name, {chr(34): "&quot;"})}">\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


def _metal(flat: FlatPattern) -> str:
    path = " ".join(svg_path(o) for o in (flat.outer, *flat.openings))
    return (
        f'<path d="{path}" fill="{METAL}" fill-rule="evenodd" stroke="{EDGE}" stroke-width="1" '
        'vector-effect="non-scaling-stroke"/>'
    )


def _bend(
    part: Part, start: tuple[float, float], end: tuple[float, float], number: int, text: float, units: Units
) -> str:
    angle = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    if not -90 < angle <= 90:
        angle += 180
    x, y = 0.5 * (start[0] + end[0]), -0.5 * (start[1] + end[1])
    note = escape(bend_note(part.bends[number], units))
    size = min(0.9 * text, max(0.12 * math.dist(start, end), 0.3 * text))
    return (
        f'<line x1="{_n(start[0])}" y1="{_n(-start[1])}" x2="{_n(end[0])}" y2="{_n(-end[1])}" stroke="{BEND}" '
        'stroke-width="1" stroke-dasharray="6 3" vector-effect="non-scaling-stroke"/>'
        f'<text transform="translate({_n(x)} {_n(y)}) rotate({_n(-angle)})" y="{_n(-0.3 * size)}" '
        f'font-size="{_n(size)}" text-anchor="middle" fill="{BEND}">{note}</text>'
    )


def _size(x0: float, x1: float, y0: float, y1: float, text: float, units: Units) -> str:
    below, beside = -y0 + 2.2 * text, x0 - 1.6 * text
    middle_x, middle_y = 0.5 * (x0 + x1), -0.5 * (y0 + y1)
    line = f'stroke="{INK}" stroke-width="0.6" vector-effect="non-scaling-stroke"'
    return (
        f'<line x1="{_n(x0)}" y1="{_n(below - 0.7 * text)}" x2="{_n(x1)}" y2="{_n(below - 0.7 * text)}" {line}/>'
        f'<text x="{_n(middle_x)}" y="{_n(below + 0.6 * text)}" font-size="{_n(text)}" text-anchor="middle" '
        f'fill="{INK}">{escape(show_length(x1 - x0, units))}</text>'
        f'<line x1="{_n(beside)}" y1="{_n(-y1)}" x2="{_n(beside)}" y2="{_n(-y0)}" {line}/>'
        f'<text transform="translate({_n(beside - 0.4 * text)} {_n(middle_y)}) rotate(-90)" '
        f'font-size="{_n(text)}" text-anchor="middle" fill="{INK}">{escape(show_length(y1 - y0, units))}</text>'
    )


def _n(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
