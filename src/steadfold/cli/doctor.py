"""Says whether this machine has what steadfold needs, and which Debian package brings what is missing.

Wheels carry most of what the heavy libraries load, but not the graphics libraries of the system. Where one is
missing, the loader's message names a file (``libGL.so.1: cannot open shared object file``) and no package;
the doctor names both. Each library is imported in a child process, so that one which crashes the interpreter
is reported like any other.
"""

from __future__ import annotations

import argparse
import json
import platform
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

# Shared library -> package of Debian 12 that ships it, as `dpkg -S` tells.
DEBIAN_PACKAGES = {
    "libGL.so.1": "libgl1",
    "libGLX.so.0": "libglx0",
    "libGLdispatch.so.0": "libglvnd0",
    "libOpenGL.so.0": "libopengl0",
    "libEGL.so.1": "libegl1",
    "libGLU.so.1": "libglu1-mesa",
    "libX11.so.6": "libx11-6",
    "libXext.so.6": "libxext6",
    "libXrender.so.1": "libxrender1",
    "libXi.so.6": "libxi6",
    "libXmu.so.6": "libxmu6",
    "libXau.so.6": "libxau6",
    "libXdmcp.so.6": "libxdmcp6",
    "libxcb.so.1": "libxcb1",
    "libSM.so.6": "libsm6",
    "libICE.so.6": "libice6",
    "libexpat.so.1": "libexpat1",
    "libuuid.so.1": "libuuid1",
    "libbsd.so.0": "libbsd0",
    "libmd.so.0": "libmd0",
    "libz.so.1": "zlib1g",
    "libffi.so.8": "libffi8",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
    "libgomp.so.1": "libgomp1",
    "libstdc++.so.6": "libstdc++6",
    "libgcc_s.so.1": "libgcc-s1",
}

OLDEST_PYTHON = (3, 11)
# An order folder is a few megabytes; a disk with less than this is about to fill.
EXAMPLE = "steadfold doctor"
LEAST_FREE_MB = 200
IMPORT_LIMIT_S = 120


@dataclass(frozen=True)
class Library:
    """A library to try: the name it is installed by, and the statement that loads what is used of it."""

    distribution: str
    statement: str
    used_for: str


LIBRARIES = (
    Library("numpy", "import numpy", "arrays"),
    Library("scipy", "import scipy.sparse.linalg", "sparse algebra"),
    Library("shapely", "import shapely", "planar geometry"),
    Library("ezdxf", "import ezdxf", "DXF files"),
    Library("cadquery-ocp-novtk", "import OCP.BRepBuilderAPI, OCP.STEPControl", "exact solids and STEP files"),
    Library("pint", "import pint", "units"),
    Library("rich", "import rich.table", "tables on the terminal"),
    Library("typst", "import typst", "PDF files"),
    Library("spyrrow", "import spyrrow", "nesting on a sheet"),
    Library("highspy", "import highspy", "cutting stock lengths"),
    Library("starlette", "import starlette", "the page"),
    Library("uvicorn", "import uvicorn", "the page"),
    Library("websockets", "import websockets", "the page"),
    Library("pypdfium2", "import pypdfium2", "sheets of the order on the page"),
)


@dataclass(frozen=True)
class Check:
    """One thing the doctor looked at.

    ``say`` is a whole sentence for a person. ``packages`` names the Debian packages that would cure a failed
    check, where any would; ``missing`` the shared libraries they bring.
    """

    name: str
    passed: bool
    say: str
    missing: tuple[str, ...] = ()
    packages: tuple[str, ...] = ()


def missing_library(message: str) -> str | None:
    """The shared library that the loader could not find; None when the message is about something else.

    ``message`` is the text of an ImportError or OSError, or a whole traceback that ends with one.
    Source: the wording of glibc's loader (elf/dl-load.c).

    >>> missing_library("ImportError: libGL.so.1: cannot open shared object file: No such file or directory")
    'libGL.so.1'
    """
    name = r"(?:^|[\s'\"/])([^\s/:'\"]+\.so(?:\.[\w.]+)?)"
    found = re.search(name + ": cannot open shared object file", message)
    return found.group(1) if found else None


def outdated_library(message: str) -> tuple[str, str] | None:
    """The system library that is too old and the version asked of it; None when the message is not of that.

    >>> outdated_library("/lib/libc.so.6: version `GLIBC_2.38' not found (required by /x/_a.so)")
    ('libc.so.6', 'GLIBC_2.38')
    """
    found = re.search(r"([^\s/:]+\.so(?:\.[\w.]+)?): version [`'](\S+?)' not found", message)
    return (found.group(1), found.group(2)) if found else None


def unresolved_libraries(listing: str) -> tuple[str, ...]:
    """The libraries that ``ldd`` marks as not found, in its order, each once.

    >>> unresolved_libraries("\\tlibGL.so.1 => not found\\n\\tlibm.so.6 => /lib/libm.so.6 (0x7f00)\\n")
    ('libGL.so.1',)
    """
    return tuple(dict.fromkeys(re.findall(r"^\s*(\S+) => not found\s*$", listing, flags=re.MULTILINE)))


def packages_for(libraries: Iterable[str]) -> tuple[str, ...]:
    """The Debian packages that bring these libraries, sorted; libraries not in the table are left out."""
    return tuple(sorted({DEBIAN_PACKAGES[name] for name in libraries if name in DEBIAN_PACKAGES}))


def check_of_library(library: Library, python: str = sys.executable) -> Check:
    """Import one library in a child process and say what came of it.

    ``python`` is the interpreter to try it with. A failed check names every missing system library, also
    those the loader would have complained about only after the first was cured.
    """
    status, complaint = _run(python, library.statement)
    if status == 0:
        say = f"{library.distribution} {_version(library.distribution)} loads ({library.used_for})."
        return Check(library.distribution, True, say)
    return _failed_import(library, status, complaint)


def _run(python: str, statement: str) -> tuple[int, str]:
    """Exit status and standard error of the statement in a child; one that never ends counts as failed."""
    try:
        child = subprocess.run(
            [python, "-c", statement], capture_output=True, text=True, timeout=IMPORT_LIMIT_S, check=False
        )
    except subprocess.TimeoutExpired:
        return 1, f"did not end within {IMPORT_LIMIT_S} s"
    return child.returncode, child.stderr


def _failed_import(library: Library, status: int, complaint: str) -> Check:
    subject = f"{library.distribution} ({library.used_for})"
    name = library.distribution
    if status < 0:
        return Check(name, False, f"{subject} ended the interpreter with signal {-status} while loading.")
    missing = missing_library(complaint)
    if missing is not None:
        # The loader stops at the first; ldd tells the rest. Names not in the table lie in another wheel.
        also = [lib for lib in _unresolved_in(library.distribution) if lib in DEBIAN_PACKAGES]
        libraries = tuple(dict.fromkeys([missing, *also]))
        packages = packages_for(libraries)
        say = f"{subject} cannot load: the system lacks {', '.join(libraries)}"
        say += f"; on Debian or Ubuntu: apt install {' '.join(packages)}." if packages else "."
        return Check(name, False, say, libraries, packages)
    outdated = outdated_library(complaint)
    if outdated is not None:
        old, wanted = outdated
        say = f"{subject} cannot load: it wants {wanted}, and this system's {old} is older."
        return Check(name, False, say)
    lines = [line for line in complaint.strip().splitlines() if line.strip()]
    last = lines[-1].strip() if lines else f"exit status {status}"
    return Check(name, False, f"{subject} cannot load: {last.rstrip('.')}.")


def _version(distribution: str) -> str:
    # Not at the top: it brings the parser of e-mail with it, a fifth of the time that --help takes.
    from importlib import metadata

    try:
        return metadata.version(distribution)
    except metadata.PackageNotFoundError:
        return "of unknown version"


def _unresolved_in(distribution: str) -> tuple[str, ...]:
    from importlib import metadata

    ldd = shutil.which("ldd")
    if ldd is None:
        return ()
    try:
        files = metadata.files(distribution) or []
    except metadata.PackageNotFoundError:
        return ()
    shared = [str(file.locate()) for file in files if re.search(r"\.so(\.|$)", file.name)]
    if not shared:
        return ()
    listed = subprocess.run([ldd, *shared], capture_output=True, text=True, check=False)
    return unresolved_libraries(listed.stdout)


def check_of_python() -> Check:
    """Whether the interpreter is new enough."""
    oldest = ".".join(map(str, OLDEST_PYTHON))
    passed = sys.version_info >= OLDEST_PYTHON
    verb = "is new enough" if passed else f"is too old; {oldest} or later is wanted"
    return Check("python", passed, f"Python {platform.python_version()} on {platform.machine()} {verb}.")


def check_of_disk(folder: Path) -> Check:
    """Whether the disk that holds ``folder`` has room for an order folder."""
    free_mb = shutil.disk_usage(folder).free // 1_000_000
    passed = free_mb >= LEAST_FREE_MB
    say = f"{free_mb:,} MB are free in the current folder"
    return Check("disk", passed, f"{say}." if passed else f"{say}; at least {LEAST_FREE_MB} MB are wanted.")


def report(libraries: Sequence[Library] = LIBRARIES, folder: Path | None = None) -> list[Check]:
    """Everything the doctor looks at, in order: Python, disk, each library.

    ``folder`` is where room on the disk is looked for, by default the current one. Takes a few seconds.
    """
    checks = [check_of_python(), check_of_disk(folder or Path.cwd())]
    return checks + [check_of_library(library) for library in libraries]


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("--only-failures", action="store_true", help="print nothing that passed")


def run(options: argparse.Namespace) -> int:
    """Print a sentence for each check; exit status 0 when all pass, else 1."""
    checks = report()
    failed = [check for check in checks if not check.passed]
    packages = sorted({package for check in failed for package in check.packages})
    if options.json:
        listed = [asdict(check) for check in checks]
        print(json.dumps({"passed": not failed, "packages": packages, "checks": listed}))
        return 1 if failed else 0
    for check in failed if options.only_failures else checks:
        print(f"{'found  ' if check.passed else 'WANTED '}  {check.say}")
    if packages:
        print(f"\nAll of it at once: apt install {' '.join(packages)}")
    return 1 if failed else 0


def main(argv: Sequence[str] | None = None) -> int:
    """The doctor by itself, where nothing else can be loaded yet (`python -m steadfold.cli.doctor`)."""
    parser = argparse.ArgumentParser(prog="steadfold doctor", epilog=f"example: {EXAMPLE}")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    arguments(parser)
    return run(parser.parse_args(argv))


if __name__ == "__main__":
    sys.exit(main())
