"""Seams: a ring of panels that closes is as stiff as theory says, what goes through it is shear flow, and bad ones are told.

Sources: Bredt's formulas for thin closed tubes and the sum of b t³ / 3 for open ones (strength of materials; Timoshenko and
Goodier, Theory of Elasticity, chapter 10); EN 1993-1-8, 4.5.3.3 (recalled); the story of the rigger tines, worked by hand.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from tests.comparisons import beside

from steadfold.mechanics import Loads, Model, Result, Shells, Springs, grid, held, link_forces, solve
from steadfold.mount.seams import STIFF, seam_ends, seam_points, seam_ties
from steadfold.sheet.clash import flat_overlaps, folded_clashes
from steadfold.sheet.mesh import SheetMesh, folded, mesh
from steadfold.sheet.part import Part, SeamHold
from steadfold.sheet.pose import fold
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.seams import DrawnSeam, SeamError, seamed
from steadfold.sheet.tree import PanelTree, rectangular_panel

E, NU, T_MM, SIDE, LONG = 210_000.0, 0.3, 2.0, 50.0, 400.0
RADIUS = 2.0
TORQUE = 1.0e5
BREDT = "Bredt's formulas for thin tubes (Timoshenko and Goodier)"


def box(half: bool = False, last_mm: float = SIDE - T_MM) -> tuple[Part, PanelTree]:
    """A square tube 50 × 50 × 2 of four panels, its last edge meeting the first panel's left edge at a corner; or, `half`, two
    half walls that meet end to end."""
    right = math.pi / 2
    panels = [
        rectangular_panel("base", SIDE, LONG),
        rectangular_panel("right", LONG, SIDE, "base", "right", right),
        rectangular_panel("top", LONG, SIDE, "right", "far", right),
        rectangular_panel("left", LONG, 0.5 * SIDE if half else last_mm, "top", "far", right),
    ]
    if half:
        panels.append(rectangular_panel("lower left", LONG, 0.5 * SIDE, "base", "left", right))
    tree = PanelTree(tuple(panels))
    return resolve(tree, "box", T_MM, din_rule(T_MM, RADIUS)).part, tree


def welded(part: Part, tree: PanelTree, half: bool = False) -> Part:
    to, edge = ("lower left", "far") if half else ("base", "left")
    return seamed(part, tree, DrawnSeam("left", "far", to, "welded", edge, throat_mm=1.5), SeamHold(260.0))


def spins(lever: np.ndarray) -> np.ndarray:
    """Matrices (k, 3, 3) from a small turn of a body to the shifts of its points."""
    return np.asarray(np.cross(np.eye(3)[None], lever[:, None]).transpose(0, 2, 1))


def twisted(part: Part, stiff: float = 1.0) -> tuple[Model, Result, SheetMesh, float]:
    """The tube under a torque at both ends, free to warp, and its twist over length, rad/mm, between two inner sections.

    Closed, the torque comes in as an even shear flow round the ends; open, as an even twisting moment along them. So the section
    keeps its shape, as both formulas have it.
    """
    sheet = mesh(part, 7.0, seam_points(part))
    nodes, pose = folded(sheet, part), fold(part)
    ties = seam_ties(part, sheet, pose, stiff * E)
    axis = pose.panels[0].away
    along, middle = nodes @ axis, 0.5 * (nodes.min(axis=0) + nodes.max(axis=0))
    low, high = along.min(), along.max()
    loads = np.zeros((len(nodes), 6))
    sides = np.sort(np.vstack([sheet.triangles[:, [0, 1]], sheet.triangles[:, [1, 2]], sheet.triangles[:, [2, 0]]]), axis=1)
    for end, sign in ((low, -1.0), (high, 1.0)):
        rim = np.unique(sides[(np.abs(along[sides] - end) < 1e-6).all(axis=1)], axis=0)
        way = nodes[rim[:, 1]] - nodes[rim[:, 0]]
        turning = np.cross(nodes[rim].mean(axis=1) - middle, way) @ axis
        way = way * np.sign(turning)[:, None]
        share = np.bincount(rim.reshape(-1), np.repeat(np.linalg.norm(way, axis=1), 2), len(nodes))[:, None]
        share = share / share.sum()
        if part.seams:
            flow = np.zeros((len(nodes), 3))
            for node in rim.T:
                np.add.at(flow, node, 0.5 * way)
            flow -= share * flow.sum(axis=0)  # at a sharp corner the middle lines miss each other by half a thickness
            loads[:, :3] += sign * TORQUE * flow / float((np.cross(nodes - middle, flow) @ axis).sum())
        else:
            loads[:, 3:] += sign * TORQUE * share * axis
    held_node = int(np.argmin(np.linalg.norm(nodes - pose.panels[0].points(np.array([[0.5 * SIDE, 0.5 * LONG]]))[0], axis=1)))
    model = Model(nodes, Shells(sheet.triangles, T_MM, E, NU, 0.0, sheet.region), fixed=held(len(nodes), [held_node]), links=ties)
    result = solve(model, [Loads(loads)])[0]
    weight = np.bincount(sheet.triangles.reshape(-1), np.repeat(sheet.areas_mm2(), 3) / 3, len(nodes))
    turns, places = [], []
    for share in (0.3, 0.7):
        near = np.abs(along - (low + share * (high - low))) < 0.03 * LONG
        w = weight[near] / weight[near].sum()
        lever, moved = nodes[near] - w @ nodes[near], result.displacement[near, :3] - w @ result.displacement[near, :3]
        rigid = np.einsum("k,kij,kil->jl", w, spins(lever), spins(lever))
        turns.append(float(np.linalg.solve(rigid, np.einsum("k,kij,ki->j", w, spins(lever), moved)) @ axis))
        places.append(float(w @ along[near]))
    return model, result, sheet, (turns[1] - turns[0]) / (places[1] - places[0])


def midline(corners: int = 3) -> tuple[float, float]:
    """Enclosed area and length of the middle line of the tube, with rounded corners."""
    side, r = SIDE - T_MM, RADIUS + 0.5 * T_MM
    return side**2 - corners * r**2 * (1 - math.pi / 4), 4 * side - corners * r * (2 - math.pi / 2)


def constant(rate: float) -> float:
    return TORQUE / (E / (2 * (1 + NU)) * rate)


@pytest.mark.parametrize("half", [False, True])
def test_a_box_whose_last_corner_is_welded_is_as_stiff_as_bredt_says(half: bool) -> None:
    """J = 4 A² t / s + s t³ / 3."""
    area, around = midline(4 if half else 3)
    part, tree = box(half)
    _, _, _, rate = twisted(welded(part, tree, half))
    by_hand = 4 * area**2 * T_MM / around + around * T_MM**3 / 3
    where = "half way up a wall" if half else "at a corner"
    ratio = beside("welded box", f"torsion constant, 50 × 50 × 2, welded {where}", BREDT, by_hand, constant(rate), "mm⁴")
    assert ratio == pytest.approx(1.0, abs=0.01)


def test_without_the_weld_the_same_box_is_an_open_strip() -> None:
    """J = s t³ / 3: some six hundred times less."""
    _, around = midline()
    part, _ = box()
    _, _, _, rate = twisted(part)
    ratio = beside("welded box", "torsion constant, 50 × 50 × 2, not welded", BREDT, around * T_MM**3 / 3, constant(rate), "mm⁴")
    assert ratio == pytest.approx(1.0, abs=0.015)


def test_what_goes_through_the_weld_is_the_shear_flow() -> None:
    """q = T / 2A along the weld, and nothing else, away from the ends."""
    area, _ = midline()
    part, tree = box()
    closed = welded(part, tree)
    _, result, _, _ = twisted(closed)
    forces = link_forces(result)
    flow = forces[:, 0] / (closed.seams[0].length_mm / len(closed.seams[0].spots))
    inner = slice(len(flow) // 4, -(len(flow) // 4))
    ratio = beside("welded box", "shear flow at the weld", BREDT, TORQUE / (2 * area), abs(float(flow[inner].mean())), "N/mm")
    assert ratio == pytest.approx(1.0, abs=0.01)
    assert np.ptp(flow[inner]) < 0.1 * abs(flow[inner].mean())
    assert np.abs(forces[inner, 1:3]).max() < 0.1 * np.abs(forces[inner, 0]).max()


def test_a_tie_ten_times_as_stiff_changes_nothing_that_matters() -> None:
    part, tree = box()
    closed = welded(part, tree)
    assert twisted(closed, 10.0)[3] == pytest.approx(twisted(closed)[3], rel=2e-3)


def test_a_plate_cut_in_two_and_seamed_is_the_whole_plate() -> None:
    """Links of the stiffness of seams between two halves, node by node, against the plate in one piece: stretched, sheared in its
    plane and bent by forces at its end."""
    t, length, wide = 2.0, 60.0, 24.0

    def place(u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, ...]:
        return length * u, wide * v, np.zeros(len(u))

    nodes, triangles = grid(12, 6, place)
    centre = nodes[triangles].mean(axis=1)[:, 0]
    left = centre < 0.5 * length
    on_cut = np.flatnonzero(np.abs(nodes[:, 0] - 0.5 * length) < 1e-9)
    twin = {int(n): len(nodes) + k for k, n in enumerate(on_cut)}
    cut = np.array([[twin.get(int(n), int(n)) for n in row] if not own else row for row, own in zip(triangles, left, strict=True)])
    both = np.vstack([nodes, nodes[on_cut]])
    one = [STIFF * E * t] * 3 + [STIFF * E * t**3] * 3
    links = Springs(np.column_stack([on_cut, [twin[int(n)] for n in on_cut]]), np.array([one] * len(on_cut)))
    root, end = np.flatnonzero(nodes[:, 0] < 1e-9), np.flatnonzero(nodes[:, 0] > length - 1e-9)
    for force in ((1000.0, 0.0, 0.0), (0.0, 300.0, 0.0), (0.0, 0.0, 5.0)):
        moved = []
        for points, corners, tied in ((nodes, triangles, None), (both, cut, links)):
            loads = np.zeros((len(points), 6))
            loads[end, :3] = np.asarray(force) / len(end)
            model = Model(points, Shells(corners, t, E, NU), fixed=held(len(points), root), **({} if tied is None else {"links": tied}))
            result = solve(model, [Loads(loads)])[0]
            moved.append(result.displacement[end, :3])
            if tied is not None:
                assert link_forces(result)[:, :3].sum(axis=0) == pytest.approx(force, rel=1e-6, abs=1e-6)
        assert np.abs(moved[1] - moved[0]).max() < 2e-3 * np.abs(moved[0]).max()


def test_both_ends_of_every_tie_are_nodes_where_the_seam_has_its_spots() -> None:
    part, tree = box()
    closed = welded(part, tree)
    sheet = mesh(closed, 7.0, seam_points(closed))
    ends = seam_ends(closed, sheet)[0]
    assert len(np.unique(ends)) == ends.size
    spots = closed.seams[0].spots
    assert np.abs(sheet.local[ends[:, 0]] - [s.first for s in spots]).max() < 0.5
    assert np.abs(sheet.local[ends[:, 1]] - [s.second for s in spots]).max() < 0.5


def test_panels_that_touch_at_a_seam_do_not_collide_and_panels_that_cross_do() -> None:
    part, tree = box()
    assert not folded_clashes(welded(part, tree)) and not flat_overlaps(part)
    deep, deep_tree = box(last_mm=SIDE - 0.4 * T_MM)
    crossing = seamed(deep, deep_tree, DrawnSeam("left", "far", "base", "welded", "left"), SeamHold())
    assert [{c.first, c.second} for c in folded_clashes(crossing)] == [{"base", "left"}]


def test_edges_that_do_not_meet_are_refused_with_how_far_they_are_apart() -> None:
    part, tree = box(last_mm=SIDE - T_MM - 3.0)
    with pytest.raises(SeamError, match=r"no nearer than 3\.00 mm"):
        welded(part, tree)
    wide = DrawnSeam("left", "far", "base", "welded", "left", gap_mm=3.2)
    assert len(seamed(part, tree, wide, SeamHold()).seams) == 1
    with pytest.raises(SeamError, match="no panel 'lid'"):
        seamed(part, tree, DrawnSeam("left", "far", "lid", "welded"), SeamHold())


EXAMPLE = Path(__file__).parents[2] / "examples" / "rigger-tines.toml"
STORY = "story of the rigger tines, worked by hand"
