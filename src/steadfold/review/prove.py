"""The physical proof test: what to hang where, what sag to expect, and what the result says."""

from __future__ import annotations

from dataclasses import dataclass

from steadfold.mount.records import Strength
from steadfold.review.records import PartReview

HOLD_S = 600.0
"""How long the proof load hangs (judgement, after lifting practice)."""

PROOF_FACTOR = 1.25
RESIDUAL_SHARE = 0.05
"""Sag that may stay behind, as a share of the sag under load (judgement)."""

STOP_FACTOR = 1.5
"""Sag over the expected at which to stop and take the load off (judgement)."""


@dataclass(frozen=True)
class ProofSheet:
    """What to do and what to expect.

    Loads in kg in all, shared as the job shares them; sags in mm where the load bears most.
    """

    part: str
    load_kg: float
    hold_s: float
    expected_mm: float
    low_mm: float
    high_mm: float
    residual_mm: float
    stop_mm: float
    places: tuple[str, ...]
    cautions: tuple[str, ...]
    beyond_set: bool


@dataclass(frozen=True)
class ProofResult:
    """What measurements say: measured over expected sag, the stiffness it corrects, and how much '3 of 3 held' proves."""

    ratio: float
    stiffness_factor: float
    say: str
    failure_rate_below: float | None
    tested: int
    failed: int


CAUTIONS = (
    "Stand to the side; nobody under or in front of the load.",
    "Put the load on in steps of a quarter and look at fixings and bends at each.",
    "A load close above the floor or on a soft block falls nowhere.",
    "Local codes come first; what hangs over people needs somebody licensed to judge it.",
)


def proof_sheet(found: PartReview, factor: float = PROOF_FACTOR) -> ProofSheet:
    """The sheet for a part's proof test: `factor` times what it is said to carry.

    Raises `ValueError` when the part has no strength to predict from.
    """
    strength = found.strength
    if strength is None or not strength.cases:
        raise ValueError(f"{found.name!r} has no computed strength, so no sag can be predicted; rate it first")
    resting = strength.cases[0]
    carried = strength.carried_kg.high
    expected = (resting.sag_mm if strength.sag_of_items_mm is None else strength.sag_of_items_mm) * factor
    spread = _spread(strength)
    places = tuple(f"{c.count} × {factor * c.mass_kg.high:.3g} kg where {c.item} bears" for c in found.ordered.carries)
    return ProofSheet(
        found.name,
        factor * carried,
        HOLD_S,
        expected,
        expected * (1 - spread),
        expected * (1 + spread),
        RESIDUAL_SHARE * expected,
        STOP_FACTOR * expected * (1 + spread),
        places,
        CAUTIONS,
        resting.load_factor_set < factor,
    )


def _spread(strength: Strength) -> float:
    """Relative range of the predicted sag: the mesh, and a quarter for fixings, wall and sheet tolerance (judgement)."""
    error = strength.discretisation_error
    return (error if error == error else 0.0) + 0.25


def proof_result(sheet: ProofSheet, measured_mm: float, tested: int = 1, failed: int = 0) -> ProofResult:
    """Read a measured sag back.

    With no failure in n tests the failure rate is below `1 - 0.05^(1/n)` at 95 % confidence (binomial; Clopper and
    Pearson's one-sided limit). Raises `ValueError` for a sag or counts that make no sense.

    >>> round(1 - 0.05 ** (1 / 3), 2)
    0.63
    """
    if not measured_mm > 0:
        raise ValueError("the measured sag must be above zero")
    if tested < 1 or not 0 <= failed <= tested:
        raise ValueError("tested and failed must be counts, failed not above tested")
    ratio = measured_mm / sheet.expected_mm
    if sheet.low_mm <= measured_mm <= sheet.high_mm:
        say = "as predicted: model, sheet and fixings are what was assumed"
    elif measured_mm > sheet.high_mm:
        say = "softer than predicted: look for a loose fixing, a soft wall or thinner sheet before trusting the rating"
    else:
        say = "stiffer than predicted: something carries that the model leaves out, or the load was less"
    bound = _rate_below(tested, failed)
    return ProofResult(ratio, 1.0 / ratio, say, bound, tested, failed)


def _rate_below(tested: int, failed: int) -> float:
    """Upper 95 % limit of the failure rate (Clopper-Pearson), by bisection of the binomial tail."""
    if failed == tested:
        return 1.0
    if failed == 0:
        return 1.0 - 0.05 ** (1.0 / tested)
    from math import comb

    low, high = failed / tested, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        tail = sum(comb(tested, k) * middle**k * (1 - middle) ** (tested - k) for k in range(failed + 1))
        low, high = (middle, high) if tail > 0.05 else (low, middle)
    return high
