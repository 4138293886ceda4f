"""Pieces of SVG that the pictures share: numbers, paths, text, and ink that turns pale on a dark page."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

import numpy as np
import shapely

INK, SOFT, FAINT = "#22303a", "#5b6b76", "#9aa8b1"
"""Ink for text and edges, for lesser words, and for lines that only help."""

ACCENT = "#5b3fa8"
"""For what a picture is about: a changed outline, a load."""

_DARK = (
    "<style>@media (prefers-color-scheme:dark){.ink{fill:#e3eaee}.soft{fill:#aebbc4}.line{stroke:#c9d4da}"
    ".thin{stroke:#8493a0}.accent{fill:#c9baf7}.mark{stroke:#8f6ef0}.marked{fill:#8f6ef0}.halo{stroke:#1b242b}}"
    "text{font-family:system-ui,'DejaVu Sans','Liberation Sans',Arial,sans-serif}</style>"
)

WIDTH_OF_LETTER = 0.54
"""Mean width of a letter over the font's size."""


def number(value: float, places: int = 2) -> str:
    """A number without needless zeros."""
    text = f"{value:.{places}f}".rstrip("0").rstrip(".") if places else f"{value:.0f}"
    return "0" if text in ("-0", "") else text


def document(width: float, height: float, label: str, body: Iterable[str]) -> str:
    """A whole SVG file; `label` says to those who cannot see it what it shows."""
    words = escape(label, {'"': "&quot;"})
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}" height="{number(height)}" '
        f'viewBox="0 0 {number(width)} {number(height)}" role="img" aria-label="{words}" '
        f'font-family="sans-serif">\n<title>{words}</title>\n{_DARK}\n' + "\n".join(body) + "\n</svg>\n"
    )


def polyline(points: np.ndarray, places: int = 2) -> str:
    """Path data of an open line through points (n, 2), in pixels."""
    (x, y), *rest = points.tolist()
    return f"M{number(x, places)} {number(y, places)}" + "".join(
        f"L{number(a, places)} {number(b, places)}" for a, b in rest
    )


def area_path(area: shapely.Geometry, places: int = 2) -> str:
    """Path data of polygons with holes, in pixels, to be filled even-odd."""
    steps = []
    for polygon in shapely.get_parts(area):
        if polygon.geom_type == "Polygon" and not polygon.is_empty:
            for ring in (polygon.exterior, *polygon.interiors):
                steps.append(polyline(np.asarray(ring.coords)[:-1], places) + "Z")
    return "".join(steps)


def text(
    x: float,
    y: float,
    words: str,
    size: float,
    anchor: str = "start",
    kind: str = "ink",
    weight: str = "",
    mono: bool = False,
    halo: bool = False,
) -> str:
    """A line of text with its baseline at y; `kind` is ink, soft or accent; a halo keeps it legible on a drawing."""
    fill = {"ink": INK, "soft": SOFT, "accent": ACCENT}[kind]
    more = f' font-weight="{weight}"' if weight else ""
    if mono:
        more += " style=\"font-family:ui-monospace,'DejaVu Sans Mono','Liberation Mono',monospace\""
    if halo:
        more += ' stroke="#ffffff" stroke-width="3.2" stroke-linejoin="round" paint-order="stroke"'
        kind += " halo"
    if anchor != "start":
        more += f' text-anchor="{anchor}"'
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" fill="{fill}" class="{kind}"{more}>'
        f"{escape(words)}</text>"
    )


def wrapped(words: str, width: float, size: float) -> list[str]:
    """Words broken into lines that fit a width in pixels, by the mean width of letters."""
    return textwrap.wrap(words, max(8, int(width / (WIDTH_OF_LETTER * size))))


def paragraph(x: float, y: float, lines: Sequence[str], size: float, kind: str = "soft") -> list[str]:
    """Lines of text under each other."""
    return [text(x, y + i * 1.35 * size, line, size, kind=kind) for i, line in enumerate(lines)]
