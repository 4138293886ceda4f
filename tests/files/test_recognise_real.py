"""Other people's parts. They are not in the project: STEADFOLD_REAL_PARTS names a folder that holds them and an
`index.json` with what was measured on them by others; without it these tests do not run.

The index gives `file`, and for bent parts `t`, numbers of `bends` and `panels`, `radii` and `angles` with counts,
and size (`flat44`) and area (`area44`) of the flat at K = 0.44. A `.dxf` beside a `.step` of the same name is its
designer's own flat.
"""

from __future__ import annotations

import json
import math
import os
from pathlib import Path
from typing import Any

import pytest
import shapely

from steadfold.sheet.flat import FlatPattern, flat_pattern
from steadfold.sheet.from_flat.reading import read_dxf
from steadfold.sheet.from_solid.reading import RecognisedPart, read_step

FOLDER = os.environ.get("STEADFOLD_REAL_PARTS", "")
INDEX: list[dict[str, Any]] = json.loads((Path(FOLDER) / "index.json").read_text()) if FOLDER else []
STEPS = [e for e in INDEX if e["file"].lower().endswith((".step", ".stp"))]
PAIRS = [e for e in STEPS if (Path(FOLDER) / e["file"]).with_suffix(".dxf").exists()]

pytestmark = pytest.mark.skipif(not FOLDER, reason="STEADFOLD_REAL_PARTS names no folder of real parts")


def named(entries: list[dict[str, Any]]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("entry", entries, ids=[e["file"] for e in entries])


def read(entry: dict[str, Any]) -> RecognisedPart:
    return read_step(Path(FOLDER) / entry["file"], 0.44).only()


def tight_size(flat: FlatPattern) -> list[float]:
    """Sides of the smallest rectangle around the flat, in any direction."""
    box = shapely.minimum_rotated_rectangle(flat.outer.polygon())
    corners = list(box.exterior.coords)
    return sorted((math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])))


@named([e for e in STEPS if "t" in e])
def test_a_real_part_has_the_bends_and_the_flat_that_others_measured(entry: dict[str, Any]) -> None:
    part = read(entry).part
    flat = flat_pattern(part)
    assert part.thickness_mm == pytest.approx(entry["t"], abs=1e-3)
    assert len(part.bends) in entry["bends"]
    assert len(part.panels) in entry["panels"]
    radii: dict[float, int] = {}
    angles: dict[float, int] = {}
    for bend in part.bends:
        radius, angle = round(bend.inside_radius_mm, 3), round(abs(math.degrees(bend.angle_rad)), 1)
        radii[radius] = radii.get(radius, 0) + 1
        angles[angle] = angles.get(angle, 0) + 1
    assert radii == {float(k): v for k, v in entry["radii"].items()}
    assert angles == {float(k): v for k, v in entry["angles"].items()}
    assert flat.area_mm2 == pytest.approx(entry["area44"], rel=5e-4)
    sizes = (sorted(flat.size_mm), tight_size(flat))
    assert any(size == pytest.approx(sorted(entry["flat44"]), abs=0.01) for size in sizes), sizes


@named(PAIRS)
def test_a_real_part_laid_flat_is_its_designer_s_own_flat(entry: dict[str, Any]) -> None:
    found = read(entry).part
    ours = flat_pattern(found)
    path = (Path(FOLDER) / entry["file"]).with_suffix(".dxf")
    radius = found.bends[0].inside_radius_mm if found.bends else found.thickness_mm
    drawn = read_dxf(path, found.thickness_mm, 0.44, inside_radius_mm=radius, bend_angle_rad=math.pi / 2).only().part
    theirs = flat_pattern(drawn)
    assert len(drawn.bends) == len(found.bends)
    assert sorted(ours.size_mm) == pytest.approx(sorted(theirs.size_mm), abs=0.01)
    assert ours.area_mm2 == pytest.approx(theirs.area_mm2, rel=5e-4)
    assert len(ours.openings) == len(theirs.openings)


@named(STEPS)
def test_every_real_part_reads_and_keeps_its_volume(entry: dict[str, Any]) -> None:
    """What is not exact says so."""
    found = read(entry)
    assert found.part.volume_mm3 > 0
    differs = [f for f in found.findings if f.code == "volume-differs"]
    assert all(f.value is not None and f.value <= 2e-3 for f in differs)
