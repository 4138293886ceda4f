"""The jobs that `steadfold new` writes: who starts from one meets their own questions, not the starter's."""

from __future__ import annotations

import pytest

from steadfold.findings import Verdict
from steadfold.job.fresh import kinds, new_job
from steadfold.job.reader import read_job_text
from steadfold.review import review


@pytest.mark.parametrize("kind", kinds())
def test_every_first_job_can_be_made_and_is_enough(kind: str) -> None:
    (part,) = review(read_job_text(new_job(kind)), fine=False).parts
    assert part.verdict in (Verdict.ENOUGH, Verdict.TIGHT), part.weakest


@pytest.mark.parametrize("kind", kinds())
def test_a_first_job_says_what_it_is_fixed_to_and_by_which_holes(kind: str) -> None:
    (part,) = read_job_text(new_job(kind)).parts
    assert part.mount is not None
    assert part.mount.to != "unknown"
    assert part.mount.holes
