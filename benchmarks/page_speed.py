"""From an edit on the page to the answers, and from the slider to the frame.

Prints medians over several edits of one part of the example: saved, shape drawn, coarse answer, full answer; beside
them the same review done in one process, as ratios of one run. Then a perforated wall of more than 10,000 triangles is
folded in Chromium by its slider: what folding costs a frame in the browser, and how far apart the frames are. No request
goes to the server meanwhile. Chromium draws without a graphics card here, so real machines draw faster.
"""

from __future__ import annotations

import http.client
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
PART = 2
"""The epoxy gun saddle: the smallest part of the example."""
EDITS = 7


class Line:
    """A connection to the page, with its key."""

    def __init__(self, link: str):
        self.host = link.split("/")[2]
        self.cookie = f"steadfold-{self.host.split(':')[1]}={link.split('key=')[1].split('&')[0]}"
        self.job = f"/api/jobs/{link.split('job=')[1]}"
        self.talk = http.client.HTTPConnection(self.host, timeout=120)

    def ask(self, path: str, body: dict[str, Any] | None = None) -> bytes:
        headers = {"Cookie": self.cookie}
        if body is not None:
            headers |= {"Origin": f"http://{self.host}", "Content-Type": "application/json"}
        self.talk.request(
            "POST" if body else "GET", self.job + path, None if body is None else json.dumps(body), headers
        )
        return self.talk.getresponse().read()


def measured(line: Line) -> dict[str, float]:
    """Medians of the moments after an edit, in seconds."""
    revision = json.loads(line.ask(""))["revision"]
    line.ask(f"/part/{PART}/answer?level=full")
    times: dict[str, list[float]] = {"saved": [], "shape drawn": [], "coarse answer": [], "full answer": []}
    for number in range(EDITS):
        change = {"way": ["part", PART, "height"], "value": f"{90 + number / 2} mm"}
        start = time.perf_counter()
        told = json.loads(line.ask("/edit", {"revision": revision, "say": "height", "part": PART, "changes": [change]}))
        revision = told["revision"]
        times["saved"].append(time.perf_counter() - start)
        for level, name in (("shape", "shape drawn"), ("quick", "coarse answer"), ("full", "full answer")):
            line.ask(f"/part/{PART}/{'scene' if level == 'shape' else 'answer'}?level={level}")
            times[name].append(time.perf_counter() - start)
    return {name: statistics.median(each) for name, each in times.items()}


def in_one_process() -> float:
    """The same review without a page."""
    from steadfold.job import read_job
    from steadfold.review import review

    job = read_job(ROOT / "examples" / "boat-shed.toml")
    alone = replace(job, parts=(job.parts[PART],), stands=())
    review(alone)
    took = []
    for _ in range(3):
        start = time.perf_counter()
        review(alone)
        took.append(time.perf_counter() - start)
    return statistics.median(took)


WALL = """steadfold = 1
name = "Boat shed, tool wall"

[[part]]
name = "peg wall"
material = "DC01"
thickness = "1.5 mm"
inside_radius = "1.5 mm"
shape = "panels"

  [[part.panel]]
  name = "back"
  size = ["600 mm", "340 mm"]
{rows}
  [[part.panel]]
  name = "shelf"
  from = "back"
  edge = "bottom"
  bend = "90 deg"
  size = ["600 mm", "120 mm"]

  [[part.panel]]
  name = "lip"
  from = "shelf"
  edge = "far"
  bend = "90 deg"
  size = ["600 mm", "25 mm"]

  [[part.panel]]
  name = "top"
  from = "back"
  edge = "top"
  bend = "90 deg"
  size = ["600 mm", "30 mm"]
"""
ROW = """
  [[part.panel.cutout]]
  shape = "circle"
  diameter = "9 mm"
  at = ["50 mm", "{y} mm"]
  repeat = {{ count = 11, step = ["50 mm", "0 mm"] }}
"""
FRAMES = 240
MOVE = """async (frames) => {
  const slider = document.querySelector('#fold'), picture = document.querySelector('.stage').picture;
  const apart = [], folding = [], drawing = [];
  const render = picture.renderer.render;
  picture.renderer.render = (...given) => {
    const start = performance.now();
    render.apply(picture.renderer, given);
    drawing.push(performance.now() - start);
  };
  const before = picture.drawn;
  let last = await new Promise(requestAnimationFrame);
  for (let i = 0; i < frames; i += 1) {
    const start = performance.now();
    slider.value = String(0.5 - 0.5 * Math.cos(i / frames * 6 * Math.PI));
    slider.dispatchEvent(new Event('input'));
    folding.push(performance.now() - start);
    const now = await new Promise(requestAnimationFrame);
    apart.push(now - last);
    last = now;
  }
  picture.renderer.render = render;
  return { apart, folding, drawing, drawn: picture.drawn - before, triangles: picture.mesh.geometry.index.count / 3 };
}"""


def slider(link: str) -> dict[str, Any]:
    """What moving the fold slider costs in Chromium: milliseconds of each frame."""
    from playwright.sync_api import sync_playwright

    chromium = os.environ.get("STEADFOLD_CHROMIUM") or shutil.which("chromium")
    flags = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=flags)
        page = browser.new_page(viewport={"width": 1280, "height": 720})
        page.goto(link)
        page.locator(".stage[data-level=full]").wait_for(timeout=240_000)
        page.evaluate(MOVE, 30)
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        found: dict[str, Any] = page.evaluate(MOVE, FRAMES)
        browser.close()
    return {**found, "asked": [url for url in asked if "/scene" in url]}


def say_slider(found: dict[str, Any]) -> None:
    """Medians and what nineteen of twenty frames keep within."""
    print(
        f"slider on {found['triangles']:.0f} triangles drawn, {len(found['apart'])} steps, {found['drawn']} frames drawn"
    )
    for key, name in (
        ("folding", "folding, computed in the browser"),
        ("drawing", "handing the frame to be drawn"),
        ("apart", "from frame to frame"),
    ):
        each = sorted(found[key])
        late = each[int(0.95 * len(each))]
        print(f"  {name:<34} median {statistics.median(each):6.1f} ms, 95 % within {late:6.1f} ms")
    print(f"  scenes asked of the server meanwhile: {len(found['asked'])}")


def served(text: str, place: str) -> tuple[subprocess.Popen[str], str]:
    """A page on a job of that text in a folder of its own, and its link."""
    os.makedirs(place)
    Path(place, "job.toml").write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "steadfold.cli.main", "page", f"{place}/job.toml"]
    environment = {**os.environ, "STEADFOLD_STATE": f"{place}/state"}
    process = subprocess.Popen(
        [*command, "--json", "--no-browser", "--port", "0"], stdout=subprocess.PIPE, text=True, env=environment
    )
    assert process.stdout is not None
    return process, json.loads(process.stdout.readline())["link"]


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as place:
        process, link = served((ROOT / "examples" / "boat-shed.toml").read_text(encoding="utf-8"), f"{place}/edits")
        try:
            found = measured(Line(link))
        finally:
            process.terminate()
            process.wait(15)
        rows = "".join(ROW.format(y=30 + 50 * row) for row in range(6))
        process, link = served(WALL.format(rows=rows), f"{place}/slider")
        try:
            moved = slider(link)
        finally:
            process.terminate()
            process.wait(15)
    alone = in_one_process()
    print(f"the same review in one process: {alone:.2f} s")
    for name, took in found.items():
        print(f"  edit to {name:<14} {took:6.3f} s  {took / alone:6.2f} of it")
    say_slider(moved)


if __name__ == "__main__":
    main()
