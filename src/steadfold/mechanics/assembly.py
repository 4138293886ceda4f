"""From elements to one sparse matrix, and from all freedoms to the free ones.

The pattern of 6 by 6 blocks is found once, over node pairs; values are then summed into it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from . import beam, triangle
from .model import FREEDOMS, Model
from .parts import GROUND, BoolArray, FloatArray, IntArray, Spider, Springs


def arm(offset: FloatArray) -> FloatArray:
    """Rigid arms (k, 6, 6) from motions of a node to those of a point `offset` (k, 3) away."""
    matrix = np.tile(np.eye(6), (len(offset), 1, 1))
    x, y, z = offset.T
    matrix[:, 0, 4], matrix[:, 0, 5] = z, -y
    matrix[:, 1, 3], matrix[:, 1, 5] = -z, x
    matrix[:, 2, 3], matrix[:, 2, 4] = y, -x
    return matrix


def assembled(node_count: int, pairs: list[tuple[IntArray, FloatArray]]) -> sparse.csr_matrix:
    """Sum of element blocks as a matrix (6n, 6n).

    Each entry of `pairs`: node numbers (m, k), `GROUND` allowed, and blocks (m, k, k, 6, 6) between them.
    """
    keys, values = [], []
    for numbers, blocks in pairs:
        count, width = numbers.shape
        if not count:
            continue
        first = np.broadcast_to(numbers[:, :, None], (count, width, width)).reshape(-1)
        second = np.broadcast_to(numbers[:, None, :], (count, width, width)).reshape(-1)
        flat = blocks.reshape(-1, 36)
        if (numbers == GROUND).any():
            kept = (first != GROUND) & (second != GROUND)
            first, second, flat = first[kept], second[kept], flat[kept]
        keys.append(first * node_count + second)
        values.append(flat)
    if not keys:
        return sparse.csr_matrix((6 * node_count, 6 * node_count))
    key = np.concatenate(keys)
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    summing = sparse.csr_matrix((np.ones(len(key)), order, np.append(starts, len(key))),
                                shape=(len(starts), len(key)))
    data = summing @ (np.concatenate(values) if len(values) > 1 else values[0])
    rows, columns = np.divmod(ordered[starts], node_count)
    pointers = np.searchsorted(rows, np.arange(node_count + 1))
    blocks_matrix = sparse.bsr_matrix((data.reshape(-1, 6, 6), columns, pointers),
                                      shape=(6 * node_count, 6 * node_count))
    return blocks_matrix.tocsr()


def spring_rows(model: Model, springs: Springs) -> tuple[IntArray, FloatArray]:
    """Node pairs (s, 2) and rows (s, 6, 12): motion of the second end less the first, in the spring's
    axes. `springs` are the model's springs or its links.
    """
    nodes = model.nodes_mm
    second = np.where(springs.ends[:, 1] == GROUND, springs.ends[:, 0], springs.ends[:, 1])
    reach = arm(nodes[springs.ends[:, 0]] - nodes[second])
    turn = np.zeros((springs.count, 6, 6))
    turn[:, :3, :3] = turn[:, 3:, 3:] = springs.axes
    rows = np.concatenate([-turn, np.matmul(turn, reach)], axis=2)
    return springs.ends, rows


def spring_blocks(model: Model, springs: Springs) -> FloatArray:
    """Stiffness of every spring as blocks between its ends, global axes."""
    _, rows = spring_rows(model, springs)
    full = np.matmul(rows.transpose(0, 2, 1), np.matmul(springs.stiffness, rows))
    return full.reshape(-1, 2, 6, 2, 6).transpose(0, 1, 3, 2, 4)


def stiffness(model: Model, beams: beam.BeamSet) -> sparse.csr_matrix:
    """Stiffness of all parts that work both ways (contacts and ties are left out)."""
    return assembled(model.node_count, [
        (model.shells.triangles, triangle.stiffness_blocks(model)),
        (model.beams.ends, beam.stiffness_blocks(beams)),
        (model.springs.ends, spring_blocks(model, model.springs)),
        (model.links.ends, spring_blocks(model, model.links))])


def spring_motion(model: Model, displacement: FloatArray, springs: Springs) -> FloatArray:
    """Opening (s, 6, ...) of every spring in its own axes, for displacements (n, 6, ...)."""
    _, rows = spring_rows(model, springs)
    moved = displacement[springs.ends]
    moved[springs.ends == GROUND] = 0.0
    return np.asarray(np.einsum("eki,ei...->ek...", rows, moved.reshape(-1, 12, *displacement.shape[2:])))


def energies(model: Model, beams: beam.BeamSet, displacement: FloatArray) -> FloatArray:
    """Strain energy (...) of all plates, beams and springs in N mm, summed from their own strains, for
    displacements (n, 6, ...).
    """
    springs: FloatArray | float = 0.0
    for kind in (model.springs, model.links):
        opening = spring_motion(model, displacement, kind)
        springs = springs + 0.5 * np.einsum("ek...,ekl,el...->...", opening, kind.stiffness, opening)
    return np.asarray(triangle.element_energy(model, displacement).sum(axis=0)
                      + beam.element_energy(model, beams, displacement).sum(axis=0) + springs)


def touched_nodes(model: Model) -> BoolArray:
    """Nodes (n,) that some part uses."""
    used = np.zeros(model.node_count, dtype=bool)
    for numbers in (model.shells.triangles, model.beams.ends, model.springs.ends, model.links.ends, model.contacts.nodes,
                    model.contacts.against, model.ties.ends, model.masses.nodes):
        used[numbers[numbers != GROUND]] = True
    for spider in model.spiders:
        used[spider.ring] = True
        used[spider.centre] = True
    return used


def _spider_rows(model: Model, spider: Spider) -> tuple[IntArray, IntArray, FloatArray]:
    """Followers, leaders and coefficients (followers, leaders) of a spider, as freedom numbers."""
    offset = model.nodes_mm[spider.ring] - model.nodes_mm[spider.centre]
    reach = arm(offset)
    centre = 6 * spider.centre + np.arange(6)
    if spider.kind == "rigid":
        kept = 6 if spider.rotations else 3
        ring = (6 * spider.ring[:, None] + np.arange(kept)).reshape(-1)
        return ring, centre, reach[:, :kept].reshape(-1, 6)
    weights = np.ones(len(offset)) if spider.weights is None else spider.weights
    if not (weights >= 0).all() or weights.sum() <= 0:
        raise ValueError("weights of a spider must be zero or more, and some above zero")
    moves = reach[:, :3]
    normal = np.einsum("k,kij,kil->jl", weights, moves, moves)
    size = np.sqrt(np.diag(normal))
    if size.min() == 0 or np.linalg.eigvalsh(normal / np.outer(size, size))[0] < 1e-9:
        raise ValueError(f"the ring of the spread spider at node {spider.centre} lies on one line")
    mean = np.linalg.solve(normal, np.einsum("k,kij->jki", weights, moves).reshape(6, -1))
    return centre, (6 * spider.ring[:, None] + np.arange(3)).reshape(-1), mean


@dataclass(frozen=True, eq=False)
class Freedoms:
    """Which freedoms are free, which held, and which follow others.

    free, held, following: freedom numbers. leaders (6n-long matrix rows): following = from_free @ free
    + from_held @ held.
    """

    total: int
    free: IntArray
    held: IntArray
    following: IntArray
    from_free: sparse.csr_matrix
    from_held: sparse.csr_matrix

    def expanded(self, free: FloatArray, held: FloatArray | None = None) -> FloatArray:
        """All freedoms (6n, ...) from the free (and held) ones."""
        full = np.zeros((self.total, *free.shape[1:]))
        full[self.free] = free
        if held is not None:
            full[self.held] = held
        if self.following.size:
            full[self.following] = self.from_free @ free
            if held is not None:
                full[self.following] += self.from_held @ held
        return full

    def reduced(self, forces: FloatArray) -> FloatArray:
        """Forces (6n, ...) gathered on the free freedoms."""
        gathered = forces[self.free]
        if self.following.size:
            gathered = gathered + self.from_free.T @ forces[self.following]
        return np.asarray(gathered)

    def reduced_columns(self, columns: sparse.csc_matrix) -> sparse.csc_matrix:
        """Sparse force columns (6n, k) gathered on the free freedoms."""
        rows = columns.tocsr()
        gathered = rows[self.free]
        if self.following.size:
            gathered = gathered + self.from_free.T @ rows[self.following]
        return sparse.csc_matrix(gathered)

    def on_held(self, forces: FloatArray) -> FloatArray:
        """Forces (6n, ...) gathered on the held freedoms."""
        gathered = forces[self.held]
        if self.following.size:
            gathered = gathered + self.from_held.T @ forces[self.following]
        return np.asarray(gathered)

    def reduced_matrix(self, matrix: sparse.csr_matrix) -> sparse.csc_matrix:
        """A symmetric matrix (6n, 6n) gathered on the free freedoms."""
        core = matrix[self.free][:, self.free]
        if self.following.size:
            rows = matrix[self.following]
            joined = self.from_free.T @ rows[:, self.free]
            inside = self.from_free.T @ (rows[:, self.following] @ self.from_free)
            core = core + (joined + joined.T + inside)
        core = sparse.csr_matrix(core)
        core.sort_indices()
        # symmetric, so the rows are the columns
        return sparse.csc_matrix((core.data, core.indices, core.indptr), shape=core.shape)


def freedoms(model: Model) -> Freedoms:
    """Sort the freedoms of a model. Raises ValueError where a node follows two spiders or is held and
    follows.
    """
    total = 6 * model.node_count
    fixed = np.array(model.fixed).reshape(-1)
    fixed |= np.repeat(~touched_nodes(model), 6)
    follows = np.zeros(total, dtype=bool)
    rows, columns, values = [], [], []
    for spider in model.spiders:
        followers, leaders, coefficients = _spider_rows(model, spider)
        twice = followers[follows[followers] | fixed[followers]]
        if twice.size:
            node, freedom = divmod(int(twice[0]), 6)
            other = "is held" if fixed[twice[0]] else "follows another spider"
            raise ValueError(f"{FREEDOMS[freedom]} of node {node} follows a spider and also {other}")
        follows[followers] = True
        rows.append(np.repeat(followers, len(leaders)))
        columns.append(np.tile(leaders, len(followers)))
        values.append(coefficients.reshape(-1))
    held, free = np.flatnonzero(fixed), np.flatnonzero(~fixed & ~follows)
    following = np.flatnonzero(follows)
    if not following.size:
        empty = sparse.csr_matrix((0, len(free)))
        return Freedoms(total, free, held, following, empty, sparse.csr_matrix((0, len(held))))
    lead = sparse.csr_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
                             shape=(total, total))[following]
    settled, chain = lead, lead[:, following]
    for _ in model.spiders:  # a leader that itself follows: put its own leaders in its place
        chain.eliminate_zeros()
        if not chain.nnz:
            break
        settled = settled + chain @ lead
        chain = chain @ lead[:, following]
    else:
        raise ValueError("spiders follow each other in a ring")
    return Freedoms(total, free, held, following, sparse.csr_matrix(settled[:, free]),
                    sparse.csr_matrix(settled[:, held]))
