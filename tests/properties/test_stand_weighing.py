"""Weighing a side at a time: worked answers, and intervals that hold what they claim on simulated machines."""

from __future__ import annotations

import math

import numpy as np
import pytest

from steadfold.stand.records import StandError
from steadfold.stand.weigh import (
    NINETY_FIVE,
    FeetReadings,
    ScaleReading,
    Weighed,
    placements,
    sheet,
    weigh,
)

REAR, FRONT = ((460.0, 0.0), (460.0, 500.0)), ((0.0, 0.0), (0.0, 500.0))
MACHINES = 2000


def test_two_pairs_of_feet_give_mass_and_centre_as_by_hand() -> None:
    """74.0 and 51.5 kg, feet 460 apart: 125.5 kg, 188.8 mm from the front, 3.7 mm if each scale is off by 1 kg."""
    error = 1.0 / NINETY_FIVE
    found = weigh([ScaleReading(74.0, error, (0.0, 0.0), REAR), ScaleReading(51.5, error, (460.0, 0.0), FRONT)])
    assert found.mass_kg == pytest.approx(125.5)
    assert found.centre_mm[0] == pytest.approx(188.8, abs=0.05)
    assert found.worst[1] == pytest.approx(3.7, abs=0.05)
    assert found.centre_mm[1] is None and found.centre_mm[2] is None


def test_tilting_gives_the_height_of_the_centre() -> None:
    """78 + 52 kg, 600 apart: 130 kg, 240 mm; raising the rear by 10 degrees adds 8 kg in front: 209.4 mm up
    (moments).
    """
    back, front = ((600.0, 0.0), (600.0, 9.0)), ((0.0, 0.0), (0.0, 9.0))
    found = weigh([
        ScaleReading(78.0, 0.5, (0.0, 0.0), back), ScaleReading(52.0, 0.5, (600.0, 0.0), front),
        ScaleReading(86.0, 0.5, (0.0, 0.0), back, -math.radians(10.0)),
    ])  # fmt: skip
    assert found.mass_kg == pytest.approx(130.0)
    assert found.centre_mm[0] == pytest.approx(240.0)
    assert found.centre_mm[2] == pytest.approx(209.4, abs=0.05)


def test_a_plank_multiplies_what_the_scale_reads() -> None:
    """Foot at 300, scale at 1200 from the pivot, 60 kg net: 240 kg (lever)."""
    found = weigh([ScaleReading(64.5, 0.5, lever=4.0, tare_kg=4.5)])
    assert found.mass_kg == pytest.approx(240.0)
    assert found.error[0] == pytest.approx(2.0)


def test_four_feet_weighed_at_once_are_moments_about_their_middle() -> None:
    feet = ((0.0, 0.0), (400.0, 0.0), (0.0, 300.0), (400.0, 300.0))
    found = weigh([FeetReadings(feet, (30.0, 20.0, 28.0, 22.0), 0.5)])
    assert found.mass_kg == pytest.approx(100.0)
    assert found.centre_mm[:2] == pytest.approx((400.0 * 42.0 / 100.0, 300.0 * 50.0 / 100.0))
    assert found.error[0] == pytest.approx(1.0)


def simulated(random: np.random.Generator) -> tuple[tuple[float, float, float, float], Weighed]:
    """A machine of its own mass and centre, weighed at five placements with a scale's noise; true moments by
    statics.
    """
    mass, x, y, h = random.uniform(60.0, 250.0), *random.uniform(100.0, 360.0, size=2), random.uniform(150.0, 500.0)
    error = random.uniform(0.2, 1.0)
    readings = []
    for at, line, raised in (
        ((0.0, 250.0), REAR, 0.0), ((460.0, 250.0), FRONT, 0.0), ((230.0, 0.0), ((0.0, 500.0), (460.0, 500.0)), 0.0),
        ((230.0, 500.0), ((0.0, 0.0), (460.0, 0.0)), 0.0), ((0.0, 250.0), REAR, -math.radians(10.0)),
    ):  # fmt: skip
        if line[0][0] == line[1][0]:
            far, centre, scale = line[0][0], x, at[0]
        else:
            far, centre, scale = line[0][1], y, at[1]
        arm = abs(scale - far)
        true = mass * (abs(centre - far) - h * math.tan(raised)) / arm
        readings.append(ScaleReading(true + error * random.normal(), error, at, line, raised))
    return (mass, x, y, h), weigh(readings)


def test_ninety_five_per_cent_ranges_hold_the_truth_of_93_to_97_per_cent_of_machines() -> None:
    random = np.random.default_rng(20240229)
    inside = np.zeros(4)
    for _ in range(MACHINES):
        truth, found = simulated(random)
        ranges = [found.mass_range_kg, *(found.centre_range_mm(axis) for axis in range(3))]
        inside += [
            each is not None and each.low <= value <= each.high for each, value in zip(ranges, truth, strict=True)
        ]
    assert (inside / MACHINES >= 0.93).all() and (inside / MACHINES <= 0.97).all(), inside / MACHINES


def test_a_scale_that_reads_all_wrong_alike_is_in_the_mass_but_not_in_the_place() -> None:
    """A common error of 2 % of every reading: mass 2 % unsure, its centre no more than before."""
    readings = [ScaleReading(74.0, 0.1, (0.0, 0.0), REAR), ScaleReading(51.5, 0.1, (460.0, 0.0), FRONT)]
    plain, scaled = weigh(readings), weigh(readings, scale_share=0.02)
    assert scaled.error[0] == pytest.approx(math.hypot(plain.error[0], 0.02 * 125.5), rel=1e-6)
    assert scaled.error[1] == pytest.approx(plain.error[1], rel=1e-6)


def test_readings_that_contradict_each_other_are_called_so() -> None:
    good = [ScaleReading(74.0, 0.5, (0.0, 0.0), REAR), ScaleReading(51.5, 0.5, (460.0, 0.0), FRONT)]
    assert not weigh([*good, ScaleReading(125.9, 0.5)]).disagree
    assert weigh([*good, ScaleReading(140.0, 0.5)]).disagree


@pytest.mark.parametrize(("readings", "words"), [
    ([], "no readings"),
    ([ScaleReading(74.0, 0.5, (0.0, 0.0), REAR)], "do not give the mass"),
    ([ScaleReading(74.0, 0.0)], "error is more than 0"),
    ([ScaleReading(74.0, 0.5, (460.0, 100.0), REAR)], "on the line"),
    ([ScaleReading(74.0, 0.5, (0.0, 0.0), ((1.0, 1.0), (1.0, 1.0)))], "two points"),
    ([ScaleReading(2.0, 0.5, tare_kg=5.0)], "weighs nothing"),
])  # fmt: skip
def test_readings_that_say_nothing_are_refused_in_a_sentence(readings: list[ScaleReading], words: str) -> None:
    with pytest.raises(StandError, match=words):
        weigh(readings)


def test_the_sheet_says_where_to_put_the_scale_and_how_well_it_will_be_known() -> None:
    feet = ((0.0, 0.0), (460.0, 0.0), (0.0, 500.0), (460.0, 500.0))
    plan, after = placements(feet, 125.0, 0.5)
    assert len(plan) == 5 and all(value is not None for value in after.error)
    text = sheet(feet, 125.0, 0.5, scale_limit_kg=60.0)
    assert "under the inner pair of feet" in text and "plank" in text and "460 mm apart" in text
