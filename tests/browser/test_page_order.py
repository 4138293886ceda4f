"""One press makes the order folder: what is in it and what is not is said, each sheet can be looked at, one archive."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from steadfold.job import read_job
from steadfold.review import review
from tests.browser.conftest import JOB, Shed

Opener = Callable[..., Page]
Keep = Callable[..., None]


def test_the_order_folder_is_made_looked_at_and_taken_along(
    shed: Shed, open_page: Opener, picture: Keep, tmp_path: Path
) -> None:
    shed.job.write_text(JOB.replace('arm = "160 mm"', 'arm = "90 mm"'), encoding="utf-8")
    whole = review(read_job(shed.job))
    fit = [part.name for part in whole.parts if str(part.verdict) in ("enough", "tight")]
    page = open_page(shed.link)
    page.locator(".parts a", has_text="Order folder").click()
    page.get_by_role("button", name="Make the order folder").click()
    page.locator("#order progress").wait_for()
    archive = page.get_by_role("link", name="Take it along as one archive")
    archive.wait_for(timeout=120_000)
    order = page.locator("#order")
    assert fit == ["mast bracket"], "the job of this test has one part that is enough and one that is not"
    expect(order).to_contain_text("1 part in it: mast bracket.")
    expect(order).to_contain_text(f"paint tray is left out, {whole.parts[1].verdict}.")
    picture(page, "order", whole=True)
    with page.expect_download(timeout=60_000) as coming:
        archive.click()
    target = tmp_path / coming.value.suggested_filename
    coming.value.save_as(target)
    opened = zipfile.ZipFile(target)
    names = opened.namelist()
    assert "order/contents.json" in names
    json.loads(opened.read("order/contents.json"))
    assert any(name.endswith(".dxf") for name in names)
    assert any(name.endswith("-drawing.pdf") for name in names)
    listed = order.locator(".sheet").evaluate_all("all => all.map(each => each.dataset.file)")
    assert sorted(f"order/{name}" for name in listed) == sorted(names)
    for name in ("shop/mast-bracket-drawing.pdf", "shop/mast-bracket.dxf", "SHA256SUMS"):
        order.locator(f".sheet[data-file='{name}']").evaluate("each => each.click()")
        alone = page.locator(".sheet-seen a")
        expect(page.locator(".sheet-seen h2")).to_have_text(name)
        got = page.request.get(str(alone.evaluate("each => each.href")))
        assert got.status == 200 and got.body() == opened.read(f"order/{name}")


def test_each_sheet_is_looked_at_before_it_goes_out(shed: Shed, open_page: Opener, picture: Keep) -> None:
    """A page of the picture is as wide as the paper: PDFium, reading the same file here, says how wide that is."""
    from pypdfium2 import PdfDocument

    shed.job.write_text(JOB.replace('arm = "160 mm"', 'arm = "90 mm"'), encoding="utf-8")
    page = open_page(shed.link)
    page.locator(".parts a", has_text="Order folder").click()
    page.get_by_role("button", name="Make the order folder").click()
    page.locator(".sheet-seen img").first.wait_for(timeout=120_000)
    order = page.locator("#order")
    order.locator(".sheet[data-file='shop/mast-bracket-drawing.pdf']").press("Enter")
    alone = str(page.locator(".sheet-seen a").evaluate("each => each.href"))
    document = PdfDocument(page.request.get(alone).body())
    papers = page.locator(".sheet-seen img")
    expect(papers).to_have_count(len(document))
    wide = papers.evaluate_all(
        "all => Promise.all(all.map(each => { each.loading = 'eager';"
        " return each.decode().then(() => [each.naturalWidth, each.naturalHeight]); }))"
    )
    for (width, height), sheet in zip(wide, document, strict=True):
        points = sheet.get_size()
        # 130 dots an inch, 72 points an inch.
        assert (width, height) == pytest.approx([p * 130 / 72 for p in points], abs=1.5)
    picture(page, "order-sheet")
    inked = papers.first.evaluate(
        "each => { const c = document.createElement('canvas'); c.width = each.naturalWidth; c.height = each.naturalHeight;"
        " const d = c.getContext('2d'); d.drawImage(each, 0, 0); const p = d.getImageData(0, 0, c.width, c.height).data;"
        " let dark = 0; for (let i = 0; i < p.length; i += 4) if (p[i] < 100) dark += 1; return dark / (p.length / 4); }"
    )
    assert 0.002 < inked < 0.3, "there is a drawing on it"
    order.locator(".sheet[data-file='shop/mast-bracket.dxf']").press("Enter")
    expect(papers).to_have_count(1)
    assert papers.first.evaluate("each => each.decode().then(() => each.naturalWidth)") > 100
    order.locator(".sheet[data-file='shop/quote-request.csv']").press("Enter")
    expect(page.locator(".text-file")).to_contain_text("mast bracket")


def test_what_is_left_out_can_be_had_all_the_same_and_says_so(shed: Shed, open_page: Opener) -> None:
    from pypdfium2 import PdfDocument

    shed.job.write_text(JOB.replace('arm = "160 mm"', 'arm = "90 mm"'), encoding="utf-8")
    page = open_page(shed.link)
    page.locator(".parts a", has_text="Order folder").click()
    page.get_by_role("checkbox", name="also what is not enough or unproven").check()
    page.get_by_role("button", name="Make the order folder").click()
    sheet = page.locator("#order .sheet", has_text=re.compile("paint-tray.*drawing.pdf"))
    sheet.first.wait_for(timeout=120_000)
    sheet.first.click()
    expect(page.locator(".sheet-seen h2")).to_contain_text("paint-tray")
    got = page.request.get(str(page.locator(".sheet-seen a").evaluate("each => each.href"))).body()
    text = "".join(sheet.get_textpage().get_text_range() for sheet in PdfDocument(io.BytesIO(got)))
    verdict = str(review(read_job(shed.job)).parts[1].verdict)
    assert verdict in ("not enough", "unproven") and verdict in text.lower()


def test_sheets_that_were_laid_out_go_into_the_folder_as_they_were_seen(shed: Shed, open_page: Opener) -> None:
    shed.job.write_text(JOB.replace('arm = "160 mm"', 'arm = "91 mm"'), encoding="utf-8")
    page = open_page(shed.link)
    page.locator(".parts a", has_text="Order folder").click()
    make = page.get_by_role("button", name="Make the order folder")
    make.click()
    page.locator(".sheet[data-file^='shop/']").first.wait_for(timeout=120_000)
    expect(page.locator("#order")).to_contain_text("Not in it: nested sheets")
    page.locator(".parts a", has_text="What it costs me").click()
    page.locator("#sheets img").first.wait_for(timeout=120_000)
    seen = page.request.get(page.url.split("?")[0].replace("/job/", "/api/jobs/") + "/money?sheets=1").json()
    page.locator(".parts a", has_text="Order folder").click()
    make.click()
    expect(page.locator("#order")).not_to_contain_text("Not in it: nested sheets", timeout=120_000)
    page.locator(".sheet[data-file^='shop/']").first.wait_for(timeout=120_000)
    layouts = [
        n for n in page.locator(".sheet").evaluate_all("all => all.map(each => each.dataset.file)") if "sheets" in n
    ]
    drawn = [name for name in layouts if name.endswith(".dxf")]
    bracket = next(g for g in seen["groups"] if g["parts"][0]["name"] == "mast bracket")
    assert len(drawn) == len(bracket["sheets"]), "the tray is left out, and its sheet with it"
