"""What a slope in degrees or a bubble off its middle says of how low a place lies."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Vial:
    """A spirit level's vial: what one division of its bubble means, mm per m."""

    mm_per_m: float = 0.5


def low_from_degrees_mm(degrees: float, over_mm: float) -> float:
    """How low an end lies for a slope read in degrees over a distance."""
    return over_mm * math.tan(math.radians(degrees))


def low_from_bubble_mm(divisions: float, over_mm: float, vial: Vial | None = None) -> float:
    """How low an end lies for a bubble this many divisions off, over a distance."""
    return divisions * (vial or Vial()).mm_per_m * over_mm / 1000.0
