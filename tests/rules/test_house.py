"""Rules of the house that a reader would otherwise have to enforce: what may stand in the tracked files."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "steadfold"
LONGEST_FILE = 600
# A Python file may be longer only with a reason that a reader can weigh.
LONG_FILES: dict[str, str] = {}

# Folders of one machine: they mean nothing on the next. Written so that this file does not contain them.
MACHINE_PATH = re.compile(r"(?<![\w.~-])/(?:work|root|home|Users|opt|mnt)/|\b[A-Z]:\\Users\b")
# Addresses of package registries: which one is asked is the owner's setting.
REGISTRY = re.compile(
    r"pypi\.(?:org|python)|pythonhosted|registry\.npm|npmjs\.|yarnpkg\.|crates\.io|conda\.anaconda|(?:deb|ftp)\.debian"
    r"|^\s*--(?:extra-)?index-url|^\s*--find-links",
    re.MULTILINE,
)
# Said of a part or a stand, these words promise what no calculation can.
PROMISE = re.compile(r"\b(?:safe|certified)\b", re.IGNORECASE)
DENIAL = re.compile(r"\b(?:not|never|no|nor|neither|cannot)\b", re.IGNORECASE)

HEAVY = ("OCP", "scipy", "ezdxf", "pint", "starlette", "shapely", "numpy", "typst")


def ignored(path: Path) -> bool:
    """Environments, caches and git's own folder."""
    return any(part == "__pycache__" or (part.startswith(".") and part != ".ci") for part in path.parts[:-1])


@cache
def tracked_files() -> tuple[Path, ...]:
    """The files under version control; in an unpacked archive, all that the build would have packed."""
    # In continuous integration the checkout often belongs to somebody else; reading its list is harmless.
    git = ["git", "-c", "safe.directory=*", "-C", str(ROOT), "ls-files", "-z"]
    listed = subprocess.run(git, capture_output=True, text=True, check=False)
    if listed.returncode == 0 and listed.stdout:
        found = [ROOT / name for name in listed.stdout.split("\0") if name]
    else:
        inside = [path.relative_to(ROOT) for path in ROOT.rglob("*")]
        found = [ROOT / path for path in inside if path.parts[0] != "out" and not ignored(path)]
    return tuple(sorted(path for path in found if path.is_file()))


def tracked_texts() -> Iterator[tuple[str, str]]:
    for path in tracked_files():
        try:
            yield str(path.relative_to(ROOT)), path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue


def lines_matching(pattern: re.Pattern[str]) -> list[str]:
    hits = []
    for name, text in tracked_texts():
        if name == str(Path(__file__).resolve().relative_to(ROOT)):
            continue
        hits += [
            f"{name}:{text.count(chr(10), 0, found.start()) + 1}: {found.group()}"
            for found in pattern.finditer(text)
        ]
    return hits


def python_files() -> list[Path]:
    return [path for path in tracked_files() if path.suffix == ".py"]


def undocumented(tree: ast.Module) -> list[str]:
    """Public modules, classes, functions and methods without a docstring; nested functions are private."""
    bare = [] if ast.get_docstring(tree) or not tree.body else ["module"]
    for node in tree.body:
        if not isinstance(
            node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
        ) or node.name.startswith("_"):
            continue
        if not ast.get_docstring(node):
            bare.append(node.name)
        if isinstance(node, ast.ClassDef):
            bare += [
                f"{node.name}.{method.name}"
                for method in node.body
                if isinstance(method, (ast.FunctionDef, ast.AsyncFunctionDef))
                and not method.name.startswith("_")
                and not ast.get_docstring(method)
            ]
    return bare


def spoken_strings(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """String constants that could reach a person: all but docstrings."""
    silent = set()
    for node in ast.walk(tree):
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                silent.add(id(first.value))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent:
            yield node.lineno, node.value


def test_no_tracked_file_names_a_folder_of_one_machine() -> None:
    assert lines_matching(MACHINE_PATH) == []


def test_no_tracked_file_names_a_package_registry() -> None:
    assert lines_matching(REGISTRY) == []


def test_the_patterns_find_what_they_forbid() -> None:
    assert MACHINE_PATH.search("see " + "/ho" + "me/someone/notes")
    assert not MACHINE_PATH.search("catalogue" + "/work" + "/x and ./root" + "/y")
    assert REGISTRY.search("--index" + "-url https://somewhere")
    assert REGISTRY.search("https://files.python" + "hosted.org/packages/x.whl")


def test_every_line_of_the_lock_is_a_pinned_version_or_its_hash() -> None:
    lock = (ROOT / "requirements.lock").read_text()
    lines = [line.rstrip(" \\") for line in lock.splitlines() if not line.lstrip().startswith("#")]
    pinned = re.compile(r"[a-z0-9-]+==[\w.+!]+(?: ; [^;]+)?|    --hash=sha256:[0-9a-f]{64}")
    assert [line for line in lines if line and not pinned.fullmatch(line)] == []
    versions = [line for line in lines if "==" in line and not line.startswith(" ")]
    assert len(versions) > 30
    for entry in re.split(r"\n(?=[a-z0-9])", "\n" + "\n".join(lines))[1:]:
        assert "--hash=" in entry, entry


def test_the_lock_holds_every_dependency_that_is_declared() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    wanted = [*project["project"]["dependencies"], *project["project"]["optional-dependencies"]["dev"]]
    wanted += project["build-system"]["requires"]
    names = {re.split(r"[<>=!~ \[;]", text)[0].lower().replace("_", "-") for text in wanted}
    locked = set(re.findall(r"^([a-z0-9-]+)==", (ROOT / "requirements.lock").read_text(), flags=re.MULTILINE))
    assert names - locked == set()


def test_every_public_function_says_what_it_gives() -> None:
    bare = []
    for path in python_files():
        if SOURCE in path.parents:
            tree = ast.parse(path.read_text(encoding="utf-8"))
            bare += [f"{path.relative_to(ROOT)}: {name}" for name in undocumented(tree)]
    assert bare == []


def test_a_bare_function_method_and_module_are_noticed() -> None:
    tree = ast.parse("def f(): ...\nclass C:\n    '''C.'''\n    def g(self): ...\n    def _h(self): ...\n")
    assert undocumented(tree) == ["module", "f", "C.g"]


def test_no_python_file_is_long_without_a_listed_reason() -> None:
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in python_files()
    }
    long = {name: count for name, count in lengths.items() if count > LONGEST_FILE}
    assert {name: count for name, count in long.items() if not LONG_FILES.get(name)} == {}
    assert set(LONG_FILES) - set(long) == set(), "no longer long: take it off the list"


def test_nothing_shown_to_a_person_promises_more_than_a_calculation_can() -> None:
    promises = []
    for path in python_files():
        if SOURCE not in path.parents:
            continue
        for line, text in spoken_strings(ast.parse(path.read_text(encoding="utf-8"))):
            if PROMISE.search(text) and not DENIAL.search(text):
                promises.append(f"{path.relative_to(ROOT)}:{line}: {text}")
    for path in sorted((ROOT / "examples").rglob("*.toml")):
        for number, text in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if PROMISE.search(text) and not DENIAL.search(text):
                promises.append(f"{path.relative_to(ROOT)}:{number}: {text}")
    assert promises == []


def test_there_are_examples_and_each_is_a_job_file() -> None:
    jobs = sorted((ROOT / "examples").glob("*.toml"))
    assert jobs, "no job in examples/"
    for path in jobs:
        job = tomllib.loads(path.read_text(encoding="utf-8"))
        assert job.get("steadfold") == 1, f"{path.name} does not say which version of the job file it is"
        assert job.get("part") or job.get("stand"), f"{path.name} names neither a part nor a stand"


@pytest.mark.parametrize(
    ("test", "status"),
    [("def test_oar(): pass", 0), ("import pytest\n@pytest.mark.skip\ndef test_oar(): pass", 5), ("", 5)],
)
def test_a_run_in_which_no_test_passed_fails(tmp_path: Path, test: str, status: int) -> None:
    (tmp_path / "conftest.py").write_text((ROOT / "tests" / "conftest.py").read_text())
    (tmp_path / "test_oar.py").write_text(test)
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-p",
        "no:cacheprovider",
        "--rootdir",
        str(tmp_path),
        str(tmp_path),
    ]
    assert subprocess.run(command, capture_output=True, cwd=tmp_path, check=False).returncode == status


@pytest.mark.parametrize("arguments", [["--help"], ["rate", "--help"]])
def test_help_is_shown_without_loading_a_heavy_library(arguments: list[str]) -> None:
    statement = (
        "import sys\nfrom steadfold.cli.main import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        f"heavy = [name for name in {HEAVY!r} if name in sys.modules]\n"
        "sys.exit(f'loaded: {heavy}' if heavy else 0)\n"
    )
    outcome = subprocess.run([sys.executable, "-c", statement], capture_output=True, text=True, check=False)
    assert outcome.returncode == 0, outcome.stderr
    assert "rate" in outcome.stdout
