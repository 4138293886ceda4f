"""All answers of one stand together, for whoever finds words for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from steadfold.mechanics import Result
from steadfold.stand.answers import CarriedBy, MemberAnswer
from steadfold.stand.diagnose import Diagnosis
from steadfold.stand.joining import JointAnswer, RodAnswer
from steadfold.stand.level import LevelPlan
from steadfold.stand.records import Stand
from steadfold.stand.sag import SagBudget
from steadfold.stand.speeds import Humming, Lift
from steadfold.stand.statics import Case
from steadfold.stand.structure import Built
from steadfold.stand.topple import Topple

PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Told:
    """All answers of one stand, for whoever finds words for them."""

    stand: Stand
    ready: Built
    cases: Sequence[Case]
    results: Sequence[Result]
    members: Sequence[MemberAnswer]
    joints: Sequence[JointAnswer]
    rods: Sequence[RodAnswer]
    budgets: Sequence[SagBudget]
    standing: Topple | None
    hums: Humming | None
    lifting: Lift | None
    buckling_factor: float | None
    plan: LevelPlan | None
    why: Diagnosis | None
    parts: Sequence[CarriedBy] = ()


def some(names: Sequence[str], most: int = 4) -> str:
    """A few names and how many more there are."""
    rest = len(names) - most
    return ", ".join(names[:most]) + (f" and {rest} more" if rest > 0 else "")
