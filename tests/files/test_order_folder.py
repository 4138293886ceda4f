"""The order folder: what is in it read back by others, who is left out, the same bytes every time."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path

import ezdxf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_SOLID

from steadfold.deliver.dxf_file import dxf_text
from steadfold.deliver.order_folder import (
    CONTENTS,
    SUMS,
    NothingToOrder,
    OrderFolder,
    order_folder,
    verify,
    write_order_folder,
)
from steadfold.deliver.sheets.head import Style
from steadfold.deliver.sheets.making import checks_of
from steadfold.deliver.sheets.proof_load import proof_of
from steadfold.deliver.sheets.quote_request import csv_bytes
from steadfold.deliver.sheets.rated import printed_rating, rating_down
from steadfold.findings import Verdict
from steadfold.review.shop import shop_of
from steadfold.sheet.solid import volume_mm3
from tests.files.order_jobs import SHED, judged, pages, part_of, reviewed, strength

UNPROVEN = [Verdict.UNPROVEN]


@cache
def asked() -> OrderFolder:
    """The folder of the small job, its unproven parts asked for."""
    return order_folder(reviewed(), Style(), UNPROVEN)


@cache
def passed() -> OrderFolder:
    """The folder of the same job as if every part were enough."""
    return order_folder(judged(reviewed(), Verdict.ENOUGH, strength()), Style())


def pdfs(made: OrderFolder) -> dict[str, bytes]:
    return {name: data for name, data in made.files.items() if name.endswith(".pdf")}


def test_everything_a_shop_a_bench_a_tester_and_a_buyer_need_is_there() -> None:
    names = set(passed().files)
    for name in (
        "shop/paint-shelf.dxf",
        "shop/paint-shelf.step",
        "shop/paint-shelf-drawing.pdf",
        "shop/quote-request.csv",
        "shop/quote-request.pdf",
        "shop/traveller.pdf",
        "bench/cut-list.csv",
        "bench/cut-list.pdf",
        "bench/paint-shelf-template.pdf",
        "bench/paint-shelf-mounting-template.pdf",
        "bench/paint-shelf-assembly.pdf",
        "proof/report.pdf",
        "proof/paint-shelf-proof-load.pdf",
        "proof/paint-shelf-label.svg",
        "proof/paint-shelf-label.pdf",
        "sale/paint-shelf-product.pdf",
        "sale/paint-shelf-fitting.pdf",
        CONTENTS,
        SUMS,
    ):
        assert name in names


def test_every_pdf_is_small_has_pages_and_nothing_on_them_runs_off_the_paper() -> None:
    for name, data in pdfs(passed()).items():
        assert len(data) < 2_000_000, name
        # A tiled template holds the whole drawing on every sheet, cut to its window.
        if "template" in name:
            continue
        document = pypdfium2.PdfDocument(data)
        assert len(document) >= 1
        for page in document:
            width, height = page.get_size()
            text = page.get_textpage()
            for i in range(text.count_rects()):
                left, bottom, right, top = text.get_rect(i)
                assert left > -1 and bottom > -1 and right < width + 1 and top < height + 1, (
                    name,
                    text.get_text_bounded(left, bottom, right, top),
                )


@pytest.mark.parametrize(
    "sheet", ["shop/paint-shelf-drawing", "proof/paint-shelf-proof-load", "sale/paint-shelf-product"]
)
def test_a_part_s_sheets_carry_its_name_revision_quantity_and_job(sheet: str) -> None:
    job = reviewed().job
    for page in pages(passed().files[f"{sheet}.pdf"]):
        flat = " ".join(page.split())
        assert "paint shelf" in flat and job.fingerprint[:12] in flat
        assert re.search(r"[Rr]evision C\b|revision \n?C|revision C", flat) or " C " in flat
        assert re.search(r"quantity 7\b| 7 ", flat)


def test_every_page_of_every_pdf_says_which_job_and_revision_it_belongs_to() -> None:
    job = reviewed().job
    for name, data in pdfs(passed()).items():
        for page in pages(data):
            assert job.fingerprint[:12] in page, name
            assert re.search(r"(?i)\brev(ision)?\s*C\b", page) or "\nC\n" in page, name
        told = pypdfium2.PdfDocument(data).get_metadata_dict()
        assert job.fingerprint in told["Keywords"] and "revision C" in told["Keywords"]


def test_overall_sizes_stand_on_drawing_product_sheet_and_report() -> None:
    """Width 300 and depth 120 as ordered."""
    for name in ("shop/paint-shelf-drawing.pdf", "sale/paint-shelf-product.pdf", "proof/report.pdf"):
        text = "\n".join(pages(passed().files[name]))
        assert re.search(r"300 × [\d.]+ × 120 mm", text), name


def test_the_dxf_audits_clean_and_its_cut_is_that_of_the_flat_command() -> None:
    found = reviewed()
    part = part_of(found)
    data = passed().files["shop/paint-shelf.dxf"]
    document = ezdxf.read(io.StringIO(data.decode("utf-8")))
    audit = document.audit()
    assert not audit.has_errors and not audit.has_fixes
    plain = ezdxf.read(io.StringIO(dxf_text(part.part, part.flat)))  # type: ignore[arg-type]

    def listed(drawing: ezdxf.document.Drawing) -> list[str]:
        return [f"{e.dxftype()} {e.dxf.layer} {sorted(e.dxfattribs().items(), key=str)}" for e in drawing.modelspace()]

    assert listed(document) == listed(plain)
    assert all(e.closed for e in document.modelspace().query("LWPOLYLINE"))
    told = dict(document.header.custom_vars.properties)
    assert told["revision"] == "C" and told["job fingerprint"] == found.job.fingerprint
    assert told["quantity"] == "7" and "verdict" not in told


def test_the_step_file_is_one_valid_solid_and_its_head_names_the_job() -> None:
    found = reviewed()
    data = passed().files["shop/paint-shelf.step"]
    reader = STEPControl_Reader()
    reader.ReadStream("part.step", io.BytesIO(data))
    reader.TransferRoots()
    shape = reader.OneShape()
    assert shape.ShapeType() == TopAbs_SOLID and BRepCheck_Analyzer(shape).IsValid()
    assert volume_mm3(shape) == pytest.approx(part_of(found).part.volume_mm3, rel=1e-6)  # type: ignore[union-attr]
    head = data.split(b"DATA;")[0].decode("ascii")
    assert f"'job fingerprint: {found.job.fingerprint}'" in head and "'revision: C'" in head


def test_the_quote_table_is_read_by_a_csv_reader_and_gives_what_was_ordered() -> None:
    text = passed().files["shop/quote-request.csv"].decode("utf-8-sig")
    rows = {row["part"]: row for row in csv.DictReader(io.StringIO(text, newline=""))}
    shelf = rows["paint shelf"]
    assert (shelf["quantity"], shelf["material"], shelf["bends"], shelf["revision"]) == ("7", "S235", "2", "C")
    assert (shelf["flat_width_mm"], shelf["folded_depth_mm"]) == ("300.00", "120.00")
    assert f"shop/{shelf['dxf']}" in passed().files and f"shop/{shelf['drawing']}" in passed().files
    # A plain plate of 120 × 60 × 1.5 in 304 (7.9 g/cm³ by EN 10088-1, recalled): 0.085 kg.
    assert float(rows["drip plate"]["mass_each_kg"]) == pytest.approx(0.085, abs=0.001)
    assert float(rows["drip plate"]["cut_length_mm"]) == 360.0


def test_a_text_that_a_spreadsheet_would_run_is_tamed() -> None:
    data = csv_bytes(("a", "b"), [{"a": "=HYPERLINK(1)", "b": "-3.5"}, {"a": "@x", "b": "+cmd"}]).decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(data, newline="")))
    assert rows[1:] == [["'=HYPERLINK(1)", "-3.5"], ["'@x", "'+cmd"]]


def test_the_cut_list_counts_screws_for_every_piece() -> None:
    """Two holes a shelf, seven shelves."""
    text = passed().files["bench/cut-list.csv"].decode("utf-8-sig")
    rows = [row for row in csv.DictReader(io.StringIO(text, newline="")) if row["kind"] == "hardware"]
    counts = Counter({row["what"]: int(row["count"]) for row in rows})
    assert counts["lag screw 1/4, 60 mm long"] == 14


def test_hashes_in_the_contents_and_in_the_sums_are_those_of_the_files(tmp_path: Path) -> None:
    write_order_folder(tmp_path / "order", passed())
    assert verify(tmp_path / "order") == []
    contents = json.loads((tmp_path / "order" / CONTENTS).read_text(encoding="utf-8"))
    assert contents["job_fingerprint"] == hashlib.sha256(SHED.encode()).hexdigest() and contents["revision"] == "C"
    on_disk = {p.relative_to(tmp_path / "order").as_posix() for p in (tmp_path / "order").rglob("*") if p.is_file()}
    assert on_disk == {entry["path"] for entry in contents["files"]} | {CONTENTS, SUMS}
    (tmp_path / "order" / "shop" / "paint-shelf.dxf").write_bytes(b"changed")
    assert verify(tmp_path / "order") == ["shop/paint-shelf.dxf"]


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="no sha256sum on this machine")
def test_a_system_s_own_tool_verifies_the_sums(tmp_path: Path) -> None:
    write_order_folder(tmp_path / "order", passed())
    done = subprocess.run(["sha256sum", "--check", "--strict", "--quiet", SUMS], cwd=tmp_path / "order", check=False)
    assert done.returncode == 0


def test_what_is_no_pass_is_not_written_out_unasked() -> None:
    for verdict in (Verdict.UNPROVEN, Verdict.NOT_ENOUGH, Verdict.STOP):
        with pytest.raises(NothingToOrder, match=f'--even-if "{verdict}"'):
            order_folder(judged(reviewed(), verdict), Style())


def test_one_word_does_not_ask_for_another_verdict() -> None:
    with pytest.raises(NothingToOrder):
        order_folder(judged(reviewed(), Verdict.NOT_ENOUGH), Style(), UNPROVEN)


def test_a_pass_is_written_beside_a_part_that_is_left_out() -> None:
    found = judged(reviewed(), Verdict.ENOUGH, strength())
    first, second = found.parts
    mixed = replace(found, parts=(first, replace(second, verdict=Verdict.NOT_ENOUGH)))
    made = order_folder(mixed, Style())
    assert made.parts == ("paint shelf",) and [p.name for p in made.left_out] == ["drip plate"]
    assert not any("drip-plate" in name for name in made.files)
    report = "\n".join(pages(made.files["proof/report.pdf"]))
    assert "Not written out" in report and "drip plate" in report
    assert json.loads(made.files[CONTENTS])["left_out"][0]["verdict"] == "not enough"


def test_what_was_asked_for_all_the_same_says_so_on_every_page_and_in_every_name() -> None:
    for name, data in asked().files.items():
        stem = name.split("/")[-1]
        if stem.startswith(("paint", "drip")):
            assert "unproven" in stem, name
        if name.endswith(".pdf"):
            for page in pages(data):
                assert "unproven" in page.lower(), name
            assert "unproven" in pypdfium2.PdfDocument(data).get_metadata_dict()["Keywords"]
    dxf = ezdxf.read(io.StringIO(asked().files["shop/paint-shelf-unproven.dxf"].decode()))
    assert dict(dxf.header.custom_vars.properties)["verdict"].startswith("unproven")
    assert b"verdict: unproven" in asked().files["shop/paint-shelf-unproven.step"]
    assert "unproven" in asked().files["proof/paint-shelf-unproven-label.svg"].decode().lower()


def test_what_is_enough_carries_no_stamp() -> None:
    for name, data in pdfs(passed()).items():
        assert not any("asked for in words" in page for page in pages(data)), name


def test_the_same_job_gives_the_same_bytes_in_another_process(tmp_path: Path) -> None:
    statement = (
        "import sys, hashlib; from tests.files.order_jobs import reviewed; "
        "from steadfold.deliver.order_folder import order_folder; from steadfold.findings import Verdict; "
        "made = order_folder(reviewed(), None, [Verdict.UNPROVEN]); "
        "print(*sorted(f'{hashlib.sha256(d).hexdigest()} {n}' for n, d in made.files.items()), sep=chr(10))"
    )
    environment = os.environ | {"PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland", "LANG": "C"}
    done = subprocess.run(
        [sys.executable, "-c", statement], capture_output=True, text=True, check=True, env=environment,
        cwd=Path(__file__).resolve().parents[2],
    )  # fmt: skip
    here = sorted(f"{hashlib.sha256(data).hexdigest()} {name}" for name, data in asked().files.items())
    assert done.stdout.split("\n")[:-1] == here


def test_the_dxf_is_the_same_whatever_order_a_set_has() -> None:
    """Seeds of the hash between which it once differed: the library writes the classes of a DXF in the order of a set."""
    statement = (
        "from tests.files.order_jobs import reviewed, part_of; from steadfold.deliver.sheets.head import part_head; "
        "from steadfold.deliver.stamped import stamped_dxf; import hashlib; found = reviewed(); part = part_of(found); "
        "print(hashlib.sha256(stamped_dxf(part.part, part.flat, part_head(found.job, part))).hexdigest())"
    )
    root = Path(__file__).resolve().parents[2]
    found = set()
    for seed in (1, 7, 10):
        environment = os.environ | {"PYTHONHASHSEED": str(seed)}
        done = subprocess.run(
            [sys.executable, "-c", statement], capture_output=True, text=True, check=True, env=environment, cwd=root
        )
        found.add(done.stdout)
    assert len(found) == 1


def test_text_of_a_job_is_never_run_as_typst() -> None:
    hostile = '#panic("x") *b* $x$ <l> @y `q` = h #read("/etc/hosts") //'
    found = reviewed(SHED.replace('name = "drip plate"', f"name = '{hostile}'"))
    made = order_folder(found, Style(), UNPROVEN)
    stem = next(name for name in made.files if name.startswith("sale/panic") and name.endswith("product.pdf"))
    assert hostile.replace(" ", "") in "".join(pages(made.files[stem])).replace("\n", "").replace(" ", "")


def test_without_data_the_sheets_say_so_in_words() -> None:
    report = "\n".join(pages(asked().files["proof/report.pdf"]))
    assert "Strength, sag and fixings: not computed" in report
    assert "not computed" in "\n".join(pages(asked().files["proof/paint-shelf-unproven-proof-load.pdf"]))
    assert "NOT RATED" in "\n".join(pages(asked().files["proof/paint-shelf-unproven-label.pdf"]))
    assert any("nested sheets" in words for words in asked().missing)


def test_the_label_says_what_is_rated_rounded_down_where_and_for_which_revision() -> None:
    """The lower end of the bar: 20 kg less 1 % is 19.8 kg, rounded down 19 kg."""
    text = " ".join(" ".join(pages(passed().files["proof/paint-shelf-label.pdf"])).split())
    assert "19 kg" in text and "wood stud" in text and "rev C" in text and "Do not climb" in text
    assert "19 kg" in passed().files["proof/paint-shelf-label.svg"].decode()


@given(st.floats(1e-3, 9e4))
def test_a_printed_rating_is_never_above_the_computed_one(rating: float) -> None:
    value, unit = rating_down(rating, "mm").split()
    assert unit == "kg" and float(value) <= rating * (1 + 1e-12) and float(value) > 0.9 * rating - 1e-12


def test_no_mass_is_printed_while_a_link_is_unproven() -> None:
    found = judged(reviewed(), Verdict.NOT_ENOUGH, strength(fixing_share=None))
    printed = printed_rating(part_of(found))
    assert printed.kg is None and printed.lacks == "unproven"
    made = order_folder(found, Style(), [Verdict.NOT_ENOUGH])
    for name in ("proof/paint-shelf-not-enough-label.pdf", "sale/paint-shelf-not-enough-product.pdf"):
        text = "\n".join(pages(made.files[name]))
        assert "NOT RATED: unproven" in text and "19 kg" not in text


def test_masonry_and_steel_studs_stay_unproven_for_the_buyer_and_so_does_a_wall_nobody_knows() -> None:
    text = " ".join(" ".join(pages(passed().files["sale/paint-shelf-fitting.pdf"])).split())
    assert "rated there for 19 kg" in text and text.count("Unproven on this wall") == 2
    assert "any of these: unproven" in text


def test_the_proof_load_is_a_quarter_more_than_the_rating_and_its_sag_in_proportion() -> None:
    """1.25 × 20 kg = 25 kg; 0.8 mm at 8 kg is 2.5 mm at 25 kg; 5 % off the thickness is 1.05⁻³ to 0.95⁻³."""
    proof = proof_of(strength())
    assert proof is not None and proof.mass_kg == 25.0
    assert proof.sag_mm == pytest.approx(2.5)
    assert proof.sag_low_mm == pytest.approx(2.5 * 0.99 / 1.157625)
    assert proof.sag_high_mm == pytest.approx(2.5 * 1.01 / 0.857375)
    assert proof.stop_mm > proof.sag_high_mm > proof.sag_mm > proof.residual_mm
    text = " ".join(" ".join(pages(passed().files["proof/paint-shelf-proof-load.pdf"])).split())
    assert "25 kg" in text and "10 minutes" in text and "2.50 mm" in text


def test_three_that_held_bound_the_failures_as_the_sheet_says() -> None:
    """No failure in n trials: with 95 % confidence p < 1 - 0.05^(1/n)."""
    assert f"{100 * (1 - 0.05 ** (1 / 3)):.0f}" == "63"
    assert "63 %" in "\n".join(pages(passed().files["proof/paint-shelf-proof-load.pdf"]))


def test_what_to_measure_counts_cut_bends_and_coat() -> None:
    """A 25 mm lip: cut ± 0.13, one bend ± 0.3, powder 60 to 120 µm on both sides (the typical shop's own figures)."""
    found = reviewed()
    shop = shop_of(found.job)
    lip = next(c for c in checks_of(part_of(found), shop, "mm") if c.what.startswith("lip"))
    slack = shop.laser.tolerance_mm + shop.brake.leg_tolerance_mm
    assert float(lip.least) == pytest.approx(25 - slack + 0.12, abs=0.005)
    assert float(lip.most) == pytest.approx(25 + slack + 0.24, abs=0.005)
    hole = next(c for c in checks_of(part_of(found), shop, "mm") if c.what.startswith("hole"))
    assert float(hole.least) == pytest.approx(7 - shop.laser.tolerance_mm - 0.24, abs=0.005)


def test_sheets_of_a_stand_are_made_from_the_plain_review_s_entry() -> None:
    """S5 of a worked story: 1.54 turns, set to the nearest eighth, in two goes."""
    from steadfold.deliver.sheets.head import job_head
    from steadfold.deliver.sheets.stand_sheets import levelling_plan, weighing_sheet

    stand = {
        "name": "planer outrigger", "verdict": "tight", "weakest": "joint slip", "sag_mm": 6.0, "slope_mm_per_m": 9.2,
        "tie_rods": [{"name": "left rod", "tension_n": 906.0, "turns_to_level": 1.54}],
    }  # fmt: skip
    head = job_head(reviewed().job, Verdict.TIGHT)
    text = " ".join(" ".join(pages(levelling_plan(head, stand, Style()))).split())
    assert (
        "tighten 1.54 turns (set 1.5)" in text and "906 N" in text and "6.00 mm" in text and "slacken its bolts" in text
    )
    empty = " ".join(pages(levelling_plan(head, {"name": "x", "verdict": "tight"}, Style())))
    assert "Turns: not computed" in " ".join(empty.split())
    assert "L × R2 / (R1 + R2)" in " ".join(" ".join(pages(weighing_sheet(head, Style()))).split())
