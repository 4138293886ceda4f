"""Lag screws and wood screws in side grain by the NDS: withdrawal, lateral value, groups, lead holes, distances.

The formulas of withdrawal and Tables 12.2A and 12K were read; the rest of the NDS is recalled.
"""

import math
from dataclasses import dataclass

from steadfold.catalogue import fasteners, wood
from steadfold.catalogue.fasteners import MM_PER_INCH, MPA_PER_KSI, N_PER_LBF
from steadfold.catalogue.tables import NotInCatalogue
from steadfold.joints.capacity import FixingCapacity, weakest
from steadfold.joints.yield_limit import (
    Lateral,
    dowel_bearing_mpa,
    reference_lateral,
    sheet_bearing_mpa,
)

KINDS = ("lag screw", "wood screw")
LEAST_LATERAL_D = {"lag screw": 4.0, "wood screw": 6.0}
FULL_LATERAL_D = {"lag screw": 8.0, "wood screw": 10.0}
"""Penetration below which there is no lateral value, and from which the printed one is full (NDS 12.1.4, 12.1.5,
footnotes of Tables 12K and 12M; recalled)."""

LEAST_THREAD_D = 4.0
"""Least thread in the wood for withdrawal; taken from the least penetration of lag screws (recalled)."""

LAG_LEAD_HOLE = ((0.5, (0.40, 0.70)), (0.6, (0.60, 0.75)), (math.inf, (0.65, 0.85)))
"""Gravity up to which a lead hole of these shares of D suits; NDS 12.1.4.2 (recalled)."""

WOOD_SCREW_THREAD_SHARE = 2.0 / 3.0
WOOD_SCREW_TIP_D = 2.0
"""NDS Appendix L3 (recalled): two thirds of a cut-thread wood screw are thread; its tip is about 2 D long."""

SCREW_ULTIMATE_MPA = 60.0 * MPA_PER_KSI
SCREW_OMEGA = 2.0
"""Steel of a lag screw at its root: 60 ksi (ASTM A307) over 2.00 (AISC 360 for bolts); recalled. NDS 12.2.1 asks for
the check and leaves the strength to the maker."""


@dataclass(frozen=True)
class ScrewInWood:
    """How much of a screw is in the wood, mm.

    `penetration_mm` from the face of the wood to the point, tip included; `thread_mm` of thread in the wood, tip
    left out; `bearing_mm` counts sideways (half the tip left out up to 10 D of penetration; NDS 12.3.5).
    """

    penetration_mm: float
    thread_mm: float
    bearing_mm: float


def screw_in_wood(
    fastener: str, length_mm: float, before_wood_mm: float, wood_depth_mm: float | None = None
) -> ScrewInWood:
    """How much of a lag or wood screw is in the wood.

    `length_mm` under its head; `before_wood_mm` is sheet, washer and gap together; `wood_depth_mm` how deep the wood
    is (None: deeper than the screw reaches). Never below zero. Raises NotInCatalogue for other screws.
    """
    screw = _screw(fastener)
    if screw.kind == "lag screw":
        thread = fasteners.lag_thread_length_mm(length_mm)
        tip = screw.tip_mm or 0.0
    else:
        thread = WOOD_SCREW_THREAD_SHARE * length_mm
        tip = WOOD_SCREW_TIP_D * screw.diameter_mm
    # measured from the point backwards: what sticks out behind, then the wood
    past_face = max(0.0, length_mm - before_wood_mm)
    behind = 0.0 if wood_depth_mm is None else max(0.0, past_face - wood_depth_mm)
    inside = past_face - behind
    tip_inside = max(0.0, tip - behind)
    short = inside <= 10.0 * screw.diameter_mm
    return ScrewInWood(
        inside,
        max(0.0, min(thread, past_face) - max(tip, behind)),
        max(0.0, inside - tip_inside / 2.0) if short else inside,
    )


def withdrawal_n(fastener: str, specific_gravity: float, thread_mm: float, duration: str, wet: bool = False) -> float:
    """Allowable withdrawal, N: W x thread in the wood (tip left out) x C_D x C_M; side grain.

    Source: NDS 12.2.1 and 12.2.2; durations by the names of the catalogue's `nds_duration`.
    """
    factors = wood.load_duration_factor(duration) * (wood.wet_factor() if wet else 1.0)
    return wood.withdrawal_n_per_mm(fastener, specific_gravity) * thread_mm * factors


def lateral(
    fastener: str,
    specific_gravity: float,
    side_mm: float,
    side_bearing_mpa: float,
    main_mm: float,
    gap_mm: float = 0.0,
    across_grain: float = 0.0,
    main_bearing_mpa: float | None = None,
) -> Lateral:
    """Reference lateral value Z of a lag or wood screw through a steel side plate, N, no load duration yet.

    `across_grain` is the angle between load and grain, rad: gravity on an upright stud runs along it (0), on a
    lying rail across (pi/2). `gap_mm` is a soft or empty layer between sheet and wood: it bears nothing.
    `main_bearing_mpa` replaces the bearing strength of the wood (the standard's table rounds it to 50 psi).
    """
    screw = _screw(fastener)
    bending = screw.bending_yield_mpa
    if bending is None:
        raise NotInCatalogue("screw with a bending yield strength", fastener, fasteners.wood_fastener_names())
    bearing = main_bearing_mpa or dowel_bearing_mpa(specific_gravity, screw.diameter_mm, across_grain)
    return reference_lateral(
        screw.diameter_mm, screw.root_mm, bending, side_mm, side_bearing_mpa, main_mm, bearing, gap_mm, across_grain
    )


def nds_capacity(
    fastener: str,
    specific_gravity: float,
    length_mm: float,
    side_mm: float,
    side_ultimate_mpa: float,
    gap_mm: float = 0.0,
    washer_thickness_mm: float = 0.0,
    across_grain: float = math.pi / 2.0,
    duration: str = "permanent",
    wet: bool = False,
    thread_mm: float | None = None,
    wood_depth_mm: float | None = None,
) -> FixingCapacity:
    """A lag or wood screw through sheet into side grain, with the steel of the screw as a second link.

    Without a direction the load counts across the grain, the weaker one. `thread_mm` overrides the thread in the
    wood (tip left out) that the screw's length gives. Lateral: between the least and the full penetration the
    lower of the yield equations and the tables' rule p/8D (lag) or p/10D (wood screw). Interaction: NDS 12.4.1
    (lag screws) and 12.4.2 (wood screws).
    """
    screw = _screw(fastener)
    geometry = screw_in_wood(fastener, length_mm, side_mm + washer_thickness_mm + gap_mm, wood_depth_mm)
    thread = geometry.thread_mm if thread_mm is None else thread_mm
    missing = []
    tension: float | None = withdrawal_n(fastener, specific_gravity, thread, duration, wet)
    if thread < LEAST_THREAD_D * screw.diameter_mm - 1e-9:
        tension = None
        missing.append(
            f"{thread:.1f} mm of thread in the wood, under 4 diameters ({LEAST_THREAD_D * screw.diameter_mm:.1f} mm):"
            " no published withdrawal value"
        )
    shear = _lateral_allowable(
        fastener, specific_gravity, geometry, side_mm, sheet_bearing_mpa(side_ultimate_mpa, side_mm), gap_mm,
        across_grain,
    )  # fmt: skip
    if shear is None:
        missing.append(
            f"{geometry.penetration_mm:.1f} mm in the wood, under {LEAST_LATERAL_D[screw.kind]:g} diameters:"
            " no published lateral value"
        )
    else:
        shear *= wood.load_duration_factor(duration) * (wood.wet_factor() if wet else 1.0)
    factor = f"allowable of the NDS, load duration '{duration}' x{wood.load_duration_factor(duration):g}"
    if wet:
        factor += f", wet x{wood.wet_factor():g}"
    gap = f"; lateral with a gap of {gap_mm:g} mm by AWC TR12, recalled" if gap_mm > 0.0 else ""
    in_wood = FixingCapacity(
        tension,
        shear,
        f"withdrawal {wood.withdrawal_source().sentence}; lateral ANSI/AWC NDS:2018, yield limit equations 12.3.1,"
        f" recalled{gap}",
        not missing,
        "; ".join(missing),
        factor,
        "hankinson" if screw.kind == "lag screw" else "linear",
        f"{fasteners.fastener_words(fastener)}, in wood of gravity {specific_gravity:g}",
    )
    return weakest((in_wood, screw_steel(fastener)), f"{fastener} in wood")


def screw_steel(fastener: str) -> FixingCapacity:
    """The steel of a screw in tension at its root; sideways the yield modes have it already."""
    screw = fasteners.wood_fastener(fastener)
    area = math.pi / 4.0 * screw.root_mm**2
    tension = SCREW_ULTIMATE_MPA * area / SCREW_OMEGA
    return FixingCapacity(
        tension,
        0.6 * tension,
        "ASTM A307 least strength over the root of the thread, shear 0.6 of it, recalled",
        True,
        "",
        "2.0 on ultimate",
        "bolt",
        f"steel of the {fastener}",
    )


def group_factor(
    count: int,
    spacing_mm: float,
    diameter_mm: float,
    main_modulus_mpa: float,
    main_area_mm2: float,
    side_modulus_mpa: float,
    side_area_mm2: float,
    metal_side: bool = True,
) -> float:
    """Group action factor C_g of `count` screws in a row along the load; 1 below 1/4 in.

    Load/slip modulus 270,000 D^1.5 lbf/in (wood to metal) or 180,000 D^1.5 (wood to wood), D in inch.
    Source: NDS 11.3.6, eq. 11.3-1 (recalled). Raises ValueError for less than one screw.
    """
    if count < 1:
        raise ValueError(f"a row of {count} screws")
    inch = diameter_mm / MM_PER_INCH
    if count == 1 or inch < 0.25 - 1e-9:
        return 1.0
    slip = (270_000.0 if metal_side else 180_000.0) * inch**1.5 * N_PER_LBF / MM_PER_INCH
    main, side = main_modulus_mpa * main_area_mm2, side_modulus_mpa * side_area_mm2
    ratio = min(main / side, side / main)
    u = 1.0 + slip * spacing_mm / 2.0 * (1.0 / main + 1.0 / side)
    m = u - math.sqrt(u * u - 1.0)
    power = m**count
    first = m * (1.0 - power**2) / (count * ((1.0 + ratio * power) * (1.0 + m) - 1.0 + power**2))
    return first * (1.0 + ratio) / (1.0 - m)


@dataclass(frozen=True)
class LeadHole:
    """Hole to drill before driving: for the thread (least, most; None where none is needed) and for the shank, mm."""

    thread_mm: tuple[float, float] | None
    shank_mm: float
    source: str


def lead_hole(fastener: str, specific_gravity: float) -> LeadHole:
    """Lead holes by the weight of the wood.

    Lag screws: 40 to 70 % of D up to G 0.5, 60 to 75 % up to 0.6, 65 to 85 % above; the shank at full D. Wood screws
    loaded in withdrawal: none needed up to 0.5, 70 % of the root up to 0.6, 90 % above; shank 7/8 D, in the heavy
    woods D. Source: NDS 12.1.4.2 and 12.1.5 (recalled).
    """
    screw = _screw(fastener)
    diameter = screw.diameter_mm
    if screw.kind == "lag screw":
        low, high = next(shares for heaviest, shares in LAG_LEAD_HOLE if specific_gravity <= heaviest)
        return LeadHole((low * diameter, high * diameter), diameter, "ANSI/AWC NDS:2018, 12.1.4.2, recalled")
    thread = None if specific_gravity <= 0.5 else (0.70 if specific_gravity <= 0.6 else 0.90) * screw.root_mm
    shank = diameter if specific_gravity > 0.6 else 0.875 * diameter
    return LeadHole(None if thread is None else (thread, thread), shank, "ANSI/AWC NDS:2018, 12.1.5, recalled")


@dataclass(frozen=True)
class Distances:
    """Least distances of a screw in wood, mm: from an edge, an end (full value under tension), to the next screw."""

    edge_mm: float
    end_mm: float
    end_full_mm: float
    spacing_mm: float
    source: str


def least_distances(fastener: str) -> Distances:
    """Edge, end and spacing distances of a screw; NDS 12.5 (recalled)."""
    diameter, rule = fasteners.wood_fastener(fastener).diameter_mm, wood.placement()
    return Distances(
        rule.edge_d * diameter,
        rule.end_d * diameter,
        rule.end_full_d * diameter,
        rule.spacing_d * diameter,
        rule.source.sentence,
    )


def _screw(name: str) -> fasteners.WoodFastener:
    screw = fasteners.wood_fastener(name)
    if screw.kind not in KINDS:
        known = (each for each in fasteners.wood_fastener_names() if fasteners.wood_fastener(each).kind in KINDS)
        raise NotInCatalogue("screw with NDS values", name, known)
    return screw


def _lateral_allowable(
    fastener: str,
    specific_gravity: float,
    geometry: ScrewInWood,
    side_mm: float,
    side_bearing_mpa: float,
    gap_mm: float,
    across_grain: float,
) -> float | None:
    screw = _screw(fastener)
    least = LEAST_LATERAL_D[screw.kind] * screw.diameter_mm
    full = FULL_LATERAL_D[screw.kind] * screw.diameter_mm
    if geometry.penetration_mm < least - 1e-9 or geometry.bearing_mm <= 0.0:
        return None

    def value(main_mm: float) -> float:
        return lateral(fastener, specific_gravity, side_mm, side_bearing_mpa, main_mm, gap_mm, across_grain).value_n

    by_equations = value(geometry.bearing_mm)
    if geometry.penetration_mm >= full:
        return by_equations
    return min(by_equations, value(full) * geometry.penetration_mm / full)
