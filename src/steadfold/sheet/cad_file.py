"""Opening a STEP file of unknown origin: looked over as text first, then read in a child process with limits.

The solid kernel is a large C++ library; on damaged files it has been seen to crash, to hang, and to accept
nonsense. So it never sees numbers that are not finite or brackets nested absurdly deep, and when it dies it
does not take the caller with it.
"""

from __future__ import annotations

import io
import pickle
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

LARGEST_BYTES = 50_000_000
DEEPEST_NESTING = 60
MOST_FACES = 4_000
MOST_ENTITIES = 400_000
SECONDS = 10.0
"""Processor time of reading one file."""
PATIENCE = 6.0
"""How many times as long it may take by the clock, where other programs want the processor too."""
MEMORY_BYTES = 2 * 1024**3


class CadRefused(ValueError):
    """A CAD file or solid that is not read; `str()` is one sentence: what, where, and what would be right."""


_STRING_OR_COMMENT = re.compile(rb"'(?:[^']|'')*'|/\*.*?\*/", re.DOTALL)
_NOT_FINITE = re.compile(
    rb"(?i)(?<![A-Z0-9_.#])[-+]?(?:nan(?:\([a-z0-9]*\))?|inf(?:inity)?|\d\.#(?:qnan|snan|ind|inf)\d*)(?![A-Z0-9_])"
)
_TOO_LARGE = re.compile(rb"[-+]?\d+\.\d*[eE]\+?(?:\d{3,}|[4-9]\d)")
_DEFINED = re.compile(rb"(?:^|;|\s)#(\d+)\s*=")
_NAMED = re.compile(rb"#(\d+)(?!\d)(?!\s*=)")
_RADIUS = re.compile(
    rb"\b(?:CIRCLE|CYLINDRICAL_SURFACE|SPHERICAL_SURFACE|CONICAL_SURFACE|TOROIDAL_SURFACE)\s*\(\s*\$?\s*,\s*#\d+\s*,\s*-"
)
_FACE = re.compile(rb"\b(?:ADVANCED_FACE|FACE_SURFACE)\s*\(")


def look_over(path: Path) -> int:
    """Number of faces in a STEP file; refuses one that is no sound STEP text, before any library reads it.

    Raises `CadRefused` for files that are empty, too large, binary, cut off, nested too deep, with numbers
    that are not finite, radii below zero, entities that are missing or given twice, or too many faces.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise CadRefused(
                f"{path.name} has {size / 1e6:.0f} MB; files up to {LARGEST_BYTES / 1e6:.0f} MB are read, "
                "so export the sheet part alone"
            )
        content = path.read_bytes()
    except OSError as error:
        raise CadRefused(
            f"{path.name} cannot be opened ({error.strerror or error}); give the path of a STEP file"
        ) from None
    if not content.strip():
        raise CadRefused(f"{path.name} is empty; export the part again as STEP")
    if not content.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"ISO-10303-21") or b"\0" in content[:4096]:
        raise CadRefused(
            f"{path.name} is not a STEP file (it does not begin with ISO-10303-21); export the part as "
            "STEP AP214 or AP242"
        )
    text = _STRING_OR_COMMENT.sub(b"$", content)
    if b"'" in text:
        raise CadRefused(f"{path.name} is damaged: a text in quotes does not end; export the part again")
    if not re.search(rb"END-ISO-10303-21\s*;?\s*$", text):
        raise CadRefused(f"{path.name} is cut off: its end (END-ISO-10303-21) is missing; copy or export it again")
    _check_brackets(path.name, text)
    _check_numbers(path.name, text)
    return _check_entities(path.name, text)


def _check_brackets(name: str, text: bytes) -> None:
    import numpy as np

    content = np.frombuffer(text, dtype=np.uint8)
    content = content[(content == 40) | (content == 41)]
    depth = np.cumsum(np.where(content == 40, 1, -1), dtype=np.int64)
    if len(depth) and int(depth.max()) > DEEPEST_NESTING:
        raise CadRefused(
            f"{name} nests brackets more than {DEEPEST_NESTING} deep, which no STEP export does; it is damaged"
        )
    if len(depth) and (int(depth.min()) < 0 or int(depth[-1]) != 0):
        raise CadRefused(f"{name} is damaged: its brackets do not match; export the part again")


def _check_numbers(name: str, text: bytes) -> None:
    bad = _NOT_FINITE.search(text) or _TOO_LARGE.search(text)
    if bad:
        line = text.count(b"\n", 0, bad.start()) + 1
        shown = bad.group().decode("ascii", "replace")
        raise CadRefused(
            f"{name} has a number that is not finite ({shown}, near line {line}); it is damaged, so "
            "export the part again"
        )
    negative = _RADIUS.search(text)
    if negative:
        line = text.count(b"\n", 0, negative.start()) + 1
        raise CadRefused(f"{name} has a radius below zero near line {line}; it is damaged, so export the part again")


def _check_entities(name: str, text: bytes) -> int:
    faces = len(_FACE.findall(text))
    if faces > MOST_FACES:
        raise CadRefused(f"{name} has {faces:,} faces; up to {MOST_FACES:,} are read, so give the sheet part alone")
    found = _DEFINED.findall(text)
    if len(found) > MOST_ENTITIES:
        raise CadRefused(
            f"{name} has {len(found):,} entities; up to {MOST_ENTITIES:,} are read, so give the sheet part alone"
        )
    defined = set(found)
    if len(defined) < len(found):
        raise CadRefused(
            f"{name} is damaged: {len(found) - len(defined)} of its entities are given twice; export the part again"
        )
    missing = set(_NAMED.findall(text)) - defined
    if missing:
        first = min(missing, key=int).decode()
        raise CadRefused(f"{name} is damaged: it refers to #{first}, which is not in it; export the part again")
    return faces


class _PlainUnpickler(pickle.Unpickler):
    """Takes records of this project and arrays; nothing else that a child could send."""

    def find_class(self, module: str, name: str) -> Any:
        """The class of a record, or `UnpicklingError`."""
        if module.startswith("steadfold.") or (module, name) in {
            ("numpy", "ndarray"),
            ("numpy", "dtype"),
            ("numpy._core.multiarray", "_reconstruct"),
            ("numpy.core.multiarray", "_reconstruct"),
            ("numpy._core.numeric", "_frombuffer"),
            ("numpy.core.numeric", "_frombuffer"),
            ("numpy._core.multiarray", "scalar"),
            ("numpy.core.multiarray", "scalar"),
            ("builtins", "set"),
            ("builtins", "frozenset"),
        }:
            return super().find_class(module, name)
        raise pickle.UnpicklingError(f"{module}.{name} is not a record")


def _too_long(name: str) -> str:
    return (
        f"{name} took more than {SECONDS:.0f} s to read and was given up; give the sheet part alone, "
        "without threads and lettering"
    )


def in_child(request: dict[str, Any], seconds: float = SECONDS, memory_bytes: int = MEMORY_BYTES) -> Any:
    """Answer of the child process (`steadfold.sheet.cad_child`) to a request of plain values.

    Raises `CadRefused` when the child refuses, runs out of time or memory, or dies.
    """
    name = Path(str(request["path"])).name
    asked = pickle.dumps(request | {"memory_bytes": memory_bytes, "seconds": seconds})
    try:
        done = subprocess.run(
            [sys.executable, "-m", "steadfold.sheet.cad_child"],
            input=asked,
            capture_output=True,
            timeout=max(PATIENCE * seconds, 0.01),
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise CadRefused(_too_long(name)) from None
    if done.returncode == -getattr(signal, "SIGXCPU", 0) != 0:
        raise CadRefused(_too_long(name))
    try:
        kind, answer = _PlainUnpickler(io.BytesIO(done.stdout)).load()
    except (pickle.UnpicklingError, EOFError, ValueError, AttributeError, ImportError, IndexError):
        raise CadRefused(
            f"{name} made the solid library stop (exit {done.returncode}); it is damaged or too large, so "
            "export the part again"
        ) from None
    if kind == "refused":
        raise CadRefused(str(answer))
    return answer
