"""Force of the press and what the sheet springs back."""

from __future__ import annotations

from bisect import bisect_right

from steadfold.catalogue.materials import Material

SHOWN_COEFFICIENT = 1.42
"""Coefficient of the force that is shown (common charts of air bending)."""
CAPACITY_COEFFICIENT = 1.6
"""Coefficient held against machine and tools: the rule 575 t² / V in inches and tons is 1.6; textbooks
read less."""

_RATIOS = (1.0, 1.6, 2.5, 4.0, 6.3, 10.0, 16.0, 25.0, 40.0, 63.0, 100.0)
SPRINGBACK = {
    "DC01": (0.99, 0.99, 0.99, 0.97, 0.96, 0.96, 0.93, 0.90, 0.85, 0.77, 0.66),
    "stainless": (0.99, 0.98, 0.97, 0.95, 0.93, 0.89, 0.84, 0.76, 0.63),
    "aluminium": (0.98, 0.98, 0.97, 0.96, 0.95, 0.93, 0.90, 0.86, 0.82, 0.76, 0.72),
}
"""Springback factor by inside radius over thickness (1, 1.6, 2.5 ... 100), for cold-rolled mild steel,
18/8 stainless and an Al-Si-Mg-Mn alloy. Source: handbook table on developed lengths (values seen, heads
of the columns recalled); other grades of a family take the family's column."""


def press_force_n(
    strength_mpa: float,
    length_mm: float,
    thickness_mm: float,
    v_mm: float,
    coefficient: float = SHOWN_COEFFICIENT,
) -> float:
    """Force of an air bend, `C Rm b t² / V`.

    Source: common press-brake rule; coefficients of 1.33 to 1.6 are in print.

    >>> round(press_force_n(400.0, 1000.0, 2.0, 16.0))
    142000
    """
    return coefficient * strength_mpa * length_mm * thickness_mm**2 / v_mm


def bending_strength_mpa(material: Material) -> float:
    """Tensile strength to reckon the press with: the upper limit of the standard, or 1.25 times the lower
    one where the standard sets none (assumed)."""
    return material.ultimate_high_mpa or 1.25 * material.ultimate_low_mpa


def springback_factor(material: Material, inside_radius_mm: float, thickness_mm: float) -> float:
    """Angle after release over angle under load; on straight lines between the ratios of the table, its
    ends kept.

    Source: `SPRINGBACK`.
    """
    column = SPRINGBACK["DC01" if material.family in ("mild steel", "galvanised") else material.family]
    ratio = inside_radius_mm / thickness_mm
    ratios = _RATIOS[: len(column)]
    if ratio <= ratios[0]:
        return column[0]
    if ratio >= ratios[-1]:
        return column[-1]
    i = bisect_right(ratios, ratio)
    share = (ratio - ratios[i - 1]) / (ratios[i] - ratios[i - 1])
    return column[i - 1] + share * (column[i] - column[i - 1])


def over_bend_rad(material: Material, angle_rad: float, inside_radius_mm: float, thickness_mm: float) -> float:
    """How much further to bend so that the angle is right after release: `a / kR - a`.

    >>> import math
    >>> from steadfold.catalogue import material
    >>> round(math.degrees(over_bend_rad(material("DC01"), math.pi / 2, 2.0, 2.0)), 2)
    0.91
    """
    turned = abs(angle_rad)
    return turned / springback_factor(material, inside_radius_mm, thickness_mm) - turned
