"""Screws in timber by EN 1995-1-1, the metric twin: withdrawal, steel-to-timber lateral, both together.

Withdrawal (8.7.2) was read in documents; the rest is recalled.
"""

import math

from steadfold.catalogue import fasteners, wood
from steadfold.catalogue.tables import NotInCatalogue
from steadfold.joints.capacity import FixingCapacity, weakest
from steadfold.joints.wood_nds import SCREW_ULTIMATE_MPA, screw_steel
from steadfold.joints.yield_limit import Dowel, yield_loads_n

ACTION_FACTOR = 1.5
"""Loads here are those of service; EN 1990 multiplies them by up to 1.5 before comparing (recalled)."""

CORE_SHARE = (0.60, 0.75)
LEAST_THREAD_D = 6.0
COACH_SCREW_THREAD_SHARE = 0.6
ASSUMED_ULTIMATE_MPA = 400.0


def withdrawal_characteristic_n(
    diameter_mm: float, thread_mm: float, density_k_kg_m3: float, count: int = 1, angle: float = math.pi / 2.0
) -> float:
    """Characteristic withdrawal resistance, N: nef fax d lef kd / (1.2 cos^2 + sin^2), nef = count^0.9.

    `angle` between screw and grain, rad, from pi/6; kd = min(d/8, 1). For 6 <= d <= 12 mm and a core of 0.6 to
    0.75 d; ValueError outside. Source: EN 1995-1-1, eq. 8.38 to 8.41.
    """
    if angle < math.pi / 6.0 - 1e-9:
        raise ValueError("EN 1995-1-1, 8.7.2(4), wants at least 30 degrees between screw and grain")
    strength = wood.withdrawal_strength_mpa(diameter_mm, thread_mm, density_k_kg_m3)
    slant = 1.2 * math.cos(angle) ** 2 + math.sin(angle) ** 2
    return count**0.9 * strength * diameter_mm * thread_mm * min(diameter_mm / 8.0, 1.0) / slant


def embedment_mpa(diameter_mm: float, density_k_kg_m3: float, across_grain: float = 0.0) -> float:
    """Embedment strength of softwood with a lead hole, MPa: 0.082 (1 - 0.01 d) rho.

    Over 6 mm it falls off across the grain by k90 = 1.35 + 0.015 d. Source: EN 1995-1-1, eq. 8.16, 8.31 to 8.33.
    """
    along = 0.082 * (1.0 - 0.01 * diameter_mm) * density_k_kg_m3
    if diameter_mm <= 6.0:
        return along
    k90 = 1.35 + 0.015 * diameter_mm
    return along / (k90 * math.sin(across_grain) ** 2 + math.cos(across_grain) ** 2)


def yield_moment_nmm(diameter_mm: float, ultimate_mpa: float) -> float:
    """Characteristic yield moment 0.3 fu d^2.6, N mm; EN 1995-1-1, eq. 8.14 and 8.30."""
    return 0.3 * ultimate_mpa * diameter_mm**2.6


def lateral_characteristic_n(
    diameter_mm: float,
    side_mm: float,
    main_mm: float,
    embedment: float,
    moment_nmm: float,
    withdrawal_n: float = 0.0,
    gap_mm: float = 0.0,
) -> float:
    """Characteristic lateral resistance of a screw through a steel sheet, single shear, N.

    Thin sheet (up to 0.5 d): eq. 8.9; thick (from d): eq. 8.10; straight lines between. The rope effect, a quarter
    of the withdrawal resistance, counts up to the Johansen part itself. With a gap there is no rope effect, and the
    Johansen part falls by the ratio that the general dowel equations give with and without it (AWC TR12; the
    standard has no rule for a gap).
    """
    q = embedment * diameter_mm
    cap = q * main_mm
    thin = (0.4 * cap, 1.15 * math.sqrt(2.0 * moment_nmm * q))
    thick = (
        cap,
        cap * (math.sqrt(2.0 + 4.0 * moment_nmm / (q * main_mm**2)) - 1.0),
        2.3 * math.sqrt(moment_nmm * q),
    )
    rope = 0.0 if gap_mm > 0.0 else withdrawal_n / 4.0
    low = min(thin[0], thin[1] + min(rope, thin[1]))
    high = min(thick[0], *(each + min(rope, each) for each in thick[1:]))
    share = min(1.0, max(0.0, (side_mm - 0.5 * diameter_mm) / (0.5 * diameter_mm)))
    value = low + share * (high - low)
    return value if gap_mm == 0.0 else value * _gap_ratio(q, main_mm, moment_nmm, diameter_mm, side_mm, gap_mm)


def en_capacity(
    fastener: str,
    density_k_kg_m3: float,
    length_mm: float,
    side_mm: float,
    gap_mm: float = 0.0,
    washer_thickness_mm: float = 0.0,
    across_grain: float = math.pi / 2.0,
    duration: str = "permanent",
    service_class: int = 1,
    screw_ultimate_mpa: float | None = None,
    wood_depth_mm: float | None = None,
) -> FixingCapacity:
    """A screw of 6 to 12 mm through sheet into side grain of a timber class, by EN 1995-1-1.

    Design values (kmod / 1.3), divided by a further 1.5, because loads here are unfactored. `duration` as
    `catalogue.wood.kmod` names them. The point of the screw, one diameter, does not count as thread (judgement).
    Without `screw_ultimate_mpa` a coach screw counts as 400 MPa and sideways is unproven: EN 14592 wants it declared.
    Raises NotInCatalogue for a screw outside the standard's formula.
    """
    screw = fasteners.wood_fastener(fastener)
    ratio = screw.root_mm / screw.diameter_mm
    if not (6.0 <= screw.diameter_mm <= 12.0 and CORE_SHARE[0] <= ratio <= CORE_SHARE[1]):
        raise NotInCatalogue("screw within EN 1995-1-1, 8.7.2(4)", fastener, _within_formula())
    lag = screw.kind == "lag screw"
    total = fasteners.lag_thread_length_mm(length_mm) if lag else COACH_SCREW_THREAD_SHARE * length_mm
    past_face = max(0.0, length_mm - side_mm - washer_thickness_mm - gap_mm)
    behind = 0.0 if wood_depth_mm is None else max(0.0, past_face - wood_depth_mm)
    inside, tip = past_face - behind, max(0.0, screw.diameter_mm - behind)
    threaded = max(0.0, min(total, past_face) - behind)
    thread = max(0.0, threaded - tip)
    ultimate = screw_ultimate_mpa or (SCREW_ULTIMATE_MPA if lag else ASSUMED_ULTIMATE_MPA)
    design = wood.kmod(duration, service_class) / wood.partial_factor("connections") / ACTION_FACTOR
    note = f"EN 1995-1-1: kmod {wood.kmod(duration, service_class):g} / 1.3, loads factor {ACTION_FACTOR:g}"
    if threaded < LEAST_THREAD_D * screw.diameter_mm - 1e-9:
        why = (
            f"{threaded:.1f} mm of thread in the wood, under 6 diameters ({LEAST_THREAD_D * screw.diameter_mm:.0f} mm):"
            " outside EN 1995-1-1, 8.7.2(3)"
        )
        return FixingCapacity(None, None, "EN 1995-1-1, 8.7.2", False, why, note, "quadratic", f"{fastener} in wood")
    pull = withdrawal_characteristic_n(screw.diameter_mm, thread, density_k_kg_m3)
    effective = 1.1 * screw.root_mm
    across = lateral_characteristic_n(
        effective,
        side_mm,
        inside - tip,
        embedment_mpa(effective, density_k_kg_m3, across_grain),
        yield_moment_nmm(effective, ultimate),
        pull,
        gap_mm,
    )
    declared = lag or screw_ultimate_mpa is not None
    in_wood = FixingCapacity(
        design * pull,
        design * across,
        "EN 1995-1-1:2004+A1, eq. 8.38 to 8.41 (withdrawal); 8.2.3, recalled (lateral)"
        + ("; gap by AWC TR12, recalled" if gap_mm > 0.0 else ""),
        declared,
        "" if declared else "the strength of the coach screw's steel is not declared; 400 MPa was counted sideways",
        note,
        "quadratic",
        f"{fastener} in wood of {density_k_kg_m3:g} kg/m3",
    )
    return weakest((in_wood, screw_steel(fastener)), f"{fastener} in wood")


def row_factor(count: int, spacing_mm: float, diameter_mm: float) -> float:
    """What share of its own load each of `count` screws in a row along the grain and the load carries: n_ef / n.

    n_ef = min(n, n^0.9 (a1 / 13 d)^0.25). Source: EN 1995-1-1, eq. 8.34, for bolts and, by 8.7.1, screws thicker than 6 mm
    (recalled). Raises ValueError for less than one screw.
    """
    if count < 1:
        raise ValueError(f"a row of {count} screws")
    if count == 1:
        return 1.0
    return float(min(1.0, count**-0.1 * (spacing_mm / (13.0 * diameter_mm)) ** 0.25))


def _gap_ratio(q: float, main_mm: float, moment: float, diameter: float, side_mm: float, gap_mm: float) -> float:
    """How much of the lateral resistance a gap leaves; the sheet bears as steel of 400 MPa (judgement)."""
    side = 1.375 * ASSUMED_ULTIMATE_MPA * diameter
    with_gap = min(yield_loads_n(Dowel(side, side_mm, q, main_mm, moment, moment, gap_mm)).values())
    without = min(yield_loads_n(Dowel(side, side_mm, q, main_mm, moment, moment)).values())
    return with_gap / without


def _within_formula() -> tuple[str, ...]:
    names = []
    for name in fasteners.wood_fastener_names():
        screw = fasteners.wood_fastener(name)
        if 6.0 <= screw.diameter_mm <= 12.0 and CORE_SHARE[0] <= screw.root_mm / screw.diameter_mm <= CORE_SHARE[1]:
            names.append(name)
    return tuple(names)
