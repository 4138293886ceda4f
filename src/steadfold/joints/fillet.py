"""Fillet welds: what a millimetre of throat may carry.

EN 1993-1-8, 4.5.3.3, the simplified method: the resultant of all forces on a millimetre of weld, whichever way it acts,
against f_u / (sqrt 3 beta_w gamma_M2) times the throat (recalled). Lengths mm, forces N, stresses MPa.
"""

from __future__ import annotations

import math

GAMMA_M2 = 1.25
FURTHER_FACTOR = 1.6
"""On top of gamma_M2: 1.25 x 1.6 = 2.0 between service and nominal strength, as for bolts and the sheet about them."""

BETA = ((360.0, 0.8), (430.0, 0.85), (510.0, 0.9))
"""Correlation factor up to a tensile strength: S235, S275, S355; 1.0 above. EN 1993-1-8, Table 4.1 (recalled)."""

THINNEST_MM, THINNEST_TUBE_MM = 4.0, 2.5
"""EN 1993-1-8, 4.1: thinner walls, and hollow sections thinner than this, are outside it (recalled)."""

SOURCE = "EN 1993-1-8, 4.5.3.3, and a further 1.6 (recalled)"


def strength_mpa(ultimate_mpa: float, stainless: bool = False) -> float:
    """Design shear strength of a fillet weld, f_u / (sqrt 3 beta_w gamma_M2): EN 1993-1-8, 4.5.3.3(3) (recalled).

    Stainless has beta_w 1.0 (EN 1993-1-4, 6.3, recalled).
    """
    beta = 1.0 if stainless else next((value for highest, value in BETA if ultimate_mpa <= highest), 1.0)
    return ultimate_mpa / (math.sqrt(3.0) * beta * GAMMA_M2)


def fillet_n_per_mm(throat_mm: float, ultimate_mpa: float, stainless: bool = False) -> float:
    """Resultant that a millimetre of weld of this throat may carry in service, N.

    >>> round(fillet_n_per_mm(2.0, 360.0), 1)
    259.8
    """
    return throat_mm * strength_mpa(ultimate_mpa, stainless) / FURTHER_FACTOR
