"""The strength room against hand formulas: levers, prying, beams, cantilevers, doubled sheet, balance, reciprocity.

Each source is strength of materials or statics, worked in the test. Steel, 210 GPa, 0.3.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.comparisons import beside

from steadfold.joints import prying_l_flange, tension_from_overhang_n
from steadfold.mechanics import Loads, Result, ShellReader, solve, spring_forces
from steadfold.mount.answers import answer
from steadfold.mount.cases import Case
from steadfold.mount.cuts import bend_lines, elastic_stress_mpa, fixing_lines, forces_through
from steadfold.mount.rating import solved
from steadfold.mount.records import Carried, CaseChoices, Fixings, Metal
from steadfold.mount.structure import Mounted, against_wall, mounted, weight_loads
from steadfold.quantities import Range
from steadfold.sheet.outline import circle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, rectangular_panel

SQUARE = math.pi / 2
STEEL = Metal(210e3, 0.3, 7850.0, 235.0)
HARD = Fixings(0, 6.0, 12.0, 1e7, 1e6, 1e-7)
"""Bolts and wall that hardly give."""


def part_of(panels: list[DrawnPanel], thickness: float, radius: float | None = None) -> Part:
    return resolve(PanelTree(tuple(panels)), "part", thickness, din_rule(thickness, radius or thickness, 0.42)).part


def holes(*at: tuple[float, float]) -> tuple[Cutout, ...]:
    return tuple(Cutout(circle(6.6, place)) for place in at)


def angle(thickness: float, width: float = 60.0, arm: float = 100.0) -> Part:
    """A back on two bolts with an arm from its bottom edge."""
    back = rectangular_panel("back", width, 60.0, cutouts=holes((15, 40), (width - 15, 40)))
    return part_of([back, rectangular_panel("arm", width, arm, "back", "bottom", SQUARE)], thickness)


def pushed(part: Part, fixings: Fixings, panel: str, at: tuple[float, float], force: np.ndarray, **mesh: object) -> tuple[Mounted, Result]:
    """A force on the middle surface of a panel, nothing else, not even weight."""
    item = Carried("load", Range(1.0, 1.0), 1, panel, at, -0.5 * part.thickness_mm)
    base = mounted(part, STEEL, fixings, [item], **mesh)  # type: ignore[arg-type]
    nodal = np.zeros((len(base.nodes_mm), 6))
    nodal[base.load_nodes[0], :3] = force
    here = against_wall(base, [Loads(nodal)])
    return here, solve(here.structure, [Loads(nodal)])[0]


def pulls(result: Result) -> np.ndarray:
    return -spring_forces(result)[:, 2]


def test_two_rows_of_bolts_under_a_stiff_back_pull_as_the_lever_says() -> None:
    """100 N at 120 mm off the wall, rows at 30 and 130 mm over the lower edge: Σ M h / Σ h², heights from where the plane
    back ends and may bear (inside radius and thickness over the edge). Soft bolts, so that 12 mm of back is stiff."""
    at = ((20, 30), (60, 30), (20, 130), (60, 130))
    back = rectangular_panel("back", 80.0, 160.0, cutouts=holes(*at))
    part = part_of([back, rectangular_panel("arm", 80.0, 140.0, "back", "bottom", SQUARE)], 12.0, 2.0)
    here, result = pushed(part, replace(HARD, axial_n_per_mm=1e3), "arm", (40, 120), np.array([0.0, -100.0, 0.0]))
    heights = [hole.at_mm[1] for _, hole in here.holes]
    by_hand = tension_from_overhang_n(100.0 * (120.0 - 6.0), [y - 14.0 for y in heights])
    ours, upper = pulls(result), int(np.argmax(heights))
    ratio = beside("bolts of a bracket", "stiff back, upper row", "statics: M h / sum h²", by_hand[upper], float(ours[upper]), "N")
    assert ratio == pytest.approx(1.0, abs=0.02)
    assert ours == pytest.approx(by_hand, abs=0.05 * by_hand[upper])


def test_a_flange_pulled_off_the_ceiling_pries_on_its_toe() -> None:
    """L under a wooden ceiling, pulled in line with its arm, on a row of small screws that turn with it: T / P = 1 + b / a
    by statics alone, with a to where the toe's pushes have their middle; a little inside the edge."""
    a, b = 20.0, 25.0
    at = tuple((10.0 + 20.0 * i, b + 1.5) for i in range(4))
    flange = rectangular_panel("flange", 80.0, a + b + 1.5, cutouts=tuple(Cutout(circle(3.2, p)) for p in at))
    part = part_of([flange, rectangular_panel("arm", 80.0, 60.0, "flange", "bottom", SQUARE)], 3.0)
    fixings = Fixings(0, 3.0, 4.0, 3e3, 1e3, 1e-3, down="face")
    here, result = pushed(part, fixings, "arm", (40, 50), np.array([0.0, 0.0, 400.0]))
    assert np.allclose(here.down, (0, 0, 1))
    patches = here.structure.compliance.rows.columns  # type: ignore[union-attr]
    on_nodes = (patches @ result.contact_n).reshape(-1, 6)[:, 2]
    middle = float(on_nodes @ here.nodes_mm[:, 1] / on_nodes.sum())
    pull = float(pulls(result).sum())
    assert pull / 400.0 == pytest.approx(prying_l_flange(b, middle - b - 1.5), rel=0.01)
    assert on_nodes.sum() == pytest.approx(pull - 400.0, rel=1e-6)
    ratio = beside("prying of a flange", "L under a ceiling, 25 mm to the screws, 20 beyond", "statics: 1 + b / a",
                   prying_l_flange(b, a), pull / 400.0, why="the toe's pushes lie inside its edge, so a is shorter")  # fmt: skip
    assert 1.0 < ratio < 1.2


def test_a_back_over_its_bolts_and_upper_edge_pries_as_a_beam_on_three_supports() -> None:
    """The moment of an arm comes in at the lower edge of a back that bears there, on its bolts at l and on its upper edge at
    l + a. Three moments: M1 = M l / (2 (l + a)) over the bolts, so T = M (1 + k) / l + k M / a with k = l / 2 (l + a). Bolts
    that turn freely: as many as make a line, small washers."""
    length, beyond = 60.0, 40.0
    at = tuple((10.0 + 20.0 * i, length) for i in range(6))
    back = rectangular_panel("back", 120.0, length + beyond, cutouts=tuple(Cutout(circle(3.2, p)) for p in at))
    part = part_of([back, rectangular_panel("arm", 120.0, 120.0, "back", "bottom", SQUARE)], 2.0)
    fixings = Fixings(0, 3.0, 4.0, 1e7, 1e6, 1e-3)
    here, result = pushed(part, fixings, "arm", (60, 110), np.array([0.0, -100.0, 0.0]))
    pressed = here.structure.model.nodes_mm[here.structure.model.contacts.nodes[result.contact_n > 0]]
    low, high = pressed[:, 1] < 20, pressed[:, 1] > length + 5
    centre = np.average(pressed[low, 1], weights=result.contact_n[result.contact_n > 0][low])
    top = np.average(pressed[high, 1], weights=result.contact_n[result.contact_n > 0][high])
    moment, ell, a = 100.0 * (110.0 - 1.0), length - centre, top - length
    k = ell / (2 * (ell + a))
    by_hand = moment * ((1 + k) / ell + k / a)
    rigid = moment / length
    ratio = beside("prying of a back", "a row of bolts between two edges", "three moments, supported where it bears",
                   by_hand, float(pulls(result).sum()), "N", why="wood is no line support, and a washer is no point")  # fmt: skip
    assert ratio == pytest.approx(1.0, abs=0.12)
    assert pulls(result).sum() > 1.4 * rigid


def test_a_bar_between_two_bolts_sags_as_a_beam_on_edge() -> None:
    """Flat bar 30 × 2 on a wall, bolts 400 mm apart, 100 N in the middle: P L³ / 48 E I and 6 % for shear and overhang."""
    bar = rectangular_panel("bar", 440.0, 30.0, cutouts=holes((20, 15), (420, 15)))
    loose = Fixings(0, 6.0, 8.0, 1e7, 1e6, 1e-7)
    here, result = pushed(part_of([bar], 2.0), loose, "bar", (220, 15), np.array([0.0, -100.0, 0.0]))
    inertia = 2.0 * 30.0**3 / 12
    by_hand = 100.0 * 400.0**3 / (48 * 210e3 * inertia)
    mine = np.flatnonzero(np.abs(here.nodes_mm[: here.mesh.node_count, 0] - 220.0) < 4.0)
    sag = float(-result.displacement[mine, 1].mean())
    assert beside("sag of a bar", "30 × 2 on edge over 400 mm", "P L³ / 48 E I", by_hand, sag, "mm",
                  why="shear adds 0.6 %; the washers' own faint stiffness against turning takes some off") == pytest.approx(
        1.0, abs=0.03
    )  # fmt: skip
    assert np.abs(pulls(result)).max() < 1.0


def test_an_arm_sags_and_works_as_a_cantilever_from_a_rigid_back() -> None:
    """An arm 60 wide, thick bolts all over a back that the wall holds flat: P a³ / 3 E I from its root and P a / Z there."""
    at = tuple((x, y) for x in (12.0, 30.0, 48.0) for y in (16.0, 34.0))
    back = rectangular_panel("back", 60.0, 50.0, cutouts=holes(*at))
    part = part_of([back, rectangular_panel("arm", 60.0, 140.0, "back", "bottom", SQUARE)], 3.0)
    here, result = pushed(part, HARD, "arm", (30, 130), np.array([0.0, -50.0, 0.0]))
    line = next(line for line in bend_lines(part, here.mesh, here.pose, here.model) if line.cuts[0].place == "root of arm")
    whole = float(elastic_stress_mpa(line, forces_through(line, line.reader.forces(result)))[0])
    closed = 50.0 * (130.0 - 1.5) / (60.0 * 9 / 6)
    assert beside("bending at a root", "arm 60 × 3, 50 N at 130 mm", "P a / (b t² / 6)", closed, whole, "MPa") == pytest.approx(
        1.0, abs=0.005
    )


def doubled(thickness: float) -> tuple[float, float, float]:
    """Sag of a tine by itself, bending at its root, and its Ilyushin share, for 20 N on an arm of 25 mm by 120."""
    back = rectangular_panel("back", 60.0, 40.0, cutouts=holes((15, 25), (45, 25)))
    arm = rectangular_panel("arm", 25.0, 120.0 + 0.5 * thickness, "back", "bottom", SQUARE, 17.5)
    part = part_of([back, arm], thickness, 3.0 - 0.5 * thickness)
    at = (12.5, 110.0 + 0.5 * thickness)
    here, result = pushed(part, HARD, "arm", at, np.array([0.0, -20.0, 0.0]))
    root = np.asarray(here.mesh.tangent_nodes[0][1])
    load = here.load_nodes[0]
    turn = float(result.displacement[root, 3].mean())
    reach = float(here.nodes_mm[load, 2] - here.nodes_mm[root, 2].mean())
    sag = -float(result.displacement[load, 1] - result.displacement[root, 1].mean()) - turn * reach
    lines = bend_lines(part, here.mesh, here.pose, here.model)
    case = Case("resting", "", result.loads, result.loads)
    found = answer(here, case, result, ShellReader(here.model), lines, None, None)
    return sag, found.cut_stress_mpa["root of arm"], found.load_factor_collapse


def test_doubled_sheet_sags_an_eighth_and_holds_four_times() -> None:
    """Bending governs: I goes with t³, Z with t². Radii chosen so that the middle surface, so every lever, stays."""
    thin, thick = doubled(1.5), doubled(3.0)
    assert beside("thickness doubled", "sag of a tine by itself", "I = b t³ / 12", 8.0, thin[0] / thick[0]) == pytest.approx(
        1.0, abs=0.02
    )
    assert beside("thickness doubled", "bending at its root", "Z = b t² / 6", 4.0, thin[1] / thick[1]) == pytest.approx(1.0, abs=0.02)
    assert beside("thickness doubled", "load at which it gives way", "Mp = fy b t² / 4", 4.0, thick[2] / thin[2],
                  why="4 t of averaging are more of a tine of twice the thickness") == pytest.approx(1.0, abs=0.06)  # fmt: skip


@pytest.mark.parametrize("down", ["bottom", "top", "left", "right"])
def test_what_holds_is_what_pulls(down: str) -> None:
    """Loads, weight, springs and pushes of the wall sum up to nothing: forces to 1e-8 of the load, moments to 1e-8 of it
    over the part's size."""
    part = angle(2.0)
    base = mounted(part, STEEL, Fixings(0, 6.0, 12.0, 2e5, 1e4, 2e-5, down=down), [Carried("tin", Range(1.0, 2.0), 3, "arm")])  # type: ignore[arg-type]
    loads = [weight_loads(base, 1.0), weight_loads(base, 2.0)]
    here = against_wall(base, loads)
    for result, factor in zip(solve(here.structure, loads), (1.0, 2.0), strict=True):
        weight = 9.80665 * (factor * 6.0 + part.volume_mm3 * 7850e-9)
        assert np.abs(result.imbalance[:3]).max() <= 1e-8 * weight
        assert np.abs(result.imbalance[3:]).max() <= 1e-8 * weight * 150.0
        held_up = spring_forces(result)
        axes = here.model.springs.axes
        upward = float(np.einsum("ki,kij->kj", held_up[:, :3], axes).sum(axis=0) @ here.down)
        assert -upward == pytest.approx(weight, rel=1e-4)  # the wall pushes square to the drop and carries none of it


def test_places_on_a_part_sink_for_each_other_alike() -> None:
    """Maxwell and Betti: what a newton at one place sinks another is what a newton there sinks the first; without wall."""
    part = angle(2.0)
    fixings = Fixings(0, 6.0, 12.0, 2e5, 1e4, 2e-5)
    base = mounted(part, STEEL, fixings, [Carried("a", Range(1, 1), 1, "arm", (10, 90)), Carried("b", Range(1, 1), 1, "arm", (50, 40))])
    first, second = base.load_nodes
    loads = []
    for node in (first, second):
        nodal = np.zeros((len(base.nodes_mm), 6))
        nodal[node, 1] = -1.0
        loads.append(Loads(nodal))
    one, two = solve(base.structure, loads)
    assert one.displacement[second, 1] == pytest.approx(two.displacement[first, 1], rel=1e-8)


@pytest.mark.parametrize("level", [0, 1])
def test_a_row_of_fixings_is_cut_as_statics_says(level: int) -> None:
    """The moment beyond a row is what the wall pushes there times its lever to the row, however jagged the mesh."""
    part = angle(2.0)
    here, result = pushed(part, Fixings(0, 6.0, 12.0, 2e5, 1e4, 2e-5), "arm", (30, 90), np.array([0.0, -100.0, 0.0]))
    lines = fixing_lines(part, here.mesh, here.pose, here.model, here.holes, here.rings, 6.0, here.down)
    line = lines[level]
    through = forces_through(line, line.reader.forces(result))
    # From outside: all bearing forces and loads on that side of the row, about the line of the cut.
    rows = here.structure.compliance.rows.columns @ result.contact_n  # type: ignore[union-attr]
    outside = rows.reshape(-1, 6).copy()
    outside[:, :3] += np.asarray(result.loads.nodal)[:, :3]
    away = here.nodes_mm[: here.mesh.node_count, 1]
    on_back = here.mesh.node_region == 0
    if level == 0:  # the upper side carries nothing but what the wall pushes on it
        side = on_back & np.isin(np.arange(here.mesh.node_count), np.unique(here.mesh.triangles[_above(here)]))
        own = np.setdiff1d(np.flatnonzero(side), line.reader.line_nodes)
        force = float(outside[own, 2].sum())
        moment = float((outside[own, 2] * (away[own] - line.cuts[0].middle_mm[1])).sum())
        scale = max(abs(moment), 1.0)
        assert abs(through.shear_through_n[0]) == pytest.approx(abs(force), abs=1e-6 * max(abs(force), 1.0))
        assert abs(through.bending_nmm[0]) == pytest.approx(abs(moment), abs=1e-6 * scale)
    else:
        assert abs(through.bending_nmm[0]) > 0


def _above(here: Mounted) -> np.ndarray:
    centres = here.nodes_mm[here.mesh.triangles].mean(axis=1)
    return (here.mesh.region == 0) & (centres[:, 1] > 40.0)


@pytest.mark.parametrize("name", ["L", "bar"])
def test_refining_the_mesh_moves_the_rating_by_less_than_six_percent(name: str) -> None:
    if name == "L":
        part, fixings, items = angle(2.0), Fixings(0, 6.0, 12.0, 2e5, 1e4, 2e-5), [Carried("tin", Range(2.0, 3.0), 2, "arm")]
    else:
        back = rectangular_panel("back", 240.0, 60.0, cutouts=holes((40, 40), (200, 40)))
        slots = tuple(Cutout(circle(12.0, (20 + 25.0 * i, 26.0))) for i in range(9))
        shelf = rectangular_panel("shelf", 240.0, 50.0, "back", "bottom", SQUARE, cutouts=slots)
        part = part_of([back, shelf, rectangular_panel("lip", 240.0, 12.0, "shelf", "far", SQUARE)], 2.0)
        fixings, items = Fixings(0, 6.0, 12.0, 3e3, 1e3, 1e-3), [Carried("tool", Range(1.0, 2.0), 9, "shelf")]
    worst = []
    for size, facets in ((6.0, 3), (4.0, 3), (2.5, 3)):
        found = solved(part, STEEL, fixings, items, CaseChoices(refused=("sag_limit",)), None, size, facets, 20)
        worst.append(max(s.value for a in found.answers for s in a.shares if s.value is not None))
    assert worst[0] == pytest.approx(worst[-1], rel=0.06)
    assert worst[1] == pytest.approx(worst[-1], rel=0.06)
