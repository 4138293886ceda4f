"""STEP files read back: by the kernel's reader, and by a small scanner of the text (ISO 10303-21) written here."""

from __future__ import annotations

import io
import math
import re
import subprocess
import sys
from collections import Counter
from datetime import datetime
from pathlib import Path

import pytest
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopoDS import TopoDS_Shape

from steadfold.deliver.step_file import step_bytes, step_string
from steadfold.sheet.outline import circle, obround
from steadfold.sheet.part import Part
from steadfold.sheet.solid import SolidError, volume_mm3
from tests.files.hand_parts import RADIUS, THICKNESS, angle_part, comb_part

DATE = datetime(2026, 3, 4, 5, 6, 7)
PARTS = {
    "angle": angle_part(),
    "holes": angle_part(back_holes=[circle(8.0, (20, 30)), circle(8.0, (60, 30))]),
    "slot in the bend": angle_part(math.radians(100), strip_holes=[obround(8.0, 2.5, (50.0, 2.4), 0.4)]),
    "bent back": angle_part(-2.8),
    "comb": comb_part(4, gap=3.0),
    "closed hem": angle_part(math.pi, 50.0, 12.0, radius=0.0),
    "nearly closed hem": angle_part(math.pi, 50.0, 12.0, radius=0.02),
    "teardrop": angle_part(math.radians(240), 60.0, 20.0, radius=4.0),
}


def entities(data: bytes) -> dict[int, tuple[str, str]]:
    """Number -> (keyword, arguments) of every simple entity; complex ones get the keyword ''."""
    body = data.decode("ascii").split("DATA;", 1)[1].rsplit("ENDSEC;", 1)[0]
    found = {}
    for number, keyword, arguments in re.findall(r"#(\d+)\s*=\s*(\w*)\s*\((.*?)\)\s*;", body, re.DOTALL):
        found[int(number)] = (keyword, arguments)
    return found


def references(arguments: str) -> list[int]:
    """The entities that arguments point to, in order."""
    return [int(number) for number in re.findall(r"#(\d+)", arguments)]


def read_back(data: bytes) -> TopoDS_Shape:
    """The shape the kernel's reader makes of a file."""
    reader = STEPControl_Reader()
    reader.ReadStream("part.step", io.BytesIO(data))
    reader.TransferRoots()
    return reader.OneShape()


@pytest.mark.parametrize("part", PARTS.values(), ids=PARTS)
def test_the_reader_finds_one_valid_solid_of_the_same_volume(part: Part) -> None:
    shape = read_back(step_bytes(part, "part", DATE))
    assert shape.ShapeType() == TopAbs_SOLID
    assert BRepCheck_Analyzer(shape).IsValid()
    assert volume_mm3(shape) == pytest.approx(part.volume_mm3, rel=1e-8)


@pytest.mark.parametrize("part", PARTS.values(), ids=PARTS)
def test_the_text_holds_one_closed_solid(part: Part) -> None:
    found = entities(step_bytes(part, "part", DATE))
    kinds = Counter(keyword for keyword, _ in found.values())
    assert (kinds["MANIFOLD_SOLID_BREP"], kinds["CLOSED_SHELL"], kinds["PRODUCT"]) == (1, 1, 1)
    assert kinds["OPEN_SHELL"] == kinds["SHELL_BASED_SURFACE_MODEL"] == 0
    uses = Counter(
        reference
        for keyword, arguments in found.values()
        if keyword == "ORIENTED_EDGE"
        for reference in references(arguments)
    )
    edges = [number for number, (keyword, _) in found.items() if keyword == "EDGE_CURVE"]
    assert {uses[edge] for edge in edges} == {2}


@pytest.mark.parametrize(
    ("part", "openings"), [(PARTS["angle"], 0), (PARTS["holes"], 2), (PARTS["slot in the bend"], 1)]
)
def test_the_text_obeys_eulers_rule_with_one_handle_an_opening(part: Part, openings: int) -> None:
    """Corners - edges + faces - (loops - faces) = 2 (1 - handles); Euler and Poincaré."""
    kinds = Counter(keyword for keyword, _ in entities(step_bytes(part, "part", DATE)).values())
    faces, loops = kinds["ADVANCED_FACE"], kinds["FACE_BOUND"] + kinds["FACE_OUTER_BOUND"]
    characteristic = kinds["VERTEX_POINT"] - kinds["EDGE_CURVE"] + faces - (loops - faces)
    assert characteristic == 2 * (1 - openings)


def test_bends_and_round_holes_are_cylinders_of_their_own_radius() -> None:
    found = entities(step_bytes(PARTS["holes"], "part", DATE))
    radii = sorted(float(a.rsplit(",", 1)[1]) for k, a in found.values() if k == "CYLINDRICAL_SURFACE")
    assert radii == [RADIUS, RADIUS + THICKNESS, 4.0, 4.0]
    kinds = {keyword for keyword, _ in found.values() if keyword.endswith("_SURFACE") or keyword == "PLANE"}
    assert kinds == {"PLANE", "CYLINDRICAL_SURFACE"}


def test_the_schema_is_ap242_and_the_unit_a_millimetre() -> None:
    text = step_bytes(PARTS["angle"], "part", DATE).decode("ascii")
    schema = re.search(r"FILE_SCHEMA\s*\(\(\s*'([^' ]*)", text)
    assert schema is not None
    assert schema.group(1) == "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF"
    lengths = re.findall(r"LENGTH_UNIT\s*\(\s*\)\s*NAMED_UNIT\s*\(\s*\*\s*\)\s*SI_UNIT\s*\(([^)]*)\)", text)
    assert lengths == [".MILLI.,.METRE."]
    assert "CONVERSION_BASED_UNIT" not in text


def decoded(text: str) -> str:
    """A STEP string as text, by the rules of ISO 10303-21, 6.4.3 (recalled)."""
    text = text.replace("''", "'")
    text = re.sub(r"\\X2\\((?:[0-9A-F]{4})+)\\X0\\", lambda m: bytes.fromhex(m.group(1)).decode("utf-16-be"), text)
    text = re.sub(r"\\X4\\((?:[0-9A-F]{8})+)\\X0\\", lambda m: bytes.fromhex(m.group(1)).decode("utf-32-be"), text)
    return text.replace("\\\\", "\\")


@pytest.mark.parametrize("name", ["oar rack", "Träger 'A'", "steel\\3", "полка №2", "⚓ 😀", "a;b #7=('", "NAME 1"])
def test_the_name_comes_back_whatever_is_in_it(name: str) -> None:
    text = step_bytes(PARTS["angle"], name, DATE).decode("ascii")
    quoted = r"'((?:[^']|'')*)'"
    for place in (rf"[=]\s*PRODUCT\(\s*{quoted}", rf"MANIFOLD_SOLID_BREP\(\s*{quoted}", rf"FILE_NAME\(\s*{quoted}"):
        found = re.search(place, text)
        assert found is not None
        assert decoded(found.group(1)) == name
    assert read_back(text.encode()).ShapeType() == TopAbs_SOLID


def test_a_string_keeps_to_plain_ascii() -> None:
    assert step_string("ä'\n") == "'\\X2\\00E4\\X0\\''\\X2\\000A\\X0\\'"


def test_the_same_part_name_and_date_give_the_same_bytes_in_every_process() -> None:
    statement = (
        "import sys, datetime; from tests.files.test_step import PARTS, DATE, step_bytes; "
        "[step_bytes(PARTS['angle'], 'other', DATE) for _ in range(int(sys.argv[1]))]; "
        "sys.stdout.buffer.write(step_bytes(PARTS['slot in the bend'], 'part', DATE))"
    )
    root = Path(__file__).resolve().parents[2]
    written = [
        subprocess.run([sys.executable, "-c", statement, before], capture_output=True, check=True, cwd=root).stdout
        for before in ("0", "2")
    ]
    assert written[0] == written[1] == step_bytes(PARTS["slot in the bend"], "part", DATE)
    assert written[0].startswith(b"ISO-10303-21;")


def test_the_date_is_the_one_given() -> None:
    text = step_bytes(PARTS["angle"], "part", DATE).decode("ascii")
    assert re.findall(r"\d{4}-\d\d-\d\dT[\d:]*", text) == ["2026-03-04T05:06:07"]


def test_nothing_is_printed_and_nothing_left_behind_while_a_file_is_made(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    step_bytes(PARTS["angle"], "part", DATE)
    assert capfd.readouterr() == ("", "")
    assert list(tmp_path.iterdir()) == []


def test_a_solid_whose_volume_is_not_the_parts_is_not_written(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if the kernel had lost a hole."""
    with_hole, without = PARTS["holes"], PARTS["angle"]
    from steadfold.deliver import step_file

    real = step_file.solid
    monkeypatch.setattr(step_file, "solid", lambda part: real(without))
    with pytest.raises(SolidError, match="no STEP file is written"):
        step_bytes(with_hole, "part", DATE)
