"""From the text of a job file to a `Job`, or to every problem in it at once."""

from __future__ import annotations

import re
import stat
import tomllib
from datetime import date, datetime
from pathlib import Path
from typing import Any

from steadfold.job.cad import inside, reason
from steadfold.job.fields import LONGEST_TEXT, Fields, Notebook
from steadfold.job.models import Job, LaterTable, ShopChoice
from steadfold.job.part_table import read_part
from steadfold.job.positions import JobText
from steadfold.job.problem import JobProblems, Problem
from steadfold.job.ready import Shapes, shapes_of
from steadfold.job.wording import shown, unknown

FORMAT = 1
LARGEST_JOB = 5 * 1024 * 1024
"""Bytes; nobody writes a longer job by hand, and reading one would take minutes."""
SHIPPED_SHOPS = ("typical",)
MOST_PARTS = 500
MOST_STANDS = 50


def read_job(path: str | Path, shapes: Shapes | None = None) -> Job:
    """The job in a file.

    Raises `JobProblems` with every problem when it cannot be read; no other exception for whatever the file
    holds. `shapes` replaces the ready-made shapes that are known.
    """
    return read_job_text(text_of(path), path, shapes)


def text_of(path: str | Path) -> str:
    """The text of a job file as it stands, with its line ends and byte order mark, for `read_job_text` and `changed`.

    Raises `JobProblems` when there is no file, it is too large, cannot be opened or is not UTF-8.
    """
    file = Path(path)
    try:
        status = file.stat()
        if not stat.S_ISREG(status.st_mode):
            raise _whole_file(file, "this is not a file")
        if status.st_size > LARGEST_JOB:
            size, most = status.st_size / 2**20, LARGEST_JOB >> 20
            raise _whole_file(file, f"this file has {size:.0f} MB; a job has at most {most} MB")
        data = file.read_bytes()
    except FileNotFoundError:
        raise _whole_file(file, "there is no such file") from None
    except JobProblems:
        raise
    except (OSError, ValueError) as error:
        raise _whole_file(file, f"this file cannot be opened: {reason(error)}") from None
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise JobProblems([_not_utf8(file, data, error.start)]) from None


def read_job_text(text: str, path: str | Path = "job.toml", shapes: Shapes | None = None) -> Job:
    """The job in a text; `path` is where the file lies or would lie, which files it names are relative to.

    Raises `JobProblems` with every problem when it cannot be read. Line ends may be LF or CRLF, and a byte
    order mark is passed over.
    """
    file = Path(path)
    plain = text.removeprefix("\ufeff").replace("\r\n", "\n")
    notebook = Notebook(JobText(plain, str(file), _values(plain, file)))
    job = _job(notebook, file, shapes)
    problems = notebook.problems()
    if problems or job is None:
        raise JobProblems(problems)
    return job


def _values(text: str, file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobProblems([_not_toml(text, file, str(error))]) from None
    except RecursionError:
        raise _whole_file(file, "lists or tables are nested too deep in this file; a job needs five levels") from None
    except ValueError:
        raise _whole_file(file, "a number in this file has too many digits to be read") from None


def _whole_file(file: Path, sentence: str) -> JobProblems:
    return JobProblems([Problem(str(file), 0, 0, "", sentence)])


def _not_utf8(file: Path, data: bytes, at: int) -> Problem:
    before = data[:at].decode("utf-8", errors="replace").removeprefix("\ufeff")
    line = before.count("\n") + 1
    start = before.rfind("\n") + 1
    rest = data[at:].split(b"\n", 1)[0].decode("utf-8", errors="replace").rstrip("\r")
    sentence = f"byte 0x{data[at]:02x} is not UTF-8; save the file as UTF-8 text"
    return Problem(str(file), line, len(before) - start + 1, "", sentence, before[start:] + rest)


_TOML_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)\s*$")
_TOML_HINTS = (
    ("Expected '=' after a key", 'a line holds a key, "=" and a value, like width = "300 mm"'),
    ("Invalid value", 'text and quantities stand in quotes, like "45 mm"'),
    ("Expected newline or end of document", "one key to a line; text and quantities stand in quotes"),
    ("Cannot overwrite a value", "this key is there already; keep one of the two"),
    ("Cannot declare", "this table is there already; several of a kind need two brackets, [[...]]"),
    ("Unterminated string", "a quote is missing"),
    ("Illegal character", "a quote is missing at the end of a line, or a character may not stand here"),
    ("Unclosed array", "a ] is missing"),
    ("Unclosed inline table", "a } is missing"),
    ("Expected ']", "a ] is missing"),
    ("Invalid statement", "a line begins with a key, [ or #"),
)  # fmt: skip


def _not_toml(text: str, file: Path, message: str) -> Problem:
    found = _TOML_PLACE.search(message)
    plain = message[: found.start()] if found else message
    lines = text.split("\n")
    if found is None or found[1] is None:
        line = max((number for number, each in enumerate(lines, 1) if each.strip()), default=1)
        column = len(lines[line - 1]) + 1
    else:
        line, column = int(found[1]), int(found[2])
    # The reader finds out about a missing quote, or a missing "=", only when the next line begins.
    while line > 1 and column == 1 and not lines[line - 1].strip():
        line, column = line - 1, len(lines[line - 2]) + 1
    hint = next((say for start, say in _TOML_HINTS if plain.startswith(start)), "")
    plain = "".join(character if character.isprintable() else "?" for character in plain[:120])
    sentence = f"this is not TOML: {plain[:1].lower()}{plain[1:]}" + (f"; {hint}" if hint else "")
    return Problem(str(file), line, column, "", sentence, lines[line - 1])


def _job(notebook: Notebook, file: Path, shapes: Shapes | None) -> Job | None:
    top = Fields(notebook.text.values, (), notebook)
    _check_format(top)
    name = top.text("name", file.stem or "job")
    revision = _revision(top)
    day = _date(top)
    top.text("note", longest=LONGEST_TEXT)
    shop = _shop(top, file.parent)
    known = shapes_of(shapes)
    tables = top.tables("part", MOST_PARTS)
    parts = [read_part(table, file.parent, known) for table in tables]
    _check_names(tables, "part")
    stands = top.tables("stand", MOST_STANDS)
    for stand in stands:
        stand.text("name", required='"planer outrigger"')
    _check_names(stands, "stand")
    sale = top.table("sale")
    top.done()
    if not tables and not stands and not {"part", "stand"} & set(top.values):
        top.notebook.note((), "nothing to answer here: a job has at least one [[part]] or [[stand]]")
    if notebook.mark:
        return None
    return Job(
        name or "job",
        revision,
        shop,
        tuple(part for part in parts if part is not None),
        tuple(LaterTable(each.values, each.steps, notebook.text) for each in stands),
        None if sale is None else LaterTable(sale.values, sale.steps, notebook.text),
        file.parent,
        file,
        notebook.text,
        day,
    )


def _check_format(top: Fields) -> None:
    if "steadfold" not in top:
        top.knows("steadfold")
        top.missing("steadfold", f"{FORMAT}, the version of the format, at the top of the file")
        return
    version = top.count("steadfold", low=1, high=10**9)
    if version is not None and version != FORMAT:
        top.wrong("steadfold", f"this job is written for format {version}; this steadfold reads format {FORMAT}")


def _revision(top: Fields) -> str:
    value = top.raw("revision")
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 10**9:
        return str(value)
    return top.text("revision", "") or ""


def _date(top: Fields) -> date | None:
    """The date of the job, which everything made from it carries: a TOML date, or the same as text."""
    value = top.raw("date")
    if value is None:
        return None
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip())
        except ValueError:
            pass
    elif isinstance(value, date) and not isinstance(value, datetime):
        return value
    top.wrong("date", "a date is due here, such as date = 2026-05-04")
    return None


def _shop(top: Fields, folder: Path) -> ShopChoice:
    table = top.table("shop")
    if table is None:
        return ShopChoice()
    profile = table.text("profile", "typical", longest=400) or "typical"
    table.done()
    if profile in SHIPPED_SHOPS:
        return ShopChoice(profile)
    if not {"/", "\\", "."} & set(profile):
        right = 'or name a file, like "./our-shop.toml"'
        table.wrong("profile", f"{unknown(profile, SHIPPED_SHOPS, 'a profile that comes with steadfold')}; {right}")
        return ShopChoice()
    return ShopChoice(profile, inside(table, "profile", profile, folder, (".toml",)))


def _check_names(tables: list[Fields], what: str) -> None:
    seen: set[str] = set()
    for table in tables:
        name = table.values.get("name")
        if not isinstance(name, str):
            continue
        if name.strip().casefold() in seen:
            table.wrong("name", f"two {what}s are named {shown(name)}; give each its own name")
        seen.add(name.strip().casefold())
