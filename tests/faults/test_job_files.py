"""Files that a job names or is: what may be opened, and that saving never leaves half a file."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from steadfold.job import JobProblems, read_job, write_job
from steadfold.job.cad import LARGEST_FILE
from steadfold.job.fresh import new_job
from steadfold.job.reader import LARGEST_JOB, text_of

STEP_JOB = """\
steadfold = 1
[[part]]
name = "rail end"
material = "S235"
shape = "step"
file = "{file}"
"""


def sentence(path: Path) -> str:
    with pytest.raises(JobProblems) as caught:
        read_job(path)
    (problem,) = caught.value.problems
    return problem.sentence


def step_job(folder: Path, file: str) -> Path:
    path = folder / "job.toml"
    path.write_text(STEP_JOB.format(file=file), encoding="utf-8")
    return path


def test_a_file_below_the_job_is_taken(tmp_path: Path) -> None:
    (tmp_path / "cad").mkdir()
    (tmp_path / "cad" / "rail_end.STP").write_text("solid", encoding="utf-8")
    (part,) = read_job(step_job(tmp_path, "./cad/rail_end.STP")).parts
    assert part.cad is not None
    assert part.cad.file == (tmp_path / "cad" / "rail_end.STP").resolve()
    assert part.cad.path == "./cad/rail_end.STP"
    assert part.thickness_mm is None


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "elsewhere.step").write_text("secret", encoding="utf-8")
    home = tmp_path / "home"
    home.mkdir()
    (home / "rail_end.step").symlink_to(tmp_path / "elsewhere.step")
    (home / "up").symlink_to(tmp_path)
    assert "leaves the folder" in sentence(step_job(home, "rail_end.step"))
    assert "leaves the folder" in sentence(step_job(home, "up/elsewhere.step"))


def test_a_link_within_the_folder_and_a_linked_folder_are_taken(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    (home / "real.step").write_text("solid", encoding="utf-8")
    (home / "rail_end.step").symlink_to(home / "real.step")
    (tmp_path / "other_name").symlink_to(home)
    step_job(home, "rail_end.step")
    assert read_job(tmp_path / "other_name" / "job.toml").parts[0].cad is not None


def test_links_in_a_circle_a_folder_and_a_pipe_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.step").symlink_to(tmp_path / "b.step")
    (tmp_path / "b.step").symlink_to(tmp_path / "a.step")
    assert "cannot be opened" in sentence(step_job(tmp_path, "a.step"))
    (tmp_path / "folder.step").mkdir()
    assert "is not a file" in sentence(step_job(tmp_path, "folder.step"))
    os.mkfifo(tmp_path / "pipe.step")
    assert "is not a file" in sentence(step_job(tmp_path, "pipe.step"))


def test_a_file_of_more_than_50_mb_is_refused_unopened(tmp_path: Path) -> None:
    with open(tmp_path / "huge.step", "wb") as file:
        file.truncate(LARGEST_FILE + 1)
    assert "at most 50 MB" in sentence(step_job(tmp_path, "huge.step"))
    huge = tmp_path / "huge.toml"
    with open(huge, "wb") as file:
        file.truncate(LARGEST_JOB + 1)
    assert "a job has at most" in sentence(huge)


def test_no_file_a_folder_and_a_name_too_long_are_refused(tmp_path: Path) -> None:
    assert sentence(tmp_path / "none.toml") == "there is no such file"
    assert sentence(tmp_path) == "this is not a file"
    assert "cannot be opened" in sentence(tmp_path / ("x" * 300 + ".toml"))
    assert "cannot be opened" in sentence(tmp_path / "x\x00.toml")


def test_a_byte_that_is_no_utf8_is_told_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(b'\xef\xbb\xbfsteadfold = 1\r\n# b\xc3\xb6at\r\nname = "sh\xe9d" # x\r\n')
    with pytest.raises(JobProblems) as caught:
        read_job(path)
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (3, 11)
    assert "byte 0xe9 is not UTF-8" in problem.sentence
    assert problem.source_line.startswith('name = "sh')


def test_saving_keeps_the_text_the_mode_and_the_link(tmp_path: Path) -> None:
    target = tmp_path / "real.toml"
    target.write_text("old", encoding="utf-8")
    target.chmod(0o640)
    link = tmp_path / "job.toml"
    link.symlink_to(target)
    text = "\ufeff" + new_job().replace("\n", "\r\n")
    write_job(link, text)
    assert target.read_bytes() == text.encode("utf-8")
    assert text_of(link) == text
    assert link.is_symlink()
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job.toml", "real.toml"]


@pytest.mark.parametrize("call", ["fsync", "replace", "chmod"])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_full_disk_or_an_interrupt_leaves_the_old_file_alone(
    call: str, error: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "job.toml"
    target.write_text("old", encoding="utf-8")

    def fails(*_args: object, **_words: object) -> None:
        raise error

    monkeypatch.setattr(os, call, fails)
    with pytest.raises(type(error)):
        write_job(target, new_job())
    monkeypatch.undo()
    assert target.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]


def test_a_folder_that_is_not_there_is_an_error_of_the_system(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        write_job(tmp_path / "none" / "job.toml", new_job())
