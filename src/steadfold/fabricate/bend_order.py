"""In which order to bend: the fewest seconds at the brake in which no panel meets a tool.

Whether a stroke can be made depends on the set of strokes made before it; what it costs depends on how
the sheet lay before. So the search runs over (set made, how the sheet lies, tool), best first, with a
lower bound that leaves collisions out and is exact otherwise. Method after Duflou, Váncza and Aerens,
Computers in Industry 56 (2005).

Not looked at: panels against each other on the way, droop of large sheets, the reach of the backgauge
sideways.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import count

from steadfold.catalogue.materials import Material
from steadfold.fabricate.bend_plan import BendPlan, BendStep, NoPlan
from steadfold.fabricate.bodies import Bodies
from steadfold.fabricate.brake_check import HEM_TOOL, BrakeCheck, Tooling
from steadfold.fabricate.gauging import Gauge, gauge_for, reaches_mm
from steadfold.fabricate.no_order import why_blocked
from steadfold.fabricate.press import bending_strength_mpa, over_bend_rad, press_force_n
from steadfold.fabricate.shop import Shop
from steadfold.fabricate.tooling import tools_for
from steadfold.sheet.part import Part
from steadfold.sheet.pose import flat_places

MOST_STROKES = 14
"""More strokes than this are not searched to the end: the first order found is given, and said to be that."""
MOST_SETS = 1 << MOST_STROKES
"""More sets of strokes than this are not looked at before an order is found."""
SETS_BETWEEN = 256
"""How many sets are looked at between two questions whether to give up."""
LONGER_BY = 1.2
"""From this ratio on one side of the sheet counts as the longer one."""
SQUARE_RAD = math.radians(1.0)

Progress = Callable[[BendPlan], None]


@dataclass(frozen=True)
class Lie:
    """How the sheet lies: which face is up and which way of the flat points to the back (an index)."""

    face_up: int
    heading: int


Place = tuple[int, Lie | None, int]
"""A place in the search: strokes made, how the sheet lies, tool in the brake (-1 for none yet)."""


@dataclass(frozen=True)
class Move:
    """One way to make a stroke: on which side its children lie, with which tool, what it costs, how it
    comes out."""

    stroke: int
    child_back: bool
    tool: int
    lie: Lie
    cost_s: float
    way_out: str


def plan_bends(
    part: Part,
    material: Material,
    shop: Shop,
    progress: Progress | None = None,
    give_up: Callable[[], bool] | None = None,
) -> BendPlan | NoPlan:
    """The cheapest order of bends in this shop's brake, or why there is none.

    `progress` is called with every better plan while the search runs; when `give_up` turns True the best
    plan so far is returned, not `complete`. A plan clears these tools as they are drawn; whether the shop
    can bend it so is the shop's to say.
    """
    if not part.bends:
        return BendPlan((), 0, 0.0, True)
    search = BendSearch(part, material, shop, give_up)
    try:
        return search.best(progress) if search.alive(0) else why_blocked(search)
    except CutOff:
        return NoPlan((), (), ("", ""), "", 0.0, 0.0, "not found")


class CutOff(Exception):
    """The search was given up before it had an answer."""


class BendSearch:
    """The search for one part in one shop; `plan_bends` is the way in."""

    def __init__(self, part: Part, material: Material, shop: Shop, give_up: Callable[[], bool] | None = None):
        self.give_up = give_up or (lambda: False)
        self.part, self.material, self.shop = part, material, shop
        self.bodies = Bodies(part)
        self.strokes = self.bodies.strokes
        self.full = (1 << len(self.strokes)) - 1
        t = part.thickness_mm
        over = tuple(over_bend_rad(material, s.angle_rad, s.inside_radius_mm, t) for s in self.strokes)
        tools = tools_for(self.strokes, over, material, t, shop)
        self.toolings, self.usable, self.hems = tools.toolings, tools.usable, tools.hems
        self.check = BrakeCheck(self.bodies, shop.brake, tools.stop_rad, tools.over_rad)
        self._headings: list[tuple[float, float]] = []
        self._lies = [self._lie_of(i) for i in range(len(self.strokes))]
        self._alive: dict[int, bool] = {}
        self._out: dict[tuple[int, int, bool, int], str | None] = {}
        self._gauges: dict[tuple[int, bool, int], Gauge | None] = {}
        self._gauging: dict[tuple[int, bool, int], float] = {}
        self._bounds: dict[tuple[int, Lie | None, int], float] = {}
        self._classes = self._kinds()

    def best(self, progress: Progress | None) -> BendPlan:
        """The cheapest plan (best-first, exact) of a part that has one."""
        first = self._greedy()
        best_cost = sum(move.cost_s for move in first)
        best = self._plan(first, len(self.strokes) <= 1)
        if progress:
            progress(best)
        if len(self.strokes) > MOST_STROKES:
            return best
        start: Place = (0, None, -1)
        tie = count()
        queue: list[tuple[float, int, int, Place]] = [(self.bound(start), 0, next(tie), start)]
        cost_to: dict[Place, float] = {start: 0.0}
        came: dict[Place, tuple[Place, Move]] = {}
        closed: set[Place] = set()
        while queue:
            if self.give_up():
                return best
            estimate, _, _, place = heapq.heappop(queue)
            if estimate >= best_cost - 1e-9:
                break
            if place in closed:
                continue
            closed.add(place)
            made, _, _ = place
            if made == self.full:
                moves = []
                while place != start:
                    place, move = came[place]
                    moves.append(move)
                return self._plan(moves[::-1], True)
            for move in self.moves(place):
                after: Place = (made | 1 << move.stroke, move.lie, move.tool)
                cost = cost_to[place] + move.cost_s
                if after in closed or cost >= cost_to.get(after, math.inf) - 1e-9:
                    continue
                if not self.alive(after[0]):
                    continue
                cost_to[after] = cost
                came[after] = (place, move)
                heapq.heappush(queue, (cost + self.bound(after), -after[0].bit_count(), next(tie), after))
        return self._plan(first, True)

    def alive(self, made: int) -> bool:
        """True when from this set of strokes the part can be finished.

        Raises `CutOff` when the search is given up, or a part of many strokes has too many ways to look at.
        """
        if made == self.full:
            return True
        known = self._alive.get(made)
        if known is None:
            looked = len(self._alive)
            if looked > MOST_SETS or (looked % SETS_BETWEEN == SETS_BETWEEN - 1 and self.give_up()):
                raise CutOff
            known = self._alive[made] = any(
                self.can_make(made, i) and self.alive(made | 1 << i)
                for i in range(len(self.strokes))
                if not made >> i & 1
            )
        return known

    def dead_ends(self) -> list[int]:
        """The sets of strokes looked at from which the part cannot be finished, in the order they were met."""
        return [made for made, finishes in self._alive.items() if not finishes]

    def can_make(self, made: int, index: int) -> bool:
        """True when some tool makes the stroke on some side."""
        return any(self.way_out(made, index, back, tool) for tool in self.usable[index] for back in (True, False))

    def way_out(self, made: int, index: int, child_back: bool, tool: int) -> str | None:
        """How the part comes out after a stroke; None when it cannot be made so."""
        tooling = self.toolings[tool]
        key = (made, index, child_back or tooling.symmetric, tool)
        if key not in self._out:
            out = self.check.way_out(index, tooling, child_back, made)
            if out and self.hems[index]:
                flat = Tooling(None, tooling.die)
                out = out if self.check.way_out(index, flat, child_back, made) else None
            self._out[key] = out
        return self._out[key]

    def moves(self, place: Place) -> list[Move]:
        """All strokes that can be made next, every side and tool."""
        made, lie, tool_in = place
        found = []
        for index in range(len(self.strokes)):
            if made >> index & 1:
                continue
            for tool in self.usable[index]:
                for back in (True, False):
                    out = self.way_out(made, index, back, tool)
                    if out is None:
                        continue
                    after = self._lies[index][0 if back else 1]
                    cost = self.handling_s(lie, after, tool_in, tool) + self.stroke_s(index)
                    cost += self.shop.times.out_sideways_s if out == "sideways" else 0.0
                    cost += self.gauging_s(index, back, made)
                    punch = self.toolings[tool].punch
                    if punch is not None and not punch.symmetric:
                        cost += self.shop.times.cut_back_punch_s
                    found.append(Move(index, back, tool, after, cost, out))
        return found

    def stroke_s(self, index: int) -> float:
        """Seconds of the stroke itself; a hem takes two and the plates between."""
        times = self.shop.times
        return 2 * times.stroke_s + times.tool_change_s if self.hems[index] else times.stroke_s

    def handling_s(self, lie: Lie | None, after: Lie, tool_in: int, tool: int) -> float:
        """Seconds from one step to the next: turning the sheet over and about, changing tools."""
        times = self.shop.times
        cost = times.tool_change_s if tool_in not in (-1, tool) else 0.0
        if lie is None:
            return cost
        flip, turned = self.turn(lie, after)
        cost += times.flip_s if flip else 0.0
        if turned > SQUARE_RAD:
            cost += times.quarter_turn_s if turned < math.radians(100.0) else times.half_turn_s
        return cost

    def turn(self, lie: Lie, after: Lie) -> tuple[bool, float]:
        """Whether the sheet is turned over, and through what angle it is turned about.

        Turning it over sideways keeps what points to the back, turning it over endways reverses it: whichever
        leaves less to turn.
        """
        (x0, y0), (x1, y1) = self._headings[lie.heading], self._headings[after.heading]
        cos = max(-1.0, min(1.0, x0 * x1 + y0 * y1))
        if lie.face_up == after.face_up:
            return False, math.acos(cos)
        return True, math.acos(abs(cos))

    def gauge(self, index: int, child_back: bool, made: int) -> Gauge | None:
        """The edge to gauge from; worked out once for every set of what lies flat behind the bend."""
        flush = 0
        for place, body in enumerate(self.bodies.seen_from[index]):
            if child_back == body.on_child and not made & body.path:
                flush |= 1 << 2 * place | (bool(made & body.mask) << 2 * place + 1)
        key = (index, child_back, flush)
        if key not in self._gauges:
            self._gauges[key] = gauge_for(self.bodies, index, child_back, made, self.shop.brake)
        return self._gauges[key]

    def gauging_s(self, index: int, child_back: bool, made: int) -> float:
        """Seconds that gauging takes beyond the best case: a cut edge, and the longer side in the hands."""
        flush = 0
        for place, body in enumerate(self.bodies.seen_from[index]):
            flush |= (not made & body.path) << place
        key = (index, child_back, flush)
        if key not in self._gauging:
            self._gauging[key] = self._gauging_s(index, child_back, made)
        return self._gauging[key]

    def _gauging_s(self, index: int, child_back: bool, made: int) -> float:
        times, gauge = self.shop.times, self.gauge(index, child_back, made)
        if gauge is None:
            return times.no_gauge_s
        behind, before = reaches_mm(self.bodies, index, child_back, made)
        cost = times.gauge_on_flange_s if gauge.on == "flange" else 0.0
        return cost + (times.long_side_back_s if behind > LONGER_BY * before else 0.0)

    def bound(self, place: Place) -> float:
        """Least seconds still to come, were nothing ever in the way."""
        made, lie, tool = place
        left, kinds = 0.0, 0
        for i in range(len(self.strokes)):
            if not made >> i & 1:
                left += self.stroke_s(i)
                kinds |= 1 << self._classes[0][i]
        return left + self._bound(kinds, lie, tool)

    def _bound(self, kinds: int, lie: Lie | None, tool: int) -> float:
        if not kinds:
            return 0.0
        table = self._classes[1]
        if len(table) > 8:
            faces = {table[k][0] for k in range(len(table)) if kinds >> k & 1}
            turns = len(faces) - 1 if lie is None else len(faces - {lie.face_up})
            return self.shop.times.flip_s * turns
        key = (kinds, lie, tool)
        if key not in self._bounds:
            best = math.inf
            for k, (_, lies, tools) in enumerate(table):
                if not kinds >> k & 1:
                    continue
                for after in lies:
                    for t in tools:
                        step = self.handling_s(lie, after, tool, t)
                        if step < best:
                            best = min(best, step + self._bound(kinds & ~(1 << k), after, t))
            self._bounds[key] = best
        return self._bounds[key]

    def _kinds(self) -> tuple[list[int], list[tuple[int, tuple[Lie, ...], tuple[int, ...]]]]:
        """Strokes that cost alike to come to: same face, same pair of headings, same tools."""
        table: list[tuple[int, tuple[Lie, ...], tuple[int, ...]]] = []
        of = []
        for index, lies in enumerate(self._lies):
            pair = tuple(sorted(lies, key=lambda lie: lie.heading))
            kind = (lies[0].face_up, pair, self.usable[index])
            if kind not in table:
                table.append(kind)
            of.append(table.index(kind))
        return of, table

    def _lie_of(self, index: int) -> tuple[Lie, Lie]:
        """How the sheet lies with the stroke's children at the back, and at the front."""
        stroke = self.strokes[index]
        strip = flat_places(self.part)[1][stroke.bends[0]]
        face = 1 if stroke.angle_rad > 0 else -1
        x, y = strip.away
        return Lie(face, self._heading(x, y)), Lie(face, self._heading(-x, -y))

    def _heading(self, x: float, y: float) -> int:
        for i, (u, v) in enumerate(self._headings):
            if x * u + y * v > math.cos(SQUARE_RAD):
                return i
        self._headings.append((x, y))
        return len(self._headings) - 1

    def _greedy(self) -> list[Move]:
        """The plan that takes the cheapest next step from which the part can still be finished."""
        place: Place = (0, None, -1)
        moves = []
        while place[0] != self.full:
            made = place[0]

            def total(move: Move, made: int = made) -> float:
                return move.cost_s + self.bound((made | 1 << move.stroke, move.lie, move.tool))

            options = sorted(self.moves(place), key=total)
            move = next(m for m in options if self.alive(made | 1 << m.stroke))
            moves.append(move)
            place = (made | 1 << move.stroke, move.lie, move.tool)
        return moves

    def _plan(self, moves: list[Move], complete: bool) -> BendPlan:
        steps: list[BendStep] = []
        made, lie, tool = 0, None, -1
        for move in moves:
            steps += self._steps(move, made, lie, tool)
            made, lie, tool = made | 1 << move.stroke, move.lie, move.tool
        flips = sum(step.flip for step in steps)
        return BendPlan(tuple(steps), flips, sum(move.cost_s for move in moves), complete)

    def _steps(self, move: Move, made: int, lie: Lie | None, tool_in: int) -> list[BendStep]:
        stroke, tooling = self.strokes[move.stroke], self.toolings[move.tool]
        flip, turned = (False, 0.0) if lie is None else self.turn(lie, move.lie)
        strength = bending_strength_mpa(self.material)
        t, v = self.part.thickness_mm, tooling.die.v_mm
        hem = self.hems[move.stroke]
        gap = self.check.clearance_mm(move.stroke, tooling, move.child_back, made, math.radians(1.0))
        per_m = press_force_n(strength, 1000.0, t, v) / 1000.0
        bend = BendStep(
            stroke=move.stroke,
            bends=stroke.bends,
            work="bend",
            made_before=made,
            face_up=move.lie.face_up,
            child_at_back=move.child_back,
            flip=flip,
            turned_rad=turned,
            tool=tooling.name,
            changes_tool=tool_in not in (-1, move.tool),
            gauge=self.gauge(move.stroke, move.child_back, made),
            way_out="up" if move.way_out == "up" else "sideways",
            angle_rad=self.check.stop_rad[move.stroke],
            over_bend_rad=self.check.over_rad[move.stroke],
            clearance_mm=gap if math.isfinite(gap) else None,
            press_force_kn=per_m * stroke.metal_mm / 1000.0,
            press_force_kn_per_m=per_m,
            cost_s=move.cost_s - (self.shop.times.stroke_s + self.shop.times.tool_change_s if hem else 0.0),
        )
        if not hem:
            return [bend]
        flat = replace(
            bend,
            work="press flat",
            flip=False,
            turned_rad=0.0,
            tool=HEM_TOOL,
            changes_tool=True,
            gauge=None,
            way_out="up",
            angle_rad=abs(stroke.angle_rad),
            over_bend_rad=0.0,
            clearance_mm=None,
            cost_s=self.shop.times.stroke_s + self.shop.times.tool_change_s,
        )
        return [bend, flat]
