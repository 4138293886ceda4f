"""Fillet welds all round the end of a member: the forces at its end as a line load on the weld, beside what a throat holds.

EN 1993-1-8, 4.5.3.3, the simplified method: the resultant of all forces on a millimetre of weld, whichever way it acts,
against what `joints.fillet` gives. Lengths mm, forces N, stresses MPa.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadfold.catalogue import material
from steadfold.catalogue.profiles import Angle, FlatBar, Profile, RoundBar, SquareTube, StrutChannel
from steadfold.joints.fillet import SOURCE, THINNEST_MM, THINNEST_TUBE_MM, fillet_n_per_mm
from steadfold.stand.outline import outline_of

FloatArray = NDArray[np.float64]

@dataclass(frozen=True)
class WeldLine:
    """A weld round a section as a line: points (n, 2) of y, z about its centroid, length, and second moments of the line."""

    points_mm: FloatArray
    length_mm: float
    about_y_mm3: float
    about_z_mm3: float

    def load_n_per_mm(self, force: FloatArray) -> float:
        """The largest resultant on a millimetre from pull, two shears, twist and two moments (6,): Fx Fy Fz Mx My Mz.

        Elastic: even from forces, in proportion to the distance from the centroid from moments.
        """
        pull, across, up, twist, about_y, about_z = (float(v) for v in force)
        y, z = self.points_mm.T
        polar = self.about_y_mm3 + self.about_z_mm3
        out = pull / self.length_mm + about_y * z / self.about_y_mm3 - about_z * y / self.about_z_mm3
        sideways = across / self.length_mm - twist * z / polar
        upward = up / self.length_mm + twist * y / polar
        return float(np.sqrt(out**2 + sideways**2 + upward**2).max())


WELDABLE = (StrutChannel, SquareTube, FlatBar, RoundBar, Angle)


def weld_line(profile: Profile) -> WeldLine | None:
    """The line of a weld all round a profile's end; None for what is not welded: timber, and aluminium extrusions, whose
    metal softens at a weld.

    Round the outside of closed and solid sections, along the middle of the walls of open ones.
    """
    if not isinstance(profile, WELDABLE):
        return None
    outline = outline_of(profile)
    assert outline is not None
    if isinstance(profile, (StrutChannel, Angle)):
        pieces = [(np.array(wall.start), np.array(wall.end)) for wall in outline.walls]
    else:
        ring = max(outline.rings, key=lambda each: float(np.ptp(each)))
        pieces = list(zip(ring, np.roll(ring, -1, axis=0), strict=True))
    first, last = np.array([p for p, _ in pieces]), np.array([q for _, q in pieces])
    lengths = np.linalg.norm(last - first, axis=1)
    whole = float(lengths.sum())
    middle = (lengths[:, None] * 0.5 * (first + last)).sum(axis=0) / whole
    first, last = first - middle, last - middle
    squares = (lengths[:, None] * (first**2 + first * last + last**2) / 3.0).sum(axis=0)
    return WeldLine(np.vstack([first, last]), whole, float(squares[1]), float(squares[0]))


@dataclass(frozen=True)
class Weld:
    """What the weld of a member's end may carry in service on a millimetre, and what is to be said of it."""

    line: WeldLine
    holds_n_per_mm: float
    say: str


def weld(profile: Profile, throat_mm: float) -> Weld | None:
    """The fillet weld all round a profile's end; None where it cannot be welded.

    A throat thicker than the wall counts as the wall. Walls too thin for the standard are marked in `say`.
    """
    line = weld_line(profile)
    if line is None or not isinstance(profile, WELDABLE):
        return None
    wall = float(getattr(profile, "thickness_mm", getattr(profile, "diameter_mm", throat_mm)))
    thinnest = THINNEST_TUBE_MM if isinstance(profile, SquareTube) else THINNEST_MM
    throat = min(throat_mm, wall)
    holds = fillet_n_per_mm(throat, material(profile.material).ultimate_low_mpa)
    mark = f"; a wall of {wall:.3g} mm is thinner than the standard's {thinnest:g} mm" if wall < thinnest else ""
    return Weld(line, holds, f"{SOURCE}{mark}")
