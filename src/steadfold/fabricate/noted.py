"""A finding with where to draw it."""

from __future__ import annotations

from dataclasses import dataclass

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
