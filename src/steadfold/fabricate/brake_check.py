"""Whether a bend can be made in the brake: does a body meet punch, ram, die or bed on the way.

Tools are prisms along the bend line, so a body meets a tool exactly when their shadows along that line
overlap. The whole stroke counts: the punch coming down past what already stands, the sheet rising round
it to the angle and what it springs back, and the part coming out again, under the risen punch or else
sideways along it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from steadfold.fabricate.bodies import Bodies, Body, arc_end, turned_by
from steadfold.fabricate.sections import (
    DAYLIGHT_MM,
    Sections,
    box,
    convex_parts,
    padded,
    sections,
    separations,
    swept_up,
)
from steadfold.fabricate.shop import Brake, Die, Punch
from steadfold.fabricate.strokes import Stroke

TOUCH_MM = 0.02
"""Overlap that still counts as touching."""
FINEST_MM = 0.05
"""The stroke is cut finer until nothing moves further than this between two looks, or the gap proves it
need not."""
HEM_TOOL = "flattening"


@dataclass(frozen=True)
class Tooling:
    """A punch over a die; `punch` is None for the plates that press a hem flat."""

    punch: Punch | None
    die: Die

    @cached_property
    def name(self) -> str:
        """What it is called on the set-up sheet."""
        return f"{self.punch.name} over {self.die.name}" if self.punch else HEM_TOOL

    @cached_property
    def symmetric(self) -> bool:
        """True when it does not matter on which side the longer half lies."""
        return self.punch is None or self.punch.symmetric


@dataclass(frozen=True)
class Passage:
    """How a body gets through a stroke: clear of the tools all the way, then out upwards, or along the
    bend line towards its start (`left`) or its end (`right`)."""

    clear: bool
    up: bool = False
    left: bool = False
    right: bool = False


BLOCKED = Passage(False)


@dataclass(frozen=True)
class Clash:
    """What met what: the body, the part of the tool, the angle turned through by then, and how deep at
    worst."""

    body: str
    tool: str
    angle_rad: float
    depth_mm: float


class BrakeCheck:
    """Answers for one part and one brake, each worked out once.

    One value a stroke: `stop_rad` is the angle it leaves (less than the bend's own where a hem is pressed
    flat afterwards), `over_rad` how far the stroke goes beyond that for springback.
    """

    def __init__(
        self, bodies: Bodies, brake: Brake, stop_rad: tuple[float, ...], over_rad: tuple[float, ...]
    ):
        self.bodies = bodies
        self.brake = brake
        self.stop_rad = stop_rad
        self.over_rad = over_rad
        self.thickness_mm = bodies.part.thickness_mm
        self._tools: dict[str, _Tools] = {}
        self._passages: dict[tuple[int, str, bool, int, int], Passage] = {}
        self.looked_at = 0

    def passage(self, index: int, tooling: Tooling, child_back: bool, place: int, state: int) -> Passage:
        """How one body (its place in `bodies.seen_from[index]`) gets through stroke `index` in a state."""
        body = self.bodies.seen_from[index][place]
        back = tooling.symmetric or child_back == body.on_child
        key = (index, tooling.name, back, place, state & body.mask)
        found = self._passages.get(key)
        if found is None:
            self.looked_at += 1
            found = self._passages[key] = self._passage(index, tooling, back, place, state)
        return found

    def way_out(self, index: int, tooling: Tooling, child_back: bool, state: int) -> str | None:
        """How the part comes out after stroke `index`: 'up', 'sideways', or None when it cannot be made."""
        up = left = right = True
        for place in range(len(self.bodies.seen_from[index])):
            passage = self.passage(index, tooling, child_back, place, state)
            up, left, right = up and passage.up, left and passage.left, right and passage.right
            if not passage.clear or not (up or left or right):
                return None
        return "up" if up else "sideways"

    def clashes(self, index: int, tooling: Tooling, child_back: bool, state: int) -> tuple[Clash, ...]:
        """Everything that meets the tools in stroke `index`, looked at every degree, deepest last."""
        found = []
        for place, body in enumerate(self.bodies.seen_from[index]):
            if self.passage(index, tooling, child_back, place, state).clear:
                continue
            back = child_back == body.on_child
            found.append(self._clash(index, tooling, back, place, state))
        return tuple(sorted((clash for clash in found if clash), key=lambda clash: clash.depth_mm))

    def gap_mm(
        self, index: int, tooling: Tooling, child_back: bool, place: int, state: int, turned_rad: float
    ) -> float:
        """Gap between one body and all tools at one angle of stroke `index`; negative when they overlap,
        never more than the true distance. What lies flat with a side of the bend is not looked at against
        die and bed.
        """
        back = child_back == self.bodies.seen_from[index][place].on_child
        moving = self._moving(index, tooling, back, place, state)
        return math.inf if moving is None else float(moving.gaps(np.array([turned_rad]))[0][0])

    def clearance_mm(self, index: int, tooling: Tooling, child_back: bool, state: int, step_rad: float) -> float:
        """Least gap between the tools and everything but the two sides of the bend, looked at in equal
        steps of the stroke. Never more than the true distance at those moments.
        """
        least = math.inf
        for place, body in enumerate(self.bodies.seen_from[index]):
            if self._flush(body, state):
                continue
            back = child_back == body.on_child
            moving = self._moving(index, tooling, back, place, state)
            if moving is None:
                continue
            if state & body.path == 0:
                # A bent strip begins on the die: only what lies above counts.
                moving = replace(moving, flush=True)
            count = max(2, math.ceil(moving.last_rad / step_rad) + 1)
            gaps, _ = moving.gaps(np.linspace(0.0, moving.last_rad, count))
            least = min(least, float(gaps.min()))
        return least

    def die_height_mm(self, index: int, tooling: Tooling, turned_rad: float) -> float:
        """Height of the die's top face under the punch's tip, when stroke `index` has turned through an angle."""
        stroke = self.bodies.strokes[index]
        return float(die_height_mm(stroke, self.thickness_mm, tooling.die.v_mm, np.array([turned_rad]))[0])

    def _flush(self, body: Body, state: int) -> bool:
        """True for what lies in one plane with a side of the bend: it rests on the die."""
        return state & body.mask == 0

    def _tools_of(self, tooling: Tooling, stroke: Stroke) -> _Tools:
        key = tooling.name if tooling.punch else f"{tooling.name} {stroke.inside_radius_mm:.6f}"
        if key not in self._tools:
            if tooling.punch is None:
                self._tools[key] = _flattening_tools(tooling.die, self.brake, stroke, self.thickness_mm)
            else:
                self._tools[key] = _bending_tools(tooling.punch, tooling.die, self.brake)
        return self._tools[key]

    def tool_ends(self, index: int) -> tuple[float, float]:
        """Where along the bend line punch and die begin and end."""
        stroke = self.bodies.strokes[index]
        low, high = stroke.along_mm
        # A neighbour bent before stands in the last r + t of the bend; tools are put together shorter than that.
        corner = stroke.inside_radius_mm + 2 * self.thickness_mm
        allowance = min(max(self.brake.end_allowance_mm, corner), 0.45 * (high - low))
        return low + allowance, high - allowance

    def _moving(self, index: int, tooling: Tooling, back: bool, place: int, state: int) -> _Moving | None:
        stroke, body = self.bodies.strokes[index], self.bodies.seen_from[index][place]
        if tooling.punch is None and body.on_child:
            return None
        beside = self.bodies.sections(index, place, state, self.tool_ends(index))
        whole = self.bodies.sections(index, place, state, (-math.inf, math.inf))
        if not whole:
            return None
        return _Moving(
            stroke,
            self.thickness_mm,
            self._tools_of(tooling, stroke),
            padded(beside + whole),
            len(beside),
            back,
            self.stop_rad[index] + self.over_rad[index] if tooling.punch else 0.0,
            self._flush(body, state),
        )

    def _passage(self, index: int, tooling: Tooling, back: bool, place: int, state: int) -> Passage:
        moving = self._moving(index, tooling, back, place, state)
        if moving is None:
            return Passage(True, True, True, True)
        tools = moving.tools
        if not moving.clear(np.zeros(1), tools.rising):
            return BLOCKED
        if not moving.clear_all_the_way():
            return BLOCKED
        if tooling.punch is None:
            return Passage(True, True, True, True)
        released = np.array([self.stop_rad[index]])
        if moving.clear(released, tools.rising):
            return Passage(True, True, True, True)
        low, high = self.tool_ends(index)
        sides = []
        for along in ((low, math.inf), (-math.inf, high)):
            beside = self.bodies.sections(index, place, state, along)
            if not beside:
                sides.append(True)
                continue
            placed = turned_by(padded(beside), moving.stroke, self.thickness_mm, released, back)
            gaps = separations(placed, tools.upper)[..., ~tools.upper.full_length]
            sides.append(bool((gaps >= -TOUCH_MM).all()))
        return Passage(True, False, sides[0], sides[1])

    def _clash(self, index: int, tooling: Tooling, back: bool, place: int, state: int) -> Clash | None:
        moving = self._moving(index, tooling, back, place, state)
        if moving is None:
            return None
        body = self.bodies.seen_from[index][place]
        angles = np.linspace(0.0, moving.last_rad, math.ceil(math.degrees(moving.last_rad)) + 1)
        gaps, names = moving.gaps(angles)
        hits = np.flatnonzero(gaps < -TOUCH_MM)
        if len(hits):
            at = int(hits[0])
            return Clash(body.name, names[at], float(angles[at]), float(-gaps.min()))
        placed = moving.placed(np.zeros(1))
        lowest = np.where(moving.pairs(moving.tools.rising), separations(placed, moving.tools.rising), np.inf)
        flat = lowest[0].min(axis=0)
        worst = int(flat.argmin())
        return Clash(body.name, moving.tools.rising.names[worst], 0.0, float(max(0.0, -flat[worst])))


@dataclass(frozen=True)
class _Tools:
    """Upper tools, what they sweep as they rise, and lower tools (their own origin moves with the stroke)."""

    upper: Sections
    rising: Sections
    lower: Sections
    v_mm: float
    flat: bool


@dataclass(frozen=True)
class _Moving:
    """One body through one stroke: the first `beside` of its sections lie beside punch and die, the rest
    is all of it. `flush` bodies lie on the die and are not looked at against it."""

    stroke: Stroke
    thickness_mm: float
    tools: _Tools
    polygons: np.ndarray
    beside: int
    back: bool
    last_rad: float
    flush: bool

    def placed(self, turned: np.ndarray) -> np.ndarray:
        if not self.tools.flat:
            return turned_by(self.polygons, self.stroke, self.thickness_mm, turned, self.back)
        y, z = self.polygons[..., 0], self.polygons[..., 1] - 0.5 * self.thickness_mm
        if self.back:
            return np.stack([y, z], axis=-1)[None]
        return np.stack([-y, z], axis=-1)[None, :, ::-1]

    def pairs(self, tools: Sections) -> np.ndarray:
        """Which section is to be looked at against which tool: (1, b, t)."""
        short = np.arange(len(self.polygons)) < self.beside
        return (short[:, None] != tools.full_length[None, :])[None]

    def clear(self, turned: np.ndarray, tools: Sections) -> bool:
        """True when no section overlaps the tools at the given angles."""
        gaps = separations(self.placed(turned), tools)
        return bool((np.where(self.pairs(tools), gaps, 0.0) >= -TOUCH_MM).all())

    def gaps(self, turned: np.ndarray) -> tuple[np.ndarray, list[str]]:
        """Least gap at each angle and the tool it is to."""
        placed = self.placed(turned)
        upper = np.where(self.pairs(self.tools.upper), separations(placed, self.tools.upper), np.inf)
        least = [upper.min(axis=1)]
        names = list(self.tools.upper.names)
        if not self.flush:
            die = np.stack([np.zeros_like(turned), self.die_height(turned)], axis=-1)
            lowered = placed - die[:, None, None]
            lower = np.where(self.pairs(self.tools.lower), separations(lowered, self.tools.lower), np.inf)
            least.append(lower.min(axis=1))
            names += self.tools.lower.names
        both = np.concatenate(least, axis=1)
        return both.min(axis=1), [names[i] for i in both.argmin(axis=1)]

    def die_height(self, turned: np.ndarray) -> np.ndarray:
        if self.tools.flat:
            return np.full_like(turned, -self.thickness_mm)
        return die_height_mm(self.stroke, self.thickness_mm, self.tools.v_mm, turned)

    def clear_all_the_way(self) -> bool:
        """True when nothing meets between flat and the last angle; finer steps only where the gap demands
        it."""
        if self.last_rad == 0.0:
            return bool(self.gaps(np.zeros(1))[0][0] >= -TOUCH_MM)
        angles = np.linspace(0.0, self.last_rad, 9)
        gaps = self.gaps(angles)[0]
        reach = float(np.hypot(self.polygons[..., 0], self.polygons[..., 1]).max())
        dense = np.linspace(0.0, self.last_rad, 64)
        climb = float(np.abs(np.diff(self.die_height(dense))).max() / max(dense[1], 1e-12))
        # A point turns at half the rate of the bend about the end of an arc that itself moves.
        speed = 0.5 * reach + 0.5 * self.stroke.allowance_mm + (0.0 if self.flush else climb)
        while True:
            if (gaps < -TOUCH_MM).any():
                return False
            widths = np.diff(angles)
            unsure = (gaps[:-1] + gaps[1:] <= speed * widths) & (speed * widths > FINEST_MM)
            if not unsure.any():
                return True
            middles = 0.5 * (angles[:-1] + angles[1:])[unsure]
            more = self.gaps(middles)[0]
            order = np.argsort(np.concatenate([angles, middles]), kind="stable")
            angles = np.concatenate([angles, middles])[order]
            gaps = np.concatenate([gaps, more])[order]


def die_height_mm(stroke: Stroke, thickness_mm: float, v_mm: float, turned_rad: np.ndarray) -> np.ndarray:
    """Height of the die's top face under the punch's tip at angles (a,): the sheet's lower face rests on both its
    shoulders."""
    half = 0.5 * turned_rad
    out, rise = arc_end(stroke, turned_rad)
    t = thickness_mm
    away = (0.5 * v_mm - out - 0.5 * t * np.sin(half)) / np.cos(half)
    return np.asarray(rise - 0.5 * t + away * np.sin(half) - 0.5 * t * np.cos(half))


def _bending_tools(punch: Punch, die: Die, brake: Brake) -> _Tools:
    clamp, top = punch.clamp_half_width_mm, punch.height_mm
    parts = [("punch", False, polygon) for polygon in convex_parts(punch.outline)]
    parts.append(("ram", True, box(-clamp, clamp, top, top + DAYLIGHT_MM)))
    half, bed = die.half_width_mm, brake.bed_half_width_mm
    lower = [
        ("die", False, box(-half, half, -die.height_mm, 0.0)),
        ("bed", True, box(-bed, bed, -die.height_mm - DAYLIGHT_MM, -die.height_mm)),
    ]
    rising = [(name, full, swept_up(polygon, brake.opening_mm)) for name, full, polygon in parts]
    return _Tools(sections(parts), sections(rising), sections(lower), die.v_mm, False)


def _flattening_tools(die: Die, brake: Brake, stroke: Stroke, thickness_mm: float) -> _Tools:
    """Two plates that press the hem: the lower under the parent, the upper on the folded leg; the ram above.

    Only what stands on the parent's side is looked at; what hangs on a hem's leg lies between the plates.
    """
    half = brake.flattening_half_width_mm
    top = 2 * stroke.inside_radius_mm + thickness_mm
    parts = [
        ("upper plate", False, box(-half, half, top, top + 60.0)),
        ("ram", True, box(-2 * half, 2 * half, top + 60.0, top + DAYLIGHT_MM)),
    ]
    lower = [
        ("lower plate", False, box(-half, half, -60.0, 0.0)),
        ("bed", True, box(-brake.bed_half_width_mm, brake.bed_half_width_mm, -60.0 - DAYLIGHT_MM, -60.0)),
    ]
    rising = [(name, full, swept_up(polygon, brake.opening_mm)) for name, full, polygon in parts]
    return _Tools(sections(parts), sections(rising), sections(lower), die.v_mm, True)
