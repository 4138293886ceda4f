"""Money on the page: what it costs, quotes, sheets and selling, number for number what the library says."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from steadfold.job import read_job
from steadfold.job.sale_table import read_sale
from steadfold.money.product import product
from steadfold.money.quotes import quotes_in
from steadfold.review.costing import JobCost, goods_of, job_cost
from steadfold.review.plain_money import plain_cost, plain_sale
from tests.browser.conftest import JOB, Shed

Opener = Callable[..., Page]
Keep = Callable[..., None]

SALE = """
[sale]
name = "mast bracket, pair"
contents = { "mast bracket" = 2 }
channel_fee = "12 %"
design = "400 EUR"
batch = 10
demand = { low = 2, high = 8 }
"""
QUOTES = """part,quantity,total,date,shop
mast bracket,4,96.00 EUR,2019-03-02,Harbour Metal
paint tray,1,64.50 EUR,2026-02-11,Harbour Metal
dory cradle,2,50.00 EUR,2026-02-11,Harbour Metal
"""


@pytest.fixture(autouse=True)
def as_it_was(shed: Shed) -> Iterator[None]:
    shed.job.write_text(JOB + SALE, encoding="utf-8")
    kept(shed).unlink(missing_ok=True)
    yield


def kept(shed: Shed) -> Path:
    return shed.folder / "corner-quotes.csv"


def opened(shed: Shed, open_page: Opener, **more: Any) -> Page:
    page = open_page(shed.link, **more)
    page.locator(".parts a", has_text="What it costs me").click()
    page.locator(".total").first.wait_for()
    return page


def in_library(shed: Shed) -> JobCost:
    quotes = quotes_in(kept(shed), "EUR") if kept(shed).is_file() else ()
    return job_cost(read_job(shed.job), quotes)


def amount(value: float) -> str:
    return f"{value:.2f}"


def says_the_cost(page: Page, cost: dict[str, Any]) -> None:
    order = cost["order"]
    expect(page.locator("#order-cost .total")).to_have_text(f"{amount(order['total'])} EUR")
    expect(page.locator("#order-cost")).to_contain_text(
        f"between {amount(order['low'])} EUR and {amount(order['high'])} EUR"
    )
    rows = page.locator("#part-costs .inside > .table-box tbody tr")
    found = [row.split("\t") for row in rows.all_inner_texts()]
    assert [[cell.strip() for cell in row[:4]] for row in found] == [
        [p["name"], str(p["quantity"]), f"{amount(p['each'])} EUR", f"{amount(p['low'])} and {amount(p['high'])}"]
        for p in cost["parts"]
    ]
    for row, part in zip(found, cost["parts"], strict=True):
        assert re.findall(r"(\d+): ([\d.]+)", row[4]) == [(str(a["quantity"]), amount(a["each"])) for a in part["at"]]
    codes = page.locator("#order-cost .finding").evaluate_all("all => all.map(each => each.dataset.code)")
    assert set(codes) == {f["code"] for f in cost["findings"]}


def test_what_it_costs_is_what_the_library_reckons(shed: Shed, open_page: Opener) -> None:
    expected = plain_cost(in_library(shed))
    page = opened(shed, open_page)
    says_the_cost(page, expected)
    money = page.locator("#part-costs details").first.locator("tbody td:nth-child(3)").all_text_contents()
    first = expected["parts"][0]
    assert money == [amount(each["money"]) for each in first["lines"]] + [amount(first["shipping"]["money"])]
    expect(page.locator("#order-cost")).to_contain_text("Uncalibrated")


def test_what_to_charge_is_what_the_library_reckons_with_every_finding(
    shed: Shed, open_page: Opener, picture: Keep
) -> None:
    cost = in_library(shed)
    sale = read_sale(read_job(shed.job), cost.rates.currency, cost.rates.shipping)
    assert sale is not None
    expected = plain_sale(product(sale, goods_of(cost, sale)))
    page = opened(shed, open_page)
    expect(page.locator("#sale")).to_contain_text(expected["say"])
    expect(page.locator("#sale")).to_contain_text(expected["standing"])
    cells = page.locator("#sale table tbody tr").first.locator("td").all_text_contents()
    row = expected["variants"][0]
    keys = ("price", "landed", "packaging", "postage", "fees", "returns", "reserve", "contribution")
    assert cells == [*(amount(row[key]) for key in keys), str(row["break_even"])]
    codes = page.locator("#sale .finding").evaluate_all("all => all.map(each => each.dataset.code)")
    assert codes == [f["code"] for f in expected["findings"]] and "first-order-loses" in codes
    drawn = page.locator("#sale img")
    assert drawn.evaluate("each => each.decode().then(() => each.naturalWidth)") > 300
    design = page.locator("[data-way='sale/design']")
    design.fill("10 EUR")
    design.press("Enter")
    expect(page.locator("#sale .finding[data-code=first-order-loses]")).to_have_count(0)
    demand = page.locator("[data-way='sale/demand']")
    demand.fill("1 to 3")
    demand.press("Enter")
    expect(page.locator(".saved")).to_contain_text("Saved in")
    text = shed.job.read_text(encoding="utf-8")
    assert 'design = "10 EUR"' in text and "demand = { low = 1, high = 3 }" in text
    picture(page, "money", whole=True)


def test_a_job_that_says_nothing_of_selling_is_asked_by_one_press(shed: Shed, open_page: Opener) -> None:
    shed.job.write_text(JOB, encoding="utf-8")
    page = opened(shed, open_page)
    page.get_by_role("button", name="Reckon what to charge").click()
    page.locator("#sale table").wait_for()
    job = read_job(shed.job)
    cost = job_cost(job)
    sale = read_sale(job, "EUR", cost.rates.shipping)
    assert sale is not None and sale.contents == (("mast bracket", 1),)
    price = plain_sale(product(sale, goods_of(cost, sale)))["variants"][0]["price"]
    expect(page.locator("#sale table tbody td").first).to_have_text(amount(price))


def test_bad_quotes_are_told_line_by_line_and_nothing_is_kept(shed: Shed, open_page: Opener) -> None:
    page = opened(shed, open_page, expect_refusals=True)
    box = page.locator("#quotes textarea")
    box.fill("part,quantity,total,date,shop\nmast bracket,four,96,2025-03-02,Harbour Metal\npaint tray,1,9 USD,x,Quay")
    page.get_by_role("button", name="Use these quotes").click()
    told = page.locator("#quotes .fault")
    expect(told).to_contain_text("line 2: 'four' is no quantity")
    expect(told).to_contain_text("line 3: 'x' is not a date")
    expect(told).to_contain_text("not in EUR")
    box.fill("what,how many\n1,2")
    page.get_by_role("button", name="Use these quotes").click()
    expect(told).to_contain_text("there is no column 'part'")
    assert not kept(shed).exists()


@pytest.mark.parametrize("way", ["pasted", "dropped"])
def test_quotes_are_kept_beside_the_job_and_the_costs_follow_them(shed: Shed, open_page: Opener, way: str) -> None:
    page = opened(shed, open_page)
    if way == "pasted":
        page.locator("#quotes textarea").fill(QUOTES)
        page.get_by_role("button", name="Use these quotes").click()
    else:
        file = {"name": "asked.csv", "mimeType": "text/csv", "buffer": QUOTES.encode()}
        page.locator("#quotes input[type=file]").set_input_files(file)  # type: ignore[arg-type]
    page.locator("#quotes tbody tr").first.wait_for()
    assert kept(shed).read_text(encoding="utf-8") == QUOTES
    expected = plain_cost(in_library(shed))
    says_the_cost(page, expected)
    expect(page.locator("#order-cost")).to_contain_text("Calibrated by 2 quotes of Harbour Metal")
    assert "quote-stale" in {f["code"] for f in expected["findings"]}
    expect(page.locator("#quotes")).to_contain_text(expected["unused_quotes"][0])
    page.get_by_role("button", name="Take the last change back").click()
    expect(page.locator("#order-cost")).to_contain_text("Uncalibrated")
    assert kept(shed).read_text(encoding="utf-8") == ""


def test_quotes_changed_elsewhere_are_shown_in_every_browser(shed: Shed, open_page: Opener) -> None:
    one, other = opened(shed, open_page), opened(shed, open_page)
    kept(shed).write_text(QUOTES, encoding="utf-8")
    for page in (one, other):
        expect(page.locator("#order-cost")).to_contain_text("Calibrated by 2 quotes")
        expect(page.locator("#quotes textarea")).to_have_value(QUOTES)


def test_the_sheets_are_laid_out_in_the_background_and_the_share_used_is_true(
    shed: Shed, open_page: Opener, picture: Keep
) -> None:
    page = opened(shed, open_page)
    page.locator("#sheets progress").wait_for()
    page.locator("#sheets img").first.wait_for(timeout=100_000)
    got = page.request.get(f"{page.url.split('?')[0].replace('/job/', '/api/jobs/')}/money?sheets=1").json()
    area = {each.ordered.name: each.flat.area_mm2 for each in in_library(shed).priced}
    assert sum(sheet["laid"] for group in got["groups"] for sheet in group["sheets"]) == 5, "4 brackets and a tray"
    words = page.locator("#sheets").inner_text()
    assert f"{amount(got['cost']['order']['total'])} EUR" in words
    for group in got["groups"]:
        parts = sum(each["count"] * area[each["name"]] for each in group["parts"])
        used = sum(sheet["used_mm"] * sheet["width_mm"] for sheet in group["sheets"])
        # The library follows curves by short straight lines.
        assert group["density"] == pytest.approx(parts / used, rel=2e-3)
        assert f"{100 * group['density']:.1f} % of what is used up" in words
    widths = page.locator("#sheets img").evaluate_all(
        "all => Promise.all(all.map(each => each.decode().then(() => each.naturalWidth)))"
    )
    assert len(widths) == 2 and min(widths) > 500
    page.locator("#sheets").scroll_into_view_if_needed()
    picture(page, "money-sheets", whole=True)
