"""Meshes of parts whose folded shape is known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from steadfold.sheet.mesh import SheetMesh, folded, mesh, nodes_on_edge, nodes_on_tangent
from steadfold.sheet.outline import Face, Outline, obround, rectangle
from steadfold.sheet.part import Bend, Panel, Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel

T, R, K = 2.0, 3.0, 0.42


def angle_piece(degrees: float, radius_mm: float = R, length_mm: float = 100.0) -> Part:
    """Two rectangles joined by one bend, made by hand: 46 mm and 26 mm of flat to either side of it."""
    angle = math.radians(degrees)
    allowance = abs(angle) * (radius_mm + K * T)
    return Part(
        "angle", T,
        (
            Panel("back", (Face(rectangle(length_mm, 46, (0, 4))),)),
            Panel("flange", (Face(rectangle(length_mm, 26, (0, 4))),)),
        ),
        (
            Bend(
                0, 1, angle, radius_mm, K, length_mm, (0, 4), (1, 0), (0, -1), (0, 4), (1, 0), (0, 1),
                (Face(rectangle(length_mm, allowance)),), T,
            ),
        ),
    )  # fmt: skip


def areas(points: np.ndarray, made: SheetMesh, region: int) -> float:
    a, b, c = (points[made.triangles[made.region == region]][:, i] for i in range(3))
    return float(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())


@pytest.mark.parametrize("degrees", [15, 45, 90, -90, 135, 180, -180, 200])
@pytest.mark.parametrize("radius_mm", [0.0, 3.0, 12.0])
def test_nodes_of_a_bend_lie_on_its_cylinder_and_facets_are_its_chords(degrees: float, radius_mm: float) -> None:
    """Middle surface of radius r + t/2 about an axis that far from the sheet; N facets of width 2 (r + t/2) sin(a / 2N).

    N is 3 or more, but for bends so short that three would be lower than a fifth of the thickness.
    """
    part = angle_piece(degrees, radius_mm)
    made = mesh(part)
    space = folded(made, part)
    middle = radius_mm + 0.5 * T
    nodes = made.nodes_of(2)
    axis_z = math.copysign(middle, degrees)
    away = np.hypot(space[nodes, 1] - 4, space[nodes, 2] - axis_z)
    assert np.abs(away - middle).max() < 1e-9
    rows = int(made.row.max()) + 1
    angle = math.radians(abs(degrees))
    assert rows >= (3 if angle * middle >= 0.6 * T else 1)
    chord = 2 * middle * math.sin(0.5 * angle / rows)
    assert areas(space, made, 2) == pytest.approx(100 * rows * chord, rel=1e-9)
    assert areas(space, made, 0) == pytest.approx(4600, rel=1e-12)
    assert areas(space, made, 1) == pytest.approx(2600, rel=1e-12)


@pytest.mark.parametrize("degrees", [30, 90, 180, -120])
def test_the_far_edge_of_a_flange_is_where_the_circle_and_the_tangent_put_it(degrees: float) -> None:
    """From the tangent line at y = 4: y = 4 - m sin a - 26 cos a, z = m (1 - cos a) + 26 sin a, m = r + t/2; z turned
    about for a fold away from the viewer."""
    part = angle_piece(degrees)
    made = mesh(part)
    space = folded(made, part)
    edge = nodes_on_edge(made, 1, (0, 30), (100, 30))
    assert len(edge) >= 5
    m, a = R + 0.5 * T, math.radians(abs(degrees))
    assert np.abs(space[edge, 1] - (4 - m * math.sin(a) - 26 * math.cos(a))).max() < 1e-9
    height = math.copysign(1, degrees) * (m * (1 - math.cos(a)) + 26 * math.sin(a))
    assert np.abs(space[edge, 2] - height).max() < 1e-9


def test_tangent_nodes_belong_to_the_panel_and_the_bend() -> None:
    """Both meet the same nodes, from end to end of the bend and in order, whichever side they are asked from."""
    part = angle_piece(90)
    made = mesh(part)
    for of_child, panel in ((False, 0), (True, 1)):
        nodes = nodes_on_tangent(made, 0, of_child)
        assert (np.diff(made.local[nodes, 0]) > 0).all()
        assert made.local[nodes[0], 0] == 0
        assert made.local[nodes[-1], 0] == 100
        assert set(nodes) <= set(made.nodes_of(panel)) & set(made.nodes_of(2))
        assert set(nodes) == set(nodes_on_edge(made, panel, (0, 4), (100, 4)))


@pytest.mark.parametrize(
    ("degrees", "facets", "rows"), [(90, 3, 3), (90, 4, 4), (180, 3, 6), (45, 3, 3), (90, 1, 1), (180, 1, 2)]
)
def test_a_bend_has_as_many_facets_as_asked_for_90_degrees(degrees: float, facets: int, rows: int) -> None:
    """3 for 90 degrees, 6 for 180, never fewer than asked for 90; sizes and radius leave room for all of them."""
    made = mesh(angle_piece(degrees, 6.0), size_mm=11.5, bend_facets=facets)
    assert int(made.row.max()) + 1 == rows


def test_facets_come_close_to_the_cylinder_with_the_square_of_their_number() -> None:
    """Area lost by N chords of an arc of angle a: 1 - sin(a / 2N) / (a / 2N), about (a / 2N)^2 / 6."""
    lost = []
    for facets in (3, 6, 12):
        part = angle_piece(90, 20.0)
        made = mesh(part, size_mm=20, bend_facets=facets)
        lost.append(1 - areas(folded(made, part), made, 2) / (100 * part.bends[0].middle_length_mm))
    assert lost[0] / lost[1] == pytest.approx(4, rel=0.02)
    assert lost[1] / lost[2] == pytest.approx(4, rel=0.02)


def test_in_the_shops_flat_the_bend_is_as_long_as_its_allowance() -> None:
    """At share 0 with the shop's K the flange's edge lies at 4 - a (r + K t) - 26; at share 1 where it always does."""
    part = angle_piece(90)
    made = mesh(part)
    edge = nodes_on_edge(made, 1, (0, 30), (100, 30))
    flat = folded(made, part, 0.0, flat_k=True)
    assert flat[edge, 1] == pytest.approx(np.full(len(edge), 4 - 0.5 * math.pi * (R + K * T) - 26), abs=1e-9)
    assert folded(made, part, 1.0, flat_k=True) == pytest.approx(folded(made, part), abs=1e-12)


def test_metal_is_kept_and_openings_with_arcs_converge_with_the_square_of_their_chords() -> None:
    """A slot of width 20 has area 20 * 20 + pi 10^2. A half circle of n chords lacks 1 - sin(pi / n) / (pi / n) of the
    disk, so twice the chords leave a quarter of the error."""
    exact = 200 * 120 - (20 * 20 + math.pi * 100)
    tree = PanelTree((rectangular_panel("plate", 200, 120, cutouts=(Cutout(obround(40, 20, (100, 60))),)),))
    part = resolve(tree, "plate", T, din_rule(T, R, K)).part
    errors = []
    for segments in (16, 32, 64):
        made = mesh(part, hole_segments=segments, size_mm=12)
        errors.append(made.areas_mm2().sum() - exact)
        assert made.left_out_mm2 == pytest.approx(-errors[-1], rel=1e-6)
    assert errors[0] == pytest.approx(math.pi * 100 * (1 - math.sin(math.pi / 8) / (math.pi / 8)), rel=0.02)
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.03)
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.03)


def test_metal_turned_over_in_its_frame_still_faces_its_viewer() -> None:
    """A panel with a left-handed frame (x along the bend the other way): triangles run anticlockwise seen from the
    face, in the plane and folded."""
    part = angle_piece(90)
    bend = part.bends[0]
    mirrored = Part(
        "mirrored", T,
        (part.panels[0], Panel("flange", (Face(Outline(((-100.0, 4.0), (0.0, 4.0), (0.0, 30.0), (-100.0, 30.0)), (0.0,) * 4)),))),
        (Bend(0, 1, bend.angle_rad, R, K, 100, (0, 4), (1, 0), (0, -1), (0, 4), (-1, 0), (0, 1), bend.faces, T),),
    )  # fmt: skip
    one, two = mesh(part), mesh(mirrored)
    assert two.areas_mm2().min() > 0
    for made, source in ((one, part), (two, mirrored)):
        space = folded(made, source)
        a, b, c = (space[made.triangles[made.region == 1]][:, i] for i in range(3))
        normal = np.cross(b - a, c - a)
        # the flange stands up from y = 0 - m; its face looks back over the sheet
        assert (normal[:, 1] > 0).all()
