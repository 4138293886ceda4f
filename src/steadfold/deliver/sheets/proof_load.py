"""The proof-load sheet: what to hang where, how long, the sag to expect, and the sag that means stop."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.fixing import Fixed
from steadfold.deliver.sheets.head import Head, Style, sentence
from steadfold.deliver.sheets.pictures import fixing_points, isometric_picture, loads_of
from steadfold.deliver.sheets.typeset import pdf
from steadfold.mount.records import Strength
from steadfold.quantities import show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview

PROOF_FACTOR = 1.25
"""Proof load over the rating (common practice, no source)."""

HELD_MINUTES = 10
"""How long it hangs (common practice, no source)."""

RESIDUAL_SHARE = 0.10
"""Share of the sag that may be left once the load is off (common practice, no source)."""

STOP_FACTOR = 1.5
"""Sag over the greatest expected one at which to stop (common practice, no source)."""

THINNER_SHARE = 0.05
"""Sheet may be this much thinner than ordered (EN 10131, normal tolerances, recalled); stiffness goes with the cube."""


@dataclass(frozen=True)
class Proof:
    """A proof test: the mass in all, sag where the load bears in the middle of its range and at its ends, the sag that
    means stop, the sag that may stay."""

    mass_kg: float
    share_of_carried: float
    sag_mm: float
    sag_low_mm: float
    sag_high_mm: float
    stop_mm: float
    residual_mm: float


def proof_of(strength: Strength) -> Proof | None:
    """The proof test of a rating: 1.25 times the rating, sag in proportion to the resting case.

    Range: the mesh's error and a sheet 5 % thinner or thicker than ordered. None where the rating is not above
    zero or nothing was carried to predict from.
    """
    resting = next((case for case in strength.cases if case.name == "resting"), None)
    carried = strength.carried_kg.high
    if resting is None or not carried > 0 or not strength.rating_kg > 0 or not math.isfinite(strength.rating_kg):
        return None
    mass = PROOF_FACTOR * strength.rating_kg
    sag = resting.sag_mm * mass / carried
    error = strength.discretisation_error if math.isfinite(strength.discretisation_error) else 0.0
    low = sag * (1 - error) * (1 + THINNER_SHARE) ** -3
    high = sag * (1 + error) * (1 - THINNER_SHARE) ** -3
    return Proof(mass, mass / carried, sag, low, high, STOP_FACTOR * high, RESIDUAL_SHARE * sag)


def proof_load(head: Head, part: PartReview, fixed: Fixed | None, style: Style) -> bytes:
    """The proof-load sheet as PDF; says in words when there is no rating to prove."""
    assert part.part is not None
    units = style.units
    strength = part.strength
    proof = proof_of(strength) if strength is not None else None
    numbers = fixing_points(part, fixed) if fixed is not None else []
    share = proof.share_of_carried if proof is not None else 1.0
    unproven = next((k for k in strength.chain if k.share is None), None) if strength is not None else None
    data: dict[str, Any] = {
        "head": head.plain(style, "Proof load"),
        "proof": None if proof is None else _plain(proof, units),
        "rating": "" if strength is None else show_mass(strength.rating_kg, units),
        "governs": "" if strength is None else strength.governs,
        "unproven": "" if unproven is None else sentence(f"{unproven.place}: {unproven.say}"),
        "picture": isometric_picture(part.part, 100.0, 66.0, loads=loads_of(part, units, share), numbers=numbers),
        "places": _places(part, proof, units),
        "minutes": HELD_MINUTES,
        "steps": []
        if proof is None
        else [[f"{100 * part_of:.0f} %", *_step(proof, part_of, units)] for part_of in (0.25, 0.5, 0.75, 1.0)],
        "residual_share": f"{100 * RESIDUAL_SHARE:.0f} %",
        "units": units,
    }
    return pdf("proof_load", data)


def _plain(proof: Proof, units: Units) -> dict[str, str]:
    return {
        "mass": show_mass(proof.mass_kg, units),
        "sag": _sag(proof.sag_mm, units),
        "low": _sag(proof.sag_low_mm, units),
        "high": _sag(proof.sag_high_mm, units),
        "stop": _sag(proof.stop_mm, units),
        "residual": _sag(proof.residual_mm, units),
    }


def _sag(sag_mm: float, units: Units) -> str:
    return f"{sag_mm / 25.4:.3f} in" if units == "in" else f"{sag_mm:.2f} mm"


def _step(proof: Proof, share: float, units: Units) -> list[str]:
    return [
        show_mass(share * proof.mass_kg, units),
        f"{_sag(share * proof.sag_low_mm, units)} to {_sag(share * proof.sag_high_mm, units)}",
        _sag(share * proof.stop_mm, units),
    ]


def _places(part: PartReview, proof: Proof | None, units: Units) -> list[list[str]]:
    """Each kind of item with the mass to hang in its place."""
    rows = []
    for load in part.ordered.carries:
        share = proof.share_of_carried if proof is not None else None
        each = "not computed" if share is None else show_mass(share * load.mass_kg.high, units)
        at = f" at {show(load.at_mm[0], units)}, {show(load.at_mm[1], units)}" if load.at_mm is not None else ""
        rows.append([load.item, str(load.count), f"{load.on or 'where the part offers'}{at}", each])
    return rows
