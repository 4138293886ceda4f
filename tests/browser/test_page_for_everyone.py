"""For everyone: axe-core finds nothing serious, the keyboard reaches everything, a phone shows it, day and night."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import JOB, Shed, answered, start, stop

Opener = Callable[..., Page]
Keep = Callable[..., None]

SIZES = {"desk": {"width": 1280, "height": 720}, "phone": {"width": 390, "height": 780}}


def serious(page: Page, axe: str) -> list[str]:
    """What axe-core calls serious or critical (rules of WCAG 2.2, levels A and AA), each with its first place."""
    page.evaluate(axe)
    found: list[dict[str, Any]] = page.evaluate(
        "async () => (await axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', 'best-practice']})).violations"
    )
    return [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found if v["impact"] in ("serious", "critical")]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_nothing_serious_stands_in_anybodys_way(
    shed: Shed, open_page: Opener, picture: Keep, axe: str, size: str, scheme: str
) -> None:
    more = {"viewport": SIZES[size], "color_scheme": scheme, "has_touch": size == "phone"}
    first = open_page(shed.link.split("&job=")[0], **more)
    first.locator(".shapes").wait_for()
    assert serious(first, axe) == []
    picture(first, f"start-{size}-{scheme}", whole=True)
    page = open_page(shed.link, **more)
    answered(page)
    page.get_by_role("textbox", name="arm", exact=True).focus()
    page.evaluate("() => document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    assert serious(page, axe) == []
    picture(page, f"part-{size}-{scheme}", whole=True)
    wider = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wider <= 0, "the page scrolls sideways"


SALE = """
[sale]
part = "mast bracket"
design = "400 EUR"
batch = 10
demand = { low = 2, high = 8 }
"""
STAND = Path(__file__).resolve().parents[2] / "examples" / "press-stand.toml"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shed]:
    """A job with parts, a sale, quotes and stands: everything the page can show."""
    folder = tmp_path_factory.mktemp("whole")
    stands = STAND.read_text(encoding="utf-8").partition("[[stand]]")
    (folder / "corner.toml").write_text(JOB + SALE + "\n" + stands[1] + stands[2], encoding="utf-8")
    quotes = "part,quantity,total,date,shop\nmast bracket,4,96 EUR,2019-03-02,Harbour Metal\n"
    (folder / "corner-quotes.csv").write_text(quotes, encoding="utf-8")
    process, link = start(str(folder / "corner.toml"), state=tmp_path_factory.mktemp("state"))
    yield Shed(folder, link)
    stop(process)


def show_money(page: Page) -> None:
    page.locator(".parts a", has_text="What it costs me").click()
    page.locator("#sheets img").first.wait_for(timeout=120_000)


def show_order(page: Page) -> None:
    page.locator(".parts a", has_text="Order folder").click()
    page.get_by_role("button", name="Make the order folder").click()
    page.locator(".sheet-seen img, .sheet-seen pre").first.wait_for(timeout=120_000)


def show_stand(page: Page) -> None:
    page.locator(".parts a", has_text="as it was").click()
    page.locator(".stand-seen img").first.wait_for()


def show_steps(page: Page) -> None:
    show_stand(page)
    page.get_by_role("button", name="Step by step").click()
    page.locator(".step-say").wait_for()


SECTIONS = {"money": show_money, "order": show_order, "stand": show_stand, "steps": show_steps}


@pytest.mark.parametrize("section", SECTIONS)
def test_nothing_serious_stands_in_the_way_of_any_section(
    whole: Shed, open_page: Opener, picture: Keep, axe: str, section: str
) -> None:
    """Light and dark, at a desk and on a phone: one page, whose size and light are changed as it stands there."""
    page = open_page(whole.link)
    SECTIONS[section](page)
    page.evaluate("() => document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    for size, viewport in SIZES.items():
        page.set_viewport_size(viewport)  # type: ignore[arg-type]
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            assert serious(page, axe) == [], f"{size}, {scheme}"
            picture(page, f"{section}-{size}-{scheme}", whole=section != "steps")
        wider = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wider <= 0, f"{section} scrolls sideways on a {size}"


@pytest.mark.parametrize("section", SECTIONS)
def test_the_keyboard_goes_all_the_way_through_every_section(whole: Shed, open_page: Opener, section: str) -> None:
    page = open_page(whole.link)
    SECTIONS[section](page)
    if section == "steps":
        page.locator(".step-say").focus()
    else:
        page.locator("body").press("Tab")
    assert unreached(page, "dialog " if section == "steps" else "") == set()


def test_the_steps_are_done_and_left_with_the_keyboard(whole: Shed, open_page: Opener) -> None:
    page = open_page(whole.link)
    show_steps(page)
    expect(page.locator(".step-say")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator(".steps-where")).to_contain_text("Step 2 of")
    page.keyboard.press("Escape")
    expect(page.locator("dialog.steps")).to_be_hidden()


def test_axe_would_say_so(shed: Shed, open_page: Opener, axe: str) -> None:
    """The twin: a field whose label is taken away is found."""
    page = open_page(shed.link)
    answered(page, "shape")
    page.evaluate(
        "() => { const row = document.querySelector('.row'); row.querySelector('label').remove();"
        " row.querySelector('input').removeAttribute('placeholder'); }"
    )
    assert any(line.startswith("label:") for line in serious(page, axe))


NAME = "`${e.tagName} ${e.getAttribute('aria-label') ?? e.dataset.way ?? e.dataset.file ?? e.textContent.slice(0, 40)}`"


def unreached(page: Page, inside: str = "") -> set[str]:
    """What can be worked with and is not reached by the tabulator, from where the focus stands."""
    here = f"() => {{ const e = document.activeElement; return e === document.body ? '' : {NAME}; }}"
    first = page.evaluate(here)
    reached = {first}
    # All around: behind the last comes the browser itself, then the first again.
    for _ in range(300):
        page.keyboard.press("Tab")
        name = page.evaluate(here)
        if name == first:
            break
        reached.add(name)
    kinds = ", ".join(
        f"{inside}{kind}"
        for kind in ("button", "input", "select", "textarea", "a[href]", "summary", "canvas", "svg.flat")
    )
    wanted = page.evaluate(
        f"""() => Array.from(document.querySelectorAll("{kinds}"))
        .filter((e) => e.matches("svg.flat") ? e.checkVisibility() : (!e.disabled
          && e.checkVisibility({{ contentVisibilityAuto: true }}) && !(e.type === "radio" && !e.checked)))
        .map((e) => {NAME})"""
    )
    return set(wanted) - reached


def test_the_keyboard_reaches_and_works_everything(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page)
    page.locator("body").press("Tab")
    expect(page.get_by_text("To the content")).to_be_focused()
    assert unreached(page) == set()
    before = page.evaluate("() => document.querySelector('.stage').picture.camera.position.toArray()")
    page.locator("canvas").focus()
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("() => document.querySelector('.stage').picture.camera.position.toArray()") != before


def test_a_verdict_is_a_word_and_a_drawing_never_a_colour_alone(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page)
    colours = page.locator(".verdict .word, .parts small, .finding .severity").evaluate_all(
        "all => all.map(each => getComputedStyle(each).color)"
    )
    words = page.locator(".verdict .word, .finding .severity").all_inner_texts()
    assert all(words) and len(set(colours)) <= 2
    assert page.locator(".verdict svg.beam").count() == 1
