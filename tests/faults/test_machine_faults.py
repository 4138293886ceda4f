"""What the campaign of faults found on machines that will not, each as a test of its own; and the campaign in short."""

from __future__ import annotations

import json
import os
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
