"""One thing to know about a design, with place, value, limit, source and remedy."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding weighs.

    *stop*: cannot be made, or a person could be hurt. *caution*: look at it before ordering. *note*: good
    to know. *unproven*: something needed for an answer is missing; it never counts as a pass.
    """

    STOP = "stop"
    CAUTION = "caution"
    NOTE = "note"
    UNPROVEN = "unproven"


@dataclass(frozen=True)
class Change:
    """A change to the job that would cure a finding: a field of the part and the text to put there."""

    part: str
    field: str
    text: str


@dataclass(frozen=True)
class Finding:
    """One thing to know.

    `code` is one of `CODES`; `value` and `limit` are in the unit that `say` names; `source` says where the
    limit comes from ('common practice, no source' where it is a rule of thumb).
    """

    code: str
    severity: Severity
    place: str
    say: str
    value: float | None = None
    limit: float | None = None
    source: str = ""
    remedy: str = ""
    change: Change | None = None


CODES: dict[str, str] = {
    "yield-not-promised": "The metal is sold without a promised yield strength.",
    "gauge-unclear": "The same gauge number means different thicknesses in different metals or lists.",
    "panels-collide": "Two panels pass through each other when folded.",
    "flat-overlaps": "Two panels lie over each other in the flat, so it cannot be cut from one sheet.",
    "relief-made": "A relief was added where a bend ends inside an edge.",
    "corner-opened": "A flange was shortened so that two bends do not meet in one corner.",
    "cutout-off-panel": "A cutout lies outside the metal.",
    "cutout-across-bend": "A cutout crosses a bend; it is cut in the flat and bent with the sheet.",
    "bend-allowance-assumed": "The bend allowance comes from a general rule, not from the shop's own table.",
    "inside-radius-assumed": "The inside radius was not given and was taken from a rule.",
    "not-computed": "This value was not computed, so nothing is said about it.",
}
"""Every code a finding may carry, with what it means in a sentence; later rooms add theirs here."""
