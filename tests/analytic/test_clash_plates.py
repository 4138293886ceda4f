"""Two plates in space: closed forms, and points thrown into one of them looked for in the other.

The throwing of points knows nothing of separating axes or of the plates' common line.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from steadfold.sheet.plates import Plate, depth_of_overlap
from steadfold.sheet.pose import Frame

PAIRS = 400


def frame(origin: np.ndarray, turn: np.ndarray) -> Frame:
    return Frame(np.asarray(origin, dtype=float), turn[:, 0], turn[:, 1], turn[:, 2])


def about_x(angle: float) -> np.ndarray:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])


def any_turn(random: np.random.Generator) -> np.ndarray:
    q, r = np.linalg.qr(random.normal(size=(3, 3)))
    return q * np.sign(np.diag(r))


def within(plate: Plate, points: np.ndarray, margin: float) -> np.ndarray:
    """Points deeper in a plate's thickness than the margin and inside its outline drawn in by it."""
    offset = points - plate.frame.origin
    x, y, z = (offset @ axis for axis in (plate.frame.along, plate.frame.away, plate.frame.face))
    return (np.abs(z) < 0.5 * plate.thickness_mm - margin) & shapely.contains_xy(plate.outline.buffer(-margin), x, y)


def thrown(plate: Plate, count: int, random: np.random.Generator) -> np.ndarray:
    x0, y0, x1, y1 = plate.outline.bounds
    flat = np.column_stack([random.uniform(x0, x1, count), random.uniform(y0, y1, count)])
    return plate.frame.points(flat, random.uniform(-0.5, 0.5, count) * plate.thickness_mm)


def any_outline(random: np.random.Generator) -> shapely.Polygon:
    """A rectangle, an angle piece, a plate with a hole, or a star."""
    w, h = random.uniform(8, 40, 2)
    kind = random.integers(4)
    if kind == 0:
        return shapely.box(-w / 2, -h / 2, w / 2, h / 2)
    if kind == 1:
        return shapely.box(-w / 2, -h / 2, w / 2, h / 2).difference(shapely.box(0, 0, w, h))
    if kind == 2:
        hole = shapely.Point(random.uniform(-w / 8, w / 8), 0).buffer(0.3 * min(w, h))
        return shapely.box(-w / 2, -h / 2, w / 2, h / 2).difference(hole)
    angle = np.arange(10) * math.pi / 5
    radius = np.where(np.arange(10) % 2, 0.2, 0.5) * w
    return shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))


def test_thrown_points_and_depths_agree_for_400_pairs_of_plates() -> None:
    """A point found in both plates by 0.02 mm means a depth; a depth of 0.4 mm means points in both, near the place."""
    random = np.random.default_rng(20)
    met = 0
    for number in range(PAIRS):
        t = random.uniform(0.8, 5)
        one = Plate(frame(np.zeros(3), any_turn(random)), any_outline(random), t)
        two = Plate(frame(random.normal(scale=9, size=3), any_turn(random)), any_outline(random), t)
        depth, place = depth_of_overlap(one, two)
        points = thrown(one, 20_000, random)
        inside = within(one, points, 0.02) & within(two, points, 0.02)
        assert depth > 0 or not inside.any(), f"pair {number}: points in both, depth {depth}"
        if depth > 0.4:
            met += 1
            near = place + random.uniform(-2.5, 2.5, size=(60_000, 3))
            assert (within(one, near, 0.0) & within(two, near, 0.0)).any(), f"pair {number}: depth {depth}, no point"
    assert PAIRS / 5 < met < PAIRS - PAIRS / 5


@pytest.mark.parametrize("degrees", [0.0, 0.3, 3.0, 30.0, 90.0, 150.0, 179.99, 180.0])
def test_a_plate_resting_on_another_does_not_clash_and_sunk_in_it_does(degrees: float) -> None:
    """A plate stands on its edge on a plate of thickness 2: its lowest corner is at `-(t/2)|cos| ` below its edge's
    middle. At height 1 + that it touches; lowered by 0.5 it lies 0.5 deep along the lower plate's normal."""
    t, angle = 2.0, math.radians(degrees)
    floor = Plate(frame(np.zeros(3), np.eye(3)), shapely.box(-50, -50, 50, 50), t)
    # the plate's own y axis leans at the angle; its edge y = 0 is lowest
    reach = 0.5 * t * abs(math.cos(angle))
    for lowered, clashes in ((0.0, False), (0.5, True)):
        origin = np.array([0.0, 0.0, 0.5 * t + reach - lowered])
        other = Plate(frame(origin, about_x(angle)), shapely.box(-10, 0, 10, 20), t)
        depth, place = depth_of_overlap(floor, other)
        if clashes:
            assert depth == pytest.approx(0.5, abs=1e-9)
            assert abs(place[2]) < 0.5 * t + 1e-9
        else:
            assert depth == pytest.approx(0.0, abs=1e-9)


def test_a_plate_through_a_hole_clashes_only_when_it_touches_the_rim() -> None:
    """A 10 mm wide plate stands through a 12 mm square hole with 1 mm to spare each side; moved 1.3 mm it cuts 0.3
    mm into the rim."""
    sheet = Plate(
        frame(np.zeros(3), np.eye(3)), shapely.box(-30, -30, 30, 30).difference(shapely.box(-6, -6, 6, 6)), 2.0
    )
    for moved, expected in ((0.0, None), (0.9, None), (1.3, 0.3)):
        blade = Plate(frame(np.array([moved, 0, 0]), about_x(math.pi / 2)), shapely.box(-5, -20, 5, 20), 2.0)
        depth, _ = depth_of_overlap(sheet, blade)
        if expected is None:
            assert depth <= 0
        else:
            assert depth == pytest.approx(expected, abs=1e-9)


def test_plates_in_one_plane_or_stacked_clash_by_what_their_thickness_lacks() -> None:
    """Parallel plates 1.5 mm apart and 2 mm thick lie 0.5 mm in each other, also when one is turned about or over."""
    square = shapely.box(-10, -10, 10, 10)
    lower = Plate(frame(np.zeros(3), np.eye(3)), square, 2.0)
    for turn in (np.eye(3), about_x(math.pi), np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1.0]])):
        for height, expected in ((1.5, 0.5), (2.0, 0.0), (2.5, -0.5)):
            depth, _ = depth_of_overlap(lower, Plate(frame(np.array([5.0, 3, height]), turn), square, 2.0))
            assert depth == pytest.approx(expected, abs=1e-9)
        beside = Plate(frame(np.array([20.0, 0, 0]), turn), square, 2.0)
        assert depth_of_overlap(lower, beside)[0] <= 0
