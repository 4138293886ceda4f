"""Holes, washers, load points and narrow metal in a mesh, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from steadfold.sheet.mesh import (
    HardPoint,
    MeshError,
    SheetMesh,
    WasherCircle,
    folded,
    mesh,
    nearest_node,
    nodes_near_circle,
    nodes_on_edge,
    ring_of_hole,
)
from steadfold.sheet.outline import Face, Outline, circle, polygon_outline, rectangle
from steadfold.sheet.part import Panel, Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel

T, R, K = 2.0, 2.0, 0.42
SQUARE = math.pi / 2


def bracket(*holes: tuple[float, float, float], flange_mm: float = 40.0, thickness_mm: float = T) -> Part:
    """A back 120 x 60 with round holes (diameter, x, y) and a flange on its bottom edge."""
    cutouts = tuple(Cutout(circle(d, (x, y))) for d, x, y in holes)
    tree = PanelTree(
        (
            rectangular_panel("back", 120, 60, cutouts=cutouts),
            rectangular_panel("flange", 120, flange_mm, "back", "bottom", SQUARE),
        )
    )
    return resolve(tree, "bracket", thickness_mm, din_rule(thickness_mm, R, K)).part


def smallest_angle(made: SheetMesh) -> float:
    p = made.plane_xy[made.triangles]
    u, v = np.roll(p, -1, axis=1) - p, np.roll(p, 1, axis=1) - p
    cross = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    return float(np.degrees(np.arctan2(cross, (u * v).sum(axis=2))).min())


def area_within(made: SheetMesh, centre: tuple[float, float], radius: float) -> float:
    """Area of the back's triangles all of whose corners lie within a circle."""
    mine = made.triangles[made.region == 0]
    inside = (np.hypot(*(made.local[mine] - np.asarray(centre)).transpose(2, 0, 1)) <= radius).all(axis=1)
    return float(made.areas_mm2()[made.region == 0][inside].sum())


@pytest.mark.parametrize(("segments", "diameter"), [(20, 9.0), (12, 9.0), (20, 30.0)])
def test_a_round_hole_gets_its_chords_and_keeps_its_area(segments: int, diameter: float) -> None:
    """n corners on a circle of radius r sqrt(2 pi / (n sin(2 pi / n))), which has the hole's area."""
    made = mesh(bracket((diameter, 60, 34)), size_mm=8, hole_segments=segments)
    rim = nodes_near_circle(made, 0, (60, 34), diameter, 0.06 * diameter)
    assert len(rim) == segments
    offset = made.local[rim] - np.array([60, 34])
    expected = 0.5 * diameter * math.sqrt(2 * math.pi / (segments * math.sin(2 * math.pi / segments)))
    assert np.hypot(*offset.T) == pytest.approx(np.full(segments, expected), rel=1e-9)
    x, y = offset.T
    assert 0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() == pytest.approx(math.pi * diameter**2 / 4, rel=1e-9)
    assert abs(made.left_out_mm2) < 1e-6


def test_a_hole_close_to_an_edge_does_not_break_through_it() -> None:
    """1.1 mm of metal are left: the hole's corners stay on its circle or outside it, and within the panel."""
    made = mesh(bracket((20.0, 60, 48.9)))
    rim = ring_of_hole(made, 0, (60, 48.9), 20)
    assert len(rim) >= 20
    assert made.local[rim, 1].max() < 60
    assert smallest_angle(made) >= 20


def test_a_washer_circle_parts_the_triangles_and_its_ring_has_its_area() -> None:
    """The triangles inside a 24 mm circle round a 9 mm hole cover pi (24^2 - 9^2) / 4."""
    made = mesh(bracket((9.0, 60, 34)), washer_circles=[WasherCircle(0, (60, 34), 24.0)])
    assert made.circles_followed == (True,)
    assert area_within(made, (60, 34), 12.6) == pytest.approx(math.pi * (24**2 - 9**2) / 4, rel=1e-9)
    ring = ring_of_hole(made, 0, (60, 34), 9, 24)
    away = np.hypot(*(made.local[ring] - np.array([60, 34])).T)
    assert set(ring_of_hole(made, 0, (60, 34), 9)) < set(ring)
    assert len(ring) > 60
    assert away.max() < 12.2
    assert smallest_angle(made) >= 20


def test_a_washer_that_reaches_over_an_edge_is_not_followed_and_the_mesh_says_so() -> None:
    """The circle of 24 mm about a point 8 mm from the edge crosses it; the nodes within it are still found."""
    made = mesh(
        bracket((9.0, 60, 34), (9.0, 20, 52)),
        washer_circles=[WasherCircle(0, (60, 34), 24.0), WasherCircle(0, (20, 52), 24.0)],
    )
    assert made.circles_followed == (True, False)
    assert len(ring_of_hole(made, 0, (20, 52), 9, 24)) > 20
    assert smallest_angle(made) >= 20


@pytest.mark.parametrize("xy", [(60.0, 30.0), (13.7, 21.3), (119.0, 59.0), (60.0, 5.1), (47.0, 34.0)])
def test_a_hard_point_is_a_node_exactly(xy: tuple[float, float]) -> None:
    """In the middle, near a corner, close to the bend, and within a washer's ring."""
    part = bracket((9.0, 40, 34))
    made = mesh(part, hard_points=[HardPoint(0, xy)], washer_circles=[WasherCircle(0, (40, 34), 24.0)])
    (node,) = made.hard_nodes
    assert made.node_region[node] == 0
    assert tuple(made.local[node]) == pytest.approx(xy, abs=1e-12)
    assert nearest_node(made, 0, xy) == node
    assert smallest_angle(made) >= 20
    assert abs(made.left_out_mm2) < 1e-6


@pytest.mark.parametrize("xy", [(30.0, 60.0), (30.0, 59.8), (0.1, 30.0), (30.0, 4.0), (120.0, 60.0), (30.2, 4.3)])
def test_a_hard_point_at_an_edge_or_a_tangent_line_is_on_it(xy: tuple[float, float]) -> None:
    """Closer to the edge than t/4 = 0.5 mm: a node of the edge no further than that."""
    made = mesh(bracket(), hard_points=[HardPoint(0, xy)])
    (node,) = made.hard_nodes
    assert math.dist(made.local[node], xy) <= 0.5 * math.sqrt(2)
    assert smallest_angle(made) >= 20


def test_a_hard_point_off_the_metal_is_refused() -> None:
    part = bracket((20.0, 60, 34))
    with pytest.raises(MeshError, match="off the metal of panel 'back'"):
        mesh(part, hard_points=[HardPoint(0, (60, 34))])
    with pytest.raises(MeshError, match="off the metal of panel 'flange'"):
        mesh(part, hard_points=[HardPoint(1, (60, 300))])


@pytest.mark.parametrize(("flange", "thickness"), [(12.0, 1.0), (14.0, 2.0), (20.0, 2.0)])
def test_a_narrow_flange_has_four_triangles_across(flange: float, thickness: float) -> None:
    """However coarse the rest: on a line across the flange at mid-length, at least four triangles are met."""
    made = mesh(bracket(flange_mm=flange, thickness_mm=thickness), size_mm=30)
    mine = made.triangles[made.region == 1]
    x = made.local[mine][:, :, 0]
    for at in (31.4, 60.1, 77.7):
        assert ((x.min(axis=1) < at) & (x.max(axis=1) > at)).sum() >= 4


def test_a_hole_across_a_bend_is_open_in_the_panels_and_in_the_bend() -> None:
    """No triangle's middle lies in a 12 mm hole centred on the bend, drawn in by a tenth; its rim is a free edge once
    round, so the mesh has one opening (V - E + F = 0)."""
    part = bracket((12.0, 60, 2.0))
    made = mesh(part)
    run = np.sort(np.concatenate([made.triangles[:, [i, (i + 1) % 3]] for i in range(3)]), axis=1)
    edges = np.unique(run, axis=0)
    assert made.node_count - len(edges) + len(made.triangles) == 0
    assert len(np.unique(made.region)) == 3
    lost = sum(p.area_mm2 for p in part.panels)
    assert abs(made.left_out_mm2) < 0.01 * lost
    space = folded(made, part)
    assert np.isfinite(space).all()


def test_edges_are_found_in_order_with_their_ends() -> None:
    made = mesh(bracket())
    nodes = nodes_on_edge(made, 0, (120, 60), (0, 60))
    assert tuple(made.local[nodes[0]]) == (120, 60)
    assert tuple(made.local[nodes[-1]]) == (0, 60)
    assert (np.diff(made.local[nodes, 0]) < 0).all()


def test_a_target_is_met_where_bends_and_holes_leave_room_for_it() -> None:
    """Within a third: a preview, and finer than the default."""
    part = bracket((9.0, 30, 34), (9.0, 90, 34))
    for triangles in (3000, 6000, 12000):
        made = mesh(part, target_triangles=triangles)
        assert triangles / 1.33 < len(made.triangles) < triangles * 1.33


def test_nothing_is_written_to_the_screen(capfd: pytest.CaptureFixture[str]) -> None:
    mesh(bracket((9.0, 30, 34)))
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("size", [0.0, -1.0, math.nan, math.inf])
def test_sizes_that_are_no_lengths_are_refused(size: float) -> None:
    with pytest.raises(ValueError, match="length above 0"):
        mesh(bracket(), size_mm=size)


@pytest.mark.parametrize(
    "outline",
    [
        polygon_outline([(0, 0), (10, 10), (10, 0), (0, 10)]),
        polygon_outline([(0, 0), (10, math.nan), (10, 10)]),
        polygon_outline([(0, 0), (10, 0), (20, 0)]),
    ],
)
def test_outlines_that_enclose_nothing_sound_are_refused(outline: Outline) -> None:
    with pytest.raises(MeshError, match="'sheet'"):
        mesh(Part("broken", T, (Panel("sheet", (Face(outline),)),), ()))


SLIVER = math.tan(math.radians(4))


@pytest.mark.parametrize(
    ("name", "face"),
    [
        ("needle corner", Face(polygon_outline([(0, 0), (100, 0), (100, 100 * SLIVER)]))),
        ("two points almost one", Face(polygon_outline([(0, 0), (50, 0), (50.0001, 0.0001), (100, 0), (100, 60), (0, 60)]))),
        ("a hole that almost touches the edge", Face(rectangle(100, 60), (circle(20, (50, 10.01)).clockwise(),))),
        ("two holes that almost touch", Face(
            rectangle(100, 60), (circle(20, (39.99, 30)).clockwise(), circle(20, (60, 30)).clockwise())
        )),
        ("a slit", Face(rectangle(100, 60), (rectangle(50, 0.05, (25, 30)).clockwise(),))),
        ("a comb", Face(polygon_outline([
            (0, 0), (100, 0), *(p for k in range(9, -1, -1) for p in (
                (10 * k + 8, 10), (10 * k + 8, 60), (10 * k + 2, 60), (10 * k + 2, 10))), (0, 10)]))),
    ],
)  # fmt: skip
def test_difficult_outlines_get_sound_triangles(name: str, face: Face) -> None:
    """Corners of 4 degrees, points and holes that almost touch, a slit, ten fingers."""
    made = mesh(Part(name, T, (Panel("sheet", (face,)),), ()))
    assert smallest_angle(made) >= 20, name
    assert abs(made.left_out_mm2) < 0.02 * face.area_mm2
