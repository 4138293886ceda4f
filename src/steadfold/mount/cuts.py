"""Cuts through the sheet where it usually gives first: along bends, and across the row of fixings.

The forces through a cut come from nodal forces, so they are exact statics on any mesh; no stress peak enters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.mechanics import Result, section_forces
from steadfold.mount.records import Metal


@dataclass(frozen=True)
class Cut:
    """A straight cut: elements on the outer side, nodes on it, its directions, and the metal along it.

    `along` runs in the cut, `across` is square to it in the sheet, `normal` is the sheet's. `length_mm` is
    metal only (openings taken off); `spread_mm2` is the second moment of that length about its middle over
    its half width, for bending in the sheet's own plane.
    """

    name: str
    place: str
    elements: np.ndarray
    nodes: np.ndarray
    along: np.ndarray
    across: np.ndarray
    normal: np.ndarray
    middle_mm: np.ndarray
    pieces_mm: tuple[tuple[float, float], ...]
    thickness_mm: float

    @property
    def length_mm(self) -> float:
        """Length of metal in the cut."""
        return sum(b - a for a, b in self.pieces_mm)

    @property
    def in_plane_modulus_mm2(self) -> float:
        """Section modulus a millimetre of thickness for bending in the sheet's own plane, mm²."""
        low, high = self.pieces_mm[0][0], self.pieces_mm[-1][1]
        area = self.length_mm
        middle = sum(0.5 * (b * b - a * a) for a, b in self.pieces_mm) / area
        second = sum((b - middle) ** 3 - (a - middle) ** 3 for a, b in self.pieces_mm) / 3.0
        return second / max(high - middle, middle - low)


@dataclass(frozen=True)
class CutForces:
    """What goes through a cut: pull square to it, shear along it and out of the sheet (N); bending about it,
    bending in the sheet's plane, and twist (N mm)."""

    pull_n: float
    shear_along_n: float
    shear_through_n: float
    bending_nmm: float
    in_plane_nmm: float
    twist_nmm: float

    def scaled(self, factor: float) -> CutForces:
        """All of it times a factor."""
        return CutForces(*(factor * getattr(self, name) for name in self.__dataclass_fields__))


def forces_through(cut: Cut, result: Result) -> CutForces:
    """The forces and moments that the outer side passes through a cut, about the middle of its metal."""
    found = section_forces(result, cut.elements, cut.nodes, cut.middle_mm)
    force, moment = found.force_n, found.moment_nmm
    return CutForces(
        float(force @ cut.across),
        float(force @ cut.along),
        float(force @ cut.normal),
        float(moment @ cut.along),
        float(moment @ cut.normal),
        float(moment @ cut.across),
    )


def elastic_stress_mpa(cut: Cut, forces: CutForces) -> float:
    """Largest nominal stress of the cut as a beam section: direct stresses added, with shear and twist by von Mises.

    Bending about the cut over L t²/6, in the sheet's plane over its own modulus, pull over L t; shear 3/2 of
    its mean; twist over L t²/3 (a thin strip). Closed forms of the strength of materials.
    """
    t, length = cut.thickness_mm, cut.length_mm
    direct = (
        abs(forces.pull_n) / (length * t)
        + abs(forces.bending_nmm) / (length * t * t / 6)
        + abs(forces.in_plane_nmm) / (t * cut.in_plane_modulus_mm2)
    )
    shear = 1.5 * math.hypot(forces.shear_along_n, forces.shear_through_n) / (length * t) + abs(forces.twist_nmm) / (
        length * t * t / 3
    )
    return math.hypot(direct, math.sqrt(3) * shear)


def plastic_share(cut: Cut, forces: CutForces, metal: Metal) -> float:
    """Share of the cut's full plastic strength: bending over L t² fy / 4, in plane over its plastic modulus, pull
    squared, and shear and twist by von Mises; 1 is a hinge.

    The plastic modulus in plane is taken as 1.5 times the elastic one of a solid rectangle at most, else the
    elastic one, so that openings err on the careful side.
    """
    t, length, fy = cut.thickness_mm, cut.length_mm, metal.yield_mpa
    bending = abs(forces.bending_nmm) / (0.25 * fy * length * t * t)
    solid = len(cut.pieces_mm) == 1
    in_plane = abs(forces.in_plane_nmm) / ((1.5 if solid else 1.0) * fy * t * cut.in_plane_modulus_mm2)
    pull = abs(forces.pull_n) / (fy * length * t)
    shear = math.hypot(forces.shear_along_n, forces.shear_through_n) / (fy / math.sqrt(3) * length * t)
    twist = abs(forces.twist_nmm) / (fy / math.sqrt(3) * 0.5 * length * t * t)
    direct = bending + in_plane + pull * pull if pull < 1 else bending + in_plane + pull
    return math.hypot(direct, shear + twist)
