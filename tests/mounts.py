"""What a job asks of a part on its wall, for tests that go below the review."""

from __future__ import annotations

from typing import Any

import pytest

from steadfold.catalogue import Material
from steadfold.job.models import Job, JobPart
from steadfold.review import holding
from steadfold.sheet.part import Part


def asked(job: Job, ordered: JobPart, part: Part, metal: Material) -> tuple[Any, ...]:
    """Part, metal, fixings, loads, cases and capacity as the review hands them to the strength room."""
    found: list[tuple[Any, ...]] = []

    def noted(*given: Any, **how: Any) -> None:
        found.append(given)
        raise RuntimeError("asked")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(holding, "strength", noted)
        with pytest.raises(RuntimeError, match="asked"):
            holding.held(job, ordered, part, metal)
    return found[0]
