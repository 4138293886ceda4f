"""`steadfold order` on the command line: exit status, what is said, and that what is not an order folder is left alone."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from steadfold.cli.main import main
from steadfold.deliver.order_folder import CONTENTS, verify
from tests.files.order_jobs import SHED

UNLOADED = SHED.split("  [[part.carries]]")[0]
"""Only the shelf, and nothing said of loads or walls: unproven, quickly."""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(UNLOADED, encoding="utf-8")
    return path


def test_an_unproven_job_is_not_written_out_and_the_words_to_ask_for_it_are_said(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = main(["order", str(job), "--out", str(tmp_path / "order")])
    assert status != 0 and not (tmp_path / "order").exists()
    assert '--even-if "unproven"' in capsys.readouterr().err


def test_asked_for_in_words_it_is_written_whole(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "order"
    assert main(["order", str(job), "--out", str(out), "--even-if", "unproven", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["parts"] == ["paint shelf"] and verify(out) == []
    assert {p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()} == set(said["files"])
    # Written again it is the same, byte for byte.
    before = (out / CONTENTS).read_bytes()
    assert main(["order", str(job), "--out", str(out), "--even-if", "unproven", "--json"]) == 0
    assert (out / CONTENTS).read_bytes() == before


def test_a_folder_of_somebody_else_is_left_alone(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "shed.jpg").write_bytes(b"mine")
    assert main(["order", str(job), "--out", str(tmp_path / "photos"), "--even-if", "unproven"]) == 2
    assert "holds no order folder" in capsys.readouterr().err
    assert [p.name for p in (tmp_path / "photos").iterdir()] == ["shed.jpg"]


def test_a_word_that_is_no_verdict_is_refused(job: Path, tmp_path: Path) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["order", str(job), "--out", str(tmp_path / "order"), "--even-if", "please"])
    assert stopped.value.code == 2
