"""Every finding of reading has a name that is explained, and every name is used."""

from __future__ import annotations

import ast
from pathlib import Path

import steadfold.sheet
from steadfold.findings import CODES
from steadfold.sheet.reading_codes import READING_CODES

READERS = sorted(
    path
    for pattern in ("from_solid/*.py", "from_flat/*.py", "cad_*.py")
    for path in Path(steadfold.sheet.__file__).parent.glob(pattern)
)


def codes_of(path: Path) -> set[str]:
    """First arguments of all findings made in a file."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Finding":
            first = node.args[0]
            assert isinstance(first, ast.Constant), f"{path.name}:{node.lineno}"
            found.add(first.value)
    return found


def test_every_code_is_explained_once_and_every_code_of_reading_is_used() -> None:
    assert len(READERS) > 10
    used = set().union(*(codes_of(path) for path in READERS))
    assert used - set(CODES) == set(READING_CODES)
    assert not set(CODES) & set(READING_CODES)
