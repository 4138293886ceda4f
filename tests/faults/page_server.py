"""A page on a real socket in a thread of the test, with or without some of its guards."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from steadfold.page.app import page
from steadfold.page.guards import GUARDS, LARGEST_FRAME
from steadfold.page.house import House, new_key
from steadfold.page.patience import PatientProtocol
from steadfold.page.serve import THIS_MACHINE, listening
from steadfold.page.shelf import Shelf, folder_id

JOB = """steadfold = 1
name = "Boat shed, test wall"

[[part]]
name = "oar rack"           # the tall one
material = "S235"
thickness = "3 mm"
shape = "tine rack"
width = "300 mm"
tines = 3

  [[part.carries]]
  item = "sculling oar"
  mass = "2 kg"
  count = 3
  on = "tines"

  [part.mount]
  to = "steel"
  fastener = "M8"
  holes = "back"
"""


@dataclass(frozen=True)
class Running:
    """A page that answers."""

    house: House
    folder: Path

    @property
    def cookie(self) -> str:
        return f"{self.house.cookie}={self.house.key}"

    def job(self, name: str = "rack.toml") -> str:
        return f"/api/jobs/{folder_id(self.folder.resolve())}/{name}"

    def said(self, request: bytes, wait_s: float = 10.0) -> bytes:
        """All that comes back for some bytes on a fresh connection."""
        with socket.create_connection((self.house.address, self.house.port), timeout=wait_s) as talk:
            talk.sendall(request)
            return heard(talk)

    def ask(
        self,
        method: str = "GET",
        path: str = "/",
        headers: dict[str, str] | None = None,
        body: bytes | None = None,
        key: bool = True,
    ) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and body of one request; by default one that our own page would make."""
        given = {"Host": self.house.host, "Connection": "close"}
        if key:
            given["Cookie"] = self.cookie
        if body is not None:
            given |= {"Origin": self.house.origin, "Content-Type": "application/json", "Content-Length": str(len(body))}
        given |= headers or {}
        lines = [f"{method} {path} HTTP/1.1", *(f"{k}: {v}" for k, v in given.items() if v)]
        return parsed(self.said("\r\n".join([*lines, "", ""]).encode("latin-1") + (body or b""), 60.0))


def heard(talk: socket.socket) -> bytes:
    parts = []
    with contextlib.suppress(TimeoutError, ConnectionError):
        while part := talk.recv(65536):
            parts.append(part)
    return b"".join(parts)


def parsed(answer: bytes) -> tuple[int, dict[str, str], bytes]:
    head, _, body = answer.partition(b"\r\n\r\n")
    first, *rest = head.decode("latin-1").split("\r\n")
    status = int(first.split(" ")[1]) if first.startswith("HTTP/") else 0
    headers = {line.split(":", 1)[0].lower(): line.split(":", 1)[1].strip() for line in rest if ":" in line}
    if headers.get("transfer-encoding") == "chunked":
        whole, left = b"", body
        while left:
            size, _, left = left.partition(b"\r\n")
            if int(size or b"0", 16) == 0:
                break
            whole, left = whole + left[: int(size, 16)], left[int(size, 16) + 2 :]
        body = whole
    return status, headers, body


@contextlib.contextmanager
def running(
    folder: Path,
    without: tuple[str, ...] = (),
    bodies: bool = True,
    patience_s: float | None = 1.0,
    frame: int = LARGEST_FRAME,
    warm: bool = False,
) -> Iterator[Running]:
    """A page for a folder with one job; `without` names guards that are taken away, `patience_s` None another."""
    (folder / "rack.toml").write_text(JOB, encoding="utf-8")
    heard_at = listening(THIS_MACHINE, 0, exact=True)
    house = House(THIS_MACHINE, heard_at.getsockname()[1], new_key())
    guards = {name: guard for name, guard in GUARDS.items() if name not in without}
    assert len(guards) == len(GUARDS) - len(without)
    protocol: type = type("Quick", (PatientProtocol,), {"patience_s": 10_000.0 if patience_s is None else patience_s})
    config = uvicorn.Config(
        page(house, Shelf(folder, None), guards, bodies, warm),  # type: ignore[arg-type]
        http=protocol, ws="websockets-sansio", ws_max_size=frame, log_level="error", access_log=False,
        server_header=False, lifespan="on", timeout_graceful_shutdown=1, h11_max_incomplete_event_size=32 * 1024,
    )  # fmt: skip
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [heard_at]}, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive()
        time.sleep(0.01)
    try:
        yield Running(house, folder)
    finally:
        server.should_exit = True
        thread.join(15)
        heard_at.close()
