"""The docs: built strictly without a network, true to the code, and every worked addition really added."""

from __future__ import annotations

import ast
import re
import shlex
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from docs_theme.written import FINDINGS, HOUSE, findings_page, floors, house_svg, registers
from tests.rules.test_codes import registers as codes_of_the_house

from steadfold.cli.main import parser

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
SOURCE = ROOT / "src" / "steadfold"
METHODS = sorted(p for p in (DOCS / "methods").glob("*.md") if p.name != "index.md")
PLACE = re.compile(r"`([\w/]+\.py)(?:: (\w+))?`")
ADDED = re.compile(
    r"In (a new file )?`(src/[^`]+)`(?:, (at the end)|, after `([^`]+)`)?:\n\n```\w+\n(.*?)```", re.DOTALL
)
THEN = re.compile(r"Then:\n\n```python\n(.*?)```", re.DOTALL)
KINDS = ("material", "shape", "finding", "fixing", "operation")
ADDITIONS = re.findall(
    rf"^## An? ({'|'.join(KINDS)})\n(.*?)(?=^## )",
    (DOCS / "carrying-on.md").read_text(encoding="utf-8"),
    re.DOTALL | re.MULTILINE,
)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The docs as a site; a broken link, a page left out of the list or a warning fails it."""
    made = tmp_path_factory.mktemp("site")
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", str(made)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return made


def test_the_site_is_built_strictly_and_every_page_is_in_it(site: Path) -> None:
    pages = {p.relative_to(DOCS).with_suffix(".html").as_posix() for p in DOCS.rglob("*.md")}
    made = {p.relative_to(site).as_posix() for p in site.rglob("*.html")}
    assert pages <= made
    assert len(pages) > 25


@pytest.mark.parametrize("broken", ["[gone](gone.md)", "[gone](../gone.md)", "[gone](job-file.md#no-such-heading)"])
def test_a_broken_link_stops_the_build(broken: str, tmp_path: Path) -> None:
    for name in ("docs", "docs_theme", "decisions", "examples"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("mkdocs.yml", "CONTRIBUTING.md", "hatch_build.py", "README.md"):
        shutil.copyfile(ROOT / name, tmp_path / name)
    page = tmp_path / "docs" / "index.md"
    page.write_text(page.read_text(encoding="utf-8") + f"\n{broken}\n", encoding="utf-8")
    words = [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", str(tmp_path / "site")]
    done = subprocess.run(words, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert "gone" in done.stderr or "no-such-heading" in done.stderr


def test_a_page_of_the_site_asks_nobody_else(site: Path) -> None:
    """No script, style, font or picture from another place; a plain link to read on is no request."""
    for path in site.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"<script|<iframe|@import", text), path.name
        for tag in re.findall(r"<(?:link|img|source|object|embed)[^>]+>", text):
            assert not re.search(r"(?:href|src|data)=[\"'](?:https?:)?//", tag), (path.name, tag)
    for path in site.rglob("*.css"):
        assert not re.search(r"url\(|@import", path.read_text(encoding="utf-8")), path.name


def test_every_picture_of_the_docs_is_small() -> None:
    heavy = {
        p.name: p.stat().st_size for p in DOCS.rglob("*") if p.suffix in (".png", ".jpg") and p.stat().st_size > 150_000
    }
    assert heavy == {}


def test_the_list_of_codes_and_the_picture_of_the_house_are_the_codes_own() -> None:
    assert FINDINGS.read_text(encoding="utf-8") == findings_page(FINDINGS.read_text(encoding="utf-8")), (
        "make docs writes it anew"
    )
    assert HOUSE.read_text(encoding="utf-8") == house_svg(), "make docs draws it anew"
    assert {code for codes in registers().values() for code in codes} == set(codes_of_the_house())
    rooms = {path.name for path in SOURCE.iterdir() if path.is_dir() and (path / "__init__.py").exists()}
    rooms |= {path.name for path in SOURCE.iterdir() if path.is_dir() and any(path.glob("*.py"))}
    assert {room for floor in floors() for room in floor} == rooms


@cache
def names_in(path: Path) -> frozenset[str]:
    body = ast.parse(path.read_text(encoding="utf-8")).body
    return frozenset(node.name for node in body if isinstance(node, (ast.FunctionDef, ast.ClassDef)))


@pytest.mark.parametrize("page", METHODS, ids=lambda p: p.stem)
def test_a_method_says_what_it_gives_where_it_holds_its_source_and_where_it_stands(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for part in ("**What it gives.**", "## Where it holds", "## Source", "## Held by"):
        assert part in text, part
    places = [(file, name) for file, name in PLACE.findall(text) if not file.startswith("tests/")]
    assert places, "no place in the code"
    for file, name in places:
        assert (SOURCE / file).is_file(), file
        assert not name or name in names_in(SOURCE / file), f"{file} has no {name}"
    tests = re.findall(r"`(tests/[\w/]+\.py)`", text)
    assert tests, "no test"
    assert [each for each in tests if not (ROOT / each).is_file()] == []


def commands() -> list[tuple[str, str]]:
    """Every command line that the docs tell a reader to type."""
    found = []
    for path in [ROOT / "README.md", *DOCS.rglob("*.md")]:
        text = path.read_text(encoding="utf-8")
        typed = re.findall(r"^(?:    |\$ )(?:\.venv/bin/)?steadfold ([a-z].*)$", text, re.MULTILINE)
        typed += re.findall(r"`steadfold ([a-z][^`]*)`", text)
        found += [(path.name, line.split("  #")[0].strip()) for line in typed if "\n" not in line]
    return found


def test_every_command_of_the_docs_is_one_that_steadfold_takes() -> None:
    refused = []
    for page, line in commands():
        words = [word for word in shlex.split(line) if word != "…"]
        try:
            parser().parse_args(words)
        except SystemExit as end:
            # A command that is only named, without what it takes, is fine in running text.
            if end.code and len(words) > 1:
                refused.append((page, line))
    assert refused == []
    assert len(commands()) > 40


def test_one_of_each_kind_is_added() -> None:
    assert tuple(kind for kind, _ in ADDITIONS) == KINDS


@pytest.mark.parametrize(("title", "text"), ADDITIONS, ids=[kind for kind, _ in ADDITIONS])
def test_what_is_shown_to_be_added_can_be_added_and_used(title: str, text: str, tmp_path: Path) -> None:
    """The package is copied, the page's own lines go in where the page says, and its *then* runs on the copy."""
    copy = tmp_path / "src" / "steadfold"
    shutil.copytree(SOURCE, copy, ignore=shutil.ignore_patterns("__pycache__", "static", "npm"))
    steps = ADDED.findall(text)
    assert steps
    for new, name, at_end, anchor, lines in steps:
        path = tmp_path / name
        if new:
            assert not path.exists()
            path.write_text(lines, encoding="utf-8")
            continue
        old = path.read_text(encoding="utf-8")
        if at_end:
            path.write_text(old + "\n" + lines, encoding="utf-8")
            continue
        assert old.count(anchor) == 1, f"{name}: {anchor!r} stands there {old.count(anchor)} times"
        end = old.index("\n", old.index(anchor)) + 1
        path.write_text(old[:end] + lines + old[end:], encoding="utf-8")
    (then,) = THEN.findall(text)
    statement = f"import sys\nsys.path.insert(0, {str(tmp_path / 'src')!r})\nimport steadfold\n"
    statement += f"assert steadfold.__file__.startswith({str(tmp_path)!r})\n" + then
    done = subprocess.run([sys.executable, "-c", statement], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{title}: {done.stderr}"
