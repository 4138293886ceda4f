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


@pytest.mark.parametrize("kind", [kind for kind in kinds() if kind != "panels"])
def test_a_job_begun_on_the_page_refuses_no_case_and_chooses_no_screw_for_its_owner(kind: str) -> None:
    from steadfold.page.beginning import begun

    asked = {"shape": kind, "name": "mine", "item": "can", "mass": "3 kg", "to": "steel", "fastener": "M6"}
    (part,) = read_job_text(begun(lambda share, what: None, asked)).parts
    assert part.cases.refused == ()
    assert part.mount is not None
    assert (part.mount.to, part.mount.fastener, part.mount.length_mm, part.mount.wood) == ("steel", "M6", None, None)
