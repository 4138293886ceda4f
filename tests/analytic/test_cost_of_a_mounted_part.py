"""Wall fixings are bought and driven by whoever hangs the part: the shop presses none of them in, so none is billed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from steadfold.job.reader import read_job
from steadfold.review.costing import job_cost
from steadfold.review.review import review

SHED = Path(__file__).parents[2] / "examples" / "boat-shed.toml"


def test_rating_and_costing_agree_and_bill_no_pressed_hardware() -> None:
    job = read_job(SHED)
    alone = replace(job, parts=(job.part("rowlock tray"),))
    rated = review(alone).parts[0]
    assert rated.strength is not None and rated.strength.bolts, "it has wall fixings"
    assert rated.making is not None and rated.making.cost is not None
    assert "hardware" not in {operation.name for operation in rated.making.cost.operations}
    ((_, costed),) = job_cost(alone).parts
    assert rated.making.cost.each == costed.each
