"""The examples in the guide to stands are read and rated as they stand there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from steadfold.job import read_job_text
from steadfold.job.stand_table import read_stands
from steadfold.stand.review import review_stand

GUIDE = Path(__file__).resolve().parents[2] / "docs" / "stand.md"
SNIPPETS = re.findall(r"```toml\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)


@pytest.mark.parametrize("snippet", SNIPPETS)
def test_every_example_of_the_guide_is_a_stand(snippet: str) -> None:
    for stand in read_stands(read_job_text("steadfold = 1\n" + snippet, "guide.toml")):
        report = review_stand(stand)
        assert report.members and report.weakest


def test_the_guide_has_examples_and_names_every_command() -> None:
    text = GUIDE.read_text(encoding="utf-8")
    assert len(SNIPPETS) >= 2
    for command in ("weigh", "level", "topple", "template"):
        assert f"`{command}`" in text or f"steadfold {command}" in text
