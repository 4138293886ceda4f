"""Bytes that are on the disk, not only on their way there: what saving a job and writing an order lean on."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path


def write_new(path: Path, data: bytes) -> None:
    """A new file, flushed to the disk, with the permissions that the system gives a new file.

    Raises `FileExistsError` for a name that is taken, any other `OSError` as the system says it.
    """
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    with open(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def settle(folder: Path) -> None:
    """Let the disk remember the names in a folder too, through a loss of power, where the system can do that."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
