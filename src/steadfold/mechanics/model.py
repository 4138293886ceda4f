"""A structure as a whole, and the loads on it.

Each node has six freedoms in global axes: ux, uy, uz, rx, ry, rz (rotations by the right-hand rule).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from .parts import (
    GROUND,
    Beams,
    BoolArray,
    Contacts,
    FloatArray,
    Masses,
    Shells,
    Spiders,
    Springs,
    Ties,
    fill,
    no_beams,
    no_contacts,
    no_masses,
    no_shells,
    no_springs,
    no_ties,
)

FREEDOMS = ("ux", "uy", "uz", "rx", "ry", "rz")

STANDARD_GRAVITY_MM_S2 = 9806.65
"""Standard acceleration of free fall (ISO 80000-3, exact by convention)."""


def held(node_count: int, nodes: ArrayLike, freedoms: Iterable[str] | str = FREEDOMS) -> BoolArray:
    """Mask (node_count, 6) of freedoms held fast; join several with `|`.

    freedoms: names out of ux uy uz rx ry rz, as a list or one string with spaces. Raises ValueError
    otherwise.
    """
    names = freedoms.split() if isinstance(freedoms, str) else list(freedoms)
    unknown = [name for name in names if name not in FREEDOMS]
    if unknown:
        raise ValueError(f"no such freedom: {unknown[0]!r}; there are {' '.join(FREEDOMS)}")
    mask = np.zeros((node_count, 6), dtype=bool)
    rows = np.asarray(nodes, dtype=np.int64).reshape(-1)
    for name in names:
        mask[rows, FREEDOMS.index(name)] = True
    return mask


@dataclass(frozen=True, eq=False)
class Model:
    """A whole structure. Nodes that no part touches are left out of the answer (they stay at zero).

    nodes_mm (n, 3). fixed (n, 6): True where a freedom is held; see `held`. links: springs from node to node that are
    none of its supports, such as a seam between two plates; never to the ground.
    Raises ValueError where a part names a node that does not exist or a triangle has no area.
    """

    nodes_mm: FloatArray
    shells: Shells = field(default_factory=no_shells)
    beams: Beams = field(default_factory=no_beams)
    springs: Springs = field(default_factory=no_springs)
    spiders: Spiders = ()
    fixed: BoolArray | None = None
    contacts: Contacts = field(default_factory=no_contacts)
    ties: Ties = field(default_factory=no_ties)
    masses: Masses = field(default_factory=no_masses)
    links: Springs = field(default_factory=no_springs)

    def __post_init__(self) -> None:
        nodes = np.ascontiguousarray(self.nodes_mm, dtype=float)
        if nodes.ndim != 2 or nodes.shape[1] != 3 or not np.isfinite(nodes).all():
            raise ValueError(f"nodes_mm must be finite, shape (n, 3), not {nodes.shape}")
        count = len(nodes)
        fixed = np.zeros((count, 6), bool) if self.fixed is None else np.asarray(self.fixed, dtype=bool)
        if fixed.shape != (count, 6):
            raise ValueError(f"fixed has shape {fixed.shape}; expected {(count, 6)}")
        fill(self, nodes_mm=nodes.copy(), fixed=fixed.copy(), spiders=tuple(self.spiders))
        grounded = {"springs": self.springs.ends, "contacts": self.contacts.against, "ties": self.ties.ends}
        used = {"shells": self.shells.triangles, "beams": self.beams.ends, "masses": self.masses.nodes,
                "links": self.links.ends, "contacts' nodes": self.contacts.nodes, **grounded}
        used |= {f"spider {k}": np.append(s.ring, s.centre) for k, s in enumerate(self.spiders)}
        for name, numbers in used.items():
            lowest = GROUND if name in grounded else 0
            if numbers.size and (numbers.min() < lowest or numbers.max() >= count):
                raise ValueError(f"{name} name a node that does not exist (there are {count})")
        corners = nodes[self.shells.triangles]
        area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
        longest = np.square(corners - np.roll(corners, 1, axis=1)).sum(axis=2).max(axis=1, initial=0.0)
        if (area <= 1e-10 * longest).any():
            raise ValueError(f"triangle {int(np.argmin(area))} has no area")
        lengths = np.linalg.norm(np.diff(nodes[self.beams.ends], axis=1)[:, 0], axis=1)
        if (lengths <= 0).any():
            raise ValueError(f"beam {int(np.argmin(lengths))} has no length")

    @property
    def node_count(self) -> int:
        """How many nodes."""
        return len(self.nodes_mm)


@dataclass(frozen=True, eq=False)
class Loads:
    """One loading of a model. Everything given acts together.

    nodal (n, 6): forces in N and moments in N mm at the nodes, global axes.
    gravity_mm_s2 (3,): acceleration of free fall, for instance (0, 0, -9806.65); acts on every density and
    mass. pressure_mpa (m,): on the shells, positive along an element's normal.
    beam_n_per_mm (b, 3): even load along each beam, global axes.
    settlement (n, 6): given displacement (mm, rad) of fixed freedoms.
    """

    nodal: FloatArray | None = None
    gravity_mm_s2: tuple[float, float, float] = (0.0, 0.0, 0.0)
    pressure_mpa: FloatArray | float = 0.0
    beam_n_per_mm: FloatArray | tuple[float, float, float] = (0.0, 0.0, 0.0)
    settlement: FloatArray | None = None
    name: str = ""
