"""Drawings of flats as people make them, and what is read from them.

Expected areas and sizes are closed forms of what is drawn here; the drawings are written with ezdxf, not with the
project's own writer (but for one round trip).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.from_flat.reading import LineBend, read_dxf
from steadfold.sheet.from_solid.reading import CadReading
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold

RIGHT = math.pi / 2


def drawn(tmp_path: Path, draw: Callable[[Any], None], unit: int = 4, version: str = "R2010") -> Path:
    """A DXF file with what `draw` puts into its model space."""
    document = ezdxf.new(version, setup=True)
    document.header["$INSUNITS"] = unit
    draw(document.modelspace())
    path = tmp_path / "flat.dxf"
    document.saveas(path)
    return path


def rectangle(space: Any, x: float, y: float, w: float, h: float, **look: Any) -> None:
    corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
    for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
        space.add_line(a, b, dxfattribs=look)


def codes(reading: CadReading) -> set[str]:
    return {f.code for f in reading.findings} | {f.code for p in reading.parts for f in p.findings}


def area(reading: CadReading) -> float:
    return sum(flat_pattern(p.part).area_mm2 for p in reading.parts)


def test_lines_arcs_and_circles_make_a_flat_with_true_arcs(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_line((100, 0), (100, 40))
        space.add_arc((90, 40), 10, 0, 90)
        space.add_line((90, 50), (0, 50))
        space.add_line((0, 50), (0, 0))
        space.add_circle((20, 20), 4.5)

    reading = read_dxf(drawn(tmp_path, draw), 2.0)
    flat = flat_pattern(reading.only().part)
    assert flat.area_mm2 == pytest.approx(5000 - (100 - math.pi * 25) - math.pi * 4.5**2, abs=1e-6)
    assert flat.round_holes == (((pytest.approx(20.0), pytest.approx(20.0)), pytest.approx(9.0)),)
    assert sum(b != 0 for b in flat.outer.bulges) == 1
    assert codes(reading) == {"drawing-size"}


def test_polylines_with_bulges_ellipses_and_splines_are_followed(tmp_path: Path) -> None:
    """A slot by bulges (40 × 10 with round ends), a rectangle, an ellipse π a b, and a closed uniform cubic spline
    on 36 points of a circle, which at its knots passes (p0 + 4 p1 + p2) / 6: radius 15 (4 + 2 cos 10°) / 6."""

    def draw(space: Any) -> None:
        space.add_lwpolyline([(0, 0), (200, 0), (200, 100), (0, 100)], close=True)
        space.add_lwpolyline([(20, 20, 0), (50, 20, 1), (50, 30, 0), (20, 30, 1)], format="xyb", close=True)
        space.add_polyline2d([(100, 20), (130, 20), (130, 40), (100, 40)], close=True)
        space.add_ellipse((60, 70), (20, 0), 0.5)
        fit = [(150 + 15 * math.cos(a * math.pi / 18), 65 + 15 * math.sin(a * math.pi / 18)) for a in range(36)]
        space.add_spline().set_closed([(x, y, 0) for x, y in fit])

    found = read_dxf(drawn(tmp_path, draw), 2.0).only()
    spline = math.pi * (15 * (4 + 2 * math.cos(math.pi / 18)) / 6) ** 2
    areas = sorted(abs(o.area_mm2) for o in flat_pattern(found.part).openings)
    assert areas == pytest.approx(sorted([300 + math.pi * 25, 600, math.pi * 200, spline]), abs=0.1)
    kinds = [h.kind for h in found.holes]
    assert kinds.count("obround") == 1 and kinds.count("rectangular") == 1


def test_an_ellipse_is_followed_within_a_thousandth(tmp_path: Path) -> None:
    """Area π a b; an outline everywhere within 0.001 mm of it is off by at most its length times that."""

    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 200, 100)
        space.add_ellipse((100, 50), (40, 10), 0.4)

    part = read_dxf(drawn(tmp_path, draw), 1.0).only().part
    (opening,) = flat_pattern(part).openings
    long = math.hypot(40, 10)
    assert abs(opening.area_mm2) == pytest.approx(math.pi * long * long * 0.4, abs=0.001 * 2 * math.pi * long)
    assert len(opening.points) < 60


def test_a_mirrored_extrusion_is_turned_to_the_world(tmp_path: Path) -> None:
    """Extrusion (0, 0, -1): raw x counts the other way. The hole drawn at raw -30 lies at 30, the arc closes."""

    def draw(space: Any) -> None:
        over = {"extrusion": (0, 0, -1)}
        space.add_line((0, 0), (100, 0))
        space.add_line((100, 0), (100, 40))
        space.add_arc((-90, 40), 10, 90, 180, dxfattribs=over)
        space.add_line((90, 50), (0, 50))
        space.add_line((0, 50), (0, 0))
        space.add_circle((-30, 20), 3, dxfattribs=over)
        space.add_lwpolyline(
            [(-60, 10, 0), (-60, 20, 1), (-70, 20, 0), (-70, 10, 1)], format="xyb", close=True, dxfattribs=over
        )

    part = read_dxf(drawn(tmp_path, draw), 2.0).only().part
    flat = flat_pattern(part)
    ((centre, diameter),) = flat.round_holes
    assert centre == pytest.approx((30.0, 20.0))
    assert diameter == pytest.approx(6.0)
    assert flat.area_mm2 == pytest.approx(5000 - (100 - math.pi * 25) - math.pi * 9 - (100 + math.pi * 25), abs=1e-6)


def test_geometry_in_blocks_is_found_scaled_turned_and_repeated(tmp_path: Path) -> None:
    """A block with a hole, inserted in another, scaled by 2 and turned; and one with three columns."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    hole = document.blocks.new("hole")
    hole.add_circle((1, 0), 1)
    pair = document.blocks.new("pair")
    pair.add_blockref("hole", (0, 0), dxfattribs={"xscale": 2, "yscale": 2, "zscale": 2, "rotation": 90})
    plate = document.blocks.new("plate")
    plate.add_lwpolyline([(0, 0), (120, 0), (120, 60), (0, 60)], close=True)
    space = document.modelspace()
    space.add_blockref("plate", (10, 10))
    space.add_blockref("pair", (30, 30))
    space.add_blockref("hole", (50, 50), dxfattribs={"column_count": 3, "column_spacing": 20, "row_count": 1})
    path = tmp_path / "blocks.dxf"
    document.saveas(path)
    flat = flat_pattern(read_dxf(path, 1.0).only().part)
    assert flat.area_mm2 == pytest.approx(7200 - math.pi * 4 - 3 * math.pi, abs=1e-6)
    found = sorted((round(c[0], 6), round(c[1], 6), round(d, 6)) for c, d in flat.round_holes)
    assert found == [(20.0, 22.0, 4.0), (41.0, 40.0, 2.0), (61.0, 40.0, 2.0), (81.0, 40.0, 2.0)]


@pytest.mark.parametrize("gap", [0.009, 0.06, 0.099])
def test_small_gaps_are_closed_and_said(gap: float, tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_line((100, gap), (100, 50))
        space.add_line((100, 50), (0, 50))
        space.add_line((0, 50), (0, gap))

    reading = read_dxf(drawn(tmp_path, draw), 2.0)
    assert area(reading) == pytest.approx(5000, abs=100 * gap + 1e-6)
    (said,) = [f for f in reading.findings if f.code == "gaps-closed"]
    assert said.value == pytest.approx(gap, abs=1e-6)


def test_a_gap_wider_than_stated_is_refused_with_its_place_and_width(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_line((100, 0), (100, 50))
        space.add_line((100, 50), (0, 50))
        space.add_line((0, 50), (0, 1.5))

    path = drawn(tmp_path, draw)
    with pytest.raises(CadRefused, match=r"gap of 1\.50 mm"):
        read_dxf(path, 2.0)
    assert area(read_dxf(path, 2.0, gap_mm=2.0)) == pytest.approx(5000, abs=100)


def test_a_slot_narrower_than_the_gap_stays_a_slot(tmp_path: Path) -> None:
    """Two ends 0.08 mm apart that are both joined already are no gap."""

    def draw(space: Any) -> None:
        corners = [(0, 0), (100, 0), (100, 50), (50.08, 50), (50.08, 20), (50, 20), (50, 50), (0, 50)]
        space.add_lwpolyline(corners, close=True)

    assert area(read_dxf(drawn(tmp_path, draw), 2.0)) == pytest.approx(5000 - 0.08 * 30, abs=1e-6)


def test_what_is_drawn_twice_is_cut_once_and_said(tmp_path: Path) -> None:
    """Every line twice, once the other way round, circles from both sides, and one line half over another."""

    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 50)
        for a, b in (((100, 0), (0, 0)), ((100, 50), (100, 0)), ((30, 0), (60, 0))):
            space.add_line(a, b)
        space.add_circle((20, 20), 4)
        space.add_circle((-20, 20), 4, dxfattribs={"extrusion": (0, 0, -1)})

    reading = read_dxf(drawn(tmp_path, draw), 2.0)
    assert area(reading) == pytest.approx(5000 - math.pi * 16, abs=1e-6)
    (said,) = [f for f in reading.findings if f.code == "drawn-twice"]
    assert said.value is not None and said.value >= 4


def test_lettering_dimensions_and_hidden_layers_are_left_out_and_said(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 50)
        space.add_text("1.4301 t=2")
        space.add_mtext("remove burrs")
        space.add_linear_dim(base=(0, -10), p1=(0, 0), p2=(100, 0)).render()
        space.add_point((3, 3))
        space.doc.layers.add("old").off()
        space.add_circle((50, 25), 10, dxfattribs={"layer": "old"})

    reading = read_dxf(drawn(tmp_path, draw), 2.0)
    assert area(reading) == pytest.approx(5000, abs=1e-6)
    (said,) = [f for f in reading.findings if f.code == "left-out-of-drawing"]
    assert "lettering" in said.say and "switched off" in said.say and "POINT" in said.say


@pytest.mark.parametrize(
    ("unit", "size", "given", "expected"),
    [
        (4, 100.0, None, 100.0),
        (1, 4.0, None, 101.6),
        (5, 10.0, None, 100.0),
        (0, 100.0, None, 100.0),
        (6, 100.0, "mm", 100.0),
        (4, 4.0, "in", 101.6),
    ],
)
def test_the_unit_is_the_header_s_unless_it_is_overruled(
    unit: int, size: float, given: Any, expected: float, tmp_path: Path
) -> None:
    path = drawn(tmp_path, lambda space: rectangle(space, 0, 0, size, size / 2), unit)
    reading = read_dxf(path, 2.0, units=given)
    assert flat_pattern(reading.only().part).size_mm == pytest.approx((expected, expected / 2))
    (said,) = [f for f in reading.findings if f.code == "drawing-size"]
    assert (said.severity == "caution") == (unit == 0)


@pytest.mark.parametrize(("unit", "size"), [(6, 400.0), (1, 400.0), (4, 2.0)])
def test_an_absurd_size_is_asked_about(unit: int, size: float, tmp_path: Path) -> None:
    """400 m, 400 inch (10 m), 2 mm."""
    path = drawn(tmp_path, lambda space: rectangle(space, 0, 0, size, size / 2), unit)
    with pytest.raises(CadRefused, match=r"would measure .* say the unit"):
        read_dxf(path, 2.0)


def test_several_parts_in_one_file_are_parts_of_their_own(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 50)
        space.add_circle((20, 20), 5)
        rectangle(space, 0, 80, 60, 40)

    reading = read_dxf(drawn(tmp_path, draw), 2.0)
    assert [p.name for p in reading.parts] == ["flat 1", "flat 2"]
    assert [flat_pattern(p.part).area_mm2 for p in reading.parts] == pytest.approx([5000 - math.pi * 25, 2400])


def test_a_drawing_frame_is_left_out_and_said(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, -50, -50, 420, 297)
        rectangle(space, 0, 0, 100, 50)
        space.add_circle((20, 20), 5)

    reading = read_dxf(drawn(tmp_path, draw), 2.0)
    assert area(reading) == pytest.approx(5000 - math.pi * 25)
    assert "drawing-frame" in codes(reading)


def test_engraving_that_is_not_closed_is_left_out_and_said(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 50)
        space.add_arc((50, 25), 8, 0, 200)
        space.add_line((10, 10), (30, 14))

    reading = read_dxf(drawn(tmp_path, draw), 2.0)
    assert area(reading) == pytest.approx(5000)
    (said,) = [f for f in reading.findings if f.code == "open-outline"]
    assert said.value == 2


# ---- bend lines


def folded(part: Part) -> list[tuple[float, float]]:
    return [(round(math.degrees(b.angle_rad), 6), b.inside_radius_mm) for b in part.bends]


def u_profile(space: Any, **look: Any) -> None:
    """100 mm wide, 30 | 60 | 30 to the middles of the bends."""
    rectangle(space, 0, 0, 100, 120)
    space.add_line((0, 30), (100, 30), dxfattribs=look)
    space.add_line((0, 90), (100, 90), dxfattribs=look)


@pytest.mark.parametrize(
    ("look", "layers"),
    [
        ({"layer": "Biegelinien"}, None),
        ({"layer": "BEND"}, None),
        ({"linetype": "DASHED"}, None),
        ({"linetype": "CENTER", "layer": "7"}, None),
        ({}, None),
        ({"layer": "L2"}, {"cut": ["0"], "bend": ["L2"]}),
        ({"layer": "l2"}, {"bend": ["L2"]}),
    ],
)
def test_bend_lines_are_known_by_layer_line_type_mapping_or_place(
    look: dict[str, Any], layers: Any, tmp_path: Path
) -> None:
    """A U of t = 2, r = 2, K = 0.5: each bend takes π/2 · 3 mm, half of it on each side of its line; so the web is
    60 - 4.7124 between tangents and 60 - 4.7124 + 2 · 4 outside."""
    path = drawn(tmp_path, lambda space: u_profile(space, **look))
    reading = read_dxf(path, 2.0, 0.5, inside_radius_mm=2.0, bend_angle_rad=RIGHT, layers=layers)
    part = reading.only().part
    assert folded(part) == [(90.0, 2.0), (90.0, 2.0)]
    flat = flat_pattern(part)
    assert flat.size_mm == pytest.approx((100.0, 120.0))
    assert sorted(p.area_mm2 for p in part.panels) == pytest.approx(
        sorted([100 * (30 - RIGHT * 1.5)] * 2 + [100 * (60 - RIGHT * 3)]), abs=1e-6
    )
    assert part.volume_mm3 == pytest.approx(100 * 120 * 2.0, rel=1e-9)
    pose = fold(part)
    heights = sorted(float(f.face @ pose.panels[0].face) for f in pose.panels)
    assert heights == pytest.approx([0.0, 0.0, 1.0], abs=1e-12)


def test_angles_and_radii_come_line_by_line(tmp_path: Path) -> None:
    path = drawn(tmp_path, u_profile)
    bends = [LineBend(0, math.radians(-45), 3.0), LineBend(1, math.radians(30))]
    part = read_dxf(path, 2.0, 0.5, inside_radius_mm=1.0, bends=bends).only().part
    assert sorted(folded(part)) == [(-45.0, 3.0), (30.0, 1.0)]


def test_layers_tell_up_from_down(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 120)
        space.add_line((0, 30), (100, 30), dxfattribs={"layer": "UP"})
        space.add_line((0, 90), (100, 90), dxfattribs={"layer": "DOWN"})

    layers = {"bend_up": ["UP"], "bend_down": ["DOWN"]}
    part = (
        read_dxf(drawn(tmp_path, draw), 2.0, 0.5, inside_radius_mm=2.0, layers=layers, bend_angle_rad=RIGHT).only().part
    )
    assert sorted(a for a, _ in folded(part)) == [-90.0, 90.0]


def test_a_bend_line_without_an_angle_is_refused_with_its_place(tmp_path: Path) -> None:
    with pytest.raises(CadRefused, match=r"2 bend lines, but no angle.*\(0\.0, 30\.0\)"):
        read_dxf(drawn(tmp_path, u_profile), 2.0)


def test_a_bend_of_a_line_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CadRefused, match="no bend line 5"):
        read_dxf(drawn(tmp_path, u_profile), 2.0, bend_angle_rad=RIGHT, bends=[LineBend(5, 1.0)])


def test_bends_that_run_into_each_other_are_refused(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 120)
        space.add_line((0, 30), (100, 30))
        space.add_line((0, 33), (100, 33))

    with pytest.raises(CadRefused, match="run into each other"):
        read_dxf(drawn(tmp_path, draw), 2.0, 0.5, inside_radius_mm=2.0, bend_angle_rad=RIGHT)


def test_a_flange_with_reliefs_hangs_on_part_of_an_edge(tmp_path: Path) -> None:
    """A plate 100 × 60 with a flange 40 wide in the middle of its top edge, notches 3 wide and 8 deep beside it."""

    def draw(space: Any) -> None:
        corners = [
            (0, 0),
            (100, 0),
            (100, 60),
            (73, 60),
            (73, 52),
            (70, 52),
            (70, 90),
            (30, 90),
            (30, 52),
            (27, 52),
            (27, 60),
            (0, 60),
        ]
        space.add_lwpolyline(corners, close=True)
        space.add_line((30, 56), (70, 56), dxfattribs={"layer": "fold"})

    part = read_dxf(drawn(tmp_path, draw), 2.0, 0.5, inside_radius_mm=2.0, bend_angle_rad=RIGHT).only().part
    (bend,) = part.bends
    assert bend.length_mm == pytest.approx(40.0)
    assert flat_pattern(part).area_mm2 == pytest.approx(6000 + 40 * 30 - 2 * 24)
    assert part.panels[1].area_mm2 == pytest.approx(40 * (34 - RIGHT * 1.5), abs=1e-6)


def test_a_bend_that_ends_inside_metal_is_refused(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 120)
        space.add_line((0, 60), (70, 60), dxfattribs={"layer": "bend"})

    with pytest.raises(CadRefused, match=r"stops inside the metal at \(70\.0, 60\.0\)"):
        read_dxf(drawn(tmp_path, draw), 2.0, bend_angle_rad=RIGHT)


def test_a_hole_across_a_bend_line_stays_round_in_the_flat(tmp_path: Path) -> None:
    """The line is drawn through the hole: it bends the metal on both sides of it."""

    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 80)
        space.add_circle((50, 40), 10)
        space.add_line((0, 40), (100, 40), dxfattribs={"layer": "bend"})

    part = read_dxf(drawn(tmp_path, draw), 2.0, 0.44, inside_radius_mm=2.0, bend_angle_rad=RIGHT).only().part
    (bend,) = part.bends
    assert len(bend.faces) == 2
    flat = flat_pattern(part)
    ((_, diameter),) = flat.round_holes
    assert diameter == pytest.approx(20.0, abs=1e-6)
    assert flat.area_mm2 == pytest.approx(8000 - math.pi * 100, abs=1e-6)


def test_a_tray_of_four_flanges_folds_to_its_inside_size(tmp_path: Path) -> None:
    """Base 100 × 60 between the middles of its bends, four flanges 25 beyond them; notched corners. With K = 0.5,
    t = 2 and r = 2 the base is 100 - 3 π/2 between tangents; flange planes stand 100 - 3 π/2 + 2 r apart inside."""

    def draw(space: Any) -> None:
        outline = [
            (4, -25),
            (96, -25),
            (96, 4),
            (125, 4),
            (125, 56),
            (96, 56),
            (96, 85),
            (4, 85),
            (4, 56),
            (-25, 56),
            (-25, 4),
            (4, 4),
        ]
        space.add_lwpolyline(outline, close=True)
        for a, b in (((4, 0), (96, 0)), ((100, 4), (100, 56)), ((96, 60), (4, 60)), ((0, 56), (0, 4))):
            space.add_line(a, b, dxfattribs={"layer": "bend"})

    part = read_dxf(drawn(tmp_path, draw), 2.0, 0.5, inside_radius_mm=2.0, bend_angle_rad=RIGHT).only().part
    assert len(part.panels) == 5 and len(part.bends) == 4
    pose = fold(part)
    planes = [float(f.origin @ f.face) for f in pose.panels[1:] if abs(f.face[0]) > 0.9]
    apart = abs(planes[0] + planes[1])
    assert apart - 2.0 == pytest.approx(100 - RIGHT * 3 + 4.0, abs=1e-9)


def test_a_window_across_two_bends_does_not_part_the_panel(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 100, 120)
        rectangle(space, 40, 20, 20, 80)
        for x0, x1 in ((0, 40), (60, 100)):
            for y in (30, 90):
                space.add_line((x0, y), (x1, y), dxfattribs={"layer": "bend"})

    part = read_dxf(drawn(tmp_path, draw), 2.0, 0.5, inside_radius_mm=2.0, bend_angle_rad=RIGHT).only().part
    assert len(part.panels) == 3
    assert [len(b.faces) for b in part.bends] == [2, 2]
    assert flat_pattern(part).area_mm2 == pytest.approx(12_000 - 1600)


def test_a_drawing_written_by_the_project_is_read_back_as_the_same_flat(tmp_path: Path) -> None:
    from steadfold.deliver.dxf_file import dxf_text

    path = drawn(tmp_path, u_profile)
    part = read_dxf(path, 2.0, 0.44, inside_radius_mm=2.0, bend_angle_rad=RIGHT).only().part
    flat = flat_pattern(part)
    again = tmp_path / "again.dxf"
    again.write_text(dxf_text(part, flat))
    found = read_dxf(again, 2.0, 0.44, inside_radius_mm=2.0, bend_angle_rad=RIGHT).only().part
    assert flat_pattern(found).area_mm2 == pytest.approx(flat.area_mm2, abs=1e-6)
    assert folded(found) == folded(part)


def test_a_binary_drawing_and_an_old_one_are_read(tmp_path: Path) -> None:
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    rectangle(document.modelspace(), 0, 0, 100, 50)
    binary = tmp_path / "binary.dxf"
    document.saveas(binary, fmt="bin")
    assert area(read_dxf(binary, 1.0)) == pytest.approx(5000)
    old = ezdxf.new("R12")
    rectangle(old.modelspace(), 0, 0, 100, 50)
    old.saveas(tmp_path / "old.dxf")
    assert area(read_dxf(tmp_path / "old.dxf", 1.0)) == pytest.approx(5000)
