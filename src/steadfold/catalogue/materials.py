"""Sheet metals, woods and prints: how stiff, how strong, how tightly they bend, and who promises it."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from steadfold.catalogue.sources import Citation, citation
from steadfold.catalogue.tables import NotInCatalogue, key_of, table

FAMILIES = ("mild steel", "galvanised", "stainless", "aluminium", "wood", "plastic")
YIELD_BASES = ("promised", "design limit", "typical")


@dataclass(frozen=True)
class RadiusRow:
    """Least inside radius for thicknesses over `over_mm`, up to and including `up_to_mm`.

    Either multiples of the thickness (`across_t`, `along_t`) or millimetres (`across_mm`, `along_mm`).
    *Across* is a bend line across the rolling direction (the easier one), *along* a bend line parallel to
    it; where the source does not tell them apart, only *across* is given.
    """

    over_mm: float
    up_to_mm: float
    across_t: float | None = None
    along_t: float | None = None
    across_mm: float | None = None
    along_mm: float | None = None

    def radius_mm(self, thickness_mm: float, along_grain: bool) -> float:
        """The radius of this row in mm at this thickness."""
        in_mm, in_t = (self.along_mm, self.along_t) if along_grain else (None, None)
        if in_mm is None and in_t is None:
            in_mm, in_t = self.across_mm, self.across_t
        return in_mm if in_mm is not None else (in_t or 0.0) * thickness_mm


@dataclass(frozen=True)
class BendRadius:
    """How tightly a sheet may be folded cold, through up to 90 degrees.

    `design_t` is the radius, in multiples of thickness, that a shop folds without thinking about it; `rows`
    are the limits.
    """

    design_t: float
    rows: tuple[RadiusRow, ...]
    source: Citation

    @property
    def tells_grain_apart(self) -> bool:
        """True if the source gives its own limit for a bend line parallel to the rolling direction."""
        return any(row.along_t is not None or row.along_mm is not None for row in self.rows)


@dataclass(frozen=True)
class Layers:
    """A direction in which the material is weaker: across the layers of a print, across the grain of wood.

    `in_layer_mpa` and `across_layer_mpa` are short-time strengths of the two directions. The ranges are
    what was reported; the strengths are the values to use. `across_modulus_mpa` is None where no separate
    value is known.
    """

    in_layer_mpa: float
    across_layer_mpa: float
    in_layer_range_mpa: tuple[float, float] | None
    across_layer_range_mpa: tuple[float, float] | None
    across_modulus_mpa: float | None
    source: Citation


@dataclass(frozen=True)
class Sustained:
    """What is left under a load that stays: wood and plastics creep.

    `stress_share`: share of the strength of that direction a lasting load may use. `short_share`: share for
    short cases. `modulus_factor`: share of the modulus left after a year. `near_glass_factor` replaces it
    when the place is warmer than `glass_transition_c` minus 25. Above `temperature_limit_c` the material is
    refused (None: no limit known here).
    """

    stress_share: float
    short_share: float
    modulus_factor: float
    near_glass_factor: float | None
    temperature_limit_c: float | None
    glass_transition_c: float | None
    source: Citation

    def modulus_factor_at(self, temperature_c: float) -> float:
        """Share of the modulus left after a year at this temperature; raises ValueError above the limit."""
        if self.temperature_limit_c is not None and temperature_c > self.temperature_limit_c:
            raise ValueError(f"{temperature_c:g} degC is above {self.temperature_limit_c:g} degC, the most it may get")
        if self.near_glass_factor is None or self.glass_transition_c is None:
            return self.modulus_factor
        # 30 degC is as warm as the one-year factor claims to hold; nearer than 25 K to the glass
        # transition, less.
        near = temperature_c > min(30.0, self.glass_transition_c - 25.0)
        return self.near_glass_factor if near else self.modulus_factor


@dataclass(frozen=True)
class Material:
    """One material of the catalogue.

    `yield_mpa` is the stress that ratings are measured against: yield (or 0.2 % proof) of metals, the lower
    breaking strength of wood and prints (then `ductile` is false). `yield_basis` says what it is worth:

    - *promised*: the standard guarantees it as a minimum;
    - *design limit*: the standard promises no minimum but lets the designer assume this lower limit;
    - *typical*: nobody promises it; a rating on it lacks a promise until a certificate is shown.

    `system` is how it is sold: 'metric' thicknesses, 'gauge' numbers, or 'inch' decimals. `coating_mm` is
    the metal coating on both sides together, included in the nominal thickness and carrying nothing.
    `foldable` is false for what does not go on a press brake.
    """

    id: str
    title: str
    family: str
    gauge_table: str | None
    system: str
    modulus_mpa: float
    poisson: float
    density_kg_m3: float
    expansion_per_k: float
    yield_mpa: float
    yield_basis: str
    yield_range_mpa: tuple[float, float | None] | None
    ultimate_low_mpa: float
    ultimate_high_mpa: float | None
    elongation_percent: float
    ductile: bool
    foldable: bool
    weldable: str
    galvanic_group: str | None
    die_radius_factor: float | None
    coating_mm: float
    aliases: tuple[str, ...]
    bend_radius: BendRadius | None
    layers: Layers | None
    sustained: Sustained | None
    note: str
    source: Citation
    stiffness_source: Citation
    die_source: Citation | None

    @property
    def yield_promised(self) -> bool:
        """True only where the standard guarantees the yield as a minimum."""
        return self.yield_basis == "promised"

    @property
    def shear_modulus_mpa(self) -> float:
        """E / (2 (1 + nu)); only an estimate for wood and prints, which differ by direction."""
        return self.modulus_mpa / (2.0 * (1.0 + self.poisson))

    def mass_per_area_kg_m2(self, thickness_mm: float) -> float:
        """Mass of a square metre of sheet of this thickness, kg."""
        return self.density_kg_m3 * thickness_mm / 1000.0

    def core_thickness_mm(self, thickness_mm: float) -> float:
        """Thickness that carries: nominal less the metal coating on both sides."""
        return thickness_mm - self.coating_mm


def names() -> tuple[str, ...]:
    """The ids of all materials, in the order of the file."""
    return tuple(_materials())


def material(name: str) -> Material:
    """The material with this id or alias (case, spaces and hyphens do not matter).

    Words that could mean several ('mild steel', 'aluminium') are refused with the ids to choose from: the
    choice decides the yield. Raises NotInCatalogue.

    >>> material("1.0330").id
    'DC01'
    """
    key = key_of(name)
    found = _by_key().get(key)
    if found is not None:
        return found
    choices = {key_of(word): ids for word, ids in table("materials")["ambiguous"].items()}.get(key)
    if choices:
        raise NotInCatalogue("material", name, names(), hint="it could be any of: " + ", ".join(choices))
    raise NotInCatalogue("material", name, names())


def min_inside_radius_mm(name: str | Material, thickness_mm: float, along_grain: bool = False) -> float | None:
    """Least inside radius for a cold bend of up to 90 degrees, mm; None where no limit is known.

    `along_grain`: the bend line runs parallel to the rolling direction. Thicknesses between the rows of a
    source take the row of the next thicker one. Source: the material's `bend_radius.source`.
    """
    row_of = name if isinstance(name, Material) else material(name)
    if row_of.bend_radius is None:
        return None
    for row in row_of.bend_radius.rows:
        if row.over_mm < thickness_mm <= row.up_to_mm:
            return row.radius_mm(thickness_mm, along_grain)
    return None


@cache
def _materials() -> dict[str, Material]:
    return {row["id"]: _material_of(row) for row in table("materials")["material"]}


@cache
def _by_key() -> dict[str, Material]:
    return {key_of(word): each for each in _materials().values() for word in (each.id, *each.aliases)}


def _material_of(row: dict[str, Any]) -> Material:
    fields = dict(row)
    fields["source"] = citation(row["source"])
    fields["stiffness_source"] = citation(row["stiffness_source"])
    fields["die_source"] = citation(row["die_source"]) if "die_source" in row else None
    fields["aliases"] = tuple(row.get("aliases", ()))
    spread = row.get("yield_range_mpa")
    fields["yield_range_mpa"] = None if spread is None else (spread[0], spread[1] if len(spread) > 1 else None)
    fields["bend_radius"] = _bend_radius_of(row["bend_radius"]) if "bend_radius" in row else None
    fields["layers"] = _layers_of(row["layers"]) if "layers" in row else None
    fields["sustained"] = _sustained_of(row["sustained"]) if "sustained" in row else None
    for name, absent in _ABSENT.items():
        fields.setdefault(name, absent)
    return Material(**fields)


_ABSENT: dict[str, Any] = {
    "gauge_table": None,
    "ultimate_high_mpa": None,
    "galvanic_group": None,
    "die_radius_factor": None,
    "coating_mm": 0.0,
    "note": "",
}


def _bend_radius_of(row: dict[str, Any]) -> BendRadius:
    rows = tuple(RadiusRow(**each) for each in row["rows"])
    return BendRadius(row["design_t"], rows, citation(row["source"]))


def _layers_of(row: dict[str, Any]) -> Layers:
    def pair(key: str) -> tuple[float, float] | None:
        return (row[key][0], row[key][1]) if key in row else None

    return Layers(
        row["in_layer_mpa"],
        row["across_layer_mpa"],
        pair("in_layer_range_mpa"),
        pair("across_layer_range_mpa"),
        row.get("across_modulus_mpa"),
        citation(row["source"]),
    )


def _sustained_of(row: dict[str, Any]) -> Sustained:
    return Sustained(
        row["stress_share"],
        row["short_share"],
        row["modulus_factor"],
        row.get("near_glass_factor"),
        row.get("temperature_limit_c"),
        row.get("glass_transition_c"),
        citation(row["source"]),
    )
