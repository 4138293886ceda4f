"""Statics of a row or group of fixings by hand: overhang, prying, eccentric shear, bending at the screw line."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

Point = tuple[float, float]


def tension_from_overhang_n(moment_nmm: float, heights_mm: Sequence[float]) -> tuple[float, ...]:
    """Tension of each fixing of a plate that pivots about its lower edge: T_i = M h_i / sum h^2; N.

    One height per fixing, mm above the edge that presses on the wall. The plate counts as stiff and the wall as
    hard at that edge; prying is not in it. Source: statics. Raises ValueError unless some height is above zero.
    """
    squares = sum(height**2 for height in heights_mm)
    if not heights_mm or min(heights_mm) < 0.0 or squares == 0.0:
        raise ValueError("heights above the pivoting edge must not be negative, and one must be above zero")
    return tuple(moment_nmm * height / squares for height in heights_mm)


def eccentric_shear_n(bolts_mm: Sequence[Point], force_n: Point, at_mm: Point) -> tuple[Point, ...]:
    """Force on each bolt of a group in shear, N, by the elastic method; equal bolts, stiff plate.

    F/n plus M r / sum r^2 at right angles to the line from the centroid. `force_n` acts on the plate at `at_mm`,
    and so do the answers: they sum up to it. Source: Shigley's Mechanical Engineering Design, joints in eccentric
    shear (recalled). Raises ValueError for no bolts, or one bolt under a moment.
    """
    count = len(bolts_mm)
    if count == 0:
        raise ValueError("a group without bolts")
    cx = sum(x for x, _ in bolts_mm) / count
    cy = sum(y for _, y in bolts_mm) / count
    moment = (at_mm[0] - cx) * force_n[1] - (at_mm[1] - cy) * force_n[0]
    polar = sum((x - cx) ** 2 + (y - cy) ** 2 for x, y in bolts_mm)
    if polar == 0.0:
        if abs(moment) > 1e-9 * max(1.0, math.hypot(*force_n)):
            raise ValueError("bolts in one place cannot hold a moment")
        return tuple((force_n[0] / count, force_n[1] / count) for _ in bolts_mm)
    return tuple(
        (force_n[0] / count - moment * (y - cy) / polar, force_n[1] / count + moment * (x - cx) / polar)
        for x, y in bolts_mm
    )


def prying_l_flange(lever_mm: float, toe_mm: float) -> float:
    """Bolt force over pull for the flange of an L: 1 + b/a.

    `lever_mm` b from the line of the pull to the screw, `toe_mm` a from the screw on to the flange's edge, about
    which it pivots. The flange counts as stiff and held by nothing but screw and toe: an upper bound where its panel is kept
    from turning as well; where that may swing and the flange bends, its toe pushes inside the edge, and it is more. Statics.

    Raises ValueError for a negative lever, and for a toe that is not above zero.
    """
    if lever_mm < 0.0 or toe_mm <= 0.0:
        raise ValueError(f"levers of {lever_mm} and {toe_mm} mm; the second must be above zero")
    return 1.0 + lever_mm / toe_mm


@dataclass(frozen=True)
class TeePrying:
    """A pull through the flanges of a T or of a pair of angles.

    `bolt_n` is the force on a bolt, prying included; `prying_n` what prying adds; `alpha` how far the flange bends
    in double curvature at the bolt line (0 no prying, 1 full); `no_prying_mm` the thickness from which there is none;
    `allowable_n` the pull per bolt that flange and bolt carry together.
    """

    bolt_n: float
    prying_n: float
    alpha: float
    no_prying_mm: float
    allowable_n: float


def prying_tee(
    pull_n: float,
    bolt_allowable_n: float,
    thickness_mm: float,
    yield_mpa: float,
    lever_mm: float,
    edge_mm: float,
    length_mm: float,
    diameter_mm: float,
    hole_mm: float,
) -> TeePrying:
    """Prying in a T-stub or a pair of angles, per bolt.

    `lever_mm` from the face of the stem to the bolt line, `edge_mm` from there to the edge of the flange (counted up
    to 1.25 levers), `length_mm` of flange per bolt. Allowable stress 0.75 Fy in the flange.
    Source: AISC Manual of Steel Construction, 9th edition (ASD), part 4; Thornton, 'Prying action: a general
    treatment', Engineering Journal 22 (1985). Raises ValueError where the hole is longer than the length.
    """
    if not hole_mm < length_mm:
        raise ValueError(f"a hole of {hole_mm} mm in {length_mm} mm of flange")
    inner = lever_mm - diameter_mm / 2.0
    outer = min(edge_mm, 1.25 * lever_mm) + diameter_mm / 2.0
    if inner <= 0.0:
        return TeePrying(pull_n, 0.0, 0.0, 0.0, bolt_allowable_n)
    rho, delta = inner / outer, 1.0 - hole_mm / length_mm
    needed = math.sqrt(8.0 * bolt_allowable_n * inner / (length_mm * yield_mpa))
    ratio = (needed / thickness_mm) ** 2
    alpha = min(1.0, max(0.0, (pull_n / bolt_allowable_n * ratio - 1.0) / delta))
    prying = bolt_allowable_n * delta * alpha * rho / ratio
    bend = (ratio - 1.0) / (delta * (1.0 + rho))
    if bend < 0.0:
        allowable = bolt_allowable_n
    else:
        allowable = bolt_allowable_n / ratio * (1.0 + delta * min(1.0, bend))
    return TeePrying(pull_n + prying, prying, alpha, needed, allowable)


def flange_bending_mpa(pull_n: float, lever_mm: float, width_mm: float, hole_mm: float, thickness_mm: float) -> float:
    """Bending stress in a flange along the line of its screw, MPa: T b / ((p - d0) t^2 / 6).

    `width_mm` is the length of flange that one screw holds, less its hole. Elastic, with nothing beyond the screw
    helping; statics. Raises ValueError where nothing is left beside the hole.
    """
    net = width_mm - hole_mm
    if net <= 0.0:
        raise ValueError(f"a hole of {hole_mm} mm leaves nothing of {width_mm} mm")
    return pull_n * lever_mm / (net * thickness_mm**2 / 6.0)
