"""A recognised sheet but for its bend allowances: only the shop's K-factor turns a bend's angle into a length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.findings import Finding
from steadfold.sheet.from_solid.outline import Segment, faces_of, fitted, outline_of
from steadfold.sheet.from_solid.strip import Curve
from steadfold.sheet.outline import Point
from steadfold.sheet.part import Bend, Panel, Part
from steadfold.sheet.pose import Frame


@dataclass(frozen=True)
class BendSheet:
    """A bend without its allowance: `loops` bound the metal of its strip, x in mm and angle in rad from the
    parent's tangent line, metal on the left."""

    parent: int
    child: int
    angle_rad: float
    inside_radius_mm: float
    length_mm: float
    parent_point: Point
    parent_along: Point
    parent_away: Point
    loops: tuple[tuple[Curve, ...], ...]
    sharp: bool


@dataclass(frozen=True)
class SunkHole:
    """A countersunk or counterbored hole of a panel, in the panel's frame."""

    panel: int
    at: Point
    hole_mm: float
    wide_mm: float
    angle_rad: float
    on_face: bool


@dataclass(frozen=True)
class Sheet:
    """A recognised sheet, complete but for its bend allowances. `root` is the root panel's frame in the file."""

    name: str
    count: int
    thickness_mm: float
    panels: tuple[Panel, ...]
    bends: tuple[BendSheet, ...]
    root: Frame
    sunk: tuple[SunkHole, ...]
    findings: tuple[Finding, ...]

    def part(self, k_factors: Sequence[float], sources: Sequence[str] = ()) -> Part:
        """The part with one K-factor a bend."""
        bends = tuple(
            _bend(b, k, self.thickness_mm, sources[i] if sources else "")
            for i, (b, k) in enumerate(zip(self.bends, k_factors, strict=True))
        )
        return Part(self.name, self.thickness_mm, self.panels, bends)


def _bend(sheet: BendSheet, k_factor: float, thickness: float, source: str) -> Bend:
    allowance = abs(sheet.angle_rad) * (sheet.inside_radius_mm + k_factor * thickness)
    scale = np.array([1.0, allowance / abs(sheet.angle_rad)])
    outlines = []
    for loop in sheet.loops:
        segments: list[Segment] = []
        for points, straight in loop:
            flat = points * scale
            if straight:
                segments.append(((float(flat[0, 0]), float(flat[0, 1])), (float(flat[-1, 0]), float(flat[-1, 1])), 0.0))
            else:
                segments += fitted(flat)
        outlines.append(outline_of(segments))
    return Bend(
        sheet.parent,
        sheet.child,
        sheet.angle_rad,
        sheet.inside_radius_mm,
        k_factor,
        sheet.length_mm,
        sheet.parent_point,
        sheet.parent_along,
        sheet.parent_away,
        (0.0, 0.0),
        (1.0, 0.0),
        (0.0, 1.0),
        faces_of(outlines),
        thickness,
        source,
    )
