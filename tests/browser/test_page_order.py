"""One press in the page brings the order folder, or says why there is none yet."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page

from tests.browser.conftest import JOB, Shed

Opener = Callable[..., Page]


def pressed(page: Page, into: Path) -> Path:
    """What the order button brings."""
    link = page.get_by_role("link", name="Order folder")
    link.wait_for(timeout=30_000)
    with page.expect_download(timeout=120_000) as coming:
        link.click()
    target = into / coming.value.suggested_filename
    coming.value.save_as(target)
    return target


def test_the_order_folder_comes_as_one_archive(shed: Shed, open_page: Opener, tmp_path: Path) -> None:
    text = JOB.replace('arm = "160 mm"', 'arm = "90 mm"')
    shed.job.write_text(text, encoding="utf-8")
    got = pressed(open_page(shed.link), tmp_path)
    assert got.suffix == ".zip", got.read_text(encoding="utf-8")
    names = zipfile.ZipFile(got).namelist()
    assert "order/contents.json" in names
    assert any(name.endswith(".dxf") for name in names)
    assert any(name.endswith("-drawing.pdf") for name in names)
