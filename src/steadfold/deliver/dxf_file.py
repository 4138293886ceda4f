"""The flat pattern as a DXF file (R2010, millimetres) that a laser can cut from.

Layers: CUT holds closed contours only, each once, arcs as arcs and round holes as circles. BEND holds the
middle line of every bend. BEND_NOTE holds angle, direction and inside radius of each bend as text. Nothing
else is in the drawing.
"""

from __future__ import annotations

import io
import math
import re

import ezdxf
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts import Modelspace

from steadfold.deliver.bend_note import bend_note
from steadfold.sheet.flat import BendLine, FlatPattern
from steadfold.sheet.outline import Outline
from steadfold.sheet.part import Part

CUT, BEND, BEND_NOTE = "CUT", "BEND", "BEND_NOTE"
MILLIMETRES = 4
"""The value of $INSUNITS for millimetres (DXF reference)."""


def dxf_text(part: Part, flat: FlatPattern) -> str:
    """The text of the DXF file; the same part gives the same text."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        document = _document()
        space = document.modelspace()
        for outline in (flat.outer, *flat.openings):
            _contour(space, outline)
        for line in flat.bend_lines:
            _bend(space, part, line)
        stream = io.StringIO()
        document.write(stream)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
    return _classes_in_order(stream.getvalue())


_CLASSES = re.compile(r"(?<=  2\nCLASSES\n).*?(?=  0\nENDSEC\n)", re.DOTALL)


def _classes_in_order(text: str) -> str:
    """The DXF with its CLASSES sorted: the library writes them in the order of a set, which differs from run to run."""

    def in_order(found: re.Match[str]) -> str:
        return "".join(sorted(re.findall(r"  0\nCLASS\n(?:(?!  0\n).*\n.*\n)*", found.group())))

    ordered, count = _CLASSES.subn(in_order, text)
    if count != 1 or len(ordered) != len(text):
        raise AssertionError("the classes of the DXF are not written as they are known here")
    return ordered


def _document() -> Drawing:
    document = ezdxf.new("R2010", setup=False)
    document.header["$INSUNITS"] = MILLIMETRES
    document.header["$MEASUREMENT"] = 1
    document.header["$LUNITS"] = 2
    document.layers.add(CUT, color=7)
    document.layers.add(BEND, color=4)
    document.layers.add(BEND_NOTE, color=8)
    return document


def _contour(space: Modelspace, outline: Outline) -> None:
    circle = outline.circle
    if circle is not None:
        centre, radius = circle
        space.add_circle(centre, radius, dxfattribs={"layer": CUT})
        return
    points = [(x, y, bulge) for (x, y), bulge in zip(outline.points, outline.bulges, strict=True)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": CUT})


def _bend(space: Modelspace, part: Part, line: BendLine) -> None:
    start, end = line.start, line.end
    space.add_line(start, end, dxfattribs={"layer": BEND})
    angle = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    if not -90 < angle <= 90:
        angle += 180
    height = min(3.5, max(1.0, 0.05 * line.length_mm))
    middle = (0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1]))
    text = space.add_text(
        bend_note(part.bends[line.bend]), height=height, rotation=angle, dxfattribs={"layer": BEND_NOTE}
    )
    text.set_placement(middle, align=TextEntityAlignment.BOTTOM_CENTER)
