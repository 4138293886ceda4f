"""The drawing of a part: one sheet folded, one flat, with bend table, openings, tolerances, finish and title block."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from steadfold.catalogue import finishes
from steadfold.deliver.drawing.flat_drawing import FlatDrawing, flat_drawing, scale_words
from steadfold.deliver.drawing.folded_drawing import folded_drawing
from steadfold.deliver.drawing.marks import picture
from steadfold.deliver.drawing.openings import Group, show
from steadfold.deliver.sheets.head import DRAWING_MM, Head, Style
from steadfold.deliver.sheets.typeset import pdf
from steadfold.fabricate.shop import Shop
from steadfold.quantities import in_units, show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview
from steadfold.sheet.flat import BendLine, FlatPattern
from steadfold.sheet.part import Part
from steadfold.sheet.seams import told as seam_told

LEFT, RIGHT, TOP, BOTTOM = 20.0, 10.0, 10.0, 10.0
BLOCK_MM = 40.0
ROW_MM, LINE_MM, HEAD_MM, LETTER_MM = 4.05, 2.6, 14.0, 1.41
"""Of the tables: a row of one line, each further line, title and heads, the advance of a letter."""

STAMP_MM = 14.0

BEND_COLUMNS = (8.0, 37.0, 11.0, 14.0, 15.0, 13.0, 12.0, 15.0, 15.0, 14.0, 25.0, 22.0)
OPENING_COLUMNS = (10.0, 8.0, 34.0, 28.0, 31.0, 31.0, 30.0)
"""Widths of the tables' columns."""


def part_drawing(head: Head, part: PartReview, shop: Shop, style: Style) -> bytes:
    """The drawing as PDF: A3 (ANSI B for those who print on Letter), ISO 128 lines, ISO 129 dimensions.

    Raises `SolidError` when the part is not one piece.
    """
    assert part.part is not None and part.flat is not None
    units = style.units
    wide, high = DRAWING_MM[style.paper]
    room_width, room_height = wide - LEFT - RIGHT, high - TOP - BOTTOM - BLOCK_MM
    stamp = STAMP_MM if head.stamp else 0.0
    notes = notes_of(part, shop, units)
    folded = folded_drawing(part.part, room_width - 10.0, room_height - 10.0 - stamp, style.projection, units)
    sheets: list[dict[str, Any]] = [
        {
            "scale": scale_words(folded.scale),
            "drawing": picture(folded.marks, folded.width_mm, folded.height_mm),
            "x": 0.5 * (room_width - folded.width_mm),
            "y": 0.5 * (room_height + stamp - folded.height_mm),
            "notes": [*([NO_ROOM] if folded.left_out else []), *_root_note(part.part, units), *notes],
            "tables": [],
        }
    ]
    sheets += _flat_sheets(part.part, part.flat, room_width, room_height, stamp, units, notes)
    overall = " × ".join(show(v, units) for v in part.folded_size_mm or ())
    data = {
        "head": head.plain(style, "Drawing"),
        "block": {
            "material": _material(part),
            "thickness": _thickness(part, units),
            "mass": show_mass(part.mass_kg or 0.0, units),
            "overall": f"{overall} {units}",
            "finish": part.ordered.finish,
            "first": style.projection == "first",
        },
        "sheets": sheets,
    }
    return pdf("drawing", data)


def _material(part: PartReview) -> str:
    title = part.material.title
    return title if part.material.id.lower() in title.lower() else f"{part.material.id} {title}"


def _thickness(part: PartReview, units: Units) -> str:
    other: Units = "in" if units == "mm" else "mm"
    t = part.thickness_mm or 0.0
    said = f" ({part.ordered.thickness_text})" if part.ordered.gauge is not None else ""
    return f"{show_length(t, units)} / {show_length(t, other)}{said}"


def _flat_sheets(
    part: Part, flat: FlatPattern, width: float, height: float, stamp: float, units: Units, notes: list[str]
) -> list[dict[str, Any]]:
    """The flat with its tables below it, or on a sheet of their own where they are long."""
    from steadfold.deliver.drawing.openings import groups_of, openings_of

    groups = groups_of(openings_of(part, flat, units))
    tables = [_bend_table(part, flat, units), _opening_table(flat, groups, units)]
    tables = [t for t in tables if t["rows"]]
    band = max((_table_height(t) for t in tables), default=0.0)
    apart = band > 0.48 * height
    room = height - 8.0 - stamp - (0.0 if apart else band)
    drawn = flat_drawing(part, flat, width - 8.0, room, units)
    more = [_too_many(drawn)] if drawn.left_out else []
    found = [
        {
            "scale": scale_words(drawn.scale),
            "drawing": picture(drawn.marks, drawn.width_mm, drawn.height_mm),
            "x": 0.5 * (width - drawn.width_mm),
            "y": stamp + 3.0 + 0.5 * max(0.0, room - drawn.height_mm),
            "notes": [*flat_notes(units), *more, *notes],
            "tables": [] if apart else tables,
        }
    ]
    pages = [_split(table, height - stamp - 8.0) for table in tables] if apart else []
    for number in range(max((len(each) for each in pages), default=0)):
        here = [each[number] for each in pages if number < len(each)]
        found.append({"scale": "none", "drawing": None, "x": 0, "y": 0, "notes": notes, "tables": here})
    return found


def _row_height(table: dict[str, Any], row: Sequence[str]) -> float:
    """Height of a row on paper, by the lines its longest cell takes."""
    lines = (
        math.ceil(LETTER_MM * len(cell) / (width - 2.2)) for cell, width in zip(row, table["columns"], strict=True)
    )
    return ROW_MM + LINE_MM * (max(1, *lines) - 1)


def _table_height(table: dict[str, Any]) -> float:
    """Height of a table on paper with its title and heads."""
    return HEAD_MM + sum(_row_height(table, row) for row in table["rows"])


def _split(table: dict[str, Any], room_mm: float) -> list[dict[str, Any]]:
    """A table as several that each fit a room."""
    pages: list[list[Any]] = [[]]
    used = HEAD_MM
    for row in table["rows"]:
        high = _row_height(table, row)
        if used + high > room_mm and pages[-1]:
            pages.append([])
            used = HEAD_MM
        pages[-1].append(row)
        used += high
    return [{**table, "rows": rows} for rows in pages]


NO_ROOM = "Lengths and angles that found no room here stand in the bend table."


def _root_note(part: Part, units: Units) -> list[str]:
    """The outside size of the root panel, which the bend table does not give."""
    size = _outside(part, 0, units)
    return [f"Root panel {part.panels[0].name}: {size} outside."] if size and part.bends else []


def _too_many(drawn: FlatDrawing) -> str:
    return "Not every edge carries its dimension here; the DXF is exact."


def _bend_table(part: Part, flat: FlatPattern, units: Units) -> dict[str, Any]:
    rows = []
    lines = {line.bend: line for line in flat.bend_lines}
    for number, bend in enumerate(part.bends):
        turned = math.degrees(abs(bend.angle_rad))
        rows.append(
            [
                str(number + 1),
                f"{part.panels[bend.parent].name} to {part.panels[bend.child].name}",
                "UP" if bend.angle_rad > 0 else "DOWN",
                f"{round(turned, 2):g}°",
                f"{round(180 - turned, 2):g}°" if turned < 179.9 else "hem",
                show(bend.inside_radius_mm, units),
                f"{bend.k_factor:.3f}",
                show(bend.allowance_mm, units),
                show(bend.deduction_mm, units),
                show(bend.length_mm, units),
                _outside(part, bend.child, units),
                _where(flat, lines[number], units),
            ]
        )
    heads = [
        "bend",
        "panels",
        "way",
        "bent by",
        "between faces",
        "inside R",
        "K",
        "allowance",
        "deduction",
        "length",
        "panel, outside",
        "line at",
    ]
    return {"title": "Bends", "heads": heads, "rows": rows, "columns": list(BEND_COLUMNS)}


def _outside(part: Part, panel: int, units: Units) -> str:
    """Width along the bend and length across it of a panel, outside; empty where it was not drawn with them."""
    extent = part.panels[panel].extent_mm
    return "" if extent is None else f"{show(extent[0], units)} × {show(extent[1], units)}"


def _where(flat: FlatPattern, line: BendLine, units: Units) -> str:
    """Where a bend line lies, from the lower left corner of the flat."""
    x0, y0, _, _ = flat.bounds
    (ax, ay), (bx, by) = line.start, line.end
    if abs(ax - bx) < 1e-6 * max(line.length_mm, 1.0):
        return f"x {show(ax - x0, units)}"
    if abs(ay - by) < 1e-6 * max(line.length_mm, 1.0):
        return f"y {show(ay - y0, units)}"
    return f"{show(ax - x0, units)}, {show(ay - y0, units)} to {show(bx - x0, units)}, {show(by - y0, units)}"


def _opening_table(flat: FlatPattern, groups: tuple[Group, ...], units: Units) -> dict[str, Any]:
    x0, y0, _, _ = flat.bounds
    rows = []
    for group in groups:
        members = group.openings if group.step_mm is None and len(group.openings) <= 6 else group.openings[:1]
        for number, opening in enumerate(members):
            single = len(group.openings) == 1
            evenly = len(members) < len(group.openings)
            label = group.letter if single else (f"{group.letter}1…" if evenly else f"{group.letter}{number + 1}")
            x, y = opening.flat_mm
            on = opening.on_panel_mm
            step = group.step_mm
            if not evenly:
                pitch = ""
            elif step is None:
                pitch = "others as the DXF"
            else:
                pitch = f"{show(math.hypot(*step), units)} apart"
            rows.append(
                [
                    label,
                    str(len(group.openings)) if number == 0 else "",
                    group.form if number == 0 else "",
                    group.panel if number == 0 else "",
                    f"{show(x - x0, units)}, {show(y - y0, units)}",
                    f"{show(on[0], units)}, {show(on[1], units)}" if on is not None else "",
                    pitch,
                ]
            )
    heads = ["mark", "no.", "form", "panel", "in the flat x, y", "on the panel x, y", "spacing"]
    return {"title": "Openings", "heads": heads, "rows": rows, "columns": list(OPENING_COLUMNS)}


def flat_notes(units: Units) -> list[str]:
    """How to read the flat."""
    return [
        "Flat: the root panel's face towards the viewer. UP bends towards the viewer, DOWN away. The DXF governs.",
        "Places run from the flat's lower left corner; 'on the panel' from the outside of its left and near edges.",
    ]


def notes_of(part: PartReview, shop: Shop, units: Units) -> list[str]:
    """What the drawing says in words: units, tolerances, edges, finish, masked areas, grain."""
    assert part.part is not None
    brake, laser = shop.brake, shop.laser
    unit = "millimetres" if units == "mm" else "inches"
    radii = sorted({round(b.inside_radius_mm, 3) for b in part.part.bends})
    found = [
        f"Dimensions in {unit}, outside of the bends, before coating. ISO 128, ISO 129.",
        f"Tolerances (shop profile '{shop.name}'): cut edge to cut edge ±{show(laser.tolerance_mm, units)}; "
        f"each bend ±{show(brake.leg_tolerance_mm, units)} and ±{math.degrees(brake.angle_tolerance_rad):g}°.",
    ]
    if radii:
        said = ", ".join(f"R{show(r, units)}" for r in radii)
        sources = sorted({b.k_source for b in part.part.bends if b.k_source})
        found.append(
            f"Inside radii {said}. K from: {'; '.join(sources) or 'not said'}. Another radius moves the flanges: ask."
        )
    edges = "Break all edges, no burr over 0.1 mm; corners that hands reach rounded by 0.5 mm at least."
    found.append(in_units(edges, units))
    found += [f"After folding, {seam_told(part.part, seam, units)}." for seam in part.part.seams]
    found.append(_finish_note(part, units))
    if part.ordered.grain != "any":
        found.append(f"Grain {part.ordered.grain} the root panel's bottom edge.")
    if part.material.yield_promised:
        found.append(f"{part.material.id} with the mill's certificate.")
    return found


def _finish_note(part: PartReview, units: Units) -> str:
    if part.ordered.finish == "none":
        return "Finish: none. Masked areas: none."
    finish = finishes.finish(part.ordered.finish)
    low, _, most = finish.thickness_um
    hang = ""
    if finish.hanging_hole_mm is not None:
        hang = f" Hang by a hole of at least {show(finish.hanging_hole_mm, units)} on a hidden face."
    return f"Finish: {finish.title}, {low:g} to {most:g} µm a side, all over. Masked areas: none asked for.{hang}"
