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
    "cutout-across-bend": "A cutout crosses a bend; it is cut in the flat and bent with the sheet.",
    "inside-radius-assumed": "The inside radius was not given and was taken from a rule.",
    "tine-root-yields": "The metal at a root bend is worked beyond what is allowed.",
    "weak-sideways": "A stray sideways force works the part beyond what is allowed.",
    "sags-visibly": "It sags more than the limit.",
    "lip-stops-short": "A lip or side that stiffens a panel stops at its root bend.",
    "edge-buckles": "A free edge is near buckling.",
    "web-between-slots-thin": "Little metal is left between two openings where the part is loaded.",
    "twists": "An open section is loaded beside its shear centre and twists.",
    "pried-off": "The part pries on its fixings: they pull more than the load's own lever makes them.",
    "slides-down": "Only friction keeps the part where it is.",
    "lifts-off": "A knock from below, or its own pull, unhooks the part from its cleat.",
    "screws-split-wood": "Screws stand too near to each other or to the edge of the wood.",
    "one-stud-only": "A bar of this length may find only one stud.",
    "fixing-holes-guessed": "A panel has several sorts of holes that its fixings go through, and the job does not say which.",
    "two-stud-spacings": "The holes fit one spacing of studs and miss its near twin.",
    "bolt-too-short": "The bolt does not reach through its nut.",
    "slot-too-long-for-washer": "The washer does not cover the slot.",
    "soft-gap": "A soft layer between part and wall takes most of the shear strength of the fixings.",
    "wall-unknown": "What is behind the part is not known.",
    "wall-carries-less": "On one of the walls the job names the part may carry less than it is for.",
    "capacity-unproven": "Nothing published or measured says what a fixing holds there.",
    "load-unknown": "The job does not say what the part carries.",
    "metal-left-out": "Slivers of the sheet are too narrow for the strength model.",
    "beyond-theory": "The part moves more than the theory of the model allows for.",
    "creeps": "A print gives way or sags too far under a load that stays.",
    "printed-not-folded": "The part is printed, so that nothing of cutting and folding concerns it.",
    "cost-uncalibrated": "The cost stands on shipped rates that no quote has corrected.",
    "files-disagree": "Two sources say different things of the same part.",
    "solid-not-read": "A solid of the file could not be read as a folded part.",
    "not-solid": "Something in the file is no solid.",
    "not-computed": "This value was not computed, so nothing is said about it.",
}
"""Every code a finding may carry, with what it means in a sentence; later rooms add theirs here."""
