"""The commands on stands as a user gets them: what they print, write, and end with."""

from __future__ import annotations

import argparse
import importlib
import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from steadfold.cli.main import guarded

EXAMPLE = str(Path(__file__).resolve().parents[2] / "examples" / "press-stand.toml")
SECOND = "planer outrigger, second try"


def run(name: str, *words: str) -> int:
    """A command with its own arguments and the two that every command takes."""
    module = importlib.import_module(f"steadfold.cli.{name}")
    parser = argparse.ArgumentParser()
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--units", choices=("mm", "in"), default="mm")
    module.arguments(parser)
    return guarded(module.run, parser.parse_args(words))


@pytest.mark.parametrize("name", ["weigh", "level", "topple", "template"])
def test_each_prints_one_json_object_and_an_example(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    module = importlib.import_module(f"steadfold.cli.{name}")
    assert module.EXAMPLE.startswith(f"steadfold {name} ")
    assert run(name, EXAMPLE, "--json") in (0, 1)
    said = json.loads(capsys.readouterr().out)
    assert said["steadfold"] == 1 and said["stand"] == "planer outrigger as it was"


def test_weigh_says_what_two_pairs_of_feet_say_by_hand(capsys: pytest.CaptureFixture[str]) -> None:
    """74.0 and 51.5 kg, 460 mm apart: 125.5 kg, 188.8 mm from the inner feet at 120 mm."""
    assert run("weigh", EXAMPLE, "--json") == 0
    found = json.loads(capsys.readouterr().out)["weighed"]
    assert found["mass_kg"] == pytest.approx(125.5)
    assert found["centre_mm"][0] == pytest.approx(120.0 + 188.8, abs=0.05)
    assert found["centre_mm"][2] is None and not found["disagree"]


def test_weigh_prints_the_sheet_where_nothing_was_read(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("weigh", EXAMPLE, "--stand", SECOND) == 0
    said = capsys.readouterr().out
    assert "no [[stand.machine.scale]] readings yet" in said and "Scale under the inner pair of feet" in said


def test_level_tells_turns_and_why_and_draws_the_steps(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """1.34 turns to lift 6 mm at 650 with a 3/8 rod at 600 and a head 250 above (by hand)."""
    picture = tmp_path / "steps.svg"
    assert run("level", EXAMPLE, "--picture", str(picture)) == 0
    said = capsys.readouterr().out
    assert "(1.34 to lift," in said and "Why: left tip lies 6.00 mm low" in said
    assert "loosen left brace and right brace" in said
    assert ElementTree.parse(picture).getroot().tag.endswith("svg")


def test_level_without_a_reading_says_at_which_line_it_is_wanted(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("level", EXAMPLE, "--stand", SECOND) == 2
    said = capsys.readouterr().err
    assert re.search(r"press-stand\.toml:\d+:\d+: .*add a \[\[stand\.reading\]\]", said)


def test_topple_ends_with_one_for_a_bench_that_goes_over_and_nought_for_one_that_stands(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run("topple", EXAMPLE) == 1
    said = capsys.readouterr().out
    assert "ballast:" in said and "machine turned round" in said
    assert run("topple", EXAMPLE, "--stand", SECOND) == 0


def test_topple_ends_with_three_where_nothing_is_known_of_the_bench(tmp_path: Path) -> None:
    text = Path(EXAMPLE).read_text(encoding="utf-8")
    unknown = tmp_path / "unknown.toml"
    unknown.write_text(re.sub(r"  \[stand\.bench\].*?\n\n", "\n", text, flags=re.DOTALL), encoding="utf-8")
    assert run("topple", str(unknown)) == 3


def test_templates_are_written_at_true_size_with_a_bar_to_check(tmp_path: Path) -> None:
    """Strut 41.3 high cut 60 degrees from square: long point 71.5 mm beyond the short one; a bar of 50 mm."""
    assert run("template", EXAMPLE, "--out", str(tmp_path)) == 0
    files = sorted(path.name for path in tmp_path.iterdir())
    assert files == ["strut-41x41-12-ga-30.0.svg", "strut-41x41-12-ga-60.0.svg"]
    root = ElementTree.parse(tmp_path / files[1]).getroot()
    box = [float(v) for v in root.attrib["viewBox"].split()]
    assert root.attrib["width"] == f"{box[2]:g}mm" and root.attrib["height"] == f"{box[3]:g}mm"
    curve = next(each.attrib["d"] for each in root.iter() if each.attrib.get("stroke-width") == "0.5")
    heights = [float(pair.split()[1]) for pair in re.findall(r"[ML]([-\d.]+ [-\d.]+)", curve)]
    assert max(heights) - min(heights) == pytest.approx(41.275 * 3**0.5, abs=0.01)
    assert any("h50v" not in each.attrib.get("d", "") and "h50" in each.attrib.get("d", "") for each in root.iter())


def test_a_single_template_needs_no_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("--profile", "square tube 40x3", "--angle", "60 deg", "--saw", "50 deg", "--out", str(tmp_path))
    assert run("template", *words) == 0
    assert "against a block, saw at 30.0°" in capsys.readouterr().out
    assert run("template", "--profile", "square tube 40x3", "--angle", "60 deg", "--saw", "20 deg") == 1
    assert run("template", "--profile", "bamboo", "--angle", "60 deg") == 2
    assert run("template") == 2


def test_a_stand_that_is_not_there_is_told_with_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("topple", EXAMPLE, "--stand", "easel") == 2
    assert f"it has 'planer outrigger as it was', '{SECOND}'" in capsys.readouterr().err


def test_inches_are_shown_to_those_who_ask(capsys: pytest.CaptureFixture[str]) -> None:
    run("template", EXAMPLE, "--units", "in")
    assert "25.591 in over all" in capsys.readouterr().out
