"""A finding's remedy put into the job file cures the finding, comments kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadfold.findings.finding import Change
from steadfold.job.reader import read_job, read_job_text
from steadfold.job.writer import changed
from steadfold.page.answers import answer
from steadfold.review.accept import accepted, remedy
from steadfold.review.review import review_part
from steadfold.review.shop import shop_of

HEAD = 'steadfold = 1\nname = "shed"\nrevision = "A"\n\n[[part]]\n'
READY = (
    HEAD
    + """name = "notice bracket"   # by the door
material = "S235"
thickness = "4 mm"
inside_radius = "5 mm"
shape = "angle bracket"
second_row = "18 mm"      # the lower screw
"""
)
DRAWN = (
    HEAD
    + """name = "paddle rest"
material = "S235"
thickness = "2 mm"
inside_radius = "2 mm"
shape = "panels"

  [[part.panel]]
  name = "back"
  size = ["120 mm", "60 mm"]

  [[part.panel]]
  name = "lip"
  from = "back"
  edge = "bottom"
  bend = "90 deg"
  size = ["120 mm", "7 mm"]   # too short for the die
"""
)


def cured(text: str, code: str, tmp_path: Path) -> str:
    """The text with the first finding of a code cured; checks that it was there and is gone."""
    job = read_job_text(text, tmp_path / "job.toml")
    part = job.parts[0]
    findings = review_part(job, part, shop_of(job)).findings
    finding = next(f for f in findings if f.code == code and f.change is not None)
    result = accepted(job, part, finding)
    assert result is not None
    again = read_job_text(result, tmp_path / "job.toml")
    left = [f for f in review_part(again, again.parts[0], shop_of(again)).findings if f.code == code]
    assert finding.place not in [f.place for f in left]
    return result


def test_a_hole_of_a_ready_made_shape_moves_by_the_dimension_that_places_it(tmp_path: Path) -> None:
    result = cured(READY, "hole-near-bend", tmp_path)
    assert "# the lower screw" in result and "# by the door" in result
    moved = read_job_text(result, tmp_path / "job.toml").parts[0].shape_values["second_row"]
    assert moved > 18.0


def test_a_short_flange_of_drawn_panels_grows_in_its_own_table(tmp_path: Path) -> None:
    result = cured(DRAWN, "flange-too-short", tmp_path)
    assert "# too short for the die" in result
    assert read_job_text(result, tmp_path / "job.toml").parts[0].tree.panels[1].outline.bounds[3] > 7.0


def test_the_command_changes_the_file_and_nothing_else(tmp_path: Path) -> None:
    from steadfold.cli.main import main

    job = tmp_path / "job.toml"
    job.write_text(DRAWN, encoding="utf-8")
    assert main(["rate", str(job), "--accept", "flange-too-short"]) == 0
    before, after = DRAWN.splitlines(), job.read_text(encoding="utf-8").splitlines()
    assert [a for a, b in zip(before, after, strict=True) if a != b] == [
        '  size = ["120 mm", "7 mm"]   # too short for the die'
    ]
    assert read_job(job).parts
    assert main(["rate", str(job), "--accept", "no-such-code"]) == 2


@pytest.mark.parametrize("text", [READY, DRAWN])
def test_a_finding_without_a_change_leaves_the_job_alone(text: str, tmp_path: Path) -> None:
    job = read_job_text(text, tmp_path / "job.toml")
    plain = next(f for f in review_part(job, job.parts[0], shop_of(job)).findings if f.change is None)
    assert accepted(job, job.parts[0], plain) is None


def test_corners_of_every_panel_are_rounded_that_are_not_yet(tmp_path: Path) -> None:
    text = DRAWN.replace('size = ["120 mm", "60 mm"]', 'size = ["120 mm", "60 mm"]\n  corner_radius = "12 mm"')
    job = read_job_text(text, tmp_path / "job.toml")
    found = remedy(job, job.parts[0], Change("paddle rest", "panel.*.corner_radius", "3 mm"))
    assert found is not None
    assert found.edits == ((("part", 0, "panel", 1, "corner_radius"), "3 mm"),), "the first is round enough"
    assert found.say == "corner radius 3 mm on every panel"


@pytest.mark.parametrize("field", ["panel.lip.size[1]", "panel.lip.corner", "colour", "panel.roof.size[1]"])
def test_a_change_that_would_make_no_job_is_not_offered(field: str, tmp_path: Path) -> None:
    job = read_job_text(DRAWN, tmp_path / "job.toml")
    assert remedy(job, job.parts[0], Change("paddle rest", field, "no length")) is None


@pytest.mark.parametrize("text", [READY, DRAWN])
def test_what_the_page_offers_is_what_the_command_does(text: str, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    told, _ = answer(lambda share, what: None, text, str(path), 0, "full")
    job = read_job_text(text, path)
    part = job.parts[0]
    findings = review_part(job, part, shop_of(job)).findings
    assert [f["code"] for f in told["part"]["findings"]] == [f.code for f in findings]
    offered = [(f, s["change"]) for f, s in zip(findings, told["part"]["findings"], strict=True) if s["change"]]
    assert offered, "something is offered"
    for finding, change in offered:
        edits = [(tuple(each["way"]), each["value"]) for each in change["edits"]]
        assert changed(text, edits, path) == accepted(job, part, finding)
