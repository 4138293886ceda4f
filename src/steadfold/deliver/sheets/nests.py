"""Layouts of flats on sheets, kept from an earlier run: read back and held against the parts of the job."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path

from steadfold.money.nesting import NestError, nest_from_plain
from steadfold.money.nesting.check import nest_faults
from steadfold.money.nesting.records import piece_of
from steadfold.review import PartReview
from steadfold.review.costing import LaidOut
from steadfold.sheet.outline import Face

LARGEST_LAYOUT = 50_000_000
SAME_MM = 1e-6


class NestRefused(ValueError):
    """A layout that cannot go into the folder; `str()` says why."""


def kept_nests(folder: str | os.PathLike[str], parts: Sequence[PartReview]) -> tuple[LaidOut, ...]:
    """The layouts (`*.json`) of a folder that `steadfold cost JOB --nest DIR` wrote.

    Raises `NestRefused` for a file that is no layout or names a part the job does not have, `OSError`.
    """
    place = Path(folder)
    found = sorted(place.glob("*.json"))
    if not found:
        raise NestRefused(f"{place} holds no layout; `steadfold cost JOB --nest DIR` writes some")
    by_name = {part.name: part for part in parts}
    laid = []
    for path in found:
        if path.stat().st_size > LARGEST_LAYOUT:
            raise NestRefused(f"{path} is too large for a layout")
        try:
            nest = nest_from_plain(json.loads(path.read_text(encoding="utf-8")))
        except (NestError, ValueError, TypeError) as error:
            raise NestRefused(f"{path}: {error}") from None
        names = tuple(piece.name for piece in nest.pieces)
        strange = [name for name in names if name not in by_name]
        if strange or not names:
            raise NestRefused(f"{path} lays out {', '.join(strange) or 'nothing'}, which this job does not have")
        first = by_name[names[0]]
        laid.append(LaidOut(first.material.id, first.thickness_mm or 0.0, names, nest))
    return tuple(laid)


def check_nests(nests: Sequence[LaidOut], parts: Sequence[PartReview]) -> None:
    """Hold layouts against the parts that are written out: their flats, their quantities, nothing over anything else.

    Raises `NestRefused` naming what differs.
    """
    by_name = {part.name: part for part in parts}
    for laid in nests:
        for piece in laid.nest.pieces:
            part = by_name.get(piece.name)
            if part is None or part.flat is None:
                raise NestRefused(
                    f"the layout holds {piece.name!r}, which is not written out; lay the others out again"
                )
            now = piece_of(piece.name, part.flat, part.ordered.quantity, part.ordered.grain)
            if not _same(piece.face, now.face) or piece.count != now.count:
                raise NestRefused(f"{piece.name!r} is not as it was laid out; lay the parts out again")
            if (part.material.id, part.thickness_mm) != (laid.material, laid.thickness_mm):
                raise NestRefused(f"{piece.name!r} is of another metal or thickness than the rest of its layout")
        faults = nest_faults(laid.nest)
        if faults:
            raise NestRefused(f"the layout of {', '.join(laid.names)} cannot be cut: {faults[0]}")


def _same(one: Face, other: Face) -> bool:
    def numbers(face: Face) -> list[float]:
        outlines = (face.outer, *face.holes)
        return [v for o in outlines for (x, y), b in zip(o.points, o.bulges, strict=True) for v in (x, y, b)]

    a, b = numbers(one), numbers(other)
    return len(a) == len(b) and all(abs(x - y) <= SAME_MM for x, y in zip(a, b, strict=True))
