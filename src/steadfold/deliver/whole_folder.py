"""A folder written whole: aside first, then exchanged with what stood under its name, so that a kill at any moment
leaves the old folder or the new one."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import secrets
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from steadfold.job.disk import settle, write_new

try:
    import fcntl
except ImportError:  # pragma: no cover - not on Windows
    fcntl = None  # type: ignore[assignment]

AT_FDCWD, RENAME_EXCHANGE = -100, 2
"""Of Linux's renameat2(2)."""

RENAME_SWAP = 2
"""Of macOS's renamex_np(2)."""

ASIDE = ".aside"


class FolderRefused(ValueError):
    """A folder that is not replaced, since something in it would be lost; `str()` says what."""


def write_whole_folder(
    folder: str | os.PathLike[str],
    files: Mapping[str, bytes],
    written: Callable[[float], None] = lambda share: None,
) -> None:
    """Write files, by their paths below the folder, and put them under the folder's name in one step.

    What stands there goes; ask `refuse_others` first whether it may. Left-overs of runs that were killed are removed.
    Raises `ValueError` for a path that leads out of the folder, `OSError` as the system says it.
    """
    for name in files:
        _check(name)
    target = Path(os.path.realpath(folder))
    target.parent.mkdir(parents=True, exist_ok=True)
    _remove_left_overs(target)
    aside = target.with_name(f".{target.name}.{secrets.token_hex(6)}{ASIDE}")
    aside.mkdir()
    try:
        with _held(aside):
            for number, (name, data) in enumerate(sorted(files.items())):
                (aside / name).parent.mkdir(parents=True, exist_ok=True)
                write_new(aside / name, data)
                written((number + 1) / len(files))
            for place in sorted({(aside / name).parent for name in files} | {aside}):
                settle(place)
            _put(aside, target)
            settle(target.parent)
    finally:
        # After the exchange it is the old folder that stands aside; after a failure the new one.
        shutil.rmtree(aside, ignore_errors=True)


def _check(name: str) -> None:
    parts = name.split("/")
    if any(part in ("", ".", "..") or "\\" in part or "\0" in part or ":" in part for part in parts):
        raise ValueError(f"{name!r} is not the path of a file below a folder")


def _put(aside: Path, target: Path) -> None:
    """Give the folder aside the target's name; what had it gets the name aside."""
    if not target.exists():
        os.rename(aside, target)
        return
    if _exchanged(aside, target):
        return
    # No exchange in one step on this system or disk: between these two renames the old folder stands under its
    # name aside, whole.
    old = aside.with_suffix(".old")
    os.rename(target, old)
    try:
        os.rename(aside, target)
    except OSError:
        os.rename(old, target)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _exchanged(one: Path, other: Path) -> bool:
    """Exchange two names in one step; False where the system or the disk cannot."""
    try:
        library = ctypes.CDLL(None, use_errno=True)
        if sys.platform == "linux":
            call = library.renameat2
            done = call(AT_FDCWD, os.fsencode(one), AT_FDCWD, os.fsencode(other), RENAME_EXCHANGE)
        elif sys.platform == "darwin":
            done = library.renamex_np(os.fsencode(one), os.fsencode(other), RENAME_SWAP)
        else:
            return False
    except (AttributeError, OSError, TypeError):
        return False
    if done == 0:
        return True
    fault = ctypes.get_errno()
    if fault in (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP):
        return False
    raise OSError(fault, os.strerror(fault), str(other))


@contextlib.contextmanager
def _held(place: Path) -> Iterator[None]:
    """A lock on a folder that ends with the process, however that ends."""
    if fcntl is None:
        yield
        return
    handle = os.open(place, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    finally:
        os.close(handle)


def _remove_left_overs(target: Path) -> None:
    """Folders aside that no living process holds; and the old folder back under its name where a kill left none."""
    if not target.parent.is_dir() or fcntl is None:
        return
    for found in sorted(target.parent.glob(f".{_literal(target.name)}.*.old")):
        if not target.exists():
            os.rename(found, target)
        else:
            shutil.rmtree(found, ignore_errors=True)
    for found in target.parent.glob(f".{_literal(target.name)}.*{ASIDE}"):
        if found.is_symlink() or not found.is_dir():
            continue
        with contextlib.suppress(OSError):
            handle = os.open(found, os.O_RDONLY)
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                continue
            finally:
                os.close(handle)
            shutil.rmtree(found, ignore_errors=True)


def _literal(name: str) -> str:
    """A name as a pattern that matches only itself."""
    return "".join(f"[{c}]" if c in "*?[" else c for c in name)
