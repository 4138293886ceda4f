"""Ready-made frames: triangle pair, wall bracket, shelf frame on legs, gantry over a bench.

Each builder gives the nodes, members, fixings and rods of a `Frame`; `Stand` adds machine, bench and people.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from steadfold.stand.records import (
    PINNED,
    WELDED,
    Adjuster,
    Fixing,
    Held,
    HeldTo,
    Joint,
    Member,
    Place,
    StandError,
    TieRod,
)

SIDES = ("left", "right")


@dataclass(frozen=True)
class Frame:
    """Nodes, members, what holds them, rods, and the nodes whose height matters."""

    nodes: dict[str, Place]
    members: tuple[Member, ...]
    held: tuple[Held, ...]
    tie_rods: tuple[TieRod, ...]
    level_at: tuple[str, ...]


@dataclass(frozen=True)
class RodChoice:
    """Tie rods of a triangle pair: where on the arm they pull, how far above it their heads sit, and their thread."""

    at_mm: float
    head_mm: float
    size: str
    adjuster: Adjuster = "nut"
    pretension_n: float = 0.0
    slack_mm: float = 0.0
    post_profile: str | None = None
    post_below_mm: float = 0.0
    crossbar: tuple[float, float, float] | None = None


def triangle_pair(
    reach_mm: float,
    brace_at_mm: float,
    brace_angle_rad: float,
    spacing_mm: float,
    profile: str,
    *,
    frames: int = 2,
    brace_profile: str | None = None,
    brace_above: bool = False,
    crossbars_mm: tuple[float, ...] | None = None,
    crossbar_profile: str | None = None,
    arm_joint: Joint = PINNED,
    brace_joint: Joint = PINNED,
    crossbar_joint: Joint = WELDED,
    to: HeldTo = "bench",
    fixing: Fixing | None = None,
    gives_n_per_mm: float | None = None,
    rods: RodChoice | None = None,
    punched: bool = False,
) -> Frame:
    """Arms that stand out from a bench or wall, each with a brace at an angle from the arm, below it or above it.

    The brace meets the arm at `brace_at_mm` and bench or wall at `brace_at_mm` x tan(angle) below (or above). One
    frame or two, `spacing_mm` apart along y, joined by crossbars at `crossbars_mm` (default: at the tip). Raises
    StandError for lengths that make no triangle.
    """
    if not 0.0 < brace_at_mm <= reach_mm:
        raise StandError(
            ("brace_at",), f"the brace meets the arm at {brace_at_mm:g} mm, which is not on its {reach_mm:g} mm"
        )
    if not math.radians(5.0) <= brace_angle_rad <= math.radians(85.0):
        raise StandError(("brace_angle",), "a brace at less than 5° or more than 85° from the arm makes no triangle")
    if frames not in (1, 2):
        raise StandError(("frames",), "there are one or two frames")
    drop = brace_at_mm * math.tan(brace_angle_rad) * (1.0 if brace_above else -1.0)
    bars = (reach_mm,) if crossbars_mm is None else crossbars_mm
    nodes: dict[str, Place] = {}
    members: list[Member] = []
    held: list[Held] = []
    tie_rods: list[TieRod] = []
    sides = SIDES[:frames] if frames == 2 else ("",)
    for index, side in enumerate(sides):
        word = f"{side} " if side else ""
        y = index * spacing_mm
        nodes[f"{word}root"] = (0.0, y, 0.0)
        nodes[f"{word}tip"] = (reach_mm, y, 0.0)
        nodes[f"{word}brace top" if not brace_above else f"{word}tie foot"] = (brace_at_mm, y, 0.0)
        heel = f"{word}brace foot" if not brace_above else f"{word}tie head"
        joint_at = f"{word}brace top" if not brace_above else f"{word}tie foot"
        nodes[heel] = (0.0, y, drop)
        if abs(brace_at_mm - reach_mm) < 1e-9:
            del nodes[joint_at]
            joint_at = f"{word}tip"
        members.append(Member(
            f"{word}arm", f"{word}root", f"{word}tip", profile, (arm_joint, WELDED), role="arm", punched=punched,
            unheld_mm=_longest_gap(reach_mm, bars, frames),
        ))  # fmt: skip
        members.append(Member(
            f"{word}{'tie' if brace_above else 'brace'}", heel, joint_at, brace_profile or profile,
            (brace_joint, brace_joint), role="brace", punched=punched,
        ))  # fmt: skip
        held.append(Held(f"{word}root", "clamped", to, fixing, gives_n_per_mm))
        held.append(Held(heel, "clamped", to, fixing, gives_n_per_mm))
        if rods is not None:
            _add_rod(rods, word, y, reach_mm, profile, punched, to, fixing, nodes, members, held, tie_rods)
    if frames == 2:
        _crossbars(bars, reach_mm, spacing_mm, crossbar_profile or profile, crossbar_joint, punched, nodes, members)
    tips = tuple(f"{side} tip" if side else "tip" for side in sides)
    return Frame(nodes, tuple(members), tuple(held), tuple(tie_rods), tips)


def wall_bracket(
    reach_mm: float, brace_angle_rad: float, profile: str, *, spacing_mm: float = 0.0, brace_at_mm: float | None = None,
    brace_above: bool = False, arm_joint: Joint = PINNED, brace_joint: Joint = PINNED,
    fixing: Fixing | None = None, gives_n_per_mm: float | None = None, punched: bool = False,
    crossbars_mm: tuple[float, ...] | None = None,
) -> Frame:  # fmt: skip
    """One bracket on a wall (or two, where `spacing_mm` is given): an arm and a brace, as in `triangle_pair`."""
    return triangle_pair(
        reach_mm, brace_at_mm or 0.85 * reach_mm, brace_angle_rad, spacing_mm, profile,
        frames=2 if spacing_mm > 0.0 else 1, brace_above=brace_above, arm_joint=arm_joint, brace_joint=brace_joint,
        to="wall", fixing=fixing, gives_n_per_mm=gives_n_per_mm, punched=punched, crossbars_mm=crossbars_mm,
    )  # fmt: skip


def shelf_frame(
    width_mm: float, depth_mm: float, height_mm: float, profile: str, *, joint: Joint = WELDED,
    low_rails_mm: float | None = None, braces_mm: float | None = None, brace_joint: Joint = PINNED,
    foot: Fixing | None = None, punched: bool = False,
) -> Frame:  # fmt: skip
    """A frame on four legs that stands on the floor: legs, four rails on top, and low ones at a height where given.

    `width_mm` runs along y, `depth_mm` along x. `braces_mm` adds knee braces of that leg from each top corner, in both
    upright planes. Feet rest on the floor, or are screwed down where a fixing is given.
    Raises StandError for a size that is not above 0.
    """
    if min(width_mm, depth_mm, height_mm) <= 0.0:
        raise StandError(("height",), "a shelf frame needs a width, a depth and a height above 0 mm")
    corners = {"back left": (0.0, 0.0), "back right": (0.0, width_mm), "front right": (depth_mm, width_mm),
               "front left": (depth_mm, 0.0)}  # fmt: skip
    nodes: dict[str, Place] = {}
    members: list[Member] = []
    held: list[Held] = []
    names = list(corners)
    for name, (x, y) in corners.items():
        nodes[f"{name} foot"] = (x, y, 0.0)
        nodes[f"{name} top"] = (x, y, height_mm)
        members.append(Member(f"{name} leg", f"{name} foot", f"{name} top", profile, (WELDED, joint),
                              up=(1.0, 0.0, 0.0), role="leg", punched=punched))  # fmt: skip
        held.append(Held(f"{name} foot", "foot" if foot is None else "hinged", "floor", foot))
    levels = [("top", height_mm)] + ([("low", low_rails_mm)] if low_rails_mm else [])
    for level, z in levels:
        for name, (x, y) in corners.items():
            if level == "low":
                nodes[f"{name} low"] = (x, y, float(z))
        for first, second in zip(names, names[1:] + names[:1], strict=True):
            side = _side(first, second)
            members.append(Member(f"{level} {side} rail", f"{first} {level}", f"{second} {level}", profile,
                                  (joint, joint), role="rail", punched=punched))  # fmt: skip
    if braces_mm:
        _knee_braces(corners, height_mm, braces_mm, profile, brace_joint, punched, nodes, members)
    return Frame(nodes, tuple(members), tuple(held), (), tuple(f"{name} top" for name in names))


def gantry(
    span_mm: float, height_mm: float, profile: str, *, depth_mm: float = 0.0, beam_profile: str | None = None,
    joint: Joint = WELDED, braces_mm: float | None = None, brace_joint: Joint = PINNED,
    to: HeldTo = "bench", fixing: Fixing | None = None, foot_joint: Joint = PINNED, punched: bool = False,
) -> Frame:  # fmt: skip
    """A beam over a bench on two posts; with a depth, two such portals joined at the top.

    The span runs along y. Post feet are held by their `fixing` and turn by `foot_joint`. `braces_mm` adds knee braces
    between post and beam. Raises StandError for a span or height that is not above 0.
    """
    if min(span_mm, height_mm) <= 0.0:
        raise StandError(("span",), "a gantry needs a span and a height above 0 mm")
    portals = ("",) if depth_mm <= 0.0 else ("back ", "front ")
    nodes: dict[str, Place] = {}
    members: list[Member] = []
    held: list[Held] = []
    for index, portal in enumerate(portals):
        x = index * depth_mm
        for side, y in (("left", 0.0), ("right", span_mm)):
            nodes[f"{portal}{side} foot"] = (x, y, 0.0)
            nodes[f"{portal}{side} top"] = (x, y, height_mm)
            members.append(Member(f"{portal}{side} post", f"{portal}{side} foot", f"{portal}{side} top", profile,
                                  (foot_joint, joint), up=(0.0, 1.0, 0.0), role="post", punched=punched))  # fmt: skip
            held.append(Held(f"{portal}{side} foot", "clamped", to, fixing))
        nodes[f"{portal}middle"] = (x, 0.5 * span_mm, height_mm)
        members.append(Member(f"{portal}beam", f"{portal}left top", f"{portal}right top", beam_profile or profile,
                              (joint, joint), role="beam", punched=punched))  # fmt: skip
        if braces_mm:
            for side, y, inward in (("left", 0.0, 1.0), ("right", span_mm, -1.0)):
                low, out = f"{portal}{side} brace foot", f"{portal}{side} brace top"
                nodes[low] = (x, y, height_mm - braces_mm)
                nodes[out] = (x, y + inward * braces_mm, height_mm)
                members.append(Member(f"{portal}{side} brace", low, out, profile, (brace_joint, brace_joint),
                                      role="brace", punched=punched))  # fmt: skip
    if depth_mm > 0.0:
        for side in SIDES:
            members.append(Member(f"{side} crossbar", f"back {side} top", f"front {side} top", profile, (joint, joint),
                                  role="crossbar", punched=punched))  # fmt: skip
    return Frame(nodes, tuple(members), tuple(held), (), tuple(f"{portal}middle" for portal in portals))


def _longest_gap(reach_mm: float, bars_mm: tuple[float, ...], frames: int) -> float:
    """The longest part of an arm between places that hold it sideways: its root and the crossbars."""
    if frames == 1:
        return reach_mm
    places = sorted({0.0, *bars_mm, reach_mm})
    return max(after - before for before, after in pairwise(places))


def _crossbars(
    bars: tuple[float, ...], reach: float, spacing: float, profile: str, joint: Joint, punched: bool,
    nodes: dict[str, Place], members: list[Member],
) -> None:  # fmt: skip
    if spacing <= 0.0:
        raise StandError(("spacing",), "two frames need a spacing above 0 mm")
    for number, x in enumerate(bars, 1):
        if not 0.0 < x <= reach + 1e-9:
            raise StandError(("crossbars",), f"a crossbar at {x:g} mm is not on the arms of {reach:g} mm")
        ends = []
        for index, side in enumerate(SIDES):
            place = (x, index * spacing, 0.0)
            known = next((name for name, at in nodes.items() if math.dist(at, place) < 1e-6), None)
            name = known or f"{side} crossbar {number}"
            nodes.setdefault(name, place)
            ends.append(name)
        word = "crossbar" if len(bars) == 1 else f"crossbar {number}"
        members.append(Member(word, ends[0], ends[1], profile, (joint, joint), role="crossbar", punched=punched))


def _add_rod(
    rods: RodChoice, word: str, y: float, reach: float, profile: str, punched: bool, to: HeldTo, fixing: Fixing | None,
    nodes: dict[str, Place], members: list[Member], held: list[Held], tie_rods: list[TieRod],
) -> None:  # fmt: skip
    if not 0.0 < rods.at_mm <= reach:
        raise StandError(("tie_rods", "at"), f"a rod at {rods.at_mm:g} mm is not on the arm of {reach:g} mm")
    if rods.head_mm <= 0.0:
        raise StandError(("tie_rods", "head"), "the heads of tie rods sit above the arm")
    place = (rods.at_mm, y, 0.0)
    foot = next((name for name, at in nodes.items() if math.dist(at, place) < 1e-6), f"{word}rod foot")
    nodes.setdefault(foot, place)
    nodes[f"{word}post head"] = (0.0, y, rods.head_mm)
    # the post is a piece of its own beside the arm's root, held by the bench
    nodes[f"{word}post waist"] = (0.0, y, 0.0)
    stock = rods.post_profile or profile
    if rods.post_below_mm > 0.0:
        nodes[f"{word}post foot"] = (0.0, y, -rods.post_below_mm)
        members.append(Member(f"{word}post", f"{word}post foot", f"{word}post head", stock, up=(1.0, 0.0, 0.0),
                              role="post", punched=punched, through=(f"{word}post waist",)))  # fmt: skip
        held.append(Held(f"{word}post foot", "hinged", to, fixing))
        held.append(Held(f"{word}post waist", "hinged", to, fixing))
    else:
        members.append(Member(f"{word}post", f"{word}post waist", f"{word}post head", stock, up=(1.0, 0.0, 0.0),
                              role="post", punched=punched, through=(f"{word}post waist",)))  # fmt: skip
        held.append(Held(f"{word}post waist", "clamped", to, fixing))
    tie_rods.append(TieRod(f"{word}rod", f"{word}post head", foot, rods.size, rods.adjuster, rods.pretension_n,
                           rods.slack_mm, rods.crossbar))  # fmt: skip


def _side(first: str, second: str) -> str:
    """The side of the frame that two corners share: 'back left' and 'back right' share the back."""
    return next(word for word in first.split() if word in second.split())


def _knee_braces(
    corners: dict[str, tuple[float, float]], height: float, leg: float, profile: str, joint: Joint, punched: bool,
    nodes: dict[str, Place], members: list[Member],
) -> None:  # fmt: skip
    names = list(corners)
    for first, second in zip(names, names[1:] + names[:1], strict=True):
        side = _side(first, second)
        for here, there in ((first, second), (second, first)):
            (x, y), (tx, ty) = corners[here], corners[there]
            length = math.hypot(tx - x, ty - y)
            if leg >= min(0.5 * length, height):
                raise StandError(("braces",), f"knee braces of {leg:g} mm do not fit between the legs")
            out = (x + (tx - x) * leg / length, y + (ty - y) * leg / length, height)
            low = (x, y, height - leg)
            nodes.setdefault(f"{here} brace foot", low)
            nodes[f"{here} {side} brace top"] = out
            members.append(Member(f"{here} {side} brace", f"{here} brace foot", f"{here} {side} brace top", profile,
                                  (joint, joint), role="brace", punched=punched))  # fmt: skip
