"""Gauges against printed tables and against the formulas the tables were made from."""

from __future__ import annotations

import pytest
from tests.published.catalogue_values import as_printed, ids, rows, values

from steadfold.catalogue import NotInCatalogue, gauge, gauges_near, stock_thicknesses, thickness_of
from steadfold.catalogue.gauges import gauge_numbers

# US standard gauge, lb/ft2 (Act of Congress of 1893; recalled), the weight basis of the steel and
# stainless tables.
WEIGHTS = {
    7: 7.5, 8: 6.875, 9: 6.25, 10: 5.625, 11: 5.0, 12: 4.375, 13: 3.75, 14: 3.125, 15: 2.8125, 16: 2.5, 17: 2.25,
    18: 2.0, 19: 1.75, 20: 1.5, 21: 1.375, 22: 1.25, 23: 1.125, 24: 1.0, 25: 0.875, 26: 0.75, 27: 0.6875, 28: 0.625,
}  # fmt: skip

TABLE = {"gauge.msg": "steel", "gauge.galv": "galvanised", "gauge.ss": "stainless", "gauge.awg": "aluminium"}


@pytest.mark.parametrize("prefix", TABLE)
def test_gauges_are_the_listed_published_thicknesses(prefix: str) -> None:
    for row in rows(prefix + "."):
        assert gauge(row["inputs"]["gauge"], TABLE[prefix]).inch == as_printed(row), ids(row)


@pytest.mark.parametrize("name", ["steel", "galvanised", "aluminium"])
def test_every_gauge_is_the_printed_one(name: str) -> None:
    """Source: the sheet metal gauge chart named in values/sheet_gauges.json; all four digits."""
    printed = values("sheet_gauges")[name]
    for number, inch in printed.items():
        assert gauge(int(number), name).inch == inch
    assert set(gauge_numbers(name)) - {int(number) for number in printed} <= {8}


@pytest.mark.parametrize("number", range(7, 29))
def test_steel_gauges_follow_from_their_weight_basis(number: int) -> None:
    """Manufacturers' Standard Gage: thickness = (US standard lb/ft2) / 41.82; printed to four digits."""
    assert gauge(number, "steel").inch == pytest.approx(WEIGHTS[number] / 41.82, abs=0.6e-4)


@pytest.mark.parametrize("number", range(7, 29))
def test_stainless_gauges_follow_from_their_weight_basis(number: int) -> None:
    """US Standard Gage at 40 lb/ft2 per inch; the older print cuts 0.03125 to .0312, hence the tolerance."""
    assert gauge(number, "stainless").inch == pytest.approx(WEIGHTS[number] / 40.0, abs=0.6e-4)


@pytest.mark.parametrize("number", range(7, 29))
def test_aluminium_gauges_follow_the_wire_gauge_formula(number: int) -> None:
    """ASTM B258: 0.005 x 92^((36 - n)/39) in, printed to four digits."""
    assert gauge(number, "aluminium").inch == pytest.approx(0.005 * 92 ** ((36 - number) / 39), abs=0.51e-4)


def test_a_gauge_is_a_different_thickness_in_each_metal() -> None:
    twelve = {thickness_of("12 ga", name) for name in ("DC01", "DX51D", "304", "5052-H32")}
    assert len(twelve) == 4
    assert max(twelve) - min(twelve) > 0.7


def test_a_gauge_without_a_metal_table_is_refused() -> None:
    for name in ("birch plywood", "PLA"):
        with pytest.raises(NotInCatalogue, match="mm or inch"):
            gauge("12 ga", name)


def test_a_gauge_is_echoed_in_mm_and_inch_with_its_metal() -> None:
    echo = gauge("11 ga", "DC01").echo
    assert "steel" in echo and "3.038 mm" in echo and "0.1196 in" in echo


def test_stainless_says_when_the_second_list_differs() -> None:
    """Second list of the trade: 12 ga .105, 14 ga .075, 16 ga .060 (recalled)."""
    for number, inch in ((10, 0.135), (11, 0.120), (12, 0.105), (14, 0.075), (16, 0.060), (18, 0.048)):
        each = gauge(number, "304")
        assert each.other_inch == inch
        assert f"{inch:.4f}" in each.echo
    assert gauge(13, "304").other_inch is None
    assert gauge(12, "DC01").other_inch is None


@pytest.mark.parametrize("text", ["11 ga", "11ga", "11 gauge", "11 GAGE", "#11", " 11 ", 11])
def test_a_gauge_is_read_however_it_is_written(text: str | int) -> None:
    assert gauge(text, "S235").number == 11


@pytest.mark.parametrize("text", ["eleven", "11.5 ga", "99 ga", "3 ga", "-11 ga", "", "11 mm"])
def test_what_is_no_gauge_is_refused_in_words(text: str) -> None:
    with pytest.raises(NotInCatalogue) as problem:
        gauge(text, "S235")
    assert len(str(problem.value)) > 20


def test_the_nearest_gauge_comes_first() -> None:
    assert [each.number for each in gauges_near(3.0, "DC01")] == [11, 12, 10]
    assert gauges_near(2.0, "5052-H32")[0].number == 12


@pytest.mark.parametrize("name", ["DC01", "A1008 CS", "DX51D", "304", "5052-H32", "birch plywood", "PLA"])
def test_stock_thicknesses_rise_and_say_where_they_come_from(name: str) -> None:
    stock = stock_thicknesses(name)
    assert len(stock) >= 5
    assert [each.mm for each in stock] == sorted({each.mm for each in stock})
    assert all(each.source.sentence for each in stock)


def test_aluminium_is_sold_in_the_decimals_of_the_stock_page() -> None:
    """Decimal inch sizes read on a stock page: .032 .040 .050 .063 .080 .090 .100 .125 .160 .190 .250."""
    inches = [round(each.mm / 25.4, 3) for each in stock_thicknesses("5052-H32")]
    assert inches == [0.032, 0.040, 0.050, 0.063, 0.080, 0.090, 0.100, 0.125, 0.160, 0.190, 0.250]


def test_a_family_not_sold_by_gauge_says_so() -> None:
    with pytest.raises(NotInCatalogue):
        stock_thicknesses("birch plywood", "gauge")
    with pytest.raises(NotInCatalogue):
        stock_thicknesses("DC01", "inch")
    assert stock_thicknesses("DC01", "gauge")[0].label == "22 ga"
