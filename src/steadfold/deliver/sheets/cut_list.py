"""The cut list: what is to be cut, and what is to be bought to put it up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.fixing import fixed_of, hardware
from steadfold.deliver.sheets.head import Head, Style
from steadfold.deliver.sheets.quote_request import csv_bytes
from steadfold.deliver.sheets.stand_sheets import cut_rows_of
from steadfold.deliver.sheets.typeset import pdf
from steadfold.quantities import in_units, show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview
from steadfold.stand.answers import StandReport

COLUMNS = (
    "kind", "for", "what", "count", "standard", "length_mm", "width_mm", "height_mm", "thickness_mm", "mass_all_kg",
    "note", "revision", "job_fingerprint",
)  # fmt: skip


def cut_rows(head: Head, parts: Sequence[PartReview], stands: Sequence[StandReport] = ()) -> list[dict[str, str]]:
    """Flats first, then hardware, then what stands are made of; equal hardware of several parts stays apart, so that
    each part can be bagged."""
    rows = []
    carried = {"revision": head.revision, "job_fingerprint": head.fingerprint}
    for part in parts:
        assert part.flat is not None
        width, height = part.flat.size_mm
        rows.append(
            {
                "kind": "sheet",
                "for": part.name,
                "what": part.material.id,
                "count": str(part.ordered.quantity),
                "standard": "",
                "width_mm": f"{width:.2f}",
                "height_mm": f"{height:.2f}",
                "thickness_mm": f"{part.thickness_mm:.3f}",
                "mass_all_kg": f"{(part.mass_kg or 0.0) * part.ordered.quantity:.3f}",
                "note": str(part.verdict),
                **carried,
            }
        )
    for part in parts:
        fixed = fixed_of(part)
        for each in hardware(part, fixed) if fixed is not None else ():
            rows.append(
                {
                    "kind": "hardware",
                    "for": part.name,
                    "what": each.item,
                    "count": str(each.count * part.ordered.quantity),
                    "standard": each.standard,
                    "note": each.note,
                    **carried,
                }
            )
    return [*rows, *({**row, **carried} for stand in stands for row in cut_rows_of(stand))]


def cut_list_csv(head: Head, parts: Sequence[PartReview], stands: Sequence[StandReport] = ()) -> bytes:
    """The cut list as CSV."""
    return csv_bytes(COLUMNS, cut_rows(head, parts, stands))


def cut_list(head: Head, parts: Sequence[PartReview], stands: Sequence[StandReport], style: Style) -> bytes:
    """The cut list as PDF: flats, hardware, and the members of stands, each with its own sheet besides."""
    units = style.units
    blanks = [_blank_row(part, units) for part in parts]
    hardware_rows = []
    unfixed = []
    for part in parts:
        fixed = fixed_of(part)
        if fixed is None:
            unfixed.append(part.name)
            continue
        for number, each in enumerate(hardware(part, fixed)):
            name = f"{part.name}, {part.ordered.quantity} ×" if number == 0 else ""
            note = ", ".join(text for text in (each.standard, each.note) if text)
            item = in_units(each.item, units)
            hardware_rows.append([name, str(each.count * part.ordered.quantity), item, in_units(note, units)])
    data: dict[str, Any] = {
        "head": head.plain(style, "Cut list"),
        "units": units,
        "blanks": blanks,
        "hardware": hardware_rows,
        "unfixed": unfixed,
        "members": [_member_row(row, units) for stand in stands for row in cut_rows_of(stand)],
    }
    return pdf("cut_list", data)


def _member_row(row: dict[str, str], units: Units) -> list[str]:
    return [row["for"], row["count"], row["what"], show(float(row["length_mm"]), units), row.get("note", "")]


def _blank_row(part: PartReview, units: Units) -> list[str]:
    assert part.flat is not None
    width, height = part.flat.size_mm
    grain = part.ordered.grain if part.ordered.grain != "any" else "any"
    return [
        part.name,
        str(part.ordered.quantity),
        f"{part.material.id}, {show_length(part.thickness_mm or 0.0, units)}",
        f"{show(width, units)} × {show(height, units)}",
        grain,
        show_mass((part.mass_kg or 0.0) * part.ordered.quantity, units),
    ]
