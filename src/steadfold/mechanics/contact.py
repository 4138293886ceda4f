"""Contacts that only push and ties that only pull, settled on the compliance of their own few freedoms.

All are written the same way. Row b of a contact or tie measures w = b·u; with force p >= 0 the structure
feels b p, and the room left is g = g0 + w + c p >= 0, where one of p and g is zero. A contact has b along
its normal, g0 its gap, c its compliance; a tie of stiffness k and pre-tension f has b along it, g0 = -f /
k and c = 1 / k. With the compliance A = bᵀK⁻¹b of the structure, this is the linear complementarity
problem of the positive definite matrix A + c.

Sources: Murty, 'Linear complementarity, linear and nonlinear programming' (1988), for the single exchange
that always ends; Judice & Pires, 'A block principal pivoting algorithm for large-scale strictly monotone
linear complementarity problems', Computers & Op. Res. 21 (1994) 587-596; Lawson & Hanson, 'Solving least
squares problems' (1974), ch. 23, for the fallback (all recalled).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import linalg, sparse

from .model import Model
from .parts import GROUND, BoolArray, FloatArray

TOLERANCE = 1e-10


@dataclass(frozen=True, eq=False)
class Rows:
    """Contacts, then ties: rows (6n, k) as columns of a matrix, room at the start g0 (k,), compliance c
    (k,).
    """

    columns: sparse.csc_matrix
    room_mm: FloatArray
    compliance: FloatArray

    @property
    def count(self) -> int:
        """How many one-sided rows."""
        return len(self.room_mm)


def one_sided_rows(model: Model) -> Rows:
    """Rows of all contacts and ties of a model."""
    contacts, ties, nodes = model.contacts, model.ties, model.nodes_mm
    if ties.directions is None:
        line = nodes[ties.ends[:, 1]] - nodes[ties.ends[:, 0]]
    else:
        line = ties.directions
    length = np.linalg.norm(line, axis=1)
    if (length <= 0).any():
        raise ValueError(f"tie {int(np.argmin(length))} has no length, so no direction")
    way = np.concatenate([contacts.normals, line / length[:, None]])
    first = np.concatenate([contacts.nodes, ties.ends[:, 0]])
    second = np.concatenate([contacts.against, ties.ends[:, 1]])
    room = np.concatenate([contacts.gap_mm, -ties.pretension_n / ties.stiffness_n_per_mm])
    compliance = np.concatenate([contacts.compliance_mm_per_n, 1.0 / ties.stiffness_n_per_mm])
    count = len(first)
    other = np.flatnonzero(second != GROUND)
    back = way[other]
    lever = np.cross(nodes[first[other]] - nodes[second[other]], back)
    index = [6 * first[:, None] + np.arange(3), 6 * second[other][:, None] + np.arange(6)]
    values = [way, -np.concatenate([back, lever], axis=1)]
    which = [np.repeat(np.arange(count), 3), np.repeat(other, 6)]
    columns = sparse.csc_matrix(
        (np.concatenate([v.reshape(-1) for v in values]),
         (np.concatenate([i.reshape(-1) for i in index]), np.concatenate(which))),
        shape=(6 * model.node_count, count))
    return Rows(columns, room, compliance)


def pivoted(matrix: FloatArray, offset: FloatArray, start: BoolArray | None = None,
            most: int | None = None) -> tuple[FloatArray, bool]:
    """Force p >= 0 with g = matrix @ p + offset >= 0 and p g = 0, by block principal pivoting.

    matrix (k, k): positive definite. Returns p and whether it settled within `most` exchanges (default 20
    k + 60; in exact arithmetic the single exchanges always end).
    """
    count = len(offset)
    scale = 1.0 / np.sqrt(np.diag(matrix))
    scaled = matrix * np.outer(scale, scale)
    aim = offset * scale
    slack = TOLERANCE * max(float(np.abs(aim).max(initial=0.0)), 1e-300)
    active = aim < -slack if start is None else start.copy()
    fewest, patience = count + 1, 3
    force = np.zeros(count)
    for _ in range(20 * count + 60 if most is None else most):
        force = np.zeros(count)
        if active.any():
            core = linalg.cho_factor(scaled[np.ix_(active, active)], check_finite=False)
            force[active] = -linalg.cho_solve(core, aim[active], check_finite=False)
        room = np.where(active, 0.0, aim + scaled[:, active] @ force[active])
        wrong = (active & (force < -slack)) | (~active & (room < -slack))
        number = int(wrong.sum())
        if not number:
            return np.maximum(force, 0.0) * scale, True
        if number < fewest:
            fewest, patience = number, 3
        elif patience:
            patience -= 1
        else:
            last = int(np.flatnonzero(wrong)[-1])
            wrong = np.zeros(count, dtype=bool)
            wrong[last] = True
        active = active ^ wrong
    return np.maximum(force, 0.0) * scale, False


def least_squares(matrix: FloatArray, offset: FloatArray) -> FloatArray:
    """The same force by non-negative least squares: slower, always ends."""
    from scipy import optimize  # seldom needed, and slow to load

    scale = 1.0 / np.sqrt(np.diag(matrix))
    root = linalg.cholesky(matrix * np.outer(scale, scale), lower=True)
    target = -linalg.solve_triangular(root, offset * scale, lower=True)
    force, _ = optimize.nnls(root.T, target, maxiter=50 * len(offset) + 1000)
    return np.asarray(force * scale)


def settled(matrix: FloatArray, offset: FloatArray, start: BoolArray | None = None) -> tuple[FloatArray, str]:
    """Force p and how it was found ("pivoting" or "least squares")."""
    try:
        force, done = pivoted(matrix, offset, start)
        if done:
            return force, "pivoting"
    except linalg.LinAlgError:
        pass
    return least_squares(matrix, offset), "least squares"


@dataclass(frozen=True, eq=False)
class Compliance:
    """What a structure gives at its contacts and ties.

    answers (f, k): free freedoms moved by a unit force at each row. give (k, k): movement of the rows.
    helpers (k,): stiffness of springs along the rows that the factored base contains because it could not
    stand without them; they are taken out exactly again, so that none is left in an answer.
    """

    rows: Rows
    answers: FloatArray
    give: FloatArray
    helpers: FloatArray

    def forces(self, movement: FloatArray,
               start: BoolArray | None) -> tuple[FloatArray, FloatArray, str] | None:
        """Force p (k,), total drive q (k,) of the rows on the base, and the method, for rows that the
        loads alone move by `movement` (k,) on the base. None where the parts that then bear do not hold
        the structure.
        """
        room, soft = self.rows.room_mm, self.rows.compliance
        if not self.helpers.any():
            force, method = settled(self.give + np.diag(soft), room + movement, start)
            return force, force, method
        left = np.eye(len(room)) - (1 - 1e-7) * self.give * self.helpers
        without = np.linalg.solve(left, np.column_stack([self.give, movement]))
        matrix = 0.5 * (without[:, :-1] + without[:, :-1].T) + np.diag(soft)
        force, method = settled(matrix, room + without[:, -1], start)
        return self._exact(force > 0, movement, method)

    def _exact(self, active: BoolArray, movement: FloatArray,
               method: str) -> tuple[FloatArray, FloatArray, str] | None:
        """Take the helpers out: the bearing set is kept, or mended, on the true structure."""
        room, soft = self.rows.room_mm, self.rows.compliance
        count = len(room)
        for _ in range(count + 20):
            chosen = np.flatnonzero(active)
            system = np.zeros((count + len(chosen), count + len(chosen)))
            system[:count, :count] = np.eye(count) - self.give * self.helpers
            system[:count, count:] = -self.give[:, chosen]
            system[count + np.arange(len(chosen)), chosen] = 1.0
            system[count + np.arange(len(chosen)), count + np.arange(len(chosen))] = soft[chosen]
            size = np.maximum(np.abs(system).max(axis=1), 1e-300)
            try:
                solution = np.linalg.solve(system / size[:, None],
                                           np.concatenate([movement, -room[chosen]]) / size)
            except np.linalg.LinAlgError:
                return None
            moved = solution[:count]
            if not np.isfinite(solution).all() or np.linalg.cond(system / size[:, None]) > 1e13:
                return None
            force = np.zeros(count)
            force[chosen] = solution[count:]
            reach = max(float(np.abs(room).max()), float(np.abs(moved).max()), 1e-300)
            push = max(float(np.abs(force).max(initial=0.0)), 1e-300)
            wrong = np.where(active, force < -1e-9 * push, room + moved < -1e-9 * reach)
            if not wrong.any():
                force = np.maximum(force, 0.0)
                return force, force + self.helpers * moved, method
            worst = np.argmax(np.where(wrong, np.where(active, -force / push, -(room + moved) / reach), -1.0))
            active = active.copy()
            active[worst] = ~active[worst]
        return None
