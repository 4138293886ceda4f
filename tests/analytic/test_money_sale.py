"""Price, pay-back and cash worked by hand, and chance held to closed forms.

The rack: 18.00 landed in any batch, packaging 2.00, postage 7.00 (one price for every parcel), channel 12 %, payment
3 % and 0.30 a sale, no tax. Margin 35 %. No returns and no reserve unless a test says so.
"""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from steadfold.money.amount import Money
from steadfold.money.demand import Demand, Venture, monthly_sales, simulate
from steadfold.money.product import expected_end, product
from steadfold.money.rates import Postage
from steadfold.money.sale import Fees, Goods, PriceError, Sale, Variant, pay_back, price_for_margin, unit_price


def euro(amount: str) -> Money:
    return Money(Decimal(amount), "EUR")


def one_price(amount: str) -> Postage:
    return Postage((1e6,), (euro(amount),), 1e9, euro(amount), euro("0"))


GOODS = Goods(euro("18"), euro("15"), euro("22"), 1.2, (300.0, 140.0, 90.0))
RACK = Sale(
    "rack", "EUR", (("oar rack", 1),), Decimal("0.35"),
    Fees(Decimal("0.12"), Decimal("0.03"), euro("0.30")), Decimal(0), Decimal(0), Decimal(0), euro("2.00"),
    postage=one_price("7.00"), design=euro("600"), batch=20,
)  # fmt: skip


def test_the_price_is_costs_over_what_fees_and_margin_leave() -> None:
    # (18 + 2 + 7 + 0.30) / (1 - 0.15 - 0.35) = 54.60
    assert price_for_margin(RACK, GOODS) == euro("54.60")


def test_at_that_price_the_margin_is_left() -> None:
    unit = unit_price(RACK, GOODS, euro("54.60"))
    # 54.60 - 0.15 × 54.60 - 0.30 - 18 - 2 - 7 = 19.11 = 35 %
    assert unit.contribution == euro("19.11")
    assert unit.margin == Decimal("0.35")


def test_fees_are_taken_of_what_the_buyer_pays_tax_included() -> None:
    taxed = replace(RACK, fees=replace(RACK.fees, tax=Decimal("0.20")))
    # 27.30 / (1 - 0.15 × 1.20 - 0.35) = 58.0851, up to 58.09
    assert price_for_margin(taxed, GOODS) == euro("58.09")


def test_returns_give_their_price_back_and_cost_the_way_back() -> None:
    sold = replace(RACK, returns=Decimal("0.05"), resold=Decimal("0.60"))
    unit = unit_price(sold, GOODS, euro("60"))
    # Fees 0.15 × 60 × 0.95 + 0.30 = 8.85; returns 3.00 + 0.35 - 18 × 0.05 × 0.60 = 2.81
    assert unit.fees == euro("8.85")
    assert unit.returns == euro("2.81")
    assert unit.contribution == euro("21.34")  # 60 - 8.85 - 18 - 2 - 7 - 2.81


def test_the_reserve_is_the_share_that_is_replaced_sent_and_packed_again() -> None:
    unit = unit_price(replace(RACK, warranty=Decimal("0.02")), GOODS, euro("60"))
    assert unit.reserve == euro("0.54")  # 0.02 × (18 + 2 + 7)


def test_the_design_is_paid_back_by_so_many_sales_and_so_large_a_batch() -> None:
    back = pay_back(RACK, lambda batch: GOODS, euro("54.60"))
    # 600 / 19.11 = 31.4
    assert back.units == 32
    assert back.batch == 32
    assert back.first_order == euro("-217.80")  # 20 × 19.11 - 600
    assert back.first_order_loses


def test_a_larger_batch_that_costs_less_pays_sooner() -> None:
    def landed(batch: int) -> Goods:
        return replace(GOODS, each=(euro("12") + euro("90") / batch).rounded())

    back = pay_back(RACK, landed, euro("54.60"))
    # Left of a sale 37.11 - landed; n (37.11 - 12 - 90 / n) >= 600, so n >= 690 / 25.11 = 27.5, to the cent.
    assert back.batch == 28


def test_no_number_pays_back_what_loses_on_every_sale() -> None:
    back = pay_back(RACK, lambda batch: GOODS, euro("30"))
    assert back.units is None and back.batch is None


def test_fees_and_margin_of_all_the_price_leave_no_price() -> None:
    with pytest.raises(PriceError, match=r"together take 103\.0 %"):
        price_for_margin(replace(RACK, margin=Decimal("0.88")), GOODS)


EVEN = Venture(contribution_before_goods=37.11, landed=18.0, design=600.0, batch=20, months=12, lead_months=1)


def test_cash_without_chance_is_the_hand_worked_ledger() -> None:
    """Five a month for certain, batches of 20, a month to come, 12 months.

    Month 0: -600 - 360 = -960. Sales from month 2 (the batch is there at the end of month 1): 11 months × 5 = 55.
    A batch is ordered when stock and coming are at most 10: after months 3, 7 and 11; the last could not be
    there in time and is left. Bought 60, sold 55, left 5. End: 55 × 37.11 - 60 × 18 - 600 = 361.05.
    """
    answer = simulate(EVEN, Demand(5.0, 5.0, lumpiness=0.0), paths=7)
    assert answer.end == pytest.approx((361.05, 361.05, 361.05), abs=1e-9)
    assert answer.chance_of_loss == 0.0
    assert answer.sold == 55 and answer.stock_left == 5
    ledger = [-960.0, -960.0]
    for month in range(2, 13):
        ordered = 360.0 if month in (3, 7) else 0.0
        ledger.append(ledger[-1] + 5 * 37.11 - ordered)
    assert answer.band[:, 2] == pytest.approx(ledger, abs=1e-9)
    assert answer.peak_out == pytest.approx(960.0)
    first_above = next(m for m in range(13) if all(v >= 0 for v in ledger[m:]))
    assert answer.pays_back_month == first_above


def test_the_end_without_chance_and_stock_for_all_is_the_closed_form() -> None:
    # One batch that lasts: bought at once, 5 a month for 11 months; what is not sold has been paid for.
    venture = replace(EVEN, batch=200)
    answer = simulate(venture, Demand(5.0, 5.0, lumpiness=0.0), paths=3)
    assert answer.end[1] == pytest.approx(55 * 37.11 - 200 * 18.0 - 600.0)
    assert expected_end(EVEN, 5.0) == pytest.approx(55 * (37.11 - 18.0) - 600.0)


def test_lumpy_months_have_the_mean_and_variance_that_were_asked_for() -> None:
    """Mean m, variance lumpiness × m; with 400,000 months the mean lies within 4 standard errors."""
    for lumpiness in (1.0, 1.5, 4.0):
        wanted = monthly_sales(Demand(6.0, 6.0, lumpiness), 40, 10_000, seed=3)
        error = math.sqrt(lumpiness * 6.0 / wanted.size)
        assert wanted.mean() == pytest.approx(6.0, abs=4 * error)
        assert wanted.var() == pytest.approx(lumpiness * 6.0, rel=0.02)


def test_the_mean_demand_lies_between_its_ends_nine_times_in_ten() -> None:
    means = monthly_sales(Demand(2.0, 8.0, 1.0), 4000, 2000, seed=5).mean(axis=1)
    held = ((means >= 2.0) & (means <= 8.0)).mean()
    # 2000 draws of a 0.9 chance: four standard errors are 0.027; the months' own noise adds less than 0.01.
    assert held == pytest.approx(0.9, abs=0.037)


def test_the_chance_of_loss_is_the_closed_form_of_a_single_batch() -> None:
    """A batch for all time, months that follow the mean: a loss when mean × 11 × 37.11 < 600 + 18 × batch.

    The mean is log-normal, so the chance is the bell curve's share below the logarithm of that mean.
    """
    venture, demand = replace(EVEN, batch=400), Demand(4.0, 60.0, lumpiness=1.0)
    needed = (600.0 + 18.0 * 400) / 37.11 / 11
    z = (math.log(needed) - math.log(demand.middle)) / demand.spread
    chance = 0.5 * math.erfc(-z / math.sqrt(2))
    answer = simulate(venture, demand, paths=40_000)
    # Four standard errors of 40,000 futures, and the months' own Poisson noise (a few per cent of the mean).
    assert answer.chance_of_loss == pytest.approx(chance, abs=0.02)


def test_the_assumption_that_matters_most_is_the_one_that_moves_the_end_most() -> None:
    sale = replace(RACK, price=euro("54.60"), demand=Demand(2.0, 8.0), months=24)
    answer = product(sale, lambda variant, batch: GOODS)
    sizes = {swing.what: swing.size for swing in answer.swings}
    # By hand: 23 months of sales, 19.11 a piece, from 2 to 8 a month.
    assert sizes["how many are sold a month"] == pytest.approx(23 * 6 * 19.11, rel=1e-6)
    assert sizes["what one costs landed"] == pytest.approx(23 * 4 * 7.0, rel=1e-6)
    assert answer.swings[0].what == "how many are sold a month"
    assert answer.swings[0].must_be == pytest.approx(600 / 19.11 / 23, rel=1e-6)
    assert answer.swings[0].what in answer.sentence


def test_a_sale_without_a_demand_is_not_called_a_product() -> None:
    answer = product(RACK, lambda variant, batch: GOODS)
    assert answer.standing == "not known"
    assert answer.cash is None


def test_each_variant_has_its_own_price() -> None:
    sale = replace(RACK, variants=(Variant("one"), Variant("five", None, 5)))
    fives = replace(GOODS, each=euro("90"))
    answer = product(sale, lambda variant, batch: GOODS if variant.count == 1 else fives)
    prices = [row.unit.price for row in answer.rows]
    assert prices == [euro("54.60"), euro("198.60")]  # (90 + 2 + 7 + 0.30) / 0.5


def test_the_band_of_cash_is_in_order() -> None:
    answer = simulate(EVEN, Demand(2.0, 8.0))
    assert (np.diff(answer.band, axis=1) >= 0).all()
