"""The sheet around one fixing: bearing on the wall of the hole, tearing out to the edge, pulling over the head."""

from dataclasses import dataclass

from steadfold.joints.capacity import FixingCapacity

GAMMA_M2 = 1.25
FURTHER_FACTOR = 1.6
"""On top of EN partial factors: 1.25 x 1.6 = 2.0 between service and nominal strength, as for the bolt itself."""

OMEGA_BEARING = 2.50
OMEGA_TEAR_OUT = 2.22
OMEGA_PULL_OVER = 3.00
WIDEST_WASHER_MM = 19.05
"""AISI S100, J4.4.2: no washer counts as wider than 3/4 in (recalled)."""

AISI = "AISI S100-16"
EN_BOLTS = "EN 1993-1-8, Table 3.4"
EN_THIN = "EN 1993-1-3, Table 8.2"


@dataclass(frozen=True)
class SheetHole:
    """The sheet at one hole.

    `end_mm` and `edge_mm` run from the centre of the hole to the free edge along and across the load (None:
    far away). `ultimate_mpa` is the least tensile strength. `bears_on_mm` is the diameter of the head or washer
    that presses on it. `washers_both_sides` decides how bearing is rated (AISI mf). `one_sided` is true where the
    pull comes from one side of the screw only, as in the flange of an L: the sheet then pulls over at half.
    """

    thickness_mm: float
    ultimate_mpa: float
    hole_mm: float
    bears_on_mm: float
    end_mm: float | None = None
    edge_mm: float | None = None
    washers_both_sides: bool = False
    one_sided: bool = True

    def __post_init__(self) -> None:
        for name in ("thickness_mm", "ultimate_mpa", "hole_mm", "bears_on_mm"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} must be above zero, not {getattr(self, name)}")
        for name in ("end_mm", "edge_mm"):
            distance = getattr(self, name)
            if distance is not None and not distance > self.hole_mm / 2.0:
                raise ValueError(f"{name} of {distance} lies inside the hole of {self.hole_mm} mm")


def en_bearing_n(sheet: SheetHole, diameter_mm: float, bolt_ultimate_mpa: float = 800.0) -> float:
    """Design bearing resistance k1 ab fu d t / 1.25, N, of an end bolt; before any further factor.

    ab = min(e1/3d0, fub/fu, 1), k1 = min(2.8 e2/d0 - 1.7, 2.5). Source: EN 1993-1-8, Table 3.4 (recalled).
    Below e1 = 1.2 d0 the table does not apply: 0.
    """
    along = min(1.0, bolt_ultimate_mpa / sheet.ultimate_mpa)
    across = 2.5
    if sheet.end_mm is not None:
        if sheet.end_mm < 1.2 * sheet.hole_mm - 1e-9:
            return 0.0
        along = min(along, sheet.end_mm / (3.0 * sheet.hole_mm))
    if sheet.edge_mm is not None:
        if sheet.edge_mm < 1.2 * sheet.hole_mm - 1e-9:
            return 0.0
        across = min(across, 2.8 * sheet.edge_mm / sheet.hole_mm - 1.7)
    return across * along * sheet.ultimate_mpa * diameter_mm * sheet.thickness_mm / GAMMA_M2


def aisi_bearing_n(sheet: SheetHole, diameter_mm: float) -> float:
    """Allowable bearing C mf d t Fu / 2.50, N.

    C = 3 up to d/t = 10, 4 - 0.1 d/t up to 22, then 1.8; mf = 1.00 with washers on both sides, else 0.75.
    Source: AISI S100-16, J3.3.1 (recalled).
    """
    ratio = diameter_mm / sheet.thickness_mm
    coefficient = 3.0 if ratio < 10.0 else max(4.0 - 0.1 * ratio, 1.8)
    modifier = 1.0 if sheet.washers_both_sides else 0.75
    return coefficient * modifier * diameter_mm * sheet.thickness_mm * sheet.ultimate_mpa / OMEGA_BEARING


def aisi_tear_out_n(sheet: SheetHole) -> float | None:
    """Allowable load at which the sheet tears out to its end, N; None with no edge near.

    0.6 Fu (2 t e_net) / 2.22, e_net from the rim of the hole to the edge. Source: AISI S100-16, J6.1 (recalled).
    """
    if sheet.end_mm is None:
        return None
    clear = sheet.end_mm - sheet.hole_mm / 2.0
    return 0.6 * sheet.ultimate_mpa * 2.0 * sheet.thickness_mm * clear / OMEGA_TEAR_OUT


def bearing_n(sheet: SheetHole, diameter_mm: float, bolt_ultimate_mpa: float = 800.0) -> tuple[float, str]:
    """The least of the three allowables of the hole in shear, N, and which rule it is: EN bearing, AISI bearing, AISI tear-out."""
    ways = {
        f"{EN_BOLTS}, recalled": en_bearing_n(sheet, diameter_mm, bolt_ultimate_mpa) / FURTHER_FACTOR,
        f"{AISI} J3.3.1, recalled": aisi_bearing_n(sheet, diameter_mm),
    }
    tear = aisi_tear_out_n(sheet)
    if tear is not None:
        ways[f"{AISI} J6.1 (tear-out), recalled"] = tear
    rule = min(ways, key=lambda name: ways[name])
    return ways[rule], rule


def pull_over_n(sheet: SheetHole) -> tuple[float, str]:
    """Allowable pull of the sheet over its head or washer, N, and by which rule.

    AISI S100-16, J4.4.2: 1.5 t dw Fu / 3.00, dw at most 3/4 in. EN 1993-1-3, Table 8.2: dw t fu / 1.25, here
    divided by a further 1.6. Both are written for screws in thin sheet (EN: up to 1.5 mm) and come to the same;
    thicker sheet holds more than they say. A pull from one side of the screw counts half (AISI S100, J4.4.2;
    read in Yu & LaBoube, 'Cold-formed steel design', the rest recalled).
    """
    width = min(sheet.bears_on_mm, WIDEST_WASHER_MM)
    ways = {
        f"{AISI} J4.4.2, recalled": 1.5 * sheet.thickness_mm * width * sheet.ultimate_mpa / OMEGA_PULL_OVER,
        f"{EN_THIN}, recalled": width * sheet.thickness_mm * sheet.ultimate_mpa / GAMMA_M2 / FURTHER_FACTOR,
    }
    rule = min(ways, key=lambda name: ways[name])
    if sheet.bears_on_mm <= sheet.hole_mm:
        return 0.0, "the head is no wider than the hole"
    return ways[rule] * (0.5 if sheet.one_sided else 1.0), rule


def sheet_capacity(sheet: SheetHole, diameter_mm: float, bolt_ultimate_mpa: float = 800.0) -> FixingCapacity:
    """The sheet at one hole as a link of the chain: pull-over in tension, bearing and tear-out in shear."""
    tension, tension_rule = pull_over_n(sheet)
    shear, shear_rule = bearing_n(sheet, diameter_mm, bolt_ultimate_mpa)
    sided = ", pulled from one side: half" if sheet.one_sided else ""
    return FixingCapacity(
        tension,
        shear,
        f"pull-over: {tension_rule}; bearing: {shear_rule}",
        True,
        "",
        f"pull-over 3.0 on ultimate{sided}; bearing 2.0 (EN) or 2.5 (AISI), the lower",
        "linear",
        f"{sheet.thickness_mm:.2f} mm sheet at the hole",
    )


def least_end_distance_mm(hole_mm: float) -> float:
    """Least distance from the centre of a hole to an edge, 1.2 d0; EN 1993-1-8, Table 3.3 (recalled)."""
    return 1.2 * hole_mm
