"""Random parts written as STEP or DXF and read again are the same panel trees, up to names and to which side is
the face."""

from __future__ import annotations

import math
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings

from steadfold.deliver.dxf_file import dxf_text
from steadfold.deliver.step_file import step_bytes
from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.flat import FlatError, FlatPattern, flat_pattern
from steadfold.sheet.from_flat import reading
from steadfold.sheet.from_flat.entities import read_drawing
from steadfold.sheet.from_flat.reading import LineBend, read_dxf
from steadfold.sheet.from_solid.kernel import read_bodies
from steadfold.sheet.from_solid.reading import finish
from steadfold.sheet.from_solid.sheet import recognise
from steadfold.sheet.outline import Outline
from steadfold.sheet.part import Part
from steadfold.sheet.pose import flat_places
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.solid import SolidError
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel
from tests.properties.parts import RandomPart, random_parts, resolved_or_none

some = settings(
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.function_scoped_fixture],
)


def tree_of(part: Part, flip: float = 1.0) -> list[tuple[float, float, float, float]]:
    """Every bend as the areas of its two panels, the angle and the radius, in an order that names do not change."""
    found = []
    for bend in part.bends:
        small, large = sorted((part.panels[bend.parent].area_mm2, part.panels[bend.child].area_mm2))
        found.append((math.degrees(bend.angle_rad) * flip, bend.inside_radius_mm, small, large))
    return sorted((round(a, 4), round(r, 4), round(s, 1), round(g, 1)) for a, r, s, g in found)


def same_tree(one: Part, two: Part) -> bool:
    """True when the bends agree one for one; seen from the other side all angles change sign."""
    drawn = tree_of(one)
    return any(
        len(drawn) == len(found)
        and all(all(abs(x - y) <= 0.11 for x, y in zip(a, b, strict=True)) for a, b in zip(drawn, found, strict=True))
        for found in (tree_of(two), tree_of(two, -1.0))
    )


def overlapping(part: Part) -> bool:
    """True when pieces of the flat lie over each other, by polygons of all pieces against their union."""
    import shapely

    panels, strips = flat_places(part)
    pieces = [f.moved(p).polygon(0.02) for panel, p in zip(part.panels, panels, strict=True) for f in panel.faces]
    pieces += [f.moved(p).polygon(0.02) for bend, p in zip(part.bends, strips, strict=True) for f in bend.faces]
    return bool(sum(p.area for p in pieces) - shapely.union_all(pieces).area > 0.005)


def drawn(random: RandomPart) -> tuple[Part, FlatPattern]:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    assert resolved is not None
    try:
        return resolved.part, flat_pattern(resolved.part)
    except FlatError:
        assume(False)
        raise


@some
@given(random=random_parts())
def test_a_random_part_is_read_back_from_its_step_file(random: RandomPart, tmp_path: Path) -> None:
    part, flat = drawn(random)
    try:
        content = step_bytes(part, "random", datetime(2024, 1, 1))
    except SolidError:
        assume(False)
        raise
    path = tmp_path / "random.step"
    path.write_bytes(content)
    (body,) = read_bodies(str(path)).bodies
    if overlapping(part):
        with pytest.raises(CadRefused, match="laid flat"):
            finish(recognise(body), random.k_factor)
        return
    found = finish(recognise(body), random.k_factor).part
    assert len(found.panels) == len(part.panels)
    assert same_tree(part, found)
    again = flat_pattern(found)
    assert again.area_mm2 == pytest.approx(flat.area_mm2, abs=0.01)
    assert again.cut_length_mm == pytest.approx(flat.cut_length_mm, abs=0.05)
    assert len(again.openings) == len(flat.openings)
    assert found.volume_mm3 == pytest.approx(part.volume_mm3, rel=1e-5)


@some
@given(random=random_parts())
def test_a_random_flat_is_folded_again_from_its_drawing(
    random: RandomPart, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading, "in_child", lambda asked: read_drawing(asked["path"], asked["unit_mm"]))
    part, flat = drawn(random)
    assume(not overlapping(part))
    path = tmp_path / "random.dxf"
    path.write_text(dxf_text(part, flat))
    bends = [LineBend(i, b.angle_rad, b.inside_radius_mm) for i, b in enumerate(part.bends)]
    found = read_dxf(path, part.thickness_mm, random.k_factor, bends=bends).only().part
    assert len(found.panels) == len(part.panels)
    assert same_tree(part, found)
    again = flat_pattern(found)
    assert again.area_mm2 == pytest.approx(flat.area_mm2, abs=0.01)
    assert sorted(again.size_mm) == pytest.approx(sorted(again.size_mm), abs=0.01)
    assert found.volume_mm3 == pytest.approx(part.volume_mm3, rel=1e-5)


def test_a_hole_that_begins_a_hundredth_from_a_tangent_line_is_read_within_the_rounding_of_files(tmp_path: Path) -> None:
    """A hole of 4 mm whose middle lies 0.01 mm off the tangent line: its ends are taken to be on the line (files
    are rounded to 0.01 mm), so the flat may differ by the hole's width times twice that rounding, 0.08 mm²."""
    hole = Cutout(Outline(((58.0, 0.36), (62.0, 0.36)), (1.0, 1.0)))
    lip = rectangular_panel("lip", 120.0, 14.0, "sheet", angle_rad=math.radians(32.0), cutouts=(hole,))
    tree = PanelTree((rectangular_panel("sheet", 120.0, 120.0), lip))
    part = resolve(tree, "lip", 0.8, din_rule(0.8, 0.4, 0.33)).part
    path = tmp_path / "lip.step"
    path.write_bytes(step_bytes(part, "lip", datetime(2024, 1, 1)))
    found = flat_pattern(finish(recognise(read_bodies(str(path)).bodies[0]), 0.33).part)
    assert len(found.openings) == 1
    assert found.area_mm2 == pytest.approx(flat_pattern(part).area_mm2, abs=4.0 * 0.02)
