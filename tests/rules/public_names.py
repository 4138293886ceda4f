"""What each room offers: the names that other rooms import from it. Run to write them into public-names.md beside this file."""

from __future__ import annotations

import ast
import importlib
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "steadfold"
PAGE = ROOT / "tests" / "rules" / "public-names.md"
ROW = re.compile(r"^\| `([\w.]+)` \| (.*) \|$", re.MULTILINE)

Names = dict[str, set[str]]
"""Module, by its whole dotted name, to the names it offers."""


def rooms() -> list[str]:
    """The packages of the house."""
    return sorted(path.name for path in SOURCE.iterdir() if path.is_dir() and any(path.glob("*.py")))


def looked_into() -> Iterator[tuple[Path, str, str]]:
    """Every import of a name from another room: the importing file, the module, the name."""
    for path in sorted(SOURCE.rglob("*.py")):
        own = path.relative_to(SOURCE).parts[0]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("steadfold."):
                module = node.module or ""
                if module.split(".")[1] != own:
                    for alias in node.names:
                        yield path, module, alias.name


def used() -> Names:
    """What other rooms import, modules of a room among them."""
    found: Names = defaultdict(set)
    for _, module, name in looked_into():
        found[module].add(name)
    return dict(found)


def listed() -> Names:
    """What the page says each room offers."""
    text = PAGE.read_text(encoding="utf-8")
    return {module: set(re.findall(r"`(\w+)`", names)) for module, names in ROW.findall(text)}


def named(module: str, name: str) -> object:
    """What a name stands for; raises `AttributeError` or `ImportError` when there is none."""
    home = importlib.import_module(module)
    return getattr(home, name) if hasattr(home, name) else importlib.import_module(f"{module}.{name}")


def page() -> str:
    """The page as it should stand."""
    lines = [
        "# What each room offers",
        "",
        "The names that other rooms import, module by module; which room may look into which stands in the README. A name that is not",
        "here is its room's own and may change without asking anyone. Written by `python -m tests.rules.public_names`, held by",
        "`tests/rules/test_public_names.py`.",
    ]
    offered = used()
    for room in rooms():
        mine = {m: names for m, names in sorted(offered.items()) if m.split(".")[1] == room}
        says = (importlib.import_module(f"steadfold.{room}").__doc__ or "").split("\n")[0]
        lines += ["", f"## {room}", "", says]
        if mine:
            lines += ["", "| module | names |", "| --- | --- |"]
            for module, names in mine.items():
                lines.append(f"| `{module}` | {', '.join(f'`{name}`' for name in sorted(names))} |")
    return "\n".join(lines) + "\n"


def is_function(thing: object) -> bool:
    """True for a function of ours, not for a class, a constant or a module."""
    return callable(thing) and not isinstance(thing, (type, ModuleType)) and hasattr(thing, "__code__")


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
