"""Which inside radius and K-factor a bend gets: the user's, the shop's own table, or DIN 6935."""

from __future__ import annotations

import math
from itertools import pairwise

from steadfold.catalogue.materials import Material, min_inside_radius_mm
from steadfold.fabricate.shop import BendRow, Die, Shop
from steadfold.sheet.allowance import din_6935_k_factor
from steadfold.sheet.resolve import BendChoice, BendRule

NEAR_ENOUGH = 0.95
"""Share of the metal's least inside radius that a die may make: the share of V is no closer known (assumed)."""
HEM_FROM_RAD = math.radians(165.0)
"""From this bend angle on a bend without a radius of its own is a hem, pressed flat, not shaped by a die."""


def bend_rule(
    shop: Shop, material: Material, thickness_mm: float, k_override: float | None = None
) -> BendRule:
    """The rule by which every bend of a part gets its inside radius and K.

    A radius of None follows the shop: a matching row of its bend table, else the die (`radius_from_die_mm`).
    K is `k_override`, else the shop's table (linear between its angles), else DIN 6935.
    """
    rows = [
        row
        for row in shop.bend_rows
        if row.material == material.id and abs(row.thickness_mm - thickness_mm) <= 0.05 * thickness_mm
    ]

    def rule(angle_rad: float, inside_radius_mm: float | None) -> BendChoice:
        radius = inside_radius_mm
        if radius is None:
            nearest = min(rows, key=lambda row: abs(row.angle_rad - abs(angle_rad)), default=None)
            radius = radius_from_die_mm(shop, material, thickness_mm, angle_rad) if nearest is None else (
                nearest.inside_radius_mm
            )
        if k_override is not None:
            return BendChoice(radius, k_override, "given in the job")
        k = k_of_rows([row for row in rows if _same_radius(row, radius)], abs(angle_rad))
        if k is not None:
            return BendChoice(radius, k, f"bend table of {shop.name}")
        return BendChoice(radius, din_6935_k_factor(radius, thickness_mm), "DIN 6935")

    return rule


def radius_from_die_mm(shop: Shop, material: Material, thickness_mm: float, angle_rad: float) -> float:
    """Inside radius that an air bend takes by itself: a share of the V opening. A hem's is the shop's.

    The share is the shop's for the material or its family, else the catalogue's for the material. Source:
    common practice (0.16 V in mild steel, more in stainless, less in aluminium).
    """
    if abs(angle_rad) >= HEM_FROM_RAD:
        return shop.hem_radius_t * thickness_mm
    die = die_of(shop, material, thickness_mm, angle_rad) or die_of(shop, material, thickness_mm)
    return radius_share(shop, material) * die.v_mm if die is not None else thickness_mm


def radius_share(shop: Shop, material: Material) -> float:
    """Inside radius over V opening: the shop's for the metal or its family, else the catalogue's, else 0.16."""
    share = shop.radius_of_v.get(material.id, shop.radius_of_v.get(material.family))
    return share if share is not None else material.die_radius_factor or 0.16


def die_of(shop: Shop, material: Material, thickness_mm: float, angle_rad: float = math.pi / 2) -> Die | None:
    """The die the shop would take: by thickness, but no narrower than the metal's least inside radius asks for."""
    least = min_inside_radius_mm(material, thickness_mm) or 0.0
    return shop.die_for(thickness_mm, angle_rad, NEAR_ENOUGH * least / radius_share(shop, material))


def k_of_rows(rows: list[BendRow], angle_rad: float) -> float | None:
    """K at an angle from rows of one material, thickness and radius; None over 15° beyond their angles."""
    if not rows:
        return None
    ordered = sorted(rows, key=lambda row: row.angle_rad)
    low, high = ordered[0], ordered[-1]
    reach = math.radians(15.0) + 1e-9
    if angle_rad <= low.angle_rad:
        return low.k_factor if low.angle_rad - angle_rad <= reach else None
    if angle_rad >= high.angle_rad:
        return high.k_factor if angle_rad - high.angle_rad <= reach else None
    for before, after in pairwise(ordered):
        if angle_rad <= after.angle_rad:
            span = after.angle_rad - before.angle_rad
            share = 0.0 if span <= 0 else (angle_rad - before.angle_rad) / span
            return before.k_factor + share * (after.k_factor - before.k_factor)
    return None


def _same_radius(row: BendRow, radius_mm: float) -> bool:
    return abs(row.inside_radius_mm - radius_mm) <= max(0.25, 0.1 * radius_mm)
