"""Parts whose pieces lie over each other or pass through each other, by hand."""

from __future__ import annotations

import math

import pytest

from steadfold.sheet.clash import flat_overlaps, folded_clashes
from steadfold.sheet.outline import circle, rectangle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, rectangular_panel

T, R, K = 2.0, 2.0, 0.42
SQUARE = math.pi / 2


def part_of(*panels: DrawnPanel, radius_mm: float = R) -> Part:
    return resolve(PanelTree(panels), "part", T, din_rule(T, radius_mm, K)).part


def channel(flange_mm: float, return_mm: float, other_mm: float | None = None) -> Part:
    """A web 40 wide, two sides of given heights, and a return flange on top of each, turned inwards."""
    return part_of(
        rectangular_panel("web", 80, 40),
        rectangular_panel("left", 80, flange_mm, "web", "bottom", SQUARE),
        rectangular_panel("left lip", 80, return_mm, "left", "far", SQUARE),
        rectangular_panel("right", 80, other_mm or flange_mm, "web", "top", SQUARE),
        rectangular_panel("right lip", 80, return_mm, "right", "far", SQUARE),
    )


def test_lips_that_leave_a_gap_do_not_clash_and_longer_ones_do() -> None:
    """Two lips of outside length b reach b in from the outside of a 40 mm channel: they meet at b = 20."""
    assert folded_clashes(channel(30, 19.5)) == []
    assert folded_clashes(channel(30, 20)) == []
    found = folded_clashes(channel(30, 21))
    assert [(c.first, c.second) for c in found] == [("left lip", "right lip")]
    # in one plane they would have to move apart by the whole thickness
    assert found[0].depth_mm == pytest.approx(T, abs=1e-9)


def test_lips_at_two_heights_pass_over_each_other() -> None:
    """Sides 30 and 32.5 high: the lips' faces lie 0.5 mm apart; at 31.5 they lie 0.5 mm in each other."""
    assert folded_clashes(channel(30, 30, 32.5)) == []
    found = folded_clashes(channel(30, 30, 31.5))
    assert {(c.first, c.second) for c in found} == {("left lip", "right lip")}
    assert found[0].depth_mm == pytest.approx(0.5, abs=1e-9)


def test_a_lip_as_long_as_the_channel_is_wide_runs_into_the_other_side() -> None:
    """A lip of 41 outside length from the left side goes 3 mm into the right side, which reaches to 38."""
    part = part_of(
        rectangular_panel("web", 80, 40),
        rectangular_panel("left", 80, 30, "web", "bottom", SQUARE),
        rectangular_panel("lip", 80, 41, "left", "far", SQUARE),
        rectangular_panel("right", 80, 50, "web", "top", SQUARE),
    )
    found = folded_clashes(part)
    assert [(c.first, c.second) for c in found] == [("lip", "right")]
    assert found[0].depth_mm == pytest.approx(3.0, abs=1e-9)
    assert folded_clashes(part, 0.5) == []


@pytest.mark.parametrize("radius_mm", [0.0, 5e-4, 0.5, 2.0])
def test_a_closed_hem_touches_and_does_not_clash(radius_mm: float) -> None:
    """Turned back by 180 degrees a hem lies at a gap of 2 r from its parent; a gap of nothing is no clash."""
    part = part_of(
        rectangular_panel("sheet", 80, 40),
        rectangular_panel("hem", 80, 12, "sheet", "far", math.pi, inside_radius_mm=radius_mm),
    )
    assert folded_clashes(part) == []


def test_a_teardrop_hem_that_closes_too_far_runs_into_its_parent() -> None:
    """Turned through a > 180 degrees, the hem's far end comes down by (a - 180) times its length; past the gap of
    2 r it clashes with the panel it hangs on."""
    def hem(degrees: float) -> Part:
        return part_of(
            rectangular_panel("sheet", 80, 60),
            rectangular_panel("hem", 80, 25, "sheet", "far", math.radians(degrees), inside_radius_mm=1.0),
        )
    assert folded_clashes(hem(184)) == []
    assert [(c.first, c.second) for c in folded_clashes(hem(195))] == [("sheet", "hem")]


def test_a_tongue_through_an_opening_is_free_and_through_sheet_is_not() -> None:
    """A strip turned back over the sheet and down through it: with an opening beneath there is no clash."""
    def part(*cutouts: Cutout) -> Part:
        return part_of(
            rectangular_panel("sheet", 100, 100, cutouts=cutouts),
            rectangular_panel("wall", 40, 30, "sheet", "far", SQUARE, offset_mm=30),
            rectangular_panel("roof", 40, 50, "wall", "far", SQUARE),
            rectangular_panel("tongue", 40, 60, "roof", "far", SQUARE),
        )
    found = folded_clashes(part())
    assert [(c.first, c.second) for c in found] == [("sheet", "tongue")]
    assert found[0].place_mm[2] == pytest.approx(0.0, abs=T)
    assert 50 - T <= found[0].place_mm[1] <= 50 + T
    assert folded_clashes(part(Cutout(rectangle(44, 8, (28, 47))))) == []
    assert folded_clashes(part(Cutout(circle(60, (50, 51))))) == []


def test_neighbouring_walls_of_a_tray_do_not_clash() -> None:
    """Four walls of a tray, bent up from a floor whose corners are cut back to the tangent lines."""
    sides = ("bottom", "right", "top", "left")
    tray = part_of(
        rectangular_panel("floor", 120, 90),
        *(rectangular_panel(s, 120 if s in ("bottom", "top") else 90, 25, "floor", s, SQUARE) for s in sides),
    )
    assert folded_clashes(tray) == []
    assert flat_overlaps(tray) == []


def test_flanges_over_each_other_in_the_flat_are_named_with_their_area() -> None:
    """A wall on the sheet's right edge carries an ear upwards; a flap on its top edge carries a wing to the right.

    With A = pi / 2 (r + K t) and setback r + t = 4, a point h up the wall (outside dimensions) lies at x = 92 + A + h,
    one h up the ear at y = 62 + A + h, up the flap at y = 92 + A + h, out along the wing at x = 92 + A + h. The ear is
    12 to 27 up the wall and 55 high: x from 104 + A to 119 + A, y to 117 + A. The wing is 15 to 45 up the flap and 40
    wide: y from 107 + A, x to 132 + A. They share 15 by 10 mm.
    """
    part = part_of(
        rectangular_panel("sheet", 100, 100),
        rectangular_panel("wall", 40, 30, "sheet", "right", SQUARE, offset_mm=30),
        rectangular_panel("ear", 15, 55, "wall", "right", SQUARE, offset_mm=12),
        rectangular_panel("flap", 100, 50, "sheet", "top", SQUARE),
        rectangular_panel("wing", 30, 40, "flap", "right", SQUARE, offset_mm=15),
    )
    allowance = SQUARE * (R + K * T)
    (found,) = flat_overlaps(part)
    assert {found.first, found.second} == {"ear", "wing"}
    assert found.area_mm2 == pytest.approx(150.0, abs=1e-6)
    x, y = found.place_mm
    assert 104 + allowance < x < 119 + allowance
    assert 107 + allowance < y < 117 + allowance
