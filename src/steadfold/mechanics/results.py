"""What comes out of a solution: frozen records, complete or not made at all."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from . import assembly, beam
from .model import Loads, Model
from .parts import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Result:
    """The answer of one load case, in static balance.

    displacement (n, 6): mm and rad. reaction (n, 6): force of the supports on the nodes, zero where free.
    contact_n (k,): push at each contact, zero or more. gap_mm (k,): room left there (zero where it
    touches, once the solid has given way). tie_n (t,): pull in each tie, zero or more.
    residual: largest imbalance at any freedom over the largest force; imbalance (6,): sum of all outside
    forces (N) and their moments about the middle of the model (N mm). work_nmm: strain energy from the
    outside forces; `energy_nmm` is the same from the elements, and differs only by rounding.
    solver: how contact was settled ("linear", "pivoting" or "least squares").
    """

    model: Model
    loads: Loads
    displacement: FloatArray
    reaction: FloatArray
    contact_n: FloatArray
    gap_mm: FloatArray
    tie_n: FloatArray
    residual: float
    imbalance: FloatArray
    work_nmm: float
    solver: str

    @cached_property
    def energy_nmm(self) -> float:
        """Strain energy summed over the elements from their own strains, N mm; computed when it is asked for."""
        return float(assembly.energies(self.model, beam.beam_set(self.model), self.displacement))

    @property
    def largest_turn_rad(self) -> float:
        """Largest rotation of any node. Small displacements are assumed: past 0.09 (5 degrees) beware."""
        return float(np.linalg.norm(self.displacement[:, 3:], axis=1).max(initial=0.0))

    @property
    def touching(self) -> BoolArray:
        """Contacts that push (k,)."""
        return np.asarray(self.contact_n > 0)

    @property
    def taut(self) -> BoolArray:
        """Ties that pull (t,)."""
        return np.asarray(self.tie_n > 0)


class Mechanism(ValueError):
    """The model, or a part of it, can move without any resistance.

    nodes: the nodes that move most. motion (n, 6): the free motion, largest displacement 1 mm (or, where
    nothing shifts, largest rotation 1 rad). direction (6,): its mean over `nodes`, for reading. count:
    independent free motions found, at most 6. kind: "slides", "turns" or "bends" (the moving nodes do not
    move as one body).
    """

    def __init__(self, text: str, *, nodes: IntArray, motion: FloatArray, direction: FloatArray, kind: str,
                 count: int) -> None:
        super().__init__(text)
        self.nodes = nodes
        self.motion = motion
        self.direction = direction
        self.kind = kind
        self.count = count


class Unbalanced(ArithmeticError):
    """The answer does not balance its loads closely enough to be shown. residual: how far off; limit:
    allowed.
    """

    def __init__(self, residual: float, limit: float) -> None:
        super().__init__(f"forces are out of balance by {residual:.1e} of the load (limit {limit:.0e})")
        self.residual = residual
        self.limit = limit


@dataclass(frozen=True, eq=False)
class Buckling:
    """Linear buckling: load factors (k,), lowest first, and shapes (k, n, 6) scaled to a largest shift of 1.

    A factor multiplies the whole loading of the case. Real sheet buckles sooner than this: apply a
    knock-down.
    """

    factors: FloatArray
    shapes: FloatArray


@dataclass(frozen=True, eq=False)
class Modes:
    """Natural vibration: frequencies (k,), lowest first, and shapes (k, n, 6) scaled to a largest shift of
    1.
    """

    frequency_hz: FloatArray
    shapes: FloatArray


@dataclass(frozen=True, eq=False)
class SectionForces:
    """What one side of a cut passes to the other: force (3,) in N and moment (3,) in N mm about `about_mm`
    (3,).

    Both act on the far side of the cut, from the side whose elements were named; global axes.
    """

    force_n: FloatArray
    moment_nmm: FloatArray
    about_mm: FloatArray


@dataclass(frozen=True, eq=False)
class ShellForces:
    """Forces inside shell elements, at the middle of each, in the element's own axes (m, 3, 3: rows x, y,
    normal).

    membrane_n_per_mm (m, 3): Nx, Ny, Nxy. moment_n (m, 3): Mx, My, Mxy in N mm per mm; positive Mx
    stretches the side the normal points to. centre_mm (m, 3), area_mm2 (m,).
    """

    axes: FloatArray
    membrane_n_per_mm: FloatArray
    moment_n: FloatArray
    centre_mm: FloatArray
    area_mm2: FloatArray


@dataclass(frozen=True, eq=False)
class Collapse:
    """How a structure of ductile plates yields as all its loads grow together, no hardening counted on.

    factors (s,): load factors along the way; moved_mm (s,): mean shift of the loads along themselves
    (their work over the sum of their sizes); permanent_mm (s,): what of it stays after unloading.
    first_yield: factor at which the most stressed layer begins to yield, a number of the mesh more than of
    the part. limit: largest factor met; reached: whether the curve had flattened there, else the limit is
    higher. displacement (n, 6) and plastic_share (m,), part of each element that is flowing, at the end.
    solves: linear solutions it took.
    """

    factors: FloatArray
    moved_mm: FloatArray
    permanent_mm: FloatArray
    first_yield: float
    limit: float
    reached: bool
    displacement: FloatArray
    plastic_share: FloatArray
    solves: int
