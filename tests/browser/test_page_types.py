"""The page's modules say of themselves what they take and give; the TypeScript compiler holds them to it."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from hatch_build import npm_command

from steadfold.page.app import STATIC


def complaints(modules: Path, source: Path, place: Path) -> str:
    """What the compiler says of the JavaScript in a folder, with every strict check."""
    types = modules / "@types" / "three"
    config = {
        "compilerOptions": {
            "allowJs": True, "checkJs": True, "noEmit": True, "strict": True, "skipLibCheck": True,
            "target": "es2022", "module": "esnext", "moduleResolution": "bundler", "types": [],
            "lib": ["es2023", "dom", "dom.iterable"],
            "paths": {"three": [str(types)], "three-controls": [str(types / "examples/jsm/controls/OrbitControls")]},
        },
        "files": [str(path) for path in sorted(source.glob("*.js"))],
    }  # fmt: skip
    (place / "tsconfig.json").write_text(json.dumps(config), encoding="utf-8")
    node = shutil.which("node") or npm_command()[0]
    compiler = modules / "typescript" / "bin" / "tsc"
    outcome = subprocess.run([node, str(compiler), "-p", str(place)], capture_output=True, text=True, check=False)
    return outcome.stdout + outcome.stderr


def test_the_pages_modules_hold_what_their_types_say(npm_modules: Path, tmp_path: Path) -> None:
    assert complaints(npm_modules, STATIC, tmp_path) == ""


def test_a_wrong_type_would_be_noticed(npm_modules: Path, tmp_path: Path) -> None:
    """The twin: one call with a text where a number is due."""
    for path in STATIC.glob("*.js"):
        shutil.copy(path, tmp_path)
    with open(tmp_path / "units.js", "a", encoding="utf-8") as units:
        units.write('length("three", "mm");\n')
    assert "units.js" in complaints(npm_modules, tmp_path, tmp_path)


@pytest.mark.parametrize("word", ["http://", "https://", "//cdn"])
def test_no_module_knows_another_address(word: str) -> None:
    for path in sorted(STATIC.glob("*.*")):
        text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert word not in text, path.name
