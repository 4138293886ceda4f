"""The audit of what is locked: it reads both kinds of lock, names what the database names, and says when it is silent."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
AUDIT = ROOT / ".ci" / "audit.py"


@contextmanager
def database(bad: dict[str, str], status: int = 200, short: bool = False) -> Iterator[tuple[str, list[Any]]]:
    """A database of vulnerabilities on this machine, in the form of OSV's batch answer (OSV schema, /v1/querybatch)."""
    asked: list[Any] = []

    class Answer(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            queries = json.loads(self.rfile.read(int(self.headers["content-length"])))["queries"]
            asked.extend(queries)
            results = [
                {"vulns": [{"id": bad[q["package"]["name"]], "modified": "2026-01-01T00:00:00Z"}]}
                if q["package"]["name"] in bad
                else {}
                for q in queries
            ]
            body = json.dumps({"results": results[:1] if short else results}).encode()
            self.send_response(status)
            self.send_header("content-length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: Any) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Answer)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/v1/querybatch", asked
    server.shutdown()
    server.server_close()


def audited(address: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "STEADFOLD_AUDIT": address, "no_proxy": "127.0.0.1"}
    return subprocess.run([sys.executable, str(AUDIT)], capture_output=True, text=True, env=environment, check=False)


def test_every_locked_package_is_asked_about_in_one_request() -> None:
    """Beside it: the same lock read by the library that pip itself reads requirements with."""
    with database({}) as (address, asked):
        done = audited(address)
    lines = (ROOT / "requirements.lock").read_text(encoding="utf-8").splitlines()
    pinned = [line.rstrip("\\ ") for line in lines if line[:1].isalnum()]
    wanted = {(r.name, str(r.specifier).removeprefix("==")) for r in map(Requirement, pinned)}
    python = {(q["package"]["name"], q["version"]) for q in asked if q["package"]["ecosystem"] == "PyPI"}
    assert done.returncode == 0 and python == wanted and len(wanted) > 40
    page = json.loads((ROOT / "src/steadfold/page/npm/package.json").read_text(encoding="utf-8"))["dependencies"]
    npm = {q["package"]["name"]: q["version"] for q in asked if q["package"]["ecosystem"] == "npm"}
    assert {name: npm[name] for name in page} == page, "exact versions stand in the page's own list"


def test_a_vulnerable_package_is_named_and_fails() -> None:
    with database({"starlette": "GHSA-0000-test-0001"}) as (address, _):
        done = audited(address)
    assert done.returncode == 1
    assert "starlette" in done.stderr and "GHSA-0000-test-0001" in done.stderr


@pytest.mark.parametrize("kind", ["nobody there", "an error", "too few answers"])
def test_a_database_that_gives_no_answer_is_said_and_fails_nothing(kind: str) -> None:
    with database({}, 500 if kind == "an error" else 200, short=kind == "too few answers") as (address, _):
        done = audited("http://127.0.0.1:9/v1/querybatch" if kind == "nobody there" else address)
    assert done.returncode == 0 and "Not audited" in done.stdout
