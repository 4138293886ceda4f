"""How long the sheet of a bend is in the flat.

Angles here are always *bend* angles: what the flange turns through, 0 when flat. German drawings give the
opening angle instead (flat = 180°); `opening_to_bend` is the one place where it is turned about.
`k_factor` multiplies the whole thickness; DIN 6935 prints k for half of it, so K = k / 2.
"""

from __future__ import annotations

import math

from steadfold.quantities import Millimetre, Radian

SMALLEST_RATIO = 0.5
"""Inside radius over thickness below which the DIN 6935 curve is not followed further down."""


def opening_to_bend(opening_rad: Radian) -> Radian:
    """Bend angle from the opening angle between the two legs."""
    return math.pi - opening_rad


def din_6935_k(inside_radius: Millimetre, thickness: Millimetre) -> float:
    """Correction factor k of DIN 6935; it multiplies half the thickness.

    k = 0.65 + 0.5 log10(r / s) up to r / s = 5, 1 beyond. Below r / s = 0.5 the value at 0.5 is kept, since
    the curve runs to zero there and no table goes so far down.

    >>> round(din_6935_k(4.0, 2.0), 4)
    0.8005
    """
    ratio = max(inside_radius / thickness, SMALLEST_RATIO)
    return 1.0 if ratio > 5 else 0.65 + 0.5 * math.log10(ratio)


def din_6935_k_factor(inside_radius: Millimetre, thickness: Millimetre) -> float:
    """K-factor (share of the whole thickness, from the inside face) by DIN 6935.

    >>> round(din_6935_k_factor(2.0, 2.0), 3)
    0.325
    """
    return 0.5 * din_6935_k(inside_radius, thickness)


def bend_allowance(
    angle: Radian, inside_radius: Millimetre, thickness: Millimetre, k_factor: float
) -> Millimetre:
    """Length of the bend in the flat, between its two tangent lines: `a (r + K t)`.

    >>> round(bend_allowance(math.pi / 2, 2.0, 2.0, 0.42), 3)
    4.461
    """
    return abs(angle) * (inside_radius + k_factor * thickness)


def apex_setback(angle: Radian, inside_radius: Millimetre, thickness: Millimetre) -> Millimetre:
    """From a tangent line to the apex of the two outer faces, `(r + t) tan(a / 2)`; grows without limit towards 180°.

    >>> round(apex_setback(math.radians(60), 3.0, 2.0), 4)
    2.8868
    """
    return (inside_radius + thickness) * math.tan(abs(angle) / 2)


def setback(angle: Radian, inside_radius: Millimetre, thickness: Millimetre) -> Millimetre:
    """From a tangent line to where a calliper reads the outside of the bend.

    Up to 90° that is the apex of the two outer faces, `(r + t) tan(a / 2)`; beyond, the outer tangent,
    `r + t` (DIN 6935's convention), since the apex runs away.

    >>> setback(math.pi / 2, 2.0, 2.0)
    4.0
    """
    if abs(angle) < math.pi / 2:
        return apex_setback(angle, inside_radius, thickness)
    return inside_radius + thickness


def bend_deduction(
    angle: Radian, inside_radius: Millimetre, thickness: Millimetre, k_factor: float
) -> Millimetre:
    """What the flat is shorter than the two outside dimensions together.

    >>> round(bend_deduction(math.pi / 2, 2.0, 2.0, 0.42), 3)
    3.539
    """
    return 2 * setback(angle, inside_radius, thickness) - bend_allowance(
        angle, inside_radius, thickness, k_factor
    )


def din_6935_compensation(
    opening_rad: Radian, inside_radius: Millimetre, thickness: Millimetre
) -> Millimetre:
    """Compensation value v of DIN 6935, signed, so that flat = a + b + v.

    The legs a, b run to the outer tangents for openings up to 90°, to the outer apex above, and v is 0 above
    165°. So it equals minus the bend deduction of this module at 90° only; that is why it is a function of
    its own, for comparing with drawings that use it.

    >>> round(din_6935_compensation(math.pi / 2, 4.0, 2.0), 3)
    -4.459
    """
    if opening_rad > math.radians(165) + 1e-12:
        return 0.0
    turned = opening_to_bend(opening_rad)
    developed = turned * (inside_radius + 0.5 * thickness * din_6935_k(inside_radius, thickness))
    reach = 2 * (inside_radius + thickness)
    return developed - (reach if opening_rad <= math.pi / 2 + 1e-12 else reach * math.tan(turned / 2))


HANDBOOK_90_FACTORS = {
    "soft brass, soft copper": 0.55,
    "mild steel, aluminium, hard brass": 0.64,
    "hard": 0.71,
}
"""Y of the handbook's 90° formula by material group (Machinery's Handbook, 28th ed., as quoted by others)."""


def handbook_90(inside_radius: Millimetre, thickness: Millimetre, y_factor: float) -> Millimetre:
    """Length of a 90° bend by the handbook: `Y t + 1.57 r` (any one length unit).

    Source: Machinery's Handbook, 28th edition, lengths of straight stock for 90° bends.

    >>> round(handbook_90(0.375, 0.125, 0.64), 5)
    0.66875
    """
    return y_factor * thickness + 1.57 * inside_radius


def springback_radius_ratio(
    inside_radius: Millimetre, thickness: Millimetre, yield_mpa: float, modulus_mpa: float
) -> float:
    """Radius under the punch over radius after release, `ri / rf = 4 x³ - 3 x + 1`, `x = ri Y / (E t)`.

    Good for x up to 0.5 (the outer fibre yields). Source: Gardiner's form, as printed in manufacturing
    textbooks.

    >>> round(springback_radius_ratio(50.0, 2.0, 300.0, 210_000.0), 3)
    0.893
    """
    x = inside_radius * yield_mpa / (modulus_mpa * thickness)
    return 4 * x**3 - 3 * x + 1
