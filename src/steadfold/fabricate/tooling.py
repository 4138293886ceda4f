"""Which punches and dies of a shop matter for a part, and which strokes they make: hems are folded first, then pressed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from steadfold.catalogue.materials import Material
from steadfold.fabricate.bend_table import die_of
from steadfold.fabricate.brake_check import Tooling
from steadfold.fabricate.shop import Shop
from steadfold.fabricate.strokes import Stroke

HEM_LEAST_RAD = math.radians(150.0)
"""Bends from this angle on are folded over first and then pressed flat, where no punch reaches their
angle."""
HEM_FOLD_RAD = math.radians(135.0)
"""To this angle a hem is folded before it is pressed flat (common practice, no source)."""


@dataclass(frozen=True)
class Tools:
    """The pairs of punch and die for a part; for every stroke which of them can make it (`usable`, by index), whether
    it is a hem, to what angle it is bent and how far beyond for springback."""

    toolings: tuple[Tooling, ...]
    usable: tuple[tuple[int, ...], ...]
    hems: tuple[bool, ...]
    stop_rad: tuple[float, ...]
    over_rad: tuple[float, ...]


def tools_for(
    strokes: Sequence[Stroke], over_rad: Sequence[float], material: Material, thickness_mm: float, shop: Shop
) -> Tools:
    """The tools for strokes that are bent `over_rad` beyond their angle to spring back to it.

    A die for sharp bends is taken only where the usual one does not reach an angle that is asked for.
    """
    need = [abs(s.angle_rad) + o for s, o in zip(strokes, over_rad, strict=True)]
    sharpest_die = max(die.max_bend_rad for die in shop.dies)
    sharpest = min(max(punch.max_bend_rad for punch in shop.punches), sharpest_die)
    hems = tuple(
        n > sharpest + 1e-9 and abs(s.angle_rad) >= HEM_LEAST_RAD - 1e-9 and shop.brake.flattens_hems
        for n, s in zip(need, strokes, strict=True)
    )
    stops, overs = [], []
    for stroke, beyond, hem in zip(strokes, over_rad, hems, strict=True):
        # A hem is first folded to where the plates catch it, or as far as the sharpest tool goes.
        share = beyond / abs(stroke.angle_rad)
        stop = min(HEM_FOLD_RAD, sharpest / (1 + share)) if hem else abs(stroke.angle_rad)
        stops.append(stop)
        overs.append(stop * share)
    need = [stop + beyond for stop, beyond in zip(stops, overs, strict=True)]
    plain = die_of(shop, material, thickness_mm)
    sharp = any(n > (plain.max_bend_rad if plain else 0.0) + 1e-9 for n in need)
    toolings = []
    plain_reach = plain.max_bend_rad + 1e-9 if plain else 0.0
    only_sharp = all(punch.max_bend_rad > plain_reach for punch in shop.punches)
    for punch in shop.punches:
        is_sharp = punch.max_bend_rad > plain_reach
        if is_sharp and not sharp and not only_sharp:
            continue
        die = (
            die_of(shop, material, thickness_mm, min(punch.max_bend_rad, sharpest_die)) if is_sharp and sharp else plain
        )
        if die is not None:
            toolings.append(Tooling(punch, die))
    usable = [
        tuple(
            i
            for i, tooling in enumerate(toolings)
            if tooling.punch and n <= min(tooling.punch.max_bend_rad, tooling.die.max_bend_rad) + 1e-9
        )
        for n in need
    ]
    return Tools(tuple(toolings), tuple(usable), hems, tuple(stops), tuple(overs))
