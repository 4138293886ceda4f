"""The first five minutes: from a question to a verdict, without an account, a manual or a drawing."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from steadfold.job import read_job
from steadfold.review import plain, review
from tests.browser.conftest import JOB, Shed, answered

Opener = Callable[..., Page]
Keep = Callable[..., None]


def start(shed: Shed) -> str:
    return shed.link.split("&job=")[0]


def test_a_question_a_picture_and_sizes_lead_to_a_verdict(shed: Shed, open_page: Opener, picture: Keep) -> None:
    page = open_page(start(shed))
    expect(page.get_by_role("heading", level=1)).to_have_text("What must it hold, and what is it fixed to?")
    expect(page.locator(".shape img")).to_have_count(10)
    page.locator(".shape img").last.scroll_into_view_if_needed()
    for image in page.locator(".shape img").all():
        image.scroll_into_view_if_needed()
        expect(image).to_have_js_property("complete", True)
    assert page.locator(".shape img").evaluate_all("all => all.every(each => each.naturalWidth > 0)")
    picture(page, "start", whole=True)
    page.get_by_label("It holds").fill("coil of line")
    page.get_by_label("one weighs").fill("3 to 4 lb")
    page.get_by_label("how many").first.fill("2")
    page.get_by_label("fixed to").select_option("steel")
    page.get_by_label("with", exact=True).fill("M6")
    page.get_by_text("angle bracket").click()
    page.get_by_label("width", exact=True).fill("1-1/2 in")
    page.get_by_label("thickness").fill("3/16 in")
    page.get_by_role("button", name="See whether it holds").click()
    answered(page)
    file = shed.folder / "angle-bracket-for-coil-of-line.toml"
    job = read_job(file)
    assert job.parts[0].shape_values["width"] == pytest.approx(38.1)
    assert job.parts[0].thickness_mm == pytest.approx(3 / 16 * 25.4)
    carried = job.parts[0].carries[0]
    assert (carried.item, carried.count) == ("coil of line", 2)
    assert (carried.mass_kg.low, carried.mass_kg.high) == pytest.approx((3 * 0.45359237, 4 * 0.45359237))
    assert page.locator(".verdict .word").inner_text().lower() == plain(review(job))["parts"][0]["verdict"]
    file.unlink()


def test_a_start_that_cannot_be_is_told_in_a_sentence(shed: Shed, open_page: Opener) -> None:
    page = open_page(start(shed), expect_refusals=True)
    page.get_by_label("one weighs").fill("heavy")
    before = sorted(shed.folder.glob("*.toml"))
    page.get_by_role("button", name="See whether it holds").click()
    expect(page.locator(".question .fault")).to_contain_text("not a mass")
    assert sorted(shed.folder.glob("*.toml")) == before


def test_a_dropped_job_opens_and_overwrites_nothing(shed: Shed, open_page: Opener, tmp_path: Path) -> None:
    mine = tmp_path / "corner.toml"
    mine.write_text(JOB.replace("dinghy", "canoe"), encoding="utf-8")
    page = open_page(start(shed))
    page.set_input_files("#bring", str(mine))
    expect(page.get_by_role("heading", level=1)).to_contain_text("canoe corner")
    assert shed.job.read_text(encoding="utf-8") == JOB
    assert (shed.folder / "corner-2.toml").read_text(encoding="utf-8") == mine.read_text(encoding="utf-8")
    (shed.folder / "corner-2.toml").unlink()


def test_a_dropped_drawing_becomes_a_job_around_it(shed: Shed, open_page: Opener, tmp_path: Path) -> None:
    from steadfold.deliver.part_files import part_files

    files = part_files(review(read_job(shed.job), fine=False))
    drawing = tmp_path / "plate.dxf"
    drawing.write_bytes(files["mast-bracket.dxf"])
    page = open_page(start(shed))
    page.set_input_files("#bring", str(drawing))
    expect(page.locator(".parts")).to_contain_text("plate")
    assert (shed.folder / "plate.dxf").read_bytes() == drawing.read_bytes()
    assert read_job(shed.folder / "plate.toml").parts[0].cad is not None
    answered(page, "shape")
    for left in shed.folder.glob("plate.*"):
        left.unlink()


def test_something_that_is_no_job_is_refused_in_words(shed: Shed, open_page: Opener, tmp_path: Path) -> None:
    page = open_page(start(shed), expect_refusals=True)
    for name, content in (
        ("x.toml", b"= 1"),
        ("x.toml", b"\xff\xfe"),
        ("x.exe", b"MZ"),
        ("x.toml", b"a=" + b"[" * 50_000),
    ):
        (tmp_path / name).write_bytes(content)
        page.set_input_files("#bring", str(tmp_path / name))
        expect(page.locator(".open .fault")).not_to_be_empty()
        page.locator(".open .fault").evaluate("each => { each.textContent = ''; }")
    assert sorted(p.name for p in shed.folder.glob("x*")) == []


def test_the_boat_shed_can_be_looked_at_and_is_among_the_recent_jobs_after(shed: Shed, open_page: Opener) -> None:
    page = open_page(start(shed))
    page.get_by_role("button", name="Open the boat shed").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Boat shed, north wall")
    page.get_by_role("link", name=re.compile("to the start")).click()
    expect(page.locator(".jobs")).to_contain_text("boat-shed")
    page.locator(".jobs a", has_text="corner").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("dinghy corner")


@pytest.mark.parametrize("size", [(1280, 760), (1280, 720), (390, 844)])
def test_the_way_on_is_in_sight_without_scrolling(shed: Shed, open_page: Opener, size: tuple[int, int]) -> None:
    page = open_page(shed.link, viewport={"width": size[0], "height": size[1]})
    page.goto("/".join(page.url.split("/")[:3]) + "/")
    button = page.get_by_role("button", name="See whether it holds")
    button.wait_for()
    box = button.bounding_box()
    assert box is not None and box["y"] >= 0 and box["y"] + box["height"] <= size[1]


def test_the_start_is_answered_with_the_keyboard_alone(shed: Shed, open_page: Opener) -> None:
    """Tab reaches every field of the question in the order they stand in; arrows pick the shape; Enter goes on."""
    page = open_page(shed.link)
    page.goto("/".join(page.url.split("/")[:3]) + "/")
    page.get_by_role("button", name="See whether it holds").wait_for()
    page.get_by_label("It holds").focus()
    reached = []
    for _ in range(40):
        reached.append(
            page.evaluate("() => document.activeElement.labels?.[0]?.textContent ?? document.activeElement.textContent")
        )
        if reached[-1] == "See whether it holds":
            break
        if len(reached) == 6:
            before = page.evaluate("() => document.querySelector('.shape input:checked').value")
            page.keyboard.press("ArrowRight")
            assert page.evaluate("() => document.querySelector('.shape input:checked').value") != before
        page.keyboard.press("Tab")
    assert reached[:5] == ["It holds", "one weighs", "how many", "fixed to", "with"]
    assert reached[-1] == "See whether it holds" and "thickness" in reached
    page.get_by_label("one weighs").focus()
    page.keyboard.type("2 kg")
    page.keyboard.press("Enter")
    page.wait_for_url("**/job/**")
