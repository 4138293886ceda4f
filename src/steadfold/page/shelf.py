"""The folders with jobs that the page may touch, and nothing beside them."""

from __future__ import annotations

import hashlib
import json
import os
import re
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from steadfold.job.writer import write_job

NAME = re.compile(r"[A-Za-z0-9ÄÖÜäöüßÀ-ÿ][\w À-ÿ.,+()-]{0,118}\.toml")
"""The file of a job: letters, digits, spaces and a few signs; no separators, no leading dot."""

CAD_NAME = re.compile(r"[A-Za-z0-9À-ÿ][\w À-ÿ.,+()-]{0,118}\.(?:step|stp|dxf)", re.IGNORECASE)
MOST_RECENT = 12


class NotHere(LookupError):
    """A folder or file that the page does not show."""


def folder_id(folder: Path) -> str:
    """The name by which the page calls a folder."""
    return hashlib.sha256(os.fsencode(folder)).hexdigest()[:10]


def inside(folder: Path, name: str, pattern: re.Pattern[str] = NAME) -> Path:
    """The file of that name in the folder, by itself or by a link that stays in it.

    Raises `NotHere` for a name that is not plain, and for one that leads out of the folder.
    """
    if pattern.fullmatch(name) is None or ".." in name:
        raise NotHere(name)
    path = folder / name
    try:
        home, real = folder.resolve(), path.resolve()
    except (OSError, RuntimeError, ValueError):
        raise NotHere(name) from None
    if real.parent != home and home not in real.parents:
        raise NotHere(name)
    return path


@dataclass(frozen=True)
class Recent:
    """A job that was open before."""

    folder: Path
    name: str
    opened: float


class Shelf:
    """The folder of this page, and those of jobs opened before, by their ids.

    `memory` is the file that remembers recent jobs; None remembers nothing.
    """

    def __init__(self, folder: Path, memory: Path | None):
        self.folder = folder.resolve()
        self._memory = memory
        self._recent = self._read()

    def folder_of(self, identity: str) -> Path:
        """The folder behind an id; `NotHere` when the page was never told of it."""
        for folder in (self.folder, *(r.folder for r in self._recent)):
            if folder_id(folder) == identity:
                return folder
        raise NotHere(identity)

    def place(self, identity: str, name: str) -> Path:
        """Where a job of that name lies or would lie."""
        return inside(self.folder_of(identity), name)

    def job(self, identity: str, name: str) -> Path:
        """The path of a job, which must exist."""
        path = self.place(identity, name)
        if not path.is_file():
            raise NotHere(name)
        return path

    def jobs(self) -> list[tuple[str, float]]:
        """Names and times of the job files of our own folder, the newest first."""
        found = []
        if self.folder.is_dir():
            for entry in os.scandir(self.folder):
                if NAME.fullmatch(entry.name) and entry.is_file():
                    found.append((entry.name, entry.stat().st_mtime))
        return sorted(found, key=lambda each: -each[1])[:200]

    def recent(self) -> list[Recent]:
        """Jobs opened before, the last one first; those that are gone are left out."""
        return [r for r in self._recent if (r.folder / r.name).is_file()]

    def opened(self, path: Path) -> None:
        """Remember a job."""
        mine = Recent(path.parent.resolve(), path.name, time.time())
        others = [r for r in self._recent if (r.folder, r.name) != (mine.folder, mine.name)]
        self._recent = [mine, *others][:MOST_RECENT]
        if self._memory is not None:
            rows = [{"folder": str(r.folder), "name": r.name, "opened": r.opened} for r in self._recent]
            try:
                self._memory.parent.mkdir(parents=True, exist_ok=True)
                write_job(self._memory, json.dumps(rows, ensure_ascii=False))
            except OSError:
                # Only a convenience is lost.
                self._memory = None

    def free_name(self, wanted: str, suffix: str = ".toml") -> str:
        """A file name that is not taken, made from what the job is called."""
        stem = re.sub(r"[^A-Za-z0-9À-ÿ -]+", " ", wanted).strip().lower()
        stem = re.sub(r"[ -]+", "-", stem)[:60].strip("-") or "job"
        taken = {entry.name.casefold() for entry in os.scandir(self.folder)} if self.folder.is_dir() else set()
        for name in _numbered(stem, suffix):
            if name.casefold() not in taken:
                return name
        raise AssertionError

    def _read(self) -> list[Recent]:
        if self._memory is None or not self._memory.is_file():
            return []
        try:
            rows = json.loads(self._memory.read_text(encoding="utf-8"))
            found = [Recent(Path(str(r["folder"])), str(r["name"]), float(r["opened"])) for r in rows]
        except (OSError, ValueError, KeyError, TypeError):
            return []
        return [r for r in found if r.folder.is_absolute() and NAME.fullmatch(r.name)][:MOST_RECENT]


def _numbered(stem: str, suffix: str) -> Iterable[str]:
    yield f"{stem}{suffix}"
    for number in range(2, 10_000):
        yield f"{stem}-{number}{suffix}"
