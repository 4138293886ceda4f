"""Are the locked dependencies known to be vulnerable? Asks the open database OSV once, about all of them together.

Ends with 1 when it names a vulnerability, and with 0 when it names none or cannot be reached: then it says so, since
a build without a network is still a build. A vulnerability that does not concern us is written into
`.ci/known-vulnerabilities.txt`, its id first, then why.
"""

from __future__ import annotations

import json
import os
import re
import sys
import urllib.error
import urllib.request
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
DATABASE = os.environ.get("STEADFOLD_AUDIT", "https://api.osv.dev/v1/querybatch")
PATIENCE_S = 20.0
MOST_BYTES = 20_000_000

PINNED = re.compile(r"(?P<name>[A-Za-z0-9][A-Za-z0-9._-]*)(?:\[[^\]]*\])?==(?P<version>[^\s;\\]+)")
"""A line of the lock as uv and pip write it; the hashes stand on lines of their own."""

Locked = tuple[str, str, str]
"""Ecosystem (as OSV calls it), name and version."""


def locked_python(text: str) -> list[Locked]:
    """Every pinned distribution of a requirements file."""
    found = (PINNED.match(line) for line in text.splitlines())
    return [("PyPI", each["name"], each["version"]) for each in found if each]


def locked_npm(text: str) -> list[Locked]:
    """Every package of an npm lock (version 2 or 3), the root left out."""
    packages = json.loads(text).get("packages", {})
    return [
        ("npm", str(table.get("name") or way.rpartition("node_modules/")[2]), str(table["version"]))
        for way, table in packages.items()
        if "node_modules/" in way and "version" in table
    ]


def everything_locked(root: Path = ROOT) -> list[Locked]:
    """What the page, the library and the tests stand on."""
    found = locked_python((root / "requirements.lock").read_text(encoding="utf-8"))
    for folder in ("src/steadfold/page/npm", "tests/browser/npm"):
        found += locked_npm((root / folder / "package-lock.json").read_text(encoding="utf-8"))
    return sorted(set(found))


def vulnerable(locked: Sequence[Locked], database: str = DATABASE) -> dict[Locked, list[str]]:
    """Ids of known vulnerabilities by package. Raises `OSError` or `ValueError` when the database gives no answer."""
    queries = [{"package": {"ecosystem": e, "name": n}, "version": v} for e, n, v in locked]
    request = urllib.request.Request(
        database, json.dumps({"queries": queries}).encode(), {"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        results = json.loads(answer.read(MOST_BYTES))["results"]
    if len(results) != len(locked):
        raise ValueError(f"{len(results)} answers to {len(locked)} questions")
    return {
        package: [str(each["id"]) for each in result["vulns"]]
        for package, result in zip(locked, results, strict=True)
        if result.get("vulns")
    }


def known(root: Path = ROOT) -> set[str]:
    """Ids that somebody has looked at and written down."""
    file = root / ".ci" / "known-vulnerabilities.txt"
    lines = file.read_text(encoding="utf-8").splitlines() if file.is_file() else []
    return {line.split()[0] for line in lines if line.strip() and not line.startswith("#")}


def main() -> int:
    """Ask and say."""
    locked = everything_locked()
    try:
        found = vulnerable(locked)
    except (OSError, urllib.error.URLError, ValueError, KeyError, TypeError) as error:
        print(f"Not audited: the vulnerability database gave no answer ({error}). {len(locked)} packages are locked.")
        return 0
    waived = known()
    bad = {package: [i for i in ids if i not in waived] for package, ids in found.items()}
    for (_, name, version), ids in bad.items():
        if ids:
            print(f"{name} {version} is known to be vulnerable: {', '.join(ids)}", file=sys.stderr)
    if any(bad.values()):
        return 1
    print(f"{len(locked)} locked packages, none known to be vulnerable beyond what is written down.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
