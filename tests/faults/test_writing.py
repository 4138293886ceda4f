"""Interrupted writes: a name holds the whole new file or what it held before, and nothing is left beside it."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from steadfold.deliver import writing
from steadfold.deliver.writing import write_all, write_aside

FILES = {"a.dxf": b"new a", "b.svg": b"new b", "c.step": b"new c"}


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_file_is_written_and_replaced_whole(tmp_path: Path) -> None:
    write_aside(tmp_path / "a", b"one")
    write_aside(tmp_path / "a", b"two")
    assert content(tmp_path) == {"a": b"two"}


def test_a_new_file_has_the_permissions_of_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "plain").write_bytes(b"")
    write_aside(tmp_path / "a", b"one")
    assert (tmp_path / "a").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_link_keeps_pointing_where_it_did(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"old")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_aside(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"


@pytest.mark.parametrize("call", ["fsync", "replace"])
@pytest.mark.parametrize("fault", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_leaves_the_old_file_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, fault: BaseException
) -> None:
    (tmp_path / "a").write_bytes(b"old")

    def fail(*_: object) -> None:
        raise fault

    monkeypatch.setattr(writing.os, call, fail)
    with pytest.raises(type(fault)):
        write_aside(tmp_path / "a", b"new")
    assert content(tmp_path) == {"a": b"old"}


@pytest.mark.parametrize("nth", [1, 2, 3])
@pytest.mark.parametrize("fault", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_of_several_files_none_is_changed_unless_all_could_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, nth: int, fault: BaseException
) -> None:
    (tmp_path / "a.dxf").write_bytes(b"old a")
    real, calls = os.fsync, []

    def fail(handle: int) -> None:
        calls.append(handle)
        if len(calls) == nth:
            raise fault
        real(handle)

    monkeypatch.setattr(writing.os, "fsync", fail)
    with pytest.raises(type(fault)):
        write_all(tmp_path, FILES)
    assert content(tmp_path) == {"a.dxf": b"old a"}


def test_several_files_are_written_into_a_folder_that_is_made(tmp_path: Path) -> None:
    write_all(tmp_path / "out" / "rack", FILES)
    assert content(tmp_path / "out" / "rack") == FILES


def test_a_folder_made_for_nothing_is_taken_away_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(writing.os, "fsync", fail)
    with pytest.raises(OSError, match="No space"):
        write_all(tmp_path / "out" / "rack", FILES)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["", ".", "..", "../a", "a/b", "/a", "a\\b", "a\0b"])
def test_a_name_that_leads_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="plain name"):
        write_all(tmp_path / "out", {"good": b"", name: b""})
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_nothing_half_written(tmp_path: Path) -> None:
    """A real limit of the system on the size of a file stands for the full disk."""
    resource = pytest.importorskip("resource")
    statement = (
        "import resource, sys; from steadfold.deliver.writing import write_all\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "try: write_all(sys.argv[1], {'small': b'x', 'large': b'y' * 100_000})\n"
        "except OSError as fault: print(fault.strerror)"
    )
    (tmp_path / "small").write_bytes(b"old")
    outcome = subprocess.run(
        [sys.executable, "-c", statement, str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert resource is not None
    assert outcome.stdout.strip() == os.strerror(errno.EFBIG)
    assert content(tmp_path) == {"small": b"old"}


def test_ctrl_c_in_the_middle_leaves_nothing_half_written(tmp_path: Path) -> None:
    """The process is interrupted for real while it waits for the disk."""
    statement = (
        "import sys, time; from steadfold.deliver import writing\n"
        "def wait(handle): print('writing', flush=True); time.sleep(60)\n"
        "writing.os.fsync = wait\n"
        "writing.write_all(sys.argv[1], {'a': b'new', 'b': b'new'})"
    )
    (tmp_path / "a").write_bytes(b"old")
    process = subprocess.Popen(
        [sys.executable, "-c", statement, str(tmp_path)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "writing\n"
    time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    assert process.wait(30) != 0
    process.stdout.close()
    assert content(tmp_path) == {"a": b"old"}
