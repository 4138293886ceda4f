"""Will the bench (or the stand itself) tip over, slide or roll: moments about every line between neighbouring feet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.quantities import weight_n
from steadfold.stand.records import Place, Stand
from steadfold.stand.structure import Built, turned

Level = tuple[float, float]


@dataclass(frozen=True)
class Weight:
    """A downward force at a place: what it is, N, and x, y in the stand's axes."""

    what: str
    force_n: float
    at_mm: Level


@dataclass(frozen=True)
class Shove:
    """A level force at a height above the floor: N along x and y."""

    what: str
    force_n: Level
    height_mm: float


@dataclass(frozen=True)
class Tipping:
    """Moments about the line between two feet: what keeps it down over what turns it up.

    `factor` is restoring over overturning, inf where nothing turns it. `edge` the two feet; `outward` the direction in
    which it would go.
    """

    case: str
    factor: float
    restoring_nmm: float
    overturning_nmm: float
    edge: tuple[Level, Level]
    outward: Level


@dataclass(frozen=True)
class Topple:
    """How near the bench is to going over.

    `resting` with the machine, `leaning` with a person besides (None where refused), `empty` without either.
    `turned_*` the same with the machine turned half round. `ballast_kg` at `ballast_at_mm` brings the worse case to
    the factor wanted, as does `hold_down_n` at `hold_down_at_mm`; 0 where nothing is needed, None where no such
    place is given. `slide_share` is the shove over what friction holds.
    """

    empty: Tipping
    resting: Tipping
    leaning: Tipping | None
    shoved: Tipping | None
    turned_resting: Tipping | None
    turned_leaning: Tipping | None
    wanted: float
    ballast_kg: float | None
    ballast_at_mm: float | None
    hold_down_n: float | None
    hold_down_at_mm: float | None
    slide_share: float
    wheels: bool

    @property
    def worst(self) -> Tipping:
        """The case nearest to going over."""
        return min((each for each in (self.resting, self.leaning, self.shoved) if each is not None),
                   key=lambda each: each.factor)  # fmt: skip

    @property
    def heavy_end_out(self) -> bool:
        """True where turning the machine round would make it stand more firmly, by a twentieth or more."""
        here, there = (self.leaning, self.turned_leaning) if self.leaning else (self.resting, self.turned_resting)
        return here is not None and there is not None and there.factor > 1.05 * here.factor


def tipping(
    feet_mm: Sequence[Level], weights: Sequence[Weight], shoves: Sequence[Shove] = (), case: str = ""
) -> Tipping:
    """The worst line of tipping of something that stands on feet.

    A weight inside the line holds it down, one outside turns it up; a shove turns by its height. Two feet, or feet
    on a line, are taken as that line. Statics. Raises ValueError for fewer than two feet.

    >>> tipping([(0, 0), (0, 600), (480, 0), (480, 600)], [Weight("it", 1300.0, (240, 300))],
    ...         [Shove("push", (1.0, 0.0), 900.0)]).factor.__round__(1)
    346.7
    """
    hull = _hull(feet_mm)
    if len(hull) < 2:
        raise ValueError("something that stands has at least two feet")
    found = []
    for first, second in zip(hull, [*hull[1:], hull[0]], strict=True):
        along = np.subtract(second, first)
        outward = np.array([along[1], -along[0]]) / np.linalg.norm(along)
        restoring = overturning = 0.0
        for each in weights:
            out = float(np.subtract(each.at_mm, first) @ outward)
            if out > 0.0:
                overturning += each.force_n * out
            else:
                restoring -= each.force_n * out
        for push in shoves:
            overturning += max(float(np.asarray(push.force_n) @ outward), 0.0) * push.height_mm
        factor = restoring / overturning if overturning > 0.0 else math.inf
        found.append(
            Tipping(case, factor, restoring, overturning, (first, second), (float(outward[0]), float(outward[1])))
        )
    return min(found, key=lambda each: (each.factor, each.restoring_nmm))


def topple(ready: Built) -> Topple | None:
    """How the bench stands, or the frame on its own feet; None where it hangs on a wall or nothing is known of the
    bench.

    Uses the unkind ends of all ranges: a light bench, a heavy machine, its centre of mass farthest out.
    """
    found = _standing(ready.stand)
    if found is None:
        return None
    feet, own, _ = found
    stand = ready.stand
    wanted = stand.limits.tipping_factor
    frame = Weight("frame", weight_n(ready.mass_kg), _frame_centre(ready))
    empty = tipping(feet, [*own, *([frame] if own else [])], case="empty")
    if not own:
        own = [frame]
    elif frame.force_n > 0.0:
        own = [*own, frame]
    resting = _worst(stand, feet, own, leaning=False)
    leaning = None if stand.leaning.refused else _worst(stand, feet, own, leaning=True)
    shoved = _shoved(stand, feet, own)
    round_about = turned(stand) if stand.machine is not None else None
    ballast = hold_down = None
    deciding = min((each for each in (resting, leaning) if each is not None), key=lambda each: each.factor)
    missing = max(0.0, wanted * deciding.overturning_nmm - deciding.restoring_nmm)
    bench = stand.bench
    if bench is not None and bench.ballast_at_mm is not None:
        ballast = _over_lever(missing, deciding, bench.ballast_at_mm)
        ballast = None if ballast is None else ballast / weight_n(1.0)
    if bench is not None and bench.hold_down_at_mm is not None:
        hold_down = _over_lever(missing, deciding, bench.hold_down_at_mm)
    machine = [] if stand.machine is None else [weight_n(stand.machine.mass_kg.low)]
    friction = 0.3 if bench is None else bench.friction
    holds = friction * (sum(each.force_n for each in own) + sum(machine))
    return Topple(
        empty, resting, leaning, shoved,
        None if round_about is None else _worst(round_about, feet, own, leaning=False),
        None if round_about is None or stand.leaning.refused else _worst(round_about, feet, own, leaning=True),
        wanted, ballast, None if bench is None else bench.ballast_at_mm, hold_down,
        None if bench is None else bench.hold_down_at_mm,
        stand.shove_n / holds if holds > 0.0 else math.inf, bench is not None and bench.wheels,
    )  # fmt: skip


def _over_lever(missing_nmm: float, edge: Tipping, x_mm: float) -> float | None:
    """Force at x that makes up a missing moment; None where that place lies outside the line of tipping."""
    (x0, y0), (_, y1) = edge.edge
    inside = -float(np.array([x_mm - x0, 0.5 * (y0 + y1) - y0]) @ np.asarray(edge.outward))
    return missing_nmm / inside if inside > 0.0 else None


def _standing(stand: Stand) -> tuple[Sequence[Level], list[Weight], float] | None:
    bench = stand.bench
    if bench is not None and any(each.to == "bench" for each in stand.held):
        own = [Weight("bench", weight_n(bench.mass_kg.low), bench.centre_mm)]
        return bench.feet_mm, own, bench.top_mm
    floor = [stand.nodes[each.node] for each in stand.held if each.to == "floor"]
    if len(floor) >= 2 and all(each.to == "floor" and each.fixing is None for each in stand.held):
        return [(x, y) for x, y, _ in floor], [], -min(z for _, _, z in floor)
    return None


def _worst(stand: Stand, feet: Sequence[Level], own: Sequence[Weight], leaning: bool) -> Tipping:
    people = [Weight("person", stand.leaning.force_n, place[:2]) for place in _leaned_on(stand)] if leaning else [None]
    found = []
    for person in people:
        for machine in _machine(stand):
            weights = [*own, *machine, *([person] if person else [])]
            found.append(tipping(feet, weights, case="leaning" if leaning else "resting"))
    return min(found, key=lambda each: each.factor)


def _shoved(stand: Stand, feet: Sequence[Level], own: Sequence[Weight]) -> Tipping | None:
    """A shove at the machine's centre of mass, the way it goes over most easily; pushes of its own besides."""
    if stand.shove_n <= 0.0 or stand.machine is None:
        return None
    standing = _standing(stand)
    assert standing is not None
    floor = standing[2]
    height = stand.machine.centre_mm[2] + floor
    own_pushes = [
        Shove(push.what, (push.force_n[0], push.force_n[1]), push.at_mm[2] + floor) for push in stand.machine.pushes
    ]
    found = []
    for way in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)):
        shove = Shove("shove", (stand.shove_n * way[0], stand.shove_n * way[1]), height)
        for machine in _machine(stand):
            found.append(tipping(feet, [*own, *machine], [shove, *own_pushes], "shoved"))
    return min(found, key=lambda each: each.factor)


def _leaned_on(stand: Stand) -> list[Place]:
    names = (stand.leaning.at,) if stand.leaning.at is not None else stand.level_at
    return [stand.nodes[name] for name in names if name in stand.nodes]


def _machine(stand: Stand) -> list[list[Weight]]:
    """The machine at the ends of its ranges; a lone empty list where there is none."""
    machine = stand.machine
    if machine is None:
        return [[]]
    (x, y, _), (dx, dy, _) = machine.centre_mm, machine.centre_range_mm
    places = {(x + sx * dx, y + sy * dy) for sx in (-1, 1) for sy in (-1, 1)}
    masses = {machine.mass_kg.low, machine.mass_kg.high}
    return [[Weight(machine.name, weight_n(mass), place)] for mass in masses for place in places]


def _frame_centre(ready: Built) -> Level:
    total = first = second = 0.0
    for member, section, length in zip(ready.stand.members, ready.sections, ready.lengths_mm, strict=True):
        mass = section.mass_kg_per_m * length
        start, end = ready.stand.nodes[member.start], ready.stand.nodes[member.end]
        total += mass
        first += mass * 0.5 * (start[0] + end[0])
        second += mass * 0.5 * (start[1] + end[1])
    return (first / total, second / total)


def _hull(points: Sequence[Level]) -> list[Level]:
    """The feet on the outside, anticlockwise (monotone chain); for feet on a line, its two ends."""
    sorted_points = sorted({(float(x), float(y)) for x, y in points})
    if len(sorted_points) < 3:
        return sorted_points

    def half(way: Sequence[Level]) -> list[Level]:
        chain: list[Level] = []
        for point in way:
            while len(chain) > 1 and _cross(chain[-2], chain[-1], point) <= 1e-9:
                chain.pop()
            chain.append(point)
        return chain[:-1]

    return half(sorted_points) + half(sorted_points[::-1])


def _cross(origin: Level, first: Level, second: Level) -> float:
    return (first[0] - origin[0]) * (second[1] - origin[1]) - (first[1] - origin[1]) * (second[0] - origin[0])
