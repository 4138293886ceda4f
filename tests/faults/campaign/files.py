"""Damaged files of every kind that people hand over, and what is done with each."""

from __future__ import annotations

import argparse
import random
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from tests.faults.campaign.damage import DXF, QUOTES, STEP, damaged
from tests.faults.campaign.forked import ANSWER, Case, all_tried
from tests.faults.job_mutations import mutated

ROOT = Path(__file__).resolve().parents[3]
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
HEADER = "part,quantity,total,date,shop\n"
QUOTE_ROWS = "".join(
    f"oar rack,{n},{18 * n + 95:.2f} EUR,2026-0{m}-1{m},{shop}\n"
    for m, (n, shop) in enumerate(
        [(2, "north"), (10, "north"), (50, "North"), (6, "quay works"), (20, "quay works")], 1
    )
)
SALE = """
[sale]
part = "oar rack"
margin = "35 %"
channel_fee = "12 %"
payment_fee = "2.9 %"
payment_each = "0.30 EUR"
packaging = "2.40 EUR"
design = "600 EUR"
batch = 20
demand = { low = 2, high = 8 }
[[sale.variant]]
name = "bare"
finish = "none"
"""
DRAWN = """steadfold = 1
name = "Boat shed, drawn parts"

[[part]]
name = "rail end"
material = "DC01"
shape = "step"
file = "rail_end.step"
k_factor = 0.44
finish = "zinc"

[[part]]
name = "cover"
quantity = 4
material = "S235"
thickness = "2 mm"
shape = "dxf"
file = "drawings/cover.dxf"
bend_angle = "90 deg"
"""
OWN_SHOP = """name = "quay works"
[laser]
kerf = "0.25 mm"
[laser.thickest]
"mild steel" = "12 mm"
[brake]
length = "2500 mm"
force = "800 kN"
[[die]]
name = "V16"
v = "16 mm"
[[bend]]
material = "S235"
thickness = "3 mm"
inside_radius = "2.6 mm"
angle = "90 deg"
deduction = "5.4 mm"
[rates]
currency = "EUR"
order = "25 EUR"
laser = "110 EUR/h"
[rates.metal]
"mild steel" = "1.35 EUR/kg"
"""


FLAT = ["--thickness", "2 mm", "--bend-angle", "90 deg"]


def command(*words: str) -> int:
    """A command as its owner types it, in this process."""
    from steadfold.cli.main import main

    return main([*words])


def look(path: Path) -> int:
    """Read a job, its sale, its stands and its shop; shape, unfold and price every part. What is raised is said as a
    command would say it."""
    from steadfold.cli.main import guarded

    in_this_process()

    def run(options: argparse.Namespace) -> int:
        from steadfold.catalogue import material
        from steadfold.job import read_job
        from steadfold.job.sale_table import read_sale
        from steadfold.money.cost import cost_of
        from steadfold.money.rates import read_rates
        from steadfold.money.work import NoCost
        from steadfold.review import review
        from steadfold.review.shop import shop_of

        job = read_job(path)
        rates = read_rates(shop_of(job).rates)
        read_sale(job, rates.currency, rates.shipping)
        result = review(job, shape_only=True)
        for part in result.parts:
            if part.part is None or part.flat is None:
                continue
            try:
                cost_of(part.part, part.flat, None, material(part.ordered.material), shop_of(job), part.ordered.quantity,
                        part.ordered.finish)  # fmt: skip
            except NoCost:
                continue
        return 0

    return guarded(run, argparse.Namespace(json=False))


def quotes(path: Path) -> int:
    """Read a file of quotes."""
    from steadfold.cli.main import guarded

    def run(options: argparse.Namespace) -> int:
        from steadfold.money.quotes import by_shop, quotes_in

        by_shop(quotes_in(path, "EUR"))
        return 0

    return guarded(run, argparse.Namespace(json=False))


_own_child = False


def in_its_own_child(call: Callable[[], int]) -> Callable[[], int]:
    """A call that leaves the reading of CAD files to the child that the project gives it to."""

    def called() -> int:
        global _own_child
        _own_child = True
        return call()

    return called


def in_this_process() -> None:
    """CAD files are read by a child with limits of its own; here the same code is called without it, being in a fork."""
    if _own_child:
        return
    from steadfold.sheet import cad_child, cad_file
    from steadfold.sheet.from_flat import reading as flat
    from steadfold.sheet.from_solid import reading as solid

    def answered(request: dict[str, Any], seconds: float = 0.0, memory_bytes: int = 0) -> Any:
        kind, answer = cad_child.answer(request)
        if kind == "refused":
            raise cad_file.CadRefused(str(answer))
        return answer

    for module in (cad_file, flat, solid):
        module.in_child = answered  # type: ignore[attr-defined]


def _file(case: Callable[[Path], int], data: bytes, suffix: str, beside: Path | None = None) -> Callable[[], int]:
    """A call with the data in a file of its own, and copies of what lies in `beside` next to it."""

    def call() -> int:
        with tempfile.TemporaryDirectory() as made:
            path = Path(made) / f"given{suffix}"
            if beside is not None and b"rail_end" in data:
                shutil.copytree(beside, made, dirs_exist_ok=True)
            path.write_bytes(data)
            return case(path)

    return call


def jobs(count: int, seed: int, texts: list[str], beside: Path, whole_every: int) -> Iterator[Case]:
    """Damaged job files: most are looked over, one in `whole_every` is rated, priced or unfolded by its command.

    `beside` holds the drawings that one of them names.
    """
    for number in range(count):
        text = texts[number % len(texts)]
        name, data = mutated(text, seed + number)
        whole = number % whole_every == whole_every - 1
        way: Callable[[Path], int] = look
        kind = "job file"
        if whole:
            kind = "job file, whole command"
            words = (("rate",), ("cost", "--json"), ("flat",), ("price",))[number // whole_every % 4]

            def way(path: Path, words: tuple[str, ...] = words) -> int:
                in_this_process()
                return command(words[0], str(path), *words[1:])

        call = _file(way, data, ".toml", beside)
        yield Case(kind, f"{seed + number} {name}", call, data, ".toml", in_its_own_child(call))


def _checked(path: Path) -> int:
    return command("shop", "check", str(path))


def shops(count: int, seed: int) -> Iterator[Case]:
    """Damaged shop files, checked."""
    from steadfold.fabricate.shop_file import typical_text

    texts = [typical_text(), OWN_SHOP, OWN_SHOP]
    for number in range(count):
        text = texts[number % len(texts)]
        # Those mutations that look for a part find it in a comment.
        name, data = mutated(text + "\n# [[part]]\n", seed + number)
        yield Case(
            "shop file",
            f"{seed + number} {name}",
            _file(_checked, data, ".toml"),
            data,
            ".toml",
        )


def quote_files(count: int, seed: int, job: str, whole_every: int) -> Iterator[Case]:
    """Damaged quotes; one in `whole_every` calibrates the price of a part."""
    for number in range(count):
        name, data = damaged(HEADER + QUOTE_ROWS, QUOTES, seed + number)
        kind, way = "quotes (CSV)", quotes
        if number % whole_every == whole_every - 1:
            kind = "quotes, whole command"

            def way(path: Path) -> int:
                own = path.with_name("job.toml")
                own.write_text(job, encoding="utf-8")
                return command("cost", str(own), "--quotes", str(path), "--json")

        yield Case(kind, f"{seed + number} {name}", _file(way, data, ".csv"), data, ".csv")


def _cad(words: list[str]) -> Callable[[Path], int]:
    def way(path: Path) -> int:
        in_this_process()
        return command("read", str(path), "--material", "DC01", *words)

    return way


def step_files(count: int, seed: int, texts: list[str]) -> Iterator[Case]:
    """Damaged STEP files, read as parts."""
    for number in range(count):
        name, data = damaged(texts[number % len(texts)], STEP, seed + number)
        call = _file(_cad([]), data, ".step")
        yield Case("STEP file", f"{seed + number} {name}", call, data, ".step", in_its_own_child(call))


def dxf_files(count: int, seed: int, texts: list[str]) -> Iterator[Case]:
    """Damaged DXF files, read as flats."""
    for number in range(count):
        name, data = damaged(texts[number % len(texts)], DXF, seed + number)
        call = _file(_cad(FLAT), data, ".dxf")
        yield Case("DXF file", f"{seed + number} {name}", call, data, ".dxf", in_its_own_child(call))


def job_texts() -> list[str]:
    """Small sound jobs: each example, each part of the boat shed alone, one with a sale, one of drawn parts."""
    from steadfold.job import read_job
    from steadfold.job.writer import edited

    shed = read_job(ROOT / "examples" / "boat-shed.toml")
    alone = []
    for part in shed.parts:
        others = [(("part", other.name), None) for other in shed.parts if other.name != part.name]
        alone.append(edited(shed.text.text, others))
    others_too = [path.read_text(encoding="utf-8") for path in EXAMPLES if path.name != "boat-shed.toml"]
    return [*alone, *others_too, alone[0] + SALE, alone[0] + SALE, DRAWN]


def cad_texts(folder: Path) -> tuple[list[str], list[str]]:
    """Sound STEP and DXF texts: parts made with the solid kernel, flats as the project writes them and as others do."""
    import ezdxf
    from tests.files import corpus

    solids = {
        "angle": corpus.section(2.0, [50, 26], [(90, 2.0)], 100),
        "zed": corpus.section(1.5, [30, 40, 20], [(90, 2.0), (-90, 2.0)], 60),
        "channel": corpus.section(3.0, [40, 80, 40], [(90, 3.0), (90, 3.0)], 120),
        "plate": corpus.cut(corpus.box((0, 0, 0), (120, 60, 3)), corpus.rod((30, 30, -5), (0, 0, 1), 5, 20)),
    }
    steps = [corpus.write([(name, solid)], folder / f"{name}.step").read_text() for name, solid in solids.items()]
    command("flat", str(EXAMPLES[0]), "--out", str(folder / "flats"))
    drawn = [path.read_text() for path in sorted((folder / "flats").glob("*.dxf"))]
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    corners = [(0, 0), (100, 0), (100, 50), (0, 50)]
    for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
        space.add_line(a, b)
    space.add_circle((20, 20), 5)
    space.add_lwpolyline([(60, 20), (80, 20, 0, 0, 1), (80, 30), (60, 30, 0, 0, 1)], close=True)
    block = document.blocks.new("slot")
    block.add_arc((0, 0), 4, 0, 360)
    space.add_blockref("slot", (40, 40))
    document.saveas(folder / "other.dxf")
    return steps, [*drawn, (folder / "other.dxf").read_text()]


def sound(cases: Sequence[Case]) -> None:
    """Undamaged, each must be an answer: else the campaign would try nothing."""
    for outcome in all_tried(cases, 120, lambda outcome: None, batch=1):
        if outcome.what != ANSWER:
            raise SystemExit(f"{outcome.kind} {outcome.name} is no answer undamaged: {outcome.what} {outcome.said}")


def every(counts: dict[str, int], seed: int, folder: Path, whole_every: int) -> list[Case]:
    """All damaged files of a campaign, in an order drawn by the seed."""
    texts = job_texts()
    steps, flats = cad_texts(folder)
    beside = folder / "beside"
    (beside / "drawings").mkdir(parents=True)
    (beside / "rail_end.step").write_text(steps[0])
    (beside / "drawings" / "cover.dxf").write_text(flats[0])
    sound([
        *(Case("job file", f"sound {n}", _file(look, text.encode(), ".toml", beside)) for n, text in enumerate(texts)),
        *(Case("shop file", "sound", _file(_checked, text.encode(), ".toml")) for text in (OWN_SHOP,)),
        Case("quotes", "sound", _file(quotes, (HEADER + QUOTE_ROWS).encode(), ".csv")),
        *(Case("STEP file", f"sound {n}", _file(_cad([]), text.encode(), ".step")) for n, text in enumerate(steps)),
        *(Case("DXF file", f"sound {n}", _file(_cad(FLAT), text.encode(), ".dxf")) for n, text in enumerate(flats)),
    ])  # fmt: skip
    cases = [
        *jobs(counts["jobs"], seed, texts, beside, whole_every),
        *shops(counts["shops"], seed + 1_000_000),
        *quote_files(counts["quotes"], seed + 2_000_000, texts[0], whole_every),
        *step_files(counts["step"], seed + 3_000_000, steps),
        *dxf_files(counts["dxf"], seed + 4_000_000, flats),
    ]
    random.Random(seed).shuffle(cases)
    print(f"{len(cases)} damaged files are made", file=sys.stderr, flush=True)
    return cases
