"""Net sections against statics worked here: notches and reliefs beside a root, rows of openings, thin webs.

Source of each: strength of materials, stress over the metal that is left (P a / (b t² / 6), N / b t). Steel, 210 GPa, 0.3.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.comparisons import beside

from steadfold.mechanics import Loads, Result, solve
from steadfold.mount.cuts import Line, elastic_stress_mpa, forces_through
from steadfold.mount.net_sections import net_lines, thin_webs
from steadfold.mount.rating import strength
from steadfold.mount.records import Carried, CaseChoices, Fixings, Metal
from steadfold.mount.structure import Mounted, against_wall, mounted
from steadfold.quantities import Range
from steadfold.sheet.outline import circle, obround, polygon_outline, rectangle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, rectangular_panel

SQUARE = math.pi / 2
STEEL = Metal(210e3, 0.3, 7850.0, 235.0)
HARD = Fixings(0, 6.0, 12.0, 1e7, 1e6, 1e-7)
ALONE = CaseChoices(refused=("snatch_factor", "knock", "lean", "sag_limit"))
T = 3.0


def holding(arm: DrawnPanel) -> Part:
    """A thick row of bolts in a back 60 by 50, and an arm from its bottom edge."""
    at = tuple((x, y) for x in (12.0, 30.0, 48.0) for y in (18.0, 36.0))
    back = rectangular_panel("back", 60.0, 50.0, cutouts=tuple(Cutout(circle(6.6, place)) for place in at))
    return resolve(PanelTree((back, arm)), "part", T, din_rule(T, T, 0.42)).part


def pushed(
    part: Part, at: tuple[float, float], force: tuple[float, float, float], **how: object
) -> tuple[Mounted, Result]:
    """A force on the middle surface of the arm, and nothing else."""
    base = mounted(part, STEEL, HARD, [Carried("load", Range(1.0, 1.0), 1, "arm", at, -0.5 * T)], **how)  # type: ignore[arg-type]
    nodal = np.zeros((len(base.nodes_mm), 6))
    nodal[base.load_nodes[0], :3] = force
    here = against_wall(base, [Loads(nodal)])
    return here, solve(here.structure, [Loads(nodal)])[0]


def through(here: Mounted, result: Result, prefix: str) -> list[tuple[str, float, float, float, float]]:
    """Place, length of metal, pull, bending and nominal stress of each net cut (no windows) whose place begins so."""
    found = []
    for line in net_lines(here):
        forces = forces_through(line, line.reader.forces(result))
        stress = elastic_stress_mpa(line, forces)
        for k, cut in enumerate(line.cuts):
            if cut.name == "net section" and cut.place.startswith(prefix):
                found.append(
                    (cut.place, cut.length_mm, float(forces.pull_n[k]), float(forces.bending_nmm[k]), float(stress[k]))
                )
    return found


def at_level(
    found: list[tuple[str, float, float, float, float]], out_mm: float
) -> list[tuple[str, float, float, float, float]]:
    level = f", {out_mm:.0f} mm from its root"
    return [each for each in found if each[0].endswith(level)]


@pytest.mark.parametrize("how", [{"target_triangles": 700, "bend_facets": 1, "hole_segments": 12}, {}])
def test_a_notched_arm_is_cut_where_the_notch_leaves_least(how: dict[str, object]) -> None:
    """An arm 60 wide is 24 wide from 20 to 40 mm; 50 N at 120 mm: 50 (120 - 20) / (24 · 9 / 6) at the notch's inner end, on the
    quick answer's mesh as on the full one's."""
    arm = polygon_outline(
        [
            (0, 0),
            (60, 0),
            (60, 20),
            (42, 20),
            (42, 40),
            (60, 40),
            (60, 130),
            (0, 130),
            (0, 40),
            (18, 40),
            (18, 20),
            (0, 20),
        ]
    )
    part = holding(DrawnPanel("arm", arm, False, "back", "bottom", SQUARE))
    here, result = pushed(part, (30, 120), (0.0, -50.0, 0.0), **how)
    found = at_level(through(here, result, "the net section of arm"), 20.0 - 2 * T)
    closed = 50.0 * 100.0 / (24.0 * 9 / 6)
    worst = max(found, key=lambda each: each[4])
    assert worst[1] == pytest.approx(24.0) and abs(worst[3]) == pytest.approx(50.0 * 100.0, rel=2e-3)
    mesh = "quick" if how else "full"
    assert beside(
        "bending of a net section", f"arm notched to 24 mm, {mesh} mesh", "P a / (b t² / 6)", closed, worst[4], "MPa"
    ) == (pytest.approx(1.0, abs=0.01))


def test_webs_between_openings_share_the_moment_beyond_them() -> None:
    """Two slots 16 wide across an arm of 60 leave webs of 8, 12 and 8 mm: together they pass on P a, and their mean nominal
    stress is P a / (28 · 9 / 6)."""
    slots = (Cutout(rectangle(16.0, 30.0, (8.0, 30.0))), Cutout(rectangle(16.0, 30.0, (36.0, 30.0))))
    part = holding(rectangular_panel("arm", 60.0, 130.0, "back", "bottom", SQUARE, cutouts=slots))
    here, result = pushed(part, (30, 120), (0.0, -50.0, 0.0))
    webs = at_level(through(here, result, "the net section of arm"), 30.0 - 2 * T)
    assert [round(each[1], 6) for each in webs] == [8.0, 12.0, 8.0]
    assert abs(sum(each[3] for each in webs)) == pytest.approx(50.0 * 90.0, rel=0.01)
    mean = sum(abs(each[3]) for each in webs) / (28.0 * 9 / 6)
    assert beside("bending of a net section", "three webs between two openings, their mean", "P a / (Σ b t² / 6)",
                  50.0 * 90.0 / (28.0 * 9 / 6), mean, "MPa") == pytest.approx(1.0, abs=0.01)  # fmt: skip


def test_thin_webs_beside_a_hole_pass_on_the_whole_pull() -> None:
    """An arm 30 wide pulled straight out by 1 kN, with a hole of 20: the two webs of 5 mm beside it carry 500 N each."""
    part = holding(
        rectangular_panel(
            "arm", 30.0, 130.0, "back", "bottom", SQUARE, 15.0, cutouts=(Cutout(circle(20.0, (15.0, 60.0))),)
        )
    )
    webs = thin_webs(part)
    assert [round(web.width_mm, 6) for web in webs] == [5.0]  # the outer edge counts once, at its nearest
    here, result = pushed(part, (15, 115), (0.0, 0.0, 1000.0))
    both = at_level(through(here, result, "the net section of arm"), 60.0 - 2 * T)
    assert [round(each[1], 2) for each in both] == [5.0, 5.0]
    assert [abs(each[2]) for each in both] == pytest.approx([500.0, 500.0], rel=0.02)
    alone = through(here, result, "the web of arm")
    assert len(alone) == 1 and abs(alone[0][2]) == pytest.approx(500.0, rel=0.03)
    assert min(each[4] for each in both) >= 500.0 / (5.0 * T) * 0.98


def test_plain_panels_have_no_net_sections_but_at_their_fixings() -> None:
    part = holding(rectangular_panel("arm", 60.0, 130.0, "back", "bottom", SQUARE))
    here, _ = pushed(part, (30, 120), (0.0, -50.0, 0.0))
    assert not [cut for line in net_lines(here) for cut in line.cuts if "arm" in cut.place]


@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.floats(4.0, 22.0), st.floats(1.0, 6.0))
def test_a_deeper_notch_never_carries_more(depth: float, more: float) -> None:
    """Taking metal away beside the root does not raise what an arm may carry."""

    def rating(cut: float) -> float:
        arm = polygon_outline(
            [
                (0, 0),
                (60, 0),
                (60, 20),
                (60 - cut, 20),
                (60 - cut, 30),
                (60, 30),
                (60, 130),
                (0, 130),
                (0, 30),
                (cut, 30),
                (cut, 20),
                (0, 20),
            ]
        )
        part = holding(DrawnPanel("arm", arm, False, "back", "bottom", SQUARE))
        load = Carried("load", Range(5.0, 5.0), 1, "arm", (30.0, 120.0))
        return strength(part, STEEL, HARD, [load], ALONE, None, fine=False).rating_kg

    assert rating(depth + more) <= rating(depth) * 1.002


def test_lines_are_read_joined_as_alone() -> None:
    part = holding(
        rectangular_panel(
            "arm", 60.0, 130.0, "back", "bottom", SQUARE, cutouts=(Cutout(obround(40.0, 10.0, (30.0, 60.0))),)
        )
    )
    here, result = pushed(part, (30, 120), (0.0, -50.0, 0.0))
    lines = net_lines(here)
    joined = Line.joined(lines)
    together = elastic_stress_mpa(joined, forces_through(joined, joined.reader.forces(result)))
    alone = np.concatenate(
        [elastic_stress_mpa(line, forces_through(line, line.reader.forces(result))) for line in lines]
    )
    assert together == pytest.approx(alone, rel=1e-9)
