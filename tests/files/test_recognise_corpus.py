"""Parts modelled directly with the kernel are read back as what they were drawn to be.

Expected values are closed forms (see corpus.py): developed length `legs + a (r + K t)`, volume of legs and
annular sectors.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.from_solid.body import Body
from steadfold.sheet.from_solid.kernel import read_bodies
from steadfold.sheet.from_solid.reading import CadReading, RecognisedPart, finish, read_step
from steadfold.sheet.from_solid.sheet import recognise
from steadfold.sheet.mesh import MeshError, mesh
from steadfold.sheet.solid import solid, volume_mm3
from tests.files import corpus
from tests.files.corpus import CASES, Case, K, box, cut, fused, moved, rod, section, write


def read_here(path: Path, assumed_radius: float | None = None) -> tuple[Body, RecognisedPart]:
    """The one part of a file, read in this process so that the kernel is loaded once for all tests."""
    (body,) = read_bodies(str(path)).bodies
    return body, finish(recognise(body, assumed_radius), K)


@pytest.fixture(scope="module")
def readings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Body, RecognisedPart]]:
    """Every case written, read and recognised once."""
    folder = tmp_path_factory.mktemp("corpus")
    found = {}
    for number, case in enumerate(CASES):
        path = write([(case.name, case.make())], folder / f"{number}.step", case.schema, case.unit)
        found[case.name] = read_here(path, case.assumed_radius)
    return found


def named(cases: tuple[Case, ...]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("case", cases, ids=[c.name for c in cases])


def test_the_corpus_is_as_large_and_as_thick_as_it_claims() -> None:
    assert len(CASES) >= 25
    assert min(c.thickness for c in CASES) == 1.0
    assert max(c.thickness for c in CASES) == 6.0


@named(CASES)
def test_thickness_angles_and_radii_are_those_drawn(
    case: Case, readings: dict[str, tuple[Body, RecognisedPart]]
) -> None:
    part = readings[case.name][1].part
    assert part.thickness_mm == pytest.approx(case.thickness, abs=1e-6)
    assert len(part.panels) == case.panels
    found = sorted((abs(math.degrees(b.angle_rad)), b.inside_radius_mm) for b in part.bends)
    assert len(found) == len(case.bends)
    for (angle, radius), (drawn_angle, drawn_radius) in zip(found, sorted(case.bends), strict=True):
        assert math.radians(angle) == pytest.approx(math.radians(drawn_angle), abs=1e-6)
        assert radius == pytest.approx(drawn_radius, abs=1e-6)


@named(CASES)
def test_the_flat_has_the_area_and_size_of_the_formula(
    case: Case, readings: dict[str, tuple[Body, RecognisedPart]]
) -> None:
    flat = flat_pattern(readings[case.name][1].part)
    assert flat.area_mm2 == pytest.approx(case.area, abs=0.01)
    assert case.size is not None
    assert sorted(flat.size_mm) == pytest.approx(sorted(case.size), abs=0.01)


@named(tuple(c for c in CASES if c.assumed_radius is None))
def test_the_refolded_part_has_the_volume_of_the_formula(
    case: Case, readings: dict[str, tuple[Body, RecognisedPart]]
) -> None:
    body, found = readings[case.name]
    assert body.volume_mm3 == pytest.approx(case.volume, rel=1e-6), "the case itself is not what its formula says"
    assert found.part.volume_mm3 - case.sunk == pytest.approx(case.volume, rel=1e-6)


@named(tuple(c for c in CASES if c.assumed_radius is None))
def test_the_solid_folded_again_has_the_volume_of_the_formula(
    case: Case, readings: dict[str, tuple[Body, RecognisedPart]]
) -> None:
    """The exact solid that would be written back to STEP."""
    refolded = volume_mm3(solid(readings[case.name][1].part))
    assert refolded - case.sunk == pytest.approx(case.volume, rel=1e-6)


def test_a_curl_is_meshed_to_its_end_and_bends_that_touch_are_refused(
    readings: dict[str, tuple[Body, RecognisedPart]],
) -> None:
    """Area of the middle surface: 45 × (60 + 120° · 3.5)."""
    curled = mesh(readings["curl without an end"][1].part)
    assert float(curled.areas_mm2().sum()) == pytest.approx(45 * (60 + math.radians(120) * 3.5), rel=1e-6)
    with pytest.raises(MeshError, match="without flat metal between"):
        mesh(readings["joggle of two bends that touch"][1].part)


@named(tuple(c for c in CASES if c.codes or c.holes))
def test_holes_and_oddities_are_named(case: Case, readings: dict[str, tuple[Body, RecognisedPart]]) -> None:
    found = readings[case.name][1]
    assert sorted(h.kind for h in found.holes) == sorted(case.holes)
    assert set(case.codes) == {f.code for f in found.findings}


def test_a_plain_part_has_nothing_said_about_it(readings: dict[str, tuple[Body, RecognisedPart]]) -> None:
    for case in CASES:
        if not case.codes:
            assert readings[case.name][1].findings == (), case.name


@pytest.mark.parametrize(
    ("name", "alike"), [("Z", [True, False]), ("lipped channel", [True] * 4), ("hat", [True, True, False, False])]
)
def test_bends_turn_to_the_side_they_were_drawn_to(
    name: str, alike: list[bool], readings: dict[str, tuple[Body, RecognisedPart]]
) -> None:
    """How many of a section's bends turn one way and how many the other."""
    up = [b.angle_rad > 0 for b in readings[name][1].part.bends]
    assert sum(up) in (sum(alike), len(alike) - sum(alike))


def test_mirror_images_are_told_apart(tmp_path: Path) -> None:
    """A hole near the left end of an L lies on the other side of its mirror image, seen with the flange up."""
    shape = cut(section(2.0, [50, 26], [(90, 2.0)], 100), rod((20, 20, -1), (0, 0, 1), 3.0, 5))
    sides = []
    for number, each in enumerate((shape, corpus.mirrored(shape))):
        part = read_here(write([("L", each)], tmp_path / f"{number}.step"))[1].part
        bend = part.bends[0]
        root = part.panels[0]
        (hole,) = root.faces[0].holes
        circle = hole.circle
        assert circle is not None
        offset = (circle[0][0] - bend.parent_point[0], circle[0][1] - bend.parent_point[1])
        along = offset[0] * bend.parent_along[0] + offset[1] * bend.parent_along[1]
        sides.append(along if bend.angle_rad > 0 else 100 - along)
    assert sorted(sides) == pytest.approx([20.0, 80.0], abs=1e-6)


def test_holes_of_a_flat_lie_where_they_were_drilled(readings: dict[str, tuple[Body, RecognisedPart]]) -> None:
    """The 9 mm hole at (20, 20) and the 4.2 mm one at (60, 30) of the plate: 41.2311 mm apart (Pythagoras)."""
    found = readings["plate with holes"][1]
    rounds = {round(h.size_mm[0], 6): h for h in found.holes if h.kind == "round"}
    assert set(rounds) == {9.0, 4.2}
    assert math.dist(rounds[9.0].at_mm, rounds[4.2].at_mm) == pytest.approx(math.hypot(40, 10), abs=1e-6)
    assert rounds[4.2].thread == "M5"
    (slot,) = [h for h in found.holes if h.kind == "obround"]
    assert slot.size_mm == pytest.approx((26.0, 6.0), abs=1e-6)


def test_a_countersink_is_read_with_its_angle(readings: dict[str, tuple[Body, RecognisedPart]]) -> None:
    """5.5 mm hole, 11 mm wide, cone 2.75 mm deep: 90° (the cone's radius grows as fast as it rises)."""
    for hole in readings["countersunk"][1].holes:
        assert hole.size_mm[0] == pytest.approx(5.5, abs=1e-6)
        assert hole.wide_mm == pytest.approx(11.0, abs=1e-6)
        assert math.degrees(hole.cone_rad) == pytest.approx(90.0, abs=1e-6)


def test_a_hole_drilled_through_a_bend_is_developed_on_the_middle_surface(tmp_path: Path) -> None:
    """Drill of radius q along the bend's own radius: on the cylinder of radius R = r + t/2 it leaves
    x² + (R sin u)² = q², so its developed area is the integral of 2 sqrt(q² - R² sin² u) R du."""
    import numpy as np

    radius, t, q = 4.0, 2.0, 1.5
    shape = cut(section(t, [50, 40], [(90, radius)], 60), rod((41, 30, 15), (1, 0, -1), q, 40))
    body, found = read_here(write([("drilled", shape)], tmp_path / "drilled.step"))
    assert {"drilled-through-bend", "cutout-across-bend"} <= {f.code for f in found.findings}
    middle = radius + 0.5 * t
    limit = math.asin(q / middle)
    u = np.linspace(-limit, limit, 200_001)
    area = float(np.trapezoid(2 * np.sqrt(np.maximum(q**2 - (middle * np.sin(u)) ** 2, 0)) * middle, u))
    (opening,) = flat_pattern(finish(recognise(body), 0.5).part).openings
    assert abs(opening.area_mm2) == pytest.approx(area, abs=0.01)


def test_two_parts_of_one_file_are_both_read_by_name(tmp_path: Path) -> None:
    """Through the child process, as users do."""
    one, two = section(2.0, [50, 26], [(90, 2.0)], 100), section(1.0, [30, 30], [(45, 1.0)], 20)
    path = write([("left arm", one), ("clip", moved(two, 0, (0, 0, 1), (200, 0, 0)))], tmp_path / "two.step")
    reading = read_step(path, K)
    assert isinstance(reading, CadReading)
    assert [p.name for p in reading.parts] == ["left arm", "clip"]
    assert reading.only("clip").part.thickness_mm == pytest.approx(1.0)
    with pytest.raises(CadRefused, match=r"2 parts.*say which"):
        reading.only()


def test_the_child_process_reads_what_this_one_reads(
    tmp_path: Path, readings: dict[str, tuple[Body, RecognisedPart]]
) -> None:
    case = next(c for c in CASES if c.name == "lipped channel")
    path = write([(case.name, case.make())], tmp_path / "channel.step")
    assert read_step(path, K).only().part == readings[case.name][1].part


def test_a_unit_that_the_header_gets_wrong_can_be_overruled(tmp_path: Path) -> None:
    """An inch file whose numbers are millimetres: 50 'inches' are 50 mm."""
    shape = section(2.0 * 25.4, [50 * 25.4, 26 * 25.4], [(90, 2.0 * 25.4)], 100 * 25.4)
    path = write([("L", shape)], tmp_path / "inch.step", unit="INCH")
    with pytest.raises(CadRefused, match="unit"):
        read_step(path, K)
    part = read_step(path, K, units="mm").only().part
    assert part.thickness_mm == pytest.approx(2.0, abs=1e-6)
    assert sorted(flat_pattern(part).size_mm) == pytest.approx(sorted((100, 76 + math.pi / 2 * (2 + K * 2))), abs=1e-4)


def test_without_a_k_the_shop_standard_is_used(tmp_path: Path) -> None:
    """DIN 6935: k = 0.65 at r = t, K = k / 2 = 0.325."""
    path = write([("L", section(2.0, [50, 26], [(90, 2.0)], 100))], tmp_path / "l.step")
    (bend,) = read_step(path).only().part.bends
    assert bend.k_factor == pytest.approx(0.325)
    assert bend.k_source == "DIN 6935"


def test_a_dimple_is_named_and_left_out(tmp_path: Path) -> None:
    """A dimple pressed into an L: unproven, and the flat has plain metal there."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeSphere
    from OCP.gp import gp_Pnt

    def ball(radius: float) -> object:
        return BRepPrimAPI_MakeSphere(gp_Pnt(25, 50, 12), radius).Shape()

    sheet = section(2.0, [50, 26], [(90, 2.0)], 100)
    cap = cut(cut(ball(16.0), ball(14.0)), box((-50, -50, 0), (200, 200, 100)))
    shape = fused(cut(sheet, ball(14.0)), cut(cap, box((-50, -50, 0), (200, 200, 2))))
    _, found = read_here(write([("dimpled", shape)], tmp_path / "dimple.step"))
    assert [f.code for f in found.findings if f.severity == "unproven"] == ["formed-feature"]
    flat = flat_pattern(found.part)
    assert flat.openings == ()
    assert flat.area_mm2 == pytest.approx(100 * (76 + math.pi / 2 * (2 + K * 2)), abs=0.01)
