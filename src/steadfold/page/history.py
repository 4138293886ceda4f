"""Every version a job has had, so that undo and redo last through a restart."""

from __future__ import annotations

import hashlib
import sqlite3
import threading
import time
from dataclasses import dataclass
from pathlib import Path

FILE = ".steadfold-history.sqlite"
"""Lies beside the jobs it remembers."""

MOST_VERSIONS = 2000


def revision_of(text: str) -> str:
    """The name of a version: what its text hashes to."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:20]


@dataclass(frozen=True)
class Place:
    """Where a job stands in its history: what undo and redo would take back or bring again, None for nothing."""

    undo: str | None
    redo: str | None


class History:
    """The versions of the jobs of one folder.

    A version is written before the job file is, and found again by its text: whenever the machine stops, the file
    on disk is one of the versions or the work of another editor, which then becomes one.
    """

    def __init__(self, folder: Path):
        self._lock = threading.Lock()
        self._store = sqlite3.connect(folder / FILE, check_same_thread=False, timeout=10.0, isolation_level=None)
        self._store.execute("PRAGMA synchronous = FULL")
        self._store.execute(
            "CREATE TABLE IF NOT EXISTS version (job TEXT, number INTEGER, text TEXT, say TEXT, at REAL, "
            "PRIMARY KEY (job, number))"
        )
        self._store.execute("CREATE TABLE IF NOT EXISTS stand (job TEXT PRIMARY KEY, number INTEGER)")

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._store.close()

    def found(self, job: str, text: str, say: str) -> None:
        """What lies on the disk: the version we stand at, one beside it after a stop, or somebody else's new one."""
        with self._lock:
            here = self._number(job)
            near = [here, here + 1, here - 1] if here is not None else []
            for number in near:
                if self._text(job, number) == text:
                    self._stand_at(job, number)
                    return
            self._add(job, here, text, say)

    def add(self, job: str, text: str, say: str) -> None:
        """A new version behind the one we stand at; what could have been brought again is gone."""
        with self._lock:
            self._add(job, self._number(job), text, say)

    def replace(self, job: str, text: str, say: str) -> None:
        """The version we stand at is gone over again, as a slider does that is still being dragged."""
        with self._lock:
            here = self._number(job)
            again = here is not None and here > 0 and self._say(job, here) == say
            if again and here is not None and self._text(job, here + 1) is None:
                self._add(job, here - 1, text, say)
            else:
                self._add(job, here, text, say)

    def place(self, job: str) -> Place:
        """What undo and redo would do, in words."""
        with self._lock:
            here = self._number(job)
            if here is None:
                return Place(None, None)
            before = self._text(job, here - 1)
            return Place(self._say(job, here) if before is not None else None, self._say(job, here + 1))

    def beside(self, job: str, step: int) -> str | None:
        """The text one step back (-1) or forward (1); None when there is none."""
        with self._lock:
            here = self._number(job)
            return None if here is None else self._text(job, here + step)

    def moved(self, job: str, step: int) -> None:
        """Stand one step back or forward."""
        with self._lock:
            here = self._number(job)
            if here is not None:
                self._stand_at(job, here + step)

    def _add(self, job: str, here: int | None, text: str, say: str) -> None:
        number = 0 if here is None else here + 1
        self._store.execute("BEGIN IMMEDIATE")
        try:
            self._store.execute("DELETE FROM version WHERE job = ? AND number >= ?", (job, number))
            self._store.execute("INSERT INTO version VALUES (?, ?, ?, ?, ?)", (job, number, text, say, time.time()))
            self._store.execute("DELETE FROM version WHERE job = ? AND number < ?", (job, number - MOST_VERSIONS))
            self._store.execute("INSERT OR REPLACE INTO stand VALUES (?, ?)", (job, number))
            self._store.execute("COMMIT")
        except BaseException:
            self._store.execute("ROLLBACK")
            raise

    def _stand_at(self, job: str, number: int) -> None:
        self._store.execute("INSERT OR REPLACE INTO stand VALUES (?, ?)", (job, number))

    def _number(self, job: str) -> int | None:
        row = self._store.execute("SELECT number FROM stand WHERE job = ?", (job,)).fetchone()
        return None if row is None else int(row[0])

    def _text(self, job: str, number: int) -> str | None:
        row = self._store.execute("SELECT text FROM version WHERE job = ? AND number = ?", (job, number)).fetchone()
        return None if row is None else str(row[0])

    def _say(self, job: str, number: int) -> str | None:
        row = self._store.execute("SELECT say FROM version WHERE job = ? AND number = ?", (job, number)).fetchone()
        return None if row is None else str(row[0])
