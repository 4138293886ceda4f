"""Sheets of a stand: the levelling plan and the weighing sheet, from the plain review's entry of the stand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from steadfold.deliver.sheets.head import Head, Style
from steadfold.deliver.sheets.typeset import pdf
from steadfold.quantities import show_force
from steadfold.quantities.showing import Units

SMALLEST_TURN = 0.125
"""Turns are set in eighths: what a hand can tell on a nut (common practice)."""


def levelling_plan(head: Head, stand: Mapping[str, Any], style: Style) -> bytes:
    """The levelling plan as PDF: the turns of each rod's nut, half at a time, and what the rods then pull."""
    units = style.units
    rods = [_rod(rod, units) for rod in stand.get("tie_rods") or ()]
    data = {
        "head": head.plain(style, "Levelling plan"),
        "sag": _length(stand.get("sag_mm"), units),
        "slope": "not computed"
        if stand.get("slope_mm_per_m") is None
        else f"{stand['slope_mm_per_m']:.2f} mm in a metre",
        "rods": rods,
        "weakest": stand.get("weakest") or "not computed",
    }
    return pdf("levelling_plan", data)


def _rod(rod: Mapping[str, Any], units: Units) -> list[str]:
    turns = rod.get("turns_to_level")
    if turns is None:
        return [str(rod.get("name", "")), "not computed", "", _force(rod.get("tension_n"), units)]
    eighths = round(float(turns) / SMALLEST_TURN) * SMALLEST_TURN
    way = "tighten" if turns > 0 else "slacken"
    said = f"{way} {abs(turns):.2f} turns (set {abs(eighths):g})"
    return [
        str(rod.get("name", "")),
        said,
        f"{abs(eighths) / 2:g}, look, {abs(eighths) / 2:g}",
        _force(rod.get("tension_n"), units),
    ]


def _force(value: float | None, units: Units) -> str:
    return "not computed" if value is None else show_force(value, units)


def _length(value: float | None, units: Units) -> str:
    if value is None:
        return "not computed"
    return f"{value / 25.4:.3f} in" if units == "in" else f"{value:.2f} mm"


def weighing_sheet(head: Head, style: Style) -> bytes:
    """The weighing sheet as PDF: where to put the scale, what to write down, what comes out."""
    length, mass = ("in", "lb") if style.units == "in" else ("mm", "kg")
    return pdf("weighing_sheet", {"head": head.plain(style, "Weighing sheet"), "length": length, "mass": mass})
