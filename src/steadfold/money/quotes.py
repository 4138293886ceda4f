"""The user's own quotes: a CSV file of what shops really asked.

    part,quantity,total,date,shop
    oar rack,6,118.40 EUR,2025-03-02,Harbour Metal

`total` is for the whole quantity, without tax and carriage; a total without a currency is in that of the rates.
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from steadfold.money.amount import Money, MoneyError, read_money

HEADER = ("part", "quantity", "total", "date", "shop")
LARGEST_FILE = 2_000_000
MOST_QUOTES = 5000
LONGEST_NAME = 200


@dataclass(frozen=True)
class Quote:
    """One quote: what a shop asked on a day for so many of a part. `line` is its line in the file."""

    part: str
    quantity: int
    total: Money
    quoted: date
    shop: str
    line: int


class QuotesError(ValueError):
    """Quotes that cannot be read; `sentences` are all there is wrong, each with its line."""

    def __init__(self, file: str, sentences: Sequence[str]):
        self.file = file
        self.sentences = tuple(sentences)
        super().__init__("\n".join(f"{file}: {sentence}" for sentence in self.sentences))


def quotes_in(path: str | Path, currency: str) -> tuple[Quote, ...]:
    """The quotes of a file; see `read_quotes`. Raises `QuotesError` also when the file cannot be opened."""
    file = Path(path)
    try:
        with file.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
        if len(data) > LARGEST_FILE:
            raise QuotesError(str(path), [f"more than {LARGEST_FILE // 1_000_000} MB is no list of quotes"])
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise QuotesError(str(path), ["this is not UTF-8 text; save the sheet as CSV, UTF-8"]) from None
    except OSError as error:
        raise QuotesError(str(path), [f"the file cannot be opened: {error.strerror or error}"]) from None
    return read_quotes(text, currency, str(path))


def read_quotes(text: str, currency: str, file: str = "quotes.csv") -> tuple[Quote, ...]:
    """The quotes in a text, columns in any order, parted by commas or semicolons.

    Every total must be in `currency`, the one of the rates. Raises `QuotesError` with every problem: an empty
    file, a header that is not `HEADER`, a total below or at 0, another currency, a date or a number that is none.
    """
    lines = text.lstrip("\ufeff").splitlines()
    first = next((number for number, line in enumerate(lines) if line.strip()), None)
    header = ",".join(HEADER)
    if first is None:
        raise QuotesError(file, [f"the file is empty; its first line is {header}, then a quote a line"])
    parting = ";" if lines[first].count(";") > lines[first].count(",") else ","
    try:
        rows = list(csv.reader(io.StringIO("\n".join(lines[first:])), delimiter=parting, strict=True))
    except csv.Error as error:
        raise QuotesError(file, [f"this cannot be read as CSV: {error}"]) from None
    columns = [name.strip().casefold() for name in rows[0]]
    wrong = _header_problems(columns, first + 1)
    if wrong:
        raise QuotesError(file, wrong)
    if len(rows) > MOST_QUOTES:
        raise QuotesError(file, [f"{len(rows)} lines are too many; at most {MOST_QUOTES}"])
    quotes: list[Quote] = []
    for number, row in enumerate(rows[1:], start=first + 2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(columns):
            wrong.append(f"line {number}: {len(row)} values where the header has {len(columns)}")
            continue
        read = _quote({name: cell.strip() for name, cell in zip(columns, row, strict=True)}, number, currency)
        if isinstance(read, Quote):
            quotes.append(read)
        else:
            wrong += read
    if not quotes and not wrong:
        wrong.append("there is a header but no quote under it")
    if wrong:
        raise QuotesError(file, wrong)
    return tuple(quotes)


def by_shop(quotes: Sequence[Quote]) -> dict[str, tuple[Quote, ...]]:
    """The quotes of each shop; capitals in a shop's name do not matter, its first spelling is kept."""
    shops: dict[str, list[Quote]] = {}
    spelt: dict[str, str] = {}
    for quote in quotes:
        shops.setdefault(spelt.setdefault(quote.shop.casefold(), quote.shop), []).append(quote)
    return {name: tuple(found) for name, found in shops.items()}


def _header_problems(columns: list[str], line: int) -> list[str]:
    header = ",".join(HEADER)
    missing = [name for name in HEADER if name not in columns]
    wrong = [f"line {line}: there is no column {name!r}; the header is {header}" for name in missing]
    for name in columns:
        if name not in HEADER:
            near = difflib.get_close_matches(name, HEADER, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"the header is {header}"
            wrong.append(f"line {line}: nobody here knows the column {name[:60]!r}; {hint}")
        elif columns.count(name) > 1 and not any("twice" in each for each in wrong):
            wrong.append(f"line {line}: the column {name!r} stands there twice")
    return wrong


def _quote(row: dict[str, str], line: int, currency: str) -> Quote | list[str]:
    wrong = []
    for name in ("part", "shop"):
        if not row[name] or len(row[name]) > LONGEST_NAME or not row[name].isprintable():
            wrong.append(f"line {line}: {name} is empty or no name")
    quantity = int(row["quantity"]) if row["quantity"].isascii() and row["quantity"].isdigit() else 0
    if not 1 <= quantity <= 1_000_000:
        wrong.append(f"line {line}: {row['quantity'][:60]!r} is no quantity; write a whole number above 0")
    try:
        total: Money | None = read_money(row["total"], currency)
    except MoneyError as error:
        total = None
        wrong.append(f"line {line}: {error}")
    if total is not None and total.currency != currency:
        wrong.append(f"line {line}: {row['total']!r} is not in {currency}, the currency of the rates")
    if total is not None and total.amount <= 0:
        wrong.append(f"line {line}: {row['total']!r} must be more than 0; nobody quotes that")
    try:
        quoted = date.fromisoformat(row["date"])
    except ValueError:
        wrong.append(f"line {line}: {row['date'][:60]!r} is not a date; write it like 2025-03-31")
    if wrong:
        return wrong
    assert total is not None
    return Quote(row["part"], quantity, total, quoted, row["shop"], line)
