"""The commands as a user types them: what they print, write, and end with."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
SHED = Path(__file__).parents[2] / "examples" / "boat-shed.toml"


def steadfold(*arguments: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "steadfold.cli.main", *arguments], capture_output=True, text=True, cwd=cwd, check=False
    )


@pytest.fixture(scope="module")
def rated() -> dict:
    done = steadfold("rate", str(SHED), "--json")
    assert done.returncode in (0, 1, 3), done.stderr
    return json.loads(done.stdout)


def test_rate_prints_one_json_object_of_the_agreed_shape(rated: dict) -> None:
    assert rated["steadfold"] == 1
    assert {"job", "revision", "verdict", "parts", "stands", "assumptions"} <= set(rated)
    part = rated["parts"][0]
    wanted = {
        "name", "verdict", "weakest", "material", "thickness_mm", "inside_radius_mm", "mass_kg", "flat", "folded",
        "strength", "mount", "fabrication", "cost", "findings",
    }  # fmt: skip
    assert wanted <= set(part)
    assert {"width_mm", "height_mm", "area_mm2", "cut_length_mm", "pierces", "bends", "holes"} <= set(part["flat"])
    bend = {"between", "angle_deg", "inside_radius_mm", "k_factor", "allowance_mm", "deduction_mm", "length_mm"}
    assert bend <= set(part["flat"]["bends"][0])
    assert {"size_mm", "volume_mm3"} <= set(part["folded"])
    assert {"code", "severity", "place", "value", "limit", "source", "say", "remedy"} <= set(part["findings"][0])
    assert {"what", "value", "source", "drives"} <= set(rated["assumptions"][0])


def test_flat_mass_and_folded_volume_agree(rated: dict) -> None:
    """Mass over density and thickness is the middle surface's area; the flat's differs by K only."""
    densities = {"S235": 7850, "DC01": 7850, "A1008 CS": 7850, "304": 7930, "5052-H32": 2680}
    for part in rated["parts"]:
        by_volume = part["folded"]["volume_mm3"] * densities[part["material"]] * 1e-9
        assert part["mass_kg"] == pytest.approx(by_volume, abs=6e-7), "printed to a milligram"
        middle = part["folded"]["volume_mm3"] / part["thickness_mm"]
        assert part["flat"]["area_mm2"] == pytest.approx(middle, rel=0.03)


def test_the_slot_bars_bend_is_the_handbooks(rated: dict) -> None:
    bend = next(p for p in rated["parts"] if p["name"] == "spanner hole bar")["flat"]["bends"][0]
    assert bend["allowance_mm"] == pytest.approx(4.461, abs=0.001)
    assert bend["deduction_mm"] == pytest.approx(3.539, abs=0.001)


def test_what_is_not_computed_is_null_and_said(rated: dict) -> None:
    for part in rated["parts"]:
        codes = {f["code"] for f in part["findings"]}
        if part["strength"] is None:
            assert codes & {"not-computed", "load-unknown", "wall-unknown", "slides-down", "flat-overlaps", "panels-collide"}
        if part["cost"] is None:
            assert "not-computed" in codes


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.stem)
def test_flat_writes_dxf_and_svg_of_every_part(example: Path, tmp_path: Path) -> None:
    done = steadfold("flat", str(example), "--out", str(tmp_path / "out"), "--json")
    assert done.returncode in (0, 1), done.stderr
    told = json.loads(done.stdout)
    assert sorted(p.name for p in (tmp_path / "out").glob("*")) == told["files"]
    assert not told["left_out"]


def test_new_writes_a_job_that_rates_and_never_overwrites(tmp_path: Path) -> None:
    done = steadfold("new", str(tmp_path / "shed"))
    assert done.returncode == 0, done.stderr
    job = tmp_path / "shed" / "job.toml"
    before = job.read_bytes()
    assert steadfold("rate", str(job)).returncode in (0, 1, 3)
    again = steadfold("new", str(tmp_path / "shed"))
    assert again.returncode == 2
    assert job.read_bytes() == before


def test_facts_echo_a_gauge_in_every_metal_with_mm_inch_and_source() -> None:
    done = steadfold("facts", "12 ga")
    assert done.returncode == 0
    for text in ("steel 12 ga", "galvanised 12 ga", "stainless 12 ga", "aluminium 12 ga", "0.1046 in", "0.0808 in"):
        assert text in done.stdout


def test_a_job_that_cannot_be_read_ends_with_2_and_names_file_and_line(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text('steadfold = 1\nname = "x"\nrevision = "A"\n[[part]]\nname = "p"\nmaterial = "DC01"\nthickness = 2\n')
    done = steadfold("rate", str(job))
    assert done.returncode == 2
    assert "job.toml:7" in done.stderr
    assert "Traceback" not in done.stderr
    told = json.loads(steadfold("rate", str(job), "--json").stdout)
    assert any(p["line"] == 7 for p in told["problems"])


def test_a_missing_file_is_a_sentence() -> None:
    done = steadfold("rate", "no-such-job.toml")
    assert done.returncode == 2
    assert "no-such-job.toml" in done.stderr
    assert "Traceback" not in done.stderr


def test_inches_show_inches() -> None:
    done = steadfold("rate", str(SHED), "--part", "spanner hole bar", "--units", "in")
    assert "24.000 in" in done.stdout


def test_the_first_job_is_enough_and_says_what_to_type_next(tmp_path: Path) -> None:
    """Who starts from it changes one thing at a time: a starter that fails by itself would be the reader's riddle."""
    steadfold("new", str(tmp_path / "shed"))
    done = steadfold("rate", str(tmp_path / "shed" / "job.toml"))
    assert done.returncode == 0, done.stdout
    assert "2 × oar rack: enough" in done.stdout
    assert f"steadfold flat {tmp_path}" in done.stdout.replace("\n", "")
    done = steadfold("flat", str(tmp_path / "shed" / "job.toml"))
    assert done.returncode == 0
    assert sorted(p.name for p in (tmp_path / "shed" / "flats").iterdir()) == ["oar-rack.dxf", "oar-rack.svg"]


def test_new_lists_every_shape_it_takes() -> None:
    from steadfold.cli.new import SHAPES
    from steadfold.job.fresh import kinds

    assert sorted(SHAPES) == sorted(kinds())


def test_verdict_and_weakest_link_come_before_the_numbers_and_the_numbers_when_asked_for(tmp_path: Path) -> None:
    steadfold("new", str(tmp_path / "shed"))
    short = steadfold("rate", str(tmp_path / "shed" / "job.toml")).stdout
    first = short.splitlines()[:3]
    assert "Boat shed, first rack, revision A: enough" in first[0]
    assert "Weakest: " in first[2]
    assert short.count("\n") < 50, "one screen"
    assert "by hand" not in short
    full = steadfold("rate", str(tmp_path / "shed" / "job.toml"), "--details").stdout
    assert full.splitlines()[:3] == first
    for told in ("by hand", "snatch", "bend order", "relief-made: ", "EN 10025-2"):
        assert told in full
