"""Where a frame comes to rest when its pieces turn far enough that the geometry changes: the check behind levelling.

The beams are those of the mechanics, each followed by axes that move with it (co-rotational; Crisfield, 'Non-linear
finite element analysis of solids and structures', vol. 2, ch. 17, recalled); rods pull by their present length and
never push. Small strains, any rotation of the whole that stays under a few tens of degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np

from steadfold.mechanics import Loads
from steadfold.mechanics.beam import beam_set, even_load
from steadfold.mechanics.loads import beam_load
from steadfold.stand.footing import FloatArray
from steadfold.stand.records import StandError
from steadfold.stand.structure import FOOT_MM_PER_N, ROD_MODULUS_MPA, Built, thread_of

MOST_STEPS = 60
SETTLED = 1e-6
"""Largest imbalance over the largest load at which the frame counts as at rest."""

LONGEST_STEP_MM = 50.0


@dataclass(frozen=True, eq=False)
class Rest:
    """The frame at rest: places (n, 3), triads (n, 3, 3), pull of every rod, natural forces (b, 6) of every beam, and
    what holds each node (n, 6).

    Natural forces: pull, twist, moments about y at both ends, about z at both ends, in the beam's own moved axes.
    """

    places: FloatArray
    triads: FloatArray
    rods_n: FloatArray
    natural: FloatArray
    reaction: FloatArray
    steps: int

    def lifted_mm(self, ready: Built, node: str) -> float:
        """How far a node lies above where it was drawn."""
        number = ready.node_of[node]
        return float(self.places[number, 2] - ready.places[number, 2])


class Follower:
    """A frame made ready to be followed: what does not change from one rod length to the next."""

    def __init__(self, ready: Built, loads: Loads):
        model = ready.model
        self.ready = ready
        self.beams = model.beams
        fresh = beam_set(model)
        self.axes, self.length, self.natural = fresh.axes, fresh.length, fresh.natural
        self.count = len(ready.places)
        outside = np.array(loads.nodal, dtype=float) if loads.nodal is not None else np.zeros((self.count, 6))
        if any(loads.gravity_mm_s2):
            nodal, _ = even_load(model, fresh, beam_load(model, loads))
            outside = outside.copy()
            np.add.at(outside, self.beams.ends, nodal)
        self.outside = outside
        used = np.zeros(self.count, dtype=bool)
        used[self.beams.ends] = True
        self.free = np.flatnonzero((~np.asarray(model.fixed) & used[:, None]).reshape(-1))
        rods = ready.stand.tie_rods
        self.rod_ends = np.array([(ready.node_of[r.start], ready.node_of[r.end]) for r in rods], dtype=int).reshape(
            -1, 2
        )
        self.rod_rigidity = np.array([ROD_MODULUS_MPA * thread_of(rod.size)[1] for rod in rods])
        self.feet = np.asarray(model.contacts.nodes)
        springs = model.springs
        self.steadying = [
            (int(node), block[3:, 3:])
            for (node, _), block in zip(springs.ends, np.asarray(springs.stiffness), strict=True)
            if block[3:, 3:].any()
        ]
        self.yielding = [
            (ready.node_of[h.node], h.gives_n_per_mm) for h in ready.stand.held if h.gives_n_per_mm is not None
        ]

    def rest(self, rods_mm: FloatArray, start: Rest | None = None) -> Rest:
        """The place of rest for rods of these unstretched lengths (k,).

        Newton's method; raises StandError where the frame finds no rest (rods too long to reach, or a mechanism).
        """
        places = self.ready.places.copy() if start is None else start.places.copy()
        triads = np.tile(np.eye(3), (self.count, 1, 1)) if start is None else start.triads.copy()
        size = max(float(np.abs(self.outside).max()), 1.0)
        settling = start is None
        for step in range(MOST_STEPS):
            # rods work both ways at first, so that a frame that hangs on them is not loose before they are taut
            two_way = settling and step < 3
            force, stiffness, rods, natural = self._forces(places, triads, rods_mm, two_way)
            rest = (self.outside.reshape(-1) - force)[self.free]
            scale = np.where(self.free % 6 < 3, 1.0, 1e-3)
            if step > 0 and not two_way and float(np.abs(rest * scale).max(initial=0.0)) < SETTLED * size:
                reaction = force.reshape(-1, 6) - self.outside
                return Rest(places, triads, rods, natural, reaction, step)
            core = stiffness[np.ix_(self.free, self.free)]
            try:
                change = np.linalg.solve(core, rest)
            except np.linalg.LinAlgError:
                break
            if not np.isfinite(change).all():
                break
            move = np.zeros(6 * self.count)
            move[self.free] = change
            rows = move.reshape(-1, 6)
            longest = float(np.abs(rows[:, :3]).max(initial=0.0))
            if longest > LONGEST_STEP_MM:
                rows = rows * (LONGEST_STEP_MM / longest)
            places = places + rows[:, :3]
            triads = np.einsum("nij,njk->nik", rotations(rows[:, 3:]), triads)
        raise StandError(
            ("tie_rod",), "with the braces loosened and rods of these lengths the frame finds no place of rest"
        )

    def _forces(
        self, places: FloatArray, triads: FloatArray, rods_mm: FloatArray, two_way: bool
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        first, second = self.beams.ends.T
        span = places[second] - places[first]
        length = np.linalg.norm(span, axis=1)
        x = span / length[:, None]
        z = np.einsum("eij,ej->ei", triads[first] + triads[second], self.axes[:, 2])
        z = z - np.einsum("ei,ei->e", z, x)[:, None] * x
        z = z / np.linalg.norm(z, axis=1)[:, None]
        axes = np.stack([x, np.cross(z, x), z], axis=1)
        turns = [
            rotation_vectors(np.einsum("eij,ejk,elk->eil", axes, triads[end], self.axes)) for end in (first, second)
        ]
        deformation = np.column_stack([
            length - self.length, turns[1][:, 0] - turns[0][:, 0], turns[0][:, 1], turns[1][:, 1], turns[0][:, 2],
            turns[1][:, 2],
        ])  # fmt: skip
        natural = np.einsum("ekl,el->ek", self.natural, deformation)
        rows = _rows(length, axes)
        on_nodes = np.einsum("eki,ek->ei", rows, natural).reshape(-1, 2, 6)
        force = np.zeros((self.count, 6))
        np.add.at(force, self.beams.ends, on_nodes)
        stiffness = np.zeros((6 * self.count, 6 * self.count))
        blocks = np.einsum("eki,ekl,elj->eij", rows, self.natural, rows, optimize=True)
        index = (6 * self.beams.ends[:, :, None] + np.arange(6)).reshape(len(length), 12)
        np.add.at(stiffness, (index[:, :, None], index[:, None, :]), blocks)
        self._string(stiffness, self.beams.ends, x, natural[:, 0] / length)
        rods = self._rods(places, rods_mm, two_way, force, stiffness)
        for node in self.feet:
            below = self.ready.places[node, 2] - places[node, 2]
            if below > 0.0 or two_way:
                force[node, 2] -= below / FOOT_MM_PER_N
                stiffness[6 * node + 2, 6 * node + 2] += 1.0 / FOOT_MM_PER_N
        for node, block in self.steadying:
            # nothing turns these: the spring only keeps the system from being singular
            turn = slice(6 * node + 3, 6 * node + 6)
            stiffness[turn, turn] += block
        for node, gives in self.yielding:
            force[node, 0] += gives * (places[node, 0] - self.ready.places[node, 0])
            stiffness[6 * node, 6 * node] += gives
        return force.reshape(-1), stiffness, rods, natural

    def _rods(
        self, places: FloatArray, rods_mm: FloatArray, two_way: bool, force: FloatArray, stiffness: FloatArray
    ) -> FloatArray:
        if not len(self.rod_ends):
            return np.zeros(0)
        span = places[self.rod_ends[:, 1]] - places[self.rod_ends[:, 0]]
        length = np.linalg.norm(span, axis=1)
        along = span / length[:, None]
        per_mm = self.rod_rigidity / rods_mm
        pull = per_mm * (length - rods_mm)
        if not two_way:
            pull = np.maximum(pull, 0.0)
        np.add.at(force[:, :3], self.rod_ends[:, 0], -pull[:, None] * along)
        np.add.at(force[:, :3], self.rod_ends[:, 1], pull[:, None] * along)
        bears = np.where((pull > 0.0) | two_way, per_mm, 0.0)
        for (i, j), direction, stiff in zip(self.rod_ends, along, bears, strict=True):
            block = stiff * np.outer(direction, direction)
            _add_pair(stiffness, int(i), int(j), block)
        self._string(stiffness, self.rod_ends, along, np.maximum(pull, 0.0) / length)
        return cast(FloatArray, pull)

    @staticmethod
    def _string(stiffness: FloatArray, ends: np.ndarray, along: FloatArray, per_mm: FloatArray) -> None:
        """What a pull adds across a line, as to a string."""
        across = per_mm[:, None, None] * (np.eye(3) - along[:, :, None] * along[:, None, :])
        for (i, j), block in zip(ends, across, strict=True):
            _add_pair(stiffness, int(i), int(j), block)


def _add_pair(stiffness: FloatArray, i: int, j: int, block: FloatArray) -> None:
    a, b = slice(6 * i, 6 * i + 3), slice(6 * j, 6 * j + 3)
    stiffness[a, a] += block
    stiffness[b, b] += block
    stiffness[a, b] -= block
    stiffness[b, a] -= block


def _rows(length: FloatArray, axes: FloatArray) -> FloatArray:
    """Natural deformations per end motion (b, 6, 12), global axes, at the present length and direction."""
    count = len(length)
    rows = np.zeros((count, 6, 12))
    inverse = 1.0 / length
    rows[:, 0, 0], rows[:, 0, 6] = -1.0, 1.0
    rows[:, 1, 3], rows[:, 1, 9] = -1.0, 1.0
    for row, turn in ((2, 4), (3, 10)):
        rows[:, row, turn] = 1.0
        rows[:, row, 2], rows[:, row, 8] = -inverse, inverse
    for row, turn in ((4, 5), (5, 11)):
        rows[:, row, turn] = 1.0
        rows[:, row, 1], rows[:, row, 7] = inverse, -inverse
    return np.asarray(np.einsum("ekpi,eij->ekpj", rows.reshape(count, 6, 4, 3), axes).reshape(count, 6, 12))


def rotations(vectors: FloatArray) -> FloatArray:
    """Rotation matrices (n, 3, 3) of rotation vectors (n, 3); Rodrigues."""
    angle = np.linalg.norm(vectors, axis=1)
    small = angle < 1e-12
    unit = vectors / np.where(small, 1.0, angle)[:, None]
    cross = np.zeros((len(vectors), 3, 3))
    cross[:, 0, 1], cross[:, 0, 2], cross[:, 1, 2] = -unit[:, 2], unit[:, 1], -unit[:, 0]
    cross = cross - cross.transpose(0, 2, 1)
    sine, cosine = np.sin(angle)[:, None, None], np.cos(angle)[:, None, None]
    full = np.eye(3) + sine * cross + (1.0 - cosine) * (cross @ cross)
    return np.asarray(np.where(small[:, None, None], np.eye(3), full))


def rotation_vectors(matrices: FloatArray) -> FloatArray:
    """Rotation vectors (n, 3) of rotation matrices that turn by less than half a turn."""
    skew = 0.5 * np.stack([
        matrices[:, 2, 1] - matrices[:, 1, 2], matrices[:, 0, 2] - matrices[:, 2, 0],
        matrices[:, 1, 0] - matrices[:, 0, 1],
    ], axis=1)  # fmt: skip
    sine = np.linalg.norm(skew, axis=1)
    cosine = 0.5 * (np.trace(matrices, axis1=1, axis2=2) - 1.0)
    angle = np.arctan2(sine, cosine)
    factor = np.where(sine > 1e-9, angle / np.where(sine > 1e-9, sine, 1.0), 1.0)
    return np.asarray(skew * factor[:, None])
