"""For everyone: axe-core finds nothing serious, the keyboard reaches everything, a phone shows it, day and night."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Shed, answered

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
    start = open_page(shed.link.split("&job=")[0], **more)
    start.locator(".shapes").wait_for()
    assert serious(start, axe) == []
    picture(start, f"start-{size}-{scheme}", whole=True)
    page = open_page(shed.link, **more)
    answered(page)
    page.get_by_role("textbox", name="arm", exact=True).focus()
    page.evaluate("() => document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    assert serious(page, axe) == []
    picture(page, f"part-{size}-{scheme}", whole=True)
    wider = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wider <= 0, "the page scrolls sideways"


def test_axe_would_say_so(shed: Shed, open_page: Opener, axe: str) -> None:
    """The twin: a field whose label is taken away is found."""
    page = open_page(shed.link)
    answered(page, "shape")
    page.evaluate(
        "() => { const row = document.querySelector('.row'); row.querySelector('label').remove();"
        " row.querySelector('input').removeAttribute('placeholder'); }"
    )
    assert any(line.startswith("label:") for line in serious(page, axe))


def test_the_keyboard_reaches_and_works_everything(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page)
    page.locator("body").press("Tab")
    expect(page.get_by_text("To the content")).to_be_focused()
    reached = {"A To the content"}
    for _ in range(160):
        page.keyboard.press("Tab")
        here = page.evaluate(
            "() => { const e = document.activeElement; return e === document.body ? '' :"
            " `${e.tagName} ${e.getAttribute('aria-label') ?? e.dataset.way ?? e.textContent.slice(0, 30)}`; }"
        )
        if here == "":
            break
        reached.add(here)
    wanted = page.evaluate(
        """() => Array.from(document.querySelectorAll("button, input, select, a[href], summary, canvas, svg.flat"))
        .filter((e) => e.matches("svg.flat") || (!e.disabled && e.checkVisibility({ contentVisibilityAuto: true })
          && !(e.type === "radio" && !e.checked)))
        .map((e) => `${e.tagName} ${e.getAttribute('aria-label') ?? e.dataset.way ?? e.textContent.slice(0, 30)}`)"""
    )
    assert set(wanted) - reached == set()
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
