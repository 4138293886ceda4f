"""A part on the page: its numbers are the library's, its form writes the job file, and nothing is lost or overwritten."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Dialog, Page, expect

from steadfold.job import read_job
from steadfold.review import plain, review
from tests.browser.conftest import JOB, Shed, answered

Opener = Callable[..., Page]
Keep = Callable[..., None]


@pytest.fixture(autouse=True)
def as_it_was(shed: Shed) -> Iterator[None]:
    shed.job.write_text(JOB, encoding="utf-8")
    yield


def said(shed: Shed, number: int = 0) -> dict[str, Any]:
    """What the library says of a part of the job as it lies on the disk."""
    found: dict[str, Any] = plain(review(read_job(shed.job)))["parts"][number]
    return found


def number_under(page: Page, name: str) -> str:
    return page.locator(".numbers div", has=page.locator("dt", has_text=name)).locator("strong").inner_text()


def leading(text: str) -> float:
    found = re.match(r"[-\d.]+", text)
    assert found, text
    return float(found.group())


def set_field(page: Page, label: str, text: str) -> None:
    field = page.get_by_role("textbox", name=label, exact=True)
    field.fill(text)
    field.press("Enter")


def test_verdict_and_numbers_are_those_of_the_library(shed: Shed, open_page: Opener, picture: Keep) -> None:
    expected = said(shed)
    page = open_page(shed.link)
    answered(page)
    picture(page, "part")
    assert page.locator(".verdict .word").inner_text().lower() == expected["verdict"]
    strength = expected["strength"]
    assert leading(number_under(page, "may carry")) == pytest.approx(strength["rating_kg"], rel=5e-3)
    assert leading(number_under(page, "sags")) == pytest.approx(strength["cases"][0]["sag_mm"], abs=5e-3)
    assert leading(number_under(page, "weighs")) == pytest.approx(expected["mass_kg"], rel=5e-3)
    codes = page.locator(".finding").evaluate_all("all => all.map(each => each.dataset.code)")
    assert set(codes) == {f["code"] for f in expected["findings"]}
    shares = page.locator(".link-share").all_inner_texts()
    assert sorted(shares) == sorted(
        "unproven" if k["share"] is None else f"{k['share']:.2f}" for k in strength["chain"]
    )


def test_a_dimension_is_saved_at_once_and_the_rest_of_the_file_stays(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    set_field(page, "arm", "6-1/4 in")
    expect(page.locator(".saved")).to_have_text(re.compile("Saved in corner.toml"))
    assert shed.job.read_text(encoding="utf-8") == JOB.replace('arm = "160 mm"', 'arm = "6-1/4 in"')
    answered(page)
    assert leading(number_under(page, "sags")) == pytest.approx(said(shed)["strength"]["cases"][0]["sag_mm"], abs=5e-3)


def test_a_gauge_and_a_bare_number_are_taken_as_the_page_shows_them(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    set_field(page, "width", "45")
    expect(page.locator(".saved")).to_have_text(re.compile("Saved in"))
    page.get_by_text("inch", exact=True).click()
    set_field(page, "upright", "5 1/2")
    expect(page.get_by_role("textbox", name="upright", exact=True)).to_have_value("5 1/2 in")
    page.locator(".parts a", has_text="paint tray").click()
    set_field(page, "thickness", "16 ga")
    expect(page.get_by_role("textbox", name="thickness", exact=True)).to_have_value("16 ga")
    deadline = time.monotonic() + 10
    while "16 ga" not in shed.job.read_text(encoding="utf-8") and time.monotonic() < deadline:
        page.wait_for_timeout(50)
    job = read_job(shed.job)
    assert job.parts[0].shape_values["width"] == 45.0
    assert job.parts[0].shape_values["upright"] == pytest.approx(5.5 * 25.4)
    assert job.parts[1].thickness_mm == pytest.approx(0.0598 * 25.4, abs=0.01), "16 gauge steel, not another metal"


def test_what_makes_no_sense_is_said_at_its_field_and_not_saved(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link, expect_refusals=True)
    answered(page, "shape")
    set_field(page, "arm", "ten")
    field = page.get_by_role("textbox", name="arm", exact=True)
    expect(field).to_have_attribute("aria-invalid", "true")
    fault = page.locator(".row", has=field).locator(".fault")
    expect(fault).to_contain_text("not a length")
    assert shed.job.read_text(encoding="utf-8") == JOB
    field.fill("150 mm")
    field.press("Enter")
    expect(fault).to_be_empty()


def test_undo_and_redo_go_through_the_whole_session_and_a_new_page(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    for arm in ("150 mm", "140 mm", "130 mm"):
        set_field(page, "arm", arm)
        expect(page.get_by_role("button", name="Undo: arm")).to_be_enabled()
        expect(page.get_by_role("textbox", name="arm", exact=True)).to_have_value(arm)
        expect(page.locator(".saved")).to_have_text(re.compile("Saved in"))
    page.get_by_role("button", name="Undo: arm").click()
    expect(page.get_by_role("textbox", name="arm", exact=True)).to_have_value("140 mm")
    again = open_page(shed.link)
    answered(again, "shape")
    again.get_by_role("button", name="Undo: arm").click()
    expect(again.get_by_role("textbox", name="arm", exact=True)).to_have_value("150 mm")
    assert 'arm = "150 mm"' in shed.job.read_text(encoding="utf-8")
    again.get_by_role("button", name="Redo: arm").click()
    expect(again.get_by_role("textbox", name="arm", exact=True)).to_have_value("140 mm")
    expect(page.get_by_role("textbox", name="arm", exact=True)).to_have_value("140 mm"), "both see the same"


def test_a_change_by_another_editor_is_taken_over_and_what_is_being_typed_stays(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    typing = page.get_by_role("textbox", name="upright", exact=True)
    typing.fill("11")
    shed.job.write_text(JOB.replace('arm = "160 mm"', 'arm = "155 mm"  # by hand'), encoding="utf-8")
    expect(page.get_by_role("textbox", name="arm", exact=True)).to_have_value("155 mm")
    expect(page.locator(".saved")).to_contain_text("changed elsewhere")
    expect(typing).to_have_value("11")
    typing.fill("118 mm")
    typing.press("Enter")
    expect(page.locator(".saved")).to_have_text(re.compile("Saved in"))
    text = shed.job.read_text(encoding="utf-8")
    assert 'arm = "155 mm"  # by hand' in text and 'upright = "118 mm"' in text


def test_two_who_change_different_fields_at_once_both_keep_their_change(shed: Shed, open_page: Opener) -> None:
    one, other = open_page(shed.link, expect_refusals=True), open_page(shed.link, expect_refusals=True)
    answered(one, "shape")
    answered(other, "shape")
    first = one.get_by_role("textbox", name="arm", exact=True)
    second = other.get_by_role("textbox", name="upright", exact=True)
    first.fill("158 mm")
    second.fill("119 mm")
    first.press("Enter")
    second.press("Enter")
    expect(one.get_by_role("textbox", name="upright", exact=True)).to_have_value("119 mm")
    expect(other.get_by_role("textbox", name="arm", exact=True)).to_have_value("158 mm")
    text = shed.job.read_text(encoding="utf-8")
    assert 'arm = "158 mm"' in text and 'upright = "119 mm"' in text


def test_a_file_that_another_editor_broke_is_told_by_line_and_can_be_undone(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    shed.job.write_text(JOB.replace('arm = "160 mm"', "arm = 160"), encoding="utf-8")
    trouble = page.locator(".trouble")
    expect(trouble).to_contain_text("Line 15")
    page.get_by_role("button", name=re.compile("^Undo")).click()
    expect(trouble).to_be_hidden()
    assert shed.job.read_text(encoding="utf-8") == JOB


def test_a_file_that_an_editor_empties_before_it_writes_is_one_step_to_undo(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    with shed.job.open("w", encoding="utf-8") as writing:
        writing.flush()
        time.sleep(0.35)
        writing.write(JOB.replace('arm = "160 mm"', 'arm = "150 mm"'))
    expect(page.get_by_role("textbox", name="arm", exact=True)).to_have_value("150 mm")
    page.get_by_role("button", name=re.compile("^Undo")).click()
    expect(page.get_by_role("textbox", name="arm", exact=True)).to_have_value("160 mm")
    assert shed.job.read_text(encoding="utf-8") == JOB


def test_a_slider_that_is_dragged_is_one_step_to_undo(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    page.get_by_role("textbox", name="arm", exact=True).focus()
    slider = page.get_by_role("slider", name="arm, slider")
    for _ in range(6):
        slider.press("ArrowLeft")
    expect(page.get_by_role("textbox", name="arm", exact=True)).to_have_value("154 mm")
    expect(page.locator(".saved")).to_have_text(re.compile("Saved in"))
    page.get_by_role("button", name="Undo: arm").click()
    expect(page.get_by_role("textbox", name="arm", exact=True)).to_have_value("160 mm")


def test_unproven_is_not_shown_as_a_pass(shed: Shed, open_page: Opener, picture: Keep) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    page.locator(".parts a", has_text="paint tray").click()
    answered(page)
    expected = said(shed, 1)
    assert page.locator(".verdict .word").inner_text().lower() == expected["verdict"]
    assert expected["verdict"] not in ("enough", "tight")
    picture(page, "tray", whole=True)


def test_a_change_that_helps_is_put_in_by_one_press(shed: Shed, open_page: Opener, picture: Keep) -> None:
    """From a part that is not enough to one that is, by the first of the ranked changes."""
    assert said(shed)["verdict"] == "not enough"
    page = open_page(shed.link)
    answered(page)
    page.get_by_role("button", name="Look for changes").click()
    first = page.locator("#mend .do-it").first
    first.wait_for(timeout=120_000)
    picture(page, "changes", whole=True)
    first.click()
    expect(page.locator(".verdict .word")).to_have_text(re.compile("Enough|Tight"), timeout=60_000)
    assert said(shed)["verdict"] in ("enough", "tight")
    assert "# what the shop has on the shelf" in shed.job.read_text(encoding="utf-8")


def test_a_thickness_picked_from_the_comparison_becomes_the_jobs(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page)
    page.get_by_role("button", name="Compare them").click()
    page.get_by_role("button", name="Take 5 mm").click(timeout=120_000)
    expect(page.get_by_role("textbox", name="thickness", exact=True)).to_have_value("5 mm")
    assert read_job(shed.job).parts[0].thickness_mm == 5.0


def test_a_job_file_that_is_gone_is_told_and_can_be_brought_back(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    set_field(page, "arm", "150 mm")
    expect(page.get_by_role("button", name="Undo: arm")).to_be_enabled()
    shed.job.unlink()
    expect(page.locator(".trouble")).to_contain_text("there is no such file")
    page.get_by_role("button", name="Undo: arm").click()
    expect(page.locator(".trouble")).to_be_hidden()
    assert shed.job.read_text(encoding="utf-8") == JOB


def test_a_findings_remedy_is_put_in_by_one_press_and_cures_it(shed: Shed, open_page: Opener) -> None:
    codes = {f["code"] for f in said(shed)["findings"]}
    assert "hole-near-bend" in codes, "the job of this test has a hole too near its bend"
    page = open_page(shed.link)
    answered(page)
    page.locator(".finding[data-code=hole-near-bend] .do-it").click()
    expect(page.locator(".finding[data-code=hole-near-bend]")).to_have_count(0, timeout=40_000)
    answered(page)
    assert "hole-near-bend" not in {f["code"] for f in said(shed)["findings"]}
    page.get_by_role("button", name=re.compile("^Undo: cure for hole-near-bend")).click()
    expect(page.get_by_role("button", name="Redo: cure for hole-near-bend")).to_be_enabled()
    assert shed.job.read_text(encoding="utf-8") == JOB


@pytest.mark.parametrize("yes", [True, False])
def test_a_field_that_another_editor_changed_meanwhile_is_asked_about(shed: Shed, open_page: Opener, yes: bool) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    asked: list[str] = []

    def decide(dialog: Dialog) -> None:
        asked.append(dialog.message)
        dialog.accept() if yes else dialog.dismiss()

    page.on("dialog", decide)
    field = page.get_by_role("textbox", name="arm", exact=True)
    field.fill("150 mm")
    theirs = JOB.replace('arm = "160 mm"', 'arm = "155 mm"  # by hand')
    shed.job.write_text(theirs, encoding="utf-8")
    expect(page.locator(".saved")).to_contain_text("changed elsewhere")
    expect(field).to_have_value("150 mm")
    field.press("Enter")
    expect(field).to_have_value("150 mm" if yes else "155 mm")
    assert len(asked) == 1 and "155 mm" in asked[0] and "150 mm" in asked[0]
    expect(page.get_by_role("button", name="Undo: arm" if yes else "Undo: changed in another editor")).to_be_enabled()
    assert shed.job.read_text(encoding="utf-8") == (theirs.replace('"155 mm"', '"150 mm"') if yes else theirs)


def test_another_kind_of_wall_is_added_and_rated(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page)
    page.get_by_role("button", name="One more kind of wall").click()
    wall = page.locator("#mount fieldset", has=page.locator("legend", has_text="or on wood stud"))
    wall.get_by_role("textbox", name="called").fill("the shed's end wall")
    wall.get_by_role("textbox", name="called").press("Enter")
    expect(page.locator("#mount legend")).to_have_text("or on the shed's end wall")
    job = read_job(shed.job)
    assert job.parts[0].mount is not None
    assert [(each.to, each.called) for each in job.parts[0].mount.walls] == [("wood stud", "the shed's end wall")]


def test_a_kind_of_wall_is_taken_away(shed: Shed, open_page: Opener) -> None:
    other = '  holes = "upright"\n    [[part.mount.wall]]\n    to = "wood stud"\n    called = "the end wall"\n'
    shed.job.write_text(JOB.replace('  holes = "upright"\n', other, 1), encoding="utf-8")
    page = open_page(shed.link)
    expect(page.locator("#mount legend")).to_have_text("or on the end wall")
    page.get_by_role("button", name="Take the end wall away").click()
    expect(page.locator("#mount legend")).to_have_count(0)
    mount = read_job(shed.job).parts[0].mount
    assert mount is not None and mount.walls == ()


def test_what_is_about_making_stands_with_the_making(shed: Shed, open_page: Opener) -> None:
    """Every finding of the shop's room is where cutting and folding are told, by whichever code."""
    found = review(read_job(shed.job)).parts[0]
    assert found.making is not None
    making = {each.code for each in found.making.findings}
    page = open_page(shed.link)
    answered(page)
    folding = page.locator("#folding .finding").evaluate_all("all => all.map(each => each.dataset.code)")
    above = page.locator("#findings .finding").evaluate_all("all => all.map(each => each.dataset.code)")
    assert making and making <= set(folding)
    assert not making & set(above)
