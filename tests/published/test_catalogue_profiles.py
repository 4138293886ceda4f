"""Strut outlines against published section properties; nuts against their tables."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from shapely.geometry import LineString, Polygon
from tests.published.catalogue_values import as_printed, ids, rows

from steadfold.catalogue import NotInCatalogue, material
from steadfold.catalogue.fasteners import MM_PER_INCH, N_PER_LBF
from steadfold.catalogue.profiles import (
    NMM_PER_FT_LB,
    SquareTube,
    StrutChannel,
    Timber,
    TSlot,
    names,
    profile,
    strut_nut,
    strut_nut_torque_nmm,
    t_nut,
    t_nut_slip_n,
)
from steadfold.catalogue.wood import species


def outline(each: StrutChannel) -> Polygon:
    """The section of one channel, back down, slot up: its middle line with rounded corners, thickened."""
    half, t = each.thickness_mm / 2, each.thickness_mm
    x, top = each.width_mm / 2 - half, each.height_mm - half
    lip = each.slot_mm / 2 + half
    corners = [(-lip, each.height_mm - each.lip_mm), (-lip, top), (-x, top), (-x, half)]
    corners += [(-a, b) for a, b in reversed(corners)]
    radius = each.inside_radius_mm + half
    points = [corners[0]]
    for before, corner, after in zip(corners, corners[1:], corners[2:], strict=False):
        ends = []
        for other in (before, after):
            length = math.dist(other, corner)
            ends.append(tuple(c + (o - c) * radius / length for c, o in zip(corner, other, strict=True)))
        middle = tuple(a + b - c for a, b, c in zip(*ends, corner, strict=True))
        start = math.atan2(ends[0][1] - middle[1], ends[0][0] - middle[0])
        turn = (math.atan2(ends[1][1] - middle[1], ends[1][0] - middle[0]) - start + math.pi) % (2 * math.pi)
        turn -= math.pi
        steps = 32
        points += [
            (
                middle[0] + radius * math.cos(start + turn * i / steps),
                middle[1] + radius * math.sin(start + turn * i / steps),
            )
            for i in range(steps + 1)
        ]
    points.append(corners[-1])
    return LineString(points).buffer(t / 2, cap_style="flat", join_style="mitre")


def properties(shape: Polygon) -> tuple[float, float, float, float]:
    """Area, centroid height, and the two second moments about the centroid, by Green's theorem."""
    area = first = ix = iy = 0.0
    points = list(shape.exterior.coords)
    for (x0, y0), (x1, y1) in pairwise(points):
        cross = x0 * y1 - x1 * y0
        area += cross / 2
        first += (y0 + y1) * cross / 6
        ix += (y0 * y0 + y0 * y1 + y1 * y1) * cross / 12
        iy += (x0 * x0 + x0 * x1 + x1 * x1) * cross / 12
    sign = math.copysign(1.0, area)
    area, first, ix, iy = area * sign, first * sign, ix * sign, iy * sign
    height = first / area
    return area, height, ix - area * height**2, iy


@pytest.fixture(scope="module")
def twelve_gauge() -> tuple[float, float, float, float]:
    each = profile("strut 41x41 12 ga")
    assert isinstance(each, StrutChannel)
    return properties(outline(each))


@pytest.mark.parametrize("row", rows("strut.12ga."), ids=ids)
def test_the_strut_outline_gives_the_published_section(row: dict, twelve_gauge: tuple[float, ...]) -> None:
    area, height, ix, iy = twelve_gauge
    open_side = 1.625 * MM_PER_INCH - height
    found = {
        "A": area / MM_PER_INCH**2,
        "Ix": ix / MM_PER_INCH**4,
        "Iy": iy / MM_PER_INCH**4,
        "Sx_open": ix / open_side / MM_PER_INCH**3,
        "rx": math.sqrt(ix / area) / MM_PER_INCH,
        "ry": math.sqrt(iy / area) / MM_PER_INCH,
    }[row["id"].removeprefix("strut.12ga.")]
    assert found == as_printed(row, row["expected"]["published"])


def test_the_strut_weighs_what_a_metre_of_it_should(twelve_gauge: tuple[float, ...]) -> None:
    """Published 1.90 lb/ft (recalled); a separate working from an outline with tighter corners gives 2.84 kg/m.

    That working has 78,300 mm4 about the weaker-looking axis; the published 0.185 in4 is 77,000, which is the value
    the test above holds this outline to.
    """
    (row,) = rows("strut.mm")
    area, _, _, iy = twelve_gauge
    assert area == as_printed(row, row["expected"]["A_mm2"])
    assert iy == as_printed(row, row["expected"]["Iy_mm4"])
    assert area * 7850e-6 == as_printed(row, row["expected"]["kg_per_m"])
    assert area * 7850e-6 / 0.45359237 * 0.3048 == pytest.approx(1.90, abs=0.03)


@pytest.mark.parametrize("name", names(StrutChannel))
def test_the_outline_is_as_long_as_its_folds_make_it(name: str) -> None:
    """Area of a folded strip = thickness x length of its middle line: straight parts, and six quarter circles."""
    each = profile(name)
    assert isinstance(each, StrutChannel)
    t = each.thickness_mm
    straight = (each.width_mm - t) + 2 * (each.height_mm - t) + (each.width_mm - each.slot_mm - 2 * t)
    straight += 2 * (each.lip_mm - t / 2)
    corner = each.inside_radius_mm + t / 2
    length = straight - 6 * (2 * corner - math.pi / 2 * corner)
    assert properties(outline(each))[0] == pytest.approx(length * t, rel=1e-3)


def test_the_strut_carries_the_published_beam_load(twelve_gauge: tuple[float, ...]) -> None:
    """Simple span, uniform load: 8 F S / L at 25 ksi; the list prints 1690 lb for 24 in, S being 0.202 in3."""
    (row,) = rows("strut.udl24")
    _, height, ix, _ = twelve_gauge
    modulus = ix / (1.625 * MM_PER_INCH - height) / MM_PER_INCH**3
    assert 8 * 25_000 * modulus / 24 == pytest.approx(row["expected"], rel=0.02)


def test_channel_nuts_are_tightened_as_published() -> None:
    (row,) = rows("strut.torque")
    for size, torque in zip(("1/4", "5/16", "3/8", "1/2"), row["expected"], strict=True):
        assert strut_nut_torque_nmm(size) / NMM_PER_FT_LB == pytest.approx(torque, abs=1e-9)
    assert strut_nut_torque_nmm("1/2") / 1000 == pytest.approx(67.8, abs=0.05)


def test_a_channel_nut_slips_and_pulls_out_as_published() -> None:
    (row,) = rows("strut.slip")
    nut = strut_nut("1/2", "12 ga")
    assert nut is not None and nut.factor == row["inputs"]["SF"]
    assert nut.slip_n / N_PER_LBF == as_printed(row, row["expected"]["slip"])
    assert nut.pull_out_n / N_PER_LBF == as_printed(row, row["expected"]["pullout"])
    assert nut.slip_n * 3 / 5 / N_PER_LBF == as_printed(row, row["expected"]["slip_SF5"])
    assert nut.end_share == 0.5 and nut.end_distance_mm == 25.4


def test_a_nut_without_a_published_load_has_none() -> None:
    assert strut_nut("3/8", "12 ga") is None
    assert strut_nut("M10", "2.5 mm") is None
    with pytest.raises(NotInCatalogue):
        strut_nut_torque_nmm("M10")


def test_t_nuts_slip_no_further_than_their_rating_allows() -> None:
    """Judgement: 0.15 x min(preload, rating) / 2; M8 8.8 tightened to 15.9 kN in a 10 kN slot slips at 0.75 kN."""
    assert t_nut_slip_n("standard", 15_900.0) == pytest.approx(750.0)
    assert t_nut_slip_n("economy", 1_000.0) == pytest.approx(75.0)
    assert [t_nut(name).pull_out_n for name in ("economy", "light", "standard")] == [3500.0, 5000.0, 10000.0]


@pytest.mark.parametrize("name", names())
def test_a_profile_is_made_of_something_in_the_catalogue(name: str) -> None:
    each = profile(name)
    if isinstance(each, Timber):
        assert species(each.species).id == each.species
    else:
        assert material(each.material).id == each.material


def test_a_t_slot_profile_is_rated_with_the_lowest_of_its_range() -> None:
    for name in names(TSlot):
        each = profile(name)
        assert isinstance(each, TSlot)
        assert each.second_moment_mm4 == min(each.second_moment_range_mm4)
        # A solid square is the most a profile of this side could be.
        assert each.second_moment_range_mm4[1] < each.side_mm**4 / 12
        assert each.source.from_memory


def test_square_tubes_have_walls_that_fit() -> None:
    for name in names(SquareTube):
        each = profile(name)
        assert isinstance(each, SquareTube)
        assert 2 * each.outside_radius_mm < each.side_mm


def test_strut_lips_do_not_fill_the_channel() -> None:
    for name in names(StrutChannel):
        each = profile(name)
        assert isinstance(each, StrutChannel)
        assert outline(each).is_valid
        assert each.lip_mm < each.height_mm - 2 * each.thickness_mm
        assert each.hole_mm[0] < each.pitch_mm


def test_an_unknown_profile_names_the_nearest() -> None:
    with pytest.raises(NotInCatalogue) as problem:
        profile("strut 41x41x3")
    assert any("41x41" in name for name in problem.value.nearest)
