"""With the page's switch at inches every sentence is in inches, pounds and their kin, not only the numbers beside them."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import JOB, Shed, answered, start, stop

Opener = Callable[..., Page]
Keep = Callable[..., None]

METRIC = re.compile(r"\d[)]? ?(?:mm|kg|MPa|kN|N m|N)\b(?!/m)")
EXAMPLES = Path(__file__).parents[2] / "examples"


def in_inches(page: Page) -> None:
    page.locator(".top-tools .switch label", has_text="inch").click()


def sentences(page: Page) -> str:
    """What the page says, but for fields, hand formulas, sources and what the job itself says."""
    return str(
        page.evaluate(
            """() => {
              const copy = document.querySelector("main").cloneNode(true);
              const others = ".formula, #hand, .form-side, details.why > p, .assumed .quiet, .facts";
              for (const each of copy.querySelectorAll(others)) each.remove();
              return copy.textContent;
            }"""
        )
    )


def test_a_part_is_told_in_inches_and_back(shed: Shed, open_page: Opener, picture: Keep) -> None:
    shed.job.write_text(JOB, encoding="utf-8")
    page = open_page(shed.link)
    answered(page)
    before = sentences(page)
    assert METRIC.search(before)
    in_inches(page)
    expect(page.locator("#sag .tonight")).to_contain_text(" lb ")
    after = sentences(page)
    assert not METRIC.search(after), METRIC.findall(after)
    picture(page, "inches", whole=True)
    page.locator(".top-tools .switch label", has_text="mm").click()
    expect(page.locator("#sag .tonight")).to_contain_text(" kg ")
    assert sentences(page) == before


def test_a_finding_told_in_inches_still_shows_its_place(shed: Shed, open_page: Opener) -> None:
    """Places are looked up in the picture by what they are called in the job, whatever the switch says."""
    shed.job.write_text(JOB, encoding="utf-8")
    page = open_page(shed.link)
    answered(page)
    in_inches(page)
    places = page.locator(".chain .link")
    places.filter(has_text="fixing").first.click()
    assert not METRIC.search(places.first.inner_text())


@pytest.fixture(scope="module")
def press(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    """The example of a stand, served."""
    folder = tmp_path_factory.mktemp("press")
    (folder / "press.toml").write_bytes((EXAMPLES / "press-stand.toml").read_bytes())
    process, link = start(str(folder / "press.toml"), state=tmp_path_factory.mktemp("state"))
    yield link
    stop(process)


def test_a_stand_is_told_in_inches(press: str, open_page: Opener, picture: Keep) -> None:
    page = open_page(press)
    page.locator("#stand-findings .finding").first.wait_for()
    in_inches(page)
    expect(page.locator("#stand-findings")).to_contain_text(" lb ")
    told = sentences(page)
    assert not METRIC.search(told), METRIC.findall(told)
    picture(page, "stand-inches", whole=True)


def test_an_order_made_in_inches_is_for_letter_paper(shed: Shed, open_page: Opener) -> None:
    """8 1/2 by 11 inches, ANSI/ASME Y14.1."""
    shed.job.write_text(JOB.replace('arm = "160 mm"', 'arm = "90 mm"'), encoding="utf-8")
    page = open_page(shed.link)
    in_inches(page)
    page.locator(".parts a", has_text="Order folder").click()
    page.get_by_role("button", name="Make the order folder").click()
    archive = page.get_by_role("link", name="Take it along as one archive")
    archive.wait_for(timeout=120_000)
    listed = page.request.get(page.locator("#order").evaluate("() => `${location.origin}${location.pathname}`"))
    assert listed.ok
    contents = page.request.get(
        str(archive.evaluate("each => each.href.replace('archive', 'file/contents.json')"))
    ).json()
    assert (contents["paper"], contents["units"]) == ("letter", "in")
    page.locator(".top-tools .switch label", has_text="mm").click()
    expect(archive).to_have_count(0)


@pytest.fixture
def own_shop(tmp_path: Path):  # type: ignore[no-untyped-def]
    """A job whose shop is a file of its own: folder and link."""
    (tmp_path / "ours.toml").write_text('[rates]\norder = "20 EUR"\n', encoding="utf-8")
    job = JOB.replace("[[part]]", '[shop]\nprofile = "./ours.toml"\n\n[[part]]', 1)
    (tmp_path / "corner.toml").write_text(job, encoding="utf-8")
    (tmp_path / "state").mkdir()
    process, link = start(str(tmp_path / "corner.toml"), state=tmp_path / "state")
    yield tmp_path, link
    stop(process)


def test_a_shop_changed_on_the_disk_is_noticed(own_shop: tuple[Path, str], open_page: Opener) -> None:
    """Its rates are the cost's, and stand in the shop's own file, which no edit of the job touches."""
    folder, link = own_shop
    page = open_page(link)
    page.locator(".parts a", has_text="What it costs me").click()
    total = page.locator("#order-cost .total")
    total.wait_for(timeout=60_000)

    def amount() -> float:
        return float(re.sub(r"[^\d.]", "", total.inner_text()))

    told, before = total.inner_text(), amount()
    (folder / "ours.toml").write_text('[rates]\norder = "520 EUR"\n', encoding="utf-8")
    expect(total).not_to_have_text(told, timeout=60_000)
    assert amount() == pytest.approx(before + 500.0, abs=0.02)
