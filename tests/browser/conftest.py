"""The page in Debian's Chromium, served by the command as its owner would start it."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hatch_build import npm_command
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

CHROMIUM = os.environ.get("STEADFOLD_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
HOW = "these tests want Chromium: on Debian, apt install chromium"
FLAGS = [
    "--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-quic",
    "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
WAIT_MS = 40_000
expect.set_options(timeout=20_000)

JOB = """# the dinghy corner
steadfold = 1
name = "Boat shed, dinghy corner"
revision = "B"

[[part]]
name = "mast bracket"
quantity = 4
material = "S235"
thickness = "4 mm"          # what the shop has on the shelf
inside_radius = "4 mm"
shape = "angle bracket"
width = "40 mm"
upright = "120 mm"
arm = "160 mm"

  [[part.carries]]
  item = "mast"
  mass = ["5 kg", "6 kg"]
  on = "arm"

  [part.mount]
  to = "steel"
  fastener = "M6"
  holes = "upright"

[[part]]
name = "paint tray"
material = "DC01"
thickness = "1.5 mm"
inside_radius = "1.5 mm"
shape = "tray"
width = "200 mm"
depth = "100 mm"

  [[part.carries]]
  item = "tin of paint"
  mass = "1 kg"
  on = "floor"

  [part.mount]
  to = "unknown"
  fastener = "M6"
  holes = "back"
"""


def start(*words: str, state: Path) -> tuple[subprocess.Popen[str], str]:
    """The command `steadfold page` in a process of its own, and its link."""
    statement = (
        "import argparse, sys\nfrom steadfold.cli import page\ncommand = argparse.ArgumentParser()\n"
        "command.add_argument('--json', action='store_true')\npage.arguments(command)\n"
        "if __name__ == '__main__': sys.exit(page.run(command.parse_args()))\n"
    )
    environment = {**os.environ, "STEADFOLD_STATE": str(state), "HOME": str(state)}
    command = [sys.executable, "-c", statement, *words, "--json", "--no-browser", "--port", "0"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
    assert process.stdout is not None
    line = process.stdout.readline()
    assert line, "the page did not start"
    return process, json.loads(line)["link"]


def stop(process: subprocess.Popen[str]) -> None:
    process.terminate()
    try:
        process.wait(15)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(15)


@dataclass
class Shed:
    """A page that is served, with its folder."""

    folder: Path
    link: str

    @property
    def job(self) -> Path:
        return self.folder / "corner.toml"


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail(HOW)
        pytest.skip(HOW)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def shed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shed]:
    """One page for all tests of a file; each test puts the job back as it was."""
    folder = tmp_path_factory.mktemp("shed")
    (folder / "corner.toml").write_text(JOB, encoding="utf-8")
    process, link = start(str(folder / "corner.toml"), state=tmp_path_factory.mktemp("state"))
    yield Shed(folder, link)
    stop(process)


@dataclass
class Watched:
    """A browser page, with everything it complained about and every address it asked."""

    page: Page
    complaints: list[str]
    asked: list[str]


@pytest.fixture
def open_page(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Opens pages; afterwards none of them may have complained, nor asked anybody but its own server."""
    opened: list[tuple[BrowserContext, Watched]] = []

    def opener(link: str, *, expect_refusals: bool = False, **more: Any) -> Page:
        context = chromium.new_context(**{"viewport": {"width": 1280, "height": 720}, **more})
        page = context.new_page()
        page.set_default_timeout(WAIT_MS)
        watched = Watched(page, [], [])
        opened.append((context, watched))

        def complained(kind: str, text: str) -> None:
            if not (expect_refusals and "status of 4" in text):
                watched.complaints.append(f"{kind}: {text}")

        page.on("console", lambda m: complained(m.type, m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda e: complained("error", str(e)))
        page.on("request", lambda r: watched.asked.append(r.url))
        page.goto(link)
        return page

    yield opener
    for context, watched in opened:
        origin = "/".join(watched.page.url.split("/")[:3])
        context.close()
        quiet = [c for c in watched.complaints if "GPU stall due to ReadPixels" not in c]
        assert quiet == []
        assert [url for url in watched.asked if not url.startswith((origin, origin.replace("http", "ws")))] == []


def answered(page: Page, level: str = "full") -> None:
    """Wait until the open part is answered, or (`shape`) until it is there at all."""
    page.locator(".stage[data-level=full]" if level == "full" else ".stage[data-level]").wait_for()
    if level == "full":
        page.locator("progress[hidden]").wait_for(state="attached")


@pytest.fixture
def picture(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Keeps a screenshot in the folder named by STEADFOLD_SCREENSHOTS; does nothing without it."""

    def keep(page: Page, name: str, whole: bool = False) -> None:
        folder = os.environ.get("STEADFOLD_SCREENSHOTS")
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=whole)

    return keep


@pytest.fixture(scope="session")
def npm_modules() -> Path:
    """What only these tests need from the npm registry, exactly as the lock says; fetched once a machine."""
    own = Path(__file__).parent / "npm"
    kept, lock = own / "node_modules", own / "package-lock.json"
    stamp = kept / "this-lock.json"
    if not stamp.is_file() or stamp.read_bytes() != lock.read_bytes():
        words = ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
        # Aside first: another process of the same test run may be at it too.
        with tempfile.TemporaryDirectory(dir=own, prefix="node_modules.") as aside:
            for name in ("package.json", "package-lock.json"):
                shutil.copy(own / name, aside)
            subprocess.run([*npm_command(), *words], cwd=aside, check=True, stdin=subprocess.DEVNULL)
            fresh = Path(aside) / "node_modules"
            shutil.copyfile(lock, fresh / stamp.name)
            if kept.is_dir() and not (stamp.is_file() and stamp.read_bytes() == lock.read_bytes()):
                shutil.rmtree(kept, ignore_errors=True)
            with contextlib.suppress(OSError):
                fresh.rename(kept)
    return kept


@pytest.fixture(scope="session")
def axe(npm_modules: Path) -> str:
    """The accessibility checks of axe-core, as one script."""
    return (npm_modules / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
