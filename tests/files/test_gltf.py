"""Binary glTF read back by an independent reader, trimesh, and by its layout (ISO/IEC 12113, glTF 2.0)."""

from __future__ import annotations

import io
import json
import math
import struct

import numpy as np
import pytest
import trimesh

from steadfold.deliver.gltf import CHORD_MM, facets, gltf_bytes
from steadfold.sheet.extent import folded_bounds_mm
from steadfold.sheet.outline import circle, obround
from steadfold.sheet.part import Part
from tests.files.hand_parts import RADIUS, THICKNESS, WIDTH, angle_part, comb_part

PARTS = {
    "angle": angle_part(),
    "holes": angle_part(back_holes=[circle(8.0, (20, 30)), circle(20.0, (60, 30))]),
    "slot in the bend": angle_part(math.radians(100), strip_holes=[obround(8.0, 2.5, (50.0, 2.4), 0.4)]),
    "hole in the bend": angle_part(-2.8, strip_holes=[circle(6.0, (50.0, 4.0))]),
    "wide bend": angle_part(math.radians(120), 200.0, 200.0, 40.0),
    "comb": comb_part(4, gap=3.0),
    "closed hem": angle_part(math.pi, 50.0, 12.0, radius=0.0),
    "nearly closed hem": angle_part(math.pi, 50.0, 12.0, radius=0.02),
    "teardrop": angle_part(math.radians(240), 60.0, 20.0, radius=4.0),
}
each = pytest.mark.parametrize("part", PARTS.values(), ids=PARTS)


def read_back(data: bytes) -> trimesh.Trimesh:
    """The one mesh of a file, corners in one place made one."""
    scene = trimesh.load(io.BytesIO(data), file_type="glb")
    (mesh,) = scene.geometry.values()
    mesh.merge_vertices(merge_norm=True, merge_tex=True)
    return mesh


def curved_area(part: Part) -> float:
    """Area of all surfaces that are not plane, at most: bends, and walls of round holes (mm²)."""
    t = part.thickness_mm
    bends = sum(abs(b.angle_rad) * 2 * (b.inside_radius_mm + t) * b.length_mm for b in part.bends)
    holes = [h for p in part.panels for f in p.faces for h in f.holes]
    holes += [h for b in part.bends for f in b.faces for h in f.holes]
    return bends + sum(h.length_mm for h in holes) * t


@each
def test_the_surface_is_closed_and_holds_the_parts_volume_within_the_chord_error(part: Part) -> None:
    mesh = read_back(gltf_bytes(part, "part"))
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    # Every facet lies within the chord error of its surface, which bounds the volume between them.
    assert abs(mesh.volume * 1e9 - part.volume_mm3) < CHORD_MM * curved_area(part)
    assert mesh.volume > 0


@each
def test_lengths_are_metres_and_height_is_y(part: Part) -> None:
    """Size from the outlines alone; the angle's back is 50 mm high and its flange comes 30 mm forward."""
    low, high = folded_bounds_mm(part)
    mesh = read_back(gltf_bytes(part, "part"))
    assert mesh.bounds[0] * 1000 == pytest.approx(low, abs=CHORD_MM)
    assert mesh.bounds[1] * 1000 == pytest.approx(high, abs=CHORD_MM)


def test_an_angle_stands_with_its_back_upright() -> None:
    mesh = read_back(gltf_bytes(PARTS["angle"], "part"))
    assert mesh.extents == pytest.approx([0.1, 0.05, 0.03], abs=1e-6)


def test_a_part_whose_root_panel_lies_is_turned_about_x_with_its_face_up() -> None:
    mesh = read_back(gltf_bytes(PARTS["angle"], "part", up="z"))
    assert mesh.extents == pytest.approx([0.1, 0.03, 0.05], abs=1e-6)
    assert mesh.bounds[1][1] == pytest.approx(0.029, abs=1e-6)  # the flange rises from the lying back
    assert mesh.is_watertight
    assert mesh.volume > 0


def test_folding_by_nothing_shows_the_flat() -> None:
    mesh = read_back(gltf_bytes(PARTS["angle"], "part", share=0.0))
    assert mesh.extents == pytest.approx([0.1, 0.046 + 0.026 + 0.001 * 1.5 * math.pi, 0.002], abs=1e-6)


@each
def test_normals_are_unit_vectors_that_look_out_of_the_metal(part: Part) -> None:
    surface = facets(part)
    assert np.linalg.norm(surface.normals, axis=1) == pytest.approx(1.0, abs=1e-6)
    a, b, c = (surface.corners_mm[surface.triangles[:, i]] for i in range(3))
    outward = np.cross(b - a, c - a)
    outward /= np.linalg.norm(outward, axis=1)[:, None]
    for i in range(3):
        # A facet turns at most 10° an arc; two such turns meet on the walls of holes in bends.
        assert (np.einsum("ij,ij->i", outward, surface.normals[surface.triangles[:, i]]) > 0.9).all()


def test_normals_on_a_bend_point_at_its_axis_or_away_from_it() -> None:
    """The axis of the plain angle runs along x through y = 4, z = 3."""
    surface = facets(PARTS["angle"])
    arm = surface.corners_mm[:, 1:] - np.array([4.0, 3.0])
    round_skin = (np.abs(surface.normals[:, 0]) < 1e-9) & (arm < 1e-9).all(axis=1)
    distance = np.linalg.norm(arm, axis=1)
    for radius, sense in ((RADIUS, -1.0), (RADIUS + THICKNESS, 1.0)):
        on = round_skin & (np.abs(distance - radius) < 1e-6)
        assert on.sum() >= 2 * 9
        assert (surface.normals[on][:, 1:] * arm[on] / radius).sum(axis=1) * sense == pytest.approx(1.0)


def test_the_layout_is_that_of_the_standard() -> None:
    data = gltf_bytes(PARTS["holes"], "Träger 'A'")
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert (kind, size % 4) == (b"JSON", 0)
    description = json.loads(data[20 : 20 + size].decode("utf-8"))
    binary_size, binary_kind = struct.unpack_from("<I4s", data, 20 + size)
    assert (binary_kind, binary_size % 4, 28 + size + binary_size) == (b"BIN\0", 0, len(data))
    assert description["nodes"][0]["name"] == description["meshes"][0]["name"] == "Träger 'A'"
    places, normals, indices = description["accessors"]
    assert (places["type"], places["componentType"], indices["componentType"]) == ("VEC3", 5126, 5125)
    assert places["count"] == normals["count"]
    block = data[28 + size :]
    view = description["bufferViews"][places["bufferView"]]
    points = np.frombuffer(block, "<f4", 3 * places["count"], view["byteOffset"]).reshape(-1, 3)
    assert points.min(axis=0).tolist() == places["min"]
    assert points.max(axis=0).tolist() == places["max"]
    view = description["bufferViews"][indices["bufferView"]]
    used = np.frombuffer(block, "<u4", indices["count"], view["byteOffset"])
    assert sorted(set(used.tolist())) == list(range(places["count"]))
    assert all(v["byteOffset"] % 4 == 0 for v in description["bufferViews"])
    last = description["bufferViews"][-1]
    assert last["byteOffset"] + last["byteLength"] == description["buffers"][0]["byteLength"] <= binary_size


def test_the_same_part_gives_the_same_bytes() -> None:
    part = PARTS["hole in the bend"]
    assert gltf_bytes(part, "part") == gltf_bytes(part, "part")


def test_arcs_are_smooth_enough_for_the_eye() -> None:
    """Nine facets or more to a right angle, as 10° a facet means."""
    surface = facets(PARTS["angle"])
    at_left = surface.corners_mm[np.abs(surface.corners_mm[:, 0]) < 1e-9]
    arm = at_left[:, 1:] - np.array([4.0, 3.0])
    outer = (np.abs(np.linalg.norm(arm, axis=1) - 4.0) < 1e-6) & (arm < 1e-6).all(axis=1)
    assert len(np.unique(np.round(arm[outer], 6), axis=0)) >= 10
    assert surface.corners_mm[:, 0].max() == pytest.approx(WIDTH)
