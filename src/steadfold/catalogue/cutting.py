"""Laser cutting by material and power, and the general tolerances a drawing without its own falls back on."""

from dataclasses import dataclass
from itertools import pairwise
from math import exp, log

from steadfold.catalogue.sources import Citation, citation
from steadfold.catalogue.tables import NotInCatalogue, table


@dataclass(frozen=True)
class Spread:
    """A low and a high value and where they come from."""

    low: float
    high: float
    source: Citation

    @property
    def middle(self) -> float:
        """Half way between low and high."""
        return (self.low + self.high) / 2.0


@dataclass(frozen=True)
class SmallestCut:
    """Least laser-cut holes and webs, as multiples of thickness and in mm (the larger counts)."""

    hole_t: float
    hole_possible_t: float
    hole_mm: float
    web_t: float
    web_mm: float
    fit_clearance_mm: tuple[float, float]
    source: Citation


def cut_speed_m_per_min(family: str, thickness_mm: float, power_kw: float = 3.0) -> Spread:
    """Chart speed of a fibre laser, m/min: 'mild steel' (and 'galvanised'), 'stainless' or 'aluminium'.

    Between charted thicknesses and between 3 and 6 kW it is read on straight lines of logarithms; thinner
    than 1 mm counts as 1 mm. Raises NotInCatalogue beyond 6 mm or outside 3 to 6 kW: the chart stops there.
    Jobs with many small features run at `small_feature_share` of it.
    """
    groups = table("cutting")["speed"]
    name = "mild steel" if family == "galvanised" else family
    if name not in groups:
        raise NotInCatalogue("metal with a cutting speed", family, groups)
    rows = groups[name]["rows"]
    thickest = rows[-1]["thickness"]
    if thickness_mm > thickest or not 3.0 <= power_kw <= 6.0:
        raise NotInCatalogue(
            "cutting speed",
            f"{family}, {thickness_mm:g} mm, {power_kw:g} kW",
            groups,
            hint=f"the chart ends at {thickest:g} mm and runs from 3 to 6 kW",
        )
    ends = [
        _between([(row["thickness"], row[f"kw{kw}"][end]) for row in rows], max(thickness_mm, 1.0))
        for kw in (3, 6)
        for end in (0, 1)
    ]
    low = _between([(3.0, ends[0]), (6.0, ends[2])], power_kw)
    high = _between([(3.0, ends[1]), (6.0, ends[3])], power_kw)
    return Spread(low, high, citation(groups[name]["source"]))


def small_feature_share() -> Spread:
    """Share of chart speed that real jobs with small features reach."""
    row = table("cutting")["small_features"]
    return Spread(row["share"][0], row["share"][1], citation(row["source"]))


def pierce_seconds(thickness_mm: float) -> Spread:
    """Time to pierce once, s; raises NotInCatalogue beyond 6 mm."""
    for row in table("cutting")["pierce"]["rows"]:
        if thickness_mm <= row["up_to"]:
            return Spread(row["seconds"][0], row["seconds"][1], citation(row["source"]))
    raise NotInCatalogue("piercing time", f"{thickness_mm:g} mm", (), hint="the list ends at 6 mm")


def kerf_mm() -> Spread:
    """Width of a laser's cut, mm."""
    row = table("cutting")["kerf"]
    return Spread(row["mm"][0], row["mm"][1], citation(row["source"]))


def smallest_cut() -> SmallestCut:
    """Least holes, webs and clearances for laser cutting."""
    row = dict(table("cutting")["smallest"])
    clearance = row["fit_clearance_mm"]
    row["fit_clearance_mm"] = (clearance[0], clearance[1])
    row["source"] = citation(row["source"])
    return SmallestCut(**row)


def linear_tolerance_mm(nominal_mm: float) -> float:
    """General tolerance of a length, class m, +- mm; NotInCatalogue outside 0.5 to 4000 mm.

    Source: ISO 2768-1, Table 1.

    >>> linear_tolerance_mm(250.0)
    0.5
    """
    return _row_of("general_linear", nominal_mm, "general tolerance")["plus_minus"]


def angle_tolerance_deg(shorter_leg_mm: float) -> float:
    """General tolerance of an angle by its shorter leg, class m, +- degrees.

    Source: ISO 2768-1, Table 3 (recalled).
    """
    return _row_of("general_angle", shorter_leg_mm, "general tolerance of an angle")["minutes"] / 60.0


def general_tolerance_source(angle: bool = False) -> Citation:
    """Where the general tolerances come from."""
    return citation(table("cutting")["general_angle" if angle else "general_linear"]["source"])


def perpendicularity_mm(thickness_mm: float, quality_range: int = 2) -> float:
    """How far a thermal cut may lean, mm: range 1, 2 or 3; ISO 9013 (formulas recalled), 0.5 to 32 mm."""
    return _thermal("perpendicularity", thickness_mm, quality_range)


def roughness_um(thickness_mm: float, quality_range: int = 2) -> float:
    """Mean height Rz5 of a thermal cut, um: range 1 or 2; ISO 9013 (formulas recalled), 0.5 to 32 mm."""
    return _thermal("roughness_um", thickness_mm, quality_range)


def _thermal(what: str, thickness_mm: float, quality_range: int) -> float:
    if not 0.5 <= thickness_mm <= 32.0:
        raise ValueError(f"{thickness_mm:g} mm is outside the 0.5 to 32 mm of ISO 9013 for laser cuts")
    rows = {row["range"]: row for row in table("cutting")["thermal_cut"][what]}
    if quality_range not in rows:
        raise NotInCatalogue(f"range of {what}", str(quality_range), (str(n) for n in rows))
    row = rows[quality_range]
    return float(row["constant"] + row["slope"] * thickness_mm)


def _row_of(name: str, value: float, what: str) -> dict[str, float]:
    rows: list[dict[str, float]] = table("cutting")[name]["rows"]
    for index, row in enumerate(rows):
        # The first row's lower end belongs to it ("0.5 up to 3"); elsewhere it belongs to the row before.
        above = value >= row["over"] if index == 0 else value > row["over"]
        if above and value <= row["up_to"]:
            return row
    ends = f"the table runs from {rows[0]['over']:g} to {rows[-1]['up_to']:g} mm"
    raise NotInCatalogue(what, f"{value:g} mm", (), hint=ends)


def _between(points: list[tuple[float, float]], at: float) -> float:
    """The value at `at` on straight lines through the logarithms of the points, which bracket it."""
    for (x0, y0), (x1, y1) in pairwise(points):
        if at <= x1:
            share = log(at / x0) / log(x1 / x0)
            return exp(log(y0) + share * log(y1 / y0))
    return points[-1][1]
