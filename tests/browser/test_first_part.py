"""docs/first-part.md tells the walk that is really walked, and it still ends in a part that is enough."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.first_part import JOB, PAGE, PICTURES, TYPED, by_command


def test_the_page_of_the_first_part_tells_what_the_walk_types() -> None:
    page = PAGE.read_text(encoding="utf-8")
    told = [line[2:] for line in page.splitlines() if line.startswith("$ ")]
    assert told == [typed for _, typed in TYPED]
    for picture in sorted(PICTURES.glob("first-part-*")):
        assert f"pictures/{picture.name}" in page


@pytest.mark.slow
def test_the_walk_ends_in_a_part_that_is_enough_with_its_flat(tmp_path: Path) -> None:
    *_, first, edit, second, flat = by_command(tmp_path)
    assert "2. " in first.seen and "mount_holes" in first.seen
    assert edit.seen == "mount_holes = 4"
    assert "shelf: enough." in second.seen
    assert flat.seen.splitlines() == [f"{JOB.rsplit('/', 1)[0]}/flats/shelf.{kind}" for kind in ("dxf", "svg")]
