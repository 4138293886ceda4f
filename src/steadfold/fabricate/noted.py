"""A finding with where to draw it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from steadfold.findings import Finding
from steadfold.sheet.outline import Point


@dataclass(frozen=True)
class Mark:
    """A spot to draw: a point of the flat in the root panel's frame, and what lies there (panel, bend),
    by index."""

    at_mm: Point
    panel: int | None = None
    bend: int | None = None


@dataclass(frozen=True)
class Noted:
    """A finding and its spots, for the pictures of flat and folded part."""

    finding: Finding
    marks: tuple[Mark, ...] = ()


def alike_together(noted: list[Noted]) -> list[Noted]:
    """Findings that differ in their place only (the same tine five times) as one with all the spots.

    A change that belongs to one of several places is left out, since it would not cure the others.
    """
    groups: dict[tuple[object, ...], list[Noted]] = {}
    for each in noted:
        f = each.finding
        value = None if f.value is None else round(f.value, 3)
        limit = None if f.limit is None else round(f.limit, 3)
        groups.setdefault((f.code, f.severity, f.say, value, limit, f.remedy), []).append(each)
    together = []
    for group in groups.values():
        first = group[0].finding
        if len(group) > 1:
            changes = {each.finding.change for each in group}
            first = replace(
                first,
                place=f"{first.place} and {len(group) - 1} more like it",
                change=first.change if len(changes) == 1 else None,
            )
        together.append(Noted(first, tuple(mark for each in group for mark in each.marks)))
    return together
