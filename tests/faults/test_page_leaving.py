"""Stopping the page while it computes is no fault: it ends soon, and says nothing of what was given up."""

from __future__ import annotations

import http.client
import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

from tests.faults.page_server import JOB


def test_a_page_that_is_stopped_while_it_computes_leaves_without_a_word(tmp_path: Path) -> None:
    (tmp_path / "rack.toml").write_text(JOB, encoding="utf-8")
    environment = {**os.environ, "STEADFOLD_STATE": str(tmp_path / "state"), "HOME": str(tmp_path)}
    command = [sys.executable, "-m", "steadfold.cli.main", "page", str(tmp_path / "rack.toml"), "--json"]
    process = subprocess.Popen(
        [*command, "--no-browser", "--port", "0"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env=environment,
    )  # fmt: skip
    assert process.stdout is not None
    link = json.loads(process.stdout.readline())["link"]
    host, key = link.split("/")[2], link.split("key=")[1].split("&")[0]
    asked = threading.Event()

    def ask() -> None:
        talk = http.client.HTTPConnection(host, timeout=60)
        headers = {"Cookie": f"steadfold-{host.split(':')[1]}={key}"}
        try:
            talk.request("GET", f"/api/jobs/{link.split('job=')[1]}/order", headers=headers)
            asked.set()
            talk.getresponse().read()
        except (OSError, http.client.HTTPException):
            pass

    asking = threading.Thread(target=ask)
    asking.start()
    assert asked.wait(30)
    # So that the page has taken the question up.
    time.sleep(1.0)
    process.terminate()
    _, said = process.communicate(timeout=60)
    asking.join(60)
    assert said == ""
