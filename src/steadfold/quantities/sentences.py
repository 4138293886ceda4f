"""The quantities within a sentence, told to people who think in inches."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import lru_cache

from steadfold.quantities.showing import Units

INCH_MM = 25.4
POUND_KG = 0.45359237
POUND_FORCE_N = 4.4482216152605
FOOT_MM = 12 * INCH_MM
_KIP_KN = POUND_FORCE_N  # 1000 lbf in kN
_PER_SQUARE_CENTIMETRE = 100.0 / INCH_MM**2
"""How many N on a square centimetre lie as densely as one N on a square inch."""

UNITS: dict[str, tuple[str, float]] = {
    "mm a newton on a square centimetre": (
        "in a pound-force on a square inch",
        POUND_FORCE_N * _PER_SQUARE_CENTIMETRE / INCH_MM,
    ),
    "kN on every metre": ("kip on every foot", FOOT_MM / 1000.0 / _KIP_KN),
    "mm a metre": ("in a foot", 12.0 / 1000.0),
    "mm per metre": ("in per foot", 12.0 / 1000.0),
    "mm per m": ("in per ft", 12.0 / 1000.0),
    "mm/m": ("in/ft", 12.0 / 1000.0),
    "m/min": ("ft/min", 1000.0 / FOOT_MM),
    "mm³": ("in³", INCH_MM**-3),
    "mm²": ("in²", INCH_MM**-2),
    "N/mm²": ("ksi", INCH_MM**2 / POUND_FORCE_N / 1000.0),
    "N/mm2": ("ksi", INCH_MM**2 / POUND_FORCE_N / 1000.0),
    "N/mm": ("lbf/in", INCH_MM / POUND_FORCE_N),
    "N per mm": ("lbf per in", INCH_MM / POUND_FORCE_N),
    "kN/m": ("kip/ft", FOOT_MM / 1000.0 / _KIP_KN),
    "kN m": ("kip ft", 1000.0 / FOOT_MM / _KIP_KN),
    "N mm": ("lbf in", 1.0 / (POUND_FORCE_N * INCH_MM)),
    "N m": ("lbf ft", 1000.0 / (POUND_FORCE_N * FOOT_MM)),
    "MPa": ("ksi", INCH_MM**2 / POUND_FORCE_N / 1000.0),
    "kN": ("kip", 1.0 / _KIP_KN),
    "kg": ("lb", 1.0 / POUND_KG),
    "mm": ("in", 1.0 / INCH_MM),
    "m²": ("ft²", (1000.0 / FOOT_MM) ** 2),
    "m2": ("ft2", (1000.0 / FOOT_MM) ** 2),
    "m": ("ft", 1000.0 / FOOT_MM),
    "N": ("lbf", 1.0 / POUND_FORCE_N),
}
"""Each unit of a sentence: what it becomes for people who think in inches, and how many of those one is."""

SHEET_PLACES = 3
"""Decimals of an inch that a length below one inch carries at least: sheet is told apart by thousandths."""

FIGURES = 3
"""Significant figures at least of all but lengths, as a mass is shown elsewhere: 1 kg is not 2 lb."""

_NUMBER = r"(?:(?<![\w.,/·-])[-−±+]|(?<![\w.,/·]))\d+(?:\.\d+)?(?:e[-+]?\d+)?(?![\w.]*/\d)"
# The larger words first, so that "mm" is not read out of "mm per m".
_UNIT = "|".join(re.escape(unit) for unit in sorted(UNITS, key=len, reverse=True))
_AFTER = r"(?![\w²³/])"
_ONLY_IN_A_LIST = r"(?:, | and | or )"
_JOINT = r"(?: × | x | to | by |–|(?<=\d)-(?=\d)|, | and | or | of its | of the | and its turning )"
_QUANTITY = re.compile(rf"(?P<list>{_NUMBER}(?:{_JOINT}{_NUMBER})*)(?P<close>\)? ?)(?P<unit>{_UNIT}){_AFTER}")
_JOINED = re.compile(rf"({_JOINT})(?={_NUMBER})")
_BLANK = re.compile(rf"(?P<blank>_{{3,}} )(?P<unit>{_UNIT}){_AFTER}")

_ORDINAL = re.compile(
    r"\b(?:bends?|line|panels?|step|part|place|tine|post|arm|foot|rod|brace|hook|class|grade|sheet|number|studs?)\s$",
    re.IGNORECASE,
)
"""Words behind which a bare whole number counts or names something: not the first of a list of lengths."""

_BOTH = re.compile(rf"{_NUMBER} (?:mm|kg|N|MPa) \((?P<inch>[-\d.]+ (?:in|lb|lbf|ksi))\)")
"""A quantity that the sentence already tells both ways."""

_LEFT_ALONE = re.compile(
    r"(?P<quoted>(?<![\w\"])\"[^\"]*\"|(?<!\w)'[^']*'(?!\w)|`[^`]*`)"
    r"|(?P<density>\d[\d.]* ?kg/m(?:³|3))"
    r"|(?P<thread>\bM\d+(?:\.\d+)?(?: ?[×x] ?\d+(?:\.\d+)?)*(?: mm\b)?)"
    rf"|(?P<formula> = {_NUMBER}(?:(?:, | × | to ){_NUMBER})* ?(?:{_UNIT}){_AFTER})"
)


def in_units(sentence: str, units: Units = "mm", names: Iterable[str] = ()) -> str:
    """A sentence with its quantities (a number and mm, kg, N, MPa, N m ...) in inches, pounds and their kin.

    Nothing changes for `units` "mm". Each number carries so many figures that it leads back to what the sentence said,
    within the rounding it was printed with; lengths below an inch at least three decimals. Left alone are job lines and
    names in quotes, the `names` of parts and panels (they may end in a number), densities, threads like M8 × 20,
    numbers without a unit, and what stands behind an equals sign in a hand formula.

    >>> in_units("19.94 mm, measured outside, does not reach over the V32", "in")
    '0.7850 in, measured outside, does not reach over the V32'
    >>> in_units("between 28 and 31 mm, with 2.3 kg", "in")
    'between 1.1 and 1.22 in, with 5.07 lb'
    >>> in_units('thickness = "2.5 mm" sags 2.5 mm', "in")
    'thickness = "2.5 mm" sags 0.098 in'
    """
    if units == "mm" or not sentence:
        return sentence
    kept: list[str] = []

    def keep(text: str) -> str:
        kept.append(text)
        return f"\0{len(kept) - 1}\0"

    named = _of_names(tuple(sorted({name for name in names if not name.isdigit() and name}, key=len, reverse=True)))
    told = _BOTH.sub(lambda found: keep(found["inch"]), sentence)
    told = _LEFT_ALONE.sub(lambda found: keep(found[0]), told)
    if named is not None:
        told = named.sub(lambda found: keep(found[0]), told)
    told = _BLANK.sub(lambda found: found["blank"] + UNITS[found["unit"]][0], told)
    told = _QUANTITY.sub(_converted, told)
    while "\0" in told:
        told = re.sub(r"\0(\d+)\0", lambda found: kept[int(found[1])], told)
    return told


@lru_cache(maxsize=64)
def _of_names(names: tuple[str, ...]) -> re.Pattern[str] | None:
    """What finds any of these names as whole words."""
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, names))})(?!\w)") if names else None


def _converted(found: re.Match[str]) -> str:
    unit, factor = UNITS[found["unit"]]
    parts = _JOINED.split(found["list"])
    numbers, joints = parts[0::2], parts[1::2]
    first = _first_of_list(found.string[: found.start()], numbers, joints, found["unit"])
    told = "".join(
        f"{number if place < first else _number(number, factor, unit)}{joint}"
        for place, (number, joint) in enumerate(zip(numbers, [*joints, ""], strict=True))
    )
    return f"{told}{found['close']}{unit}"


def _first_of_list(before: str, numbers: list[str], joints: list[str], unit: str) -> int:
    """The place of the first number that the unit is meant for: counts and ordinals before it stay."""
    first = 0
    for place, joint in enumerate(joints):
        whole = numbers[place].isdigit()
        times = joint in (" × ", " x ")
        loose = joint.startswith(" of ") or (re.fullmatch(_ONLY_IN_A_LIST, joint) and _ORDINAL.search(before))
        if (times and unit != "mm") or (whole and place == first and loose):
            first = place + 1
    return first


def _number(text: str, factor: float, unit: str) -> str:
    """A number times the factor, with at least the figures that `text` carries."""
    sign = text[0] if text[0] in "±+−" else ""
    digits = text.removeprefix(sign) if sign else text
    value = float(digits) * factor
    if "e" in digits:
        figures = len(digits.split("e")[0].replace(".", "").lstrip("-")) + 1
        return f"{sign}{value:.{figures}g}"
    decimals = len(digits.partition(".")[2])
    places = max(0, math.ceil(decimals - math.log10(factor) - 1e-9))
    if unit == "in":
        places = max(places, SHEET_PLACES if abs(value) < 1.0 else 0)
    elif value:
        places = max(places, FIGURES - 1 - math.floor(math.log10(abs(value))))
    shown = f"{value:.{places}f}"
    short = shown.rstrip("0").rstrip(".") if "." in shown else shown
    exact = abs(float(short) - value) <= 1e-9 * abs(value)
    # A size that is a round one in inches is shown as one; a whole number had no decimals to keep.
    return f"{sign}{short if exact or not decimals else shown}"
