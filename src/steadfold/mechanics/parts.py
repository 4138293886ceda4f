"""What a structure is made of: plates, beams, springs, spiders, contacts, ties and masses.

Every record is frozen and complete. Lengths in mm, forces in N, stresses in MPa, angles in rad, masses in kg.
Scalars given for a per-element quantity are spread over all elements, so `Shells(tri, 2.0, 210e3, 0.3)` is
enough.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

GROUND = -1
"""Node number that stands for the immovable ground in springs, contacts and ties."""


def tonnes(mass_kg: float) -> float:
    """Mass in tonnes, the unit consistent with N, mm and s; the only way mass enters force or inertia
    here.
    """
    return mass_kg * 1e-3


def _spread(value: ArrayLike, count: int, name: str, shape: tuple[int, ...] = ()) -> FloatArray:
    array = np.asarray(value, dtype=float)
    try:
        return np.ascontiguousarray(np.broadcast_to(array, (count, *shape)))
    except ValueError as error:
        expected = (count, *shape)
        raise ValueError(f"{name} has shape {array.shape}; expected one value or {expected}") from error


def _numbers(value: ArrayLike, width: int, name: str) -> IntArray:
    array = np.asarray(value, dtype=np.int64) if np.size(value) else np.zeros((0, width), np.int64)
    array = array.reshape(-1, width)
    if np.size(value) and np.shape(value) != array.shape:
        raise ValueError(f"{name} has shape {np.shape(value)}; expected (count, {width})")
    return array


def fill(record: object, **values: Any) -> None:
    """Set fields of a frozen record once; arrays are copied, so the caller's stay his own."""
    for name, value in values.items():
        if isinstance(value, np.ndarray):
            value = value.copy()
            value.setflags(write=False)
        object.__setattr__(record, name, value)


def _positive(values: FloatArray, name: str, *, zero_allowed: bool = False) -> None:
    bad = ~((values >= 0 if zero_allowed else values > 0) & np.isfinite(values))
    if bad.any():
        raise ValueError(f"{name} must be {'zero or more' if zero_allowed else 'above zero'}; "
                         f"element {int(np.flatnonzero(bad)[0])} has {values[bad][0]}")


@dataclass(frozen=True, eq=False)
class Shells:
    """Flat three-node plates that stretch, shear, bend and twist.

    triangles (m, 3): node numbers; the normal of an element follows their right-hand order.
    thickness_mm, modulus_mpa (m,): above zero. poisson (m,): from 0 up to, not with, 0.5.
    density_kg_m3 (m,): zero or more. region (m,): panel number; stresses are never averaged across regions.
    Raises ValueError for a value out of range or arrays of the wrong length.
    """

    triangles: IntArray
    thickness_mm: FloatArray
    modulus_mpa: FloatArray
    poisson: FloatArray
    density_kg_m3: FloatArray
    region: IntArray

    def __init__(self, triangles: ArrayLike, thickness_mm: ArrayLike, modulus_mpa: ArrayLike,
                 poisson: ArrayLike = 0.3, density_kg_m3: ArrayLike = 0.0, region: ArrayLike = 0) -> None:
        numbers = _numbers(triangles, 3, "triangles")
        count = len(numbers)
        fill(self, triangles=numbers,
             thickness_mm=_spread(thickness_mm, count, "thickness_mm"),
             modulus_mpa=_spread(modulus_mpa, count, "modulus_mpa"),
             poisson=_spread(poisson, count, "poisson"),
             density_kg_m3=_spread(density_kg_m3, count, "density_kg_m3"),
             region=_spread(region, count, "region").astype(np.int64))
        _positive(self.thickness_mm, "thickness_mm")
        _positive(self.modulus_mpa, "modulus_mpa")
        _positive(self.density_kg_m3, "density_kg_m3", zero_allowed=True)
        if count and not ((self.poisson >= 0) & (self.poisson < 0.5)).all():
            raise ValueError("poisson must be from 0 up to 0.5")

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.triangles)


@dataclass(frozen=True, eq=False)
class Beams:
    """Straight members between two nodes (Euler-Bernoulli, or Timoshenko where shear areas are given).

    ends (m, 2): node numbers; local x runs from the first to the second.
    area_mm2, torsion_mm4 (m,): section area and St Venant torsion constant.
    second_moment_y_mm4 (m,): about local y (bending in the local x-z plane); second_moment_z_mm4 about
    local z. up (m, 3): a direction in the local x-z plane; local z is the part of it square to x, local y
    = z × x. shear_area_y_mm2, shear_area_z_mm2 (m,): 0 leaves shear strain out.
    shear_modulus_mpa (m,): default modulus / 2.6. density_kg_m3 (m,).
    end_springs (m, 2, 6): stiffness between each end and its node, in local axes (N/mm; N mm/rad);
    infinity is a rigid joint (default), 0 a release.
    """

    ends: IntArray
    area_mm2: FloatArray
    second_moment_y_mm4: FloatArray
    second_moment_z_mm4: FloatArray
    torsion_mm4: FloatArray
    modulus_mpa: FloatArray
    up: FloatArray
    shear_modulus_mpa: FloatArray
    density_kg_m3: FloatArray
    shear_area_y_mm2: FloatArray
    shear_area_z_mm2: FloatArray
    end_springs: FloatArray

    def __init__(self, ends: ArrayLike, area_mm2: ArrayLike, second_moment_y_mm4: ArrayLike,
                 second_moment_z_mm4: ArrayLike, torsion_mm4: ArrayLike, modulus_mpa: ArrayLike,
                 up: ArrayLike, *, shear_modulus_mpa: ArrayLike | None = None, density_kg_m3: ArrayLike = 0.0,
                 shear_area_y_mm2: ArrayLike = 0.0, shear_area_z_mm2: ArrayLike = 0.0,
                 end_springs: ArrayLike = np.inf) -> None:
        numbers = _numbers(ends, 2, "ends")
        count = len(numbers)
        modulus = _spread(modulus_mpa, count, "modulus_mpa")
        fill(self, ends=numbers, modulus_mpa=modulus,
             area_mm2=_spread(area_mm2, count, "area_mm2"),
             second_moment_y_mm4=_spread(second_moment_y_mm4, count, "second_moment_y_mm4"),
             second_moment_z_mm4=_spread(second_moment_z_mm4, count, "second_moment_z_mm4"),
             torsion_mm4=_spread(torsion_mm4, count, "torsion_mm4"),
             up=_spread(up, count, "up", (3,)),
             shear_modulus_mpa=_spread(modulus / 2.6 if shear_modulus_mpa is None else shear_modulus_mpa,
                                       count, "shear_modulus_mpa"),
             density_kg_m3=_spread(density_kg_m3, count, "density_kg_m3"),
             shear_area_y_mm2=_spread(shear_area_y_mm2, count, "shear_area_y_mm2"),
             shear_area_z_mm2=_spread(shear_area_z_mm2, count, "shear_area_z_mm2"),
             end_springs=_spread(end_springs, count, "end_springs", (2, 6)))
        for name in ("area_mm2", "second_moment_y_mm4", "second_moment_z_mm4", "torsion_mm4", "modulus_mpa",
                     "shear_modulus_mpa"):
            _positive(getattr(self, name), name)
        for name in ("density_kg_m3", "shear_area_y_mm2", "shear_area_z_mm2"):
            _positive(getattr(self, name), name, zero_allowed=True)
        if count and not (self.end_springs >= 0).all():
            raise ValueError("end_springs must be zero or more (infinity for a rigid joint)")

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.ends)


@dataclass(frozen=True, eq=False)
class Springs:
    """Linear springs from a node to another node or to the ground, working both ways.

    ends (m, 2): node numbers, `GROUND` allowed as the second. The spring sits at the first node; a second
    node some way off is joined by a rigid arm, so the forces stay in balance.
    stiffness (m, 6) or (m, 6, 6): N/mm, N, N mm/rad, in `axes` (m, 3, 3) whose rows are the spring's own
    directions in global axes (default global).
    """

    ends: IntArray
    stiffness: FloatArray
    axes: FloatArray

    def __init__(self, ends: ArrayLike, stiffness: ArrayLike, axes: ArrayLike | None = None) -> None:
        numbers = _numbers(ends, 2, "ends")
        count = len(numbers)
        given = np.asarray(stiffness, dtype=float)
        full = given.ndim == 3 or (given.ndim == 2 and given.shape == (6, 6) and count != 6)
        if full:
            matrix = _spread(given, count, "stiffness", (6, 6)).copy()
        else:
            matrix = np.zeros((count, 6, 6))
            matrix[:, np.arange(6), np.arange(6)] = _spread(given, count, "stiffness", (6,))
        even = 0.5 * (matrix + matrix.transpose(0, 2, 1))
        if count and np.linalg.eigvalsh(even).min() < -1e-9 * np.abs(matrix).max():
            raise ValueError("stiffness of a spring must not be negative")
        fill(self, ends=numbers, stiffness=matrix,
             axes=_spread(np.eye(3) if axes is None else axes, count, "axes", (3, 3)))

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.ends)


@dataclass(frozen=True, eq=False)
class Spider:
    """A reference node joined to a ring of nodes, exactly (freedoms are eliminated, no penalty).

    kind "rigid": the ring follows the centre as one rigid body; `rotations` False leaves the ring nodes
    free to turn, which lets the ring's metal bend. kind "spread": the centre follows the weighted mean
    motion of the ring and passes its forces on without stiffening it; the ring must not lie on one line.
    """

    centre: int
    ring: IntArray
    kind: Literal["rigid", "spread"] = "rigid"
    rotations: bool = True
    weights: FloatArray | None = None

    def __post_init__(self) -> None:
        ring = np.unique(np.asarray(self.ring, dtype=np.int64))
        if self.kind not in ("rigid", "spread"):
            raise ValueError(f"a spider is 'rigid' or 'spread', not {self.kind!r}")
        if self.centre in ring:
            raise ValueError("the centre of a spider cannot be on its own ring")
        if len(ring) < (1 if self.kind == "rigid" else 3):
            raise ValueError("a spider needs ring nodes (three or more when spread)")
        if self.weights is not None and np.shape(self.weights) != np.shape(self.ring):
            raise ValueError("weights of a spider need one value for each ring node")
        if self.weights is not None:
            order = np.unique(np.asarray(self.ring), return_index=True)[1]
            fill(self, weights=np.asarray(self.weights, dtype=float)[order])
        fill(self, ring=ring)


Spiders = Sequence[Spider]


@dataclass(frozen=True, eq=False)
class Contacts:
    """Places where something solid pushes on a node and never pulls.

    nodes (k,). normals (k, 3): the way the node may leave, and the way the push acts; made unit length.
    gap_mm (k,): room before touching, negative where it starts pressed in.
    compliance_mm_per_n (k,): how far the solid gives for each newton; above zero.
    against (k,): `GROUND`, or the node of another part which is pushed back.
    """

    nodes: IntArray
    normals: FloatArray
    gap_mm: FloatArray
    compliance_mm_per_n: FloatArray
    against: IntArray

    def __init__(self, nodes: ArrayLike, normals: ArrayLike, compliance_mm_per_n: ArrayLike,
                 gap_mm: ArrayLike = 0.0, against: ArrayLike = GROUND) -> None:
        numbers = np.asarray(nodes, dtype=np.int64).reshape(-1)
        count = len(numbers)
        directions = _spread(normals, count, "normals", (3,))
        lengths = np.linalg.norm(directions, axis=1)
        _positive(lengths, "length of normals")
        fill(self, nodes=numbers, normals=directions / lengths[:, None],
             gap_mm=_spread(gap_mm, count, "gap_mm"),
             compliance_mm_per_n=_spread(compliance_mm_per_n, count, "compliance_mm_per_n"),
             against=_spread(against, count, "against").astype(np.int64))
        _positive(self.compliance_mm_per_n, "compliance_mm_per_n")

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.nodes)


@dataclass(frozen=True, eq=False)
class Ties:
    """Rods, wires and bolts that pull and never push.

    ends (k, 2): node numbers; `GROUND` allowed as the second, with `directions` then needed.
    stiffness_n_per_mm (k,): above zero. pretension_n (k,): pull when nothing has moved (negative: slack by
    -pretension / stiffness). directions (k, 3): from the first end to the second; default the line between
    them.
    """

    ends: IntArray
    stiffness_n_per_mm: FloatArray
    pretension_n: FloatArray
    directions: FloatArray | None

    def __init__(self, ends: ArrayLike, stiffness_n_per_mm: ArrayLike, pretension_n: ArrayLike = 0.0,
                 directions: ArrayLike | None = None) -> None:
        numbers = _numbers(ends, 2, "ends")
        count = len(numbers)
        fill(self, ends=numbers, stiffness_n_per_mm=_spread(stiffness_n_per_mm, count, "stiffness_n_per_mm"),
             pretension_n=_spread(pretension_n, count, "pretension_n"),
             directions=None if directions is None else _spread(directions, count, "directions", (3,)))
        _positive(self.stiffness_n_per_mm, "stiffness_n_per_mm")
        if directions is None and (numbers[:, 1] == GROUND).any():
            raise ValueError("a tie to the ground needs its direction")

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.ends)


@dataclass(frozen=True, eq=False)
class Masses:
    """Concentrated masses at nodes: they weigh in gravity and swing in natural modes. mass_kg (k,): zero
    or more.

    offsets_mm (k, 3): from the node to the centre of mass, on a rigid arm.
    """

    nodes: IntArray
    mass_kg: FloatArray
    offsets_mm: FloatArray

    def __init__(self, nodes: ArrayLike, mass_kg: ArrayLike, offsets_mm: ArrayLike = 0.0) -> None:
        numbers = np.asarray(nodes, dtype=np.int64).reshape(-1)
        fill(self, nodes=numbers, mass_kg=_spread(mass_kg, len(numbers), "mass_kg"),
             offsets_mm=_spread(offsets_mm, len(numbers), "offsets_mm", (3,)))
        _positive(self.mass_kg, "mass_kg", zero_allowed=True)

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.nodes)


def no_shells() -> Shells:
    """An empty set of plates."""
    return Shells(np.zeros((0, 3), int), 1.0, 1.0)


def no_beams() -> Beams:
    """An empty set of beams."""
    return Beams(np.zeros((0, 2), int), 1.0, 1.0, 1.0, 1.0, 1.0, (0.0, 0.0, 1.0))


def no_springs() -> Springs:
    """An empty set of springs."""
    return Springs(np.zeros((0, 2), int), np.zeros((0, 6)))


def no_contacts() -> Contacts:
    """An empty set of contacts."""
    return Contacts(np.zeros(0, int), np.zeros((0, 3)), 1.0)


def no_ties() -> Ties:
    """An empty set of ties."""
    return Ties(np.zeros((0, 2), int), 1.0)


def no_masses() -> Masses:
    """An empty set of masses."""
    return Masses(np.zeros(0, int), 0.0)
