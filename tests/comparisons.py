"""Rows of ours beside a source's value, collected by the tests; STEADFOLD_WRITE_DOCS=1 writes them to docs/comparisons.md.

A test calls `beside` with what the source prints and what we find and asserts on the ratio it gives back, or says
`ours == source_value(...)`. Each row is
put into the table by its method and case, so that a part of the tests may be run, or several at a time.
"""

from __future__ import annotations

import fcntl
import os
import tempfile
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[1] / "docs" / "comparisons.md"

HEAD = """# Ours beside the source's

Written by the tests (`STEADFOLD_WRITE_DOCS=1 make test`); each row is also asserted there, with its tolerance. *Recalled* marks a
source's value that was written down from memory and not read again. The gap is ours over the source's, less one.

| method | case | source | recalled | the source's | ours | gap | why they part |
| --- | --- | --- | --- | --- | --- | --- | --- |
"""


def beside(
    method: str,
    case: str,
    source: str,
    theirs: float,
    ours: float,
    unit: str = "",
    recalled: bool = False,
    why: str = "",
) -> float:
    """Ours over the source's value, which must not be zero; notes the row where asked to.

    `method` is the thing computed ('bending at a root'), `case` the example, `source` where its value is from.
    """
    ratio = ours / theirs
    if os.environ.get("STEADFOLD_WRITE_DOCS") == "1":
        shown = [f"{_said(value)} {unit}".strip() for value in (theirs, ours)]
        cells = (method, case, source, "yes" if recalled else "", *shown, f"{100 * (ratio - 1):+.1f} %", why)
        _put([cell.replace("|", "/") for cell in cells])
    return ratio


class source_value:
    """A source's value that ours is held against by `==`, within `rel` of it or `abs`; the comparison notes the row."""

    __array_ufunc__ = None  # so that a numpy number leaves the comparison to this
    __hash__ = None  # type: ignore[assignment]

    def __init__(
        self,
        method: str,
        case: str,
        source: str,
        theirs: float,
        unit: str = "",
        *,
        rel: float = 0.0,
        abs: float = 0.0,
        recalled: bool = False,
        why: str = "",
    ):
        self.row = (method, case, source, theirs)
        self.rest = (unit, recalled, why)
        self.near = pytest.approx(theirs, rel=rel, abs=abs)

    def __eq__(self, ours: object) -> bool:
        assert isinstance(ours, (int, float)) or hasattr(ours, "__float__")
        if self.row[3]:
            beside(*self.row, float(ours), *self.rest)
        return bool(float(ours) == self.near)

    def __repr__(self) -> str:
        return f"{self.near} ({self.row[2]})"


def _said(value: float) -> str:
    """Four figures, without an exponent for everyday sizes."""
    if value and not 1e-4 <= abs(value) < 1e6:
        return f"{value:.4g}"
    return f"{float(f'{value:.4g}'):.10f}".rstrip("0").rstrip(".")


def _put(cells: list[str]) -> None:
    """Put a row into the page, in place of one with the same method and case."""
    with (Path(tempfile.gettempdir()) / "steadfold-comparisons.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        rows = {}
        if PAGE.exists():
            for line in PAGE.read_text(encoding="utf-8").splitlines():
                known = [cell.strip() for cell in line.strip().strip("|").split("|")]
                if len(known) == len(cells) and known[0] not in ("method", "---"):
                    rows[known[0], known[1]] = known
        rows[cells[0], cells[1]] = cells
        table = "".join(f"| {' | '.join(row)} |\n" for _, row in sorted(rows.items()))
        PAGE.write_text(HEAD + table, encoding="utf-8")
