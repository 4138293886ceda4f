"""Which holes of a panel take its fixings: counted by hand on a drilled board."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from steadfold.mount.fixing_holes import fixing_holes, passed_over
from steadfold.mount.records import Fixings, MountError
from steadfold.sheet.outline import circle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel

M6 = Fixings(0, 6.0, 12.0, 1e5, 1e4, 1e-5)


def board() -> Part:
    """A board with twelve holes of 9 mm for pegs, two of 6.6 mm and a slot of 7 mm."""
    pegs = tuple(Cutout(circle(9.0, (20.0 + 25 * i, 20.0 + 25 * j))) for i in range(4) for j in range(3))
    screws = tuple(Cutout(circle(6.6, (x, 110.0))) for x in (20.0, 95.0))
    back = rectangular_panel("back", 115.0, 130.0, cutouts=(*pegs, *screws, Cutout(circle(7.0, (57.5, 110.0)))))
    tree = PanelTree((back, rectangular_panel("shelf", 115.0, 40.0, "back", "bottom", math.pi / 2)))
    return resolve(tree, "board", 2.0, din_rule(2.0, 2.0, 0.42)).part


def test_holes_for_pegs_are_not_taken_for_fixings() -> None:
    assert sorted(round(hole.width_mm, 3) for hole in fixing_holes(board(), M6)) == [6.6, 6.6, 7.0]
    assert [hole.width_mm for hole in passed_over(board(), M6)] == pytest.approx([9.0] * 12)


def test_the_job_says_which_holes_take_the_fixings() -> None:
    pegs = replace(M6, hole_mm=9.0)
    assert len(fixing_holes(board(), pegs)) == 12
    assert passed_over(board(), pegs) == ()
    assert [hole.width_mm for hole in fixing_holes(board(), replace(M6, hole_mm=7.0))] == pytest.approx([7.0])


def test_a_width_that_no_hole_has_is_refused_with_those_there_are() -> None:
    with pytest.raises(MountError, match=r"6\.6, 7, 9 mm"):
        fixing_holes(board(), replace(M6, hole_mm=8.0))
    with pytest.raises(MountError, match="does not go through"):
        fixing_holes(board(), replace(M6, hole_mm=5.0))
