"""Everything the catalogue knows, as sentences to search: what `steadfold facts [WORD]` shows."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from steadfold.catalogue import cutting, fasteners, finishes, gauges, materials, profiles, stock, wood
from steadfold.catalogue.fasteners import MM_PER_INCH, MPA_PER_KSI, N_PER_LBF
from steadfold.catalogue.materials import Material
from steadfold.catalogue.profiles import (
    Angle,
    FlatBar,
    Profile,
    RoundBar,
    SquareTube,
    StrutChannel,
    Timber,
    TSlot,
)
from steadfold.catalogue.sources import Citation
from steadfold.catalogue.tables import key_of, nearest_names

TOPICS = (
    "material",
    "gauge",
    "bolt",
    "strength class",
    "wood screw",
    "wood",
    "profile",
    "finish",
    "stock",
    "cutting",
)


@dataclass(frozen=True)
class Fact:
    """One thing the catalogue says: `text` carries mm and inch, `source` the sentence of its citation."""

    topic: str
    name: str
    text: str
    source: str
    from_memory: bool
    words: tuple[str, ...] = ()


def look_up(word: str = "") -> list[Fact]:
    """All facts that mention `word`, best match first; every fact when `word` is empty.

    A fact whose name (or another name of the same thing) is the word comes first, then those whose name
    holds it, then those that hold it anywhere. Nothing found is an empty list; `near` then helps.

    >>> [fact.name for fact in look_up("12 ga")][:4]
    ['steel 12 ga', 'galvanised 12 ga', 'stainless 12 ga', 'aluminium 12 ga']
    """
    key = key_of(word)
    if not key:
        return list(_facts())
    ranked = [(rank, fact) for fact in _facts() if (rank := _rank(key, word, fact)) is not None]
    return [fact for _, fact in sorted(ranked, key=lambda pair: pair[0])]


def near(word: str) -> tuple[str, ...]:
    """Names in the catalogue that come near a word nothing was found for."""
    return nearest_names(word, dict.fromkeys(name for fact in _facts() for name in (fact.name, *fact.words)), 5)


def both_lengths(mm: float) -> str:
    """A length in mm and inch: '3.038 mm (0.1196 in)'."""
    return f"{mm:.4g} mm ({mm / MM_PER_INCH:.4g} in)"


_both = both_lengths


def both_stresses(mpa: float) -> str:
    """A stress in MPa and ksi."""
    return f"{mpa:.4g} MPa ({mpa / MPA_PER_KSI:.3g} ksi)"


def both_forces(newton: float) -> str:
    """A force in N and lbf."""
    return f"{newton:,.0f} N ({newton / N_PER_LBF:,.0f} lbf)"


def _rank(key: str, word: str, fact: Fact) -> int | None:
    names = [key_of(each) for each in (fact.name, *fact.words)]
    if key in names:
        return 0
    if any(name.startswith(key) for name in names):
        return 1
    if any(key in name for name in names):
        return 2
    if word.casefold() in f"{fact.topic} {fact.text} {fact.source}".casefold():
        return 3
    return None


@cache
def _facts() -> tuple[Fact, ...]:
    return tuple(
        fact
        for part in (
            _materials,
            _gauges,
            _bolts,
            _grades,
            _wood_screws,
            _woods,
            _profiles,
            _nuts,
            _finishes,
            _stock,
            _cutting,
        )
        for fact in part()
    )


def _fact(topic: str, name: str, text: str, cited: Citation, words: tuple[str, ...] = ()) -> Fact:
    return Fact(topic, name, text, cited.sentence, cited.from_memory, words)


def _materials() -> Iterator[Fact]:
    for each in map(materials.material, materials.names()):
        words = (*each.aliases, each.title)
        yield _fact("material", each.id, _strength(each), each.source, words)
        yield _fact(
            "material",
            each.id,
            f"E {each.modulus_mpa:,.0f} MPa ({each.modulus_mpa / MPA_PER_KSI:,.0f} ksi), "
            f"Poisson {each.poisson:g}, {each.density_kg_m3:g} kg/m3, "
            f"expands {each.expansion_per_k * 1e6:g} millionths per kelvin",
            each.stiffness_source,
            words,
        )
        if each.bend_radius is not None:
            at = 2.0
            least = materials.min_inside_radius_mm(each, at)
            text = f"folds at {each.bend_radius.design_t:g} t without worry"
            if least is not None:
                text += f"; least inside radius at {_both(at)}: {_both(least)}"
            if each.bend_radius.tells_grain_apart:
                along = materials.min_inside_radius_mm(each, 4.0, along_grain=True)
                across = materials.min_inside_radius_mm(each, 4.0)
                if along is not None and across is not None:
                    text += f"; at 4 mm {across:g} mm across the grain, {along:g} mm along it"
            yield _fact("material", each.id, text, each.bend_radius.source, words)
        if each.layers is not None:
            yield _fact(
                "material",
                each.id,
                f"{both_stresses(each.layers.in_layer_mpa)} in the layer or along the grain, only "
                f"{both_stresses(each.layers.across_layer_mpa)} across",
                each.layers.source,
                words,
            )
        if each.sustained is not None:
            limit = each.sustained.temperature_limit_c
            yield _fact(
                "material",
                each.id,
                f"under a lasting load at most {each.sustained.stress_share:.0%} of its strength and "
                f"{each.sustained.modulus_factor:.0%} of its stiffness after a year"
                + ("" if limit is None else f"; not above {limit:g} degC"),
                each.sustained.source,
                words,
            )


def _strength(each: Material) -> str:
    what = "yield" if each.ductile else "strength"
    basis = {
        "promised": "promised (a guaranteed minimum)",
        "design limit": "not promised, but allowed as a design limit",
        "typical": "typical, promised by nobody",
    }[each.yield_basis]
    high = "" if each.ultimate_high_mpa is None else f" to {each.ultimate_high_mpa:g}"
    text = f"{each.title}: {what} {both_stresses(each.yield_mpa)}, {basis}"
    if each.ductile:
        text += f"; breaks at {each.ultimate_low_mpa:g}{high} MPa, stretches {each.elongation_percent:g} %"
    return text + (f". {each.note}" if each.note else "")


def _gauges() -> Iterator[Fact]:
    for name in gauges.table_names():
        for number in gauges.gauge_numbers(name):
            each = gauges.gauge(number, name)
            words = (f"{number} ga", f"{number} gauge")
            yield _fact("gauge", f"{name} {number} ga", each.echo, each.source, words)


def _bolts() -> Iterator[Fact]:
    for each in map(fasteners.bolt, fasteners.bolt_sizes()):
        fits = ", ".join(f"{name} {_both(hole)}" for name, hole in zip(fasteners.FITS, each.clearance_mm, strict=True))
        yield _fact("bolt", each.size, f"clearance hole {fits}", each.clearance_source)
        yield _fact(
            "bolt",
            each.size,
            f"pitch {_both(each.pitch_mm)}, stress area {each.stress_area_mm2:.4g} mm2 "
            f"({each.stress_area_mm2 / MM_PER_INCH**2:.4f} in2)",
            each.source,
        )
        yield _fact(
            "bolt",
            each.size,
            f"tap drill {each.tap_drill_name}: {_both(each.tap_drill_mm)}",
            each.tap_source,
        )
        yield _fact("bolt", each.size, f"head {_both(each.across_flats_mm)} across flats", each.head_source)
        for which, washer in (("washer", each.washer), ("large washer", each.large_washer)):
            yield _fact(
                "bolt",
                each.size,
                f"{which} {_both(washer.outside_mm)} outside, {_both(washer.thickness_mm)} thick",
                washer.source,
            )


def _grades() -> Iterator[Fact]:
    for each in map(fasteners.grade, fasteners.grade_ids()):
        sizes = fasteners.bolt_sizes(each.system)
        loads = ", ".join(f"{size} {both_forces(fasteners.proof_load_n(size, each.id))}" for size in sizes)
        yield _fact(
            "strength class",
            each.id,
            f"proof {both_stresses(each.proof_mpa)}, breaks at {both_stresses(each.ultimate_mpa)}; proof loads {loads}",
            each.source,
        )


def _wood_screws() -> Iterator[Fact]:
    for name in fasteners.wood_fastener_names():
        each = fasteners.wood_fastener(name)
        text = f"{_both(each.diameter_mm)} shank, {_both(each.root_mm)} thread root"
        yield _fact("wood screw", name, text, each.source, (each.size,))
        if each.kind == "coach screw":
            continue
        for group in map(wood.species, wood.species_names()):
            if group.specific_gravity is not None:
                pull = wood.withdrawal_n_per_mm(name, group.specific_gravity)
                yield _fact(
                    "wood screw",
                    name,
                    f"pull-out from side grain of {group.id} (G {group.specific_gravity:g}): "
                    f"{pull:.4g} N per mm "
                    f"({pull * MM_PER_INCH / N_PER_LBF:.0f} lbf per inch) of thread, before load duration",
                    wood.withdrawal_source(),
                    (each.size, group.id),
                )
    for size in fasteners.rod_sizes():
        rod = fasteners.threaded_rod(size)
        text = f"unknown grade: {both_forces(rod.load_n)}; one turn takes up {_both(rod.pitch_mm)}"
        yield _fact("wood screw", f"threaded rod {size}", text, rod.source, ("threaded rod", size))


def _woods() -> Iterator[Fact]:
    for each in map(wood.species, wood.species_names()):
        if each.specific_gravity is not None:
            text = f"{each.title}: specific gravity {each.specific_gravity:g}"
        else:
            text = (
                f"{each.title}: characteristic density {each.density_k_kg_m3:g} kg/m3, "
                f"bending {each.bending_mpa:g} "
                f"MPa, E {each.modulus_mpa:g} MPa"
            )
        yield _fact("wood", each.id, text, each.source)
    for each_stud in wood.studs():
        text = f"stud {_both(each_stud.width_mm)} x {_both(each_stud.depth_mm)}, {each_stud.region}"
        yield _fact("wood", f"stud {each_stud.id}", text, each_stud.source, (each_stud.id,))
    spacings = ", ".join(_both(mm) for mm in wood.stud_spacings_mm())
    yield _fact("wood", "stud spacing", spacings, wood.stud_spacing_source(), ("stud centres",))
    for value in wood.lateral_values():
        yield _fact(
            "wood",
            f"lag screw {value.size} sideways",
            f"steel plate {_both(value.plate_mm)}, G {value.specific_gravity:g}: along the grain "
            f"{both_forces(value.parallel_n)}, across it {both_forces(value.across_n)}",
            value.source,
        )


def _profiles() -> Iterator[Fact]:
    for name in profiles.names():
        each = profiles.profile(name)
        yield _fact("profile", name, _shape(each), each.source, (each.title,))


def _shape(each: Profile) -> str:
    match each:
        case StrutChannel():
            text = (
                f"{each.title}: {_both(each.width_mm)} x {_both(each.height_mm)}, "
                f"{_both(each.thickness_mm)} thick, slot {_both(each.slot_mm)}, {each.material}"
            )
        case TSlot():
            low, high = each.second_moment_range_mm4
            text = (
                f"{each.title}: {_both(each.side_mm)} square, "
                f"second moment {low / 1e4:g} to {high / 1e4:g} cm4 "
                f"over makers (the low one counts), {each.material}"
            )
        case SquareTube():
            text = f"{_both(each.side_mm)} square, wall {_both(each.thickness_mm)}, {each.material}"
        case FlatBar():
            text = f"{_both(each.width_mm)} x {_both(each.thickness_mm)}, {each.material}"
        case RoundBar():
            text = f"{_both(each.diameter_mm)} round, {each.material}"
        case Angle():
            text = f"{_both(each.leg_mm)} legs, {_both(each.thickness_mm)} thick, {each.material}"
        case Timber():
            text = f"{_both(each.width_mm)} x {_both(each.depth_mm)}, {each.species}"
    return text


def _nuts() -> Iterator[Fact]:
    for channel in ("12 ga", "14 ga"):
        nut = profiles.strut_nut("1/2", channel)
        if nut is not None:
            yield _fact(
                "profile",
                f"strut nut {nut.size} in {channel}",
                f"slip {both_forces(nut.slip_n)}, pull-out {both_forces(nut.pull_out_n)} with a factor of "
                f"{nut.factor:g} inside, at {nut.torque_nmm / 1000:.3g} Nm. {nut.note}",
                nut.source,
                ("strut nut", "channel nut"),
            )
    for weight in ("economy", "light", "standard"):
        pull = profiles.t_nut(weight)
        text = f"slot 8, {weight} profile: pull-out {both_forces(pull.pull_out_n)}, no factor inside"
        yield _fact("profile", f"T-nut {weight}", text, pull.source, ("T-nut", "T-slot nut"))


def _finishes() -> Iterator[Fact]:
    for each in map(finishes.finish, finishes.names()):
        low, usual, high = each.thickness_um
        mils = f"{low / 25.4:.2g} to {high / 25.4:.2g} mil"
        text = f"{each.title}: {low:g} to {high:g} um a side ({mils}), usually {usual:g}"
        yield _fact("finish", each.id, text + (f". {each.note}" if each.note else ""), each.source, each.aliases)


def _stock() -> Iterator[Fact]:
    for system in ("metric", "inch", "wood"):
        for sheet in stock.sheet_sizes(system):
            text = f"sheet {_both(sheet.width_mm)} x {_both(sheet.length_mm)}"
            yield _fact("stock", f"sheet {sheet.label}", text, sheet.source, ("sheet size",))
    for each in map(materials.material, ("S235", "DX51D", "304", "5052-H32", "birch plywood")):
        rows = gauges.stock_thicknesses(each)
        yield _fact(
            "stock",
            f"{each.family} thicknesses",
            ", ".join(_both(row.mm) for row in rows),
            rows[0].source,
            ("stock thickness", each.family),
        )


def _cutting() -> Iterator[Fact]:
    for family in ("mild steel", "stainless", "aluminium"):
        for thickness in (1.0, 2.0, 3.0, 4.0, 5.0, 6.0):
            speeds = [cutting.cut_speed_m_per_min(family, thickness, kw) for kw in (3.0, 6.0)]
            yield _fact(
                "cutting",
                f"{family} {thickness:g} mm",
                f"laser, {_both(thickness)}: {speeds[0].low:g} to {speeds[0].high:g} m/min at 3 kW, "
                f"{speeds[1].low:g} to {speeds[1].high:g} at 6 kW",
                speeds[0].source,
                ("cut speed", "laser"),
            )
    kerf = cutting.kerf_mm()
    yield _fact("cutting", "kerf", f"{_both(kerf.low)} to {_both(kerf.high)}", kerf.source)
    for size in (10.0, 50.0, 200.0, 600.0, 1500.0):
        yield _fact(
            "cutting",
            "general tolerance",
            f"a length of {_both(size)}: +-{_both(cutting.linear_tolerance_mm(size))}",
            cutting.general_tolerance_source(),
            ("ISO 2768", "tolerance"),
        )
    yield _fact(
        "cutting",
        "general tolerance of angles",
        f"shorter leg 30 mm: +-{cutting.angle_tolerance_deg(30.0):g} deg; 100 mm: "
        f"+-{cutting.angle_tolerance_deg(100.0):.2g} deg",
        cutting.general_tolerance_source(angle=True),
        ("ISO 2768", "tolerance"),
    )
