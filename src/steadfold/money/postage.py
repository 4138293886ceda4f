"""What carriage costs: by mass or by size, whichever bills more."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from steadfold.money.amount import Money
from steadfold.money.rates import Postage


@dataclass(frozen=True)
class Carriage:
    """What sending something costs, and which of mass and size decides it.

    `billed_kg` is what the carrier bills for each of `parcels` (the whole, on a pallet)."""

    price: Money
    by: Literal["mass", "size"]
    billed_kg: float
    parcels: int
    on_pallet: bool


def size_kg(size_mm: tuple[float, float, float], cm3_per_kg: float) -> float:
    """The mass that a box of this size is billed as: its volume over the carrier's volume a kilogram.

    Source: common practice of carriers, 5000 cm³/kg (recalled).

    >>> size_kg((400.0, 300.0, 200.0), 5000.0)
    4.8
    """
    return math.prod(size_mm) / 1000.0 / cm3_per_kg


def carriage(mass_kg: float, volume_cm3: float, postage: Postage, heaviest_piece_kg: float = 0.0) -> Carriage:
    """The cheaper of parcels and a pallet for this mass and volume.

    Parcels are filled evenly, as many as bill least; `heaviest_piece_kg` is what cannot be divided. Raises
    `ValueError` for a mass or volume below 0.
    """
    if not (mass_kg >= 0 and volume_cm3 >= 0):
        raise ValueError("mass and volume must not be below 0")
    by_size = volume_cm3 / postage.cm3_per_kg
    billed = max(mass_kg, by_size)
    by: Literal["mass", "size"] = "size" if by_size > mass_kg else "mass"
    on_pallet = postage.pallet + postage.pallet_per_kg * Decimal(f"{mass_kg:.3f}")
    best = Carriage(on_pallet, "mass", mass_kg, 1, True)
    largest = postage.mass_kg[-1]
    if heaviest_piece_kg > largest:
        return best
    fewest = max(1, math.ceil(billed / largest - 1e-9))
    for count in range(fewest, fewest + 3):
        each = max(billed / count, heaviest_piece_kg)
        band = next((i for i, most in enumerate(postage.mass_kg) if each <= most + 1e-9), None)
        if band is not None and (price := postage.price[band] * count) < best.price:
            best = Carriage(price, by, each, count, False)
    return best
