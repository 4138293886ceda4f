"""The page of comparisons: what the tests wrote is whole, in order, adds up, and has no row whose test is gone."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "docs" / "comparisons.md"
ROWS_WANTED = 300
EXPLAINED_FROM = 0.15
"""From this gap on a row says why ours and the source's part."""


@cache
def rows() -> tuple[tuple[str, ...], ...]:
    """Method, case, source, recalled, theirs, ours, gap, why of each row."""
    lines = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    return tuple(tuple(cell.strip() for cell in line.strip()[1:-1].split("|")) for line in lines[2:])


@cache
def said_in_tests() -> frozenset[str]:
    """Every text that stands in a file of the tests."""
    found = set()
    for path in TESTS.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found.add(node.value)
    return frozenset(found)


def number(cell: str) -> float:
    return float(cell.split()[0])


def test_there_are_hundreds_of_rows_from_every_room_each_once_and_in_order() -> None:
    keys = [(row[0], row[1]) for row in rows()]
    assert len(keys) >= ROWS_WANTED
    assert len(set(keys)) == len(keys)
    assert keys == sorted(keys)
    assert all(len(row) == 8 and row[0] and row[1] and row[2] for row in rows())


def test_every_method_of_the_page_is_still_compared_by_a_test() -> None:
    gone = {row[0] for row in rows()} - said_in_tests()
    assert not gone, gone


@pytest.mark.parametrize(
    "method",
    ["bend allowance, setback, deduction", "section of a strut", "bolt, ISO 898-1", "lag screw sideways, lbf", "screw pull-out, EN 1995",
     "NAFEMS LE5, MPa", "plate buckling, k", "shell benchmark", "column stress, ksi", "cutting stock, bars", "press force",
     "springback factor", "beam buckling", "modes of a beam, Hz", "collapse", "sag of a bracket", "pull of all bolts",
     "bending at a root", "triangle of strut", "rating on a wall", "share of a print's strength"],
)  # fmt: skip
def test_no_room_is_missing(method: str) -> None:
    assert any(row[0] == method for row in rows())


def test_the_gaps_are_those_of_the_two_numbers_beside_them() -> None:
    for row in rows():
        theirs, ours, gap = number(row[4]), number(row[5]), number(row[6]) / 100.0
        assert gap == pytest.approx(ours / theirs - 1.0, abs=0.0021), row  # both are printed to four figures


def test_wide_gaps_are_explained_and_recalled_values_are_marked() -> None:
    for row in rows():
        assert row[3] in ("", "yes")
        assert abs(number(row[6])) / 100.0 < EXPLAINED_FROM or row[7], row
    assert 0.1 < sum(row[3] == "yes" for row in rows()) / len(rows()) < 0.9
