"""STEP files that are no folded part, or damaged: one sentence each, in bounded time and memory, no crash.

The mutations are those that were seen to crash the solid kernel, to hang it, or to be accepted in silence.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.files.corpus import box, cut, flange, fused, moved, rod, section, write

from steadfold.sheet import cad_file
from steadfold.sheet.cad_file import CadRefused, in_child, look_over
from steadfold.sheet.from_solid.reading import read_step


def refusal(path: Path) -> str:
    """The sentence a file is refused with."""
    with pytest.raises(CadRefused) as caught:
        read_step(path, 0.44)
    sentence = str(caught.value)
    assert "\n" not in sentence and "Traceback" not in sentence
    assert len(sentence) > 20
    return sentence


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The text of a file that reads."""
    path = tmp_path_factory.mktemp("good") / "l.step"
    write([("L", section(2.0, [50, 26], [(90, 2.0)], 100))], path)
    assert read_step(path, 0.44).only().part.thickness_mm == pytest.approx(2.0)
    return path.read_text()


def mutated(tmp_path: Path, text: str | bytes) -> Path:
    path = tmp_path / "mutated.step"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def replaced(text: str, pattern: str, change: Callable[[re.Match[str]], str], which: int = 0) -> str:
    """A text with one match of a pattern changed."""
    found = list(re.finditer(pattern, text, re.DOTALL))
    match = found[which]
    return text[: match.start()] + change(match) + text[match.end() :]


# ---- solids that are no folded sheet


def tapered() -> Any:
    """2 mm thick at one end; 120 mm on, at 1.2°, 2 + 120 tan 1.2° = 4.51 mm."""
    return cut(box((0, 0, 0), (120, 60, 9)), moved(box((-20, -20, 0), (200, 100, 20)), -1.2, (0, 1, 0), (0, 0, 2)))


def tapered_end() -> Any:
    return cut(box((0, 0, 0), (120, 60, 4)), moved(box((-20, -20, 0), (200, 100, 20)), -1.2, (0, 1, 0), (0, 0, 2)))


def machined() -> Any:
    return cut(box((0, 0, 0), (120, 60, 6)), box((30, 20, 3.5), (50, 20, 10)))


def tube() -> Any:
    return cut(box((0, 0, 0), (60, 40, 200)), box((2, 2, -1), (56, 36, 202)))


def round_tube() -> Any:
    whole = fused(rod((0, 0, 0), (0, 0, 1), 20, 100), box((-30, -40, 0), (60, 25, 100)))
    return cut(whole, rod((0, 0, -1), (0, 0, 1), 18, 102), box((-28, -38, -1), (56, 21, 102)))


def boss() -> Any:
    return fused(box((0, 0, 0), (100, 60, 2)), rod((30, 30, 0), (0, 0, 1), 8, 12))


def welded_t() -> Any:
    return fused(box((0, 0, 0), (100, 60, 2)), box((49, 0, 2), (2, 60, 40)))


SOLIDS: dict[str, tuple[Callable[[], Any], str]] = {
    "solid block": (lambda: box((0, 0, 0), (100, 80, 60)), "block|unit"),
    "tapered plate": (tapered, r"not of one thickness.*2\.00 to 4\.51 mm"),
    "plate tapered at one end": (tapered_end, r"4\.00 mm thick, but at \(.*\) it is [23]\.\d\d mm"),
    "machined part": (machined, r"6\.00 mm thick but 3\.50 mm at \("),
    "closed tube": (tube, "ring|closed|thick|no flat|not understood|of one thickness"),
    "round tube with a box": (round_tube, "."),
    "welded T": (welded_t, r"2\.00 mm thick, but at \(50\.0, 30\.0, 0\.0\) it is 42\.00 mm"),
    "boss on a plate": (boss, r"stands 10\.00 mm out of the sheet.*\("),
    "cylinder": (lambda: rod((0, 0, 0), (0, 0, 1), 10, 80), "sheet of 80 mm"),
}


@pytest.mark.parametrize("name", SOLIDS)
def test_what_is_no_folded_sheet_is_refused_in_a_sentence(name: str, tmp_path: Path) -> None:
    make, words = SOLIDS[name]
    assert re.search(words, refusal(write([(name, make())], tmp_path / "solid.step")))


def test_a_closed_tube_with_round_corners_is_refused_as_a_ring(tmp_path: Path) -> None:
    """Four panels and four true bends that close: every check of one panel passes, only the tree does not."""
    bend = (90.0, 2.0)
    half = section(2.0, [20.0, 40.0, 20.0], [bend, bend], 80)
    other = moved(half, 180, (0, 1, 0), (0, 0, 2 * 4.0 + 40.0))
    assert "ring" in refusal(write([("tube", fused(half, other))], tmp_path / "tube.step"))


def test_a_flat_that_would_lie_over_itself_is_refused(tmp_path: Path) -> None:
    """A base with a flange down at its back, and round the corner a chain of three bends whose last panel lies,
    laid flat, where that flange lies: at x = 68 to 98, y = 66 to 86 (sums of the lengths drawn)."""
    t, r = 2.0, 2.0
    s = r + t
    shape = fused(
        box((0, 0, 0), (100, 60, t)),
        moved(flange(t, r, 80, 40), 180, (1, 0, 0), (10, 60, t)),
        moved(flange(t, r, 60, 60), 90, (0, 0, 1), (100, 0, 0)),
        moved(flange(t, r, 40, 30), 180, (1, 0, -1), (100 + s, 60, 50)),
        moved(flange(t, r, 20, 40), 180, (0, 1, 1), (98, 60 + r, 10)),
    )
    assert "laid flat" in refusal(write([("chain", shape)], tmp_path / "chain.step"))


def test_two_bodies_of_which_none_is_sheet_name_both(tmp_path: Path) -> None:
    path = write([("one", box((0, 0, 0), (50, 50, 50))), ("two", box((90, 0, 0), (60, 50, 50)))], tmp_path / "two.step")
    assert "1 more solid" in refusal(path)


def test_a_body_that_is_no_sheet_beside_one_that_is_is_said_to_be_left_out(tmp_path: Path) -> None:
    shapes = [("block", box((0, 200, 0), (50, 50, 50))), ("L", section(2.0, [50, 26], [(90, 2.0)], 100))]
    reading = read_step(write(shapes, tmp_path / "two.step"), 0.44)
    assert [p.name for p in reading.parts] == ["L"]
    assert [(f.code, f.place, str(f.severity)) for f in reading.findings] == [("solid-not-read", "block", "unproven")]


# ---- files that are no STEP file


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"  \n\t", "empty"),
        (bytes(range(256)) * 64, "not a STEP file"),
        (b"ISO-10303-21;\0\0\0\0", "not a STEP file"),
        (b"solid ascii\nfacet normal 0 0 1\n", "not a STEP file"),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3", "not a STEP file"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n", "STEP|solid|shape"),
    ],
)
def test_rubbish_is_refused(content: bytes, words: str, tmp_path: Path) -> None:
    assert re.search(words, refusal(mutated(tmp_path, content)))


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    assert "cannot be opened" in refusal(tmp_path / "none.step")


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9, 0.999])
def test_a_file_that_is_cut_off_is_refused(share: float, good: str, tmp_path: Path) -> None:
    assert re.search("cut off|damaged", refusal(mutated(tmp_path, good[: int(share * len(good))])))


def test_sixty_megabytes_are_refused_unread(good: str, tmp_path: Path) -> None:
    assert "60 MB" in refusal(mutated(tmp_path, good.encode() + b" " * 60_000_000))


def test_ten_thousand_faces_are_refused(tmp_path: Path, good: str) -> None:
    faces = "".join(f"#{100_000 + i}=ADVANCED_FACE('',(),#1,.T.);\n" for i in range(10_000))
    assert "10,0" in refusal(mutated(tmp_path, good.replace("DATA;\n", "DATA;\n" + faces, 1)))


# ---- mutations


def test_deep_brackets_are_refused_before_the_kernel(good: str, tmp_path: Path) -> None:
    text = good.replace("DATA;\n", "DATA;\n#999999=X(" + "(" * 200_000 + ")" * 200_000 + ");\n", 1)
    assert "nests" in refusal(mutated(tmp_path, text))


@pytest.mark.parametrize("number", ["NaN", "nan(ind)", "-inf", "1.#QNAN", "1.E+400", "1.E99"])
def test_numbers_that_are_not_finite_are_refused_before_the_kernel(number: str, good: str, tmp_path: Path) -> None:
    text = replaced(good, r"CARTESIAN_POINT\('',\(([^,)]*),", lambda m: m[0].replace(m[1] + ",", number + ",", 1), 5)
    assert "not finite" in refusal(mutated(tmp_path, text))


def test_a_name_that_looks_like_a_number_that_is_not_finite_is_only_a_name(good: str, tmp_path: Path) -> None:
    text = good.replace("PRODUCT('L','L'", "PRODUCT('NaN inf (((','L'")
    assert text != good
    assert read_step(mutated(tmp_path, text), 0.44).only().part.thickness_mm == pytest.approx(2.0)


def test_a_part_a_thousand_times_too_large_is_asked_about(good: str, tmp_path: Path) -> None:
    text = re.sub(r"SI_UNIT\(\.MILLI\.,\.METRE\.\)", "SI_UNIT($,.METRE.)", good)
    assert text != good
    sentence = refusal(mutated(tmp_path, text))
    assert "unit" in sentence and "2000 mm" in sentence


def test_a_missing_face_is_refused(good: str, tmp_path: Path) -> None:
    text = replaced(good, r"CLOSED_SHELL\('',\((#\d+),", lambda m: m[0].replace(m[1] + ",", "", 1))
    assert re.search("no closed solid.*missing|not closed", refusal(mutated(tmp_path, text)))


def test_a_dangling_reference_is_refused(good: str, tmp_path: Path) -> None:
    text = replaced(good, r"\n#\d+ = PLANE\('',#\d+\);", lambda m: "")
    assert "refers to #" in refusal(mutated(tmp_path, text))


def test_an_entity_given_twice_is_refused(good: str, tmp_path: Path) -> None:
    text = replaced(good, r"\n#\d+ = PLANE\('',#\d+\);", lambda m: m[0] + m[0])
    assert "twice" in refusal(mutated(tmp_path, text))


def test_a_radius_below_zero_is_refused(good: str, tmp_path: Path) -> None:
    text = replaced(good, r"(CYLINDRICAL_SURFACE\('',#\d+,)", lambda m: m[1] + "-")
    assert "below zero" in refusal(mutated(tmp_path, text))


@pytest.mark.parametrize("which", range(6))
def test_a_corner_moved_by_5_mm_is_refused(which: int, good: str, tmp_path: Path) -> None:
    numbers = re.findall(r"VERTEX_POINT\('',#(\d+)\)", good)
    pattern = rf"#{numbers[2 * which]} = CARTESIAN_POINT\('',\(([^,]*),"
    text = replaced(good, pattern, lambda m: m[0].replace(f"({m[1]},", f"({float(m[1]) + 5.0},"))
    assert re.search("fit together|closed|volume|thick|folded", refusal(mutated(tmp_path, text)))


@pytest.mark.parametrize("seed", range(12))
def test_a_file_with_bytes_overwritten_is_refused_or_read_right(seed: int, good: str, tmp_path: Path) -> None:
    """Whatever a few flipped digits do, the answer is a refusal or a part, never another exception. A part that
    still reads has the volume the checks compared with the solid's."""
    import random

    chance = random.Random(seed)
    text = bytearray(good.encode())
    start = text.index(b"DATA;")
    for _ in range(chance.choice([1, 3, 20])):
        text[chance.randrange(start, len(text) - 30)] = ord(chance.choice("0123456789.,()#E-$* "))
    try:
        reading = read_step(mutated(tmp_path, bytes(text)), 0.44)
    except CadRefused as error:
        assert "\n" not in str(error)
    else:
        assert all(p.part.volume_mm3 > 0 and math.isfinite(p.part.volume_mm3) for p in reading.parts)


# ---- the child process


def test_a_child_that_takes_too_long_is_given_up(good: str, tmp_path: Path) -> None:
    with pytest.raises(CadRefused, match="took more than"):
        in_child(
            {"path": str(mutated(tmp_path, good)), "units": None, "assumed_radius_mm": None, "faces": 8}, seconds=0.05
        )


def test_a_child_that_used_its_processor_time_took_too_long(
    good: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The system ends it with a signal of its own; the clock is patient where others want the processor too."""
    statement = "import resource; resource.setrlimit(resource.RLIMIT_CPU, (1, 5))\nwhile True: pass"
    real = cad_file.subprocess.run
    monkeypatch.setattr(
        cad_file.subprocess, "run", lambda words, **more: real([words[0], "-c", statement], **more)
    )
    with pytest.raises(CadRefused, match="took more than"):
        in_child({"path": str(mutated(tmp_path, good)), "units": None, "assumed_radius_mm": None, "faces": 8})


def test_a_child_without_memory_is_refused_and_takes_nobody_with_it(good: str, tmp_path: Path) -> None:
    with pytest.raises(CadRefused, match=r"library stop|memory"):
        in_child(
            {"path": str(mutated(tmp_path, good)), "units": None, "assumed_radius_mm": None, "faces": 8},
            memory_bytes=120_000_000,
        )


def test_the_child_cannot_make_the_parent_run_anything() -> None:
    """Only records come back: a pickle that names any other callable is not loaded."""
    import io
    import os
    import pickle

    class Evil:
        def __reduce__(self) -> tuple[Any, ...]:
            return os.system, ("true",)

    with pytest.raises(pickle.UnpicklingError, match="not a record"):
        cad_file._PlainUnpickler(io.BytesIO(pickle.dumps(Evil()))).load()


def test_looking_over_a_good_file_finds_nothing(good: str, tmp_path: Path) -> None:
    look_over(mutated(tmp_path, good))
