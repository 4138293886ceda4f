"""Everything that is open: the desks of the jobs, their histories, the workers, and who is to be told."""

from __future__ import annotations

import asyncio
import contextlib
import sqlite3
import tempfile
from pathlib import Path
from typing import Any

from steadfold.page.desk import Desk
from steadfold.page.history import History
from steadfold.page.shelf import Shelf, folder_id
from steadfold.page.workers import Workers

WATCH_EVERY_S = 0.5
READERS, COMPUTERS = 1, 2
WARM_READER = ("steadfold.page.reading", "steadfold.page.answers", "scipy.spatial")
WARM_COMPUTER = ("steadfold.page.answers", "scipy.sparse.linalg")


class Rooms:
    """Made when the page starts, ended when it stops; `warm` starts the workers at once."""

    def __init__(self, shelf: Shelf, warm: bool = True):
        self.shelf = shelf
        self.readers = Workers(READERS, WARM_READER)
        # Reading and shapes first; computing takes what is left of the machine.
        self.computers = Workers(COMPUTERS, WARM_COMPUTER, nice=5)
        if warm:
            self.readers.start()
            self.computers.start()
        self._desks: dict[Path, Desk] = {}
        self._histories: dict[Path, History] = {}
        self._opening = asyncio.Lock()
        self._listeners: dict[Path, set[asyncio.Queue[dict[str, Any]]]] = {}
        self._watch = asyncio.create_task(self._watching())

    async def desk(self, folder: str, name: str) -> Desk:
        """The desk of a job; `NotHere` when there is no such job. One that was open stays so when its file goes."""
        known = self._desks.get(await asyncio.to_thread(self.shelf.place, folder, name))
        if known is not None:
            return known
        path = await asyncio.to_thread(self.shelf.job, folder, name)
        async with self._opening:
            desk = self._desks.get(path)
            if desk is None:
                history = self._history(path.parent)
                desk = Desk(path, history, self.readers, self.computers, lambda notice: self._tell(path, notice))
                await desk.look()
                self._desks[path] = desk
        return desk

    def address(self, path: Path) -> dict[str, str]:
        """How the page calls a job."""
        return {"folder": folder_id(path.parent.resolve()), "name": path.name}

    def _history(self, folder: Path) -> History:
        if folder not in self._histories:
            try:
                self._histories[folder] = History(folder)
            except sqlite3.Error:
                # A folder that takes no new file: undo then lasts as long as the page does.
                self._histories[folder] = History(Path(tempfile.mkdtemp(prefix="steadfold-")))
        return self._histories[folder]

    def listen(self, desk: Desk) -> asyncio.Queue[dict[str, Any]]:
        """A queue that gets every notice about a job."""
        queue: asyncio.Queue[dict[str, Any]] = asyncio.Queue(maxsize=500)
        self._listeners.setdefault(desk.path, set()).add(queue)
        return queue

    def unlisten(self, desk: Desk, queue: asyncio.Queue[dict[str, Any]]) -> None:
        """Stop telling."""
        self._listeners.get(desk.path, set()).discard(queue)

    def _tell(self, path: Path, notice: dict[str, Any]) -> None:
        for queue in self._listeners.get(path, ()):
            with contextlib.suppress(asyncio.QueueFull):
                queue.put_nowait(notice)

    async def _watching(self) -> None:
        """Notice what other editors do to the jobs that somebody is looking at."""
        while True:
            await asyncio.sleep(WATCH_EVERY_S)
            for path, desk in list(self._desks.items()):
                if self._listeners.get(path):
                    with contextlib.suppress(OSError, sqlite3.Error):
                        await desk.glance()

    async def end(self) -> None:
        """Stop everything."""
        self._watch.cancel()
        await asyncio.to_thread(self.readers.end)
        await asyncio.to_thread(self.computers.end)
        for history in self._histories.values():
            history.close()
