"""Files are written aside and renamed: what stands under a file's name is whole, or what stood there before."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Mapping
from pathlib import Path


def write_aside(path: str | os.PathLike[str], data: bytes) -> None:
    """Write a file whole: into a file beside it, to the disk, then under its name.

    Whatever stops it on the way (a full disk, Ctrl-C) leaves the name as it was and nothing beside it.
    Raises `OSError` as the system says it; the folder must exist.
    """
    target = Path(os.path.realpath(path))
    aside = _aside(target)
    try:
        _write(aside, data)
        os.replace(aside, target)
    except BaseException:
        _remove(aside)
        raise
    _settle(target.parent)


def write_all(folder: str | os.PathLike[str], files: Mapping[str, bytes]) -> None:
    """Write several files of one folder: all of them aside first, then each under its name.

    The folder is made when it is missing, and taken away again when it stays empty because of a failure.
    A failure before the last file has been written aside changes none of the names.
    Raises `ValueError` for a name that is not a plain file name, `OSError` as the system says it.
    """
    for name in files:
        if not name or name in (".", "..") or Path(name).name != name or "\\" in name or "\0" in name:
            raise ValueError(f"{name!r} is not the plain name of a file")
    place = Path(os.path.realpath(folder))
    made = _made_folders(place)
    asides: dict[Path, Path] = {}
    try:
        place.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            target = Path(os.path.realpath(place / name))
            asides[target] = _aside(target)
            _write(asides[target], data)
        for target, aside in asides.items():
            os.replace(aside, target)
    except BaseException:
        for aside in asides.values():
            _remove(aside)
        for path in made:
            with contextlib.suppress(OSError):
                path.rmdir()
        raise
    for parent in sorted({target.parent for target in asides}):
        _settle(parent)


def _aside(target: Path) -> Path:
    return target.with_name(f".{secrets.token_hex(8)}.part")


def _write(aside: Path, data: bytes) -> None:
    # Opened with the permissions a new file gets, which a temporary file of the library would not have.
    handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    with open(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _remove(aside: Path) -> None:
    with contextlib.suppress(OSError):
        aside.unlink()


def _made_folders(place: Path) -> list[Path]:
    """The folders that will have to be made, the innermost first."""
    return [path for path in (place, *place.parents) if not path.exists()]


def _settle(folder: Path) -> None:
    """Let the disk remember the new names too, where the system can do that."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
