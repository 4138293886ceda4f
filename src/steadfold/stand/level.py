"""From how the stand sags now to the turns of each nut that bring it level, in an order that nothing on the way
overloads.

A reading says how low a place lies. The rods' present lengths follow from it; what they take up, what they stretch and
how far their posts bend follow from the frame, its braces loosened where they would fight the rods.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadfold.joints import share as capacity_share
from steadfold.mechanics import Ties, factored, solve
from steadfold.stand.column import limits, member_share
from steadfold.stand.fight import Fight, fight
from steadfold.stand.footing import FloatArray
from steadfold.stand.joining import fixing_capacity, on_fixing, rod_limit_n
from steadfold.stand.moved import Follower, Rest
from steadfold.stand.records import Reading, Stand, StandError
from steadfold.stand.statics import Case, cases_of
from steadfold.stand.structure import Built, built, rod_stiffness_n_per_mm, take_up_mm

FIGHTS_BELOW = 0.5
"""Share of the free lift per turn under which a tight brace counts as fighting the rods."""

ROUND_TURNS = 0.5
"""Turns each nut gets before the next one's turn."""

TAUT_MM = 10.0

SMALLEST_TURNS = 0.02


@dataclass(frozen=True)
class Step:
    """One thing to do: in words, turns so far of each rod, how low each place then lies, pulls, and what is nearest
    its limit.
    """

    say: str
    turns: tuple[float, ...]
    low_mm: tuple[float, ...]
    rods_n: tuple[float, ...]
    share: float
    nearest: str


@dataclass(frozen=True)
class LevelPlan:
    """Turns of each rod's nut (positive: tighten) and the order in which to make them.

    `low_mm` now and `left_mm` after, at `places`. `lift_per_turn_mm` (places, rods). `geometric_turns` is the part
    that only moves the frame, the rest makes up stretch and bent posts. `loosen` names the braces to slacken first.
    `fight` is what happens where they stay tight. `holds` is False where some step would overload something.
    """

    rods: tuple[str, ...]
    places: tuple[str, ...]
    low_mm: tuple[float, ...]
    turns: tuple[float, ...]
    geometric_turns: tuple[float, ...]
    lift_per_turn_mm: tuple[tuple[float, ...], ...]
    left_mm: tuple[float, ...]
    loosen: tuple[str, ...]
    steps: tuple[Step, ...]
    fight: Fight | None
    holds: bool

    @property
    def worst_left_mm(self) -> float:
        """The largest out of level that stays."""
        return max((abs(each) for each in self.left_mm), default=0.0)

    @property
    def twist_mm(self) -> float:
        """How much the places differ from each other now."""
        return max(self.low_mm) - min(self.low_mm) if self.low_mm else 0.0


def level_plan(stand: Stand, readings: Sequence[Reading] | None = None, own_weight: bool = True) -> LevelPlan:
    """The turns of every rod's nut that bring the places that were read to level, and the order to make them in.

    Readings are how low each place lies now, with the machine on and the braces tight. Raises StandError without
    rods or readings, or where the rods cannot reach a place of rest.
    """
    readings = tuple(stand.readings if readings is None else readings)
    if not stand.tie_rods:
        raise StandError(("tie_rods",), "there are no tie rods to turn; a stand on legs is levelled with shims")
    if not readings:
        raise StandError(("reading",), "how level it is now is not given: add a reading, such as 6 mm low at a tip")
    for index, each in enumerate(readings):
        if each.at not in stand.nodes:
            raise StandError(("reading", index, "at"), f"{each.at!r} is no node of this stand")
    tight = built(stand)
    case = cases_of(tight, own_weight)[0]
    loosen = _to_loosen(stand)
    free = built(stand, loosened=frozenset(loosen)) if loosen else tight
    plain = Follower(tight, case.loads)
    low = np.array([each.low_mm for each in readings])
    places = tuple(each.at for each in readings)
    now = _present_lengths(stand, tight, readings)
    start = now - _pretension_stretch(stand, tight, now)
    per_turn = np.array([take_up_mm(rod) for rod in stand.tie_rods])
    gain_tight = _linear_gain(tight, case, places) * per_turn
    if loosen:
        gain_free = _linear_gain(free, case, places) * per_turn
        fights = _size(gain_tight) < FIGHTS_BELOW * _size(gain_free)
    else:
        gain_free, fights = gain_tight, False
    follower = Follower(free, case.loads) if fights else plain
    offset = np.zeros(len(places))
    if not fights:
        # what the stand has settled by so far stays: only the change from here on is asked of the frame
        at_start = follower.rest(start)
        offset = -low - np.array([at_start.lifted_mm(tight, place) for place in places])
    gain = gain_free if fights else gain_tight
    turns, rest, lift = _solved_turns(follower, places, start, per_turn, gain, offset)
    geometric = _geometric_turns(stand, tight, readings, per_turn)
    steps, holds = _steps(follower, stand, places, start, per_turn, turns, loosen if fights else (), offset)
    in_the_way = fight(tight, case, turns * per_turn, places) if fights else None
    left = tuple(
        float(-rest.lifted_mm(follower.ready, place) - shift) for place, shift in zip(places, offset, strict=True)
    )
    return LevelPlan(
        tuple(rod.name for rod in stand.tie_rods), places, tuple(float(v) for v in low), tuple(float(v) for v in turns),
        tuple(float(v) for v in geometric), tuple(tuple(float(v) for v in row) for row in lift),
        left,
        loosen if fights else (), steps, in_the_way, holds,
    )  # fmt: skip


def _to_loosen(stand: Stand) -> tuple[str, ...]:
    return tuple(member.name for member in stand.members if member.role == "brace")


def _size(gain: FloatArray) -> float:
    return float(np.abs(gain).max(initial=0.0))


def _rigid_low_mm(stand: Stand, readings: Sequence[Reading], node: str) -> float:
    """How low a rod's foot lies, from the reading along the same arm: in proportion to the distance from its root."""
    x, y, _ = stand.nodes[node]
    best = min(readings, key=lambda each: (abs(stand.nodes[each.at][1] - y), -stand.nodes[each.at][0]))
    reach = stand.nodes[best.at][0]
    return best.low_mm * x / reach if reach > 0.0 else best.low_mm


def _lowered(stand: Stand, readings: Sequence[Reading], node: str) -> FloatArray:
    """Where a rod's foot is now: turned down about the root of its arm."""
    x, y, z = stand.nodes[node]
    low = _rigid_low_mm(stand, readings, node)
    angle = math.asin(min(1.0, max(-1.0, low / x))) if x > 0.0 else 0.0
    return np.array([x * math.cos(angle), y, z - low])


def _present_lengths(stand: Stand, ready: Built, readings: Sequence[Reading]) -> FloatArray:
    """Length of each rod from its head to its foot where that lies now, slack left out."""
    lengths = []
    for rod in stand.tie_rods:
        head = ready.places[ready.node_of[rod.start]]
        foot = _lowered(stand, readings, rod.end)
        lengths.append(float(np.linalg.norm(foot - head)) + rod.slack_mm)
    return np.array(lengths)


def _pretension_stretch(stand: Stand, ready: Built, lengths: FloatArray) -> FloatArray:
    return np.array([
        rod.pretension_n / rod_stiffness_n_per_mm(rod, float(length))
        for rod, length in zip(stand.tie_rods, lengths, strict=True)
    ])  # fmt: skip


def _geometric_turns(stand: Stand, ready: Built, readings: Sequence[Reading], per_turn: FloatArray) -> FloatArray:
    """Turns that shorten each rod from where its foot is now to where it is drawn, nothing stretched."""
    now = _present_lengths(stand, ready, readings)
    drawn = np.array([
        float(np.linalg.norm(ready.places[ready.node_of[rod.end]] - ready.places[ready.node_of[rod.start]]))
        for rod in stand.tie_rods
    ])  # fmt: skip
    return np.asarray((now - drawn) / per_turn)


def _linear_gain(ready: Built, case: Case, places: Sequence[str]) -> FloatArray:
    """Rise (places, rods) of each place for each mm a rod is shortened, rods working both ways; small movements."""
    model = ready.model
    stiffness = np.asarray(model.ties.stiffness_n_per_mm)
    # so taut that no rod goes slack under a millimetre: the linear answer is the difference from the first
    base = TAUT_MM * stiffness
    cases = [case.loads]
    first = solve(factored(replace(model, ties=Ties(model.ties.ends, stiffness, base))), cases)[0]
    rises = []
    for index in range(len(stiffness)):
        more = base.copy()
        more[index] += stiffness[index]
        result = solve(factored(replace(model, ties=Ties(model.ties.ends, stiffness, more))), cases)[0]
        change = result.displacement[:, 2] - first.displacement[:, 2]
        rises.append([float(change[ready.node_of[place]]) for place in places])
    return np.array(rises).T


def _solved_turns(
    follower: Follower,
    places: Sequence[str],
    start: FloatArray,
    per_turn: FloatArray,
    gain: FloatArray,
    offset: FloatArray,
) -> tuple[FloatArray, Rest, FloatArray]:
    """Turns that leave the places least out of level, by Newton's method on the moved frame."""
    ready = follower.ready
    turns = np.zeros(len(start))
    rest = follower.rest(start)
    lift = gain
    for attempt in range(8):
        out = offset + np.array([rest.lifted_mm(ready, place) for place in places])
        change, *_ = np.linalg.lstsq(lift, -out, rcond=1e-6)
        if float(np.abs(change).max()) < 1e-4:
            break
        turns = turns + np.clip(change, -50.0, 50.0)
        rest = follower.rest(start - turns * per_turn)
        if attempt == 0:
            columns = []
            for index in range(len(start)):
                nudged = turns.copy()
                nudged[index] += 0.1
                other = follower.rest(start - nudged * per_turn, rest)
                columns.append([(other.lifted_mm(ready, p) - rest.lifted_mm(ready, p)) / 0.1 for p in places])
            lift = np.array(columns).T
    return turns, rest, lift


def _steps(
    follower: Follower, stand: Stand, places: Sequence[str], start: FloatArray,
    per_turn: FloatArray, turns: FloatArray, loosen: Sequence[str], offset: FloatArray,
) -> tuple[tuple[Step, ...], bool]:  # fmt: skip
    """The way from now to level: half a turn a rod at a time, the lowest side first, each step checked."""
    steps: list[Step] = []
    so_far = np.zeros(len(turns))
    order = np.argsort(-np.abs(turns))
    if loosen:
        rest = follower.rest(start)
        say = f"prop the tips, then loosen {_listed(loosen)} until they slide; lower it onto the rods"
        steps.append(_step(follower, stand, say, so_far, rest, places, offset))
    else:
        rest = follower.rest(start)
    while float(np.abs(turns - so_far).max()) > SMALLEST_TURNS:
        words = []
        for index in order:
            left = turns[index] - so_far[index]
            if abs(left) <= SMALLEST_TURNS:
                continue
            now = left if abs(left) < 1.5 * ROUND_TURNS else math.copysign(ROUND_TURNS, left)
            so_far[index] += now
            way = "tighten" if now > 0.0 else "slacken"
            words.append(f"{way} {stand.tie_rods[index].name} by {abs(now):.2f} turn{'s' if abs(now) > 1.0 else ''}")
        if len(steps) > 200:
            raise StandError(
                ("tie_rod",), "these rods need more than a hundred turns: they are too short to level with"
            )
        rest = follower.rest(start - so_far * per_turn, rest)
        steps.append(_step(follower, stand, ", then ".join(words), so_far, rest, places, offset))
    if loosen:
        steps.append(
            replace(steps[-1], say=f"check the level, then tighten {_listed(loosen)} again where they lie now")
        )
    return tuple(steps), all(step.share <= 1.0 for step in steps)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _step(
    follower: Follower,
    stand: Stand,
    say: str,
    turns: FloatArray,
    rest: Rest,
    places: Sequence[str],
    offset: FloatArray,
) -> Step:
    share, nearest = _hardest(follower, stand, rest)
    low = tuple(
        float(-rest.lifted_mm(follower.ready, place) - shift) for place, shift in zip(places, offset, strict=True)
    )
    return Step(say, tuple(float(t) for t in turns), low, tuple(float(t) for t in rest.rods_n), share, nearest)


def _hardest(follower: Follower, stand: Stand, rest: Rest) -> tuple[float, str]:
    """Which rod, member or fixing is nearest its limit, with the frame where it lies; fixings nobody vouches for are
    not among them.
    """
    found: list[tuple[float, str]] = []
    for rod, pull in zip(stand.tie_rods, rest.rods_n, strict=True):
        found.append((float(pull) / rod_limit_n(rod)[0], rod.name))
    for number, piece in enumerate(follower.ready.pieces):
        section, member = follower.ready.sections[piece.member], stand.members[piece.member]
        limit = limits(section, follower.ready.lengths_mm[piece.member], member.unheld_mm)
        if limit is None:
            continue
        pull, _, y1, y2, z1, z2 = rest.natural[number]
        share = member_share(limit, float(pull), max(abs(y1), abs(y2)), max(abs(z1), abs(z2))).total
        found.append((float(share), member.name))
    for held in stand.held:
        if held.fixing is not None:
            pull, across = on_fixing(held, rest.reaction[follower.ready.node_of[held.node]])
            used = capacity_share(fixing_capacity(held.fixing), pull, across)
            if not math.isnan(used):
                found.append((used, f"fixing of {held.node}"))
    return max(found)
