"""Random parts: the solid is valid, one piece, closed, and holds exactly the metal that was drawn."""

from __future__ import annotations

import io
import math
from datetime import datetime

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from OCP.Bnd import Bnd_Box
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_SHELL, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Shape

from steadfold.deliver.gltf import CHORD_MM, facets
from steadfold.deliver.step_file import step_bytes
from steadfold.sheet.extent import folded_bounds_mm
from steadfold.sheet.solid import solid, volume_mm3
from tests.properties.parts import RandomPart, random_parts, resolved_or_none

many = settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
some = settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def count(shape: TopoDS_Shape, kind: object) -> int:
    """How many shapes of a kind a shape is made of."""
    explorer, found = TopExp_Explorer(shape, kind), 0
    while explorer.More():
        found += 1
        explorer.Next()
    return found


@many
@given(random_parts())
def test_the_solid_is_valid_and_one_piece_and_its_volume_is_that_of_panels_and_bend_sectors(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    made = solid(resolved.part)
    assert BRepCheck_Analyzer(made).IsValid()
    assert (count(made, TopAbs_SOLID), count(made, TopAbs_SHELL)) == (1, 1)
    assert math.isclose(volume_mm3(made), resolved.part.volume_mm3, rel_tol=1e-6)


@some
@given(random_parts(), st.floats(0, 1))
def test_folding_moves_metal_and_makes_none(random: RandomPart, share: float) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    assert math.isclose(volume_mm3(solid(resolved.part, share)), resolved.part.volume_mm3, rel_tol=1e-6)


@some
@given(random_parts(), st.sampled_from([0.0, 0.5, 1.0]))
def test_the_room_a_part_takes_is_that_of_the_kernels_closest_box(random: RandomPart, share: float) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(solid(resolved.part, share), box, False, False)
    least, most = box.CornerMin(), box.CornerMax()
    low, high = folded_bounds_mm(resolved.part, share)
    assert low == pytest.approx([least.X(), least.Y(), least.Z()], abs=2e-6)
    assert high == pytest.approx([most.X(), most.Y(), most.Z()], abs=2e-6)


@some
@given(random_parts())
def test_a_step_file_read_back_is_the_same_solid(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    reader = STEPControl_Reader()
    reader.ReadStream("part.step", io.BytesIO(step_bytes(resolved.part, "random", datetime(2026, 1, 1))))
    assert reader.TransferRoots() == 1
    shape = reader.OneShape()
    assert (count(shape, TopAbs_SOLID), count(shape, TopAbs_SHELL)) == (1, 1)
    assert BRepCheck_Analyzer(shape).IsValid()
    assert math.isclose(volume_mm3(shape), resolved.part.volume_mm3, rel_tol=1e-6)


@some
@given(random_parts())
def test_the_facets_enclose_the_volume_within_their_chord_error(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    part = resolved.part
    surface = facets(part)
    a, b, c = (surface.corners_mm[surface.triangles[:, i]] for i in range(3))
    volume = float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6
    t = part.thickness_mm
    curved = sum(abs(b.angle_rad) * 2 * (b.inside_radius_mm + t) * b.length_mm for b in part.bends)
    outlines = [o for p in part.panels for f in p.faces for o in (f.outer, *f.holes)]
    outlines += [o for b in part.bends for f in b.faces for o in (f.outer, *f.holes)]
    curved += t * sum(o.length_mm for o in outlines if any(o.bulges))
    assert abs(volume - part.volume_mm3) <= CHORD_MM * curved + 1e-6 * part.volume_mm3
