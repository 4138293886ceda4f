"""What every sheet carries: job, revision, fingerprint, date, part, quantity, and the verdict where it is no pass."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from steadfold import __version__
from steadfold.deliver.drawing.folded_drawing import Projection
from steadfold.findings import Severity, Verdict
from steadfold.job.models import Job
from steadfold.quantities.showing import Units
from steadfold.review import PartReview

Paper = Literal["A4", "letter"]

PAPER_MM: dict[str, tuple[float, float]] = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of the paper for everything but drawings (ISO 216; ANSI/ASME Y14.1)."""

DRAWING_MM: dict[str, tuple[float, float]] = {"A4": (420.0, 297.0), "letter": (431.8, 279.4)}
"""Width and height of a drawing: A3, or ANSI B for those who print on Letter."""

CAUTION = (
    "A calculator's opinion, not an engineer's judgement. Local building codes come first; overhead loads, machines "
    "and anything that carries people need somebody licensed to judge them."
)

NOT_A_PASS = (Verdict.UNPROVEN, Verdict.NOT_ENOUGH, Verdict.STOP)
"""Verdicts with which a part is only written out when told so in words."""


@dataclass(frozen=True)
class Style:
    """How sheets are made: paper, projection of the drawings, units shown."""

    paper: Paper = "A4"
    projection: Projection = "first"
    units: Units = "mm"


@dataclass(frozen=True)
class Head:
    """What a sheet says of where it belongs. `part` is empty on sheets of the whole job."""

    job: str
    revision: str
    fingerprint: str
    made_on: date | None
    part: str
    quantity: int
    stamp: str
    reason: str

    def plain(self, style: Style, title: str) -> dict[str, Any]:
        """As the templates take it."""
        return {
            "job": self.job,
            "revision": self.revision,
            "fingerprint": self.fingerprint[:12],
            "whole_fingerprint": self.fingerprint,
            "date": self.made_on.isoformat() if self.made_on is not None else "",
            "part": self.part,
            "quantity": self.quantity,
            "stamp": self.stamp,
            "reason": self.reason,
            "title": title,
            "maker": f"steadfold {__version__}",
            "paper": list(PAPER_MM[style.paper]),
            "drawing": list(DRAWING_MM[style.paper]),
            "caution": CAUTION,
        }


def date_of(job: Job) -> date | None:
    """The date the job gives for what is made from it; None where it gives none."""
    found = getattr(job, "date", None)
    return found if isinstance(found, date) else None


def job_head(job: Job, verdict: Verdict, reason: str = "") -> Head:
    """The head of a sheet of the whole job; `verdict` is the worst of the parts it is about."""
    stamp = str(verdict) if verdict in NOT_A_PASS else ""
    return Head(job.name, job.revision, job.fingerprint, date_of(job), "", 0, stamp, reason if stamp else "")


def part_head(job: Job, part: PartReview) -> Head:
    """The head of a sheet of one part."""
    stamp = str(part.verdict) if part.verdict in NOT_A_PASS else ""
    return Head(
        job.name,
        job.revision,
        job.fingerprint,
        date_of(job),
        part.name,
        part.ordered.quantity,
        stamp,
        reason_of(part) if stamp else "",
    )


def reason_of(part: PartReview) -> str:
    """Why a part has its verdict, in a sentence."""
    wanted = {Verdict.STOP: Severity.STOP, Verdict.UNPROVEN: Severity.UNPROVEN}.get(part.verdict)
    found = next((f for f in part.findings if f.severity is wanted), None)
    return sentence(found.say) if found is not None else sentence(f"Weakest: {part.weakest}")


def sentence(text: str) -> str:
    """Words as a sentence: a capital in front, a stop behind.

    >>> sentence("ask its maker")
    'Ask its maker.'
    """
    text = text.strip()
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) or not text else text + "."
