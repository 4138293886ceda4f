"""Quotes that come by the socket: foreign senders, crooked names and broken files change nothing beside the job."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.faults.page_server import JOB, Running, running

from steadfold.page.history import History, revision_of
from steadfold.page.quotes_file import QuotesFile

GOOD = "part,quantity,total,date,shop\noar rack,6,118.40 EUR,2025-03-02,Harbour Metal\n"


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Running]:
    (tmp_path / "jobs").mkdir()
    with running(tmp_path / "jobs") as found:
        yield found


def put(page: Running, text: Any, before: str = "", **headers: str) -> tuple[int, Any]:
    body = json.dumps({"text": text, "before": revision_of(before)}).encode()
    status, _, told = page.ask("POST", f"{page.job()}/quotes", headers, body)
    return status, json.loads(told or b"null")


def kept(page: Running) -> str | None:
    path = page.folder / "rack-quotes.csv"
    return path.read_bytes().decode("utf-8") if path.exists() else None


def test_good_quotes_are_kept_whole_and_the_versions_before_them_too(page: Running) -> None:
    assert put(page, GOOD)[0] == 200
    assert kept(page) == GOOD
    more = GOOD + "oar rack,1,61 EUR,2026-01-07,Harbour Metal\n"
    assert put(page, more, before=GOOD)[0] == 200 and kept(page) == more
    status, told = put(page, GOOD, before=GOOD)
    assert status == 409 and "changed elsewhere" in told["say"] and kept(page) == more
    assert put(page, None, before=more)[0] == 200 and kept(page) == GOOD


@pytest.mark.parametrize(
    ("headers", "status"),
    [({"Origin": "http://evil.example"}, 403), ({"Content-Type": "text/plain"}, 415), ({"Cookie": "x=y"}, 401)],
)
def test_a_stranger_puts_no_quotes(page: Running, headers: dict[str, str], status: int) -> None:
    body = json.dumps({"text": GOOD, "before": revision_of("")}).encode()
    assert page.ask("POST", f"{page.job()}/quotes", headers, body)[0] == status
    assert kept(page) is None


@pytest.mark.parametrize(
    "text",
    ["\x00\x01", "part;quantity\n1;2", '"' * 5000, GOOD + "x" * 300_000, "a,b\n" * 20_000, "\ud800", "=cmd|' /C'!A0"],
)
def test_what_is_no_list_of_quotes_is_refused_in_a_sentence_and_not_kept(page: Running, text: str) -> None:
    status, told = put(page, text)
    assert status in (400, 422) and told["say"] and kept(page) is None
    assert page.ask(path="/")[0] == 200


@pytest.mark.parametrize("text", [7, [GOOD], {"a": 1}, "x" * 1_200_000])
def test_what_is_no_text_or_too_much_is_refused(page: Running, text: Any) -> None:
    body = json.dumps({"text": text, "before": revision_of("")}).encode()
    assert page.ask("POST", f"{page.job()}/quotes", None, body)[0] in (400, 413)
    assert kept(page) is None


@pytest.mark.parametrize(
    "named", ["../secret.csv", "/etc/hostname.csv", "rack.toml", "../jobs-beside/x.csv", "a\\u0000b.csv"]
)
def test_a_job_that_names_a_file_elsewhere_reads_and_writes_none_there(page: Running, named: str) -> None:
    (page.folder.parent / "secret.csv").write_text(GOOD, encoding="utf-8")
    job = JOB + f'\n[sale]\nquotes = "{named}"\n'
    (page.folder / "rack.toml").write_text(job, encoding="utf-8")
    status, _, told = page.ask(path=f"{page.job()}/money")
    assert GOOD.splitlines()[1].encode() not in told, status
    assert put(page, GOOD.replace("Harbour", "Quayside"))[0] == 200
    assert (page.folder.parent / "secret.csv").read_text(encoding="utf-8") == GOOD
    assert (page.folder / "rack.toml").read_text(encoding="utf-8") == job


def test_a_link_that_leads_out_is_neither_read_nor_written(tmp_path: Path) -> None:
    """And the twin: without the check that the link stays inside, it is read."""
    folder = tmp_path / "jobs"
    folder.mkdir()
    (tmp_path / "secret.csv").write_text(GOOD, encoding="utf-8")
    (folder / "rack-quotes.csv").symlink_to(tmp_path / "secret.csv")
    history = History(folder)
    quotes = QuotesFile(folder / "rack.toml", history)
    quotes.look()
    assert quotes.text == ""
    with pytest.raises(OSError, match="out of the job's folder"):
        quotes.keep("mine")
    assert (tmp_path / "secret.csv").read_text(encoding="utf-8") == GOOD
    unguarded = QuotesFile(folder / "rack.toml", history)
    unguarded._inside = lambda named: True  # type: ignore[method-assign]
    unguarded.look()
    assert unguarded.text == GOOD
    history.close()


@pytest.mark.parametrize(
    "which", ["..%2f..%2frack.toml", "%2e%2e/rack.toml", "sale.svg%00", "sheet-9-9-mm.svg", "sale"]
)
def test_a_crooked_picture_of_money_finds_nothing(page: Running, which: str) -> None:
    assert page.ask(path=f"{page.job()}/money/picture/{which}")[0] == 404
