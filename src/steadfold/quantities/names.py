"""The units that numbers carry inside steadfold, as type names."""

from typing import TypeAlias

Millimetre: TypeAlias = float
Newton: TypeAlias = float
Megapascal: TypeAlias = float
Kilogram: TypeAlias = float
Radian: TypeAlias = float
Second: TypeAlias = float
Hertz: TypeAlias = float
Celsius: TypeAlias = float

STANDARD_GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall, m/s² (3rd General Conference on Weights and Measures, 1901)."""


def weight_n(mass_kg: Kilogram) -> Newton:
    """Weight of a mass at standard gravity.

    Source: 3rd General Conference on Weights and Measures (1901), g = 9.80665 m/s².

    >>> round(weight_n(10.0), 2)
    98.07
    """
    return mass_kg * STANDARD_GRAVITY_M_S2
