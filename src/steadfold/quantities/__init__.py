"""Text with units in, plain floats out, and back again for people.

Everywhere behind this package a number is in millimetres, newtons, megapascals, kilograms, radians and
seconds. The annotations below (`Millimetre`, `Kilogram` ...) say so where a number crosses an edge.
"""

from steadfold.quantities.names import (
    Celsius,
    Hertz,
    Kilogram,
    Megapascal,
    Millimetre,
    Newton,
    Radian,
    Second,
    weight_n,
)
from steadfold.quantities.reading import (
    QuantityError,
    Range,
    read_angle,
    read_force,
    read_frequency,
    read_length,
    read_mass,
    read_stress,
    read_temperature,
    read_time,
)
from steadfold.quantities.sentences import in_units
from steadfold.quantities.showing import show_angle, show_force, show_length, show_mass, show_stress

__all__ = [
    "Celsius",
    "Hertz",
    "Kilogram",
    "Megapascal",
    "Millimetre",
    "Newton",
    "QuantityError",
    "Radian",
    "Range",
    "Second",
    "in_units",
    "read_angle",
    "read_force",
    "read_frequency",
    "read_length",
    "read_mass",
    "read_stress",
    "read_temperature",
    "read_time",
    "show_angle",
    "show_force",
    "show_length",
    "show_mass",
    "show_stress",
    "weight_n",
]
