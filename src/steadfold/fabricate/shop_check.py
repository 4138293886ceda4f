"""What a shop file says, for the person who wrote it: what differs from the typical shop, and what it cannot do."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields

from steadfold.fabricate.shop import Shop
from steadfold.fabricate.shop_file import Path, read_shop, typical_shop

COMMON_THICKNESSES_MM = (1.0, 1.5, 2.0, 3.0)
FAR_FROM_WANTED = 1.35
"""From this ratio on a die is told to be far from the opening the shop wants."""


@dataclass(frozen=True)
class Difference:
    """One figure that the file changes: its key, the shop's value and the typical one, in mm, kN, s, kg, degrees."""

    key: str
    own: str
    typical: str


@dataclass(frozen=True)
class ShopCheck:
    """A shop that could be read, what differs from the typical one, and remarks in sentences."""

    shop: Shop
    differences: tuple[Difference, ...]
    remarks: tuple[str, ...]


def shop_check(text: str, line_of: Callable[[Path], int | None] | None = None) -> ShopCheck:
    """Read a shop file and say what is in it. Raises `ShopFileError` with every problem of the file."""
    shop = read_shop(text, line_of)
    return ShopCheck(shop, tuple(_differences(shop)), tuple(_remarks(shop)))


def _differences(shop: Shop) -> Iterator[Difference]:
    typical = typical_shop()
    for group in ("laser", "brake", "coater", "times"):
        own, usual = getattr(shop, group), getattr(typical, group)
        for each in fields(own):
            a, b = getattr(own, each.name), getattr(usual, each.name)
            if a != b:
                yield Difference(f"{group}.{each.name}", _shown(each.name, a), _shown(each.name, b))
    for name in ("lift_by_hand_kg", "v_of_t", "hem_radius_t", "radius_of_v"):
        a, b = getattr(shop, name), getattr(typical, name)
        if a != b:
            yield Difference(name, _shown(name, a), _shown(name, b))
    for key, own_names, usual_names in (
        ("punch", [p.name for p in shop.punches], [p.name for p in typical.punches]),
        ("die", [d.name for d in shop.dies], [d.name for d in typical.dies]),
        ("sheet", [f"{s.width_mm:.4g} x {s.length_mm:.4g}" for s in shop.sheets],
         [f"{s.width_mm:.4g} x {s.length_mm:.4g}" for s in typical.sheets]),
        ("shelf", [s.material for s in shop.shelves], [s.material for s in typical.shelves]),
    ):
        same = {"punch": "punches", "die": "dies", "sheet": "sheets", "shelf": "shelves"}[key]
        if getattr(shop, same) != getattr(typical, same):
            yield Difference(key, ", ".join(own_names) or "none", ", ".join(usual_names))


def _shown(name: str, value: object) -> str:
    if isinstance(value, float):
        return f"{math.degrees(value):.4g} deg" if name.endswith("_rad") else f"{value:.6g}"
    if isinstance(value, tuple):
        return " x ".join(_shown(name, each) for each in value)
    if hasattr(value, "items"):
        return ", ".join(f"{key} {each:.4g}" for key, each in value.items()) or "none"
    return str(value)


def _remarks(shop: Shop) -> Iterator[str]:
    if not shop.bend_rows:
        yield "No bend table: DIN 6935 decides K, and a flat may be some tenths of a millimetre off this shop's own."
    sharpest = min(
        max(punch.max_bend_rad for punch in shop.punches), max(die.max_bend_rad for die in shop.dies)
    )
    if sharpest < math.radians(120):
        yield f"No pair of tools bends further than {math.degrees(sharpest):.0f} deg."
    if all(punch.symmetric for punch in shop.punches):
        yield "No punch is cut back, so deep channels and boxes with returns cannot be bent."
    for t in COMMON_THICKNESSES_MM:
        die = shop.die_for(t)
        wanted = shop.v_of_t * t
        if die is not None and max(die.v_mm / wanted, wanted / die.v_mm) > FAR_FROM_WANTED:
            yield f"For {t:g} mm the nearest die has V {die.v_mm:g} mm; {wanted:g} mm is wanted."
    for punch in shop.punches:
        if not any(die.max_bend_rad >= punch.max_bend_rad - math.radians(5) for die in shop.dies):
            yield f"No die is as sharp as the punch {punch.name!r}."
