"""The surface of a meshed sheet for pictures: its triangles thickened to two skins and the walls between them."""

from __future__ import annotations

import math

import numpy as np

from steadfold.deliver.surface import BEND, EDGE, SHARP_RAD, SMOOTH, Ridges, Surface

SHARP_SKIN_RAD = math.radians(50.0)
"""Triangles of a skin that meet at a greater angle meet in an edge; a mesh goes round a bend in facets of 30°."""


def shell_surface(
    positions: np.ndarray, triangles: np.ndarray, thickness_mm: float, regions: np.ndarray | None = None
) -> Surface:
    """Both skins and the side walls of a sheet whose middle is a mesh: positions (n, 3) in mm, triangles (m, 3).

    Corner i lies over node i on the upper skin, corner n + i under it on the lower; triangles are the upper skin's m,
    the lower skin's m, then two a side wall. Each triangle is its own facet. Where `regions` (m,) of neighbouring
    triangles differ, the line between them is a tangent line.
    """
    positions, triangles = np.asarray(positions, dtype=float), np.asarray(triangles)
    count = len(positions)
    normals = _normals(positions[triangles])
    shift = 0.5 * thickness_mm * _node_normals(positions, triangles, count)
    corners = np.concatenate([positions + shift, positions - shift])
    edges, first, second = _edges(triangles)
    rim = second < 0
    inner = _inner_ridges(corners, edges[~rim], normals, first[~rim], second[~rim], count, regions)
    rims = _rim_ridges(corners, edges[rim], normals[first[rim]], count)
    a, b = edges[rim].T
    walls = np.concatenate([np.column_stack([a, a + count, b + count]), np.column_stack([a, b + count, b])])
    made = np.concatenate([triangles, triangles[:, ::-1] + count, walls])
    ridges = [np.concatenate(each) for each in zip(inner, rims, strict=True)]
    return Surface(corners, made, np.arange(len(made)), Ridges(ridges[0], ridges[1], ridges[2]))


def wall_owners(triangles: np.ndarray) -> np.ndarray:
    """The triangle that each wall triangle of `shell_surface` stands on, in its order."""
    _, first, second = _edges(np.asarray(triangles))
    return np.tile(first[second < 0], 2)


def _normals(corners: np.ndarray) -> np.ndarray:
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)


def _node_normals(positions: np.ndarray, triangles: np.ndarray, count: int) -> np.ndarray:
    corners = positions[triangles]
    weighted = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    total = np.zeros((count, 3))
    for k in range(3):
        for axis in range(3):
            total[:, axis] += np.bincount(triangles[:, k], weights=weighted[:, axis], minlength=count)
    return total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-30)


def _edges(triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges (e, 2) as the first triangle runs along them, that triangle, and the other one or -1."""
    runs = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    owner = np.tile(np.arange(len(triangles)), 3)
    sides = np.sort(runs, axis=1)
    order = np.lexsort((owner, sides[:, 1], sides[:, 0]))
    sides, runs, owner = sides[order], runs[order], owner[order]
    new = np.ones(len(sides), dtype=bool)
    new[1:] = (np.diff(sides, axis=0) != 0).any(axis=1)
    starts = np.flatnonzero(new)
    shared = np.append(np.diff(starts), len(sides) - starts[-1]) > 1
    second = np.full(len(starts), -1)
    second[shared] = owner[starts[shared] + 1]
    return runs[starts], owner[starts], second


_Found = tuple[np.ndarray, np.ndarray, np.ndarray]


def _inner_ridges(
    corners: np.ndarray,
    edges: np.ndarray,
    normals: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    count: int,
    regions: np.ndarray | None,
) -> _Found:
    one, other = normals[first], normals[second]
    sharp = np.einsum("ij,ij->i", one, other) < math.cos(SHARP_SKIN_RAD)
    kinds = np.where(sharp, EDGE, SMOOTH)
    if regions is not None:
        kinds = np.where(~sharp & (regions[first] != regions[second]), BEND, kinds)
    pairs = np.stack([one, other], axis=1)
    ends = np.concatenate([corners[edges], corners[edges + count]])
    return ends, np.concatenate([pairs, -pairs]), np.tile(kinds, 2)


def _rim_ridges(corners: np.ndarray, edges: np.ndarray, skin: np.ndarray, count: int) -> _Found:
    upper, lower = corners[edges], corners[edges + count]
    along = upper[:, 1] - upper[:, 0]
    outward = np.cross(along, skin)
    outward /= np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-30)
    rims = np.concatenate([upper, lower])
    pairs = np.concatenate([np.stack([skin, outward], axis=1), np.stack([-skin, outward], axis=1)])
    # The wall that ends at a node and the one that starts there share a post.
    ends_at, starts_at = np.argsort(edges[:, 1], kind="stable"), np.argsort(edges[:, 0], kind="stable")
    nodes = edges[starts_at, 0]
    meeting = nodes == edges[ends_at, 1]
    one, other = outward[ends_at][meeting], outward[starts_at][meeting]
    posts = np.stack([corners[nodes], corners[nodes + count]], axis=1)[meeting]
    sharp = np.einsum("ij,ij->i", one, other) < math.cos(SHARP_RAD)
    return (
        np.concatenate([rims, posts]),
        np.concatenate([pairs, np.stack([one, other], axis=1)]),
        np.concatenate([np.full(len(rims), EDGE), np.where(sharp, EDGE, SMOOTH)]),
    )
