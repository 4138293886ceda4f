"""From an edit on the page to the answers, beside the same review done in one process; ratios, in one run.

Prints medians over several edits of one part of the example: saved, shape drawn, coarse answer, full answer.
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


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as place:
        shutil.copy(ROOT / "examples" / "boat-shed.toml", Path(place) / "job.toml")
        command = [
            sys.executable,
            "-m",
            "steadfold.cli.main",
            "page",
            f"{place}/job.toml",
            "--json",
            "--no-browser",
            "--port",
            "0",
        ]
        environment = {**os.environ, "STEADFOLD_STATE": f"{place}/state"}
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
        assert process.stdout is not None
        try:
            found = measured(Line(json.loads(process.stdout.readline())["link"]))
        finally:
            process.terminate()
            process.wait(15)
    alone = in_one_process()
    print(f"the same review in one process: {alone:.2f} s")
    for name, took in found.items():
        print(f"  edit to {name:<14} {took:6.3f} s  {took / alone:6.2f} of it")


if __name__ == "__main__":
    main()
