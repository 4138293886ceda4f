"""Processes killed at any moment while they save, write an order folder or search: what was acknowledged is there, whole."""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.faults.campaign.files import ROOT
from tests.faults.campaign.forked import ANSWER, HALF, Outcome, killed_at

Acknowledge = Callable[[int], None]


def _outcome(kind: str, name: str, fault: str) -> Outcome:
    return Outcome(kind, name, HALF if fault else ANSWER, fault)


def saves(count: int, seed: int, folder: Path) -> Iterator[Outcome]:
    """`write_job` again and again: the file is the last acknowledged version or the next, and reads."""
    from steadfold.job import read_job
    from steadfold.job.writer import write_job

    text = (ROOT / "examples" / "notice-shelf.toml").read_text(encoding="utf-8")
    lot = random.Random(seed)
    path = folder / "job.toml"

    def work(acknowledge: Acknowledge) -> None:
        for number in range(1, 1_000_000):
            # Lengths differ, so that a mixture of two versions cannot pass.
            write_job(path, f"# version {number}\n{text}# {'x' * (number % 7 * 4000)}\n")
            acknowledge(number)

    for number in range(count):
        said = killed_at(work, lot.uniform(0, 0.02), first=lot.choice((1, 2, 5)))
        fault = ""
        try:
            version = int(path.read_text(encoding="utf-8").split("\n", 1)[0].split()[-1])
            read_job(path)
            if not said <= version <= said + 1:
                fault = f"acknowledged {said}, found {version}"
        except Exception as error:
            fault = f"{type(error).__name__}: {error}"
        yield _outcome("kill while saving a job", f"{seed}.{number}", fault)
    left = [p for p in folder.iterdir() if p.name != "job.toml"]
    for aside in left:
        aside.unlink()


def orders(count: int, seed: int, folder: Path) -> Iterator[Outcome]:
    """An order folder written again and again: every file of it is of one version, the acknowledged one or the next."""
    from steadfold.deliver import order_folder as order

    lot = random.Random(seed)
    target = folder / "order"

    def work(acknowledge: Acknowledge) -> None:
        for number in range(1, 1_000_000):
            files = {
                f"{where}/{n}.txt": f"{number} ".encode() * (500 + 900 * n)
                for where in ("shop", "bench")
                for n in range(4)
            }
            listed = [{"path": n, "bytes": len(d), "sha256": order._sha(d)} for n, d in sorted(files.items())]
            whole = {**files, order.CONTENTS: json.dumps({"files": listed}).encode()}
            order.write_order_folder(target, order.OrderFolder(whole, (), (), ()))
            acknowledge(number)

    for number in range(count):
        said = killed_at(work, lot.uniform(0, 0.04), first=lot.choice((1, 1, 2)))
        found = {p.relative_to(target).as_posix(): p.read_bytes() for p in target.rglob("*") if p.is_file()}
        versions = {int(data.split(b" ", 1)[0]) for name, data in found.items() if name != order.CONTENTS}
        listed = {row["path"]: row["bytes"] for row in json.loads(found[order.CONTENTS])["files"]}
        fault = ""
        if len(versions) != 1 or not said <= min(versions) <= said + 1:
            fault = f"acknowledged {said}, found {sorted(versions)}"
        elif listed != {n: len(d) for n, d in found.items() if n != order.CONTENTS}:
            fault = "the list of contents is of another version"
        yield _outcome("kill while writing an order", f"{seed}.{number}", fault)


def searches(count: int, seed: int, folder: Path) -> Iterator[Outcome]:
    """A search with its cache: what was finished is on the disk, and the next search asks no more for it."""
    from steadfold.money.search import Answer, Axis, Candidate, Screen, cheapest

    axes = (Axis("gauge", tuple(range(20)), True), Axis("width", tuple(range(12)), True))
    lot = random.Random(seed)

    def model(candidate: Candidate) -> Answer:
        time.sleep(0.001)
        gauge, width = (int(v) for v in candidate)
        return Answer("enough" if gauge * width > 60 else "too weak", gauge * (5.0 + width), gauge * width, "é" * 30)

    def screen(candidate: Candidate) -> Screen:
        return Screen(int(candidate[0]) * (5.0 + int(candidate[1])))

    cache = folder / "answers.jsonl"
    for number in range(count):
        if number % 6 == 0:
            cache.unlink(missing_ok=True)

        def work(acknowledge: Acknowledge) -> None:
            def tell(share: float, what: str) -> None:
                if " tried" in what:
                    acknowledge(int(what.split()[0]))

            cheapest(axes, screen, model, cache_path=cache, whole_front=True, tell=tell)

        before = _whole_lines(cache)
        said = killed_at(work, lot.uniform(0, 0.05))
        after = _whole_lines(cache)
        fault = (
            ""
            if len(after) >= len(before) + said
            else f"{len(before)} before, {said} finished, {len(after)} on the disk"
        )
        if len(set(after)) != len(after):
            fault = "an answer stands there twice"
        yield _outcome("kill while searching sizes", f"{seed}.{number}", fault)
    whole = cheapest(axes, screen, model, cache_path=cache)
    if whole.best != cheapest(axes, screen, model).best:
        yield _outcome("kill while searching sizes", f"{seed}.end", "another optimum after the kills")


def _whole_lines(path: Path) -> list[tuple[object, ...]]:
    if not path.exists():
        return []
    rows = []
    for line in path.read_bytes().split(b"\n")[:-1]:
        with contextlib.suppress(ValueError, KeyError):
            rows.append(tuple(json.loads(line)["candidate"]))
    return rows


def commands(count: int, seed: int, folder: Path) -> Iterator[Outcome]:
    """The commands themselves in processes of their own, killed: `order` and `size` with two workers."""
    lot = random.Random(seed)
    shelf = str(ROOT / "examples" / "notice-shelf.toml")
    out, cache = folder / "given", folder / "sizes.jsonl"
    for number in range(count):
        sizes = number % 2 == 1
        words = (
            ["size", shelf, "--coarse", "--workers", "2", "--cache", str(cache)]
            if sizes
            else ["order", shelf, "--out", str(out)]
        )
        before = _whole_lines(cache)
        process = subprocess.Popen(
            [sys.executable, "-m", "steadfold.cli.main", *words],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(lot.uniform(1.0, 25.0))
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        fault = ""
        if sizes and not set(before) <= set(_whole_lines(cache)):
            fault = "an answer is gone"
        if not sizes and out.exists():
            listing = next(iter(out.rglob("*.json")), None)
            rows = json.loads(listing.read_text())["files"] if listing else None
            if not rows or any((out / row["path"]).stat().st_size != row["bytes"] for row in rows):
                fault = "the folder is not what its contents say"
        yield _outcome(f"kill of `{words[0]}` itself", f"{seed}.{number}", fault)


def pages(kills: int, seed: int, folder: Path) -> Iterator[Outcome]:
    """The page killed with an edit under way: the file is the last acknowledged edit or that one."""
    from tests.browser.conftest import stop
    from tests.faults.page_server import JOB
    from tests.faults.test_page_kept import Owner

    from steadfold.job import read_job

    lot = random.Random(seed)
    shed = folder / "shed"
    shed.mkdir()
    file = shed / "rack.toml"
    file.write_text(JOB, encoding="utf-8")
    owner = Owner(shed, folder / "state")

    def wish(revision: str, width: float) -> dict[str, object]:
        changes = [{"way": ["part", "oar rack", "width"], "value": f"{width} mm"}]
        return {"revision": revision, "say": "width", "changes": changes}

    acknowledged = 300.0
    for number in range(kills):
        fault = ""
        revision = owner.ask(owner.api)[1]["revision"]
        for _ in range(3):
            sent = round(lot.uniform(200, 600), 1)
            status, told = owner.ask(f"{owner.api}/edit", wish(revision, sent))
            if status != 200:
                fault = f"an edit was answered {status}"
                break
            revision, acknowledged = told["revision"], sent
        sent = round(lot.uniform(200, 600), 1)
        headers = {"Cookie": owner.cookie, "Origin": f"http://{owner.host}", "Content-Type": "application/json"}
        owner.line.request("POST", f"{owner.api}/edit", json.dumps(wish(revision, sent)), headers)
        time.sleep(lot.uniform(0.0, 0.03))
        owner.kill()
        found = read_job(file).parts[0].shape_values["width"]
        if not fault and found not in (acknowledged, sent):
            fault = f"{acknowledged} was acknowledged, {sent} sent, {found} is in the file"
        acknowledged = float(str(found))
        yield _outcome("kill of the page while it saves", f"{seed}.{number}", fault)
        owner.begin()
    stop(owner.process)
