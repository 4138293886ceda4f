"""A dowel across one joint, loaded sideways, until wood or dowel gives way: the yield modes, with a gap between.

Letters as in the sources: q bearing per length of dowel (N/mm), l bearing length, M moment of the dowel at yield,
g gap; s is the side member (the sheet), m the main member (the wood).
"""

import math
from dataclasses import dataclass

from steadfold.catalogue.fasteners import MM_PER_INCH

MPA_PER_PSI = 0.006894757293168361
MODES = ("Im", "Is", "II", "IIIm", "IIIs", "IV")


@dataclass(frozen=True)
class Dowel:
    """One dowel in single shear: bearing per length and length on both sides, its moments, and the gap."""

    side_n_per_mm: float
    side_mm: float
    main_n_per_mm: float
    main_mm: float
    side_moment_nmm: float
    main_moment_nmm: float
    gap_mm: float = 0.0

    def __post_init__(self) -> None:
        for name in ("side_n_per_mm", "side_mm", "main_n_per_mm", "main_mm", "side_moment_nmm", "main_moment_nmm"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} must be above zero, not {getattr(self, name)}")
        if not self.gap_mm >= 0.0:
            raise ValueError(f"gap_mm must not be negative, not {self.gap_mm}")


def yield_loads_n(dowel: Dowel) -> dict[str, float]:
    """Load at yield of each mode, N, before any reduction term.

    Im, Is: bearing of the main or side member; II: the dowel turns stiff; IIIm, IIIs: one hinge in the dowel;
    IV: two. Source: AWC Technical Report 12, 'General dowel equations', Table 1-1, single shear, solid members
    (recalled); with no gap they are the yield limit equations of NDS Table 12.3.1A.
    """
    qs, ls, qm, lm, gap = (
        dowel.side_n_per_mm, dowel.side_mm, dowel.main_n_per_mm, dowel.main_mm, dowel.gap_mm,
    )  # fmt: skip
    ms, mm = dowel.side_moment_nmm, dowel.main_moment_nmm
    turn_s, turn_m = qs * ls**2 / 4.0, qm * lm**2 / 4.0
    return {
        "Im": qm * lm,
        "Is": qs * ls,
        "II": _root(0.25 / qs + 0.25 / qm, ls / 2.0 + gap + lm / 2.0, -turn_s - turn_m),
        "IIIm": _root(0.5 / qs + 0.25 / qm, gap + lm / 2.0, -ms - turn_m),
        "IIIs": _root(0.25 / qs + 0.5 / qm, ls / 2.0 + gap, -turn_s - mm),
        "IV": _root(0.5 / qs + 0.5 / qm, gap, -ms - mm),
    }


def dowel_bearing_mpa(specific_gravity: float, diameter_mm: float, across_grain: float = 0.0) -> float:
    """Dowel bearing strength of wood, MPa; `across_grain` is the angle from the grain, rad, 0 to pi/2.

    D < 1/4 in: 16600 G^1.84 psi in any direction. From 1/4 in: 11200 G along, 6100 G^1.45 / sqrt(D) across the
    grain, Hankinson between. `diameter_mm` is the nominal one. Source: NDS Table 12.3.3 and 12.3.4 (recalled;
    it reproduces the printed Table 12K).
    """
    inch = diameter_mm / MM_PER_INCH
    if inch < 0.25 - 1e-9:
        return 16600.0 * specific_gravity**1.84 * MPA_PER_PSI
    along = 11200.0 * specific_gravity
    across = 6100.0 * specific_gravity**1.45 / math.sqrt(inch)
    sine, cosine = math.sin(across_grain), math.cos(across_grain)
    return along * across / (along * sine**2 + across * cosine**2) * MPA_PER_PSI


def sheet_bearing_mpa(ultimate_mpa: float, thickness_mm: float) -> float:
    """Dowel bearing strength of a steel side plate, MPa: 1.375 Fu of thin sheet, 1.5 Fu from 1/4 in on.

    Source: NDS Appendix I.2 (recalled): 61,850 psi for 45 ksi sheet and 87,000 psi for 58 ksi plate.
    """
    return (1.5 if thickness_mm >= 0.25 * MM_PER_INCH - 1e-6 else 1.375) * ultimate_mpa


def reduction_terms(nominal_mm: float, root_mm: float, across_grain: float = 0.0) -> dict[str, float]:
    """The terms Rd by which each yield mode is divided; NDS Table 12.3.1B (recalled).

    From 1/4 in of root: 4, 3.6 and 3.2, times K_theta = 1 + theta/360 deg. Below: K_D = 2.2 up to 0.17 in, then
    10 D + 0.5, the same for all modes; K_theta also counts where only the root is below 1/4 in.
    """
    inch = root_mm / MM_PER_INCH
    turned = 1.0 + 0.25 * across_grain / (math.pi / 2.0)
    if inch < 0.25 - 1e-9:
        term = 2.2 if inch <= 0.17 else 10.0 * inch + 0.5
        if nominal_mm / MM_PER_INCH >= 0.25 - 1e-9:
            term *= turned
        return dict.fromkeys(MODES, term)
    return {"Im": 4.0 * turned, "Is": 4.0 * turned, "II": 3.6 * turned} | dict.fromkeys(MODES[3:], 3.2 * turned)


@dataclass(frozen=True)
class Lateral:
    """Reference lateral value of one screw, N, with the mode that governs and all modes beside it."""

    value_n: float
    mode: str
    modes_n: dict[str, float]


def reference_lateral(
    nominal_mm: float,
    root_mm: float,
    bending_yield_mpa: float,
    side_mm: float,
    side_bearing_mpa: float,
    main_mm: float,
    main_bearing_mpa: float,
    gap_mm: float = 0.0,
    across_grain: float = 0.0,
) -> Lateral:
    """NDS reference lateral value Z of one screw in single shear, N, before load duration and the like.

    The dowel counts with its root diameter throughout, as NDS 12.3.7 has it for threads at the shear plane:
    q = Fe Dr, M = Fyb Dr^3 / 6. Lengths in mm, strengths in MPa, `across_grain` in rad.
    """
    moment = bending_yield_mpa * root_mm**3 / 6.0
    dowel = Dowel(side_bearing_mpa * root_mm, side_mm, main_bearing_mpa * root_mm, main_mm, moment, moment, gap_mm)
    terms = reduction_terms(nominal_mm, root_mm, across_grain)
    modes = {mode: load / terms[mode] for mode, load in yield_loads_n(dowel).items()}
    mode = min(modes, key=lambda name: modes[name])
    return Lateral(modes[mode], mode, modes)


def _root(a: float, b: float, c: float) -> float:
    """The positive root of a x^2 + b x + c for c < 0, in the form that does not cancel."""
    return -2.0 * c / (b + math.sqrt(b * b - 4.0 * a * c))
