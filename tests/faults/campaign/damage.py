"""Seeded damage to quotes, STEP and DXF text, as editing, exporting, copying and bad intent do it."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

from tests.faults.job_mutations import (
    cut_short,
    doubled_line,
    flipped_byte,
    flipped_character,
    lost_line,
    swapped_lines,
)

Damage = Callable[[str, random.Random], bytes]

CELLS = (
    "", " ", "0", "-1", "1e9", "nan", "inf", "-inf", "1,5", "12.50 USD", "€ 12", "12 €", "9" * 40, "=1+1", "@SUM(A1)", '"',
    '""', "'", "\x00", "\ufeff", "2026-13-01", "0001-01-01", "9999-12-31", "2026-05-01T12:00", "1/5/26", "٣", "½",
    "oar rack" * 40, "\u202eshop", "-0.00 EUR", "1e-9 EUR", "0x10", "1_000", "true", "NULL", "12 EUR EUR",
)  # fmt: skip
NUMBERS = (
    "0", "-1", "1e300", "-1e300", "1e-300", "nan", "inf", "1.#IND", "1e999", "0.", ".", "-", "1E+", "1,5", "0x1F",
    "99999999999999999999", "-0.0", "1e5", "1e-5", "1234567.8", "0.0001", "1e12", "360.", "-90.",
)  # fmt: skip


def _cells(text: str) -> list[list[str]]:
    return [line.split(",") for line in text.split("\n")]


def nasty_cell(text: str, rng: random.Random) -> bytes:
    rows = _cells(text)
    row = rng.choice(rows)
    row[rng.randrange(len(row))] = rng.choice(CELLS)
    return "\n".join(map(",".join, rows)).encode("utf-8", "surrogatepass")


def moved_column(text: str, rng: random.Random) -> bytes:
    rows = _cells(text)
    a, b = rng.randrange(5), rng.randrange(5)
    for row in rows if rng.random() < 0.5 else rows[:1]:
        if len(row) > max(a, b):
            row[a], row[b] = row[b], row[a]
    return "\n".join(map(",".join, rows)).encode()


def lost_cell(text: str, rng: random.Random) -> bytes:
    rows = _cells(text)
    row = rng.choice(rows)
    del row[rng.randrange(len(row))]
    return "\n".join(map(",".join, rows)).encode()


def other_separator(text: str, rng: random.Random) -> bytes:
    return text.replace(",", rng.choice((";", "\t", "|", ", ", " ,", ",,", "\u060c"))).encode()


def other_encoding(text: str, rng: random.Random) -> bytes:
    whole = text.replace("oar", "öar")
    return rng.choice(
        (whole.encode("latin-1"), whole.encode("utf-16"), b"\xef\xbb\xbf" + text.encode(), text.encode("utf-32"),
         text.replace("\n", "\r").encode(), text.replace("\n", "\r\n").encode(), text.replace("\n", "\x0b").encode())
    )  # fmt: skip


def many_lines(text: str, rng: random.Random) -> bytes:
    head, *rows = text.split("\n")
    return "\n".join([head, *(rows * rng.choice((2, 20, 400)))]).encode()


def quoted(text: str, rng: random.Random) -> bytes:
    at = rng.randrange(len(text))
    return (text[:at] + rng.choice(('"', '""', '"\n', '",')) + text[at:]).encode()


COMMON: tuple[Damage, ...] = (flipped_byte, flipped_character, lost_line, doubled_line, swapped_lines, cut_short)
QUOTES: tuple[Damage, ...] = (
    *COMMON, nasty_cell, nasty_cell, nasty_cell, moved_column, lost_cell, other_separator, other_encoding, many_lines, quoted,
)  # fmt: skip


def _swap(text: str, span: re.Match[str], new: str) -> bytes:
    return (text[: span.start()] + new + text[span.end() :]).encode()


def _some(pattern: str, text: str, rng: random.Random) -> re.Match[str]:
    return rng.choice(list(re.finditer(pattern, text)))


def step_number(text: str, rng: random.Random) -> bytes:
    return _swap(text, _some(r"(?<=[(,])-?\d+\.\d*(?:E[+-]?\d+)?", text, rng), rng.choice(NUMBERS))


def step_nudge(text: str, rng: random.Random) -> bytes:
    """A number a little off: a face no longer where its neighbours are."""
    span = _some(r"(?<=[(,])-?\d+\.\d*(?:E[+-]?\d+)?", text, rng)
    return _swap(
        text, span, repr(float(span[0]) * rng.choice((0.5, 0.99, 1.001, 1.01, 2.0, -1.0)) + rng.choice((0, 0, 0.1)))
    )


def step_reference(text: str, rng: random.Random) -> bytes:
    defined = re.findall(r"^#(\d+)", text, re.MULTILINE)
    return _swap(text, _some(r"(?<=[(,])#\d+", text, rng), "#" + rng.choice((*defined, "0", "99999999")))


def step_entity(text: str, rng: random.Random) -> bytes:
    names = re.findall(r"= ?([A-Z_]+)\(", text)
    return _swap(
        text, _some(r"(?<== )[A-Z_]+(?=\()|(?<==)[A-Z_]+(?=\()", text, rng), rng.choice((*names, "NOTHING", "PLANE"))
    )


def step_lost(text: str, rng: random.Random) -> bytes:
    return _swap(
        text,
        _some(r"^#\d+ ?=[^;]*;\n?", text.replace("\r", ""), rng) if "\r" not in text else _some(r"#\d+", text, rng),
        "",
    )


def step_flag(text: str, rng: random.Random) -> bytes:
    return _swap(text, _some(r"\.[TF]\.|\$|\*", text, rng), rng.choice((".T.", ".F.", "$", "*", ".U.", "''", "()")))


def step_unit(text: str, rng: random.Random) -> bytes:
    return text.replace(".MILLI.", rng.choice(("$", ".KILO.", ".MICRO.", ".CENTI.", ".DECI.", ".NANO."))).encode()


def step_list(text: str, rng: random.Random) -> bytes:
    span = _some(r"\((#\d+(?:,#\d+)+)\)", text, rng)
    inner = span[1].split(",")
    changed = rng.choice((inner[:-1], inner[1:], inner[::-1], inner * 2, inner + inner[:1], []))
    return _swap(text, span, "(" + ",".join(changed) + ")")


STEP: tuple[Damage, ...] = (
    *COMMON, step_number, step_number, step_nudge, step_nudge, step_nudge, step_reference, step_reference, step_entity,
    step_lost, step_flag, step_unit, step_list, step_list,
)  # fmt: skip


def _pairs(text: str) -> list[str]:
    return text.split("\n")


def dxf_value(text: str, rng: random.Random) -> bytes:
    lines = _pairs(text)
    at = rng.randrange(len(lines) // 2) * 2 + 1
    lines[at] = rng.choice(
        (*NUMBERS, "LINE", "ARC", "CIRCLE", "INSERT", "SPLINE", "ENDSEC", "", "CUT", "BEND", "ü" * 300)
    )
    return "\n".join(lines).encode()


def dxf_code(text: str, rng: random.Random) -> bytes:
    lines = _pairs(text)
    at = rng.randrange(len(lines) // 2) * 2
    lines[at] = rng.choice(
        ("0", "2", "5", "8", "10", "20", "40", "42", "62", "70", "100", "210", "230", "999", "-5", "x", "1071")
    )
    return "\n".join(lines).encode()


def dxf_number(text: str, rng: random.Random) -> bytes:
    """A number of the drawing itself."""
    begin = text.find("ENTITIES")
    spans = list(re.finditer(r"(?m)^-?\d+\.\d+$", text[begin:])) or list(re.finditer(r"\d+", text[begin:]))
    span = rng.choice(spans)
    old = float(span[0])
    new = rng.choice((*NUMBERS, repr(old * 1.001), repr(-old), repr(old + 0.01), repr(old * 1000), repr(old / 25.4)))
    return (text[: begin + span.start()] + new + text[begin + span.end() :]).encode()


def dxf_lost_pair(text: str, rng: random.Random) -> bytes:
    lines = _pairs(text)
    at = rng.randrange(len(lines) // 2) * 2
    del lines[at : at + 2 * rng.choice((1, 1, 3, 10))]
    return "\n".join(lines).encode()


def dxf_doubled(text: str, rng: random.Random) -> bytes:
    """Entities given twice, as a copy on top of the first does."""
    begin, end = text.find("ENTITIES"), text.rfind("ENDSEC")
    starts = [m.start() for m in re.finditer(r"(?m)^ *0\n(?=LINE|ARC|CIRCLE|LWPOLYLINE|TEXT)", text[begin:end])]
    if len(starts) < 2:
        return doubled_line(text, rng)
    at = rng.randrange(len(starts) - 1)
    a, b = begin + starts[at], begin + starts[at + 1]
    return (text[:b] + text[a:b] * rng.choice((1, 1, 5)) + text[b:]).encode()


def dxf_nested(text: str, rng: random.Random) -> bytes:
    """An insert of a block, which may be there, itself, or nothing."""
    end = text.rfind("ENDSEC")
    name = rng.choice(("*Model_Space", "*Paper_Space", "nothing", "_DOT", ""))
    insert = f"0\nINSERT\n8\n0\n2\n{name}\n10\n0.0\n20\n0.0\n70\n{rng.choice(('1', '999', '32000'))}\n71\n999\n"
    at = text.rfind("\n", 0, text.rfind("0\n", 0, end)) + 1
    return (text[:at] + insert + text[at:]).encode()


DXF: tuple[Damage, ...] = (
    *COMMON, dxf_value, dxf_value, dxf_code, dxf_number, dxf_number, dxf_number, dxf_lost_pair, dxf_doubled, dxf_nested,
)  # fmt: skip


def damaged(text: str, kinds: tuple[Damage, ...], seed: int) -> tuple[str, bytes]:
    """The names of the damages and the damaged file; the same for the same seed."""
    rng = random.Random(seed)
    names: list[str] = []
    data = text.encode()
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        damage = kinds[seed % len(kinds)] if not names else rng.choice(kinds)
        try:
            data = damage(data.decode(), rng)
        except (UnicodeError, ValueError, IndexError, OverflowError):
            break
        names.append(damage.__name__)
    return "+".join(names) or "as it was", data
