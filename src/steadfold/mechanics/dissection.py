"""Nested dissection: the order in which the freedoms of a stiffness are eliminated, so that little of it fills up.

The freedoms of a node are one vertex. A set of vertices is cut in two by a layer of them, which is eliminated after both
sides, and each side is cut again (George 1973, 'Nested dissection of a regular finite element mesh'). All sets of one
level are cut at once, so that the work is a few dozen operations on whole arrays. Fronts are numbered as in a heap: 1 is
the last layer, 2f and 2f + 1 are the sides of f.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from .parts import BoolArray, FloatArray, IntArray

LEAF = 80
"""Freedoms at which a set is not cut any more, about."""


@dataclass(frozen=True, eq=False)
class Dissection:
    """levels: how often everything was cut. vertex (n,): of each freedom. front (v,): heap number of the front of each
    vertex; along (v,): where it lies in its layer, so that neighbours follow each other. graph: neighbours of vertices.
    runs (r,): where in the data of the matrix each run of rows of one vertex starts, column by column; columns (r,).
    """

    levels: int
    vertex: IntArray
    front: IntArray
    along: FloatArray
    graph: sparse.csr_matrix
    runs: IntArray
    columns: IntArray


def dissected(matrix: sparse.csc_matrix, places: FloatArray, leaf: int = LEAF) -> Dissection:
    """Cut a symmetric pattern (n, n), n > 0, with sorted indices and its whole diagonal.

    places (n, 3): where each freedom is. Freedoms that follow each other in one place are one vertex; cuts are across the
    axes, wherever the layer is thinnest. leaf: freedoms at which a set is not cut any more, about.
    """
    vertex: IntArray = np.concatenate([[0], np.cumsum((places[1:] != places[:-1]).any(axis=1))])
    runs, columns = _runs(matrix, vertex)
    weight = np.bincount(vertex)
    graph = sparse.csr_matrix(
        (np.ones(len(runs), dtype=np.int32), (vertex[columns], vertex[matrix.indices[runs]])),
        shape=(len(weight), len(weight)),
    )
    lines = places[np.flatnonzero(np.diff(vertex, prepend=-1))].T
    lines = lines[np.ptp(lines, axis=1) > 0]
    lines = lines + 1e-4 * lines.sum(axis=0)  # ties are broken by what lies across
    levels = max(0, round(float(np.log2(len(vertex) / leaf))))
    return Dissection(
        levels, vertex, _cut(graph, weight, lines, levels), np.arange(1, len(lines) + 1) @ lines, graph, runs, columns
    )


def _runs(matrix: sparse.csc_matrix, vertex: IntArray) -> tuple[IntArray, IntArray]:
    rows = vertex[matrix.indices]
    starts = np.ones(len(rows), dtype=bool)
    np.not_equal(rows[1:], rows[:-1], out=starts[1:])
    starts[matrix.indptr[:-1]] = True
    runs = np.flatnonzero(starts).astype(matrix.indices.dtype)
    return runs, np.repeat(np.arange(len(vertex)), np.diff(np.searchsorted(runs, matrix.indptr)))


def _cut(graph: sparse.csr_matrix, weight: IntArray, lines: FloatArray, levels: int) -> IntArray:
    """Heap number of the front of each vertex after `levels` cuts, each along the best of `lines`."""
    count = len(weight)
    one, other = sparse.triu(graph, 1, format="coo").coords
    ranks = np.empty(lines.shape, dtype=np.int64)
    np.put_along_axis(ranks, np.argsort(lines, axis=1, kind="stable"), np.arange(count)[None, :], axis=1)
    part = np.ones(count, dtype=np.int64)
    left = np.arange(count)  # what is in no layer yet
    for level in range(levels):
        best = np.full(2 << level, np.inf)
        beyond, layer = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
        for rank in ranks:
            after = _halved(left, part, rank, weight)
            crossing = after[one] != after[other]
            first, second = one[crossing], other[crossing]
            for side in (False, True):
                marked = np.zeros(count, dtype=bool)
                marked[np.where(after[first] == side, first, second)] = True
                members = np.flatnonzero(marked)
                price = np.bincount(part[members], weight[members], minlength=len(best))
                better = price < best
                best[better] = price[better]
                taken = better[part]
                beyond[taken], layer[taken] = after[taken], marked[taken]
        left = left[~layer[left]]
        part[left] = 2 * part[left] + beyond[left]
        kept = ~(layer[one] | layer[other])
        one, other = one[kept], other[kept]
    return part


def _halved(left: IntArray, part: IntArray, rank: IntArray, weight: IntArray) -> BoolArray:
    """Which vertices lie in the second half, by weight, of their part along a line."""
    order = left[np.argsort(part[left] * len(part) + rank[left])]
    mine, heavy = part[order], weight[order]
    total = np.cumsum(heavy)
    starts = np.flatnonzero(np.concatenate([[True], mine[1:] != mine[:-1]]))
    lengths = np.diff(np.append(starts, len(mine)))
    before = np.repeat(total[starts] - heavy[starts], lengths)
    whole = np.repeat(np.add.reduceat(heavy, starts), lengths) if len(starts) else heavy
    after = np.zeros(len(part), dtype=bool)
    after[order] = 2 * (total - before) - heavy > whole
    return after
