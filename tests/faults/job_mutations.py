"""Seeded damage to a job file, as typing, copying, bad disks and bad intent do it."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

NASTY = (
    '""', "0", "-1", "1e400", "nan", "inf", "-inf", "true", "[]", "{}", "[[]]", "1979-05-27", "07:32:00",
    '"nan mm"', '"inf kg"', '"-5 mm"', '"0 mm"', '"1e308 m"', '"1e-320 mm"', '"1/0 in"', '"99999999999999999 in"',
    '"5 kg"', '"5 mm"', '"90 deg"', '"7 N"', '"11 ga"', '"99 ga"', '"auto"', '"none"', '"5 parsec"', '"3 m**2"',
    '"2 mm**9**9**9**9"', '"5 __import__"', '"４５ mm"', '"٣ mm"', '"5\\u0000mm"', '"\\U0001F6F6"', '"\\u202Emm 5"',
    '"²³ mm"', '"../../etc/passwd"', '"C:\\\\x.step"', '"' + "x" * 5000 + '"', "9" * 400, "0x" + "f" * 4000,
    '["1 kg", "2 kg"]', '["2 kg", "1 kg"]', '{ low = "1 kg", high = "2 kg" }', '["1 mm", "2 mm"]', "[1, 2]",
    '[["0 mm", "0 mm"], ["9 mm", "0 mm"], ["0 mm", "9 mm"]]', '{ count = 1000000, step = ["0 mm", "0 mm"] }',
    "[" * 40 + "]" * 40, '"""a\nb"""', "'''x'''", "-0.0", "+5", "1_000",
)  # fmt: skip


def _lines(text: str) -> list[str]:
    return text.split("\n")


def flipped_byte(text: str, rng: random.Random) -> bytes:
    data = bytearray(text.encode())
    for _ in range(rng.choice((1, 1, 1, 5))):
        data[rng.randrange(len(data))] = rng.randrange(256)
    return bytes(data)


def flipped_character(text: str, rng: random.Random) -> bytes:
    at = rng.randrange(len(text))
    put = rng.choice("\"'[]{}=.,#\\\n\t 0xX-éΩ\u200b\u202e\x00\x7f\ufeff𝟛")
    return (text[:at] + put + text[at + rng.choice((0, 1)) :]).encode()


def lost_line(text: str, rng: random.Random) -> bytes:
    lines = _lines(text)
    at = rng.randrange(len(lines))
    del lines[at : at + rng.choice((1, 1, 2, 6))]
    return "\n".join(lines).encode()


def doubled_line(text: str, rng: random.Random) -> bytes:
    lines = _lines(text)
    at = rng.randrange(len(lines))
    lines.insert(rng.randrange(len(lines)), lines[at])
    return "\n".join(lines).encode()


def swapped_lines(text: str, rng: random.Random) -> bytes:
    lines = _lines(text)
    a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    return "\n".join(lines).encode()


def nasty_value(text: str, rng: random.Random) -> bytes:
    lines = _lines(text)
    at = rng.choice([i for i, line in enumerate(lines) if "=" in line])
    key = lines[at].split("=")[0]
    lines[at] = f"{key}= {rng.choice(NASTY)}"
    return "\n".join(lines).encode()


def nasty_inside(text: str, rng: random.Random) -> bytes:
    found = rng.choice(list(re.finditer(r'"[^"\n]*"|\b\d+\b', text)))
    return (text[: found.start()] + rng.choice(NASTY) + text[found.end() :]).encode()


def swapped_values(text: str, rng: random.Random) -> bytes:
    lines = _lines(text)
    a, b = (rng.choice([i for i, line in enumerate(lines) if "=" in line]) for _ in range(2))
    (key_a, value_a), (key_b, value_b) = lines[a].split("=", 1), lines[b].split("=", 1)
    lines[a], lines[b] = f"{key_a}={value_b}", f"{key_b}={value_a}"
    return "\n".join(lines).encode()


def wrong_unit(text: str, rng: random.Random) -> bytes:
    found = list(re.finditer(r"(?<=\d )(mm|in|kg|deg|lb|N|MPa)\b", text))
    at = rng.choice(found)
    unit = rng.choice(("", "mm", "m", "km", "kg", "deg", "N", "s", "MPa", "furlong", "%", "mmm", "Mm", "°C"))
    return (text[: at.start()] + unit + text[at.end() :]).encode()


def huge_number(text: str, rng: random.Random) -> bytes:
    at = rng.choice(list(re.finditer(r"\d+", text)))
    number = rng.choice(("0", "-1", "9" * rng.randrange(1, 60), "1e309", "0.0000001", "-0", "1" + "0" * 19))
    return (text[: at.start()] + number + text[at.end() :]).encode()


def misspelt_key(text: str, rng: random.Random) -> bytes:
    at = rng.choice(list(re.finditer(r"^(\s*)(\w+)(?= *=)", text, re.MULTILINE)))
    key = at[2]
    place = rng.randrange(len(key))
    new = rng.choice((key[:place] + key[place + 1 :], key + "s", key.upper(), "é" + key, f'"{key} "', f"a.{key}"))
    return (text[: at.start(2)] + new + text[at.end(2) :]).encode()


def misspelt_header(text: str, rng: random.Random) -> bytes:
    at = rng.choice(list(re.finditer(r"\[\[?[\w.]+\]\]?", text)))
    new = rng.choice(
        ("[part]", "[[part]]", "[[part.panel]]", "[part.mount]", "[[part.mount]]", "[[stand]]", "[sale]", "[[shop]]",
         "[part.carries]", "[[part.panel.cutout]]", "[a.b.c]", "[[part.panel.cutout.x]]", "[", "[]", "[[part.cutout]]")
    )  # fmt: skip
    return (text[: at.start()] + new + text[at.end() :]).encode()


def cut_short(text: str, rng: random.Random) -> bytes:
    data = text.encode()
    return data[: rng.randrange(len(data))]


def other_encoding(text: str, rng: random.Random) -> bytes:
    whole = text.replace("x", "é").replace("o", "ö")
    return rng.choice(
        (whole.encode("latin-1", "replace"), text.encode("utf-16"), b"\xef\xbb\xbf" + text.encode(),
         text.replace("\n", "\r\n").encode(), text.replace("\n", "\r").encode(), text.replace("\n", "\u2028").encode())
    )  # fmt: skip


def joined_parts(text: str, rng: random.Random) -> bytes:
    cut = text.index("[[part]]")
    return (text + text[cut:] * rng.choice((1, 3))).encode()


MUTATIONS: tuple[Callable[[str, random.Random], bytes], ...] = (
    flipped_byte, flipped_character, lost_line, doubled_line, swapped_lines, nasty_value, nasty_inside, swapped_values,
    wrong_unit, huge_number, misspelt_key, misspelt_header, cut_short, other_encoding, joined_parts,
)  # fmt: skip


def mutated(text: str, seed: int) -> tuple[str, bytes]:
    """The name of a mutation and the damaged file, the same for the same seed; some are damaged twice or thrice."""
    rng = random.Random(seed)
    names, data = [], text.encode()
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        mutation = MUTATIONS[seed % len(MUTATIONS)] if not names else rng.choice(MUTATIONS)
        try:
            data = mutation(data.decode(), rng)
        except (UnicodeDecodeError, ValueError, IndexError):
            break
        names.append(mutation.__name__)
    return "+".join(names), data
