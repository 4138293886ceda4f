"""Printed answers: the roll-cutting case, the economic order quantity, billing by size.

Roll cutting: the paper-machine example that encyclopaedias print for the cutting stock problem: parent rolls of
5600 mm, 13 widths, 73 rolls at the optimum (recalled; the count was worked again here by two ways). Economic order
quantity: the classroom case S 300, D 144 a year, h 20 %, v 24, printed answer 134.16 (recalled). Billing by size:
carriers' 5000 cm³ a kilogram (common practice, recalled), a box of 40 × 30 × 20 cm billed as 4.8 kg.
"""

from __future__ import annotations

import pytest
from tests.comparisons import source_value

from steadfold.money.postage import size_kg
from steadfold.money.sale import economic_batch
from steadfold.quantities.cutting_stock import cut_lengths, first_fit

ROLLS = {
    1380.0: 22, 1520.0: 25, 1560.0: 12, 1710.0: 14, 1820.0: 18, 1880.0: 18, 1930.0: 20, 2000.0: 10, 2050.0: 12,
    2100.0: 14, 2140.0: 16, 2150.0: 18, 2200.0: 20,
}  # fmt: skip


def test_the_printed_rolls_take_seventy_three_and_the_bound_proves_it() -> None:
    plan = cut_lengths(ROLLS, [5600.0])
    assert plan.bars == source_value("cutting stock, bars", "paper rolls of 5600", "the printed case, optimum", 73)
    assert plan.optimal and plan.bound == pytest.approx(73)


def test_the_bench_habit_takes_nine_rolls_more() -> None:
    # Measured by the prototypes beside the printed case: longest first, first fit, 82.
    assert first_fit(ROLLS, 5600.0) == 82


def test_every_width_of_the_printed_case_is_cut_as_often_as_asked_and_no_roll_is_overfull() -> None:
    plan = cut_lengths(ROLLS, [5600.0])
    cut: dict[float, int] = {}
    for pattern in plan.patterns:
        assert sum(pattern.pieces) <= 5600.0 + 1e-9
        for piece in pattern.pieces:
            cut[piece] = cut.get(piece, 0) + pattern.bars
    assert cut == ROLLS


def test_the_economic_order_quantity_of_the_classroom_case() -> None:
    assert round(economic_batch(300.0, 144.0, 0.2, 24.0), 2) == source_value(
        "economic batch", "classroom case", "textbook case", 134.16
    )


def test_a_light_box_is_billed_for_its_size() -> None:
    assert size_kg((400.0, 300.0, 200.0), 5000.0) == source_value(
        "billed mass", "400 × 300 × 200, 5000 cm³/kg", "carriers' rule", 4.8, "kg", rel=1e-9
    )
