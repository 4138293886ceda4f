"""Random parts: the flat holds exactly the metal of its panels and strips."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, assume, given, settings

from steadfold.sheet.clash import flat_overlaps
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.pose import fold
from tests.properties.parts import RandomPart, random_parts, resolved_or_none

many = settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@many
@given(random_parts())
def test_the_flat_has_the_area_of_its_panels_and_strips(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    part = resolved.part
    assume(not flat_overlaps(part))
    flat = flat_pattern(part)
    metal = sum(p.area_mm2 for p in part.panels) + sum(f.area_mm2 for b in part.bends for f in b.faces)
    assert math.isclose(flat.area_mm2, metal, rel_tol=1e-9)
    assert flat.outer.polygon().is_valid


@many
@given(random_parts())
def test_folding_by_nothing_is_the_flat(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    part = resolved.part
    from steadfold.sheet.pose import flat_places

    places, _ = flat_places(part)
    for frame, place in zip(fold(part, 0.0, flat_k=True).panels, places, strict=True):
        assert abs(frame.origin[2]) < 1e-9
        assert math.dist(frame.origin[:2], place.origin) < 1e-9
        assert math.dist(frame.along[:2], place.along) < 1e-12
