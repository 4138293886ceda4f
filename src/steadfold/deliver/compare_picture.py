"""Rating and sag against thickness, metal by metal, as one picture."""

from __future__ import annotations

from xml.sax.saxutils import escape

from steadfold.quantities import show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review.compare import Choice, Comparison

WIDTH, HEIGHT, LEFT, BOTTOM, TOP = 760.0, 300.0, 70.0, 44.0, 34.0
INK, PALE = "currentColor", "#9aa5ab"
DASHES = ("", "7 4", "2 4", "10 3 2 3")
MARKS = ("circle", "square", "diamond", "triangle")


def compare_svg(found: Comparison, units: Units = "mm") -> str:
    """Two panes side by side: mass it may carry, and sag under what it carries; the present choice is ringed."""
    metals = list(dict.fromkeys(c.material for c in found.choices))
    known = [c for c in found.choices if c.rating_kg is not None]
    body = []
    if known:
        carry = max((c.rating_kg or 0.0 for c in known), default=1.0)
        top = min(max(1.15 * carry, 1.2 * found.carried_kg), 6 * max(found.carried_kg, 1e-3))
        body.append(_pane(found, known, metals, 0.0, "may carry", "rating_kg", top, found.carried_kg, units))
        sag = sorted(c.sag_mm or 0.0 for c in known)
        body.append(_pane(found, known, metals, WIDTH / 2, "sags", "sag_mm", 1.15 * sag[-1] or 1.0, None, units))
    legend = "".join(
        f'<text x="{LEFT + 130 * i}" y="{HEIGHT + 18}" fill="{INK}" font-size="12">{MARKS[i % 4]}: {escape(m)}</text>'
        for i, m in enumerate(metals)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT + 30:g}" font-family="sans-serif" '
        f'role="img" aria-label="{escape(found.part)}: mass it may carry and sag against thickness">'
        f'<title>{escape(found.part)}</title>{"".join(body)}{legend}</svg>\n'
    )


def _pane(
    found: Comparison,
    known: list[Choice],
    metals: list[str],
    shift: float,
    title: str,
    field: str,
    top: float,
    line: float | None,
    units: Units,
) -> str:
    low, high = min(c.thickness_mm for c in known), max(c.thickness_mm for c in known)
    right = shift + WIDTH / 2 - 14

    def x(thickness: float) -> float:
        return shift + LEFT + (thickness - low) / max(high - low, 1e-9) * (right - shift - LEFT)

    def y(value: float) -> float:
        return HEIGHT - BOTTOM - min(value / top, 1.0) * (HEIGHT - BOTTOM - TOP)

    show = show_mass if field == "rating_kg" else show_length
    parts = [
        f'<text x="{shift + LEFT:.1f}" y="18" fill="{INK}" font-size="14" font-weight="bold">{escape(title)}</text>',
        f'<path d="M{shift + LEFT:.1f} {TOP} V{HEIGHT - BOTTOM:.1f} H{right:.1f}" fill="none" stroke="{INK}"/>',
    ]
    for share in (0.0, 0.5, 1.0):
        parts.append(
            f'<text x="{shift + LEFT - 6:.1f}" y="{y(share * top) + 4:.1f}" text-anchor="end" font-size="11" '
            f'fill="{INK}">{escape(show(share * top, units))}</text>'
        )
    for thickness in (low, high):
        parts.append(
            f'<text x="{x(thickness):.1f}" y="{HEIGHT - BOTTOM + 16:.1f}" text-anchor="middle" font-size="11" '
            f'fill="{INK}">{escape(show_length(thickness, units))}</text>'
        )
    if line is not None and line <= top:
        parts.append(
            f'<path d="M{shift + LEFT:.1f} {y(line):.1f} H{right:.1f}" stroke="{PALE}" stroke-dasharray="4 4"/>'
            f'<text x="{right:.1f}" y="{y(line) - 5:.1f}" text-anchor="end" font-size="11" fill="{INK}">'
            f"what it carries: {escape(show_mass(line, units))}</text>"
        )
    for number, metal in enumerate(metals):
        mine = [c for c in known if c.material == metal]
        points = " ".join(f"{x(c.thickness_mm):.1f},{y(getattr(c, field) or 0.0):.1f}" for c in mine)
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="{INK}" stroke-width="1.5" '
            f'stroke-dasharray="{DASHES[number % 4]}"/>'
        )
        for c in mine:
            parts.append(_mark(number, x(c.thickness_mm), y(getattr(c, field) or 0.0), c.now))
    return "".join(parts)


def _mark(number: int, x: float, y: float, now: bool) -> str:
    shape = {
        "circle": f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="{INK}"/>',
        "square": f'<rect x="{x - 3.2:.1f}" y="{y - 3.2:.1f}" width="6.4" height="6.4" fill="{INK}"/>',
        "diamond": f'<path d="M{x:.1f} {y - 4.5:.1f} l4.5 4.5 l-4.5 4.5 l-4.5 -4.5 Z" fill="{INK}"/>',
        "triangle": f'<path d="M{x:.1f} {y - 4.5:.1f} l4.5 8 h-9 Z" fill="{INK}"/>',
    }[MARKS[number % 4]]
    ring = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8" fill="none" stroke="{INK}" stroke-width="1.5"/>' if now else ""
    return shape + ring
