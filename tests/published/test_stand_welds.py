"""Fillet welds at member ends beside printed resistances and weld groups treated as lines."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.comparisons import beside

from steadfold.catalogue.profiles import profile
from steadfold.job import read_job_text
from steadfold.job.stand_table import read_stands
from steadfold.joints.fillet import FURTHER_FACTOR, strength_mpa
from steadfold.stand.review import review_stand
from steadfold.stand.welding import weld, weld_line


@pytest.mark.parametrize(("ultimate", "printed"), [(410.0, 0.94), (470.0, 1.01)])
def test_a_millimetre_of_weld_holds_what_the_steel_tables_print(ultimate: float, printed: float) -> None:
    """Steel Building Design: Design Data (SCI P363), fillet welds of 6 mm leg, throat 4.2 mm, kN/mm along: S275 0.94, S355 1.01
    (recalled); f_u 410 and 470.
    """
    ours = 4.2 * strength_mpa(ultimate) / 1000.0
    ratio = beside("fillet weld", f"6 mm leg, fu {ultimate:g}", "SCI P363", printed, ours, "kN/mm", recalled=True)
    assert ratio == pytest.approx(1.0, abs=0.01)


def test_a_square_tubes_weld_is_the_line_of_the_handbook() -> None:
    """Blodgett, 'Design of Welded Structures', Table 5 of 7.4: a square line of side b has length 4 b, S = 4 b^2 / 3 (recalled);
    the tube's corners are round, so somewhat less.
    """
    line = weld_line(profile("square tube 40x3"))
    assert line is not None
    radius = profile("square tube 40x3").outside_radius_mm  # type: ignore[union-attr]
    assert line.length_mm == pytest.approx(4.0 * 40.0 - (8.0 - 2.0 * math.pi) * radius, rel=1e-3)
    assert 0.85 < line.about_y_mm3 / (2.0 * 40.0**3 / 3.0) < 1.0
    bar = weld_line(profile("flat bar 40x8"))
    assert bar is not None
    # two lines of 40 and two of 8: I = 2 b d (d/2)^2 + 2 d^3 / 12 about each axis
    assert sorted((bar.about_y_mm3, bar.about_z_mm3)) == pytest.approx([
        2 * 40 * 4**2 + 2 * 8**3 / 12, 2 * 8 * 20**2 + 2 * 40**3 / 12])  # fmt: skip


def test_forces_and_moments_add_up_on_the_hardest_millimetre() -> None:
    """By hand on a flat bar 40 x 8 upright: pull and a moment about the strong axis meet at the far edge; twist by r."""
    line = weld_line(profile("flat bar 40x8"))
    assert line is not None
    far_z, far_y = float(line.points_mm[:, 1].max()), float(line.points_mm[:, 0].max())
    assert line.load_n_per_mm(np.array([960.0, 0, 0, 0, 0, 0])) == pytest.approx(10.0)
    assert line.load_n_per_mm(np.array([960.0, 0, 0, 0, 1e5, 0])) == pytest.approx(
        10.0 + 1e5 * far_z / line.about_y_mm3
    )
    twist = 1e5 * math.hypot(far_z, far_y) / (line.about_y_mm3 + line.about_z_mm3)
    assert line.load_n_per_mm(np.array([0, 0, 0, 1e5, 0, 0])) == pytest.approx(twist)
    assert line.load_n_per_mm(np.array([0, 300.0, 400.0, 0, 0, 0])) == pytest.approx(500.0 / 96.0)


def test_a_throat_beyond_the_wall_counts_as_the_wall_and_thin_walls_are_marked() -> None:
    tube, bar = weld(profile("square tube 40x2"), 5.0), weld(profile("flat bar 40x8"), 3.0)
    assert tube is not None
    assert bar is not None
    assert tube.holds_n_per_mm == pytest.approx(2.0 * strength_mpa(360.0) / FURTHER_FACTOR)
    assert "thinner than the standard" in tube.say
    assert "thinner" not in bar.say
    assert weld(profile("timber 45x95"), 4.0) is None
    assert weld(profile("T-slot 45x45"), 4.0) is None


BRACKET = """
steadfold = 1
[[stand]]
name = "vice bracket"
frame = "free"
profile = "{profile}"
level_at = ["tip"]
  [[stand.node]]
  name = "root"
  at = ["0 mm", "0 mm", "0 mm"]
  [[stand.node]]
  name = "tip"
  at = ["400 mm", "0 mm", "0 mm"]
  [[stand.member]]
  name = "arm"
  from = "root"
  to = "tip"
  joint_from = {{ kind = "welded"{throat} }}
  [[stand.held]]
  node = "root"
  to = "wall"
  [stand.machine]
  name = "vice"
  mass = "20 kg"
  centre = ["400 mm", "0 mm", "60 mm"]
  feet = [["400 mm", "0 mm"]]
  [stand.leaning]
  force = "none"
"""


def reviewed(profile_name: str = "flat bar 40x8", throat: str = ', throat = "3 mm"'):  # type: ignore[no-untyped-def]
    job = read_job_text(BRACKET.format(profile=profile_name, throat=throat), "weld.toml")
    return review_stand(read_stands(job)[0], own_weight=False)


def test_an_arms_weld_is_rated_by_its_root_moment() -> None:
    """20 kg at 400 mm, by hand: M = 78.45 N m on the line's modulus, V = 196 N over its length, and the stray push of 150 N."""
    report = reviewed()
    joint = next(each for each in report.joints if each.name == "weld of arm at root")
    line = weld_line(profile("flat bar 40x8"))
    assert line is not None
    weight, knock = 20.0 * 9.80665, 150.0
    by_hand = line.load_n_per_mm(np.array([0.0, knock, -weight, 0.0, weight * 400.0, knock * 400.0]))
    assert joint.share == pytest.approx(by_hand / (3.0 * strength_mpa(360.0) / FURTHER_FACTOR), rel=1e-3)
    assert not any(each.name == "weld of arm at tip" for each in report.joints)


def test_a_weld_without_a_throat_is_unproven() -> None:
    report = reviewed(throat="")
    joint = next(each for each in report.joints if each.name == "weld of arm at root")
    assert joint.share is None
    assert "throat" in joint.why
    assert str(report.verdict) in ("unproven", "not enough")
    assert any("throat" in finding.say for finding in report.findings if finding.code == "capacity-unproven")


def test_timber_that_is_said_to_be_welded_is_unproven() -> None:
    joint = next(each for each in reviewed("timber 45x95").joints if each.name == "weld of arm at root")
    assert joint.share is None
    assert "not welded" in joint.why
