"""What goes under the feet of a stand on legs to bring its top level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.stand.records import Reading, Stand, StandError


@dataclass(frozen=True)
class Shim:
    """What to put under one foot, mm."""

    foot: str
    mm: float


def shims(stand: Stand, readings: Sequence[Reading]) -> tuple[Shim, ...]:
    """What to put under (or how far to screw out) each foot of a stand on legs, from how low places on top of it lie.

    A plane through the readings, read off above each foot, so that the foot that is highest gets nothing. Two readings
    give a line. Raises StandError without feet or with fewer than two readings.
    """
    feet = [each.node for each in stand.held if each.to == "floor"]
    if not feet:
        raise StandError(("held",), "only a stand on legs can be shimmed")
    if len(readings) < 2:
        raise StandError(("reading",), "shimming wants readings at two places at least")
    rows = np.array([[1.0, *stand.nodes[each.at][:2]] for each in readings])
    middle = rows[:, 1:].mean(axis=0)
    rows[:, 1:] -= middle
    plane, *_ = np.linalg.lstsq(rows, np.array([each.low_mm for each in readings]), rcond=1e-9)
    wanted = np.array([float(plane @ [1.0, *(np.array(stand.nodes[foot][:2]) - middle)]) for foot in feet])
    return tuple(Shim(foot, float(each)) for foot, each in zip(feet, wanted - wanted.min(), strict=True))
