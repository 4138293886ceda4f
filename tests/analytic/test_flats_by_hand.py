"""Flat sizes of L, U, Z, hat, box and odd-angle parts, worked by hand.

Outside dimensions a, b, ...; flat = sum of outside dimensions - sum of deductions, with the deduction
`2 (r + t) tan(a / 2) - a (r + K t)` up to 90° and `2 (r + t) - a (r + K t)` above (to the outer tangent). The
numbers were worked with a pocket calculator from these formulas; the story's 114.92 is the worked case of a
slot bar. Tolerance 0.01 mm.
"""

from __future__ import annotations

import math

import pytest

from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.outline import Outline, circle, polygon_outline, rectangle
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, rectangular_panel


def chain(sizes: list[float], angles: list[float], t: float, r: float, k: float | None, width: float = 100.0) -> Part:
    """A part of panels one after the other, each on the far edge of the last."""
    panels = [rectangular_panel("0", width, sizes[0])]
    for i, (size, angle) in enumerate(zip(sizes[1:], angles, strict=True), start=1):
        edge = "bottom" if i == 1 else "far"
        panels.append(rectangular_panel(str(i), width, size, str(i - 1), edge, math.radians(angle)))
    return resolve(PanelTree(tuple(panels)), "chain", t, din_rule(t, r, k)).part


CASES = [
    # name, outside sizes, bend angles, t, r, K (None: DIN 6935), flat length
    ("L 30/40, t2 r2 K0.44", [30, 40], [90], 2, 2, 0.44, 70 - 3.4761),
    ("L 30/40, t2 r1 K0.33", [30, 40], [90], 2, 1, 0.33, 70 - 3.3925),
    ("L 25/20, t2 r4 DIN: v -4.459", [25, 20], [90], 2, 4, None, 45 - 4.4594),
    ("L 60/40, t3 r3 K0.42: deduction 5.308", [60, 40], [90], 3, 3, 0.42, 94.692),
    ("L 50/50 bent 60°, t2 r3 K0.42: 1.7523", [50, 50], [60], 2, 3, 0.42, 98.2477),
    ("L 50/50 bent 30°, t1.5 r2 K0.44: 0.4829", [50, 50], [30], 1.5, 2, 0.44, 99.5171),
    ("L 50/50 bent 135°, to the tangent: 8 - 6.7858", [50, 50], [135], 2, 2, 0.44, 98.7858),
    ("L 50/30 bent 15°, t1 r1 DIN", [50, 30], [15], 1, 1, None, 80 - (4 * math.tan(math.radians(7.5)) - 0.346884)),
    ("U 25/20/15, t2 r4 DIN: book 51", [25, 20, 15], [90, 90], 2, 4, None, 51.0813),
    ("U 40/60/40, t2 r2 DIN: 140 - 2 x 3.8374", [40, 60, 40], [90, 90], 2, 2, None, 132.3252),
    ("U 40/60/40, t3 r6 DIN: 140 - 2 x 6.6891", [40, 60, 40], [90, 90], 3, 6, None, 126.6218),
    ("Z 30/50/30, t2 r2 K0.42: 110 - 2 x 3.5389", [30, 50, 30], [90, -90], 2, 2, 0.42, 102.9221),
    ("Z 20/35/20, t1 r1 DIN: 75 - 2 x 1.9187", [20, 35, 20], [-90, 90], 1, 1, None, 71.1626),
    ("hat 25/40/60/40/25, t2 r2 K0.42", [25, 40, 60, 40, 25], [90, -90, -90, 90], 2, 2, 0.42, 175.8442),
    ("slot bar 60/50/12, t2 r2 K0.42", [60, 50, 12], [90, 90], 2, 2, 0.42, 114.92),
    ("C 20/50/90/50/20, t2 r2 DIN: 230 - 4 x 3.8374", [20, 50, 90, 50, 20], [90, 90, 90, 90], 2, 2, None, 214.6504),
    ("open hem 180°, t1 r1 K0.4: 2 (r + t) - pi (r + K t)", [60, 12], [180], 1, 1, 0.4, 72 - (4 - math.pi * 1.4)),
    ("45° lip, t3 r3 DIN", [70, 25], [45], 3, 3, None, 95 - (12 * math.tan(math.radians(22.5)) - 3.121953)),
    ("acute 120°, t5 r6 DIN: v -5.823", [16, 21], [120], 5, 6, None, 31.177),
    ("135° opening (bend 45°), t3 r3: v -1.8486", [40, 40], [45], 3, 3, None, 78.1514),
    ("150° opening (bend 30°), t2 r4: v -0.7018", [40, 40], [30], 2, 4, None, 79.2982),
]


@pytest.mark.parametrize(("name", "sizes", "angles", "t", "r", "k", "length"), CASES, ids=[c[0] for c in CASES])
def test_flat_length_by_hand(
    name: str, sizes: list[float], angles: list[float], t: float, r: float, k: float | None, length: float
) -> None:
    flat = flat_pattern(chain(sizes, angles, t, r, k))
    assert flat.size_mm[0] == pytest.approx(100.0, abs=1e-9)
    assert flat.size_mm[1] == pytest.approx(length, abs=0.01)


@pytest.mark.parametrize("t", [1.0, 2.0, 3.0])
def test_a_box_loses_a_deduction_at_each_side(t: float) -> None:
    """Floor 300 x 200, walls 40: flat width 300 + 2 x 40 - 2 deductions, height 200 + 2 x 40 - 2 deductions."""
    walls = [("a", 300, "bottom"), ("b", 200, "right"), ("c", 300, "top"), ("d", 200, "left")]
    tree = PanelTree(
        (
            rectangular_panel("floor", 300, 200),
            *(rectangular_panel(n, w, 40, "floor", e, math.pi / 2) for n, w, e in walls),
        )
    )
    part = resolve(tree, "box", t, din_rule(t, t, 0.42)).part
    deduction = 4 * t - math.pi / 2 * 1.42 * t
    width, height = flat_pattern(part).size_mm
    assert width == pytest.approx(380 - 2 * deduction, abs=0.01)
    assert height == pytest.approx(280 - 2 * deduction, abs=0.01)


def test_outside_dimensions_are_what_a_calliper_reads_on_the_folded_part() -> None:
    """An L of 60 x 40 folded by 90°: from the far end of one leg to the outer face of the other."""
    part = chain([60, 40], [90], 3, 3, 0.42)
    pose = fold(part)
    tip = pose.panels[1].points(pose_points(40.0), 0.0)[0]
    outer_face = pose.panels[0].points(pose_points(30.0), -1.5)[0][2]
    assert tip[2] - outer_face == pytest.approx(40.0, abs=1e-9)
    top = pose.panels[0].points(pose_points(60.0), 0.0)[0][1]
    under = pose.panels[1].points(pose_points(20.0), -1.5)[0][1]
    assert top - under == pytest.approx(60.0, abs=1e-9)


def pose_points(y: float):
    import numpy as np

    return np.array([[50.0, y]])


def test_the_opening_angle_read_as_a_bend_angle_would_be_caught() -> None:
    """A drawing's 45° opening is a 135° bend; the two flats differ by far more than the tolerance."""
    right = flat_pattern(chain([50, 50], [135], 3, 3, 0.42)).size_mm[1]
    wrong = flat_pattern(chain([50, 50], [45], 3, 3, 0.42)).size_mm[1]
    assert right == pytest.approx(100 - (12 - 0.75 * math.pi * 4.26), abs=0.01)
    assert wrong == pytest.approx(100 - (12 * math.tan(math.pi / 8) - 0.25 * math.pi * 4.26), abs=0.01)
    assert abs(right - wrong) > 0.3


def test_k_read_as_k_factor_would_be_caught() -> None:
    """DIN's k of 0.65 is K 0.325; taken as K it lengthens a 90° bend of t3 r3 by 1.53 mm."""
    right = flat_pattern(chain([40, 40], [90], 3, 3, None)).size_mm[1]
    wrong = flat_pattern(chain([40, 40], [90], 3, 3, 0.65)).size_mm[1]
    assert wrong - right == pytest.approx(math.pi / 2 * 3 * 0.325, abs=1e-9)
    assert right == pytest.approx(80 - 5.7561, abs=0.01)


def test_a_round_hole_across_a_bend_stays_one_circle_in_the_flat() -> None:
    tree = PanelTree(
        (
            rectangular_panel("a", 100, 60),
            rectangular_panel("b", 100, 50, "a", "bottom", math.pi / 2, cutouts=(Cutout(circle(12, (50, 2))),)),
        )
    )
    resolved = resolve(tree, "x", 2, din_rule(2, 2, 0.42))
    ((_, diameter),) = flat_pattern(resolved.part).round_holes
    assert diameter == pytest.approx(12.0, abs=1e-6)
    assert "cutout-across-bend" in {f.code for f in resolved.findings}


def test_holes_are_placed_from_the_same_end_on_every_panel() -> None:
    """20 mm from the left end on back and shelf: one above the other in the flat."""
    tree = PanelTree(
        (
            rectangular_panel("back", 200, 60, cutouts=(Cutout(circle(6, (20, 40))),)),
            rectangular_panel("shelf", 200, 50, "back", "bottom", math.pi / 2, cutouts=(Cutout(circle(6, (20, 30))),)),
        )
    )
    holes = flat_pattern(resolve(tree, "x", 2, din_rule(2, 2, 0.42)).part).round_holes
    assert [round(x, 6) for (x, _), _ in holes] == [20.0, 20.0]
    deduction = 8 - math.pi / 2 * 2.84
    assert sorted(round(y, 4) for (_, y), _ in holes) == sorted([40.0, round(-30 + deduction, 4)])


def test_a_narrow_flange_gets_reliefs_as_wide_as_the_sheet_and_past_the_tangent_line() -> None:
    tree = PanelTree(
        (
            rectangular_panel("a", 100, 60),
            rectangular_panel("b", 60, 30, "a", "bottom", math.pi / 2, offset_mm=20),
        )
    )
    resolved = resolve(tree, "x", 2, din_rule(2, 3, 0.42))
    corners = resolved.part.panels[0].faces[0].outer.points
    assert {(18.0, 0.0), (18.0, 5.5), (20.0, 5.5), (20.0, 5.0), (80.0, 5.0), (82.0, 0.0)} <= set(corners)
    assert [f.code for f in resolved.findings] == ["relief-made"]


def test_free_outlines_and_true_arcs() -> None:
    """A gusset with a quarter round: area by hand, and the arc still an arc in the flat."""
    quarter = math.tan(math.pi / 8)
    outline = Outline(((0, 0), (60, 0), (60, 10), (10, 60), (0, 60)), (0, 0, quarter, 0, 0))
    tree = PanelTree(
        (rectangular_panel("a", 100, 60), DrawnPanel("g", outline, False, "a", "left", math.pi / 2))
    )
    part = resolve(tree, "x", 2, din_rule(2, 2, 0.42)).part
    by_hand = 60 * 10 + 10 * 50 + math.pi * 50**2 / 4 - 60 * 4
    assert part.panels[1].area_mm2 == pytest.approx(by_hand, abs=1e-6)
    bulges = [b for b in flat_pattern(part).outer.bulges if abs(b) > 1e-9]
    assert [round(abs(b), 9) for b in bulges] == [round(quarter, 9)]


def test_six_sides_on_a_hexagon_close_without_overlap() -> None:
    points = [(100 * math.cos(math.radians(60 * i)), 100 * math.sin(math.radians(60 * i))) for i in range(6)]
    tree = PanelTree(
        (
            DrawnPanel("floor", polygon_outline(points), False),
            *(rectangular_panel(f"side {i}", 100, 30, "floor", i, math.pi / 2) for i in range(6)),
        )
    )
    flat = flat_pattern(resolve(tree, "x", 2, din_rule(2, 2, 0.42)).part)
    assert flat.outer.polygon().is_valid
    assert not flat.openings


def test_a_rectangle_drawn_the_other_way_round_is_the_same_panel() -> None:
    tree = PanelTree((DrawnPanel("a", rectangle(80, 50).reversed(), False),))
    assert flat_pattern(resolve(tree, "x", 2, din_rule(2, 2)).part).area_mm2 == pytest.approx(4000)
