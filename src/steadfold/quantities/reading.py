"""Reading what people write: `45 mm`, `1-5/8 in`, `0.119in`, `5/8"`, `90 deg`, `1.9 kg`, `150 N`."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pint

LONGEST_TEXT = 80
"""More characters than this is not a measurement; refused before anything parses it."""


class QuantityError(ValueError):
    """A text that is not the quantity asked for; `str()` is one sentence saying what would be right."""

    def __init__(self, text: object, sentence: str):
        super().__init__(sentence)
        self.text = text


@dataclass(frozen=True)
class Range:
    """A quantity known between two values; `low == high` when it is known exactly."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Half way between the two ends."""
        return 0.5 * (self.low + self.high)


@dataclass(frozen=True)
class _Kind:
    name: str
    unit: str
    example: str
    common: dict[str, float]


_INCH = 25.4
_POUND = 0.45359237
_POUND_FORCE = _POUND * 9.80665

_LENGTH = _Kind(
    "length",
    "mm",
    '"45 mm" or "1-3/4 in"',
    {
        "mm": 1.0,
        "cm": 10.0,
        "m": 1000.0,
        "in": _INCH,
        "inch": _INCH,
        "inches": _INCH,
        '"': _INCH,
        "''": _INCH,
        "ft": 12 * _INCH,
        "foot": 12 * _INCH,
        "feet": 12 * _INCH,
        "um": 1e-3,
        "µm": 1e-3,
        "μm": 1e-3,
        "micron": 1e-3,
        "thou": _INCH / 1000,
        "mil": _INCH / 1000,
        "millimetre": 1.0,
        "millimeter": 1.0,
    },
)
_MASS = _Kind(
    "mass",
    "kg",
    '"1.9 kg" or "4 lb"',
    {"kg": 1.0, "g": 1e-3, "lb": _POUND, "lbs": _POUND, "oz": _POUND / 16, "t": 1000.0},
)
_FORCE = _Kind(
    "force",
    "N",
    '"150 N" or "30 lbf"',
    {"N": 1.0, "kN": 1000.0, "lbf": _POUND_FORCE, "kgf": 9.80665},
)
_ANGLE = _Kind(
    "angle",
    "rad",
    '"90 deg"',
    {"deg": math.pi / 180, "degree": math.pi / 180, "degrees": math.pi / 180, "°": math.pi / 180, "rad": 1.0},
)
_STRESS = _Kind(
    "stress",
    "MPa",
    '"235 MPa"',
    {
        "MPa": 1.0,
        "N/mm2": 1.0,
        "N/mm²": 1.0,
        "GPa": 1000.0,
        "Pa": 1e-6,
        "ksi": 6.894757293168,
        "psi": 0.006894757293168,
    },
)
_TIME = _Kind("time", "s", '"10 min"', {"s": 1.0, "min": 60.0, "h": 3600.0, "hour": 3600.0, "day": 86400.0})
_FREQUENCY = _Kind("frequency", "Hz", '"50 Hz" or "3000 rpm"', {"Hz": 1.0, "rpm": 1 / 60, "1/min": 1 / 60})

_NUMBER = re.compile(
    r"""\s*(?P<sign>[-+−]?)\s*
        (?:(?P<whole>\d+)(?:\s*-\s*|\s+)(?P<num>\d+)\s*/\s*(?P<den>\d+)
          |(?P<top>\d+)\s*/\s*(?P<bottom>\d+)
          |(?P<decimal>(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?))
        \s*(?P<unit>.*?)\s*$""",
    re.VERBOSE,
)


_UNIT = re.compile(
    r"[A-Za-zµμ°]+(?:\^?[0-9]|[²³])?(?:\s?[*/·]\s?[A-Za-zµμ°]+(?:\^?[0-9]|[²³])?){0,3}", re.ASCII | re.IGNORECASE
)
"""What may be handed to the units library: names, single digits as powers, * and /; anything longer could keep it busy."""


LENGTH_DIGITS = 9


@cache
def _registry() -> pint.UnitRegistry:
    import pint

    return pint.UnitRegistry()


def _refused(text: Any, kind: _Kind, why: str) -> QuantityError:
    return QuantityError(text, f"{why}; write a {kind.name} with its unit, like {kind.example}")


def _read(text: Any, kind: _Kind) -> float:
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise _refused(text, kind, f"{type(text).__name__} is not a {kind.name}")
    if not isinstance(text, str):
        raise _refused(text, kind, f"{text!r} has no unit")
    if len(text) > LONGEST_TEXT:
        raise _refused(text, kind, f"a text of {len(text)} characters is not a {kind.name}")
    found = _NUMBER.match(text)
    if found is None:
        raise _refused(text, kind, f"{text!r} is not a {kind.name}")
    value = _number(found, text, kind)
    unit = found["unit"]
    if not unit:
        raise _refused(text, kind, f"{text!r} has no unit")
    factor = kind.common.get(unit)
    result = value * factor if factor is not None else _by_registry(value, unit, text, kind)
    if not math.isfinite(result):
        raise _refused(text, kind, f"{text!r} is not a finite number")
    return result


def _number(found: re.Match[str], text: str, kind: _Kind) -> float:
    if found["decimal"] is not None:
        value = float(found["decimal"])
    else:
        top, bottom = (found["num"], found["den"]) if found["whole"] is not None else (found["top"], found["bottom"])
        if int(bottom) == 0:
            raise _refused(text, kind, f"{text!r} divides by zero")
        value = int(found["whole"] or 0) + int(top) / int(bottom)
    return -value if found["sign"] in ("-", "−") else value


def _by_registry(value: float, unit: str, text: str, kind: _Kind) -> float:
    if _UNIT.fullmatch(unit) is None:
        raise _refused(text, kind, f"{text!r} is not a {kind.name}")
    try:
        quantity = _registry().Quantity(value, unit)
        return float(quantity.to(kind.unit).magnitude)
    except Exception as error:
        reason = f"{text!r} is not a {kind.name}"
        if type(error).__name__ == "UndefinedUnitError":
            reason = f"{text!r} has a unit nobody here knows ({unit!r})"
        raise _refused(text, kind, reason) from None


def read_length(text: Any) -> float:
    """A length in mm, from text with a unit; fractions of an inch welcome. Read to a millionth of a micrometre, so that the same
    size in another unit is the same number to its last digit.

    Raises `QuantityError` for a bare number, another dimension, or anything unreadable.

    >>> read_length("1-5/8 in")
    41.275
    """
    return round(_read(text, _LENGTH), LENGTH_DIGITS)


def read_mass(text: Any) -> float:
    """A mass in kg.

    >>> round(read_mass("4 lb"), 4)
    1.8144
    """
    return _read(text, _MASS)


def read_force(text: Any) -> float:
    """A force in N.

    >>> read_force("0.15 kN")
    150.0
    """
    return _read(text, _FORCE)


def read_angle(text: Any) -> float:
    """An angle in rad.

    >>> round(read_angle("-135 deg"), 6)
    -2.356194
    """
    return _read(text, _ANGLE)


def read_stress(text: Any) -> float:
    """A stress in MPa.

    >>> round(read_stress("36 ksi"), 1)
    248.2
    """
    return _read(text, _STRESS)


def read_time(text: Any) -> float:
    """A time in s.

    >>> read_time("10 min")
    600.0
    """
    return _read(text, _TIME)


def read_frequency(text: Any) -> float:
    """A frequency in Hz; turns per minute are read as turns.

    >>> read_frequency("3000 rpm")
    50.0
    """
    return _read(text, _FREQUENCY)


def read_temperature(text: Any) -> float:
    """A temperature in degrees Celsius, from `30 C`, `30 degC` or `86 F`.

    >>> read_temperature("86 F")
    30.0
    """
    kind = _Kind("temperature", "degC", '"30 C"', {})
    found = _NUMBER.match(text) if isinstance(text, str) and len(text) <= LONGEST_TEXT else None
    if found is None:
        raise _refused(text, kind, f"{text!r} is not a temperature")
    value, unit = _number(found, text, kind), found["unit"]
    if unit in ("C", "°C", "degC"):
        return value
    if unit in ("F", "°F", "degF"):
        return (value - 32.0) / 1.8
    raise _refused(text, kind, f"{text!r} is not a temperature")
