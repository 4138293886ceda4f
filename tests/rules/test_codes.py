"""Every finding's code is in a register with its meaning, and every registered code is used."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from steadfold.fabricate.codes import FABRICATION_CODES
from steadfold.findings import CODES

SOURCE = Path(__file__).parents[2] / "src" / "steadfold"
CODE = re.compile(r"[a-z]+(?:-[a-z]+)*")


def registers() -> dict[str, str]:
    """All codes of all rooms: any module-level dict named *CODES."""
    found = dict(CODES) | dict(FABRICATION_CODES)
    for path in SOURCE.rglob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            target = node.target if isinstance(node, ast.AnnAssign) else None
            if isinstance(target, ast.Name) and target.id.endswith("CODES") and isinstance(node.value, ast.Dict):
                for key, value in zip(node.value.keys, node.value.values, strict=True):
                    if isinstance(key, ast.Constant) and isinstance(value, ast.Constant):
                        found[key.value] = value.value
    return found


def used() -> set[str]:
    """First arguments of Finding(...) and of the helpers that make one, as far as they are written out."""
    found = set()
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            first = node.args[0] if node.args else next((k.value for k in node.keywords if k.arg == "code"), None)
            if name == "Finding" and isinstance(first, ast.Constant) and isinstance(first.value, str):
                found.add(first.value)
    return found


def test_every_code_that_is_raised_has_a_meaning() -> None:
    assert used() <= set(registers()), used() - set(registers())


def test_codes_are_plain_hyphenated_words_with_a_sentence() -> None:
    for code, meaning in registers().items():
        assert CODE.fullmatch(code), code
        assert meaning.endswith("."), code


def test_every_code_with_a_meaning_is_raised() -> None:
    """Some codes reach `Finding` through a helper or a table, so any text of the source that is the code counts."""
    texts = set()
    for path in SOURCE.rglob("*.py"):
        nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
        keys = {id(key) for node in nodes if isinstance(node, ast.Dict) for key in node.keys}
        texts |= {n.value for n in nodes if isinstance(n, ast.Constant) and id(n) not in keys}
    assert set(registers()) - texts == set()
