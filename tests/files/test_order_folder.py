"""The order folder: what is in it read back by others, who is left out, the same bytes every time."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
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
import numpy as np
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
from steadfold.deliver.sheets.nests import NestRefused, kept_nests
from steadfold.deliver.sheets.proof_load import proof_of
from steadfold.deliver.sheets.quote_request import csv_bytes
from steadfold.deliver.sheets.rated import printed_rating, rating_down
from steadfold.findings import Verdict
from steadfold.job.reader import read_job
from steadfold.money.nesting import Nest, Spacing, StockSheet
from steadfold.money.nesting.records import NestedSheet, Placement, piece_of
from steadfold.review import review
from steadfold.review.costing import LaidOut
from steadfold.review.prove import proof_sheet
from steadfold.review.shop import shop_of
from steadfold.sheet.solid import volume_mm3
from tests.files.order_jobs import SHED, judged, pages, part_of, reviewed, strength

UNPROVEN = [Verdict.UNPROVEN]
EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "press-stand.toml"


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


def test_a_folder_in_inches_tells_no_quantity_in_metric_units() -> None:
    """But beside the inches of a thickness, which the shop's stock list has in millimetres."""
    found = judged(reviewed(), Verdict.ENOUGH, strength())
    metric = order_folder(found, Style("letter"))
    inches = order_folder(found, Style("letter", units="in"))
    quantity = re.compile(r"\d[)]? ?(?:mm|kg|MPa|kN|N|N m)\b(?!/m)")
    both = re.compile(r"[\d.]+ in / [\d.]+ mm")
    told = {name: "\n".join(pages(data)) for name, data in inches.files.items() if name.endswith(".pdf")}
    assert sum(len(quantity.findall("\n".join(pages(metric.files[name])))) for name in told) > 100
    for name, text in told.items():
        assert not quantity.search(both.sub("", text)), (name, quantity.findall(text))
    # 8 kg and 0.80 mm of sag, over 0.45359237 kg and 25.4 mm.
    assert "With all 17.6 lb in place, shelf should sag 0.0315 in." in " ".join(told["proof/report.pdf"].split())


def test_the_cut_list_counts_screws_for_every_piece() -> None:
    """Two holes a shelf, seven shelves."""
    text = passed().files["bench/cut-list.csv"].decode("utf-8-sig")
    rows = [row for row in csv.DictReader(io.StringIO(text, newline="")) if row["kind"] == "hardware"]
    counts = Counter({row["what"]: int(row["count"]) for row in rows})
    assert counts['lag screw 1/4", 60 mm long'] == 14


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


def test_the_proof_load_sheet_says_what_prove_says() -> None:
    """1.25 × the 8 kg carried is 10 kg, and 0.8 mm of sag becomes 1 mm: in proportion."""
    found = judged(reviewed(), Verdict.ENOUGH, strength())
    proof = proof_of(part_of(found))
    assert proof == proof_sheet(part_of(found)) and proof is not None
    assert (proof.load_kg, proof.expected_mm) == (10.0, pytest.approx(1.0))
    text = " ".join(" ".join(pages(passed().files["proof/paint-shelf-proof-load.pdf"])).split())
    for words in ("10 kg", "10 minutes", "1.00 mm", f"{proof.low_mm:.2f} mm", f"{proof.high_mm:.2f} mm"):
        assert words in text
    assert f"Stop at {proof.stop_mm:.2f} mm" in text and f"at most {proof.residual_mm:.2f} mm stays" in text
    # Each of four tins of 2 kg becomes 2.5 kg.
    assert "2.5 kg" in text


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


@cache
def stands() -> OrderFolder:
    """The folder of the example of two stands, the one that is a stop asked for."""
    job = read_job(EXAMPLE)
    return order_folder(review(job), Style(), [Verdict.STOP])


def sheet_of(name: str) -> str:
    found = next(data for path, data in stands().files.items() if path == f"bench/{name}.pdf")
    return " ".join(" ".join(pages(found)).split())


def test_a_job_of_stands_alone_has_what_the_bench_needs() -> None:
    names = set(stands().files)
    for sheet in ("cut-list", "assembly", "levelling", "weighing", "saw-templates"):
        assert f"bench/planer-outrigger-second-try-{sheet}.pdf" in names
        assert f"bench/planer-outrigger-as-it-was-stop-{sheet}.pdf" in names
    assert "proof/report.pdf" in names and not any(name.startswith("shop/") for name in names)
    for name, data in pdfs(stands()).items():
        assert len(data) < 2_000_000
        if "-stop-" in name:
            assert all("stop" in page.lower() for page in pages(data)), name


def test_a_stand_that_is_a_stop_is_left_out_unasked() -> None:
    job = read_job(EXAMPLE)
    made = order_folder(review(job), Style())
    assert made.parts == ("planer outrigger, second try",)
    assert [(p.name, p.verdict) for p in made.left_out] == [("planer outrigger as it was", Verdict.STOP)]


def test_the_brace_is_cut_at_the_angles_of_its_triangle() -> None:
    """A brace at 30° to the arm: 30° from square at the bench, 60° at the arm; 560 / cos 30° is 646.6 between nodes."""
    text = sheet_of("planer-outrigger-as-it-was-stop-cut-list")
    assert "30.0° from square: saw at 30.0°" in text and "60.0° from square" in text
    rows = list(csv.DictReader(io.StringIO(stands().files["bench/cut-list.csv"].decode("utf-8-sig"), newline="")))
    brace = next(row for row in rows if row["what"].startswith("left brace") and "as it was" in row["for"])
    assert brace["note"] == "30.0° and 60.0° from square"
    assert 560 / math.cos(math.radians(30)) < float(brace["length_mm"]) < 560 / math.cos(math.radians(30)) + 20


def test_the_levelling_plan_ends_level_and_says_what_to_slacken_first() -> None:
    report = next(stand for stand in review(read_job(EXAMPLE)).stands if stand.level is not None)
    plan = report.level
    assert plan is not None
    text = sheet_of("planer-outrigger-as-it-was-stop-levelling")
    for turns in plan.turns:
        assert f"tighten {turns:.2f} turns" in text
    assert "Slacken first: left brace, right brace" in text and "0.00 mm, 0.00 mm" in text


def test_a_stand_without_readings_says_that_its_turns_are_not_computed() -> None:
    assert "Turns and shims: not computed" in sheet_of("planer-outrigger-second-try-levelling")


def test_the_weighing_sheet_gives_the_rule_and_a_place_for_each_reading() -> None:
    """Five places: two ends, two sides, one with an end raised; x = L R2 / (R1 + R2) by moments about edge 1."""
    text = sheet_of("planer-outrigger-second-try-weighing")
    assert text.count("Scale under the") == 5 and "L × R2 / (R1 + R2)" in text


def test_a_saw_template_rises_by_the_tangent_of_its_angle() -> None:
    """41.275 mm strut at 60° from square: 41.275 tan 60° = 71.49 mm from short to long point, measured on the page."""
    found = next(d for n, d in stands().files.items() if n.endswith("as-it-was-stop-saw-templates.pdf"))
    dpi = 300
    image = pypdfium2.PdfDocument(found)[0].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()
    per_mm = dpi / 25.4
    # Only the cut's own line is 0.5 mm thick; its level pieces are the short points and the long point.
    dark = image < 128
    thick = dark.copy()
    for step in range(1, round(0.4 * per_mm)):
        thick[:-step] &= dark[step:]
    below_title = round(30 * per_mm)
    rows = np.flatnonzero(thick[below_title:].sum(axis=1) > 5 * per_mm)
    levels = rows[np.flatnonzero(np.diff(rows, prepend=-100) > 2 * per_mm)] / per_mm
    assert levels[1] - levels[0] == pytest.approx(41.275 * math.tan(math.radians(60)), abs=0.2)


def laid_out() -> tuple[LaidOut, ...]:
    """The small job's flats in a row on one sheet each, as a layout that was kept."""
    found = []
    for part in reviewed().parts:
        piece = piece_of(part.name, part.flat, part.ordered.quantity)  # type: ignore[arg-type]
        width, _ = part.flat.size_mm  # type: ignore[union-attr]
        x0, y0, _, _ = part.flat.bounds  # type: ignore[union-attr]
        spots = tuple(Placement(0, 0, (20 - x0 + i * (width + 10), 20 - y0)) for i in range(part.ordered.quantity))
        nest = Nest((piece,), Spacing(), (NestedSheet(StockSheet(3000.0, 1500.0), spots),), (), True)
        found.append(LaidOut(part.material.id, part.thickness_mm or 0.0, (part.name,), nest))
    return tuple(found)


def test_layouts_that_were_kept_go_to_the_shop_with_the_job_in_their_heads(tmp_path: Path) -> None:
    from steadfold.deliver.nest_files import nest_files

    for name, data in nest_files(laid_out()).items():
        (tmp_path / name).write_bytes(data)
    kept = kept_nests(tmp_path, reviewed().parts)
    made = order_folder(reviewed(), Style(), UNPROVEN, kept)
    sheets = sorted(name for name in made.files if name.startswith("shop/sheets"))
    assert len([name for name in sheets if name.endswith(".dxf")]) == 2 and all("unproven" in name for name in sheets)
    document = ezdxf.read(io.StringIO(made.files[next(n for n in sheets if n.endswith(".dxf"))].decode()))
    assert not document.audit().has_errors
    assert dict(document.header.custom_vars.properties)["job fingerprint"] == reviewed().job.fingerprint
    assert not any("nested sheets" in words for words in made.missing)


def test_a_layout_of_another_flat_or_with_an_overlap_is_refused() -> None:
    shelf, plate = laid_out()
    sheet = shelf.nest.sheets[0]
    twice = replace(sheet, placements=(*sheet.placements[:-1], sheet.placements[0]))
    overlapping = replace(shelf, nest=replace(shelf.nest, sheets=(twice,)))
    with pytest.raises(NestRefused, match="cannot be cut"):
        order_folder(reviewed(), Style(), UNPROVEN, [overlapping])
    other = reviewed(SHED.replace('size = ["300 mm", "120 mm"]', 'size = ["300 mm", "121 mm"]'))
    with pytest.raises(NestRefused, match="not as it was laid out"):
        order_folder(other, Style(), UNPROVEN, [shelf, plate])


def test_a_folder_without_layouts_is_said_to_hold_none(tmp_path: Path) -> None:
    with pytest.raises(NestRefused, match="holds no layout"):
        kept_nests(tmp_path, reviewed().parts)
    (tmp_path / "x.json").write_text("[1, 2")
    with pytest.raises(NestRefused, match=r"x\.json"):
        kept_nests(tmp_path, reviewed().parts)
