"""The quote request: a table for the shop's software, and the same to read and fill in by hand."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from typing import Any

from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.head import Head, Style
from steadfold.deliver.sheets.typeset import pdf
from steadfold.fabricate.shop import Shop
from steadfold.quantities import in_units, show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview

COLUMNS = (
    "job", "revision", "job_fingerprint", "part", "verdict", "quantity", "material", "thickness_mm", "finish",
    "mass_each_kg", "mass_all_kg", "flat_width_mm", "flat_height_mm", "flat_area_mm2", "cut_length_mm", "pierces",
    "bends", "longest_bend_mm", "inside_radii_mm", "bend_angles_deg", "folded_width_mm", "folded_height_mm",
    "folded_depth_mm",
    "dxf", "step", "drawing", "price_each_at_1", "price_each_at_quantity", "price_each_at_five_times", "lead_time_days",
)  # fmt: skip
"""Columns of the table; those from the first price on are for the shop to fill in."""


def quote_rows(head: Head, parts: Sequence[PartReview], files: Mapping[str, Mapping[str, str]]) -> list[dict[str, str]]:
    """One row a part, values as text; `files` gives the names of each part's DXF, STEP and drawing."""
    return [_row(head, part, files[part.name]) for part in parts]


def _row(head: Head, part: PartReview, files: Mapping[str, str]) -> dict[str, str]:
    assert part.part is not None and part.flat is not None and part.folded_size_mm is not None
    width, height = part.flat.size_mm
    bends = part.part.bends
    mass = part.mass_kg or 0.0
    return {
        "job": head.job,
        "revision": head.revision,
        "job_fingerprint": head.fingerprint,
        "part": part.name,
        "verdict": str(part.verdict),
        "quantity": str(part.ordered.quantity),
        "material": part.material.id,
        "thickness_mm": f"{part.thickness_mm:.3f}",
        "finish": part.ordered.finish,
        "mass_each_kg": f"{mass:.3f}",
        "mass_all_kg": f"{mass * part.ordered.quantity:.3f}",
        "flat_width_mm": f"{width:.2f}",
        "flat_height_mm": f"{height:.2f}",
        "flat_area_mm2": f"{part.flat.area_mm2:.0f}",
        "cut_length_mm": f"{part.flat.cut_length_mm:.0f}",
        "pierces": str(part.flat.pierces),
        "bends": str(len(bends)),
        "longest_bend_mm": f"{max((b.length_mm for b in bends), default=0.0):.1f}",
        "inside_radii_mm": " ".join(sorted({f"{b.inside_radius_mm:.2f}" for b in bends})),
        "bend_angles_deg": " ".join(sorted({f"{abs(math.degrees(b.angle_rad)):g}" for b in bends})),
        "folded_width_mm": f"{part.folded_size_mm[0]:.2f}",
        "folded_height_mm": f"{part.folded_size_mm[1]:.2f}",
        "folded_depth_mm": f"{part.folded_size_mm[2]:.2f}",
        "dxf": files["dxf"],
        "step": files["step"],
        "drawing": files["drawing"],
    }


def csv_bytes(columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> bytes:
    """A table as CSV (RFC 4180: commas, CR LF), in UTF-8 with a mark that spreadsheets look for.

    A text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, columns, restval="", lineterminator="\r\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({key: _tame(value) for key, value in row.items()})
    return stream.getvalue().encode("utf-8-sig")


def _tame(value: str) -> str:
    if value[:1] in ("=", "@", "\t", "\r") or (value[:1] in ("+", "-") and not _is_number(value)):
        return "'" + value
    return value


def _is_number(value: str) -> bool:
    try:
        float(value)
    except ValueError:
        return False
    return True


def quote_request(
    head: Head, parts: Sequence[PartReview], files: Mapping[str, Mapping[str, str]], shop: Shop, style: Style
) -> bytes:
    """The quote request as PDF."""
    units = style.units
    rows: list[list[str]] = []
    for part in parts:
        assert part.flat is not None and part.part is not None
        width, height = part.flat.size_mm
        rows.append(
            [
                part.name,
                str(part.ordered.quantity),
                f"{part.material.id}, {show_length(part.thickness_mm or 0.0, units)}",
                part.ordered.finish,
                f"{show(width, units)} × {show(height, units)}",
                f"{in_units(f'{part.flat.cut_length_mm / 1000:.2f} m', units)}, {part.flat.pierces}",
                str(len(part.part.bends)),
                show_mass(part.mass_kg or 0.0, units),
                files[part.name]["stem"],
            ]
        )
    total = sum((part.mass_kg or 0.0) * part.ordered.quantity for part in parts)
    data: dict[str, Any] = {
        "head": head.plain(style, "Request for a quote"),
        "rows": rows,
        "units": units,
        "parts": [{"name": part.name, "quantity": part.ordered.quantity} for part in parts],
        "total": f"{sum(part.ordered.quantity for part in parts)} pieces, {show_mass(total, units)} in all",
        "profile": shop.name,
        "radii": _radii(parts, units),
    }
    return pdf("quote_request", data)


def _radii(parts: Sequence[PartReview], units: Units) -> str:
    """The inside radii the flats are for, in a sentence."""
    found = sorted({round(bend.inside_radius_mm, 3) for part in parts if part.part for bend in part.part.bends})
    if not found:
        return "The flats here have no bends."
    return f"The flats here are for {', '.join(f'R {show(radius, units)}' for radius in found)} {units}."
