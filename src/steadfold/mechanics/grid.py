"""Regular meshes of triangles on any surface given by two parameters: strips, tubes, shells of revolution."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np

from .parts import FloatArray, IntArray

Diagonals = Literal["one way", "other way", "mirrored"]


def grid(columns: int, rows: int, place: Callable[[FloatArray, FloatArray], tuple[FloatArray, ...]],
         diagonals: Diagonals = "mirrored") -> tuple[FloatArray, IntArray]:
    """Nodes (n, 3) and triangles (2 columns rows, 3) of a mapped rectangle.

    place(u, v) gives x, y, z for parameters from 0 to 1; node i (rows + 1) + j stands at u = i / columns,
    v = j / rows. Normals follow the cross product of the u and v directions. diagonals: all alike, or turning
    from cell to cell ("mirrored"), which favours no direction.
    """
    if columns < 1 or rows < 1:
        raise ValueError("a grid needs at least one cell each way")
    u, v = np.meshgrid(np.linspace(0, 1, columns + 1), np.linspace(0, 1, rows + 1), indexing="ij")
    nodes = np.stack(np.broadcast_arrays(*place(u.reshape(-1), v.reshape(-1))), axis=1).astype(float)
    number = np.arange(nodes.shape[0]).reshape(columns + 1, rows + 1)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    i, j = np.indices(a.shape)
    rising = {"one way": np.ones_like(a, dtype=bool), "other way": np.zeros_like(a, dtype=bool),
              "mirrored": (i + j) % 2 == 0}[diagonals]
    first = np.where(rising[..., None], np.stack([a, b, c], axis=-1), np.stack([a, b, d], axis=-1))
    second = np.where(rising[..., None], np.stack([a, c, d], axis=-1), np.stack([b, c, d], axis=-1))
    return nodes, np.stack([first, second], axis=2).reshape(-1, 3)


def merged(nodes: FloatArray, triangles: IntArray, apart_mm: float = 1e-6) -> tuple[FloatArray, IntArray]:
    """Nodes and triangles with nodes closer than `apart_mm` made one (seams of tubes, folded strips)."""
    key = np.round(nodes / apart_mm).astype(np.int64)
    _, first, back = np.unique(key, axis=0, return_index=True, return_inverse=True)
    return nodes[first], back.reshape(-1)[triangles]


def nodes_at(nodes: FloatArray, *, x: float | None = None, y: float | None = None, z: float | None = None,
             within_mm: float = 1e-6) -> IntArray:
    """Numbers of the nodes whose given coordinates agree to `within_mm`."""
    chosen = np.ones(len(nodes), dtype=bool)
    for column, value in enumerate((x, y, z)):
        if value is not None:
            chosen &= np.abs(nodes[:, column] - value) <= within_mm
    return np.flatnonzero(chosen)


def shares_along(nodes: FloatArray, line: IntArray) -> FloatArray:
    """Shares (k,), summing to 1, of an even load along a straight or curved line of nodes given in any
    order.
    """
    places = nodes[line]
    spread = places - places.mean(axis=0)
    order = np.argsort(spread @ np.linalg.svd(spread, full_matrices=False)[2][0])
    steps = np.linalg.norm(np.diff(places[order], axis=0), axis=1)
    shares = np.zeros(len(line))
    shares[order[:-1]] += 0.5 * steps
    shares[order[1:]] += 0.5 * steps
    return shares / shares.sum()


def spaced(nodes: FloatArray, candidates: IntArray, spacing_mm: float, first: IntArray | None = None) -> IntArray:
    """Some of the candidate nodes, no two nearer than `spacing_mm`, and every one left out nearer than
    that to one.

    first: candidates to keep before any other, whatever their own spacing (tips and corners, where prying
    bears).
    """
    taken = [] if first is None else [int(node) for node in np.asarray(first).reshape(-1)]
    open_places = nodes[candidates]
    free = np.ones(len(candidates), dtype=bool)
    for node in taken:
        free &= np.linalg.norm(open_places - nodes[node], axis=1) >= spacing_mm
    while free.any():
        index = int(np.flatnonzero(free)[0])
        taken.append(int(candidates[index]))
        free &= np.linalg.norm(open_places - open_places[index], axis=1) >= spacing_mm
        free[index] = False
    return np.array(sorted(set(taken)), dtype=np.int64)
