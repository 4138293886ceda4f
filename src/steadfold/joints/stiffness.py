"""How far a fixing gives under load: a low and a high stiffness, since nobody knows it to better than a half."""

import math
from dataclasses import dataclass

from steadfold.catalogue import fasteners
from steadfold.catalogue.fasteners import MM_PER_INCH, N_PER_LBF
from steadfold.joints.sheet_hole import SheetHole

STEEL_MODULUS_MPA = 205_000.0
M16_MM = 16.0


@dataclass(frozen=True)
class Stiffness:
    """A stiffness between `low` and `high`, N/mm; `judgement` is true where no publication gives the range."""

    low_n_per_mm: float
    high_n_per_mm: float
    source: str
    judgement: bool

    def __post_init__(self) -> None:
        if not 0.0 < self.low_n_per_mm <= self.high_n_per_mm:
            raise ValueError(f"a stiffness from {self.low_n_per_mm} to {self.high_n_per_mm} N/mm")

    @property
    def middle_n_per_mm(self) -> float:
        """The geometric mean, for a single run."""
        return math.sqrt(self.low_n_per_mm * self.high_n_per_mm)


def bolt_axial(size: str, grip_mm: float, threaded_mm: float | None = None) -> Stiffness:
    """Axial stiffness of a bolt over its grip, N/mm.

    High: shank and thread of the grip alone, A E / l in a row (Shigley). Low: with half a diameter in the head, half
    in the thread and 0.4 d of nut besides (VDI 2230; recalled). `threaded_mm` is how much of the grip is thread; all
    of it where not given. Raises ValueError for no grip.
    """
    if not grip_mm > 0.0:
        raise ValueError(f"a grip of {grip_mm} mm")
    bolt = fasteners.bolt(size)
    thread = grip_mm if threaded_mm is None else min(max(threaded_mm, 0.0), grip_mm)
    shank_area, thread_area = math.pi / 4.0 * bolt.diameter_mm**2, bolt.stress_area_mm2
    grip = (grip_mm - thread) / shank_area + thread / thread_area
    ends = bolt.diameter_mm * ((0.5 + 0.4) / shank_area + 0.5 / thread_area)
    return Stiffness(
        STEEL_MODULUS_MPA / (grip + ends),
        STEEL_MODULUS_MPA / grip,
        "A E / l over the grip (Shigley); with head, thread and nut by VDI 2230, recalled",
        False,
    )


def bolt_shear(size: str, strength: str, first: SheetHole, second: SheetHole | None = None) -> Stiffness:
    """Shear stiffness of one bolt that bears on its holes, N/mm; the clearance comes before it.

    Component method: bolt in shear E k11 = 16 d^2 fub / 16 mm, bearing of each sheet E k12 = 24 kb kt d fu with
    kb = min(0.25 e/d + 0.5, 1.25) and kt = min(1.5 t/16 mm, 2.5), in a row. Source: EN 1993-1-8, Table 6.11
    (recalled). Low: half of it (judgement: loose bolts bear first on one edge). `second` None: what is behind does
    not give.
    """
    bolt = fasteners.bolt(size)
    shear = 16.0 * bolt.diameter_mm**2 * fasteners.grade(strength).ultimate_mpa / M16_MM
    give = 1.0 / shear + sum(1.0 / _bearing(bolt.diameter_mm, sheet) for sheet in (first, second) if sheet is not None)
    return Stiffness(0.5 / give, 1.0 / give, "EN 1993-1-8, Table 6.11, recalled; low end halved, judgement", True)


def screw_slip_modulus(diameter_mm: float, density_mean_kg_m3: float) -> Stiffness:
    """Lateral stiffness of one screw from a steel sheet into wood, N/mm.

    High: 2 Kser, Kser = rho^1.5 d / 23, doubled for steel to timber. Low: 2/3 Kser, the ultimate one and not
    doubled. Source: EN 1995-1-1, Table 7.1, 7.1(3) (read in a reproduction) and eq. 2.1; recalled.
    """
    kser = density_mean_kg_m3**1.5 * diameter_mm / 23.0
    return Stiffness(2.0 / 3.0 * kser, 2.0 * kser, "EN 1995-1-1, Table 7.1 and 7.1(3), recalled", False)


def screw_load_slip(diameter_mm: float) -> float:
    """Load/slip modulus of a lag screw or bolt, wood to metal, N/mm: 270,000 D^1.5 lbf/in.

    Source: NDS 11.3.6 (recalled).
    """
    return 270_000.0 * (diameter_mm / MM_PER_INCH) ** 1.5 * N_PER_LBF / MM_PER_INCH


def screw_axial(diameter_mm: float, thread_mm: float, density_mean_kg_m3: float) -> Stiffness:
    """Axial stiffness of a screw drawn from side grain, N/mm.

    Between 234 (rho d)^0.2 l^0.4 (Blass, Bejtka and Uibel 2006) and 25 d l (technical approvals of screws); both
    recalled, and neither is in EN 1995-1-1:2004.
    """
    ways = (
        234.0 * (density_mean_kg_m3 * diameter_mm) ** 0.2 * thread_mm**0.4,
        25.0 * diameter_mm * thread_mm,
    )
    return Stiffness(
        min(ways), max(ways), "Blass, Bejtka & Uibel 2006 and technical approvals of screws, recalled", True
    )


def in_a_row(*parts: Stiffness) -> Stiffness:
    """Several stiffnesses one after the other: their gives add up. Raises `ValueError` for none."""
    if not parts:
        raise ValueError("nothing to put in a row")
    return Stiffness(
        1.0 / sum(1.0 / each.low_n_per_mm for each in parts),
        1.0 / sum(1.0 / each.high_n_per_mm for each in parts),
        "; ".join(dict.fromkeys(each.source for each in parts)),
        any(each.judgement for each in parts),
    )


def _bearing(diameter_mm: float, sheet: SheetHole) -> float:
    edge = 1.25 if sheet.end_mm is None else min(0.25 * sheet.end_mm / diameter_mm + 0.5, 1.25)
    thick = min(1.5 * sheet.thickness_mm / M16_MM, 2.5)
    return 24.0 * edge * thick * diameter_mm * sheet.ultimate_mpa
