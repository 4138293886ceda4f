"""Kinds of lines on a drawing, by ISO 128-2: number, width and dashes.

Two widths in the ratio 2 : 1 (line group 0.5: 0.5 and 0.25 mm). Dashes in multiples of the width d by ISO 128-20:
dash 12 d, long dash 24 d, gap 3 d, dot 0.5 d. Numbers and uses are recalled from the standard's tables.
"""

from __future__ import annotations

from dataclasses import dataclass

WIDE_MM, NARROW_MM = 0.5, 0.25
"""Line group 0.5 (ISO 128-2)."""

INK, GREY = "#000000", "#8a8a8a"


@dataclass(frozen=True)
class LineType:
    """A line: its number in ISO 128-2 (empty for one of ours), width, and dashes and gaps in mm.

    `blunt` ends a continuous line exactly at its ends; otherwise it is rounded by half its width beyond them.
    """

    number: str
    width_mm: float
    dashes_mm: tuple[float, ...] = ()
    colour: str = INK
    blunt: bool = False

    @property
    def dash_array(self) -> str:
        """The dashes as SVG writes them; empty for a continuous line."""
        return " ".join(f"{dash:g}" for dash in self.dashes_mm)


def _dashed(number: str, width_mm: float, *multiples: float) -> LineType:
    return LineType(number, width_mm, tuple(width_mm * m for m in multiples))


VISIBLE = LineType("01.2", WIDE_MM)
"""Visible edges and outlines."""

NARROW = LineType("01.1", NARROW_MM)
"""Dimension, extension and leader lines, imaginary lines of intersection (tangent lines of bends)."""

BEND = LineType("01.1", NARROW_MM)
"""Bending lines on blanks: a continuous narrow line (01.1, recalled)."""

HIDDEN = _dashed("02.1", NARROW_MM, 12, 3)
"""Hidden edges and outlines."""

CENTRE = _dashed("04.1", NARROW_MM, 24, 3, 0.5, 3)
"""Centre lines, lines of symmetry."""

NEIGHBOUR = _dashed("05.1", NARROW_MM, 24, 3, 0.5, 3, 0.5, 3)
"""Outlines of adjacent parts, such as the stud or rail behind."""

THIN = LineType("", 0.13)
CUT = LineType("", 0.18, (2.0, 1.0))
"""Where a printed sheet is cut or glued."""
