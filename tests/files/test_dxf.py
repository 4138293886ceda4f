"""DXF of flats, read back by a reader of group codes written for these tests (DXF reference, R2010)."""

from __future__ import annotations

import math

import ezdxf
import pytest
from hypothesis import HealthCheck, assume, given, settings

from steadfold.deliver.dxf_file import dxf_text
from steadfold.sheet.clash import flat_overlaps
from steadfold.sheet.flat import FlatError, flat_pattern
from steadfold.sheet.outline import circle, obround
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel
from tests.files.dxf_text import contours, entities, header
from tests.properties.parts import RandomPart, random_parts, resolved_or_none


def shelf() -> Part:
    cutouts = (Cutout(obround(30, 9, (50, 60))), Cutout(circle(8, (150, 60))))
    tree = PanelTree(
        (
            rectangular_panel("back", 200, 90, corner_radius_mm=5, cutouts=cutouts),
            rectangular_panel("shelf", 200, 150, "back", "bottom", math.pi / 2, cutouts=(Cutout(circle(12, (50, 2))),)),
            rectangular_panel("lip", 180, 20, "shelf", "far", math.radians(-135), offset_mm=10),
        )
    )
    return resolve(tree, "shelf", 2, din_rule(2, 2, 0.42)).part


def test_contours_are_closed_each_once_with_true_arcs_and_circles() -> None:
    part = shelf()
    flat = flat_pattern(part)
    text = dxf_text(part, flat)
    found = contours(text)
    assert len(found) == 4
    assert len({c.points for c in found}) == 4
    kinds = [e.kind for e in entities(text) if e.layer == "CUT"]
    assert kinds.count("CIRCLE") == 2
    outer = max(found, key=lambda c: abs(c.area))
    holes = sum(abs(c.area) for c in found) - abs(outer.area)
    assert abs(outer.area) - holes == pytest.approx(flat.area_mm2, abs=1e-6)
    assert sum(1 for b in outer.bulges if b) == 2, "the two rounded corners are arcs"


def test_units_and_version_are_said() -> None:
    text = dxf_text(shelf(), flat_pattern(shelf()))
    assert header(text, "$INSUNITS") == "4"
    assert header(text, "$ACADVER") == "AC1024"


def test_bend_lines_and_their_notes_have_layers_of_their_own() -> None:
    part = shelf()
    text = dxf_text(part, flat_pattern(part))
    assert {e.layer for e in entities(text)} == {"CUT", "BEND", "BEND_NOTE"}
    lines = [e for e in entities(text) if e.layer == "BEND"]
    assert [e.kind for e in lines] == ["LINE", "LINE"]
    notes = [next(v for c, v in e.pairs if c == 1) for e in entities(text) if e.layer == "BEND_NOTE"]
    assert notes == ["UP 90° R2", "DOWN 135° R2"]


def test_the_library_that_wrote_it_finds_nothing_to_complain_of(tmp_path) -> None:
    part = shelf()
    path = tmp_path / "shelf.dxf"
    path.write_text(dxf_text(part, flat_pattern(part)), encoding="utf-8")
    assert not ezdxf.readfile(path).audit().errors


def test_the_same_part_gives_the_same_bytes() -> None:
    part = shelf()
    assert dxf_text(part, flat_pattern(part)) == dxf_text(part, flat_pattern(part))


@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(random_parts())
def test_random_flats_come_back_with_their_area(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    part = resolved.part
    assume(not flat_overlaps(part))
    try:
        flat = flat_pattern(part)
    except FlatError:
        return
    found = contours(dxf_text(part, flat))
    outer = max(found, key=lambda c: abs(c.area))
    metal = 2 * abs(outer.area) - sum(abs(c.area) for c in found)
    assert metal == pytest.approx(flat.area_mm2, rel=1e-9)
    assert len(found) == flat.pierces


def test_another_process_with_another_hash_seed_writes_the_same_bytes() -> None:
    import hashlib
    import os
    import subprocess
    import sys

    statement = (
        "import hashlib; from tests.files.test_dxf import shelf; from steadfold.deliver.dxf_file import dxf_text; "
        "from steadfold.sheet.flat import flat_pattern; "
        "print(hashlib.sha256(dxf_text(shelf(), flat_pattern(shelf())).encode()).hexdigest())"
    )
    own = hashlib.sha256(dxf_text(shelf(), flat_pattern(shelf())).encode()).hexdigest()
    for seed in ("1", "2", "3"):
        env = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run([sys.executable, "-c", statement], capture_output=True, text=True, env=env, check=True)
        assert done.stdout.strip() == own
