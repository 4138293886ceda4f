"""One press makes the order folder: what is in it and what is not is said, each sheet can be looked at, one archive."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, expect

from steadfold.job import read_job
from steadfold.review import review
from tests.browser.conftest import JOB, Shed, answered

Opener = Callable[..., Page]
Keep = Callable[..., None]


def test_the_order_folder_is_made_looked_at_and_taken_along(
    shed: Shed, open_page: Opener, picture: Keep, tmp_path: Path
) -> None:
    shed.job.write_text(JOB.replace('arm = "160 mm"', 'arm = "90 mm"'), encoding="utf-8")
    whole = review(read_job(shed.job))
    fit = [part.name for part in whole.parts if str(part.verdict) in ("enough", "tight")]
    page = open_page(shed.link)
    answered(page, "shape")
    page.get_by_role("button", name="Make the order folder").click()
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
    links = order.locator(".sheets a").evaluate_all("all => all.map(each => each.href)")
    assert len(links) == len(names)
    for link in links[:6]:
        got = page.request.get(link)
        name = "order/" + re.sub(r"^.*/order/file/", "", link)
        assert got.status == 200 and got.body() == opened.read(name)


def test_what_is_left_out_can_be_had_all_the_same_and_says_so(shed: Shed, open_page: Opener) -> None:
    from pypdfium2 import PdfDocument

    shed.job.write_text(JOB.replace('arm = "160 mm"', 'arm = "90 mm"'), encoding="utf-8")
    page = open_page(shed.link)
    answered(page, "shape")
    page.get_by_role("checkbox", name="also what is not enough or unproven").check()
    page.get_by_role("button", name="Make the order folder").click()
    link = page.locator("#order .sheets a", has_text=re.compile("paint-tray.*drawing.pdf"))
    link.first.wait_for(timeout=120_000, state="attached")
    got = page.request.get(str(link.first.evaluate("each => each.href"))).body()
    text = "".join(sheet.get_textpage().get_text_range() for sheet in PdfDocument(io.BytesIO(got)))
    verdict = str(review(read_job(shed.job)).parts[1].verdict)
    assert verdict in ("not enough", "unproven") and verdict in text.lower()
