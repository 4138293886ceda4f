"""Shop files: what ships can be traced to the figures it claims, and a user's file changes only what it says.

Sources: the press-brake rules as collected in handbooks (V = 8 t, r = 0.16 V in mild steel, least flange
0.7 V; recalled, common practice), DIN 6935 for k (k = 0.65 + 0.5 log10(r / s)), identities
BD = 2 (r + t) tan(a / 2) - a (r + K t).
"""

import math

import pytest

from steadfold.catalogue import material
from steadfold.fabricate.bend_table import bend_rule
from steadfold.fabricate.shop_file import ShopFileError, read_shop, typical_shop
from steadfold.sheet.resolve import BendChoice

STEEL = material("DC01")


def bend_row(degrees: float, value: str) -> str:
    """One row of a bend table for DC01, 2 mm thick, inside radius 2 mm."""
    return (
        '[[bend]]\nmaterial = "DC01"\nthickness = "2 mm"\ninside_radius = "2 mm"\n'
        f'angle = "{degrees} deg"\n{value}\n'
    )


@pytest.mark.parametrize(
    ("thickness", "v", "flange"), [(2.0, 16.0, 11.2), (3.0, 24.0, 16.8), (1.5, 12.0, 8.4)]
)
def test_the_die_opens_eight_thicknesses_and_asks_for_seven_tenths_of_that_as_flange(
    thickness: float, v: float, flange: float
) -> None:
    die = typical_shop().die_for(thickness)
    assert die.v_mm == v
    assert die.least_flange_mm == pytest.approx(flange)


def test_a_bend_without_a_radius_takes_sixteen_hundredths_of_the_opening() -> None:
    choice = bend_rule(typical_shop(), STEEL, 2.0)(math.pi / 2, None)
    assert choice.inside_radius_mm == pytest.approx(2.56)  # published page: r is approximately 16 % of V
    assert choice.k_factor == pytest.approx(0.5 * (0.65 + 0.5 * math.log10(2.56 / 2.0)))
    assert choice.source == "DIN 6935"


def test_the_jobs_own_k_wins_over_everything() -> None:
    shop = read_shop(bend_row(90, "k_factor = 0.4"))
    assert bend_rule(shop, STEEL, 2.0, 0.42)(math.pi / 2, 2.0) == BendChoice(2.0, 0.42, "given in the job")


def test_a_shops_deduction_becomes_the_k_that_gives_it_back() -> None:
    """BD 3.4761 at r 2, t 2 is K 0.44 (engineering-formula pages, BA = a (r + K t))."""
    shop = read_shop(bend_row(90, 'deduction = "3.4761 mm"'))
    choice = bend_rule(shop, STEEL, 2.0)(-math.pi / 2, None)
    assert (choice.inside_radius_mm, choice.source) == (2.0, "bend table of typical")
    assert choice.k_factor == pytest.approx(0.44, abs=2e-5)


def test_the_shops_table_is_read_between_its_angles_and_not_far_beyond_them() -> None:
    table = bend_row(60, "k_factor = 0.40") + bend_row(90, "k_factor = 0.43")
    rule = bend_rule(read_shop(table), STEEL, 2.0)
    assert rule(math.radians(80), 2.0).k_factor == pytest.approx(0.42)
    assert rule(math.radians(100), 2.0).k_factor == pytest.approx(0.43)
    assert rule(math.radians(120), 2.0).source == "DIN 6935"
    assert rule(math.radians(80), 4.0).source == "DIN 6935"


def test_a_file_that_says_one_thing_changes_one_thing() -> None:
    shop, typical = read_shop('[brake]\nlength = "2000 mm"'), typical_shop()
    assert shop.brake.length_mm == 2000.0
    assert shop.brake.force_kn == typical.brake.force_kn
    assert shop.punches == typical.punches


def test_a_list_replaces_the_list() -> None:
    shop = read_shop(
        '[[punch]]\nname = "only"\nkind = "straight"\nhalf_thickness = "10 mm"\nheight = "100 mm"\n'
        'clamp_half_width = "40 mm"\nincluded = "88 deg"\ncapacity = "800 kN/m"'
    )
    assert [punch.name for punch in shop.punches] == ["only"]
    assert shop.punches[0].symmetric
    assert not typical_shop().punches[1].symmetric


def test_every_problem_is_told_at_once_with_its_place() -> None:
    lines = {("laser", "tolerance"): 3}
    text = (
        'nam = "x"\n[laser]\ntolerance = 3\nkerff = "2 mm"\n'
        '[[punch]]\nname = "p"\nkind = "goose"\n[[die]]\nv = "-4 mm"\n'
    )
    with pytest.raises(ShopFileError) as caught:
        read_shop(text, lines.get)
    told = {problem.path: problem for problem in caught.value.problems}
    assert "'name'" in told[("nam",)].sentence
    assert told[("laser", "tolerance")].line == 3
    assert "kerf" in told[("laser", "kerff")].sentence
    assert ("punch", 0, "kind") in told
    assert ("die", 0, "v") in told


def test_text_that_is_not_toml_names_its_line() -> None:
    with pytest.raises(ShopFileError) as caught:
        read_shop('name = "a"\n[laser\n')
    assert caught.value.problems[0].line == 2


def test_a_throat_without_room_is_refused_in_words() -> None:
    with pytest.raises(ShopFileError, match="does not fit"):
        read_shop(
            '[[punch]]\nname = "g"\nkind = "gooseneck"\nhalf_thickness = "7 mm"\nheight = "80 mm"\n'
            'clamp_half_width = "40 mm"\nincluded = "88 deg"\ncapacity = "500 kN/m"\nthroat = "20 mm"\n'
            'throat_from = "46 mm"\nthroat_to = "72 mm"'
        )
