"""A folded part that carries nodes of a frame: what the frame needs to know of it to be solved with it as one.

Who makes one knows the part (its mesh, its fixings, the wall behind it); here it is a model that shares some nodes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadfold.mechanics import Contacts, Model

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Clamped:
    """The sheet where a member is bolted on, and the way out of it, in the stand's axes."""

    thickness_mm: float
    ultimate_mpa: float
    out: tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Carrier:
    """One piece of a folded part on its fixings, in the stand's axes.

    `model` holds its plates, fixings, washers and what else it carries as masses; `seats` the node of that model that
    each named node of the frame is, `clamped` the sheet there. `wall` is what it leans on, a place at each node of its
    back, `on_rim` (k,) which of these lie on an edge. `turn` (3, 3) takes directions of the part's own axes to the
    stand's.
    """

    name: str
    model: Model
    seats: Mapping[str, int]
    clamped: Mapping[str, Clamped]
    wall: Contacts
    on_rim: NDArray[np.bool_]
    turn: FloatArray
