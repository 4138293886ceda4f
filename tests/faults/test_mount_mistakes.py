"""What makes no sense of loads and mounts is said in a sentence, at its line, as somebody at the command line meets it.

No source: each mistake is made on purpose in a job that is sound without it.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from steadfold.findings import Severity, Verdict
from steadfold.job.problem import JobProblems
from steadfold.job.reader import read_job_text
from steadfold.review import PartReview
from steadfold.review.review import review_part, shop_of

HOLES = """    [[part.panel.cutout]]
    shape = "circle"
    diameter = "7 mm"
    at = ["30 mm", "60 mm"]
    repeat = { count = 2, step = ["140 mm", "0 mm"] }
"""

SOUND = (
    """steadfold = 1
name = "Boat shed"
[[part]]
name = "tin rack"
material = "S235"
thickness = "2 mm"
shape = "panels"
  [[part.panel]]
  name = "back"
  size = ["200 mm", "90 mm"]
"""
    + HOLES
    + """  [[part.panel]]
  name = "shelf"
  from = "back"
  edge = "bottom"
  bend = "90 deg"
  size = ["200 mm", "100 mm"]
  [[part.carries]]
  item = "tin"
  mass = "1 kg"
  on = "shelf"
  at = ["100 mm", "50 mm"]
  [part.cases]
  knock = "none"
  lean = "none"
  [part.mount]
  to = "wood stud"
  fastener = "lag screw 1/4"
  length = "60 mm"
  wood = "SPF"
  holes = "back"
"""
)


def rated(text: str) -> PartReview:
    job = read_job_text(text)
    return review_part(job, job.parts[0], shop_of(job), fine=False)


def test_the_job_is_sound_without_its_mistakes() -> None:
    assert rated(SOUND).verdict in (Verdict.ENOUGH, Verdict.TIGHT)


MISTAKES = {
    "a mount with no hole": ((HOLES, ""), 'panel "back" has no hole; give it a cutout for each fastener', 'holes = "back"'),
    "holes in another panel": (('holes = "back"', 'holes = "shelf"'), 'panel "shelf" has no hole', 'holes = "shelf"'),
    "holes in no panel": (('holes = "back"', 'holes = "front"'), '"front" is not a panel of this part; known: back', 'holes = "front"'),
    "no mass": (('mass = "1 kg"', 'mass = "0 kg"'), '"0 kg" must be more than 0 kg', 'mass = "0 kg"'),
    "a negative mass": (('mass = "1 kg"', 'mass = "-1 kg"'), '"-1 kg" must be more than 0 kg', 'mass = "-1 kg"'),
    "a range from below nothing": (('"1 kg"', '["-1 kg", "2 kg"]'), '"-1 kg" must be more than 0 kg', 'mass = ["-1 kg", "2 kg"]'),
    "an item off its panel": (
        ('"50 mm"]\n  [part.cases]', '"150 mm"]\n  [part.cases]'),
        'this point lies off panel "shelf", which spans 0, 0 to 200, 100 mm',
        'at = ["100 mm", "150 mm"]',
    ),
    "an item on no panel": (('on = "shelf"', 'on = "tines"'), '"tines" is not a place or panel of this part', 'on = "tines"'),
    "a bolt larger than its hole": (
        ('to = "wood stud"\n  fastener = "lag screw 1/4"', 'to = "steel"\n  fastener = "M8"'),
        "the fastener is 8 mm and the widest hole it might take in 'back' is 7 mm; make the hole larger or the fastener smaller",
        'fastener = "M8"',
    ),
    "a lag screw larger than its hole": (("lag screw 1/4", "lag screw 3/8"), "the fastener is 9.525 mm and the widest hole", "3/8"),
    "a knock of less than nothing": (('knock = "none"', 'knock = "-5 N"'), '"-5 N" is less than 0 N', 'knock = "-5 N"'),
}  # fmt: skip


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_one_sentence_at_its_line(mistake: str) -> None:
    (right, wrong), said, line = MISTAKES[mistake]
    assert SOUND.count(right) == 1
    with pytest.raises(JobProblems) as told:
        rated(SOUND.replace(right, wrong))
    (problem,) = told.value.problems
    assert said in problem.sentence and line in problem.source_line and problem.line > 1


def test_a_part_without_a_mount_is_unproven_and_says_what_to_write() -> None:
    found = rated(SOUND[: SOUND.index("  [part.mount]")])
    assert found.verdict is Verdict.UNPROVEN and found.strength is None
    (finding,) = [f for f in found.findings if f.code == "wall-unknown"]
    assert finding.severity is Severity.UNPROVEN and "[part.mount]" in finding.remedy
    assert re.fullmatch(r"[A-Z].*\.", finding.say)


def test_what_falls_over_by_its_own_weight_carries_nothing() -> None:
    """One screw beside the middle: only a faint friction keeps the rack from turning."""
    found = rated(SOUND.replace("count = 2", "count = 1"))
    assert found.strength is not None and found.strength.rating_kg == 0.0
    assert "nothing on it" in found.strength.governs
    assert found.verdict is Verdict.NOT_ENOUGH and "slides-down" in {f.code for f in found.findings}


def test_at_the_command_line_a_mistake_ends_with_two_and_no_trace(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(
        SOUND.replace('mass = "1 kg"', 'mass = "0 kg"').replace('60 mm"\n  wood', '-60 mm"\n  wood'), encoding="utf-8"
    )
    done = subprocess.run(
        [sys.executable, "-m", "steadfold.cli.main", "rate", str(job)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2 and done.stdout == ""
    assert (
        "must be more than 0 kg" in done.stderr
        and '"-60 mm" must be more than 0 mm' in done.stderr
        and "Traceback" not in done.stderr
    )
