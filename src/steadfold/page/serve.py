"""Opening the page: a socket on this machine, a link with the key, and one page for a folder."""

from __future__ import annotations

import asyncio
import contextlib
import http.client
import json
import logging
import os
import socket
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

from steadfold.page.guards import GUARDS, LARGEST_FRAME, Guard
from steadfold.page.house import House, new_key
from steadfold.page.shelf import Shelf, folder_id

USUAL_PORT = 8765
THIS_MACHINE = "127.0.0.1"


def memory_folder() -> Path:
    """Where recent jobs and the links of open pages are remembered: `STEADFOLD_STATE`, or the user's state folder."""
    given = os.environ.get("STEADFOLD_STATE")
    if given:
        return Path(given)
    base = os.environ.get("XDG_STATE_HOME") or (Path.home() / ".local" / "state")
    return Path(base) / "steadfold"


def usual_folder() -> Path:
    """Where new jobs go when no job was named."""
    return Path.home() / "steadfold-jobs"


def listening(address: str, port: int, exact: bool) -> socket.socket:
    """A socket that listens on one address; when `exact` is False the next free ports are tried too.

    Raises `OSError` when none is free.
    """
    for candidate in (port,) if exact or port == 0 else range(port, port + 20):
        # The protocol is named so that small replies are not held back for more.
        found = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        try:
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            found.bind((address, candidate))
            found.listen(512)
            return found
        except OSError:
            found.close()
            if exact or candidate == port + 19:
                raise
    raise AssertionError


def address_in_the_shop() -> str:
    """This machine's address in its own network; nothing is sent to find it. Raises `OSError` without a network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # A block kept for documentation (RFC 5737): only the way there is looked up.
        probe.connect(("192.0.2.1", 9))
        return str(probe.getsockname()[0])


def already_open(folder: Path) -> str | None:
    """The link of a page that already shows this folder, if it still answers."""
    note = _note(folder)
    try:
        told = json.loads(note.read_text(encoding="utf-8"))
        house = House(str(told["address"]), int(told["port"]), str(told["key"]))
        asking = http.client.HTTPConnection(house.address, house.port, timeout=2.0)
        with contextlib.closing(asking):
            asking.request("GET", f"/?key={house.key}", headers={"Host": house.host})
            return house.link if asking.getresponse().status == 303 else None
    except (OSError, ValueError, KeyError, TypeError, http.client.HTTPException):
        return None


def _note(folder: Path) -> Path:
    return memory_folder() / "open" / f"{folder_id(folder.resolve())}.json"


def _remember(folder: Path, house: House) -> None:
    """Leave the link for a second start; only this user may read it."""
    note = _note(folder)
    with contextlib.suppress(OSError):
        note.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        note.unlink(missing_ok=True)
        handle = os.open(note, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with open(handle, "w", encoding="utf-8") as file:
            json.dump({"address": house.address, "port": house.port, "key": house.key, "pid": os.getpid()}, file)


def _worth_telling(record: logging.LogRecord) -> bool:
    """Whoever stops the page while it computes has not met a fault: nothing is said of answers given up."""
    given_up = record.exc_info is not None and isinstance(record.exc_info[1], asyncio.CancelledError)
    return not given_up and not str(record.msg).startswith("Cancel ")


def serve(
    folder: Path,
    port: int | None = None,
    lan: bool = False,
    opened: Callable[[House], None] = lambda house: None,
    guards: Mapping[str, Guard] = GUARDS,
) -> None:
    """Show the folder's jobs until interrupted. `opened` is told when the page answers.

    `port` None takes the usual one or the next free. Raises `OSError` when there is no free port.
    """
    import uvicorn

    from steadfold.page.app import page
    from steadfold.page.patience import PatientProtocol

    address = address_in_the_shop() if lan else THIS_MACHINE
    heard = listening(address, USUAL_PORT if port is None else port, exact=port is not None)
    house = House(address, heard.getsockname()[1], new_key())
    shelf = Shelf(folder, memory_folder() / "recent.json")
    application = page(house, shelf, guards)
    config = uvicorn.Config(
        application,
        http=PatientProtocol,
        ws="websockets-sansio",
        ws_max_size=LARGEST_FRAME,
        log_level="error",
        access_log=False,
        server_header=False,
        h11_max_incomplete_event_size=32 * 1024,
        timeout_graceful_shutdown=1,
        lifespan="on",
    )
    logging.getLogger("uvicorn.error").addFilter(_worth_telling)
    server = uvicorn.Server(config)
    _remember(folder, house)
    opened(house)
    try:
        server.run(sockets=[heard])
    except KeyboardInterrupt:
        pass
    finally:
        _note(folder).unlink(missing_ok=True)
        heard.close()
        sys.stdout.flush()
