"""The picture of every thickness: its points are the library's numbers, and a point picked becomes the job's."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from steadfold.job import read_job, read_job_text
from steadfold.review.compare import Choice, compare
from steadfold.review.costing import job_cost
from tests.browser.conftest import JOB, Shed, answered
from tests.browser.test_page_for_everyone import serious

Opener = Callable[..., Page]
Keep = Callable[..., None]


@pytest.fixture(autouse=True)
def as_it_was(shed: Shed) -> Iterator[None]:
    shed.job.write_text(JOB, encoding="utf-8")
    yield


def compared(page: Page) -> Locator:
    answered(page)
    page.get_by_role("button", name="Compare them").click()
    chart = page.locator(".gauge-chart")
    chart.wait_for(timeout=180_000)
    return chart


@pytest.fixture(scope="module")
def choices() -> tuple[Choice, ...]:
    with ThreadPoolExecutor(1) as pool:
        return compare(read_job_text(JOB, Path("corner.toml")), "mast bracket", executor=pool).choices


def test_every_thickness_says_and_draws_what_the_library_compares(
    shed: Shed, open_page: Opener, picture: Keep, choices: tuple[Choice, ...]
) -> None:
    page = open_page(shed.link)
    chart = compared(page)
    rated = [c for c in choices if c.rating_kg is not None]
    said = chart.locator(".gauge").evaluate_all("all => all.map(each => each.getAttribute('aria-label'))")
    assert len(said) == len(rated) > 4
    found = [re.search(r"may carry ([\d.]+) kg, sags ([\d.]+) mm, weighs ([\d.]+) kg, costs ([\d.]+)", s) for s in said]
    numbers = [[float(v) for v in each.groups()] for each in found if each]
    for each, choice in zip(numbers, rated, strict=True):
        assert each[:3] == pytest.approx([choice.rating_kg, choice.sag_mm, choice.mass_kg], rel=6e-3, abs=6e-3)
        text = JOB.replace('thickness = "4 mm"', f'thickness = "{choice.thickness_mm!r} mm"')
        cost = dict(job_cost(read_job_text(text, Path("corner.toml"))).parts)["mast bracket"]
        assert each[3] == pytest.approx(float(cost.each.amount), abs=0.011)
    # The points of the first chart stand as high as their ratings are.
    heights = chart.locator(".gauge circle:nth-of-type(1)").evaluate_all(
        "all => all.map(each => Number(each.getAttribute('cy')))"
    )
    slope = (heights[0] - heights[-1]) / (numbers[-1][0] - numbers[0][0])
    for height, each in zip(heights, numbers, strict=True):
        assert heights[0] - height == pytest.approx(slope * (each[0] - numbers[0][0]), abs=0.6)
    picture(page, "gauges", whole=True)


def test_a_point_is_picked_with_the_keyboard(
    shed: Shed, open_page: Opener, choices: tuple[Choice, ...], axe: str
) -> None:
    page = open_page(shed.link)
    chart = compared(page)
    assert serious(page, axe) == []
    rated = [c for c in choices if c.rating_kg is not None]
    here = next(n for n, c in enumerate(rated) if c.now)
    chart.locator(".gauge[tabindex='0']").focus()
    page.keyboard.press("ArrowRight")
    wanted = rated[here + 1]
    expect(page.locator(".gauge-said")).to_contain_text(f"{wanted.thickness_mm:g} mm")
    page.keyboard.press("Enter")
    expect(page.get_by_role("textbox", name="thickness", exact=True)).to_have_value(f"{wanted.thickness_mm:g} mm")
    assert read_job(shed.job).parts[0].thickness_mm == pytest.approx(wanted.thickness_mm)


def test_a_point_is_picked_with_the_pointer(shed: Shed, open_page: Opener, choices: tuple[Choice, ...]) -> None:
    page = open_page(shed.link)
    chart = compared(page)
    thinnest = next(c for c in choices if c.rating_kg is not None)
    chart.locator(".gauge").first.locator("circle").nth(1).click(force=True)
    expect(page.get_by_role("textbox", name="thickness", exact=True)).to_have_value(f"{thinnest.thickness_mm:g} mm")
