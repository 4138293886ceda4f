"""Materials against the printed tables of their standards, and what their promises are worth."""

from __future__ import annotations

import pytest
from tests.published.catalogue_values import as_printed, ids, rows, values

from steadfold.catalogue import Material, NotInCatalogue, material, min_inside_radius_mm
from steadfold.catalogue.materials import FAMILIES, YIELD_BASES, names

ALL = names()


def test_structural_grades_have_the_printed_yield_and_tensile_strength() -> None:
    """EN 10025-2, Table 7 (values/bolts.json says where it was read): the range spans thin and thick sheet."""
    for name, (least, thin, thick) in values("bolts")["en_10025_2"]["grade"].items():
        row = material(name)
        assert row.yield_mpa == least and row.yield_promised
        assert row.ultimate_low_mpa == min(thin[0], thick[0])
        assert row.ultimate_high_mpa == max(thin[1], thick[1])


def test_galvanised_structural_steel_is_as_printed() -> None:
    """EN 10326 / EN 10346, S250GD: 250 / 330 / 19 %, and a spread of 140 MPa expected in tensile strength."""
    row = material("S250GD")
    assert [row.yield_mpa, row.ultimate_low_mpa, row.elongation_percent] == values("bolts")["s250gd"]["values"]
    assert row.ultimate_high_mpa == 330 + 140


@pytest.mark.parametrize("name", ["DC01", "A1008 CS", "A1011 CS", "DX51D"])
def test_commercial_sheet_never_passes_for_promised(name: str) -> None:
    """EN 10130 lets a designer assume 140 (recalled); ASTM and EN 10346 promise nothing for these grades (recalled)."""
    row = material(name)
    assert not row.yield_promised
    assert row.yield_mpa == 140.0
    assert row.yield_basis == ("design limit" if name == "DC01" else "typical")


@pytest.mark.parametrize("name", ["A1008 SS33", "A1011 SS33", "A1011 SS36", "304", "316", "5052-H32", "6061-T6"])
def test_graded_metals_promise_their_minimum(name: str) -> None:
    """Minimum yields of ASTM A1008, A1011, A240 and B209, MPa (recalled)."""
    least = {"A1008 SS33": 230, "A1011 SS33": 230, "A1011 SS36": 250, "304": 205, "316": 205}
    least |= {"5052-H32": 160, "6061-T6": 240}
    row = material(name)
    assert row.yield_promised and row.yield_mpa == least[name]
    assert row.source.from_memory and "recalled" in row.source.sentence


@pytest.mark.parametrize("name", ALL)
def test_a_material_is_physically_possible(name: str) -> None:
    row = material(name)
    assert row.family in FAMILIES and row.yield_basis in YIELD_BASES
    assert 0.0 <= row.poisson < 0.5
    assert row.yield_mpa <= row.ultimate_low_mpa or not row.ductile
    assert row.ultimate_high_mpa is None or row.ultimate_high_mpa >= row.ultimate_low_mpa
    assert 1_000.0 < row.modulus_mpa < 250_000.0
    assert 500.0 < row.density_kg_m3 < 8_100.0
    assert row.ductile == (row.family not in ("wood", "plastic"))
    assert (row.bend_radius is not None) == row.foldable
    assert (row.die_radius_factor is not None) == row.foldable == (row.die_source is not None)
    assert (row.sustained is not None) == (not row.ductile) == (row.layers is not None)
    assert (row.gauge_table is not None) == row.ductile


@pytest.mark.parametrize("row", rows("mat.mass."), ids=ids)
def test_a_square_metre_has_the_handbook_mass(row: dict) -> None:
    inputs = row["inputs"]
    name = {7850: "DC01", 2680: "5052-H32"}[inputs["rho"]]
    assert material(name).mass_per_area_kg_m2(inputs["t_mm"]) == as_printed(row)


def test_a_four_by_eight_sheet_of_12_gauge_weighs_140_pounds() -> None:
    """4.375 lb/ft2 x 32 ft2 (US standard gauge), corrected for the heavier basis of the gauge table."""
    from steadfold.catalogue import thickness_of

    (row,) = rows("gauge.sheet_weight")
    kilograms = material("A1011 CS").mass_per_area_kg_m2(thickness_of(12, "A1011 CS")) * 32 * 0.3048**2
    # 41.82 lb/ft2 per inch is 8039 kg/m3: the gauge's own basis is 2.4 % heavier than steel.
    assert kilograms / 0.45359237 == pytest.approx(row["expected"] * 7850.0 / 8038.6, rel=0.002)


@pytest.mark.parametrize("grade", ["S235", "S275", "S355"])
def test_folding_radii_are_those_of_en_10025_2(grade: str) -> None:
    printed = values("en_10025_2_folding")
    below = 1.0
    for index, up_to in enumerate(printed["up_to_mm"]):
        for thickness in (below + 0.01, (below + up_to) / 2, up_to):
            assert min_inside_radius_mm(grade, thickness) == printed[grade]["t"][index]
            assert min_inside_radius_mm(grade, thickness, along_grain=True) == printed[grade]["l"][index]
        below = up_to
    assert min_inside_radius_mm(grade, 12.5) is None


@pytest.mark.parametrize("row", rows("bend.aa_rmin."), ids=ids)
def test_aluminium_radii_are_those_of_the_aluminum_association(row: dict) -> None:
    top, bottom = row["inputs"]["t_in"].split("/")
    thickness = 25.4 * int(top) / int(bottom)
    radius = min_inside_radius_mm(row["inputs"]["alloy"], thickness)
    assert radius is not None
    assert radius / thickness == pytest.approx(row["expected"], abs=1e-9)


def test_between_two_columns_the_thicker_sheet_decides() -> None:
    """The Aluminum Association table prints 1/16 and 1/8 in; 0.090 in lies between and takes 1/8 in's 2.5 t."""
    assert min_inside_radius_mm("6061-T6", 2.286) == pytest.approx(2.5 * 2.286)


@pytest.mark.parametrize("name", [name for name in ALL if material(name).foldable])
@pytest.mark.parametrize("thickness", [0.8, 1.0, 1.5, 1.51, 2.0, 2.51, 3.0])
def test_the_radius_a_shop_folds_without_worry_is_never_below_the_limit(name: str, thickness: float) -> None:
    row = material(name)
    assert row.bend_radius is not None
    for along in (False, True):
        least = min_inside_radius_mm(row, thickness, along)
        assert least is not None and row.bend_radius.design_t * thickness >= least - 1e-9


def test_what_does_not_fold_has_no_radius() -> None:
    for name in ("6063-T66", "birch plywood", "hardwood", "PLA"):
        assert min_inside_radius_mm(name, 3.0) is None


@pytest.mark.parametrize("row", rows("bend.radius_from_v"), ids=ids)
def test_the_inside_radius_follows_the_die(row: dict) -> None:
    factor = material("DC01").die_radius_factor
    assert factor is not None and factor * row["inputs"]["V_mm"] == as_printed(row)


@pytest.mark.parametrize("name", ["PLA", "PETG", "ABS", "ASA"])
def test_prints_are_weaker_across_the_layers_and_creep(name: str) -> None:
    """Open literature: across 0.4 to 0.6 of in-layer; judgement: a fifth lasting, half the modulus in a year."""
    row = material(name)
    assert row.layers is not None and row.sustained is not None
    assert 0.4 <= row.layers.across_layer_mpa / row.layers.in_layer_mpa <= 0.6
    assert row.layers.across_layer_range_mpa is not None
    assert row.layers.across_layer_mpa <= row.layers.across_layer_range_mpa[0]
    assert row.sustained.stress_share == 0.20 and row.sustained.short_share == 0.40
    assert row.sustained.modulus_factor_at(23.0) == 0.5
    assert row.sustained.source.source.kind == "assumed"
    limits = {"PLA": 45.0, "PETG": 60.0, "ABS": 80.0, "ASA": 80.0}
    assert row.sustained.temperature_limit_c == limits[name]
    assert row.sustained.glass_transition_c is not None
    with pytest.raises(ValueError, match="degC"):
        row.sustained.modulus_factor_at(limits[name] + 1.0)


def test_a_print_near_its_glass_transition_is_a_third_as_stiff() -> None:
    sustained = material("PLA").sustained
    assert sustained is not None
    assert sustained.modulus_factor_at(40.0) == pytest.approx(1 / 3, abs=1e-3)


def test_wood_keeps_the_share_that_en_1995_gives() -> None:
    """kmod / gamma 0.6/1.2 (plywood), 0.6/1.3 (timber); 1/(1 + kdef) with kdef 0.8 and 0.6; all recalled."""
    plywood, timber = material("birch plywood").sustained, material("hardwood").sustained
    assert plywood is not None and timber is not None
    assert plywood.stress_share == pytest.approx(0.6 / 1.2)
    assert timber.stress_share == pytest.approx(0.6 / 1.3, abs=0.002)
    assert plywood.modulus_factor == pytest.approx(1 / 1.8, abs=0.001)
    assert timber.modulus_factor == pytest.approx(1 / 1.6, abs=0.001)


def test_zinc_does_not_carry() -> None:
    """EN 10346: the thickness is that after coating; Z275 is about 20 um a side (read in a coating-mass table)."""
    assert material("DX51D").core_thickness_mm(1.5) == pytest.approx(1.46)
    assert material("DC01").core_thickness_mm(1.5) == 1.5


@pytest.mark.parametrize(
    ("word", "name"),
    [("1.0330", "DC01"), ("dc 01", "DC01"), ("S235JR", "S235"), ("1.4301", "304"), ("5052 h32", "5052-H32"),
     ("DX51D+Z275", "DX51D"), ("a1011 ss grade 36", "A1011 SS36"), ("petg", "PETG")],
)  # fmt: skip
def test_an_exact_other_name_is_understood(word: str, name: str) -> None:
    assert material(word).id == name


@pytest.mark.parametrize(
    "word", ["mild steel", "steel", "stainless", "aluminium", "galvanised", "cold rolled", "plywood"]
)
def test_a_word_that_could_mean_several_is_refused_with_the_choice(word: str) -> None:
    with pytest.raises(NotInCatalogue, match="could be any of") as problem:
        material(word)
    assert any(name in str(problem.value) for name in ALL)


def test_an_unknown_material_names_the_nearest() -> None:
    with pytest.raises(NotInCatalogue) as problem:
        material("S350")
    assert "S355" in problem.value.nearest and "S355" in str(problem.value)
    assert isinstance(problem.value, KeyError)


def test_no_two_materials_share_a_name() -> None:
    seen: dict[str, Material] = {}
    for each in map(material, ALL):
        for word in (each.id, *each.aliases):
            assert material(word) is each, f"{word} leads elsewhere"
            assert seen.setdefault(word, each) is each
