"""How a machine stands on a frame: which nodes its feet press on, and how its weight is shared between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadfold.stand.records import Stand, StandError

FloatArray = NDArray[np.float64]

STANDS_ON_MM = 60.0
"""A machine's foot within this of a member's line stands on it; otherwise something spans between two members."""

SHORTEST_MM = 1.0
"""Nodes nearer than this along a member are one."""


@dataclass(frozen=True)
class FootShare:
    """Part of the load of one foot of the machine that lands on a node."""

    foot: int
    node: int
    share: float


def foot_nodes(
    stand: Stand, places: list[FloatArray], stations: list[list[tuple[float, int]]], lengths: list[float]
) -> tuple[FootShare, ...]:
    """Where the machine's feet land: on the member under each, or between two by the lever rule.

    Adds a node to `places` and `stations` (node numbers along each member) where a foot stands between two. Raises
    StandError for a foot that stands over nothing.
    """
    if stand.machine is None:
        return ()
    if len(stand.machine.feet_mm) < 1:
        raise StandError(("machine", "feet"), "the machine needs at least one foot")
    level = _bearing_members(stand, places, stations)
    shares: list[FootShare] = []
    for number, foot in enumerate(stand.machine.feet_mm):
        spots = []
        for index in level:
            start, end = places[stations[index][0][1]], places[stations[index][-1][1]]
            line = (end - start)[:2]
            span = float(line @ line)
            at = float(np.clip((np.asarray(foot) - start[:2]) @ line / span, 0.0, 1.0))
            nearest = start[:2] + at * line
            spots.append((float(np.linalg.norm(np.asarray(foot) - nearest)), index, at * lengths[index], nearest))
        spots.sort(key=lambda spot: spot[0])
        if spots and spots[0][0] <= STANDS_ON_MM:
            shares.append(FootShare(number, _station(places, stations[spots[0][1]], spots[0][2]), 1.0))
            continue
        pair = _either_side(spots, np.asarray(foot))
        if pair is None:
            spot = ", ".join(f"{value:g}" for value in foot)
            raise StandError(
                ("machine", "feet", number),
                f"the foot at {spot} mm stands over nothing: no member is under it, nor one on either side for a board "
                "to span between",
            )
        for (gap, index, at_mm, _), other in ((pair[0], pair[1]), (pair[1], pair[0])):
            shares.append(FootShare(number, _station(places, stations[index], at_mm), other[0] / (gap + other[0])))
    return tuple(shares)


def _bearing_members(stand: Stand, places: list[FloatArray], stations: list[list[tuple[float, int]]]) -> list[int]:
    """Members that lie level and highest under the machine: what its feet can stand on."""
    level = []
    for index, along in enumerate(stations):
        start, end = places[along[0][1]], places[along[-1][1]]
        if abs(end[2] - start[2]) < 0.02 * np.linalg.norm(end - start) and stand.members[index].role != "post":
            level.append((float(max(start[2], end[2])), index))
    top = max((z for z, _ in level), default=0.0)
    return [index for z, index in level if z > top - 50.0]


def _either_side(
    spots: list[tuple[float, int, float, FloatArray]], foot: FloatArray
) -> tuple[tuple[float, int, float, FloatArray], tuple[float, int, float, FloatArray]] | None:
    for first_index, first in enumerate(spots):
        for second in spots[first_index + 1 :]:
            if float((first[3] - foot) @ (second[3] - foot)) < -0.95 * first[0] * second[0]:
                return first, second
    return None


def _station(places: list[FloatArray], along: list[tuple[float, int]], at_mm: float) -> int:
    for at, number in along:
        if abs(at - at_mm) < SHORTEST_MM:
            return number
    first, last, whole = places[along[0][1]], places[along[-1][1]], along[-1][0]
    places.append(first + (last - first) * at_mm / whole)
    along.append((at_mm, len(places) - 1))
    along.sort()
    return len(places) - 1


def foot_loads_n(
    feet_mm: tuple[tuple[float, float], ...], centre_mm: tuple[float, float], weight_n: float
) -> tuple[float, ...]:
    """Load of each foot of a stiff machine from statics; a foot that would have to pull carries nothing.

    Four feet in a rectangle share along each direction alike (the twist that statics cannot know is left out);
    others rest on equal springs. Raises StandError where the centre of mass lies outside the feet.

    >>> [round(load) for load in foot_loads_n(((0, 0), (400, 0), (0, 200), (400, 200)), (100, 50), 160.0)]
    [90, 30, 30, 10]
    """
    feet = np.asarray(feet_mm, dtype=float)
    centre = np.asarray(centre_mm, dtype=float)
    if len(feet) == 1:
        if np.linalg.norm(feet[0] - centre) > 1.0:
            raise StandError(("machine", "centre"), "a machine on one foot has its centre of mass above it")
        return (weight_n,)
    corners = _rectangle(feet)
    if corners is not None:
        (x0, x1), (y0, y1) = corners
        px, py = (centre[0] - x0) / (x1 - x0), (centre[1] - y0) / (y1 - y0)
        if 0.0 <= px <= 1.0 and 0.0 <= py <= 1.0:
            return tuple(weight_n * (px if x == x1 else 1.0 - px) * (py if y == y1 else 1.0 - py) for x, y in feet)
    standing = list(range(len(feet)))
    while standing:
        some = feet[standing]
        rows = np.column_stack([np.ones(len(some)), some]).T
        loads, *_ = np.linalg.lstsq(rows, weight_n * np.array([1.0, *centre]), rcond=None)
        if np.linalg.norm(rows @ loads - weight_n * np.array([1.0, *centre])) > 1e-6 * weight_n * (
            1.0 + np.abs(feet).max()
        ):
            break
        if (loads >= -1e-9 * weight_n).all():
            every = np.zeros(len(feet))
            every[standing] = np.maximum(loads, 0.0)
            return tuple(float(load) for load in every)
        standing.pop(int(np.argmin(loads)))
    raise StandError(
        ("machine", "centre"), "the machine's centre of mass lies outside its feet: it falls over by itself"
    )


def _rectangle(feet: FloatArray) -> tuple[tuple[float, float], tuple[float, float]] | None:
    if len(feet) != 4:
        return None
    xs, ys = sorted(set(feet[:, 0])), sorted(set(feet[:, 1]))
    if len(xs) != 2 or len(ys) != 2 or len({tuple(foot) for foot in feet}) != 4:
        return None
    return (xs[0], xs[1]), (ys[0], ys[1])
