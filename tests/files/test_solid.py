"""The solid of a folded part against closed forms and against the kernel's own primitives.

The volume of a bend is an annular sector, `a t (r + t / 2)` a millimetre of bend; elementary geometry.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from OCP.Bnd import Bnd_Box
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Fuse
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepClass3d import BRepClass3d_SolidClassifier
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_IN, TopAbs_OUT, TopAbs_SHELL, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Shape

from steadfold.sheet.extent import folded_bounds_mm, folded_size_mm
from steadfold.sheet.outline import Face, Outline, circle, obround, polygon_outline, rectangle
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold
from steadfold.sheet.solid import SolidError, solid, volume_mm3
from tests.files.hand_parts import RADIUS, THICKNESS, WIDTH, K, angle_part, comb_part

RIGHT_ANGLE = math.pi / 2
STRIP = RIGHT_ANGLE * (RADIUS + K * THICKNESS)
"""Width of the hand-made right angle's strip in the flat, 4.461 mm."""


def count(shape: TopoDS_Shape, kind: object) -> int:
    """How many shapes of a kind a shape is made of, each counted where it is used."""
    explorer, found = TopExp_Explorer(shape, kind), 0
    while explorer.More():
        found += 1
        explorer.Next()
    return found


def sector(angle_rad: float, radius: float = RADIUS) -> float:
    """Area of a bend's cross-section."""
    return 0.5 * angle_rad * ((radius + THICKNESS) ** 2 - radius**2)


@pytest.mark.parametrize("degrees", [15, 45, 90, 120, 180, 215, -30, -90, -180])
@pytest.mark.parametrize("radius", [0.3, 2.0, 12.0])
def test_the_volume_of_an_angle_is_two_plates_and_an_annular_sector(degrees: float, radius: float) -> None:
    part = angle_part(math.radians(degrees), 60.0, 45.0, radius)
    plates = sum(panel.area_mm2 for panel in part.panels) * THICKNESS
    made = solid(part)
    assert (count(made, TopAbs_SOLID), count(made, TopAbs_SHELL)) == (1, 1)
    expected = plates + sector(abs(math.radians(degrees)), radius) * WIDTH
    assert math.isclose(volume_mm3(made), expected, rel_tol=1e-9)


def test_a_right_angle_is_the_same_body_as_two_boxes_and_a_quarter_tube() -> None:
    """Built a second time from the kernel's primitives; what both have in common is the whole of each."""
    along = gp_Dir(1, 0, 0)
    plate = BRepPrimAPI_MakeBox(gp_Pnt(0, 4, -1), WIDTH, 46.0, 2.0).Shape()
    flange = BRepPrimAPI_MakeBox(gp_Pnt(0, 0, 3), WIDTH, 2.0, 26.0).Shape()
    # The bend's axis runs along x through y = 4, z = 3; its quarter lies towards -y and -z.
    quarter = gp_Ax2(gp_Pnt(0, 4, 3), along, gp_Dir(0, -1, 0))
    outer = BRepPrimAPI_MakeCylinder(quarter, RADIUS + THICKNESS, WIDTH, RIGHT_ANGLE).Shape()
    inner = BRepPrimAPI_MakeCylinder(quarter, RADIUS, WIDTH, RIGHT_ANGLE).Shape()
    made = solid(angle_part())
    whole = volume_mm3(made)
    shared = [volume_mm3(BRepAlgoAPI_Common(made, body).Shape()) for body in (plate, flange, outer, inner)]
    assert shared[0] == pytest.approx(100 * 46 * 2, rel=1e-7)
    assert shared[1] == pytest.approx(100 * 26 * 2, rel=1e-7)
    assert shared[2] == pytest.approx(100 * math.pi / 4 * (16 - 4), rel=1e-7)
    assert shared[3] == pytest.approx(0.0, abs=1e-6)
    assert sum(shared[:3]) == pytest.approx(whole, rel=1e-7)
    fused = BRepAlgoAPI_Fuse(BRepAlgoAPI_Fuse(plate, flange).Shape(), made).Shape()
    assert volume_mm3(fused) == pytest.approx(whole, rel=1e-7)


def test_the_centre_of_mass_of_a_right_angle_is_where_its_three_bodies_put_it() -> None:
    """Centroid of an annular sector of angle a: `4 sin(a/2) (R³ - r³) / (3 a (R² - r²))` from its axis."""
    made = solid(angle_part())
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(made, properties, 1e-9, False, False)
    arm = 4 * math.sin(math.pi / 4) * (4**3 - 2**3) / (3 * RIGHT_ANGLE * (4**2 - 2**2)) / math.sqrt(2)
    bodies = [(100 * 46 * 2, 27.0, 0.0), (100 * 26 * 2, 1.0, 16.0), (100 * 3 * math.pi, 4 - arm, 3 - arm)]
    volume = sum(v for v, _, _ in bodies)
    centre = properties.CentreOfMass()
    assert centre.X() == pytest.approx(50.0, abs=1e-9)
    assert centre.Y() == pytest.approx(sum(v * y for v, y, _ in bodies) / volume, abs=1e-7)
    assert centre.Z() == pytest.approx(sum(v * z for v, _, z in bodies) / volume, abs=1e-7)


@pytest.mark.parametrize("angle", [RIGHT_ANGLE, -RIGHT_ANGLE, math.radians(150)])
@pytest.mark.parametrize(
    ("hole", "area"),
    [
        (circle(3.0, (50.0, 2.2)), math.pi * 1.5**2),
        (obround(30.0, 2.0, (50.0, 2.2)), 28 * 2 + math.pi),
        (obround(4.0, 2.0, (50.0, 2.2), 0.8), 2 * 2 + math.pi),
        (polygon_outline([(10, 1), (14, 2), (13, 4), (9, 3)]), 4 * 2 + 1 * 1),
    ],
)
def test_a_hole_in_a_bend_takes_its_share_of_the_sector(angle: float, hole: Outline, area: float) -> None:
    """What is cut in the flat strip is the same share of the bend's volume (the map to the bend is even)."""
    allowance = abs(angle) * (RADIUS + K * THICKNESS)
    lost = area / allowance * sector(abs(angle))
    plain, cut = solid(angle_part(angle)), solid(angle_part(angle, strip_holes=[hole]))
    assert volume_mm3(plain) - volume_mm3(cut) == pytest.approx(lost, rel=1e-6)
    assert count(cut, TopAbs_FACE) == count(plain, TopAbs_FACE) + len(hole.points)


def test_holes_in_panels_are_single_cylinders_with_their_own_volume() -> None:
    holes = [circle(8.0, (20.0, 30.0)), circle(5.0, (60.0, 30.0))]
    plain, cut = solid(angle_part()), solid(angle_part(back_holes=holes))
    lost = math.pi * (4**2 + 2.5**2) * THICKNESS
    assert volume_mm3(plain) - volume_mm3(cut) == pytest.approx(lost, rel=1e-7)
    assert count(cut, TopAbs_FACE) == count(plain, TopAbs_FACE) + 2


def test_a_round_blank_with_a_round_hole_is_a_ring() -> None:
    part = angle_part()
    panel = replace(part.panels[0], faces=(Face(circle(40.0, (0, 0)), (circle(10.0, (3, 0)).clockwise(),)),))
    ring = Part("ring", THICKNESS, (panel,), ())
    made = solid(ring)
    assert volume_mm3(made) == pytest.approx(math.pi * (20**2 - 5**2) * THICKNESS, rel=1e-9)
    assert count(made, TopAbs_FACE) == 4
    assert folded_size_mm(ring) == pytest.approx((40.0, 40.0, 2.0), abs=1e-12)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_points_of_the_flat_are_metal_in_the_solid_exactly_where_they_are_metal_in_the_flat(share: float) -> None:
    """Random points of the strip and its hole, carried by the formula of a circular bend written out here."""
    angle, hole = math.radians(130), circle(6.0, (50.0, 0.5 * math.radians(130) * (RADIUS + K * THICKNESS)))
    part = angle_part(angle, strip_holes=[hole])
    made = solid(part, share)
    allowance = angle * (RADIUS + K * THICKNESS)
    random = np.random.default_rng(7)
    turned = share * angle
    length = angle * (RADIUS + 0.5 * THICKNESS)
    tangent = part.bends[0].parent_point[1]
    seen = {True: 0, False: 0}
    for x, y, z in random.uniform((44, 0.05, -0.95), (56, allowance - 0.05, 0.95), (300, 3)):
        clear = math.hypot(x - 50.0, y - 0.5 * allowance) - 3.0
        if abs(clear) < 0.02:
            continue
        along = y / allowance
        if share:
            radius = length / turned
            out, up = (radius - z) * math.sin(turned * along), radius - (radius - z) * math.cos(turned * along)
        else:
            out, up = length * along, z
        classifier = BRepClass3d_SolidClassifier(made, gp_Pnt(x, tangent - out, up), 1e-6)
        assert classifier.State() == (TopAbs_IN if clear > 0 else TopAbs_OUT)
        seen[clear > 0] += 1
    assert min(seen.values()) > 50


@pytest.mark.parametrize("share", [0.0, 0.25, 0.9])
def test_a_part_keeps_its_volume_while_it_is_folded(share: float) -> None:
    part = angle_part(math.radians(170), strip_holes=[circle(4.0, (30.0, 5.0))])
    assert volume_mm3(solid(part, share)) == pytest.approx(volume_mm3(solid(part)), rel=1e-9)


def test_every_bend_can_be_folded_by_a_share_of_its_own() -> None:
    """The first tine up by 90°, the second flat, the third halfway: 45°, 50 mm long beyond its bend."""
    low, high = folded_bounds_mm(comb_part(3), (1.0, 0.0, 0.5))
    made = solid(comb_part(3), (1.0, 0.0, 0.5))
    assert volume_mm3(made) == pytest.approx(comb_part(3).volume_mm3, rel=1e-9)
    assert high[2] == pytest.approx(RADIUS + THICKNESS / 2 + 50, abs=1e-9)
    assert high[1] == pytest.approx(40 + math.pi / 3 * (RADIUS + THICKNESS / 2) + 50, abs=1e-9)
    assert low[2] == pytest.approx(-1.0, abs=1e-12)


def test_unfolded_all_of_it_lies_between_two_planes() -> None:
    low, high = folded_bounds_mm(comb_part(), 0.0)
    assert (low[2], high[2]) == pytest.approx((-1.0, 1.0), abs=1e-12)


def test_tines_side_by_side_without_a_gap_make_one_closed_body() -> None:
    part = comb_part(5)
    made = solid(part)
    strips = 3 * sector(math.pi / 2) * 20 + 2 * sector(math.pi / 3) * 20
    assert volume_mm3(made) == pytest.approx(100 * 40 * 2 + 5 * 20 * 50 * 2 + strips, rel=1e-9)


def test_a_flange_narrower_than_its_edge_and_offset_closes_with_walls_beside_it() -> None:
    part = angle_part(offset=20.0, width=50.0)
    made = solid(part)
    expected = 100 * 46 * 2 + 50 * 26 * 2 + 50 * sector(RIGHT_ANGLE)
    assert volume_mm3(made) == pytest.approx(expected, rel=1e-9)
    # Two panels and a strip have 2 skins each; walls: back 3 + 2 beside the flange, strip 2, flange 3.
    assert count(made, TopAbs_FACE) == 6 + 5 + 2 + 3


def test_a_plain_angle_obeys_eulers_rule() -> None:
    """Eight corners of sheet are 16 corners of the solid; a body without holes has corners - edges + faces = 2.

    Each edge is found twice, since two faces use it.
    """
    made = solid(angle_part())
    assert count(made, TopAbs_FACE) == 6 + 8
    assert 16 - count(made, TopAbs_EDGE) / 2 + count(made, TopAbs_FACE) == 2


def test_a_closed_hem_without_an_inside_radius_has_a_solid() -> None:
    part = angle_part(math.pi, 50.0, 12.0, radius=0.0)
    made = solid(part)
    plates = sum(panel.area_mm2 for panel in part.panels) * THICKNESS
    assert volume_mm3(made) == pytest.approx(plates + WIDTH * 0.5 * math.pi * THICKNESS**2, rel=1e-8)
    assert folded_size_mm(part) == pytest.approx((100.0, 50.0, 2 * THICKNESS), abs=1e-9)


def test_outside_dimensions_come_back_as_the_size_of_the_folded_part() -> None:
    assert folded_size_mm(angle_part()) == pytest.approx((100.0, 50.0, 30.0), abs=1e-9)
    assert folded_size_mm(angle_part(-RIGHT_ANGLE)) == pytest.approx((100.0, 50.0, 30.0), abs=1e-9)
    assert folded_size_mm(angle_part(math.pi)) == pytest.approx((100.0, 50.0, 8.0), abs=1e-9)


@pytest.mark.parametrize("share", [0.0, 0.4, 1.0])
@pytest.mark.parametrize(
    "part",
    [
        angle_part(math.radians(75)),
        angle_part(-2.9, strip_holes=[circle(7.0, (50.0, 4.0))]),
        comb_part(4),
    ],
    ids=["angle", "hole in the bend", "comb"],
)
def test_the_room_a_part_takes_is_that_of_the_kernels_closest_box(part: Part, share: float) -> None:
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(solid(part, share), box, False, False)
    least, most = box.CornerMin(), box.CornerMax()
    low, high = folded_bounds_mm(part, share)
    assert low == pytest.approx([least.X(), least.Y(), least.Z()], abs=2e-7)
    assert high == pytest.approx([most.X(), most.Y(), most.Z()], abs=2e-7)


def test_the_rim_of_a_cut_in_a_bend_counts_where_it_reaches_furthest() -> None:
    """A strip cut down to a disc and bent by 180°. A disc in the middle reaches the furthest line, a quarter turn
    in, as the whole strip does; one that ends 0.5 mm before that line reaches only as far as its rim."""
    part = angle_part(math.pi)
    tangent, across = part.bends[0].parent_point[1], part.bends[0].allowance_mm
    until = 0.5 * across - 0.5
    for disc, turned in (
        (circle(0.5 * across, (50.0, 0.5 * across)), 0.5 * math.pi),
        (circle(until, (50.0, 0.5 * until)), math.pi * until / across),
    ):
        bent = replace(part, bends=(replace(part.bends[0], faces=(Face(disc),)),))
        lowest = tangent - (RADIUS + THICKNESS) * math.sin(turned)
        assert folded_bounds_mm(bent)[0][1] == pytest.approx(lowest, abs=1e-12)


def test_a_cutout_that_parts_a_panel_is_named() -> None:
    part = angle_part()
    lower, upper = Face(rectangle(100, 20, (0, 4))), Face(rectangle(100, 20, (0, 30)))
    parted = replace(part, panels=(replace(part.panels[0], faces=(lower, upper)), part.panels[1]))
    with pytest.raises(SolidError, match="not one piece: panel 'back' would fall off"):
        solid(parted)


def test_a_bend_that_does_not_reach_its_panel_is_refused() -> None:
    part = angle_part()
    away = replace(part.panels[1], faces=(Face(rectangle(100, 26, (0, 4.01))),))
    with pytest.raises(SolidError, match="panel 'flange' would fall off"):
        solid(replace(part, panels=(part.panels[0], away)))


def test_an_outline_that_crosses_itself_is_refused() -> None:
    bow = Face(polygon_outline([(0, 0), (60, 0), (10, 40), (50, 40), (0, 0.5)]))
    panel = replace(angle_part().panels[0], faces=(bow,))
    with pytest.raises(SolidError, match="crosses or touches itself"):
        solid(Part("bow", THICKNESS, (panel,), ()))


def test_notches_that_meet_in_a_point_leave_the_metal_beside_it_apart() -> None:
    """A notch of the panel ends on the tangent line where one of the strip begins; each takes a triangle away."""
    part = angle_part()
    strip = polygon_outline([(0, 0), (40, 0), (45, 2), (50, 0), (100, 0), (100, STRIP), (0, STRIP)])
    back = polygon_outline([(0, 4), (30, 4), (35, 6), (40, 4), (100, 4), (100, 50), (0, 50)])
    notched = replace(
        part,
        panels=(replace(part.panels[0], faces=(Face(back),)), part.panels[1]),
        bends=(replace(part.bends[0], faces=(Face(strip),)),),
    )
    lost = 10 * THICKNESS + 10 / STRIP * sector(RIGHT_ANGLE)
    assert volume_mm3(solid(part)) - volume_mm3(solid(notched)) == pytest.approx(lost, rel=1e-6)


def test_a_hole_in_a_bend_without_inside_radius_is_refused_in_words() -> None:
    with pytest.raises(SolidError, match="no inside radius"):
        solid(angle_part(math.pi, 50.0, 12.0, radius=0.0, strip_holes=[circle(1.5, (50.0, 1.3))]))


def test_the_skins_of_the_root_panel_lie_half_a_thickness_from_its_plane() -> None:
    frame = fold(angle_part()).panels[0]
    low, high = folded_bounds_mm(Part("plate", THICKNESS, angle_part().panels[:1], ()))
    assert frame.origin.tolist() == [0, 0, 0]
    assert (low.tolist(), high.tolist()) == ([0, 4, -1], [100, 50, 1])
