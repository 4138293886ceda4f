"""A stand on the page: numbers equal the library's, and levelling goes step by step in a hand-held size."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from steadfold.job import read_job
from steadfold.job.stand_table import read_stand
from steadfold.stand.plain import plain_stand
from steadfold.stand.review import review_stand
from tests.browser.conftest import Shed, start, stop
from tests.browser.test_page_for_everyone import serious

Opener = Callable[..., Page]
Keep = Callable[..., None]

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "press-stand.toml"


@pytest.fixture(scope="module")
def stands(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shed]:
    folder = tmp_path_factory.mktemp("stands")
    (folder / "corner.toml").write_text(EXAMPLE.read_text(encoding="utf-8"), encoding="utf-8")
    process, link = start(str(folder / "corner.toml"), state=tmp_path_factory.mktemp("state"))
    yield Shed(folder, link)
    stop(process)


def test_a_stand_shows_what_the_library_says_of_it(stands: Shed, open_page: Opener, picture: Keep) -> None:
    job = read_job(stands.job)
    expected = plain_stand(review_stand(read_stand(job.stands[0])))
    page = open_page(stands.link)
    page.locator(".stand-seen img").first.wait_for()
    assert page.locator(".verdict .word").inner_text().lower() == expected["verdict"]
    expect(page.locator(".verdict .sentence")).to_have_text(expected["weakest"])
    sags = page.locator(".numbers div", has=page.locator("dt", has_text="sags")).locator("strong").inner_text()
    assert float(sags.split()[0]) == pytest.approx(expected["sag_mm"], abs=6e-3)
    shares = page.locator("#members tbody td:nth-child(4)").all_inner_texts()
    assert shares == [f"{m['utilisation']:.2f}" for m in expected["members"]]
    assert page.locator(".stand-seen img").evaluate_all(
        "all => all.every(each => each.complete && each.naturalWidth > 0)"
    )
    picture(page, "stand", whole=True)
    page.locator(".parts a").nth(1).click()
    other = plain_stand(review_stand(read_stand(job.stands[1])))
    expect(page.locator(".verdict .word")).to_have_text(other["verdict"].capitalize())


def test_levelling_goes_step_by_step_on_a_phone(stands: Shed, open_page: Opener, picture: Keep, axe: str) -> None:
    expected = plain_stand(review_stand(read_stand(read_job(stands.job).stands[0])))["level"]["steps"]
    page = open_page(stands.link, viewport={"width": 390, "height": 780}, has_touch=True)
    on = page.get_by_role("button", name="Done, next")
    on.wait_for()
    said = []
    while True:
        said.append(page.locator(".step-say").inner_text())
        if on.is_disabled():
            break
        on.click()
    assert said[-len(expected) :] == [step["do"] for step in expected]
    size = page.locator(".step-say").evaluate("each => parseFloat(getComputedStyle(each).fontSize)")
    box = on.bounding_box()
    assert size >= 20 and box is not None and box["height"] >= 44 and box["width"] >= 180, (
        "read and pressed at arm's length"
    )
    on.scroll_into_view_if_needed()
    picture(page, "levelling-phone")
    page.evaluate("() => document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    assert serious(page, axe) == []
    assert page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def test_a_reading_typed_on_the_page_is_saved_and_answered_anew(stands: Shed, open_page: Opener) -> None:
    page = open_page(stands.link)
    page.locator(".stand-seen img").first.wait_for()
    page.locator("summary", has_text="reading: left tip").click()
    low = page.locator("[data-way='stand/0/reading/0/low']")
    low.fill("4 mm")
    low.press("Enter")
    expect(page.locator(".saved")).to_contain_text("Saved in")
    assert 'low = "4 mm"' in stands.job.read_text(encoding="utf-8")
    turns = plain_stand(review_stand(read_stand(read_job(stands.job).stands[0])))["tie_rods"][0]["turns_to_level"]
    expect(page.locator("#rods tbody tr").first.locator("td").last).to_have_text(f"{turns:.2f}")
