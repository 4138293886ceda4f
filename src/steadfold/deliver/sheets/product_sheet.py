"""The product sheet: one page for whoever might buy it."""

from __future__ import annotations

import math
from typing import Any

from steadfold.catalogue import finishes
from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.assembly import box_rows
from steadfold.deliver.sheets.fixing import Fixed, backing_words, fixing_words
from steadfold.deliver.sheets.head import Head, Style
from steadfold.deliver.sheets.pictures import isometric_picture
from steadfold.deliver.sheets.rating_label import label_of
from steadfold.deliver.sheets.typeset import pdf
from steadfold.quantities import show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview


def product_sheet(head: Head, part: PartReview, fixed: Fixed | None, style: Style) -> bytes:
    """The product sheet as PDF; the price stays open for the owner to write in."""
    assert part.part is not None
    units = style.units
    strength = part.strength
    label = label_of(head, part, units)
    sag = ""
    if strength is not None and not head.stamp:
        resting = next((case for case in strength.cases if case.name == "resting"), None)
        if resting is not None and strength.carried_kg.high > 0:
            sag = f"{_sag(resting.sag_mm, units)} with {show_mass(strength.carried_kg.high, units)} in place"
    finish = "bare metal" if part.ordered.finish == "none" else finishes.finish(part.ordered.finish).title
    data: dict[str, Any] = {
        "head": head.plain(style, "Product sheet"),
        "picture": isometric_picture(part.part, 150.0, 92.0),
        "rating": label.rating,
        "size": " × ".join(show(v, units) for v in part.folded_size_mm or ()) + f" {units}",
        "facts": [
            [
                "size, width × height × depth",
                " × ".join(show(v, units) for v in part.folded_size_mm or ()) + f" {units}",
            ],
            ["mass", show_mass(part.mass_kg or 0.0, units)],
            ["metal", f"{part.material.title}, {show_length(part.thickness_mm or 0.0, units)}"],
            ["finish", finish],
            ["holes it leaves for tools", _fits(part, units)],
            [
                "fixed to",
                "not said"
                if fixed is None
                else f"{backing_words(fixed.mount, units)}, {fixing_words(fixed.mount, units)}",
            ],
        ],
        "fits": [
            f"{load.count} × {load.item}, {_range(load.mass_kg.low, load.mass_kg.high, units)} each"
            for load in part.ordered.carries
        ],
        "sag": sag,
        "box": [*box_rows(part, fixed, style.units), ["1", "sheet for fitting, with template"]],
        "label_caution": label.caution,
        "wall": label.wall,
    }
    return pdf("product_sheet", data)


def _sag(sag_mm: float, units: Units) -> str:
    return f"{sag_mm / 25.4:.3f} in" if units == "in" else f"{sag_mm:.1f} mm"


def _range(low: float, high: float, units: Units) -> str:
    return show_mass(high, units) if math.isclose(low, high) else f"{show_mass(low, units)} to {show_mass(high, units)}"


def _fits(part: PartReview, units: Units) -> str:
    """The openings that take something, on panels other than the one that is fixed."""
    from steadfold.deliver.drawing.openings import groups_of, openings_of

    assert part.part is not None and part.flat is not None
    mount = part.ordered.mount
    fixed = mount.holes if mount is not None and mount.holes is not None else part.part.panels[0].name
    groups = [g for g in groups_of(openings_of(part.part, part.flat, units)) if g.panel != fixed]
    return ", ".join(f"{len(g.openings)} × {g.form} {units}" for g in groups) or "none"
