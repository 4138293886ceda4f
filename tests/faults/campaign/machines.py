"""Machines that will not: a full disk, a folder that cannot be written to, a missing library, a clock set back, no 3D in the
browser, two pages on one folder."""

from __future__ import annotations

import contextlib
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from tests.faults.campaign.files import HEADER, QUOTE_ROWS, ROOT, command
from tests.faults.campaign.forked import ANSWER, BAD, HALF, REFUSED, SENTENCE, TRACEBACK, Case, Outcome, all_tried

SHELF = str(ROOT / "examples" / "notice-shelf.toml")
STAND = str(ROOT / "examples" / "press-stand.toml")
LIBRARIES = (
    "OCP", "ezdxf", "highspy", "netgen", "pint", "pypdfium2", "rich", "scipy", "shapely", "spyrrow", "starlette", "typst",
    "uvicorn", "websockets",
)  # fmt: skip


def writers(folder: Path) -> dict[str, tuple[str, ...]]:
    """Commands that write, into this folder."""
    there = str(folder)
    return {
        "new": ("new", f"{there}/fresh"),
        "flat": ("flat", SHELF, "--out", f"{there}/flats"),
        "flat --models": ("flat", SHELF, "--out", f"{there}/models", "--models"),
        "read --out": (
            "read",
            f"{there}/../plate.dxf",
            "--material",
            "DC01",
            "--thickness",
            "2 mm",
            "--out",
            f"{there}/read",
        ),
        "read --job": (
            "read",
            f"{there}/../plate.dxf",
            "--material",
            "DC01",
            "--thickness",
            "2 mm",
            "--job",
            f"{there}/own/job.toml",
        ),
        "size --cache": ("size", SHELF, "--coarse", "--vary", "thickness=2 mm,3 mm", "--cache", f"{there}/sizes.jsonl"),
        "size --picture": ("size", SHELF, "--coarse", "--vary", "thickness=2 mm", "--picture", f"{there}/sizes.svg"),
        "cost --nest": ("cost", SHELF, "--nest", f"{there}/nest", "--seconds", "2"),
        "order": ("order", SHELF, "--out", f"{there}/order"),
        "template": ("template", STAND, "--out", f"{there}/templates"),
    }


def half_written(folder: Path) -> str:
    """A file in the folder that is not whole, or was left beside one; empty when there is none."""
    for path in sorted(folder.rglob("*")):
        if not path.is_file():
            continue
        data = path.read_bytes()
        ends = {".dxf": b"EOF", ".svg": b"</svg>", ".pdf": b"%%EOF", ".step": b"END-ISO-10303-21;"}
        if path.suffix in ends and not data.rstrip().endswith(ends[path.suffix]):
            return f"{path.name} is cut off"
        if path.name.startswith(".") or path.suffix in (".part", ".tmp"):
            return f"{path.name} was left lying about"
        if path.suffix == ".toml" and not data:
            return f"{path.name} is empty"
    return ""


def _limited(limit: int) -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)


@contextlib.contextmanager
def small_disk(folder: Path, kib: int) -> Iterator[bool]:
    """A disk of a few kibibytes at the folder; False where this user may not mount one."""
    folder.mkdir(exist_ok=True)
    words = ["mount", "-t", "tmpfs", "-o", f"size={kib}k", "tmpfs", str(folder)]
    mounted = os.geteuid() == 0 and shutil.which("mount") is not None
    mounted = mounted and subprocess.run(words, capture_output=True, check=False).returncode == 0
    try:
        yield mounted
    finally:
        if mounted:
            subprocess.run(["umount", str(folder)], check=False)


def _one(kind: str, name: str, call: Callable[[], int], folder: Path, limit_s: float) -> Outcome:
    """A command in a fork, and what it left in the folder; a sentence about the machine counts as refused."""
    (outcome,) = all_tried([Case(kind, name, call)], limit_s, lambda done: None)
    left = half_written(folder)
    if outcome.what not in BAD and left:
        return Outcome(kind, name, HALF, left)
    if outcome.what == SENTENCE:
        return Outcome(kind, name, REFUSED, outcome.said, outcome.seconds)
    return outcome


def sound(folder: Path, names: Sequence[str] | None = None) -> None:
    """Raise `SystemExit` when a command that writes does not do so on a machine that will."""
    for name in names or writers(folder):
        disk = folder / "large"
        disk.mkdir()
        words = writers(disk)[name]

        def call(words: tuple[str, ...] = words) -> int:
            return command(*words)

        outcome = _one("sound", name, call, disk, 240)
        if outcome.what != ANSWER or not any(disk.iterdir()):
            raise SystemExit(f"`{name}` writes nothing where it may: {outcome.what} {outcome.said}")
        shutil.rmtree(disk)


def full_disk(folder: Path, sizes: Sequence[int], names: Sequence[str] | None = None) -> Iterator[Outcome]:
    """Every command that writes, on a disk with room for so many kibibytes; files of that length where none can be had."""
    for kib in sizes:
        disk = folder / "disk"
        for name in names or writers(disk):
            with small_disk(disk, kib) as mounted:
                words = writers(disk)[name]

                def call(words: tuple[str, ...] = words, mounted: bool = mounted, kib: int = kib) -> int:
                    if not mounted:
                        _limited(1024 * kib)
                    return command(*words)

                yield _one("full disk", f"{name}, {kib} KiB", call, disk, 120)
            shutil.rmtree(disk, ignore_errors=True)


def read_only(folder: Path, names: Sequence[str] | None = None) -> Iterator[Outcome]:
    """Every command that writes, into a folder that cannot be written to, with an older file in it."""
    disk = folder / "shut"
    for name in names or writers(disk):
        with small_disk(disk, 2000) as mounted:
            (disk / "older.txt").write_text("older")
            if mounted:
                subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
            elif os.geteuid() != 0:
                disk.chmod(0o555)
            else:
                return
            words = writers(disk)[name]

            def call(words: tuple[str, ...] = words) -> int:
                return command(*words)

            yield _one("read-only folder", name, call, disk, 120)
            if not mounted:
                disk.chmod(0o755)
        shutil.rmtree(disk, ignore_errors=True)


def missing_library(folder: Path, names: Sequence[str] = LIBRARIES) -> Iterator[Outcome]:
    """Commands on a machine where a library cannot be loaded."""
    tried = {
        "rate": ("rate", SHELF, "--json"),
        "cost --nest": ("cost", SHELF, "--nest", str(folder / "nest"), "--seconds", "2"),
        "flat --models": ("flat", SHELF, "--out", str(folder / "flats"), "--models"),
        "order": ("order", SHELF, "--out", str(folder / "order")),
        "template": ("template", STAND, "--out", str(folder / "templates")),
        "read": ("read", str(folder / "plate.dxf"), "--material", "DC01", "--thickness", "2 mm"),
    }
    for library in names:
        without = folder / f"without-{library}"
        without.mkdir()
        for name, words in tried.items():

            def call(library: str = library, words: tuple[str, ...] = words, without: Path = without) -> int:
                # Here and in every child: a module of this name is found first and cannot be loaded.
                (without / f"{library}.py").write_text(f"raise ModuleNotFoundError({library!r}, name={library!r})\n")
                for loaded in [m for m in sys.modules if m.split(".")[0] in ("steadfold", library)]:
                    del sys.modules[loaded]
                sys.path.insert(0, str(without))
                os.environ["PYTHONPATH"] = os.pathsep.join([str(without), os.environ.get("PYTHONPATH", "")])
                return command(*words)

            yield _one("missing library", f"{name} without {library}", call, folder / "flats", 240)


def clock_set_back(folder: Path) -> Iterator[Outcome]:
    """The same again with a clock that has gone back a year, and dates that are still to come."""
    out = folder / "flats"
    later = HEADER + QUOTE_ROWS.replace("2026-", "2099-")
    (folder / "later.csv").write_text(later)

    def set_back() -> None:
        real = time.time
        time.time = lambda: real() - 400 * 86400  # type: ignore[assignment]

    def again(*words: str) -> Callable[[], int]:
        def call() -> int:
            first = command(*words)
            set_back()
            for path in folder.rglob("*"):
                os.utime(path, (4_000_000_000, 4_000_000_000))
            second = command(*words)
            return first if first == second else 70

        return call

    yield _one("clock set back", "flat over its own files", again("flat", SHELF, "--out", str(out)), out, 120)
    yield _one(
        "clock set back",
        "order over its own folder",
        again("order", SHELF, "--out", str(folder / "order")),
        folder / "order",
        240,
    )
    size = ("size", SHELF, "--coarse", "--vary", "thickness=2 mm,3 mm", "--cache", str(folder / "sizes.jsonl"))
    yield _one("clock set back", "size with its cache", again(*size), out, 120)
    shed = str(ROOT / "examples" / "boat-shed.toml")
    quoted = ("cost", shed, "--part", "oar rack", "--quotes", str(folder / "later.csv"), "--json")
    yield _one("clock set back", "quotes that are still to come", again(*quoted), out, 120)

    def history() -> int:
        from steadfold.page.history import History

        kept = History(folder)
        kept.found("a.toml", "one", "as it was opened")
        kept.add("a.toml", "two", "width")
        set_back()
        kept.add("a.toml", "three", "width")
        assert kept.beside("a.toml", -1) == "two"
        kept.moved("a.toml", -1)
        assert kept.beside("a.toml", -1) == "one" and kept.beside("a.toml", 1) == "three"
        return 0

    yield _one("clock set back", "undo and redo of the page", history, out, 60)


def two_pages(folder: Path, edits: int) -> Iterator[Outcome]:
    """Two pages on one folder, both editing one job: each edit is made, or refused because the other was first."""
    from tests.browser.conftest import stop
    from tests.faults.page_server import JOB
    from tests.faults.test_page_kept import Owner

    from steadfold.job import read_job

    shed = folder / "shed"
    shed.mkdir()
    file = shed / "rack.toml"
    file.write_text(JOB, encoding="utf-8")
    owners = [Owner(shed, folder / f"state{k}") for k in range(2)]
    known = [owner.ask(owner.api)[1]["revision"] for owner in owners]
    last = 300.0
    for number in range(edits):
        who = (number // 2 + number) % 2
        width = 200.0 + number
        wish = {
            "revision": known[who],
            "say": "width",
            "changes": [{"way": ["part", "oar rack", "width"], "value": f"{width} mm"}],
        }
        for owner in owners:  # the server lets go of a line that is silent for long
            owner.line.close()
        status, told = owners[who].ask(f"{owners[who].api}/edit", wish)
        found = float(str(read_job(file).parts[0].shape_values["width"]))
        what, said = ANSWER, ""
        if status == 200 and found != width:
            what, said = HALF, f"{width} was acknowledged and the file says {found}"
        elif status != 200 and found != last:
            what, said = HALF, f"an edit was refused and the file says {found} instead of {last}"
        elif status >= 500:
            what, said = TRACEBACK, f"answered {status}"
        elif status != 200:
            what = REFUSED
        yield Outcome("two pages on one folder", f"edit {number}", what, said)
        last = found
        known[who] = told["revision"] if status == 200 else owners[who].ask(owners[who].api)[1]["revision"]
    for owner in owners:
        stop(owner.process)


def without_3d(folder: Path) -> Iterator[Outcome]:
    """The page in a browser that has no WebGL: the verdict is there, a sentence or a drawing stands for the picture."""
    kind, name = "no WebGL", "the page of a job"
    try:
        from playwright.sync_api import sync_playwright
        from tests.browser.conftest import CHROMIUM, JOB, start, stop
    except ImportError:
        return
    if CHROMIUM is None:
        return
    shed = folder / "no-3d"
    shed.mkdir()
    (shed / "corner.toml").write_text(JOB, encoding="utf-8")
    process, link = start(str(shed / "corner.toml"), state=folder / "state-3d")
    flags = ["--no-sandbox", "--disable-gpu", "--disable-webgl", "--disable-3d-apis", "--disable-software-rasterizer"]
    faults: list[str] = []
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=flags)
            page = browser.new_page()
            page.on("pageerror", lambda error: faults.append(str(error)))
            page.goto(link)
            page.wait_for_load_state("networkidle", timeout=120_000)
            page.wait_for_function("() => /enough|tight|unproven|stop/.test(document.body.innerText)", timeout=180_000)
            has = page.evaluate(
                "() => { const c = document.createElement('canvas'); return !!c.getContext('webgl2'); }"
            )
            text = page.inner_text("body")
            browser.close()
        if has:
            faults.append("this browser has WebGL after all")
        yield Outcome(
            kind, name, TRACEBACK if faults else ANSWER, "; ".join(faults)[:400] or f"{len(text)} characters said"
        )
    except Exception as error:
        yield Outcome(kind, name, TRACEBACK, f"{type(error).__name__}: {str(error)[:300]}")
    finally:
        stop(process)
