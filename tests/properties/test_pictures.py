"""Pictures of random parts: what is drawn is closed, each bit of the part's shadow has one face, lines balance."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings

from steadfold.deliver.shading import visible_faces
from steadfold.deliver.surface import EDGE, surface_of
from steadfold.deliver.view import isometric, orthographic
from steadfold.deliver.visible_edges import visible_edges
from steadfold.sheet.solid.pieces import SolidError
from tests.properties.parts import RandomPart, random_parts, resolved_or_none


@pytest.mark.slow
@settings(max_examples=60)
@given(random_parts(most_bends=6))
def test_a_random_part_is_drawn_whole(random: RandomPart) -> None:
    """Its surface encloses the closed form of its volume; the visible faces share out its shadow; the visible and
    hidden pieces of lines add up to no more than all ridges."""
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    assert resolved is not None
    part = resolved.part
    try:
        surface = surface_of(part, 1.0, 0.01)
    except SolidError:
        assume(False)
        return
    a, b, c = (surface.corners[surface.triangles[:, i]] for i in range(3))
    volume = float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)
    assert volume == pytest.approx(part.volume_mm3, rel=2e-3)
    for view in (isometric(), orthographic("left")):
        corners = view.seen(surface.corners)[:, :2][surface.triangles]
        triangles = shapely.polygons(corners)
        shadow = shapely.union_all(triangles[shapely.area(triangles) > 1e-9], grid_size=1e-5)
        faces = [face.area for face in visible_faces(surface, view)]
        assert sum(face.area for face in faces) == pytest.approx(shadow.area, rel=2e-3, abs=0.5)
        ends = view.seen(surface.ridges.ends)[:, :, :2]
        most = float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum())
        lines = visible_edges(surface, view)
        drawn = sum(np.linalg.norm(np.diff(line.points, axis=0), axis=1).sum() for line in lines)
        assert 0 < drawn <= most + 1e-3
    assert (surface.ridges.kinds == EDGE).any()
