"""How large the triangles of a panel should be, from place to place."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

GRADING = 0.4
"""How fast sizes grow: mm of size a mm of distance."""

ACROSS = 4
"""Triangles across metal between two facing long edges."""

ENOUGH_PER_THICKNESS = 0.75
"""Sizes below this share of the thickness are not asked for only to have several triangles across."""

FACING_SHARE = 1.5
SMALLEST_PER_THICKNESS = 0.05

LIGAMENT_SHARE = 0.7
"""Size in a ligament, as a share of its width, where one of its sides is short or curved."""


FEW_PAIRS = 20_000
"""Up to so many pairs of places and sources each pair is looked at; beyond, only those within reach."""

CHUNKS = 6


@dataclass(frozen=True)
class SizeField:
    """Sizes in the plane: the least, over all sources, of the source's size plus the grading times its distance."""

    largest_mm: float
    points: np.ndarray
    sizes_mm: np.ndarray

    def at(self, points: np.ndarray) -> np.ndarray:
        """Sizes (n,) wanted at points (n, 2)."""
        points = np.asarray(points, dtype=float)
        wanted = np.full(len(points), float(self.largest_mm))
        if not len(self.points):
            return wanted
        if len(points) * len(self.points) < FEW_PAIRS:
            return np.minimum(wanted, _least(points, self.points, self.sizes_mm))
        from scipy.spatial import cKDTree

        # What the nearest source asks for bounds how far another can lie that asks for less; places of like bounds together.
        tree, least = cKDTree(self.points), float(self.sizes_mm.min())
        away, nearest = tree.query(points)
        wanted = np.minimum(wanted, self.sizes_mm[nearest] + GRADING * away)
        order = np.argsort(wanted)
        for some in np.array_split(order, CHUNKS):
            if not len(some):
                continue
            reach = (float(wanted[some[-1]]) - least) / GRADING
            pairs = cKDTree(points[some]).sparse_distance_matrix(tree, max(reach, 0.0), output_type="ndarray")
            np.minimum.at(wanted, some[pairs["i"]], self.sizes_mm[pairs["j"]] + GRADING * pairs["v"])
        return wanted

    def with_sources(self, points: np.ndarray, sizes_mm: np.ndarray) -> SizeField:
        """The field with more sources; those that change nothing are left out."""
        small = sizes_mm < 0.999 * self.largest_mm
        points, sizes_mm = points[small], sizes_mm[small]
        matters = sizes_mm < 0.97 * self.at(points)
        return SizeField(
            self.largest_mm,
            np.concatenate([self.points, points[matters]]),
            np.concatenate([self.sizes_mm, sizes_mm[matters]]),
        )


def _least(points: np.ndarray, sources: np.ndarray, sizes_mm: np.ndarray) -> np.ndarray:
    """The least size that any source asks for at each point."""
    away = np.hypot(points[:, None, 0] - sources[None, :, 0], points[:, None, 1] - sources[None, :, 1])
    least: np.ndarray = (sizes_mm[None, :] + GRADING * away).min(axis=1)
    return least


def size_field(rings: Sequence[np.ndarray], largest_mm: float, thickness_mm: float) -> SizeField:
    """Sizes for a piece of metal with these rings (metal on their left): no larger than short edges, and small
    enough for several triangles across narrow metal."""
    smallest_mm = SMALLEST_PER_THICKNESS * thickness_mm
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    lengths = np.hypot(*(ends - starts).T)
    field = SizeField(largest_mm, np.empty((0, 2)), np.empty(0))
    order = _smallest_first(lengths)
    order = order[lengths[order] < largest_mm]
    field = _thinned(field, 0.5 * (starts + ends)[order], np.maximum(lengths[order], smallest_mm))
    points, sizes = _narrow_places(starts, ends, lengths, largest_mm, ENOUGH_PER_THICKNESS * thickness_mm)
    order = _smallest_first(sizes)
    return _thinned(field, points[order], np.maximum(sizes[order], smallest_mm))


def _smallest_first(sizes: np.ndarray) -> np.ndarray:
    """The order of sizes in which like ones keep theirs, whatever their last digits: a part in inches gets the mesh of the same
    part in millimetres."""
    return np.argsort(np.round(sizes, 7), kind="stable")


def _thinned(field: SizeField, points: np.ndarray, sizes: np.ndarray) -> SizeField:
    """The field with sources added, smallest first, in batches so that a batch's leaders rule the rest out."""
    step = 64
    for low in range(0, len(points), step):
        field = field.with_sources(points[low : low + step], sizes[low : low + step])
    return field


def _narrow_places(
    starts: np.ndarray, ends: np.ndarray, lengths: np.ndarray, largest_mm: float, enough_mm: float
) -> tuple[np.ndarray, np.ndarray]:
    """Points on the edges with metal narrow behind them, and the size wanted there."""
    from scipy.spatial import cKDTree

    counts = np.maximum(1, np.ceil(lengths / largest_mm).astype(int))
    edge = np.repeat(np.arange(len(starts)), counts)
    first = np.cumsum(counts) - counts
    share = (np.arange(len(edge)) - first[edge] + 0.5) / counts[edge]
    samples = starts[edge] + share[:, None] * (ends - starts)[edge]
    tree = cKDTree(samples)
    looking, reach, furthest = np.arange(len(samples)), 2.0 * largest_mm, ACROSS * largest_mm + largest_mm
    wanted = np.full(len(samples), float(largest_mm))
    inner = 0.0
    while len(looking) and inner < furthest:
        reach = min(reach, furthest)
        pairs = cKDTree(samples[looking]).sparse_distance_matrix(tree, reach, output_type="ndarray")
        pairs = pairs[pairs["v"] > inner] if inner else pairs
        here, size = _facing(
            np.column_stack([looking[pairs["i"]], pairs["j"]]),
            samples,
            edge,
            starts,
            ends,
            lengths,
            largest_mm,
            enough_mm,
        )
        np.minimum.at(wanted, here, size)
        # Metal wider than this gives no smaller size; a place's nearest sample may lie a largest size off its foot.
        looking, inner = looking[ACROSS * wanted[looking] + largest_mm > reach], reach
        reach *= 1.5
    narrow = wanted < largest_mm
    return samples[narrow], wanted[narrow]


def _facing(
    pairs: np.ndarray,
    samples: np.ndarray,
    edge: np.ndarray,
    starts: np.ndarray,
    ends: np.ndarray,
    lengths: np.ndarray,
    largest_mm: float,
    enough_mm: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Of pairs of samples (n, 2), the first ones that see metal towards the other's edge, and the size wanted there."""
    here, other = pairs[:, 0], edge[pairs[:, 1]]
    touching = (edge[here] == other) | (np.abs(ends[edge[here]] - starts[other]).sum(axis=1) < 1e-9)
    touching |= np.abs(starts[edge[here]] - ends[other]).sum(axis=1) < 1e-9
    here, other = here[~touching], other[~touching]
    along = (ends - starts) / lengths[:, None]
    offset = samples[here] - starts[other]
    foot = np.clip(np.sum(offset * along[other], axis=1), 0, lengths[other])
    across = starts[other] + foot[:, None] * along[other] - samples[here]
    gap = np.hypot(*across.T)
    mine, theirs = along[edge[here]], along[other]
    inward = -mine[:, 1] * across[:, 0] + mine[:, 0] * across[:, 1]
    outward = -theirs[:, 1] * across[:, 0] + theirs[:, 0] * across[:, 1]
    # metal lies between two edges when each has the other on its left
    seen = (inward > 0.5 * gap) & (outward < -0.5 * gap)
    facing = np.sum(mine * theirs, axis=1) < -0.9
    long = (lengths[edge[here]] > 0.7 * gap) & (lengths[other] > 0.7 * gap)
    # between long edges that face each other steps may be longer than the metal is wide, if it is narrow
    between = np.maximum(gap / ACROSS, np.minimum(enough_mm, FACING_SHARE * gap))
    size = np.where(facing & long, between, LIGAMENT_SHARE * gap)
    seen &= size < largest_mm
    return here[seen], size[seen]


def divided(starts: np.ndarray, ends: np.ndarray, field: SizeField) -> list[np.ndarray]:
    """For every edge, points (n, 2) between its ends, spread by the field; the ends are not among them."""
    if not len(starts):
        return []
    lengths = np.hypot(*(ends - starts).T)
    counts = np.clip((3 * lengths / field.largest_mm).astype(int), 8, 400)
    first = np.concatenate([[0], np.cumsum(counts)])
    edge = np.repeat(np.arange(len(starts)), counts)
    share = (np.arange(first[-1]) - first[edge]) / (counts[edge] - 1)
    density = lengths[edge] / field.at(starts[edge] + share[:, None] * (ends - starts)[edge])
    found = []
    for k, (low, high) in enumerate(itertools.pairwise(first)):
        here, mine = share[low:high], density[low:high]
        steps = np.concatenate([[0.0], np.cumsum(0.5 * (mine[1:] + mine[:-1]) * (here[1] - here[0]))])
        count = max(1, math.ceil(steps[-1] - 0.2))
        places = np.interp(steps[-1] * np.arange(1, count) / count, steps, here)
        found.append(starts[k] + places[:, None] * (ends[k] - starts[k]))
    return found
