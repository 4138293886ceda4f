"""The printed values that the catalogue's tests lean on, each with its source and whether it was only recalled."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

from tests.comparisons import source_value

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


def as_printed(row: dict[str, Any], expected: float | None = None, what: str = "") -> Any:
    """The row's expected value, or another of the same row (`what` says which), with the tolerance the source's printing
    gives; comparing it notes a row of docs/comparisons.md."""
    value = row["expected"] if expected is None else expected
    given = ", ".join(f"{key} {each}" for key, each in row["inputs"].items()) or row["id"]
    if not what and expected is not None:
        what = _which(row["expected"], expected)
    if row["id"].startswith(("strut.12ga", "fast.m", "fast.ec3")):  # rows that differ by their id's end only
        what = row["id"].rsplit(".", 1)[1]
    return source_value(
        method_of(row),
        f"{given}: {what}" if what else given,
        row["source"].split(";")[0],
        value,
        rel=row["tolerance"].get("rel", 0.0),
        abs=row["tolerance"].get("abs", 0.0),
        recalled=row["from_memory"],
    )


METHODS = (
    ("bend.din_vtab", "bend compensation, printed table"), ("bend.din_v", "bend compensation v, DIN 6935"),
    ("bend.din_k", "k of DIN 6935"), ("bend.din_book", "flat by a table book"), ("bend.din_flat", "flat by a table book"),
    ("bend.identity", "bend deduction"), ("bend.din_60", "bend deduction"), ("bend.ba_bd", "bend allowance, setback, deduction"),
    ("bend.mh", "Machinery's Handbook bend"), ("bend.springback", "springback"), ("bend.aa_rmin", "least inside radius, thicknesses"),
    ("bend.radius", "inside radius of an air bend"), ("bend.min_flange", "least flange"), ("gauge.msg", "steel gauge, inch"),
    ("gauge.galv", "galvanised gauge, inch"), ("gauge.ss", "stainless gauge, inch"), ("gauge.awg", "aluminium gauge, inch"),
    ("gauge.sheet", "mass of a sheet"), ("mat.mass", "mass of a sheet"), ("fast.m", "bolt, ISO 898-1"),
    ("fast.iso273", "clearance hole, ISO 273"), ("fast.j429", "proof load, SAE J429, lbf"), ("fast.unc", "stress area, UNC, in²"),
    ("fast.torque", "tightening"), ("fast.ec3", "bolt, EN 1993-1-8, N"), ("fast.tap", "tap drill, % of thread"),
    ("fast.b1828", "clearance hole, ASME B18.2.8"), ("fast.hanger", "hanger rod"), ("wood.lagZ", "lag screw sideways, lbf"),
    ("wood.lag", "lag screw pull-out, lbf/in"), ("wood.screw", "wood screw pull-out, lbf/in"), ("wood.ec5", "screw pull-out, EN 1995"),
    ("strut.slip", "channel nut, lbf"), ("strut.udl", "strut as a beam"), ("strut.torque", "channel nut"),
    ("strut.", "section of a strut"), ("tol.iso2768", "general tolerance, ISO 2768 m"), ("tol.iso9013", "lean of a cut, ISO 9013"),
    ("coat.", "powder coat"), ("stat.turn", "turn of a rod"), ("stat.", "statics"),
)  # fmt: skip
"""What a printed value is of, by the beginning of its id, for docs/comparisons.md."""


def method_of(row: dict[str, Any]) -> str:
    """The thing computed, for a row of values."""
    return next(
        (name for start, name in METHODS if row["id"].startswith(start)), row["topic"].split(":")[0].split(" (")[0]
    )


def _which(expected: Any, value: float) -> str:
    """Which of several values of a row this is: by its key, or its place in a list."""
    pairs = (
        expected.items()
        if isinstance(expected, dict)
        else enumerate(expected, start=1)
        if isinstance(expected, list)
        else ()
    )
    return next((f"{key}" if isinstance(key, str) else f"value {key}" for key, each in pairs if each == value), "")


def ids(row: Any) -> str:
    """A test's name from a row: its id, and the word recalled where nobody looked the value up."""
    return row["id"] + (" recalled" if row["from_memory"] else "") if isinstance(row, dict) else str(row)
