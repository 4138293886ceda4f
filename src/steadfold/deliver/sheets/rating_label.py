"""The rating label that goes on the part: mass, item, what it is fixed to, revision, caution; as SVG and PDF."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from xml.sax.saxutils import escape

from steadfold.deliver.sheets.fixing import fixing_words
from steadfold.deliver.sheets.head import Head, Style
from steadfold.deliver.sheets.rated import label_rating, rating_down
from steadfold.deliver.sheets.typeset import pdf
from steadfold.quantities import show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview

WIDE_MM, HIGH_MM = 90.0, 55.0

LABEL_CAUTION = "Evenly loaded, at rest. Do not climb, lean or hang on it. Check fixings yearly."


@dataclass(frozen=True)
class Label:
    """What the label says, line by line."""

    name: str
    rating: str
    items: str
    wall: str
    caution: str
    foot: str


def label_of(head: Head, part: PartReview, units: Units) -> Label:
    """The words of a part's label; a part without a proven pass says so instead of a mass."""
    mount = part.ordered.mount
    printed = label_rating(part)
    rating = f"NOT RATED: {printed.lacks}" if printed.kg is None else rating_down(printed.kg, units)
    items = ", ".join(f"{load.count} × {load.item}" for load in part.ordered.carries) or "no load named"
    carried = sum(load.total_kg.high for load in part.ordered.carries)
    items = f"for {items}" + (f", {show_mass(carried, units)} in all" if carried else "")
    if head.stamp:
        items = f"{head.stamp.upper()} {items}"
    wall = "only as fixed in the job: no mount named"
    if mount is not None:
        to = "a wall nobody has tested" if mount.to == "unknown" else mount.to
        wall = f"only on {to}, {fixing_words(mount, units)} in every hole"
        others = [f"{other.called or other.to}, {fixing_words(other, units)}" for other in mount.walls]
        wall += "".join(f"; or {words}" for words in others)
    foot = f"{head.job} · rev {head.revision} · {head.fingerprint[:12]}"
    return Label(part.name, rating, items, wall, LABEL_CAUTION, foot)


def label_svg(label: Label) -> bytes:
    """The label as SVG of true size, for an engraver or a label printer."""
    lines = [_text(label.name, 4.0, 8.0, 4.2, "600")]
    lines.append(_text(label.rating, 4.0, 22.0, 11.0 if len(label.rating) < 11 else 6.0, "700"))
    y = 28.0
    for words, size in ((label.items, 3.0), (label.wall, 3.0), (label.caution, 2.7)):
        for row in textwrap.wrap(words, int((WIDE_MM - 8) / (0.54 * size))):
            lines.append(_text(row, 4.0, y, size))
            y += 1.25 * size
        y += 0.8
    lines.append(_text(label.foot, 4.0, HIGH_MM - 2.6, 2.2))
    words = escape(f"Rating label of {label.name}: {label.rating}")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE_MM:g}mm" height="{HIGH_MM:g}mm" '
        f'viewBox="0 0 {WIDE_MM:g} {HIGH_MM:g}" font-family="sans-serif" role="img" aria-label={_quoted(words)}>\n'
        f"<title>{words}</title>\n"
        f'<rect x="0.5" y="0.5" width="{WIDE_MM - 1:g}" height="{HIGH_MM - 1:g}" rx="2.5" fill="#ffffff" '
        'stroke="#000000" stroke-width="0.7"/>\n' + "\n".join(lines) + "\n</svg>\n"
    ).encode()


def _quoted(words: str) -> str:
    return '"' + words.replace('"', "&quot;") + '"'


def _text(words: str, x: float, y: float, size: float, weight: str = "400") -> str:
    return (
        f'<text x="{x:g}" y="{y:.2f}" font-size="{size:g}" font-weight="{weight}" fill="#000000">{escape(words)}</text>'
    )


def label_pdf(head: Head, label: Label, style: Style) -> bytes:
    """The label as PDF of its own size."""
    return pdf(
        "rating_label",
        {
            "head": head.plain(style, "Rating label"),
            "size": [WIDE_MM, HIGH_MM],
            "label": {
                "name": label.name,
                "rating": label.rating,
                "items": label.items,
                "wall": label.wall,
                "caution": label.caution,
                "foot": label.foot,
            },
        },
    )
