"""What comes out for a stand: one record of everything, with verdict and weakest link."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfold.findings import Finding, Verdict
from steadfold.stand.diagnose import Diagnosis
from steadfold.stand.footing import FloatArray
from steadfold.stand.joining import JointAnswer, RodAnswer
from steadfold.stand.level import LevelPlan
from steadfold.stand.records import Stand
from steadfold.stand.sag import SagBudget
from steadfold.stand.shims import Shim
from steadfold.stand.speeds import Humming, Lift
from steadfold.stand.topple import Topple


@dataclass(frozen=True)
class MemberAnswer:
    """One member in its worst case.

    `axial_n` (pull positive) and `moment_nmm` where it works hardest, `share` of what it may carry (None where its
    material promises nothing to rate by), `where_mm` along it, `governs` what would give.
    """

    name: str
    role: str
    profile: str
    length_mm: float
    mass_kg: float
    axial_n: float
    moment_nmm: float
    share: float | None
    case: str
    where_mm: float
    governs: str
    source: str


@dataclass(frozen=True)
class Taken:
    """Something taken as given: what, its value in words, where it comes from, and what it drives."""

    what: str
    value: str
    source: str
    drives: str


@dataclass(frozen=True)
class Link:
    """One link of the chain from machine to floor: its name, and its share of what is allowed (None: not known)."""

    name: str
    share: float | None


@dataclass(frozen=True)
class CarriedBy:
    """A folded part that carries the frame, solved with it as one system.

    `nodes` sit on it; `links` are its own, hardest worked first: bends, sheet, fixings, each with its share of what is
    allowed (None: not proven), its case and what it says. `lowered_mm` is how far its seats go down at rest.
    """

    name: str
    part: str
    nodes: tuple[str, ...]
    links: tuple[PartLink, ...]
    lowered_mm: tuple[float, ...]

    @property
    def share(self) -> float | None:
        """The largest share of its links; None where one is not proven and none is over 1."""
        known = [each.share for each in self.links if each.share is not None]
        worst = max(known, default=None)
        if len(known) < len(self.links) and (worst is None or worst <= 1.0):
            return None
        return worst


@dataclass(frozen=True)
class PartLink:
    """One link of a folded part under the frame: what, where, its share, the case, and what it says."""

    what: str
    place: str
    share: float | None
    case: str
    say: str


@dataclass(frozen=True, eq=False)
class Drawn:
    """What a picture needs: each member's line at rest, drawn (k, 3) and moved by what the load does (k, 3), mm."""

    member: str
    places: FloatArray
    moved: FloatArray
    share: float | None


@dataclass(frozen=True)
class StandReport:
    """Everything known about one stand.

    `sag_mm` is the likely droop of the lowest place whose height matters and `sag_range_mm` what it is from no slip
    and the lightest machine to everything at its worst. `links` is the whole chain, hardest worked first; `weakest`
    names its first in words. `frequency_hz` are the low ends of the natural frequencies. Plans are None where
    nothing was read.
    """

    stand: Stand
    verdict: Verdict
    weakest: str
    governs: str
    links: tuple[Link, ...]
    members: tuple[MemberAnswer, ...]
    joints: tuple[JointAnswer, ...]
    rods: tuple[RodAnswer, ...]
    budgets: tuple[SagBudget, ...]
    sag_mm: float | None
    sag_range_mm: tuple[float, float] | None
    slope_mm_per_m: float | None
    topple: Topple | None
    humming: Humming | None
    lift: Lift | None
    buckling_factor: float | None
    level: LevelPlan | None
    shims: tuple[Shim, ...]
    diagnosis: Diagnosis | None
    drawn: tuple[Drawn, ...]
    frame_mass_kg: float
    findings: tuple[Finding, ...]
    taken: tuple[Taken, ...]
    carried_by: tuple[CarriedBy, ...] = ()

    @property
    def name(self) -> str:
        """The stand's name in the job."""
        return self.stand.name

    @property
    def tipping_factor(self) -> float | None:
        """The lesser of the factors at rest and with a person leaning."""
        if self.topple is None:
            return None
        leaning = self.topple.leaning
        return min(self.topple.resting.factor, leaning.factor if leaning else np.inf)

    @property
    def frequency_hz(self) -> tuple[float, ...]:
        """Natural frequencies, low ends."""
        return tuple(mode.low_hz for mode in self.humming.modes) if self.humming else ()
