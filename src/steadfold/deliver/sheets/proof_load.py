"""The proof-load sheet: what to hang where, how long, the sag to expect, and the sag that means stop."""

from __future__ import annotations

from typing import Any

from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.fixing import Fixed
from steadfold.deliver.sheets.head import Head, Style, sentence
from steadfold.deliver.sheets.pictures import fixing_points, isometric_picture, loads_of
from steadfold.deliver.sheets.typeset import pdf
from steadfold.quantities import show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview
from steadfold.review.prove import PROOF_FACTOR, RESIDUAL_SHARE, STOP_FACTOR, ProofSheet, proof_sheet


def proof_load(head: Head, part: PartReview, fixed: Fixed | None, style: Style) -> bytes:
    """The proof-load sheet as PDF, the numbers those of `steadfold prove`; says in words when there is none to prove."""
    assert part.part is not None
    units = style.units
    strength = part.strength
    proof = proof_of(part)
    numbers = fixing_points(part, fixed) if fixed is not None else []
    unproven = next((k for k in strength.chain if k.share is None), None) if strength is not None else None
    data: dict[str, Any] = {
        "head": head.plain(style, "Proof load"),
        "proof": None if proof is None else _plain(proof, units),
        "factor": f"{PROOF_FACTOR:g}",
        "carried": "" if strength is None else show_mass(strength.carried_kg.high, units),
        "rating": "" if strength is None else show_mass(strength.rating_kg, units),
        "unproven": "" if unproven is None else sentence(f"{unproven.place}: {unproven.say}"),
        "picture": isometric_picture(
            part.part, 100.0, 66.0, loads=loads_of(part, units, PROOF_FACTOR), numbers=numbers
        ),
        "places": _places(part, units),
        "steps": [] if proof is None else [_step(proof, share, units) for share in (0.25, 0.5, 0.75, 1.0)],
        "residual_share": f"{100 * RESIDUAL_SHARE:.0f} %",
        "stop_factor": f"{STOP_FACTOR:g}",
        "units": units,
    }
    return pdf("proof_load", data)


def proof_of(part: PartReview) -> ProofSheet | None:
    """The proof test of a part, as `steadfold prove` has it; None where there is no strength to predict from."""
    try:
        found = proof_sheet(part)
    except ValueError:
        return None
    return found if found.load_kg > 0 else None


def _plain(proof: ProofSheet, units: Units) -> dict[str, Any]:
    return {
        "mass": show_mass(proof.load_kg, units),
        "minutes": f"{proof.hold_s / 60:.0f}",
        "sag": _sag(proof.expected_mm, units),
        "low": _sag(proof.low_mm, units),
        "high": _sag(proof.high_mm, units),
        "stop": _sag(proof.stop_mm, units),
        "residual": _sag(proof.residual_mm, units),
        "beyond_set": proof.beyond_set,
        "cautions": list(proof.cautions),
    }


def _sag(sag_mm: float, units: Units) -> str:
    return f"{sag_mm / 25.4:.3f} in" if units == "in" else f"{sag_mm:.2f} mm"


def _step(proof: ProofSheet, share: float, units: Units) -> list[str]:
    return [
        f"{100 * share:.0f} %",
        show_mass(share * proof.load_kg, units),
        f"{_sag(share * proof.low_mm, units)} to {_sag(share * proof.high_mm, units)}",
        _sag(share * proof.stop_mm, units),
    ]


def _places(part: PartReview, units: Units) -> list[list[str]]:
    """Each kind of item with the mass to hang in its place."""
    rows = []
    for load in part.ordered.carries:
        at = f" at {show(load.at_mm[0], units)}, {show(load.at_mm[1], units)}" if load.at_mm is not None else ""
        each = show_mass(PROOF_FACTOR * load.mass_kg.high, units)
        rows.append([load.item, str(load.count), f"{load.on or 'where the part offers'}{at}", each])
    return rows
