"""Pictures: what is drawn is where the metal is, what is hidden is hidden, and numbers can be read from colours."""

from __future__ import annotations

import base64
import math
import re
import struct
import tomllib
import zlib
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

from steadfold.catalogue import material
from steadfold.deliver.annotation import Arrow, Mark
from steadfold.deliver.colour_scale import STEPS, oklab, scale_colour, scale_colours, srgb
from steadfold.deliver.doc_pictures import HERO_KEYS, HERO_PART, shapes_page, stem_of
from steadfold.deliver.folded_picture import folded_svg, worked_svg
from steadfold.deliver.hidden import hidden_spans
from steadfold.deliver.raster import indexed_png, rastered
from steadfold.deliver.shading import visible_faces
from steadfold.deliver.shape_change import change_of, show_value
from steadfold.deliver.shape_picture import shape_svg
from steadfold.deliver.shell_surface import shell_surface
from steadfold.deliver.strength_picture import strength_svg, worked_by
from steadfold.deliver.surface import Surface, surface_of
from steadfold.deliver.view import View, axes, isometric, orthographic, up_against, usual_up
from steadfold.deliver.visible_edges import Line, visible_edges
from steadfold.deliver.worked_sheet import WorkedSheet, round_factor
from steadfold.job import read_job, read_job_text
from steadfold.mount.records import BoltAnswer, Picture
from steadfold.review.shaping import shaped
from steadfold.review.shop import shop_of
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.mesh import folded, mesh
from steadfold.sheet.outline import Face, circle, rectangle
from steadfold.sheet.part import Panel, Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.shapes import SHAPES, Sheet
from steadfold.sheet.solid import solid
from tests.files.hand_parts import angle_part, comb_part

GIVEN = {"width": 300.0, "length": 200.0, "depth": 120.0, "inside_width": 60.0, "inside_depth": 55.0}


def shape_part(name: str) -> Part:
    shape = SHAPES[name]
    values = {d.key: GIVEN[d.key] if d.default is None else d.default for d in shape.dimensions}
    return resolve(shape.build(values, Sheet(3.0, 3.0)), name, 3.0, din_rule(3.0, 3.0)).part


def plate(width: float, height: float, thickness: float) -> Part:
    return Part("plate", thickness, (Panel("back", (Face(rectangle(width, height)),)),), ())


def length(lines: tuple[Line, ...], visible: bool, kind: str = "edge") -> float:
    chosen = (line for line in lines if line.visible == visible and line.kind == kind)
    return float(sum(np.linalg.norm(np.diff(line.points, axis=0), axis=1).sum() for line in chosen))


def enclosed_mm3(surface: Surface) -> float:
    """Volume inside a closed surface, by the divergence theorem."""
    a, b, c = (surface.corners[surface.triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


# The surface


@pytest.mark.parametrize("name", list(SHAPES))
def test_the_surface_encloses_the_metals_volume(name: str) -> None:
    """Closed form: panels' area times thickness and the sectors of the bends; facets lie inside the arcs."""
    part = shape_part(name)
    coarse, fine = (enclosed_mm3(surface_of(part, 1.0, chord)) / part.volume_mm3 - 1 for chord in (0.05, 0.002))
    assert abs(fine) < 1e-3
    assert abs(coarse) < 5e-3


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_a_part_encloses_the_same_volume_at_every_share_of_folding(share: float) -> None:
    part = comb_part()
    surface = surface_of(part, share, 0.002)
    assert enclosed_mm3(surface) == pytest.approx(part.volume_mm3, rel=1e-3)
    assert visible_edges(surface, isometric())


def test_a_hole_across_a_bend_is_a_hole_in_the_surface() -> None:
    hole = circle(3.0, (50.0, 2.0))
    part = angle_part(strip_holes=[hole])
    assert part.volume_mm3 < angle_part().volume_mm3
    assert enclosed_mm3(surface_of(part, 1.0, 0.002)) == pytest.approx(part.volume_mm3, rel=1e-3)


# Hidden lines


def test_a_box_in_isometric_shows_nine_edges_and_hides_three() -> None:
    """Descriptive geometry: each edge along an axis appears at the square root of 2/3 of its length."""
    lines = visible_edges(surface_of(plate(100.0, 60.0, 20.0)), isometric())
    shorter = math.sqrt(2 / 3)
    assert length(lines, True) == pytest.approx(3 * 180 * shorter, rel=1e-6)
    assert length(lines, False) == pytest.approx(180 * shorter, rel=1e-4)


@pytest.mark.parametrize(
    ("side", "size"),
    [("front", (100, 50)), ("rear", (100, 50)), ("top", (100, 30)), ("bottom", (100, 30)), ("left", (30, 50))],
)
def test_orthographic_views_have_the_parts_outside_sizes(side: str, size: tuple[float, float]) -> None:
    """The hand-made angle is 100 wide, 50 high and 30 deep over all."""
    lines = visible_edges(surface_of(angle_part()), orthographic(side))  # type: ignore[arg-type]
    points = np.concatenate([line.points for line in lines if line.visible])
    assert np.ptp(points, axis=0) == pytest.approx(size, abs=1e-6)


def test_a_side_view_is_the_bends_profile_and_hides_nothing() -> None:
    """From the left an L is one outline: two legs, two arcs, two ends; what lies behind falls on it."""
    lines = visible_edges(surface_of(angle_part(), 1.0, 0.001), orthographic("left"))
    # Outside 50 + 30 less two of the outer radius, and its quarter turn; the same inside; two ends 2 mm thick.
    outer = 46 + 26 + 0.5 * math.pi * 4
    inner = 46 + 26 + 0.5 * math.pi * 2
    assert length(lines, True) == pytest.approx(outer + inner + 4, rel=2e-4)
    assert length(lines, False) < 0.01


def kernel_lengths(part: Part, view: View) -> tuple[float, float]:
    """Visible and hidden length of sharp edges and outlines by the geometry kernel's own hidden-line algorithm."""
    from OCP.BRepGProp import BRepGProp
    from OCP.BRepLib import BRepLib
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.GProp import GProp_GProps
    from OCP.HLRAlgo import HLRAlgo_Projector
    from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape

    def total(shape: object) -> float:
        if shape is None or shape.IsNull():  # type: ignore[attr-defined]
            return 0.0
        BRepLib.BuildCurves3d_s(shape)
        properties = GProp_GProps()
        BRepGProp.LinearProperties_s(shape, properties)
        return float(properties.Mass())

    made = solid(part)
    BRepLib.EncodeRegularity_s(made, 1e-4)
    algorithm = HLRBRep_Algo()
    algorithm.Add(made, 0)
    toward, right = (gp_Dir(*map(float, v)) for v in (view.toward, view.right))
    algorithm.Projector(HLRAlgo_Projector(gp_Ax2(gp_Pnt(0, 0, 0), toward, right)))
    algorithm.Update()
    algorithm.Hide()
    found = HLRBRep_HLRToShape(algorithm)
    visible = total(found.VCompound()) + total(found.OutLineVCompound())
    return visible, total(found.HCompound()) + total(found.OutLineHCompound())


def skew_view() -> View:
    """A view along no symmetry of any shape, so that no two edges fall on each other."""
    toward = np.array([0.43, 0.61, 0.67])
    toward /= np.linalg.norm(toward)
    right = np.cross([0.05, 1.0, 0.02], toward)
    right /= np.linalg.norm(right)
    return View("skew", right, np.cross(toward, right), toward)


@pytest.mark.parametrize("name", list(SHAPES))
def test_hidden_lines_agree_with_the_geometry_kernels(name: str) -> None:
    """Reference: the exact hidden-line removal of the Open CASCADE kernel, on the exact solid."""
    part, view = shape_part(name), skew_view()
    visible, hidden = kernel_lengths(part, view)
    lines = visible_edges(surface_of(part, 1.0, 0.003), view)
    assert length(lines, True) == pytest.approx(visible, rel=2e-3)
    assert length(lines, False) == pytest.approx(hidden, rel=2e-2)


def test_spans_behind_random_triangles_agree_with_points_tried_one_by_one() -> None:
    """Reference: each point of a line against each triangle by barycentric coordinates."""
    rng = np.random.default_rng(5)
    triangles, lines = rng.uniform(0, 10, (40, 3, 3)), rng.uniform(0, 10, (60, 2, 3))
    of_line, spans = hidden_spans(lines, triangles)
    shares = np.linspace(0.001, 0.999, 499)
    wrong = 0
    for number, (start, end) in enumerate(lines):
        points = start + shares[:, None] * (end - start)
        behind = np.zeros(len(shares), dtype=bool)
        for a, b, c in triangles:
            matrix = np.array([b[:2] - a[:2], c[:2] - a[:2]]).T
            u, v = np.linalg.solve(matrix, (points[:, :2] - a[:2]).T)
            depth = a[2] + u * (b[2] - a[2]) + v * (c[2] - a[2])
            behind |= (u > 0) & (v > 0) & (u + v < 1) & (depth > points[:, 2] + 0.01)
        said = np.zeros(len(shares), dtype=bool)
        for low, high in spans[of_line == number]:
            said |= (shares > low) & (shares < high)
        wrong += int((said != behind).sum())
    # Only a point that happens to lie within 1e-5 mm of a side may differ.
    assert wrong <= 2


def test_dashes_and_lines_are_drawn_once() -> None:
    """Front view of a U-like comb: the rear edges fall on the front ones and are not drawn under them."""
    lines = visible_edges(surface_of(comb_part()), orthographic("front"))
    visible = shapely.unary_union([shapely.LineString(line.points) for line in lines if line.visible])
    for line in lines:
        if not line.visible:
            assert shapely.LineString(line.points).intersection(visible.buffer(1e-4)).length < 0.05


# Visible faces


@pytest.mark.parametrize("name", ["tine rack", "tray", "hat", "square pocket"])
def test_visible_faces_cover_the_parts_shadow_once(name: str) -> None:
    """The shadow along the view is the union of all projected triangles; visible faces share it out."""
    part = shape_part(name)
    view, surface = isometric(usual_up(part)), surface_of(part)
    corners = view.seen(surface.corners)[:, :2][surface.triangles]
    shadow = shapely.union_all(shapely.make_valid(shapely.polygons(corners)))
    areas = [face.area for face in visible_faces(surface, view)]
    assert sum(area.area for area in areas) == pytest.approx(shadow.area, rel=1e-4)
    assert shapely.union_all(areas, grid_size=1e-5).area == pytest.approx(shadow.area, rel=1e-4)
    assert all(shapely.is_valid(area) for area in areas)


def test_the_nearer_face_is_the_visible_one() -> None:
    """The flange of the angle stands before the back's lower end; from the front none of that strip is seen."""
    faces = visible_faces(surface_of(angle_part()), orthographic("front"))
    facing = [face for face in faces if face.normal[2] > 0.999]
    assert sum(face.area.area for face in facing) == pytest.approx(100 * (50 - 2 - 2) + 100 * 2, abs=0.5)


# The raster


def test_a_pixel_holds_the_value_at_its_centre() -> None:
    """Reference: a linear function over one triangle, which the pixel's centre takes exactly."""
    corners = np.array([[[3.17, 2.23, 0.0], [57.31, 8.41, 0.0], [20.13, 44.79, 0.0]]])

    def value(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.1 + 0.013 * x - 0.004 * y

    seen = rastered(corners, value(corners[:, :, 0], corners[:, :, 1]), 60, 50)
    rows, columns = np.nonzero(np.isfinite(seen))
    assert np.allclose(seen[rows, columns], value(columns + 0.5, rows + 0.5), atol=1e-5)
    inside = shapely.contains_xy(shapely.Polygon(corners[0, :, :2]), columns + 0.5, rows + 0.5)
    assert inside.all()
    assert len(rows) == pytest.approx(shapely.Polygon(corners[0, :, :2]).area, rel=0.01)


def test_the_nearer_of_two_crossing_triangles_is_seen_on_either_side() -> None:
    flat = np.array([[0.0, 0.0], [100.0, 0.0], [50.0, 100.0]])
    leaning = np.column_stack([flat, (flat[:, 0] - 50) / 10])
    level = np.column_stack([flat, np.zeros(3)])
    seen = rastered(np.array([level, leaning]), np.array([[1.0] * 3, [2.0] * 3]), 100, 100)
    row = seen[20]
    assert row[np.isfinite(row)][0] == 1.0
    assert row[np.isfinite(row)][-1] == 2.0
    assert np.flatnonzero(row == 2.0)[0] == 50


def decoded(data: bytes) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Indices, palette and alpha of a palette PNG with unfiltered rows, chunk sums checked."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    chunks, at = {}, 8
    while at < len(data):
        size, kind = struct.unpack(">I4s", data[at : at + 8])
        content = data[at + 8 : at + 8 + size]
        assert struct.unpack(">I", data[at + 8 + size : at + 12 + size])[0] == zlib.crc32(kind + content)
        chunks[kind] = content
        at += 12 + size
    width, height, depth, kind_of = struct.unpack(">IIBB", chunks[b"IHDR"][:10])
    assert (depth, kind_of) == (8, 3)
    rows = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), dtype=np.uint8).reshape(height, width + 1)
    assert not rows[:, 0].any()
    palette = np.frombuffer(chunks[b"PLTE"], dtype=np.uint8).reshape(-1, 3)
    return rows[:, 1:], palette, np.frombuffer(chunks[b"tRNS"], dtype=np.uint8)


def test_an_image_read_back_holds_the_pixels_that_went_in() -> None:
    pixels = np.random.default_rng(1).integers(0, 5, (30, 41)).astype(np.uint8)
    palette = np.arange(15, dtype=np.uint8).reshape(5, 3)
    alpha = np.array([0, 255, 255, 255, 255], dtype=np.uint8)
    indices, colours, opacities = decoded(indexed_png(pixels, palette, alpha))
    assert (indices == pixels).all()
    assert (colours == palette).all()
    assert (opacities == alpha).all()


# The colours


def test_oklab_of_the_primaries_is_as_published() -> None:
    """CSS Color Module Level 4, sample values of sRGB red and white in Oklab (recalled)."""
    assert oklab(np.array([1.0, 0.0, 0.0])) == pytest.approx([0.62796, 0.22486, 0.12585], abs=2e-4)
    assert oklab(np.array([1.0, 1.0, 1.0])) == pytest.approx([1.0, 0.0, 0.0], abs=2e-4)
    colours = np.random.default_rng(2).uniform(0, 1, (50, 3))
    assert srgb(oklab(colours)) == pytest.approx(colours, abs=1e-6)


def relative_luminance(colours: np.ndarray) -> np.ndarray:
    """Relative luminance by WCAG 2 (IEC 61966-2-1 primaries)."""
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    return linear @ np.array([0.2126, 0.7152, 0.0722])


def cie_lab(colours: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* under D65, by the formulas of CIE 15 and the matrix of IEC 61966-2-1."""
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    matrix = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    x, y, z = np.moveaxis(np.cbrt(linear @ matrix.T / np.array([0.9505, 1.0, 1.089])), -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


# Machado, Oliveira and Fernandes (2009), severity 1, on linear sRGB (recalled).
BLIND = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}


@pytest.mark.parametrize("kind", [None, *BLIND])
def test_the_scale_only_grows_darker_for_every_eye(kind: str | None) -> None:
    colours = scale_colours(np.linspace(0, 1, STEPS))
    if kind is not None:
        linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
        seen = np.clip(linear @ np.array(BLIND[kind]).T, 0, 1)
        colours = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    luminance = relative_luminance(colours)
    assert (np.diff(luminance) < 0).all()
    # A large graphical object needs 3 : 1 (WCAG 2, 1.4.11); the scale's ends are farther apart than that.
    assert (luminance[0] + 0.05) / (luminance[-1] + 0.05) > 5


def test_equal_steps_of_the_scale_look_about_equally_far_apart() -> None:
    """By a second measure than the one it was made with: CIE 1976, known to stretch saturated colours."""
    steps = np.linalg.norm(np.diff(cie_lab(scale_colours(np.linspace(0, 1, 11))), axis=0), axis=1)
    assert steps.max() / steps.min() < 1.8


# Whole pictures


def grid_sheet(across: int = 40, up: int = 30) -> WorkedSheet:
    """A flat sheet 200 by 150 mm with a share that grows evenly from 0 at its left to 1.25 at its right."""
    x, y = np.meshgrid(np.linspace(0, 200, across + 1), np.linspace(0, 150, up + 1))
    positions = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    i = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (part.ravel() for part in (i[:-1, :-1], i[:-1, 1:], i[1:, :-1], i[1:, 1:]))
    triangles = np.concatenate([np.column_stack([a, b, d]), np.column_stack([a, d, c])])
    return WorkedSheet(positions, triangles, 2.0, positions[:, 0] / 160)


def texts(picture: str) -> list[str]:
    return ["".join(node.itertext()) for node in ElementTree.fromstring(picture).iter() if node.tag.endswith("text")]


def images(picture: str) -> Iterator[bytes]:
    for found in re.finditer(r"base64,([A-Za-z0-9+/=]+)", picture):
        yield base64.b64decode(found[1])


def test_a_pixel_has_the_colour_that_the_legend_gives_its_share() -> None:
    (data,) = images(worked_svg(grid_sheet(), "sheet", orthographic("front")))
    indices, palette, alpha = decoded(data)
    row = indices[len(indices) // 2]
    inside = np.flatnonzero(alpha[row] > 0)
    left, right = inside[0], inside[-1]
    for share in (0.1, 0.4, 0.7, 0.95):
        at = round(left + (right - left) * share * 160 / 200)
        shown = "#" + "".join(f"{part:02x}" for part in palette[row[at]])
        step = math.floor(share * STEPS)
        near = [scale_colour((step + shift + 0.5) / STEPS) for shift in (-1, 0, 1)]
        assert shown in near, f"{share}: {shown}"


def test_beyond_the_limit_is_striped_so_that_colour_is_not_needed_to_see_it() -> None:
    (data,) = images(worked_svg(grid_sheet(), "sheet", orthographic("front")))
    indices, palette, alpha = decoded(data)
    row = indices[len(indices) // 2]
    inside = np.flatnonzero(alpha[row] > 0)
    limit = round(inside[0] + (inside[-1] - inside[0]) * 160 / 200)
    under, beyond = row[inside[0] : limit - 3], row[limit + 3 : inside[-1]]
    assert under.max() <= STEPS
    changes = int((np.diff(beyond.astype(int)) != 0).sum())
    assert changes > 8
    light = relative_luminance(palette[np.unique(beyond)] / 255.0)
    assert (light.max() + 0.05) / (light.min() + 0.05) > 3


def test_the_picture_of_a_sheet_within_its_limit_has_no_stripes() -> None:
    sheet = grid_sheet()
    assert sheet.values is not None
    within = WorkedSheet(sheet.positions, sheet.triangles, 2.0, 0.7 * sheet.values)
    (data,) = images(worked_svg(within, "sheet", orthographic("front")))
    assert decoded(data)[0].max() <= STEPS


def test_values_may_stand_at_triangles_and_must_fit() -> None:
    sheet = grid_sheet()
    per_triangle = WorkedSheet(sheet.positions, sheet.triangles, 2.0, np.full(len(sheet.triangles), 0.5))
    (data,) = images(worked_svg(per_triangle, "sheet", isometric()))
    assert set(np.unique(decoded(data)[0])) == {0, 1 + STEPS // 2}
    with pytest.raises(ValueError, match="7 values fit neither"):
        worked_svg(WorkedSheet(sheet.positions, sheet.triangles, 2.0, np.ones(7)), "sheet", isometric())


@pytest.mark.parametrize(("sag", "factor"), [(0.01, 2000), (0.5, 20), (1.5, 10), (2.4, 5), (40.0, 1)])
def test_sag_is_drawn_larger_by_a_round_factor_that_is_printed(sag: float, factor: float) -> None:
    sheet = grid_sheet()
    moved = np.zeros_like(sheet.positions)
    moved[:, 2] = -sag * sheet.positions[:, 0] / 200
    loaded = WorkedSheet(sheet.positions, sheet.triangles, 2.0, sheet.values, moved)
    assert round_factor(loaded) == factor
    words = " ".join(texts(worked_svg(loaded, "sheet", isometric())))
    assert (f"{factor} times larger" if factor > 1 else "at its size") in words
    inches = " ".join(texts(worked_svg(loaded, "sheet", isometric(), units="in")))
    assert f"{sag / 25.4:.3f}".rstrip("0").rstrip(".") + " in" in inches


def test_a_thickened_mesh_encloses_area_times_thickness() -> None:
    sheet = grid_sheet()
    assert enclosed_mm3(shell_surface(sheet.positions, sheet.triangles, 2.0)) == pytest.approx(200 * 150 * 2, rel=1e-9)


def test_a_picture_says_its_name_its_sizes_and_its_numbers_as_text() -> None:
    part = angle_part(name="cleat & hook")
    picture = folded_svg(
        part,
        arrows=[Arrow(np.array([50.0, 0.0, 20.0]), np.array([0.0, -49.0, 0.0]))],
        marks=[Mark(np.array([20.0, 30.0, 1.0]), "1", "M6 bolt")],
    )
    shown = texts(picture)
    for words in ("cleat & hook", "100 × 50 × 30 mm, 2 mm sheet", "100 mm", "50 mm", "30 mm", "49 N", "1", "M6 bolt"):
        assert words in shown
    root = ElementTree.fromstring(picture)
    assert root.get("role") == "img"
    assert "cleat & hook" in (root.get("aria-label") or "")
    assert "100 × 50 × 30" in (root.get("aria-label") or "")


def test_a_picture_for_people_in_inches_has_inches_only() -> None:
    shown = texts(folded_svg(angle_part(), units="in"))
    assert "3.94 in" in shown
    assert not any("mm" in words for words in shown)


@pytest.mark.parametrize("name", ["tine rack", "hat"])
def test_the_same_part_gives_the_same_small_picture(name: str) -> None:
    part = shape_part(name)
    first, second = folded_svg(part), folded_svg(shape_part(name))
    assert first == second
    assert len(first) < 300_000


def test_a_coloured_picture_of_ten_thousand_triangles_is_small() -> None:
    sheet = grid_sheet(80, 64)
    assert len(sheet.triangles) > 10_000
    assert len(worked_svg(sheet, "sheet", isometric())) < 300_000


# The documents

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "shapes.md"


@pytest.mark.parametrize("name", list(SHAPES))
def test_every_dimension_of_a_shape_has_its_picture_and_its_row(name: str) -> None:
    """The sheet shows each key with a change that builds another part; the page tells its default and meaning."""
    shape = SHAPES[name]
    shown = texts((ROOT / "docs" / "shapes" / f"{stem_of(name)}.svg").read_text(encoding="utf-8"))
    section = PAGE.read_text(encoding="utf-8").split(f"\n## {name}\n")[1].split("\n## ")[0]
    for dimension in shape.dimensions:
        change = change_of(shape, dimension)
        assert change.before != change.after
        assert dimension.key in shown
        assert any(words.endswith(f"→ {show_value(dimension, change.new)}") for words in shown), dimension.key
        assert re.search(rf"^\| `{dimension.key}` \|.*\| {re.escape(dimension.say)} \|$", section, re.MULTILINE)
        if isinstance(change.new, float) and dimension.low is not None and dimension.high is not None:
            assert dimension.low <= change.new <= dimension.high


def test_the_page_on_shapes_is_what_the_shapes_say_today() -> None:
    assert PAGE.read_text(encoding="utf-8") == shapes_page()


@pytest.mark.parametrize("name", ["channel", "angle bracket"])
def test_a_shapes_sheet_is_drawn_the_same_each_time(name: str) -> None:
    first = shape_svg(SHAPES[name])
    assert first == shape_svg(SHAPES[name])
    committed = (ROOT / "docs" / "shapes" / f"{stem_of(name)}.svg").read_text(encoding="utf-8")
    assert texts(first) == texts(committed)


def test_every_job_on_the_page_reads_without_a_problem_and_builds_its_shape() -> None:
    jobs = re.findall(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    built = [read_job_text(job).parts[0] for job in jobs]
    assert [part.shape for part in built] == list(SHAPES)
    for part in built:
        assert part.carries and part.mount is not None
        assert part.tree is not None and len(part.tree.panels) > 1


def test_the_readmes_picture_shows_the_example_jobs_own_part() -> None:
    """The job's own keys; the flat's sizes as the flat pattern of today's job has them; a share with its legend."""
    picture = (ROOT / "docs" / "pictures" / "hero.svg").read_text(encoding="utf-8")
    shown = texts(picture)
    job = read_job(ROOT / "examples" / "boat-shed.toml")
    ordered = job.part(HERO_PART)
    part = shaped(job, ordered, material(ordered.material), shop_of(job)).part
    assert part is not None
    flat = flat_pattern(part)
    width, height = (f"{round(size, 1):g} mm" for size in flat.size_mm)
    assert {width, height, f"{len(part.bends)} bends, {flat.pierces} pierces, true arcs"} <= set(shown)
    table = tomllib.loads((ROOT / "examples" / "boat-shed.toml").read_text(encoding="utf-8"))["part"][0]
    for key in HERO_KEYS:
        value = table[key]
        assert (f'"{value}"' if isinstance(value, str) else str(value)) in shown, key
    assert "share of its limit" in shown
    assert any(re.fullmatch(r"greatest \d\.\d\d", words) for words in shown)
    assert next(images(picture))


def test_a_picture_of_a_rating_names_its_loads_and_fixings_and_stands_as_it_hangs() -> None:
    """A sheet whose frame's y points at the floor is drawn the other way up; bends are told from panels by place."""
    part = angle_part()
    made = mesh(part, size_mm=8.0)
    nodes = folded(made, part)
    share = np.linspace(0.0, 1.2, len(made.triangles))
    moved = np.zeros_like(nodes)
    moved[:, 1] = 0.01 * nodes[:, 2]
    loads = tuple((nodes[i], np.array([0.0, 1.0, 0.0]), "float vest: 2.5 kg") for i in (3, 9))
    fixing = np.array([50.0, 40.0, 0.0])
    picture = Picture(nodes, made.triangles, share, moved, loads, (fixing,))
    bolt = BoltAnswer((50.0, 40.0), 311.6, 98.2, 0.39, "knock")
    regions = worked_by(part, picture).regions
    assert regions is not None
    assert (regions == (made.region >= made.panel_count)).all()
    drawn = strength_svg(part, picture, (bolt,))
    shown = texts(drawn)
    assert "2 × float vest: 2.5 kg" in shown
    assert shown.count("2.5 kg") == 2
    assert "fixing: pull 312 N, shear 98 N, 0.39 of what it may take (knock)" in shown
    assert "fixing: pull 70 lbf, shear 22 lbf, 0.39 of what it may take (knock)" in texts(
        strength_svg(part, picture, (bolt,), "in")
    )
    assert "greatest 1.20" in shown
    unproven = BoltAnswer((50.0, 40.0), 311.6, 98.2, None, "knock")
    assert any("nothing proves" in words for words in texts(strength_svg(part, picture, (unproven,))))
    assert up_against(picture.loads[0][1]) == "-y"


@pytest.mark.parametrize("up", ["x", "y", "z", "-x", "-y", "-z"])
def test_every_way_up_is_a_right_handed_stance_with_its_axis_upright(up: str) -> None:
    right, above, front = axes(up)  # type: ignore[arg-type]
    assert np.allclose(np.cross(right, above), front)
    assert up_against(-above) == up
    view = isometric(up)  # type: ignore[arg-type]
    assert view.seen(above)[0] == pytest.approx(0.0, abs=1e-12)
    assert view.seen(above)[1] == pytest.approx(math.sqrt(2 / 3))
    assert view.seen(front)[2] > 0


def test_a_greatest_share_on_the_far_side_is_said_to_be_behind() -> None:
    part = angle_part()
    made = mesh(part, size_mm=8.0)
    nodes = folded(made, part)
    for height, words in ((0.9, "0.80"), (0.0, "0.80 behind")):
        spot = int(np.argmin(np.abs(nodes - np.array([50.0, 48.0 if height else 25.0, 0.0])).sum(axis=1)))
        share = np.full(len(nodes), 0.1)
        share[spot] = 0.8
        shown = texts(worked_svg(WorkedSheet(nodes, made.triangles, 2.0, share), "angle", low_view()))
        assert words in shown


def low_view() -> View:
    """From the front and below: the flange hides the back's lower half."""
    toward = np.array([0.0, -0.8, 0.6])
    right = np.array([1.0, 0.0, 0.0])
    return View("from below", right, np.cross(toward, right), toward)
