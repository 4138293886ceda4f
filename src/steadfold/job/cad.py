"""Files that a job names: where they may lie, and how a STEP or DXF file becomes a part."""

from __future__ import annotations

import math
import stat
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Literal

from steadfold.job.fields import Fields
from steadfold.job.models import CadFile, DxfBend
from steadfold.job.wording import kind_of, shown

LARGEST_FILE = 50 * 1024 * 1024
"""Bytes; a larger file is refused before it is opened."""

ENDINGS = {"step": (".step", ".stp"), "dxf": (".dxf",)}
UNITS: tuple[Literal["mm", "in"], ...] = ("mm", "in")
LAYER_ROLES = ("cut", "bend", "bend_up", "bend_down", "engrave", "ignore")
MOST_BENDS = 200
MOST_LAYERS = 100


def read_cad(fields: Fields, kind: str, folder: Path) -> CadFile | None:
    """The file of a part with `shape = "step"` or `"dxf"` and how to read it; None if that is wrong."""
    mark = fields.notebook.mark
    path = fields.text("file", required=f'"rail_end{ENDINGS[kind][0]}"', longest=400)
    file = None if path is None else inside(fields, "file", path, folder, ENDINGS[kind])
    units = fields.choice("units", UNITS)
    if kind == "step":
        body = fields.count("body", low=1, high=10_000)
        if fields.notebook.mark != mark or file is None or path is None:
            return None
        return CadFile("step", path, file, units, body)
    layers = _layers(fields)
    angle = _bend_angle(fields, "bend_angle")
    bends = tuple(bend for each in fields.tables("bend", MOST_BENDS) for bend in _dxf_bend(each))
    lines = [bend.line for bend in bends]
    for line in sorted({line for line in lines if lines.count(line) > 1}):
        fields.wrong("bend", f"bend line {line} is given twice")
    if fields.notebook.mark != mark or file is None or path is None:
        return None
    return CadFile("dxf", path, file, units, None, layers, angle, bends)


def inside(fields: Fields, key: str, text: str, folder: Path, endings: tuple[str, ...]) -> Path | None:
    """The file that a relative path names, when it lies in the job's folder, is a file and not too large.

    Links are followed before it is judged, so that none leads out of the folder.
    """
    windows, posix = PureWindowsPath(text), PurePosixPath(text)
    if posix.is_absolute() or windows.is_absolute() or windows.drive or windows.root or text.startswith("~"):
        fields.wrong(key, f"{shown(text)} is not relative; name a file in the folder of the job file, or below it")
        return None
    parts = text.replace("\\", "/").split("/")
    if ".." in parts:
        fields.wrong(key, f"{shown(text)} leaves the folder of the job file; put the file beside the job")
        return None
    if PurePosixPath(parts[-1]).suffix.casefold() not in endings:
        fields.wrong(key, f"{shown(text)} does not end in {' or '.join(endings)}")
        return None
    try:
        home = folder.resolve()
        found = folder.joinpath(*parts).resolve()
        if not found.is_relative_to(home):
            fields.wrong(key, f"{shown(text)} is a link that leaves the folder of the job file; copy the file there")
            return None
        status = found.stat()
    except FileNotFoundError:
        fields.wrong(key, f"there is no file {shown(text)} in the folder of the job file")
        return None
    except (OSError, RuntimeError, ValueError) as error:
        fields.wrong(key, f"{shown(text)} cannot be opened: {reason(error)}")
        return None
    if not stat.S_ISREG(status.st_mode):
        fields.wrong(key, f"{shown(text)} is not a file")
    elif status.st_size > LARGEST_FILE:
        fields.wrong(
            key,
            f"{shown(text)} has {status.st_size / 2**20:.0f} MB; at most {LARGEST_FILE >> 20} MB are read",
        )
    else:
        return found
    return None


def reason(error: BaseException) -> str:
    """Why a file cannot be opened, in the system's words, without a path."""
    return (error.strerror or "it cannot be read") if isinstance(error, OSError) else "its links lead nowhere"


def _layers(fields: Fields) -> tuple[tuple[str, tuple[str, ...]], ...]:
    table = fields.table("layers")
    if table is None:
        return ()
    found: list[tuple[str, tuple[str, ...]]] = []
    taken: dict[str, str] = {}
    for role in LAYER_ROLES:
        value = table.raw(role)
        if value is None:
            continue
        names = value if isinstance(value, list) else [value]
        if len(names) > MOST_LAYERS or not all(isinstance(name, str) and 0 < len(name) <= 255 for name in names):
            what = "these are not" if isinstance(value, list) else f"{kind_of(value)} is not"
            table.wrong(role, f'{what} a layer name or a list of them, like {role} = ["{role.upper()}"]')
            continue
        for name in names:
            if taken.setdefault(name, role) != role:
                table.wrong(role, f'layer {shown(name)} is named for "{taken[name]}" already')
        found.append((role, tuple(names)))
    table.done()
    return tuple(found)


def _bend_angle(fields: Fields, key: str, required: str = "") -> float | None:
    angle = fields.measure("angle", key, required=required, low=-math.pi - 1e-9, high=math.pi + 1e-9)
    if angle is not None and abs(angle) < math.radians(1.0):
        fields.wrong(key, "a bend turns through at least 1 deg, either way")
        return None
    return angle


def _dxf_bend(table: Fields) -> tuple[DxfBend, ...]:
    if "line" not in table:
        table.missing("line", "0, the number of the bend line in the file, from 0")
    line = table.count("line", low=0, high=MOST_BENDS)
    angle = _bend_angle(table, "angle", required='"90 deg"')
    radius = table.length("inside_radius")
    table.done()
    return () if line is None or angle is None else (DxfBend(line, angle, radius),)
