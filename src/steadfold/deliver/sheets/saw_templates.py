"""Templates of the end cuts of a stand at full size: to wrap round the profile or lay on it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from steadfold.catalogue import NotInCatalogue
from steadfold.deliver.drawing.lines import CUT, NARROW, VISIBLE
from steadfold.deliver.drawing.marks import Mark, Words, line, moved, picture
from steadfold.deliver.drawing.tiles import INSET_MM, MOST_SHEETS, tile_pages, tiled
from steadfold.deliver.sheets.head import PAPER_MM, Head, Style
from steadfold.deliver.sheets.typeset import pdf
from steadfold.stand.answers import StandReport
from steadfold.stand.cut_list import cut_list
from steadfold.stand.template import Template, template

TAIL_MM = 25.0
"""Paper beyond the short point, to hold it by."""

BETWEEN_MM = 16.0
LABEL_MM = 7.0


def saw_templates(head: Head, report: StandReport, style: Style) -> bytes | None:
    """One template for each end cut that is not square, as PDF; None where every end is square."""
    wanted: dict[tuple[str, float], list[str]] = {}
    for piece in cut_list(report.stand).pieces:
        for end in piece.ends:
            angle = round(math.degrees(end.setting.from_square_rad), 2)
            if angle > 0:
                names = wanted.setdefault((piece.profile, angle), [])
                if piece.name not in names:
                    names.append(piece.name)
    drawn: list[tuple[list[Mark], float, float]] = []
    for (profile, angle), names in wanted.items():
        try:
            made = template(profile, math.radians(angle))
        except (ValueError, NotInCatalogue):
            continue
        drawn.append(_template_marks(made, ", ".join(names)))
    if not drawn:
        return None
    # Side by side or one above the other, whichever takes fewer sheets.
    ways = []
    for laid, width, height in (_beside(drawn), _above(drawn)):
        ways.append((laid, tiled(width, height, PAPER_MM[style.paper])))
    marks, tiling = min(ways, key=lambda way: len(way[1].tiles))
    if len(tiling.tiles) > MOST_SHEETS:
        return None
    art = picture(moved(marks, INSET_MM, INSET_MM), tiling.width_mm, tiling.height_mm)
    say = "Cut along the upper line, wrap it round with the folds on the corners, mark along it. 0 is the short point."
    data = {"head": head.plain(style, "Templates of the saw cuts"), "say": say, "tiles": tile_pages(tiling, art, style.units)}
    return pdf("tiles", data)


_Drawn = Sequence[tuple[list[Mark], float, float]]


def _beside(drawn: _Drawn) -> tuple[list[Mark], float, float]:
    """Templates side by side, and the size they take."""
    marks: list[Mark] = []
    across = 0.0
    for each, wide, _ in drawn:
        marks += moved(each, across, 0.0)
        across += wide + BETWEEN_MM
    return marks, across - BETWEEN_MM, max(high for _, _, high in drawn)


def _above(drawn: _Drawn) -> tuple[list[Mark], float, float]:
    """Templates one above the other, and the size they take."""
    marks: list[Mark] = []
    up = 0.0
    for each, _, high in drawn:
        marks += moved(each, 0.0, up)
        up += high + BETWEEN_MM
    return marks, max(wide for _, wide, _ in drawn), up - BETWEEN_MM


def _template_marks(made: Template, names: str) -> tuple[list[Mark], float, float]:
    """One template with its lower left corner at 0, 0, and its size."""
    base = LABEL_MM + TAIL_MM
    curve = [(float(s), base + float(x)) for s, x in zip(made.around_mm, made.along_mm, strict=True)]
    marks: list[Mark] = [line(curve, VISIBLE)]
    left, right = curve[0][0], curve[-1][0]
    marks.append(line([curve[0], (left, LABEL_MM), (right, LABEL_MM), curve[-1]], NARROW))
    marks.append(line([(left, base), (right, base)], CUT))
    for fold in made.folds_mm:
        marks.append(line([(fold, LABEL_MM), (fold, base + made.rise_mm)], CUT))
    angle = math.degrees(made.from_square_rad)
    room = max(made.girth_mm, 40.0)
    for row, text in enumerate((f"{angle:.1f}° from square", made.profile, names)):
        size = min(2.2, room / (0.83 * max(len(text), 1)))
        marks.append(Words((left + 1.0, LABEL_MM + TAIL_MM - 5.0 - 4.2 * row), text, size, "start"))
    return marks, max(made.girth_mm, 40.0), base + made.rise_mm
