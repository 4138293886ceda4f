"""Showing numbers to people who think in millimetres or in inches."""

from __future__ import annotations

import math
from typing import Literal

Units = Literal["mm", "in"]


def show_length(length_mm: float, units: Units = "mm", places: int | None = None) -> str:
    """A length for people, e.g. `3.04 mm` or `0.120 in`.

    >>> show_length(3.038, "mm"), show_length(3.038, "in")
    ('3.04 mm', '0.120 in')
    """
    if units == "in":
        return f"{length_mm / 25.4:.{3 if places is None else places}f} in"
    return f"{length_mm:.{2 if places is None else places}f} mm"


def show_mass(mass_kg: float, units: Units = "mm") -> str:
    """A mass for people: kg, or lb for those who work in inches.

    >>> show_mass(1.256), show_mass(1.256, "in")
    ('1.26 kg', '2.77 lb')
    """
    value, unit = (mass_kg / 0.45359237, "lb") if units == "in" else (mass_kg, "kg")
    return f"{value:.0f} {unit}" if abs(value) >= 100 else f"{value:.3g} {unit}"


def show_force(force_n: float, units: Units = "mm") -> str:
    """A force for people: N, or lbf for those who work in inches.

    >>> show_force(98.07)
    '98 N'
    """
    value, unit = (force_n / 4.4482216152605, "lbf") if units == "in" else (force_n, "N")
    return f"{value:.0f} {unit}"


def show_stress(stress_mpa: float, units: Units = "mm") -> str:
    """A stress for people: MPa, or ksi for those who work in inches.

    >>> show_stress(235.0, "in")
    '34.1 ksi'
    """
    return f"{stress_mpa / 6.894757293168:.1f} ksi" if units == "in" else f"{stress_mpa:.0f} MPa"


def show_angle(angle_rad: float) -> str:
    """An angle in degrees.

    >>> import math; show_angle(math.pi / 2)
    '90°'
    """
    return f"{round(math.degrees(angle_rad), 2):g}°"
