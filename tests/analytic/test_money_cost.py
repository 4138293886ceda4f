"""Costs worked by hand from the rates and the catalogue's times.

The plate: 200 × 100 × 2 mm DC01 (7850 kg/m³), one hole of 20 mm, ten of them, powder coated, typical rates.

- cut 2 (200 + 100) + 20 π = 662.83 mm; chart speed of 2 mm mild steel at 3 kW 4.8 to 7.5 m/min (facts of the
  catalogue), middle 6.15, 65 % of it 3.9975 m/min: 9.949 s; two pierces of 0.3 s and 0.4 s of travel each: 11.349 s
- sheet (200 + 4.4)(100 + 4.4) × 2 × 7.85e-6 = 0.33503 kg; the plate itself 0.30907 kg
- coat 2 × 19685.84 + 662.83 × 2 = 40697.3 mm²
- bench 0.66283 × 4 + 2 (3 + 0.8 × 0.30907) + 40 = 49.146 s
- once: order 20.00, drawing 6 min at 60 an hour 6.00, coating 25.00
"""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from steadfold.catalogue import material
from steadfold.fabricate.shop_file import typical_shop
from steadfold.money.amount import Money
from steadfold.money.cost import CostAnswer, cost_of
from steadfold.money.postage import carriage
from steadfold.money.rates import read_rates, typical_rates
from steadfold.money.work import brake_seconds
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.outline import circle
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel

EACH = 11.349 / 3600 * 95 + 0.33503 * 1.50 + 0.0406973 * 11 + 49.146 / 3600 * 45
ONCE = 20.00 + 6.00 + 25.00


def plate(finish: str = "powder coat", quantity: int = 10, rates: dict[str, object] | None = None) -> CostAnswer:
    """The plate above."""
    hole = Cutout(circle(20.0, (100.0, 50.0)))
    tree = PanelTree((rectangular_panel("plate", 200.0, 100.0, cutouts=(hole,)),))
    part = resolve(tree, "plate", 2.0, din_rule(2.0, 2.0, None)).part
    return cost_of(
        part, flat_pattern(part), None, material("DC01"), typical_shop(), quantity, finish, rates=read_rates(rates or {})
    )


def test_ten_plates_cost_what_the_hand_says() -> None:
    answer = plate()
    # 10 plates weigh 3.09 kg: the 5 kg parcel at 9.00.
    by_hand = (ONCE + 10 * EACH + 9.00) / 10
    assert by_hand == pytest.approx(7.864, abs=0.001)
    assert answer.each == Money(Decimal("7.86"), "EUR")


def test_the_lines_of_an_uncalibrated_cost_add_up_to_it() -> None:
    answer = plate()
    total = sum(line.money.amount for line in answer.lines) + answer.shipping.price.amount
    assert abs(total - answer.each.amount * 10) <= Decimal("0.10")


def test_a_bare_plate_costs_the_coating_less() -> None:
    # Fifty of them: ten bare ones are worth less than the least order.
    coated, bare = plate(quantity=50), plate("none", 50)
    by_hand = (25.00 + 50 * 0.0406973 * 11) / 50
    assert float(coated.each.amount - bare.each.amount) == pytest.approx(by_hand, abs=0.011)


def test_the_price_of_one_falls_with_the_quantity_by_what_is_paid_once() -> None:
    costs = {n: float(money.amount) for n, money in plate().at}
    # 20 plates weigh 6.18 kg: the 10 kg parcel at 12.00; 100 weigh 30.9 kg: two parcels of 20 kg at 17.00.
    assert costs[20] == pytest.approx((ONCE + 12.00) / 20 + EACH, abs=0.006)
    assert costs[100] == pytest.approx((ONCE + 34.00) / 100 + EACH, abs=0.006)
    assert sorted(costs.values(), reverse=True) == list(costs.values())


def test_the_least_order_is_charged_where_the_work_is_worth_less() -> None:
    answer = plate("none", 1)
    # Work 20 + 6 + 0.2995 + 0.5025 + 0.6143 = 27.42, least order 45.00, the smallest parcel 7.00.
    assert answer.least_counts
    assert answer.each == Money(Decimal("52.00"), "EUR")


def test_another_currency_is_reckoned_from_the_typical_rates_by_what_a_euro_buys() -> None:
    euro, crowns = plate(), plate(rates={"currency": "SEK", "per_euro": 11.5})
    assert crowns.each.currency == "SEK"
    assert float(crowns.each.amount) == pytest.approx(11.5 * float(euro.each.amount), abs=0.06)


def test_a_rate_of_ones_own_moves_only_its_own_line() -> None:
    own, typical = plate(rates={"laser": "190 EUR/h"}), plate()
    changed = [a.operation.name for a, b in zip(own.lines, typical.lines, strict=True) if a.money != b.money]
    assert changed == ["cutting"]
    cutting = next(line for line in own.lines if line.operation.name == "cutting")
    assert float(cutting.money.amount) == pytest.approx(10 * 11.349 / 3600 * 190, abs=0.006)


def test_a_part_two_people_lift_takes_both_at_the_brake() -> None:
    tree = PanelTree(
        (rectangular_panel("a", 1000.0, 800.0), rectangular_panel("b", 1000.0, 100.0, "a", "bottom", math.pi / 2))
    )
    part = resolve(tree, "angle", 4.0, din_rule(4.0, 4.0, None)).part
    shop, rates = typical_shop(), typical_rates()
    light, _, _ = brake_seconds(part, None, 25.0, shop, rates)
    heavy, _, say = brake_seconds(part, None, 26.0, shop, rates)
    # One stroke and a half turn, 8 + 4 s; picked up and carried, 3 s and 0.8 s a kilogram.
    assert light == pytest.approx(12.0 + 3.0 + 0.8 * 25.0)
    assert heavy == pytest.approx(2 * (12.0 + 3.0 + 0.8 * 26.0))
    assert "2 people" in say


def test_carriage_is_by_mass_or_size_whichever_bills_more_and_pallets_take_over() -> None:
    postage = typical_rates().shipping
    by_mass, by_size = carriage(4.0, 10_000.0, postage), carriage(4.0, 40_000.0, postage)
    assert (by_mass.by, by_mass.price.amount) == ("mass", Decimal(9))
    assert (by_size.by, by_size.billed_kg, by_size.price.amount) == ("size", 8.0, Decimal(12))
    # 45 kg in one piece goes on a pallet: 75 + 0.25 × 45; three pieces of 15 kg in parcels of 20 kg cost 3 × 17.
    one_piece, pieces = carriage(45.0, 1000.0, postage, 45.0), carriage(45.0, 1000.0, postage, 15.0)
    assert one_piece.on_pallet and one_piece.price.amount == Decimal("86.25")
    assert not pieces.on_pallet and pieces.price.amount == min(Decimal(2 * 24), Decimal(3 * 17))
