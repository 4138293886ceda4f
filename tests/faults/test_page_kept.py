"""Nothing acknowledged is lost: the page is killed again and again while it saves, and files made to hurt stay harmless."""

from __future__ import annotations

import base64
import http.client
import json
import os
import random
import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.browser.conftest import start, stop
from tests.faults.page_server import JOB, Running, running

from steadfold.job import read_job
from steadfold.page.history import History, revision_of
from steadfold.page.shelf import folder_id
from steadfold.page.workers import Failed, Stale, Task, TooLong, Worker

EDITS, KILLS = 500, 20


class Owner:
    """Somebody who edits through a page that keeps dying."""

    def __init__(self, folder: Path, state: Path):
        self.folder, self.state = folder, state
        self.api = f"/api/jobs/{folder_id(folder.resolve())}/rack.toml"
        self.begin()

    def begin(self) -> None:
        self.process, link = start(str(self.folder / "rack.toml"), state=self.state)
        self.host = link.split("/")[2]
        self.cookie = f"steadfold-{self.host.split(':')[1]}={link.split('key=')[1].split('&')[0]}"
        self.line = http.client.HTTPConnection(self.host, timeout=60)

    def ask(self, path: str, body: dict[str, Any] | None = None) -> tuple[int, Any]:
        headers = {"Cookie": self.cookie}
        if body is not None:
            headers |= {"Origin": f"http://{self.host}", "Content-Type": "application/json"}
        self.line.request("POST" if body else "GET", path, None if body is None else json.dumps(body), headers)
        answer = self.line.getresponse()
        return answer.status, json.loads(answer.read())

    def kill(self) -> None:
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait(15)


@pytest.fixture
def owner(tmp_path: Path) -> Iterator[Owner]:
    folder = tmp_path / "shed"
    folder.mkdir()
    (folder / "rack.toml").write_text(JOB, encoding="utf-8")
    found = Owner(folder, tmp_path / "state")
    yield found
    stop(found.process)


def test_five_hundred_edits_and_twenty_kills_lose_nothing_that_was_acknowledged(owner: Owner) -> None:
    """Kills come at random moments, half of them with an edit under way; the file is the last acknowledged one or the next."""
    chance = random.Random(7)
    kills = sorted(chance.sample(range(20, EDITS), KILLS))
    file = owner.folder / "rack.toml"
    acknowledged, sent = 300.0, 300.0
    revision = owner.ask(owner.api)[1]["revision"]
    for number in range(EDITS):
        sent = round(chance.uniform(200, 600), 1)
        change = {"way": ["part", "oar rack", "width"], "value": f"{sent} mm"}
        wish = {"revision": revision, "say": "width", "changes": [change]}
        if number in kills:
            killed_while_busy = chance.random() < 0.5
            if killed_while_busy:
                headers = {"Cookie": owner.cookie, "Origin": f"http://{owner.host}", "Content-Type": "application/json"}
                owner.line.request("POST", f"{owner.api}/edit", json.dumps(wish), headers)
                time.sleep(chance.uniform(0.0, 0.03))
            owner.kill()
            found = read_job(file).parts[0].shape_values["width"]
            assert found in ((acknowledged, sent) if killed_while_busy else (acknowledged,)), f"after edit {number}"
            acknowledged = float(found)
            owner.begin()
            revision = owner.ask(owner.api)[1]["revision"]
            continue
        status, told = owner.ask(f"{owner.api}/edit", wish)
        assert status == 200, told
        revision, acknowledged = told["revision"], sent
    assert read_job(file).parts[0].shape_values["width"] == acknowledged
    text = file.read_text(encoding="utf-8")
    assert "# the tall one" in text
    assert [p.name for p in owner.folder.iterdir() if p.name.startswith(".rack")] == [], (
        "nothing half written lies about"
    )


def test_undo_goes_back_through_all_that_was_done_before_the_kill(owner: Owner) -> None:
    state = owner.ask(owner.api)[1]
    for width in (310, 320, 330):
        change = {"way": ["part", 0, "width"], "value": f"{width} mm"}
        _, state = owner.ask(f"{owner.api}/edit", {"revision": state["revision"], "say": "width", "changes": [change]})
    owner.kill()
    owner.begin()
    state = owner.ask(owner.api)[1]
    for width in (320, 310, 300):
        status, state = owner.ask(f"{owner.api}/step", {"revision": state["revision"], "way": -1})
        assert status == 200
        assert read_job(owner.folder / "rack.toml").parts[0].shape_values["width"] == width
    assert state["undo"] is None
    assert (owner.folder / "rack.toml").read_text(encoding="utf-8") == JOB


def test_a_stop_between_history_and_file_is_found_again(tmp_path: Path) -> None:
    """Both sides of the moment: the file is the version before, or the one behind, where the history stands."""
    kept = History(tmp_path)
    kept.found("a.toml", "one", "as it was opened")
    kept.add("a.toml", "two", "width")
    kept.found("a.toml", "one", "changed elsewhere")
    assert kept.place("a.toml").undo is None and kept.place("a.toml").redo == "width"
    kept.found("a.toml", "two", "changed elsewhere")
    assert kept.place("a.toml").undo == "width" and kept.place("a.toml").redo is None
    kept.found("a.toml", "three", "changed elsewhere")
    assert kept.beside("a.toml", -1) == "two"
    kept.close()
    assert revision_of("one") != revision_of("two")


def test_a_full_disk_is_told_and_the_file_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: Path, text: str) -> None:
        raise OSError(28, "No space left on device")

    with running(tmp_path) as page:
        state = json.loads(page.ask(path=page.job())[2])
        monkeypatch.setattr("steadfold.page.desk.write_job", full)
        change = {"way": ["part", 0, "width"], "value": "333 mm"}
        wish = json.dumps({"revision": state["revision"], "say": "width", "changes": [change]}).encode()
        status, _, said = page.ask("POST", f"{page.job()}/edit", body=wish)
        assert status == 507 and b"No space left" in said
        assert (tmp_path / "rack.toml").read_text(encoding="utf-8") == JOB
        monkeypatch.undo()
        assert page.ask("POST", f"{page.job()}/edit", body=wish)[0] == 200
        assert json.loads(page.ask(path=page.job())[2])["undo"] == "width"


# --- parsers: byte, depth and time limits, in a child process ---


def dropped(page: Running, name: str, content: bytes) -> tuple[int, bytes]:
    body = json.dumps({"name": name, "data": base64.b64encode(content).decode()}).encode()
    status, _, said = page.ask("POST", "/api/drop", body=body)
    return status, said


HOSTILE = {
    "nested": b"a = " + b"[" * 200_000,
    "inline tables": b"a = " + b"{a=" * 100_000,
    "not text": bytes(range(256)) * 100,
    "a number without end": b"a = " + b"9" * 500_000,
    "dotted without end": b"a" + b".a" * 200_000 + b" = 1",
    "many tables": b"\n".join(b"[[part.panel]]" for _ in range(200_000)),
    "too large": b"#" * (6 << 20),
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_file_made_to_hurt_is_refused_and_the_page_still_answers(tmp_path: Path, kind: str) -> None:
    with running(tmp_path) as page:
        status, said = dropped(page, "evil.toml", HOSTILE[kind])
        assert status in (413, 422), said[:300]
        assert b"Traceback" not in said
        assert page.ask(path=page.job())[0] == 200
        assert [p.name for p in tmp_path.glob("evil*")] == []


def test_a_task_that_never_ends_is_ended_and_the_next_one_is_done() -> None:
    worker, wanted = Worker(), threading.Event()
    wanted.set()
    try:
        with pytest.raises(TooLong):
            worker.call(Task("tests.faults.slow_tasks", "for_ever", (), limit_s=1.0), lambda s, w: None, wanted)
        assert worker.call(Task("tests.faults.slow_tasks", "twice", (21,)), lambda s, w: None, wanted) == 42
        with pytest.raises(Failed, match="ended unexpectedly"):
            worker.call(Task("tests.faults.slow_tasks", "dies", ()), lambda s, w: None, wanted)
        with pytest.raises(Failed):
            worker.call(Task("tests.faults.slow_tasks", "fills_memory", ()), lambda s, w: None, wanted)
        assert worker.call(Task("tests.faults.slow_tasks", "twice", (4,)), lambda s, w: None, wanted) == 8
    finally:
        worker.end()


def test_the_newest_edit_wins_and_what_is_stale_is_left() -> None:
    worker, wanted = Worker(), threading.Event()
    wanted.set()
    try:
        told: list[float] = []

        def tell(share: float, what: str) -> None:
            told.append(share)
            if len(told) == 2:
                wanted.clear()

        with pytest.raises(Stale):
            worker.call(Task("tests.faults.slow_tasks", "in_steps", (1000,)), tell, wanted)
        assert len(told) < 100
        wanted.set()
        assert worker.call(Task("tests.faults.slow_tasks", "twice", (1,)), lambda s, w: None, wanted) == 2
    finally:
        worker.end()
