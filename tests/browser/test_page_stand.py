"""A stand on the page: numbers equal the library's, and levelling goes step by step in a hand-held size."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

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


PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}


def library(stands: Shed) -> dict[str, Any]:
    found: dict[str, Any] = plain_stand(review_stand(read_stand(read_job(stands.job).stands[0])))
    return found


def begun(page: Page) -> Page:
    page.get_by_role("button", name="Step by step, in the shop").click()
    page.locator("dialog.steps").wait_for()
    return page


def forward_to(page: Page, say: str) -> None:
    for _ in range(20):
        if say in page.locator(".step-say").inner_text():
            return
        page.locator(".step-button.on").click()
    raise AssertionError(f"no step says {say!r}")


def test_weighing_and_levelling_fill_the_screen_of_a_phone_step_by_step(
    stands: Shed, open_page: Opener, picture: Keep, axe: str
) -> None:
    expected = library(stands)["level"]["steps"]
    page = begun(open_page(stands.link, **PHONE))
    on = page.locator(".step-button.on")
    said = [page.locator(".step-say").inner_text()]
    while on.inner_text() != "Done":
        on.click()
        said.append(page.locator(".step-say").inner_text())
    assert said[:3] == [
        "Scale under inner pair of feet, the outer on a block as high as the scale",
        "Scale under outer pair of feet", "Scale under left pair of feet",
    ]  # fmt: skip
    assert "weighs 126 kg" in said[3]
    assert said[-1 - len(expected) : -1] == [step["do"][:1].upper() + step["do"][1:] for step in expected]
    size = page.locator(".step-say").evaluate("each => parseFloat(getComputedStyle(each).fontSize)")
    box = on.bounding_box()
    assert size >= 24 and box is not None and box["height"] >= 56 and box["width"] >= 200
    assert box["y"] > 844 / 2, "within reach of the thumb"
    # All of a step is on the screen at once.
    for n in range(len(said)):
        middle = page.locator(".steps-middle").evaluate("each => each.scrollHeight - each.clientHeight")
        assert middle <= 0, said[len(said) - 1 - n]
        if n < len(said) - 1:
            page.get_by_role("button", name="Back").click()
    assert serious(page, axe) == []
    picture(page, "steps-phone-weigh")
    forward_to(page, "How low does left tip lie")
    assert serious(page, axe) == []
    picture(page, "steps-phone-level")
    forward_to(page, "Tighten left rod")
    picture(page, "steps-phone-nut")
    assert page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def test_a_step_that_is_done_is_so_when_the_page_is_loaded_anew(stands: Shed, open_page: Opener) -> None:
    page = begun(open_page(stands.link, **PHONE))
    for _ in range(2):
        page.locator(".step-button.on").click()
    third = page.locator(".step-say").inner_text()
    page.reload()
    page.locator("dialog.steps[open]").wait_for()
    expect(page.locator(".step-say")).to_have_text(third)
    page.get_by_role("button", name="Back").click()
    expect(page.locator(".step-mark")).to_have_text("✓ Done.")
    page.get_by_role("button", name="Start over").click()
    expect(page.locator(".steps-where")).to_contain_text("Step 1 of")
    expect(page.locator(".step-mark")).to_have_text("")


@pytest.mark.parametrize(
    ("way", "typed", "over", "low_mm"),
    [
        ("mm low", "4.5", None, 4.5),
        # tan(0.4 deg) x 650 mm by hand
        ("degrees", "0.4", "650", 4.538),
        # 12 divisions of 0.5 mm/m over 0.65 m by hand
        ("bubble divisions", "12", "650", 3.9),
    ],
)
def test_a_level_is_read_in_the_way_one_has_and_the_nuts_follow(
    stands: Shed, open_page: Opener, way: str, typed: str, over: str | None, low_mm: float
) -> None:
    stands.job.write_text(EXAMPLE.read_text(encoding="utf-8"), encoding="utf-8")
    page = begun(open_page(stands.link, **PHONE))
    forward_to(page, "How low does left tip lie")
    before = library(stands)["level"]["steps"]
    page.locator(".step-ways").get_by_text(way, exact=True).click()
    page.get_by_label("it reads").fill(typed)
    if over is not None:
        page.get_by_label("read over").fill(over)
    page.keyboard.press("Enter")
    expect(page.locator(".step-say")).to_contain_text("right tip")
    reading = read_stand(read_job(stands.job).stands[0]).readings[0]
    assert reading.low_mm == pytest.approx(low_mm, abs=2e-3)
    after = library(stands)["level"]["steps"]
    assert [s["do"] for s in after] != [s["do"] for s in before]
    page.locator(".step-button.on").click()
    expect(page.locator(".step-say")).to_have_text(after[0]["do"])
    page.locator(".step-button.on").click()
    expect(page.locator(".step-say")).to_have_text(after[1]["do"])


def test_a_scale_reading_typed_in_the_shop_weighs_the_machine_anew(stands: Shed, open_page: Opener) -> None:
    stands.job.write_text(EXAMPLE.read_text(encoding="utf-8"), encoding="utf-8")
    page = begun(open_page(stands.link, **PHONE, expect_refusals=True))
    field = page.locator(".step-field input")
    field.fill("heavy")
    page.locator(".step-button.on").click()
    expect(page.locator("dialog .fault")).not_to_have_text("")
    field.fill("80")
    page.locator(".step-button.on").click()
    forward_to(page, "weighs")
    # Inner and outer pair are the whole machine: 80.0 + 51.5 kg.
    expect(page.locator(".step-say")).to_have_text("thickness planer weighs 132 kg")
    assert 'reads = "80 kg"' in stands.job.read_text(encoding="utf-8")


def test_a_reading_typed_on_the_page_is_saved_and_answered_anew(stands: Shed, open_page: Opener) -> None:
    stands.job.write_text(EXAMPLE.read_text(encoding="utf-8"), encoding="utf-8")
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


def test_a_machine_whose_mass_was_given_is_weighed_side_by_side(stands: Shed, open_page: Opener) -> None:
    """Readings of the inner and the outer pair go in together, in place of the mass; their sum is the machine's."""
    text = EXAMPLE.read_text(encoding="utf-8")
    first, behind = text.index("    [[stand.machine.scale]]"), text.index("    [[stand.machine.speed]]")
    given = (text[:first] + text[behind:]).replace("[stand.machine]\n", '[stand.machine]\n  mass = "120 kg"\n', 1)
    stands.job.write_text(given, encoding="utf-8")
    page = begun(open_page(stands.link, **PHONE))
    assert "inner pair" in page.locator(".step-say").inner_text()
    page.locator(".step-field input").fill("74")
    page.locator(".step-button.on").click()
    expect(page.locator(".step-say")).to_contain_text("outer pair")
    assert stands.job.read_text(encoding="utf-8") == given
    page.locator(".step-field input").fill("51.5")
    page.locator(".step-button.on").dblclick()
    expect(page.locator(".step-say")).to_contain_text("left pair")
    expect(page.locator(".step-note")).to_contain_text("One more reading")
    forward_to(page, "weighs")
    expect(page.locator(".step-say")).to_have_text("thickness planer weighs 126 kg")
    now = stands.job.read_text(encoding="utf-8")
    assert 'mass = "120 kg"' not in now and now.count("[[stand.machine.scale]]") == 2
    # A third side, once two are known.
    page.get_by_role("button", name="Back").click()
    page.locator(".step-field input").fill("63")
    page.locator(".step-button.on").click()
    expect(page.locator(".step-say")).to_contain_text("weighs")
    assert stands.job.read_text(encoding="utf-8").count("[[stand.machine.scale]]") == 3
