"""Woods, studs, load durations, and the reference withdrawal values of two timber standards."""

from dataclasses import dataclass
from functools import cache

from steadfold.catalogue.fasteners import MM_PER_INCH, N_PER_LBF, bolt, wood_fastener
from steadfold.catalogue.sources import Citation, citation
from steadfold.catalogue.tables import NotInCatalogue, key_of, table

SERVICE_CLASSES = (1, 2, 3)


@dataclass(frozen=True)
class Species:
    """A wood that takes screws: by assigned specific gravity (NDS) or characteristic density (EN)."""

    id: str
    title: str
    specific_gravity: float | None
    density_k_kg_m3: float | None
    density_mean_kg_m3: float | None
    bending_mpa: float | None
    modulus_mpa: float | None
    modulus_across_mpa: float | None
    source: Citation


@dataclass(frozen=True)
class Stud:
    """A stud: `width_mm` is the face the screw enters, `depth_mm` how deep the wood is behind it."""

    id: str
    width_mm: float
    depth_mm: float
    region: str
    source: Citation


@dataclass(frozen=True)
class LateralValue:
    """A printed reference lateral value of a lag screw with a steel side plate, in N.

    `parallel_n`: load along the grain (gravity on an upright stud); `across_n`: load across it (gravity on
    a rail).
    """

    size: str
    plate_mm: float
    specific_gravity: float
    parallel_n: float
    across_n: float
    source: Citation


@dataclass(frozen=True)
class Placement:
    """Least distances and lead holes of screws in wood, as multiples of the diameter (NDS 12.5; recalled)."""

    edge_d: float
    end_d: float
    end_full_d: float
    spacing_d: float
    penetration_withdrawal_d: float
    penetration_lateral_d: float
    pilot_share: tuple[float, float]
    source: Citation


def species_names() -> tuple[str, ...]:
    """All species groups and classes."""
    return tuple(_species())


def species(name: str) -> Species:
    """The species group or class of this name; raises NotInCatalogue."""
    by_key = {key_of(each): each for each in _species()}
    found = by_key.get(key_of(name))
    if found is None:
        raise NotInCatalogue("wood", name, _species())
    return _species()[found]


def studs() -> tuple[Stud, ...]:
    """The usual studs."""
    group = table("wood")["stud"]
    origin = citation(group["source"])
    return tuple(Stud(row["id"], row["width"], row["depth"], row["region"], origin) for row in group["rows"])


def stud(name: str) -> Stud:
    """The stud called this ('2x4', '45x95'); raises NotInCatalogue."""
    for each in studs():
        if key_of(each.id) == key_of(name):
            return each
    raise NotInCatalogue("stud", name, (each.id for each in studs()))


def stud_spacings_mm() -> tuple[float, ...]:
    """Usual centre distances of studs, mm."""
    return tuple(table("wood")["spacing"]["mm"])


def stud_spacing_source() -> Citation:
    """Where the stud spacings come from."""
    return citation(table("wood")["spacing"]["source"])


def load_duration_factor(name: str) -> float:
    """The NDS load duration factor for connections: at most 1.6, impact is not for connections.

    Source: NDS Table 2.3.2 (recalled).
    """
    rows = {row["id"]: float(row["factor"]) for row in table("wood")["nds_duration"]["rows"]}
    if name not in rows:
        raise NotInCatalogue("load duration", name, rows)
    return min(rows[name], 1.6)


def kmod(duration: str, service_class: int = 1) -> float:
    """The EN 1995-1-1 modification factor of solid timber and plywood (Table 3.1, recalled).

    `duration`: permanent, long, medium, short or instantaneous; `service_class` 1 (indoors), 2 (under a
    roof), 3. Raises `NotInCatalogue` for others.
    """
    rows = {row["id"]: row["kmod"] for row in table("wood")["en_duration"]["rows"]}
    if duration not in rows:
        raise NotInCatalogue("load duration of EN 1995-1-1", duration, rows)
    if service_class not in SERVICE_CLASSES:
        raise NotInCatalogue("service class", str(service_class), ("1", "2", "3"))
    return float(rows[duration][service_class - 1])


def partial_factor(what: str = "connections") -> float:
    """The EN 1995-1-1 partial factor of 'connections', 'solid_timber' or 'plywood' (Table 2.3, recalled).

    Raises `NotInCatalogue` for anything else.
    """
    row = table("wood")["en_partial"]
    known = tuple(name for name in row if name != "source")
    if what not in known:
        raise NotInCatalogue("partial factor", what, known)
    return float(row[what])


def wet_factor() -> float:
    """NDS factor for screws that stay wet in service (recalled)."""
    return float(table("wood")["nds_wet"]["factor"])


def placement() -> Placement:
    """Edge, end and spacing distances of the NDS."""
    row = dict(table("wood")["nds_placement"])
    row["source"] = citation(row["source"])
    row["pilot_share"] = (row["pilot_share"][0], row["pilot_share"][1])
    return Placement(**row)


def withdrawal_n_per_mm(fastener: str, specific_gravity: float) -> float:
    """Reference withdrawal value in side grain, N per mm of thread in the wood, tip left out, no factors.

    Lag screws 1800 G^1.5 D^0.75, wood screws 2850 G^2 D, both lbf per inch with D in inch. `fastener` as
    `fasteners.wood_fastener_names` spells it. Source: NDS 12.2.1 and 12.2.2. Raises NotInCatalogue for
    metric coach screws, which are not in that standard.

    >>> round(withdrawal_n_per_mm("lag screw 1/4", 0.42) * 25.4 / 4.44822)
    173
    """
    screw = wood_fastener(fastener)
    rules = table("wood")["nds_withdrawal"]
    rule = {"lag screw": rules["lag"], "wood screw": rules["screw"]}.get(screw.kind)
    if rule is None:
        raise NotInCatalogue("screw with an NDS withdrawal value", fastener, ("lag screw 1/4", "wood screw #10"))
    diameter_in = screw.diameter_mm / MM_PER_INCH
    per_inch = rule["factor"] * specific_gravity ** rule["gravity_power"] * diameter_in ** rule["diameter_power"]
    return float(per_inch) * N_PER_LBF / MM_PER_INCH


def withdrawal_source() -> Citation:
    """Where the NDS withdrawal values come from."""
    return citation(table("wood")["nds_withdrawal"]["source"])


def withdrawal_strength_mpa(diameter_mm: float, thread_mm: float, density_k_kg_m3: float) -> float:
    """Characteristic withdrawal strength f_ax,k = 0.52 d^-0.5 lef^-0.1 rho^0.8, MPa.

    Valid for 6 mm <= d <= 12 mm (ValueError otherwise) and a core of 0.6 to 0.75 d. Source: EN 1995-1-1,
    eq. 8.39.
    """
    rule = table("wood")["en_withdrawal"]
    if not rule["least_diameter"] <= diameter_mm <= rule["most_diameter"]:
        raise ValueError(f"a screw of {diameter_mm:g} mm is outside 6 to 12 mm of EN 1995-1-1, 8.7.2(4)")
    return float(
        rule["factor"]
        * diameter_mm ** rule["diameter_power"]
        * thread_mm ** rule["length_power"]
        * density_k_kg_m3 ** rule["density_power"]
    )


def lateral_values() -> tuple[LateralValue, ...]:
    """The printed reference lateral values at hand (NDS Table 12K, lag screw with a steel side plate)."""
    group = table("wood")["nds_lateral"]
    origin = citation(group["source"])
    return tuple(
        LateralValue(
            bolt(row["size"]).size,
            row["plate_in"] * MM_PER_INCH,
            row["specific_gravity"],
            row["parallel"] * N_PER_LBF,
            row["across"] * N_PER_LBF,
            origin,
        )
        for row in group["rows"]
    )


@cache
def _species() -> dict[str, Species]:
    return {
        row["id"]: Species(
            row["id"],
            row["title"],
            row.get("specific_gravity"),
            row.get("density_k"),
            row.get("density_mean"),
            row.get("bending"),
            row.get("modulus"),
            row.get("modulus_across"),
            citation(row["source"]),
        )
        for row in table("wood")["species"]["rows"]
    }
