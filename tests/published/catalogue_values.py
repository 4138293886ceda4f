"""The printed values that the catalogue's tests lean on, each with its source and whether it was only recalled."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

VALUES = Path(__file__).parent / "values"


@cache
def values(name: str) -> Any:
    """One file of printed values."""
    return json.loads((VALUES / f"{name}.json").read_text(encoding="utf-8"))


def rows(prefix: str) -> list[dict[str, Any]]:
    """The rows of `catalogue.json` whose id starts with the prefix; there must be some."""
    found = [row for row in values("catalogue") if row["id"].startswith(prefix)]
    assert found, f"no printed value starts with {prefix}"
    return found


def as_printed(row: dict[str, Any], expected: float | None = None) -> Any:
    """The row's expected value, or another of the same row, with the tolerance the source's printing gives."""
    value = row["expected"] if expected is None else expected
    return pytest.approx(value, abs=row["tolerance"].get("abs", 0.0), rel=row["tolerance"].get("rel", 0.0))


def ids(row: Any) -> str:
    """A test's name from a row: its id, and the word recalled where nobody looked the value up."""
    return row["id"] + (" recalled" if row["from_memory"] else "") if isinstance(row, dict) else str(row)
