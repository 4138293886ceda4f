"""Files of exporters that round: places to 0.01 mm. And parts that are machined, bevelled or drilled as well.

The rounding is done to the text of a file that the kernel wrote exactly, in a pose in which no number is round.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.from_solid.kernel import read_bodies
from steadfold.sheet.from_solid.reading import RecognisedPart, finish
from steadfold.sheet.from_solid.sheet import recognise
from tests.files.corpus import CASES, Case, K, box, cut, flange, frustum, fused, moved, rod, section, write

ROUGH = [
    c
    for c in CASES
    if c.name
    in (
        "L",
        "L in 6 mm",
        "Z",
        "lipped channel",
        "a chain of angles",
        "twelve bends",
        "tray with square reliefs",
        "box of four flanges left in pieces",
        "joggle of two bends that touch",
        "five tines",
        "countersunk",
        "hole across a bend",
        "window that parts a web",
        "150 degrees down",
        "radius of zero",
    )
]


def rounded(text: str, places: int) -> str:
    """A STEP text with the coordinates of all points rounded."""

    def change(match: re.Match[str]) -> str:
        return match[1] + "(" + ",".join(repr(round(float(x), places)) for x in match[2].split(",")) + ")"

    return re.sub(r"(CARTESIAN_POINT\('[^']*',)\(([^)]*)\)", change, text)


def read(shape: Any, path: Path, change: Callable[[str], str] = str) -> RecognisedPart:
    write([("part", shape)], path)
    path.write_text(change(path.read_text()))
    (body,) = read_bodies(str(path)).bodies
    return finish(recognise(body), K)


@pytest.mark.parametrize("case", ROUGH, ids=[c.name for c in ROUGH])
def test_a_file_rounded_to_a_hundredth_reads_to_a_few_hundredths(case: Case, tmp_path: Path) -> None:
    """Angles within 0.1°. Size: each panel and bend between two rounded edges adds at most 0.01 mm."""
    shape = moved(case.make(), 17.3, (0.3, 1, 0.2), (13.123, 4.567, 8.91))
    found = read(shape, tmp_path / "rough.step", lambda text: rounded(text, 2))
    part = found.part
    assert len(part.panels) == case.panels
    angles = sorted(abs(math.degrees(b.angle_rad)) for b in part.bends)
    assert angles == pytest.approx(sorted(a for a, _ in case.bends), abs=0.1)
    radii = sorted(b.inside_radius_mm for b in part.bends)
    assert radii == pytest.approx(sorted(r for _, r in case.bends), abs=0.02)
    assert case.size is not None
    flat = flat_pattern(part)
    slack = 0.01 * (2 + 2 * len(part.bends))
    assert sorted(flat.size_mm) == pytest.approx(sorted(case.size), abs=slack)
    assert flat.area_mm2 == pytest.approx(case.area, rel=2e-3)
    assert part.thickness_mm == pytest.approx(case.thickness, abs=0.01)


def angle_bracket() -> Any:
    return section(2.0, [50, 26], [(90, 2.0)], 100)


WHOLE = 100 * (76 + math.pi / 2 * (2 + K * 2))


def test_a_countersunk_slot_is_cut_as_the_narrow_slot(tmp_path: Path) -> None:
    """Slot 26 × 6: 20 × 6 + π 9 mm² are taken out of the flat."""
    slot = fused(box((15, 30, -1), (20, 6, 5)), rod((15, 33, -1), (0, 0, 1), 3, 5), rod((35, 33, -1), (0, 0, 1), 3, 5))
    shape = cut(angle_bracket(), slot, *[frustum((x, 33, 0.5), (0, 0, 1), 3, 4.5, 1.5) for x in (15, 35)])
    found = read(shape, tmp_path / "slot.step")
    assert [f.code for f in found.findings] == ["edge-not-square"]
    assert flat_pattern(found.part).area_mm2 == pytest.approx(WHOLE - 120 - math.pi * 9, abs=0.01)


def test_a_hole_deburred_on_both_sides_is_one_hole(tmp_path: Path) -> None:
    shape = cut(angle_bracket(), rod((20, 30, -1), (0, 0, 1), 4, 5), frustum((20, 30, 0), (0, 0, 1), 4.4, 4, 0.4))
    shape = cut(shape, frustum((20, 30, 2), (0, 0, -1), 4.4, 4, 0.4))
    found = read(shape, tmp_path / "deburred.step")
    assert flat_pattern(found.part).area_mm2 == pytest.approx(WHOLE - math.pi * 16, abs=0.01)


def test_a_counterbore_keeps_its_small_hole(tmp_path: Path) -> None:
    shape = cut(angle_bracket(), rod((20, 30, -1), (0, 0, 1), 3, 5), rod((20, 30, 1.2), (0, 0, 1), 5, 5))
    found = read(shape, tmp_path / "bore.step")
    (hole,) = found.holes
    assert (hole.size_mm[0], hole.wide_mm, hole.cone_rad) == (pytest.approx(6.0), pytest.approx(10.0), 0.0)
    assert [f.code for f in found.findings] == ["countersunk-hole"]


def test_a_hole_with_a_collar_is_unproven(tmp_path: Path) -> None:
    shape = cut(fused(angle_bracket(), rod((20, 50, 2), (0, 0, 1), 7, 4)), rod((20, 50, -1), (0, 0, 1), 5, 20))
    found = read(shape, tmp_path / "collar.step")
    assert [(f.code, str(f.severity)) for f in found.findings] == [("formed-feature", "unproven")]


def test_a_part_far_from_the_origin_keeps_its_accuracy(tmp_path: Path) -> None:
    found = read(moved(angle_bracket(), 33, (1, 1, 1), (1e5, -2e5, 3e4)), tmp_path / "far.step")
    assert found.findings == ()
    assert flat_pattern(found.part).area_mm2 == pytest.approx(WHOLE, abs=0.01)


@pytest.mark.parametrize("beside", [0.0, 0.1])
def test_a_flange_without_relief_leaves_the_plate_beside_it_whole(beside: float, tmp_path: Path) -> None:
    """Plate 100 × 60 that goes on 4 mm past the tangent line on both sides of a flange 40 wide, with a slit of 0.1 mm
    or none: area of the plate, the two pieces beside and the flange (sum of what was drawn)."""
    t, r, k = 2.0, 2.0, math.pi / 2
    shape = fused(
        box((0, 0, 0), (100, 60, t)),
        moved(flange(t, r, 40, 30), 0, (0, 0, 1), (30, 0, 0)),
        box((0, -4, 0), (30 - beside, 4, t)),
        box((70 + beside, -4, 0), (30 - beside, 4, t)),
    )
    part = read(shape, tmp_path / "flange.step").part
    expected = 6000 + 8 * (30 - beside) + 40 * (26 + k * (r + K * t))
    assert flat_pattern(part).area_mm2 == pytest.approx(expected, abs=0.01)


def test_a_mitred_bend_keeps_its_slanted_end(tmp_path: Path) -> None:
    """A 45° cut along the bend's end through flange and bend; the plane's own volume check is exact."""
    shape = cut(
        section(2.0, [50, 40], [(90, 2.0)], 100), moved(box((51, -60, -60), (10, 60, 200)), -45, (1, 0, 0), (0, 0, 10))
    )
    found = read(shape, tmp_path / "mitre.step")
    assert found.findings == ()


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: cut(angle_bracket(), box((10, 20, 1.7), (20, 3, 1))), r"2\.00 mm thick but 1\.70 mm at \("),
        (lambda: fused(angle_bracket(), box((44, 40, 2), (8, 4, 8))), r"stands 8\.00 mm out"),
        (lambda: fused(box((0, 0, 0), (50, 50, 2)), box((50, 0, 0), (50, 50, 3))), r"2\.00 mm thick.*3\.00 mm"),
        (
            lambda: cut(section(2.0, [50, 40], [(90, 4.0)], 60), rod((41, 30, 15), (1, 0, -1), 6, 40)),
            r"hole of 12\.00 mm goes askew",
        ),
    ],
    ids=["engraved", "gusset", "two thicknesses", "hole drilled askew"],
)
def test_what_is_not_of_one_thickness_is_refused_with_place_and_measure(
    make: Callable[[], Any], words: str, tmp_path: Path
) -> None:
    with pytest.raises(CadRefused, match=words):
        read(make(), tmp_path / "part.step")


def test_a_stocky_piece_is_asked_about(tmp_path: Path) -> None:
    """30 × 30 × 10: its side is 3 thicknesses; 200 × 6 × 3: a bar twice as wide as thick."""
    for number, size in enumerate(((30, 30, 10), (200, 6, 3))):
        found = read(box((0, 0, 0), size), tmp_path / f"{number}.step")
        assert [f.code for f in found.findings] == ["stocky-for-sheet"]
