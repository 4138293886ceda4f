"""What the campaign of faults found, each as a test of its own; and the campaign in short."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SHELF = ROOT / "examples" / "notice-shelf.toml"
PLATE = "0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\nCUT\n10\n0.0\n20\n0.0\n40\n50.0\n0\nENDSEC\n0\nEOF\n"


def steadfold(*words: str, **more: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "steadfold.cli.main", *words]
    return subprocess.run(command, capture_output=True, text=True, check=False, **more)  # type: ignore[call-overload, no-any-return]


@pytest.mark.parametrize("library", ["OCP", "spyrrow", "ezdxf"])
def test_a_library_that_cannot_be_loaded_is_named_with_the_way_to_mend_it(tmp_path: Path, library: str) -> None:
    """It was called a fault of the project's own."""
    without = tmp_path / "without"
    without.mkdir()
    (without / f"{library}.py").write_text(f"raise ModuleNotFoundError('it is not there', name={library!r})\n")
    environment = {**os.environ, "PYTHONPATH": str(without)}
    words = {
        "OCP": ("flat", str(SHELF), "--out", str(tmp_path / "out"), "--models"),
        "ezdxf": ("flat", str(SHELF), "--out", str(tmp_path / "out")),
        "spyrrow": ("cost", str(SHELF), "--nest", str(tmp_path / "out"), "--seconds", "1"),
    }[library]
    done = steadfold(*words, "--json", env=environment)
    if library == "spyrrow":
        # The layout is made without it, one part after the other, and says so.
        assert done.returncode == 0, done.stderr
        assert "one by one" in done.stdout
        return
    assert done.returncode == 2, done.stderr
    (problem,) = json.loads(done.stdout)["problems"]
    assert repr(library) in problem["say"] and "doctor" in problem["say"]
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_cad_file_copied_beside_a_new_job_is_whole_or_not_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a full disk the first half of the drawing lay beside no job."""
    from steadfold.cli.main import main

    drawing = tmp_path / "plate.dxf"
    drawing.write_text(PLATE)
    monkeypatch.setattr(os, "fsync", lambda handle: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    job = tmp_path / "own" / "job.toml"
    words = ["read", str(drawing), "--material", "DC01", "--thickness", "2 mm", "--file-units", "mm", "--job", str(job)]
    assert main(words) == 2
    assert list((tmp_path / "own").iterdir()) == []


@pytest.mark.parametrize("suffix", ["dxf", "step"])
def test_a_drawing_is_not_called_damaged_when_the_library_that_reads_it_is_missing(tmp_path: Path, suffix: str) -> None:
    """The child that reads it could not say why it stopped."""
    from tests.files import corpus

    library = {"dxf": "ezdxf", "step": "OCP"}[suffix]
    drawing = tmp_path / f"plate.{suffix}"
    if suffix == "dxf":
        drawing.write_text(PLATE)
    else:
        corpus.write([("L", corpus.section(2.0, [50, 26], [(90, 2.0)], 100))], drawing)
    (tmp_path / f"{library}.py").write_text(f"raise ModuleNotFoundError('it is not there', name={library!r})\n")
    done = steadfold(
        "read",
        str(drawing),
        "--material",
        "DC01",
        "--thickness",
        "2 mm",
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
    )
    assert done.returncode == 2
    assert f"the library {library!r}" in done.stderr and "damaged" not in done.stderr


@pytest.mark.parametrize("command", ["compare", "size"])
def test_a_picture_that_cannot_be_written_is_named_as_it_was_asked_for(tmp_path: Path, command: str) -> None:
    """The name of a file beside it was said, which nobody had heard of."""
    picture = tmp_path / "none" / "picture.svg"
    more = ("--vary", "thickness=2 mm", "--coarse") if command == "size" else ()
    done = steadfold(command, str(SHELF), *more, "--picture", str(picture))
    assert done.returncode == 2
    assert str(picture) in done.stderr and ".part" not in done.stderr


def test_a_whole_number_too_long_to_be_written_is_refused_in_a_shop_file(tmp_path: Path) -> None:
    """Hexadecimal is read whatever its length; writing the number out again for the sentence was refused by the language."""
    shop = tmp_path / "shop.toml"
    shop.write_text(f'name = 0x{"f" * 4000}\n[rates]\nlaser = ["95 EUR/h", 0x{"f" * 4000}]\n')
    done = steadfold("shop", "check", str(shop))
    assert done.returncode == 2, done.stderr
    assert "hundreds of digits" in done.stderr


def test_a_shop_files_rates_are_read_when_it_is_checked_and_told_at_their_lines(tmp_path: Path) -> None:
    """It was said that the file can be used."""
    shop = tmp_path / "shop.toml"
    shop.write_text('name = "own"\n[rates]\nlaser = "-95 EUR/h"\nbrake = "60 USD/h"\n')
    done = steadfold("shop", "check", str(shop), "--json")
    assert done.returncode == 2
    problems = json.loads(done.stdout)["problems"]
    assert [(p["line"], p["field"]) for p in problems] == [(3, "rates, laser"), (4, "rates, brake")]
    assert "negative rate" in problems[0]["say"] and "not in EUR" in problems[1]["say"]


@pytest.mark.parametrize("keep", [1200, 3000, -40])
def test_a_drawing_that_was_cut_off_is_called_no_drawing(tmp_path: Path, keep: int) -> None:
    """The library gave up in a way of its own, and the file was said to have stopped it."""
    out = tmp_path / "flats"
    assert steadfold("flat", str(SHELF), "--out", str(out)).returncode == 0
    text = next(out.glob("*.dxf")).read_text()
    cut = tmp_path / "cut.dxf"
    cut.write_text(text[:keep].rstrip("\n"))
    done = steadfold("read", str(cut), "--material", "DC01", "--thickness", "2 mm")
    assert done.returncode in (1, 2, 3)
    assert "library stop" not in done.stderr and "Traceback" not in done.stderr


def test_faces_that_do_not_hang_together_are_refused_for_that_body(tmp_path: Path) -> None:
    """A plane called a cylinder's: the recogniser stopped, and with it the whole file."""
    from tests.files import corpus

    drawing = corpus.write([("L", corpus.section(2.0, [50, 26], [(90, 2.0)], 100))], tmp_path / "l.step")
    text = drawing.read_text()
    refused = 0
    for edge in re.findall(r"#\d+ ?= ?ORIENTED_EDGE\('',\*,\*,(#\d+),\.[TF]\.\)", text)[:6]:
        other = re.findall(r"ORIENTED_EDGE\('',\*,\*,(#\d+),", text)[-1]
        drawing.write_text(text.replace(f"ORIENTED_EDGE('',*,*,{edge},", f"ORIENTED_EDGE('',*,*,{other},", 1))
        done = steadfold("read", str(drawing), "--material", "DC01")
        assert done.returncode in (1, 2, 3)
        assert "Traceback" not in done.stderr and "exit 1)" not in done.stderr
        refused += done.returncode == 2
    assert refused


def test_a_line_of_no_length_stops_no_part(tmp_path: Path) -> None:
    """A hole moved far away left an empty piece of a line behind where metal was measured."""
    import numpy as np
    import shapely

    from steadfold.fabricate.measures import _first_piece

    pieces = shapely.GeometryCollection([shapely.LineString(), shapely.LineString([(0, 0), (3, 4)])])
    assert _first_piece(pieces, np.zeros(2)) == 5.0
    assert _first_piece(shapely.LineString(), np.zeros(2)) == 0.0


def test_a_drawn_part_is_priced_in_plain_numbers(tmp_path: Path) -> None:
    """What was reckoned from a drawing was no plain truth value, and could not be said as JSON."""
    out = tmp_path / "flats"
    assert steadfold("flat", str(SHELF), "--out", str(out)).returncode == 0
    next(out.glob("*.dxf")).rename(tmp_path / "cover.dxf")
    job = tmp_path / "job.toml"
    job.write_text(
        'steadfold = 1\nname = "drawn"\n[[part]]\nname = "cover"\nquantity = 4\nmaterial = "S235"\n'
        'thickness = "2 mm"\nshape = "dxf"\nfile = "cover.dxf"\nbend_angle = "90 deg"\n'
    )
    done = steadfold("cost", str(job), "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["parts"][0]["each"] > 0


@pytest.mark.parametrize("name", ["CIR€LE", "17", "0.0"])
def test_an_entity_of_no_known_kind_is_left_out(tmp_path: Path, name: str) -> None:
    """It has no layer and cannot be hidden; asking for either stopped the reading."""
    drawing = tmp_path / "plate.dxf"
    more = f"0\n{name}\n8\nCUT\n10\n0.0\n20\n0.0\n40\n5.0\n"
    drawing.write_text(PLATE.replace("0\nCIRCLE", f"{more}0\nCIRCLE", 1))
    done = steadfold("read", str(drawing), "--material", "DC01", "--thickness", "2 mm", "--file-units", "mm")
    assert done.returncode in (1, 3), done.stderr
    assert "library stop" not in done.stderr


def test_a_short_campaign_finds_no_fault(tmp_path: Path) -> None:
    """Some hundreds of damaged files, kills and machines that will not, in a process of its own since it forks."""
    keep = tmp_path / "keep"
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.campaign", "--short", "--keep", str(keep)],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    assert "damaged files" in done.stdout and ", 0 faults" in done.stdout
    assert not keep.exists()
