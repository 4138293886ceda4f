"""A room looks only into rooms below it: the contract in pyproject.toml, read by import-linter."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CONTRACT = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"][0]
# From the top floor down; rooms on one floor are neighbours.
FLOORS = [
    ["page", "cli"],
    ["deliver"],
    ["review"],
    ["job"],
    ["mount", "stand", "money"],
    ["joints", "fabricate"],
    ["mechanics"],
    ["sheet"],
    ["catalogue"],
    ["quantities", "findings"],
]


def lint(folder: Path, config: Path) -> subprocess.CompletedProcess[str]:
    statement = "import sys; from importlinter.cli import lint_imports; "
    statement += f"sys.exit(lint_imports(config_filename={str(config)!r}, no_cache=True, no_logo=True))"
    return subprocess.run(
        [sys.executable, "-c", statement], cwd=folder, capture_output=True, text=True, check=False
    )


def small_house(folder: Path, room: str, imported: str) -> Path:
    """A package of empty rooms under the project's own contract, in which ``room`` imports ``imported``."""
    for name in (name for floor in FLOORS for name in floor):
        path = folder / "steadfold" / name / "__init__.py"
        path.parent.mkdir(parents=True)
        path.write_text(f"import steadfold.{imported}\n" if name == room else "")
    (folder / "steadfold" / "__init__.py").touch()
    layers = ", ".join(f'"{layer}"' for layer in CONTRACT["layers"])
    config = folder / "house.toml"
    config.write_text(
        '[tool.importlinter]\nroot_package = "steadfold"\n[[tool.importlinter.contracts]]\n'
        f'name = "floors"\ntype = "{CONTRACT["type"]}"\ncontainers = ["steadfold"]\nexhaustive = true\n'
        f"layers = [{layers}]\n"
    )
    return config


def test_every_room_looks_only_into_rooms_below_it() -> None:
    outcome = lint(ROOT, ROOT / "pyproject.toml")
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_the_contract_names_every_floor_of_the_plan() -> None:
    read = [[name.strip(" ()") for name in layer.split("|")] for layer in CONTRACT["layers"]]
    assert [sorted(floor) for floor in read] == [sorted(floor) for floor in FLOORS]
    assert CONTRACT["exhaustive"] is True


@pytest.mark.parametrize(
    ("room", "imported", "allowed"),
    [
        ("cli", "quantities", True),
        ("mechanics", "sheet", True),
        ("sheet", "mechanics", False),
        ("review", "deliver", False),
        ("mount", "stand", False),
        ("joints", "fabricate", False),
        ("findings", "quantities", False),
        ("page", "cli", False),
    ],
)
def test_the_contract_tells_a_look_down_from_a_look_up_or_aside(
    tmp_path: Path, room: str, imported: str, allowed: bool
) -> None:
    outcome = lint(tmp_path, small_house(tmp_path, room, imported))
    assert (outcome.returncode == 0) is allowed, outcome.stdout + outcome.stderr
