"""`steadfold flat` stopped on the way leaves no half file: a full disk, and Ctrl-C at any moment."""

from __future__ import annotations

import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import ezdxf
import pytest

SHED = Path(__file__).parents[2] / "examples" / "boat-shed.toml"
COMMAND = [sys.executable, "-m", "steadfold.cli.main", "flat", str(SHED), "--part", "rowlock tray", "--out"]


def _small_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)


def test_a_full_disk_is_a_sentence_and_leaves_nothing(tmp_path: Path) -> None:
    done = subprocess.run(
        [*COMMAND, str(tmp_path / "out")], capture_output=True, text=True, preexec_fn=_small_files, check=False
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stderr.strip()
    assert not list(tmp_path.rglob("*.*"))


@pytest.mark.parametrize("after_s", [0.3, 0.8, 1.3, 1.8, 2.4])
def test_ctrl_c_leaves_whole_files_or_none(tmp_path: Path, after_s: float) -> None:
    out = tmp_path / "out"
    process = subprocess.Popen([*COMMAND, str(out)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    time.sleep(after_s)
    process.send_signal(signal.SIGINT)
    _, complaint = process.communicate(timeout=60)
    assert "fault of its own" not in complaint
    for file in out.glob("*") if out.exists() else ():
        assert file.suffix in (".dxf", ".svg"), f"{file.name} was left behind"
        if file.suffix == ".dxf":
            assert not ezdxf.readfile(file).audit().errors
        else:
            assert file.read_text(encoding="utf-8").rstrip().endswith("</svg>")
