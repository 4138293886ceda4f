"""Trusses, portals, tie rods and cantilevers with known answers: member forces, sway, pretension, slack."""

from __future__ import annotations

import math

import numpy as np
import pytest

from steadfold.mechanics import Loads
from steadfold.stand.frames import gantry
from steadfold.stand.records import WELDED, Held, Joint, Member, Stand, TieRod
from steadfold.stand.section import section_of
from steadfold.stand.statics import Case, MemberForces, member_forces, solved, support_forces
from steadfold.stand.structure import Built, built, rod_stiffness_n_per_mm

BALL = Joint("ball")
SECTION = "square tube 40x3"


def truss(nodes: dict[str, tuple[float, float]], bars: list[tuple[str, str]], held: dict[str, str]) -> Stand:
    """A plane truss in x and z, its nodes held out of plane."""
    members = tuple(Member(f"{a}{b}", a, b, SECTION, (BALL, BALL)) for a, b in bars)
    places = {name: (x, 0.0, z) for name, (x, z) in nodes.items()}
    props = tuple(Member(f"{name} prop", name, f"{name} side", SECTION, (BALL, BALL)) for name in nodes)
    places |= {f"{name} side": (x, 1000.0, z) for name, (x, z) in nodes.items()}
    fixed = [Held(f"{name} side", "clamped", "wall") for name in nodes]
    fixed += [Held(name, "pinned", "floor") for name, kind in held.items() if kind == "pin"]
    return Stand("truss", places, members + props, tuple(fixed), level_at=tuple(nodes)[:1])


def answer(
    stand: Stand, loads: dict[str, tuple[float, float, float]]
) -> tuple[Built, dict[str, MemberForces], dict[str, np.ndarray]]:
    ready = built(stand)
    nodal = np.zeros((len(ready.places), 6))
    for name, force in loads.items():
        nodal[ready.node_of[name], :3] = force
    result = solved(ready, [Case("", "", Loads(nodal=nodal))])[0]
    forces = dict(zip((m.name for m in stand.members), member_forces(ready, result), strict=True))
    return ready, forces, support_forces(ready, result)


def test_three_bar_truss_has_the_textbook_forces_recalled() -> None:
    """500 N level at B of the right-angled truss A(0,0) C(2,0) B(0,2) m: BA 500 pull, BC 707.1 push, CA 500 pull.

    Hibbeler, 'Engineering Mechanics: Statics', method of joints, first example (recalled); C slides, A is pinned.
    Here C slides on a long upright strut.
    """
    stand = truss({"A": (0.0, 0.0), "B": (0.0, 2000.0), "C": (2000.0, 0.0), "D": (2000.0, -3000.0)},
                  [("B", "A"), ("B", "C"), ("C", "A"), ("C", "D")], {"A": "pin", "D": "pin"})  # fmt: skip
    _, forces, _ = answer(stand, {"B": (500.0, 0.0, 0.0)})
    assert forces["BA"].axial_n == pytest.approx(500.0, abs=0.5)
    assert forces["BC"].axial_n == pytest.approx(-707.1, abs=0.05)
    assert forces["CA"].axial_n == pytest.approx(500.0, abs=0.5)


def test_warren_truss_agrees_with_the_method_of_sections() -> None:
    """Four panels of equilateral triangles, side a, span 4a, P at the middle of the bottom chord.

    Reactions P/2. Cut through the second panel, moments about the top node over it: bottom chord = P/2 (1.5 a) / h;
    about the bottom node: top chord = -P/2 (2 a) / h; end diagonal = -(P/2) / sin 60.
    """
    a, p = 500.0, 1000.0
    h = a * math.sqrt(3.0) / 2.0
    nodes = {f"b{k}": (k * a, 0.0) for k in range(5)} | {f"t{k}": ((k + 0.5) * a, h) for k in range(4)}
    bars = [(f"b{k}", f"b{k + 1}") for k in range(4)] + [(f"t{k}", f"t{k + 1}") for k in range(3)]
    bars += [(f"b{k}", f"t{k}") for k in range(4)] + [(f"t{k}", f"b{k + 1}") for k in range(4)]
    nodes |= {"foot": (4 * a, -3000.0)}
    _, forces, _ = answer(truss(nodes, [*bars, ("b4", "foot")], {"b0": "pin", "foot": "pin"}), {"b2": (0.0, 0.0, -p)})
    assert forces["b1b2"].axial_n == pytest.approx(0.5 * p * 1.5 * a / h, rel=1e-4)
    assert forces["t1t2"].axial_n == pytest.approx(-0.5 * p * 2.0 * a / h, rel=1e-4)
    assert forces["b0t0"].axial_n == pytest.approx(-0.5 * p / math.sin(math.radians(60.0)), rel=1e-4)


def portal(hinged: bool) -> Stand:
    frame = gantry(2000.0, 1000.0, SECTION, foot_joint=Joint("pinned") if hinged else WELDED)
    # the plane's own business: hold the tops out of plane
    return Stand("portal", frame.nodes, frame.members, frame.held, level_at=frame.level_at)


def test_portal_with_clamped_feet_sways_as_the_formulas_say_recalled() -> None:
    """Kleinlogel, rigid frame formulas, portal with fixed feet, load H at the top (recalled): k = (Ib / Ic)(h / L),
    moment at the feet H h (3k + 1) / (2 (6k + 1)), at the corners H h 3k / (2 (6k + 1)); sway H h3 (3k + 2) / (12 E
    I (6k + 1)). Axial stretch makes ours 0.2 % softer.
    """
    ready = built(portal(hinged=False))
    nodal = np.zeros((len(ready.places), 6))
    nodal[ready.node_of["left top"], 1] = 300.0
    result = solved(ready, [Case("", "", Loads(nodal=nodal))])[0]
    forces = dict(zip((m.name for m in ready.stand.members), member_forces(ready, result), strict=True))
    k = 1000.0 / 2000.0
    turning = 300.0 * 1000.0
    post = forces["left post"]
    assert abs(post.moment_y_nmm[0]) == pytest.approx(turning * (3 * k + 1) / (2 * (6 * k + 1)), rel=3e-3)
    assert abs(post.moment_y_nmm[-1]) == pytest.approx(turning * 3 * k / (2 * (6 * k + 1)), rel=3e-3)
    section = section_of(SECTION)
    sway = 300.0 * 1000.0**3 * (3 * k + 2) / (12 * section.modulus_mpa * section.second_moment_y_mm4 * (6 * k + 1))
    moved = float(result.displacement[ready.node_of["left top"], 1])
    assert moved == pytest.approx(sway, rel=5e-3)


def test_portal_with_hinged_feet_shares_its_shear_by_halves() -> None:
    """Statics and antisymmetry: corner moment H h / 2, feet lift by H h / L."""
    ready = built(portal(hinged=True))
    nodal = np.zeros((len(ready.places), 6))
    nodal[ready.node_of["left top"], 1] = 300.0
    result = solved(ready, [Case("", "", Loads(nodal=nodal))])[0]
    forces = dict(zip((m.name for m in ready.stand.members), member_forces(ready, result), strict=True))
    assert abs(forces["left post"].moment_y_nmm[-1]) == pytest.approx(0.5 * 300.0 * 1000.0, rel=2e-3)
    assert support_forces(ready, result)["left foot"][2] == pytest.approx(-300.0 * 1000.0 / 2000.0, rel=1e-6)


def rod_over_arm(pretension: float) -> Stand:
    """A cantilever arm of 500 mm, its tip hung from a rod of 400 mm straight above."""
    nodes = {"root": (0.0, 0.0, 0.0), "tip": (500.0, 0.0, 0.0), "hook": (500.0, 0.0, 400.0), "wall": (0.0, 0.0, 400.0)}
    members = (
        Member("arm", "root", "tip", SECTION, role="arm"),
        Member("hanger", "wall", "hook", SECTION, role="post"),
    )
    held = (Held("root"), Held("wall"), Held("hook"))
    return Stand(
        "rod", nodes, members, held, (TieRod("rod", "hook", "tip", "M10", pretension_n=pretension),), level_at=("tip",)
    )


@pytest.mark.parametrize("load", [0.0, 400.0, -200.0])
def test_a_tightened_rod_shares_with_its_arm_by_their_stiffness(load: float) -> None:
    """Springs side by side: pull = pretension share + load kr / (kr + kb), kb = 3 E I / L3, kr = E A / l.

    A pull f set on the drawn frame settles to f kb / (kr + kb).
    """
    stand = rod_over_arm(600.0)
    ready = built(stand)
    nodal = np.zeros((len(ready.places), 6))
    nodal[ready.node_of["tip"], 2] = -load
    result = solved(ready, [Case("", "", Loads(nodal=nodal))])[0]
    section = section_of(SECTION)
    arm = 3.0 * section.modulus_mpa * section.second_moment_y_mm4 / 500.0**3
    rod = rod_stiffness_n_per_mm(stand.tie_rods[0], 400.0)
    expected = max(0.0, 600.0 * arm / (arm + rod) + load * rod / (arm + rod))
    assert result.tie_n[0] == pytest.approx(expected, rel=1e-6, abs=1e-6)


def test_a_rod_that_would_have_to_push_goes_slack_and_the_arm_carries_alone() -> None:
    """Lifted at its tip the arm bends as a free cantilever: P L3 / 3 E I, the rod's pull 0."""
    ready = built(rod_over_arm(0.0))
    nodal = np.zeros((len(ready.places), 6))
    nodal[ready.node_of["tip"], 2] = 250.0
    result = solved(ready, [Case("", "", Loads(nodal=nodal))])[0]
    section = section_of(SECTION)
    assert result.tie_n[0] == 0.0
    lifted = float(result.displacement[ready.node_of["tip"], 2])
    assert lifted == pytest.approx(
        250.0 * 500.0**3 / (3.0 * section.modulus_mpa * section.second_moment_y_mm4), rel=1e-9
    )


def test_a_hanging_weight_of_its_own_bends_a_beam_as_the_handbook_says() -> None:
    """Own weight w of a beam clamped at both ends: w L2 / 12 at the ends, w L2 / 24 in the middle (handbook)."""
    nodes = {"a": (0.0, 0.0, 0.0), "b": (2000.0, 0.0, 0.0)}
    stand = Stand("beam", nodes, (Member("beam", "a", "b", SECTION),), (Held("a"), Held("b")), level_at=("a",))
    ready = built(stand)
    result = solved(ready, [Case("", "", Loads(gravity_mm_s2=(0.0, 0.0, -9806.65)))])[0]
    along = member_forces(ready, result)[0]
    weight = section_of(SECTION).mass_kg_per_m * 9.80665e-3
    middle = int(np.argmin(np.abs(along.at_mm - 1000.0)))
    assert abs(along.moment_y_nmm[0]) == pytest.approx(weight * 2000.0**2 / 12.0, rel=1e-9)
    assert abs(along.moment_y_nmm[middle]) == pytest.approx(weight * 2000.0**2 / 24.0, rel=1e-9)
