"""What a review says, as records."""

from __future__ import annotations

from dataclasses import dataclass

from steadfold.catalogue import Material
from steadfold.findings import Finding, Verdict, worst
from steadfold.job.models import Job, JobPart
from steadfold.mount.records import Strength, WallRating
from steadfold.review.making import Made
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.part import Part
from steadfold.stand.answers import StandReport


@dataclass(frozen=True)
class Assumption:
    """Something taken as given: what, its value in words, where it comes from, and what it drives."""

    what: str
    value: str
    source: str
    drives: str


@dataclass(frozen=True)
class PartReview:
    """Everything known about one part of the job.

    `part` and `flat` are None when its shape could not be had; a finding then says why. `weakest` names what
    gives first along the whole chain, or what is missing.
    """

    ordered: JobPart
    material: Material
    thickness_mm: float | None
    part: Part | None
    flat: FlatPattern | None
    folded_size_mm: tuple[float, float, float] | None
    verdict: Verdict
    weakest: str
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]
    strength: Strength | None = None
    making: Made | None = None
    walls: tuple[WallRating, ...] = ()

    @property
    def name(self) -> str:
        """The part's name in the job."""
        return self.ordered.name

    @property
    def mass_kg(self) -> float | None:
        """Mass of one part, from the volume of its metal."""
        return None if self.part is None else self.part.volume_mm3 * self.material.density_kg_m3 * 1e-9


@dataclass(frozen=True)
class Review:
    """A whole job, reviewed."""

    job: Job
    parts: tuple[PartReview, ...]
    findings: tuple[Finding, ...] = ()
    stands: tuple[StandReport, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of all parts and stands."""
        return worst([*(part.verdict for part in self.parts), *(stand.verdict for stand in self.stands)])

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """All assumptions, each once."""
        return tuple(dict.fromkeys(a for part in self.parts for a in part.assumptions))
