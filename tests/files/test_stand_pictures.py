"""Pictures of a stand: whole SVG files that say in words what they show, with the numbers of the report."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from steadfold.deliver.stand_picture import frame_svg, lift_svg, sag_budget_svg
from steadfold.job import read_job
from steadfold.job.stand_table import read_stands
from steadfold.stand.answers import StandReport
from steadfold.stand.review import review_stand

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "press-stand.toml"


@pytest.fixture(scope="module")
def report() -> StandReport:
    return review_stand(read_stands(read_job(EXAMPLE))[0])


def words(svg: str) -> str:
    return " ".join(
        "".join(each.itertext()) for each in ElementTree.fromstring(svg).iter() if each.tag.endswith("text")
    )


def test_the_frame_shows_every_member_with_its_share(report: StandReport) -> None:
    said = words(frame_svg(report))
    for member in report.members:
        assert member.share is not None
        assert f"{member.name} {100.0 * member.share:.0f} %" in said
    assert f"{report.budgets[0].likely_mm:.2f} mm low" in said
    assert "thickness planer" in said and "share of its limit" in said


def test_the_sag_budget_is_as_long_as_its_parts(report: StandReport) -> None:
    svg = sag_budget_svg(report.budgets, 1.0)
    widths = [
        float(w) for w in re.findall(r'height="28" fill', svg) and re.findall(r'width="([\d.]+)" height="28"', svg)
    ]
    first = report.budgets[0]
    parts = [first.elastic_mm, first.turning_mm, first.giving_mm, first.racking_mm or 0.0, first.likely_take_up_mm]
    total = sum(widths[:5])
    assert total > 0.0
    for width, part in zip(widths, parts, strict=False):
        assert width / total == pytest.approx(max(part, 0.0) / sum(max(p, 0.0) for p in parts), abs=2e-3)
    assert "limit 1.00 mm" in words(svg)


def test_the_levelling_picture_tells_turns_and_steps(report: StandReport) -> None:
    assert report.level is not None
    said = words(lift_svg(report.level))
    for rod, turns in zip(report.level.rods, report.level.turns, strict=True):
        assert f"{rod} ({turns:+.2f} turns)" in said
    assert said.count("Rods pull") >= len(report.level.steps) - 1


@pytest.mark.parametrize("make", [frame_svg, lambda r: sag_budget_svg(r.budgets), lambda r: lift_svg(r.level)])
def test_every_picture_has_a_title_and_no_strange_numbers(report: StandReport, make: object) -> None:
    svg = make(report)  # type: ignore[operator]
    assert ElementTree.fromstring(svg).find("{http://www.w3.org/2000/svg}title") is not None
    assert "nan" not in svg and "inf" not in svg
