"""Why a part has no order of bends: of all states that can be reached, the one nearest to going on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from steadfold.fabricate.bend_plan import NoPlan
from steadfold.fabricate.brake_check import Tooling

if TYPE_CHECKING:
    from steadfold.fabricate.bend_order import BendSearch

MOST_EXPLAINED = 12
"""How many of the furthest states are looked into for the nearest miss."""


def why_blocked(search: BendSearch) -> NoPlan:
    """The nearest miss of a search that found no way to finish its part.

    Raises `RuntimeError` when no stroke of it is blocked: then there is a way.
    """
    best: tuple[tuple[float, float], NoPlan] | None = None
    dead = search.dead_ends()
    for made in sorted(dead, key=lambda made: -made.bit_count())[:MOST_EXPLAINED]:
        for index in range(len(search.strokes)):
            if made >> index & 1 or search.can_make(made, index):
                continue
            for rank, answer in _blocks(search, made, index):
                if best is None or rank < best[0]:
                    best = (rank, answer)
    if best is None:
        raise RuntimeError("a part without a plan must have a stroke that is blocked")
    return best[1]


def _blocks(search: BendSearch, made: int, index: int) -> list[tuple[tuple[float, float], NoPlan]]:
    done = tuple(b for i, s in enumerate(search.strokes) if made >> i & 1 for b in s.bends)
    stroke = search.strokes[index]
    name = search.part.panels[stroke.children[0]].name
    if not search.usable[index]:
        turned = abs(stroke.angle_rad)
        return [((-99.0, 0.0), NoPlan(done, stroke.bends, (name, "every punch"), "", turned, 0.0, "too sharp"))]
    found = []
    for tool in search.usable[index]:
        tooling = search.toolings[tool]
        for used in (tooling, Tooling(None, tooling.die)) if search.hems[index] else (tooling,):
            for back in (True, False) if not used.symmetric else (True,):
                clashes = search.check.clashes(index, used, back, made)
                if clashes:
                    worst = clashes[-1]
                    pair, angle, depth = (worst.body, worst.tool), worst.angle_rad, worst.depth_mm
                    answer = NoPlan(done, stroke.bends, pair, used.name, angle, depth, "meets")
                elif search.check.way_out(index, used, back, made) is None:
                    angle = search.check.stop_rad[index]
                    answer = NoPlan(done, stroke.bends, (name, "punch"), used.name, angle, 0.0, "trapped")
                else:
                    continue
                found.append(((-float(made.bit_count()), answer.depth_mm), answer))
    return found
