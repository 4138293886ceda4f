"""DXF files that are damaged or absurd: one sentence each, in bounded time, no crash."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_flat.reading import read_dxf


def refusal(path: Path) -> str:
    with pytest.raises(CadRefused) as caught:
        read_dxf(path, 2.0)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def plate() -> Any:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    corners = [(0, 0), (100, 0), (100, 50), (0, 50)]
    for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
        space.add_line(a, b)
    space.add_circle((20, 20), 5)
    return document


def saved(tmp_path: Path, document: Any) -> Path:
    path = tmp_path / "plate.dxf"
    document.saveas(path)
    return path


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\n \n", "empty"),
        (bytes(range(256)) * 100, "not a DXF"),
        (b"ISO-10303-21;\nHEADER;", "not a DXF"),
        (b"  0\nSECTION\n  2\nENTITIES\n", "not a DXF|no lines"),
        (b"  0\nSECTION\n  2\nENTITIES\n  0\nENDSEC\n  0\nEOF\n", "no lines"),
    ],
)
def test_rubbish_is_refused(content: bytes, words: str, tmp_path: Path) -> None:
    import re

    path = tmp_path / "rubbish.dxf"
    path.write_bytes(content)
    assert re.search(words, refusal(path))


def test_a_missing_and_a_huge_file_are_refused_unread(tmp_path: Path) -> None:
    assert "cannot be opened" in refusal(tmp_path / "none.dxf")
    path = saved(tmp_path, plate())
    with path.open("ab") as stream:
        stream.write(b"999\ncomment\n" * 5_000_000)
    assert "60 MB" in refusal(path)


def test_a_block_that_contains_itself_is_refused(tmp_path: Path) -> None:
    document = plate()
    document.blocks.new("a").add_blockref("b", (0, 0))
    document.blocks.get("b") or document.blocks.new("b").add_blockref("a", (0, 0))
    document.modelspace().add_blockref("a", (0, 0))
    assert "contains itself" in refusal(saved(tmp_path, document))


def test_blocks_that_multiply_beyond_reason_are_refused(tmp_path: Path) -> None:
    """Each block places the one below it ten times: 10^8 circles."""
    document = plate()
    document.blocks.new("b0").add_circle((0, 0), 1)
    for level in range(1, 9):
        block = document.blocks.new(f"b{level}")
        for i in range(10):
            block.add_blockref(f"b{level - 1}", (i, level))
    document.modelspace().add_blockref("b8", (0, 0))
    assert "more than" in refusal(saved(tmp_path, document))


def test_too_many_curves_are_refused(tmp_path: Path) -> None:
    document = plate()
    for i in range(21_000):
        document.modelspace().add_line((i % 100 * 0.5 + 10, i // 100 * 0.1), (i % 100 * 0.5 + 10.3, i // 100 * 0.1))
    assert "more than 20,000 curves" in refusal(saved(tmp_path, document))


@pytest.mark.parametrize("number", ["nan", "inf", "1e400"])
def test_numbers_that_are_not_finite_are_refused(number: str, tmp_path: Path) -> None:
    path = saved(tmp_path, plate())
    head, entities = path.read_text().split("ENTITIES", 1)
    assert "\n100.0\n" in entities
    path.write_text(head + "ENTITIES" + entities.replace("\n100.0\n", f"\n{number}\n", 1))
    assert len(refusal(path)) > 20


def test_outlines_that_cross_are_refused_with_a_place(tmp_path: Path) -> None:
    document = plate()
    document.modelspace().add_circle((100, 25), 8)
    assert "cross" in refusal(saved(tmp_path, document))
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    document.modelspace().add_lwpolyline([(0, 0), (100, 50), (100, 0), (0, 50)], close=True)
    assert "crosses" in refusal(saved(tmp_path, document))


@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_a_file_that_is_cut_off_is_refused_or_read_whole(share: float, tmp_path: Path) -> None:
    path = saved(tmp_path, plate())
    content = path.read_bytes()
    path.write_bytes(content[: int(share * len(content))])
    try:
        reading = read_dxf(path, 2.0)
    except CadRefused as error:
        assert "\n" not in str(error)
    else:
        assert sum(f.area_mm2 for p in reading.only().part.panels for f in p.faces) > 0


@pytest.mark.parametrize("seed", range(10))
def test_bytes_overwritten_give_a_refusal_or_a_part(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)
    path = saved(tmp_path, plate())
    text = bytearray(path.read_bytes())
    start = text.index(b"ENTITIES")
    for _ in range(chance.choice([1, 5, 40])):
        text[chance.randrange(start, len(text))] = chance.choice(b"0123456789.- \nLINEX")
    path.write_bytes(bytes(text))
    try:
        reading = read_dxf(path, 2.0)
    except CadRefused as error:
        assert "\n" not in str(error)
    else:
        assert all(p.part.volume_mm3 > 0 for p in reading.parts)
