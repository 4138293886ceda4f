"""A layout of sheets: as pictures, and as DXF files that a laser can cut from, a file a sheet."""

from __future__ import annotations

import io
from xml.sax.saxutils import escape

import ezdxf
import shapely

from steadfold.deliver.dxf_file import CUT, MILLIMETRES
from steadfold.deliver.flat_picture import svg_path
from steadfold.deliver.svg import SOFT, document, number, text, wrapped
from steadfold.money.nesting import Nest, NestedSheet
from steadfold.quantities import show_length
from steadfold.quantities.showing import Units
from steadfold.sheet.outline import Outline

SHEET, LABEL = "SHEET", "LABEL"
"""Layers beside CUT: the outline of the sheet, and names of parts; neither is cut."""
WIDTH = 900.0
PLATE, METAL, HELD = "#f1f2f2", "#cfd8dc", "#b3a6d9"
EDGE = "#22303a"


def nest_svg(nest: Nest, sheet_number: int, units: Units = "mm") -> str:
    """One sheet: parts in true shape with their numbers, those in openings of others shaded, a line where the remnant begins."""
    sheet = nest.sheets[sheet_number]
    scale = (WIDTH - 40) / sheet.stock.length_mm
    height = sheet.stock.width_mm * scale
    used = nest.used_length_mm(sheet_number) * scale
    density = _density(nest, sheet_number)
    size = f"{show_length(sheet.stock.length_mm, units, 0)} × {show_length(sheet.stock.width_mm, units, 0)}"
    parts = f"{len(sheet.placements)} parts, {density:.1f} % used"
    title = f"Sheet {sheet_number + 1} of {len(nest.sheets)}, {size}: {parts}"
    body = [
        text(20, 24, title, 15, weight="bold"),
        f'<rect x="20" y="40" width="{number(sheet.stock.length_mm * scale)}" height="{number(height)}" '
        f'fill="{PLATE}" stroke="{EDGE}"/>',
        f'<g transform="translate(20 {number(40 + height)}) scale({scale:.6f})" stroke="{EDGE}" stroke-width="1">',
    ]
    for placement in sheet.placements:
        face = nest.face(placement)
        path = " ".join(svg_path(outline) for outline in (face.outer, *face.holes))
        fill = METAL if placement.inside is None else HELD
        name = nest.pieces[placement.piece].name
        body.append(
            f'<path d="{path}" fill="{fill}" fill-rule="evenodd" vector-effect="non-scaling-stroke">'
            f"<title>{escape(name)}</title></path>"
        )
    body.append("</g>")
    for placement in sheet.placements:
        face = nest.face(placement)
        inside = shapely.Polygon(face.outer.vertices(0.5), [h.vertices(0.5) for h in face.holes]).representative_point()
        x, y = 20 + inside.x * scale, 44 + height - inside.y * scale
        body.append(text(x, y, str(placement.piece + 1), 11, "middle", halo=True))
    if used < sheet.stock.length_mm * scale - 1:
        body.append(
            f'<path d="M{number(20 + used)} 40 V{number(40 + height)}" stroke="{SOFT}" stroke-dasharray="6 4"/>'
        )
        left = sheet.stock.length_mm - nest.used_length_mm(sheet_number)
        words = f"remnant {show_length(left, units, 0)}"
        # The plate is pale in the dark too, so what stands on it keeps its colour.
        body.append(f'<text x="{number(26 + used)}" y="56" font-size="11" fill="{SOFT}">{escape(words)}</text>')
    names = ", ".join(
        f"{index + 1} {piece.name}" for index, piece in enumerate(nest.pieces) if _count(sheet, index)
    )
    lines = wrapped(f"{names}. The grain runs along the sheet.", WIDTH - 40, 12)
    for row, line in enumerate(lines):
        body.append(text(20, 62 + height + 17 * row, line, 12, kind="soft"))
    return document(WIDTH, 70 + height + 17 * len(lines), title, body)


def nest_dxf(nest: Nest, sheet_number: int) -> str:
    """One sheet as DXF: CUT holds every contour once, arcs as arcs and circles as circles; inner contours come first,
    and what lies in an opening before that opening, so that nothing falls before it is cut."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        drawing = ezdxf.new("R2010", setup=False)
        drawing.header["$INSUNITS"] = MILLIMETRES
        drawing.header["$MEASUREMENT"] = 1
        for layer, colour in ((CUT, 7), (SHEET, 8), (LABEL, 8)):
            drawing.layers.add(layer, color=colour)
        space = drawing.modelspace()
        sheet = nest.sheets[sheet_number]
        length, width = sheet.stock.length_mm, sheet.stock.width_mm
        frame = [(0, 0), (length, 0), (length, width), (0, width)]
        space.add_lwpolyline(frame, close=True, dxfattribs={"layer": SHEET})
        for placement in sorted(sheet.placements, key=lambda p: -_depth(sheet, p.inside)):
            face = nest.face(placement)
            for outline in (*face.holes, face.outer):
                _contour(space, outline)
            name = nest.pieces[placement.piece].name
            label = space.add_text(name, height=6, dxfattribs={"layer": LABEL})
            label.set_placement(face.outer.bounds[:2])
        stream = io.StringIO()
        drawing.write(stream)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
    return stream.getvalue()


def _contour(space: ezdxf.layouts.Modelspace, outline: Outline) -> None:
    circle = outline.circle
    if circle is not None:
        space.add_circle(circle[0], circle[1], dxfattribs={"layer": CUT})
        return
    points = [(x, y, bulge) for (x, y), bulge in zip(outline.points, outline.bulges, strict=True)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": CUT})


def _depth(sheet: NestedSheet, inside: int | None) -> int:
    return 0 if inside is None else 1 + _depth(sheet, sheet.placements[inside].inside)


def _count(sheet: NestedSheet, piece: int) -> int:
    return sum(placement.piece == piece for placement in sheet.placements)


def _density(nest: Nest, sheet_number: int) -> float:
    sheet = nest.sheets[sheet_number]
    metal = sum(nest.pieces[p.piece].area_mm2 for p in sheet.placements)
    return 100 * metal / (nest.used_length_mm(sheet_number) * sheet.stock.width_mm)
