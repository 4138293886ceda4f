"""Screws, bolts, washers and rods: sizes, stress areas, clearance holes, proof loads."""

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Any

from steadfold.catalogue.sources import Citation, citation
from steadfold.catalogue.tables import NotInCatalogue, key_of, table

MM_PER_INCH = 25.4
MPA_PER_KSI = 6.894757293168361
N_PER_LBF = 4.4482216152605
FITS = ("close", "normal", "loose")


@dataclass(frozen=True)
class Washer:
    """A plain washer: hole, outside diameter, thickness, in mm."""

    inside_mm: float
    outside_mm: float
    thickness_mm: float
    source: Citation


@dataclass(frozen=True)
class Bolt:
    """A threaded size, metric (coarse) or unified (UNC), in mm whatever it is called in.

    `clearance_mm` holds the close, normal and loose clearance hole (ISO 273 says fine, medium, coarse).
    `stress_area_mm2` is the printed value; `stress_area_by_formula_mm2` what its definition gives.
    """

    size: str
    system: str
    diameter_mm: float
    pitch_mm: float
    stress_area_mm2: float
    across_flats_mm: float
    head_height_mm: float
    clearance_mm: tuple[float, float, float]
    tap_drill_mm: float
    tap_drill_name: str
    washer: Washer
    large_washer: Washer
    source: Citation
    clearance_source: Citation
    head_source: Citation
    tap_source: Citation

    @property
    def threads_per_inch(self) -> float:
        """How many turns of thread an inch holds."""
        return MM_PER_INCH / self.pitch_mm

    @property
    def stress_area_by_formula_mm2(self) -> float:
        """pi/4 (d - 0.9382 P)^2; ISO 898-1 and, in inches, ASME B1.1 (0.9743/n is 0.9743 P)."""
        share = 0.9382 if self.system == "metric" else 0.9743
        return math.pi / 4.0 * (self.diameter_mm - share * self.pitch_mm) ** 2

    def clearance_hole_mm(self, fit: str = "normal") -> float:
        """Diameter of the clearance hole for a 'close', 'normal' or 'loose' fit."""
        if fit not in FITS:
            raise NotInCatalogue("fit of a clearance hole", fit, FITS)
        return self.clearance_mm[FITS.index(fit)]

    def thread_percent(self, drill_mm: float) -> float:
        """Thread left by a tap in a hole of this diameter, per cent of full: 100 (D - drill) / (1.299 P)."""
        return 100.0 * (self.diameter_mm - drill_mm) / (1.299 * self.pitch_mm)


@dataclass(frozen=True)
class Grade:
    """A strength class of bolts; stresses in MPa.

    `shear_share` of the ultimate is what a plane through the thread carries in shear, before partial factors
    (EN 1993-1-8, Table 3.4; recalled).
    """

    id: str
    system: str
    proof_mpa: float
    yield_mpa: float
    ultimate_mpa: float
    shear_share: float
    source: Citation


@dataclass(frozen=True)
class WoodFastener:
    """A wood screw, lag screw or coach screw.

    `tip_mm` is the tapered point that does not count as thread; None where not known. `bending_yield_mpa`
    is None for metric coach screws (the product's own declaration has it).
    """

    size: str
    kind: str
    diameter_mm: float
    root_mm: float
    tip_mm: float | None
    head_mm: float
    bending_yield_mpa: float | None
    source: Citation


@dataclass(frozen=True)
class ThreadedRod:
    """Hanger rod of unknown grade: root area, and the load the lower of two lists allows.

    `newer_load_n` is what a newer list allows, None where it has no such size.
    """

    size: str
    pitch_mm: float
    root_area_mm2: float
    load_n: float
    newer_load_n: float | None
    source: Citation
    newer_source: Citation

    @property
    def take_up_per_turn_mm(self) -> float:
        """How much one turn of one nut shortens the rod; a left-and-right turnbuckle takes up twice this."""
        return self.pitch_mm


def bolt_sizes(system: str | None = None) -> tuple[str, ...]:
    """All sizes, or those of 'metric' or 'unified'."""
    return tuple(size for size, each in _bolts().items() if system in (None, each.system))


def bolt(size: str) -> Bolt:
    """The bolt of this size: 'M8', '5/16', '#10'; a thread count or 'in' may follow ('5/16-18').

    Raises `NotInCatalogue` for any other text.

    >>> bolt("M8").clearance_hole_mm("normal"), bolt("3/8-16").pitch_mm
    (9.0, 1.5875)
    """
    found = _bolts().get(_size_of(size))
    if found is None:
        raise NotInCatalogue("bolt size", size, _bolts())
    return found


def grade_ids(system: str | None = None) -> tuple[str, ...]:
    """All strength classes, or those of one system."""
    return tuple(name for name, each in _grades().items() if system in (None, each.system))


def grade(name: str) -> Grade:
    """The strength class '8.8', 'A2-70', 'grade 5' ...; raises NotInCatalogue."""
    by_key = {key_of(each): each for each in _grades()}
    found = by_key.get(key_of(name))
    if found is None:
        raise NotInCatalogue("strength class", name, _grades())
    return _grades()[found]


def proof_load_n(size: str, strength: str) -> float:
    """Stress area times proof stress, N (ISO 898-1 and SAE J429 print this rounded)."""
    fastener, metal = _pair(size, strength)
    return fastener.stress_area_mm2 * metal.proof_mpa


def ultimate_load_n(size: str, strength: str) -> float:
    """Stress area times least ultimate strength, N."""
    fastener, metal = _pair(size, strength)
    return fastener.stress_area_mm2 * metal.ultimate_mpa


def design_tension_n(size: str, strength: str) -> float:
    """Tension resistance 0.9 fub As / 1.25; EN 1993-1-8, Table 3.4 (recalled)."""
    factors = table("fasteners")["design"]
    return float(factors["tension_share"]) * ultimate_load_n(size, strength) / float(factors["gamma_m2"])


def design_shear_n(size: str, strength: str) -> float:
    """Shear resistance of a plane through the thread, N: 0.6 (or 0.5) fub As / 1.25.

    Source: EN 1993-1-8, Table 3.4 (recalled).
    """
    factors = table("fasteners")["design"]
    return grade(strength).shear_share * ultimate_load_n(size, strength) / float(factors["gamma_m2"])


def preload_n(size: str, strength: str) -> float:
    """Clamp load at 75 % of proof, N; what a torque wrench aims at."""
    return float(table("fasteners")["torque"]["preload_share"]) * proof_load_n(size, strength)


def tightening_torque_nmm(size: str, strength: str, oiled: bool = False) -> float:
    """T = K F d at 75 % of proof, in N mm; K 0.20 dry, 0.15 oiled: good to about a quarter either way."""
    row = table("fasteners")["torque"]
    return float(row["oiled" if oiled else "dry"]) * preload_n(size, strength) * bolt(size).diameter_mm


def design_source() -> Citation:
    """Where the design resistances of bolts come from."""
    return citation(table("fasteners")["design"]["source"])


def wood_fastener_names() -> tuple[str, ...]:
    """'wood screw #10', 'lag screw 1/4', 'coach screw d8' ..."""
    return tuple(_wood_fasteners())


def wood_fastener(name: str) -> WoodFastener:
    """The screw of this kind and size, as `wood_fastener_names` spells them.

    >>> wood_fastener("lag screw 1/4").root_mm
    4.3942
    """
    by_key = {key_of(each): each for each in _wood_fasteners()}
    found = by_key.get(key_of(name))
    if found is None:
        raise NotInCatalogue("wood screw", name, _wood_fasteners())
    return _wood_fasteners()[found]


def fastener_words(name: str) -> str:
    """A screw's name as a sentence says it: a size that is a fraction of an inch gets its mark.

    >>> fastener_words("lag screw 1/4"), fastener_words("wood screw #10")
    ('lag screw 1/4"', 'wood screw #10')
    """
    return f'{name}"' if re.search(r"(?<!\d)\d+/\d+$", name) else name


def lag_thread_length_mm(length_mm: float) -> float:
    """Least thread on a lag screw of this length, tip included: half of it plus 1/2 in, at most 6 in.

    Source: ASME B18.2.1 (recalled). Never longer than the screw.
    """
    return min(length_mm, length_mm / 2.0 + 0.5 * MM_PER_INCH, 6.0 * MM_PER_INCH)


def rod_sizes() -> tuple[str, ...]:
    """Sizes of threaded rod with a published load."""
    return tuple(_rods())


def threaded_rod(size: str) -> ThreadedRod:
    """Threaded rod of this size; raises NotInCatalogue."""
    found = _rods().get(_size_of(size))
    if found is None:
        raise NotInCatalogue("threaded rod", size, _rods())
    return found


def _pair(size: str, strength: str) -> tuple[Bolt, Grade]:
    fastener, metal = bolt(size), grade(strength)
    if fastener.system != metal.system:
        raise NotInCatalogue(f"strength class of {fastener.system} bolts", strength, grade_ids(fastener.system))
    return fastener, metal


def _size_of(text: str) -> str:
    size = text.strip().removesuffix('"').removesuffix("in").strip()
    if size[:1] in ("m", "M"):
        return "M" + size[1:].split("x")[0].strip()
    if "-" in size and not size.startswith("-"):
        size = size.split("-")[0].strip()
    return size


@cache
def _bolts() -> dict[str, Bolt]:
    data = table("fasteners")
    found: dict[str, Bolt] = {}
    for system, inch in (("metric", 1.0), ("unified", MM_PER_INCH)):
        group = data[system]
        cited = {name: citation(group[name]) for name in group if name.endswith("source")}
        for row in group["rows"]:
            found[row["size"]] = _bolt_of(row, system, inch, cited)
    return found


def _bolt_of(row: dict[str, Any], system: str, inch: float, cited: dict[str, Citation]) -> Bolt:
    fits = tuple(value * inch for value in row["clearance"])
    pitch = row["pitch"] if "pitch" in row else MM_PER_INCH / row["tpi"]
    return Bolt(
        size=row["size"],
        system=system,
        diameter_mm=row["d"] * inch,
        pitch_mm=pitch,
        stress_area_mm2=row["area"] * inch * inch,
        across_flats_mm=row["flats"] * inch,
        head_height_mm=row["head"] * inch,
        clearance_mm=(fits[0], fits[1], fits[2]),
        tap_drill_mm=row["tap"] * inch,
        tap_drill_name=row.get("tap_name", f"{row['tap']:g} mm"),
        washer=_washer_of(row["washer"], inch, cited["washer_source"]),
        large_washer=_washer_of(row["large_washer"], inch, cited["large_washer_source"]),
        source=cited["source"],
        clearance_source=cited["clearance_source"],
        head_source=cited["head_source"],
        tap_source=cited["tap_source"],
    )


def _washer_of(sizes: list[float], inch: float, origin: Citation) -> Washer:
    inside, outside, thickness = (size * inch for size in sizes)
    return Washer(inside, outside, thickness, origin)


@cache
def _grades() -> dict[str, Grade]:
    found = {}
    for row in table("fasteners")["grade"]["rows"]:
        unit = 1.0 if row["system"] == "metric" else MPA_PER_KSI
        found[row["id"]] = Grade(
            row["id"],
            row["system"],
            row["proof"] * unit,
            row["yield"] * unit,
            row["ultimate"] * unit,
            row["shear_share"],
            citation(row["source"]),
        )
    return found


@cache
def _wood_fasteners() -> dict[str, WoodFastener]:
    data = table("fasteners")
    found = {}
    for kind, inch in (("wood_screw", MM_PER_INCH), ("lag_screw", MM_PER_INCH), ("coach_screw", 1.0)):
        origin = citation(data[kind]["source"])
        for row in data[kind]["rows"]:
            title = kind.replace("_", " ")
            bending = row.get("bending_yield_ksi")
            found[f"{title} {row['size']}"] = WoodFastener(
                row["size"],
                title,
                row["d"] * inch,
                row.get("root", row.get("core")) * inch,
                row["tip"] * inch if "tip" in row else None,
                row.get("head", row.get("flats")) * inch,
                None if bending is None else bending * MPA_PER_KSI,
                origin,
            )
    return found


@cache
def _rods() -> dict[str, ThreadedRod]:
    data = table("fasteners")["threaded_rod"]
    return {
        row["size"]: ThreadedRod(
            row["size"],
            MM_PER_INCH / row["tpi"],
            row["root_area"] * MM_PER_INCH**2,
            row["load_lbf"] * N_PER_LBF,
            row["newer_lbf"] * N_PER_LBF if "newer_lbf" in row else None,
            citation(data["source"]),
            citation(data["newer_source"]),
        )
        for row in data["rows"]
    }
