"""Files are written aside and renamed: what stands under a file's name is whole, or what stood there before."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from steadfold.job.disk import settle, write_new


def write_aside(path: str | os.PathLike[str], data: bytes) -> None:
    """Write a file whole: into a file beside it, to the disk, then under its name.

    Whatever stops it on the way (a full disk, Ctrl-C) leaves the name as it was and nothing beside it.
    Raises `OSError` as the system says it; the folder must exist.
    """
    target = Path(os.path.realpath(path))
    aside = _aside(target)
    try:
        write_new(aside, data)
        os.replace(aside, target)
    except BaseException as error:
        _remove(aside)
        if isinstance(error, OSError):
            error.filename = os.fspath(path)
        raise
    settle(target.parent)


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
            write_new(asides[target], data)
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
        settle(parent)


def _aside(target: Path) -> Path:
    return target.with_name(f".{secrets.token_hex(8)}.part")


def _remove(aside: Path) -> None:
    with contextlib.suppress(OSError):
        aside.unlink()


def _made_folders(place: Path) -> list[Path]:
    """The folders that will have to be made, the innermost first."""
    return [path for path in (place, *place.parents) if not path.exists()]
