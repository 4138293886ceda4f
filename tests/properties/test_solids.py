"""Random parts: the solid is valid, one piece, closed, and holds exactly the metal that was drawn."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.TopAbs import TopAbs_SHELL, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Shape

from steadfold.sheet.solid import solid, volume_mm3
from tests.properties.parts import RandomPart, random_parts, resolved_or_none

many = settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
some = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


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
