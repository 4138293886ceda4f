"""A Cholesky factorisation in dense fronts, for the stiffness of plates: most of the work is done by the BLAS.

Multifrontal (Duff and Reid 1983): the freedoms of a front are eliminated in one dense matrix, together with what lies
around them; what is left over for those around goes to the front's parent. Solutions run over all fronts of a level and
about one size at a time, in stacked matrices.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import sparse
from scipy.linalg import blas, lapack

from .dissection import LEAF, Dissection, dissected
from .parts import FloatArray, IntArray

SPARE = 1.25
"""What fronts of one stack may take over what they need."""


class NotPositive(ArithmeticError):
    """A matrix is not positive definite."""


@dataclass(frozen=True, eq=False)
class _Stack:
    """Fronts of one level that are solved together. rows (k, p): their pivots; edge (k, b): what lies around them; both
    filled up with n, a row of zeros. begin: where their blocks (k, p, p) start in the level's store, and those (k, b, p)
    after them. part: where the edges lie among all edges of the level.
    """

    fronts: IntArray
    rows: IntArray
    edge: IntArray
    begin: int
    part: slice

    @property
    def end(self) -> int:
        """Where the blocks end in the store."""
        return self.begin + self.rows.shape[1] * (self.rows.size + self.edge.size)

    def blocks(self, store: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Views (k, p, p) of the pivots' blocks and (k, b, p) of those around."""
        count, p = self.rows.shape
        middle = self.begin + count * p * p
        return store[self.begin : middle].reshape(count, p, p), store[middle : self.end].reshape(*self.edge.shape, p)


@dataclass(frozen=True, eq=False)
class _Level:
    """touched (t,): rows around any front of a level. gather (t, e) sums all edges of the level onto these. entries:
    pairs of entries of the matrix and their places in the store of the level's blocks.
    """

    stacks: list[_Stack]
    touched: IntArray
    gather: sparse.csr_matrix
    entries: list[tuple[IntArray, IntArray]]


@dataclass(frozen=True, eq=False)
class Plan:
    """All that the pattern of a matrix tells about its factorisation. Make one with `planned`.

    indptr, indices: the pattern. order (n,): freedom at each place of the elimination. pivots, edges (f,): sizes of the
    fronts, by heap number. handed: for each front, runs (from, to, length) of its edge in its parent's rows. levels: the
    deepest first.
    """

    indptr: IntArray
    indices: IntArray
    order: IntArray
    pivots: IntArray
    edges: IntArray
    handed: list[list[tuple[int, int, int]]]
    levels: list[_Level]

    def fits(self, matrix: sparse.csc_matrix) -> bool:
        """Whether a matrix has this pattern."""
        return np.array_equal(self.indptr, matrix.indptr) and np.array_equal(self.indices, matrix.indices)


def planned(matrix: sparse.csc_matrix, places: FloatArray, leaf: int = LEAF) -> Plan:
    """Plan for a symmetric pattern (n, n), n > 0, with sorted indices and its whole diagonal.

    places (n, 3): where each freedom is. leaf: freedoms at which a set is not cut any more, about.
    """
    cut = dissected(matrix, places, leaf)
    tree = _Tree.of(cut)
    stacks = tree.stacks()
    entries = tree.entries(matrix, cut, stacks)
    levels = [_Level(some, *_gathering(some), pairs) for some, pairs in zip(stacks, entries, strict=True)]
    return Plan(matrix.indptr, matrix.indices, tree.order, tree.pivots, tree.edges, tree.handed(), levels)


@dataclass(frozen=True, eq=False)
class _Tree:
    """Fronts with their edges. Vertices count in order of elimination here.

    front, width, first (v,): front of a vertex, its freedoms, and the first of them. pivots, edges, begin (f,): sizes of
    a front, and its first pivot. edge_key (e,): front * v + vertex for the vertices of all edges, sorted; edge_at (e,):
    first row of a vertex in its front's edge. number (v,): places among the eliminated of vertices as they come.
    """

    depth: int
    order: IntArray
    place: IntArray
    front: IntArray
    width: IntArray
    first: IntArray
    pivots: IntArray
    edges: IntArray
    begin: IntArray
    edge_key: IntArray
    edge_at: IntArray
    number: IntArray

    @classmethod
    def of(cls, cut: Dissection) -> _Tree:
        count, fronts = len(cut.front), 2 << cut.levels
        level = np.frexp(cut.front)[1] - 1
        by_place = np.lexsort((cut.along, cut.front, -level))
        number = np.empty(count, dtype=np.int64)
        number[by_place] = np.arange(count)
        own = cut.front[by_place]
        width = np.bincount(cut.vertex, minlength=count)[by_place]
        first = np.concatenate([[0], np.cumsum(width)])
        key = _edges(cut, number, own)
        ends = key // count
        widths = width[key % count]
        sums = np.concatenate([[0], np.cumsum(widths)])
        edge_first = np.searchsorted(ends, np.arange(fronts + 1))
        pivots = np.bincount(own, width, minlength=fronts).astype(np.int64)
        edges = sums[edge_first[1:]] - sums[edge_first[:-1]]
        begin = np.zeros(fronts, dtype=np.int64)
        begin[own[::-1]] = first[:-1][::-1]
        order = np.argsort(number[cut.vertex], kind="stable")
        place = np.empty(len(order), dtype=np.int64)
        place[order] = np.arange(len(order))
        return cls(
            cut.levels,
            order,
            place,
            own,
            width,
            first,
            pivots,
            edges,
            begin,
            key,
            sums[:-1] - sums[edge_first[ends]],
            number,
        )

    def in_edge(self, front: IntArray, vertex: IntArray) -> IntArray:
        """First row of a vertex in a front's edge, of which it must be part."""
        return self.edge_at[np.searchsorted(self.edge_key, front * len(self.front) + vertex)]

    def entries(
        self, matrix: sparse.csc_matrix, cut: Dissection, levels: list[list[_Stack]]
    ) -> list[list[tuple[IntArray, IntArray]]]:
        """For each level, entries of the matrix in and below the diagonal blocks, and where each goes in the store."""
        lead, block, around = np.zeros((3, len(self.pivots)), dtype=np.int64)
        for stack in (stack for level in levels for stack in level):
            count, p = stack.rows.shape
            lead[stack.fronts] = p
            block[stack.fronts] = stack.begin + p * p * np.arange(count)
            around[stack.fronts] = stack.begin + p * stack.rows.size + p * stack.edge.shape[1] * np.arange(count)
        lengths = np.diff(np.append(cut.runs, len(matrix.indices)))
        here = self.number[cut.vertex[cut.columns]]
        there = self.number[cut.vertex[matrix.indices[cut.runs]]]
        inside = self.front[here] == self.front[there]
        kept = np.flatnonzero(inside | (there > here))
        lengths, here, there, inside = lengths[kept], here[kept], there[kept], inside[kept]
        front, beside = self.front[here], np.flatnonzero(~inside)
        own = self.place[cut.columns[kept]] - self.begin[front]
        base = block[front] + lead[front] * own - self.begin[front]
        step = np.where(inside, 1, lead[front])
        far, size = front[beside], step[beside]
        base[beside] = around[far] + own[beside] + size * (self.in_edge(far, there[beside]) - self.first[there[beside]])
        depth = self.depth + 1 - np.frexp(front)[1]
        whole = lengths == self.width[there]
        kind = 2 * (depth * (int(lengths.max()) + 1) + lengths) + whole
        order = np.argsort(kind.astype(np.min_scalar_type(int(kind.max()))), kind="stable")
        bounds = np.flatnonzero(np.diff(kind[order], prepend=-1, append=-1))
        found: list[list[tuple[IntArray, IntArray]]] = [[] for _ in levels]
        for same in np.split(order, bounds[1:-1]):  # runs of one level and length
            along = np.arange(lengths[same[0]], dtype=np.int32)
            entry = cut.runs[kept[same], None] + along
            row = self.first[there[same], None] + along if whole[same[0]] else self.place[matrix.indices[entry]]
            found[depth[same[0]]].append((entry, base[same, None] + step[same, None] * row))
        return found

    def handed(self) -> list[list[tuple[int, int, int]]]:
        """Runs of each front's edge in its parent's rows: its pivots, then its edge."""
        front, vertex = np.divmod(self.edge_key, len(self.front))
        parent = front // 2
        among = self.front[vertex] == parent
        to = np.where(among, self.first[vertex] - self.begin[parent], self.pivots[parent])
        to[~among] += self.in_edge(parent[~among], vertex[~among])
        width = self.width[vertex]
        new = np.ones(len(front), dtype=bool)
        new[1:] = (front[1:] != front[:-1]) | (to[1:] != to[:-1] + width[:-1]) | (among[1:] != among[:-1])
        at = np.flatnonzero(new)
        lengths = np.add.reduceat(width, at) if len(at) else at
        runs = list(zip(self.edge_at[at].tolist(), to[at].tolist(), lengths.tolist(), strict=True))
        bounds = np.searchsorted(front[at], np.arange(len(self.pivots) + 1)).tolist()
        return [runs[a:b] for a, b in pairwise(bounds)]

    def stacks(self) -> list[list[_Stack]]:
        """For each level, the deepest first, its fronts in stacks of about one size."""
        found = []
        pivots, edges = self.pivots.tolist(), self.edges.tolist()
        vertex = self.edge_key % len(self.front)
        rows, row_at = _ranges(self.first[vertex], self.width[vertex]), np.concatenate([[0], np.cumsum(self.edges)])
        for level in range(self.depth, -1, -1):
            fronts = np.arange(1 << level, 2 << level)
            fronts = fronts[self.pivots[fronts] > 0]
            fronts = fronts[np.lexsort((self.edges[fronts], self.pivots[fronts]))]
            stacks: list[_Stack] = []
            begin = part = 0
            for some in _alike(fronts.tolist(), pivots, edges):
                stacks.append(self._stack(np.array(some), rows, row_at, begin, part))
                begin, part = stacks[-1].end, stacks[-1].part.stop
            found.append(stacks)
        return found

    def _stack(self, fronts: IntArray, rows: IntArray, row_at: IntArray, begin: int, part: int) -> _Stack:
        nothing = len(self.order)
        pivot, around = np.arange(self.pivots[fronts].max()), np.arange(self.edges[fronts].max())
        own = np.where(pivot < self.pivots[fronts, None], self.begin[fronts, None] + pivot, nothing)
        inside = around < self.edges[fronts, None]
        edge = np.full(inside.shape, nothing)
        edge[inside] = rows[(row_at[fronts, None] + around)[inside]]
        return _Stack(fronts, own, edge, begin, slice(part, part + edge.size))


def _gathering(stacks: list[_Stack]) -> tuple[IntArray, sparse.csr_matrix]:
    """Rows around any front of some stacks, and the matrix that sums all edges onto them."""
    every = np.concatenate([np.zeros(0, dtype=np.int64), *(stack.edge.reshape(-1) for stack in stacks)])
    touched, where = np.unique(every, return_inverse=True)
    return touched, sparse.csr_matrix(
        (np.ones(len(every)), (where, np.arange(len(every)))), shape=(len(touched), len(every))
    )


def _edges(cut: Dissection, number: IntArray, own: IntArray) -> IntArray:
    """Keys front * v + vertex of what lies around each front once those below it are eliminated, sorted."""
    count = len(own)
    one = number[np.repeat(np.arange(count), np.diff(cut.graph.indptr))]
    other = number[cut.graph.indices]
    later = (one < other) & (own[one] != own[other])
    key = np.unique(own[one[later]] * count + other[later])
    bounds = np.searchsorted(key, count << np.arange(cut.levels + 2))
    found, passed = [], key[:0]
    for level in range(cut.levels, -1, -1):
        mine = np.unique(np.concatenate([key[bounds[level] : bounds[level + 1]], passed]))
        found.append(mine)
        parent, vertex = mine // count // 2, mine % count
        beyond = own[vertex] != parent
        passed = parent[beyond] * count + vertex[beyond]
    return np.concatenate(found[::-1])


def _alike(fronts: list[int], pivots: list[int], edges: list[int]) -> list[list[int]]:
    """Fronts, sorted by size, in stacks that waste little."""
    stacks: list[list[int]] = []
    tall = wide = need = 0
    for front in fronts:
        p, b = pivots[front], edges[front]
        tall_now, wide_now, need_now = max(tall, p), max(wide, b), need + p * (p + b)
        if stacks and (
            len(stacks[-1]) < 3 or (len(stacks[-1]) + 1) * tall_now * (tall_now + wide_now) <= SPARE * need_now
        ):
            stacks[-1].append(front)
        else:
            stacks.append([front])
            tall_now, wide_now, need_now = p, b, p * (p + b)
        tall, wide, need = tall_now, wide_now, need_now
    return stacks


def _ranges(starts: IntArray, lengths: IntArray) -> IntArray:
    """Whole numbers from each start on, one range after the other."""
    before = np.cumsum(lengths) - lengths
    return np.repeat(starts - before, lengths) + np.arange(int(lengths.sum()))


@dataclass(frozen=True, eq=False)
class Fronts:
    """The factors of a matrix. stores: for each level, of each front the inverse (p, p) of its pivots' Cholesky factor, transposed, and
    the rows (b, p) of the factor around them, as its stack has them.
    """

    plan: Plan
    stores: list[FloatArray]

    @classmethod
    def of(cls, plan: Plan, data: FloatArray) -> Fronts:
        """Factor the matrix with this data on the plan's pattern. Raises NotPositive."""
        stores = []
        rest: dict[int, FloatArray] = {}
        for depth, level in enumerate(plan.levels):
            store = np.zeros(level.stacks[-1].end if level.stacks else 0)
            for entry, place in level.entries:
                store[place] = data[entry]
            blocks: dict[int, tuple[FloatArray, FloatArray]] = {}
            for stack in level.stacks:
                blocks.update(zip(stack.fronts.tolist(), zip(*stack.blocks(store), strict=True), strict=True))
            first = 1 << (len(plan.levels) - 1 - depth)
            for front in range(first, 2 * first):
                _eliminate(plan, front, blocks.get(front), rest)
            stores.append(store)
        return cls(plan, stores)

    def solve(self, right: FloatArray) -> FloatArray:
        """Solution (n,) or (n, k) for right-hand sides of the same shape."""
        plan = self.plan
        many = right.reshape(len(right), -1)
        x = np.zeros((len(many) + 1, many.shape[1]))
        x[:-1] = many[plan.order]
        for level, store in zip(plan.levels, self.stores, strict=True):
            given = np.empty((level.gather.shape[1], x.shape[1]))
            for stack in level.stacks:
                inverse, around = stack.blocks(store)
                own = inverse.transpose(0, 2, 1) @ x[stack.rows]
                x[stack.rows] = own
                np.matmul(around, own, out=given[stack.part].reshape(*stack.edge.shape, x.shape[1]))
            x[level.touched] -= level.gather @ given
        for level, store in zip(plan.levels[::-1], self.stores[::-1], strict=True):
            for stack in level.stacks:
                inverse, around = stack.blocks(store)
                own = x[stack.rows] - around.transpose(0, 2, 1) @ x[stack.edge]
                x[stack.rows] = inverse @ own
        out = np.empty(many.shape, order="F")
        out[plan.order] = x[:-1]
        return out.reshape(right.shape)


def _eliminate(
    plan: Plan, front: int, blocks: tuple[FloatArray, FloatArray] | None, rest: dict[int, FloatArray]
) -> None:
    """Factor a front in its blocks, and put what is left over for its edge in `rest`, from which its children's is taken.

    blocks: none where the front has no pivots; what its children leave is passed on then.
    """
    p, b = int(plan.pivots[front]), int(plan.edges[front])
    handed = [(rest.pop(child), child) for child in (2 * front, 2 * front + 1) if child in rest]
    left: FloatArray = np.zeros((b, b) if handed or blocks is None else (0, 0), order="F")
    own = beside = np.zeros((0, 0))
    if blocks is not None:
        own, beside = blocks[0][:p, :p].T, blocks[1][:b, :p].T
    for block, child in handed:
        _add(block, plan.handed[child], p, own, beside, left)
    if blocks is not None:
        lower, failed = lapack.dpotrf(own, lower=1, clean=1)
        if failed:
            raise NotPositive("a pivot is zero or less")
        if b:
            factor = blas.dtrsm(1.0, lower, beside, lower=1)
            left = blas.dsyrk(-1.0, factor, beta=1.0, c=left if handed else None, trans=1, lower=1, overwrite_c=1)
            beside[:] = factor
        own[:] = lapack.dtrtri(lower, lower=1, overwrite_c=1)[0]
    if b:
        rest[front] = left


def _add(
    handed: FloatArray, runs: list[tuple[int, int, int]], p: int, own: FloatArray, beside: FloatArray, left: FloatArray
) -> None:
    """Add what a child leaves (lower triangle) to its parent's blocks: own (p, p), beside (p, b), left (b, b)."""
    for k, (here, to, length) in enumerate(runs):
        columns = slice(here, here + length)
        for down, below, size in runs[k:]:
            block = handed[down : down + size, columns]
            if below < p:
                own[below : below + size, to : to + length] += block
            elif to < p:
                beside[to : to + length, below - p : below - p + size] += block.T
            else:
                left[below - p : below - p + size, to - p : to - p + length] += block
