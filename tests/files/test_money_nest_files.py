"""Files of a layout: the DXF holds every contour of every part once, closed, where the stored layout says it lies."""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as Xml

import ezdxf
import pytest
import shapely

from steadfold.deliver.nest_picture import CUT, SHEET, nest_dxf, nest_svg
from steadfold.money.nesting import Nest, NestedSheet, Piece, Placement, Spacing, StockSheet
from steadfold.money.nesting.check import nest_faults
from steadfold.sheet.outline import Face, circle, obround, rectangle

RING = Piece("ring", Face(circle(300.0, (0.0, 0.0)), (circle(240.0, (0.0, 0.0)).clockwise(),)), 1)
TAG = Piece("tag & slot", Face(rectangle(120.0, 50.0), (obround(40.0, 9.0, (60.0, 25.0)).clockwise(),)), 2)


@pytest.fixture
def layout() -> Nest:
    placements = (
        Placement(0, 0, (180.0, 180.0)),
        Placement(1, 90, (205.0, 120.0), inside=0),
        Placement(1, 180, (520.0, 100.0)),
    )
    found = Nest((RING, TAG), Spacing(), (NestedSheet(StockSheet(1000.0, 500.0), placements),), (), True)
    assert nest_faults(found) == ()
    return found


def test_the_dxf_holds_every_contour_once_closed_and_in_millimetres(layout: Nest) -> None:
    drawing = ezdxf.read(io.StringIO(nest_dxf(layout, 0)))
    assert drawing.header["$INSUNITS"] == 4
    cut = [e for e in drawing.modelspace() if e.dxf.layer == CUT]
    circles = [e for e in cut if e.dxftype() == "CIRCLE"]
    lines = [e for e in cut if e.dxftype() == "LWPOLYLINE"]
    assert sorted(round(c.dxf.radius, 6) for c in circles) == [120.0, 150.0]
    assert len(lines) == 4 and all(line.closed for line in lines)
    assert sum(any(point[4] for point in line) for line in lines) == 2  # slots keep their arcs
    assert not drawing.audit().errors


def test_the_contours_lie_where_the_layout_says(layout: Nest) -> None:
    drawing = ezdxf.read(io.StringIO(nest_dxf(layout, 0)))
    lines = [e for e in drawing.modelspace() if e.dxf.layer == CUT and e.dxftype() == "LWPOLYLINE"]
    plain = [shapely.Polygon([(p[0], p[1]) for p in line]) for line in lines if not any(p[4] for p in line)]
    # Turned a quarter about its corner at (205, 120): x from 155 to 205, y from 120 to 240; half a turn the other.
    assert sorted(p.bounds for p in plain) == [(155.0, 120.0, 205.0, 240.0), (400.0, 50.0, 520.0, 100.0)]


def test_what_lies_in_an_opening_is_cut_before_the_part_around_it(layout: Nest) -> None:
    drawing = ezdxf.read(io.StringIO(nest_dxf(layout, 0)))
    cut = [e for e in drawing.modelspace() if e.dxf.layer == CUT]
    first_circle = next(i for i, e in enumerate(cut) if e.dxftype() == "CIRCLE")
    assert first_circle >= 2
    assert [e for e in drawing.modelspace() if e.dxf.layer == SHEET]


def test_the_same_layout_makes_the_same_file(layout: Nest) -> None:
    assert nest_dxf(layout, 0) == nest_dxf(layout, 0)


def test_the_picture_is_whole_names_its_parts_and_says_how_much_is_used(layout: Nest) -> None:
    text = nest_svg(layout, 0)
    root = Xml.fromstring(text)
    titles = [e.text for e in root.iter("{http://www.w3.org/2000/svg}title")]
    assert titles.count("tag & slot") == 2
    metal = math.pi * (150**2 - 120**2) + 2 * (120 * 50 - (31 * 9 + math.pi * 4.5**2))
    # Used up to the far end of the ring or tag and a margin of 10.2, over the whole width.
    used = (520.0 + 10.2) * 500.0
    assert f"{100 * metal / used:.1f} % used" in text
