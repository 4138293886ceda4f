"""Small jobs for the tests of the order folder, and a strength written down by hand instead of computed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pypdfium2

from steadfold.findings import Severity, Verdict
from steadfold.job.reader import read_job_text
from steadfold.mount.records import BoltAnswer, CaseAnswer, Link, Strength
from steadfold.quantities import Range
from steadfold.review import PartReview, Review, review

SHED = """
steadfold = 1
name = "Boat shed, bench end"
revision = "C"

[[part]]
name = "paint shelf"
quantity = 7
material = "S235"
thickness = "2 mm"
inside_radius = "2 mm"
k_factor = 0.42
finish = "powder coat"
shape = "panels"

  [[part.panel]]
  name = "back"
  size = ["300 mm", "80 mm"]
    [[part.panel.cutout]]
    shape = "circle"
    diameter = "7 mm"
    at = ["30 mm", "50 mm"]
    repeat = { count = 2, step = ["240 mm", "0 mm"] }

  [[part.panel]]
  name = "shelf"
  from = "back"
  edge = "bottom"
  bend = "90 deg"
  size = ["300 mm", "120 mm"]

  [[part.panel]]
  name = "lip"
  from = "shelf"
  edge = "far"
  bend = "-135 deg"
  size = ["300 mm", "25 mm"]

  [[part.carries]]
  item = "paint tin"
  mass = "2 kg"
  count = 4
  on = "shelf"

  [part.mount]
  to = "wood stud"
  fastener = "lag screw 1/4"
  length = "60 mm"
  wood = "SPF"
  holes = "back"

[[part]]
name = "drip plate"
material = "304"
thickness = "1.5 mm"
shape = "panels"

  [[part.panel]]
  name = "plate"
  size = ["120 mm", "60 mm"]
"""

LAST_CASE = "snatch"


def strength(rating_kg: float = 20.0, fixing_share: float | None = 0.4, error: float = 0.01) -> Strength:
    """A strength as if it had been computed: 8 kg carried, 0.8 mm of sag at rest."""
    return Strength(
        rating_kg,
        rating_kg * (1 - error),
        rating_kg * (1 + error),
        "root of shelf, snatch",
        Range(8.0, 8.0),
        (
            CaseAnswer("resting", "at rest", 0.8, 4.0, 6.0, None, 80.0, 0.3, "root of shelf"),
            CaseAnswer(LAST_CASE, "put on suddenly", 1.6, 2.0, 3.0, 50.0, 160.0, 0.5, "root of shelf"),
        ),
        (
            BoltAnswer((30.0, 50.0), 200.0, 60.0, fixing_share, LAST_CASE),
            BoltAnswer((270.0, 50.0), 200.0, 60.0, fixing_share, LAST_CASE),
        ),
        (
            Link("bend", "root of shelf", 0.5, LAST_CASE, "a factor of 3"),
            Link("fixing", "the fixings", fixing_share, LAST_CASE, "200 N pull"),
        ),
        (),
        (),
        6000,
        error,
        1.2,
        "With all 8 kg in place, shelf should sag 0.80 mm.",
    )


@cache
def reviewed(text: str = SHED) -> Review:
    """A job reviewed without its loads and mounts, so that nothing is solved; its parts are *unproven*."""
    job = read_job_text(text)
    bare = replace(job, parts=tuple(replace(part, carries=(), mount=None) for part in job.parts))
    found = review(bare, fine=False)
    parts = tuple(replace(part, ordered=ordered) for part, ordered in zip(found.parts, job.parts, strict=True))
    return Review(job, parts)


def judged(found: Review, verdict: Verdict, with_strength: Strength | None = None) -> Review:
    """The same review with another verdict on every part; a pass keeps no finding that says otherwise."""
    passes = verdict in (Verdict.ENOUGH, Verdict.TIGHT)
    parts = []
    for part in found.parts:
        findings = tuple(f for f in part.findings if not passes or f.severity not in (Severity.STOP, Severity.UNPROVEN))
        parts.append(replace(part, verdict=verdict, findings=findings, strength=with_strength))
    return Review(found.job, tuple(parts))


def part_of(found: Review, name: str = "paint shelf") -> PartReview:
    """The part of that name."""
    return next(part for part in found.parts if part.name == name)


def pages(data: bytes) -> list[str]:
    """The text of every page of a PDF, by PDFium."""
    document = pypdfium2.PdfDocument(data)
    return [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in document]
