"""The doctor names the Debian package of a missing shared library.

The messages are the loader's own: either provoked here, by asking it for a library that does not exist, or
quoted from Debian 12 (glibc 2.36) where provoking them would need another machine. Library and package as
`dpkg -S` pairs them.
"""

from __future__ import annotations

import ctypes
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from steadfold.cli import doctor

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="the loader's wording is glibc's")


@LINUX
def test_the_loaders_own_complaint_is_understood() -> None:
    with pytest.raises(OSError) as complaint:
        ctypes.CDLL("libboatshed.so.7")
    assert doctor.missing_library(str(complaint.value)) == "libboatshed.so.7"


@pytest.mark.parametrize(
    ("message", "library", "package"),
    [
        (
            "ImportError: libGL.so.1: cannot open shared object file: No such file or directory",
            "libGL.so.1",
            "libgl1",
        ),
        (
            "Traceback (most recent call last):\n"
            '  File "<string>", line 1, in <module>\n'
            "ImportError: libX11.so.6: cannot open shared object file: No such file or directory\n",
            "libX11.so.6",
            "libx11-6",
        ),
        (
            "OSError: libexpat.so.1: cannot open shared object file: No such file or directory",
            "libexpat.so.1",
            "libexpat1",
        ),
        (
            "python3: error while loading shared libraries: libz.so.1: cannot open shared object file: "
            "No such file or directory",
            "libz.so.1",
            "zlib1g",
        ),
        (
            "ImportError: libstdc++.so.6: cannot open shared object file: No such file or directory",
            "libstdc++.so.6",
            "libstdc++6",
        ),
    ],
)
def test_a_missing_library_is_named_with_its_package(message: str, library: str, package: str) -> None:
    assert doctor.missing_library(message) == library
    assert doctor.packages_for([library]) == (package,)


@pytest.mark.parametrize(
    "message",
    ["ModuleNotFoundError: No module named 'oars'", "ImportError: cannot import name 'so' from 'x'", ""],
)
def test_another_complaint_is_not_taken_for_a_missing_library(message: str) -> None:
    assert doctor.missing_library(message) is None
    assert doctor.outdated_library(message) is None


@pytest.mark.parametrize(
    ("message", "expected"),
    [
        (
            "ImportError: /lib/x86_64-linux-gnu/libc.so.6: version `GLIBC_2.38' not found "
            "(required by /x/_core.cpython-311-x86_64-linux-gnu.so)",
            ("libc.so.6", "GLIBC_2.38"),
        ),
        (
            "ImportError: /lib/x86_64-linux-gnu/libstdc++.so.6: version `GLIBCXX_3.4.32' not found "
            "(required by /x/a.so)",
            ("libstdc++.so.6", "GLIBCXX_3.4.32"),
        ),
    ],
)
def test_a_system_that_is_too_old_is_told_from_one_that_lacks_a_library(
    message: str, expected: tuple[str, str]
) -> None:
    assert doctor.outdated_library(message) == expected
    assert doctor.missing_library(message) is None


def test_ldd_names_each_unresolved_library_once() -> None:
    listing = (
        "/x/a.so:\n\tlinux-vdso.so.1 (0x00007ffd2a9f2000)\n\tlibGL.so.1 => not found\n"
        "\tlibm.so.6 => /lib/x86_64-linux-gnu/libm.so.6 (0x00007f5c3a)\n\tlibX11.so.6 => not found\n"
        "/x/b.so:\n\tlibGL.so.1 => not found\n"
    )
    assert doctor.unresolved_libraries(listing) == ("libGL.so.1", "libX11.so.6")


@LINUX
def test_a_module_that_lacks_a_library_fails_its_check_and_gives_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A module stands in for the heavy library; loader, message and child process are the real ones."""
    monkeypatch.setitem(doctor.DEBIAN_PACKAGES, "libboatshed.so.7", "libboatshed7")
    (tmp_path / "oars.py").write_text("import ctypes\nctypes.CDLL('libboatshed.so.7')\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    check = doctor.check_of_library(doctor.Library("oars", "import oars", "rowing"))
    assert not check.passed
    assert check.missing == ("libboatshed.so.7",)
    assert check.packages == ("libboatshed7",)
    assert "apt install libboatshed7" in check.say


@LINUX
def test_a_library_that_crashes_the_interpreter_is_reported_not_fatal() -> None:
    crash = doctor.Library("oars", "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "rowing")
    check = doctor.check_of_library(crash)
    assert not check.passed
    assert "signal 11" in check.say


def test_a_library_that_is_not_installed_is_named() -> None:
    check = doctor.check_of_library(doctor.Library("oars", "import no_such_library_of_oars", "rowing"))
    assert not check.passed
    assert "no_such_library_of_oars" in check.say


def test_a_full_disk_fails_its_check(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = shutil.disk_usage(tmp_path)
    assert doctor.check_of_disk(tmp_path).passed is (usage.free >= doctor.LEAST_FREE_MB * 1_000_000)
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: usage._replace(free=1_000_000))
    assert not doctor.check_of_disk(tmp_path).passed


def test_every_declared_dependency_is_looked_at() -> None:
    import re
    import tomllib

    project = tomllib.loads((Path(__file__).resolve().parents[2] / "pyproject.toml").read_text())["project"]
    declared = {re.split(r"[<>=!~ \[;]", text)[0] for text in project["dependencies"]}
    assert declared == {library.distribution for library in doctor.LIBRARIES}


def test_the_report_of_this_machine_is_one_json_object_and_its_status_agrees() -> None:
    outcome = subprocess.run(
        [sys.executable, "-m", "steadfold.cli.doctor", "--json"], capture_output=True, text=True, check=False
    )
    said = json.loads(outcome.stdout)
    assert [check["name"] for check in said["checks"]][:2] == ["python", "disk"]
    assert said["passed"] is all(check["passed"] for check in said["checks"])
    assert outcome.returncode == (0 if said["passed"] else 1)
