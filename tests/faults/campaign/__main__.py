"""Run the campaign and write its summary."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from datetime import date
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy loads

# ruff: noqa: E402
from tests.faults.campaign import files, kills, machines
from tests.faults.campaign.forked import ANSWER, BAD, GOOD, Outcome, all_tried
from tests.faults.campaign.summary import summary

FULL = {"jobs": 4000, "shops": 2000, "quotes": 2600, "step": 1000, "dxf": 1200}
SHORT = {"jobs": 120, "shops": 60, "quotes": 80, "step": 40, "dxf": 40}
LIMIT_S = 30.0
"""Processor time of one damaged file: the longest sound command here takes a third of it."""
LOADED = (
    "OCP.STEPControl", "OCP.BRepPrimAPI", "ezdxf", "numpy", "scipy.sparse.linalg", "scipy.signal", "shapely", "pint", "rich.table",
    "steadfold.cli.main", "steadfold.review", "steadfold.review.costing", "steadfold.review.plain",
    "steadfold.review.plain_money", "steadfold.job.sale_table", "steadfold.sheet.from_solid.kernel",
    "steadfold.sheet.from_solid.sheet", "steadfold.sheet.from_flat.entities", "steadfold.deliver.part_files",
    "steadfold.deliver.order_folder", "steadfold.money.search", "steadfold.sheet.cad_child",
)  # fmt: skip


class Told:
    """Counts outcomes and says how far it is."""

    def __init__(self, loud: bool):
        self.found: list[Outcome] = []
        self.loud = loud
        self.start = self.last = time.monotonic()

    def __call__(self, outcome: Outcome) -> None:
        self.found.append(outcome)
        if outcome.what in BAD:
            print(f"  {outcome.what}: {outcome.kind}: {outcome.name}: {outcome.said}", file=sys.stderr, flush=True)
        if self.loud and time.monotonic() - self.last > 20:
            self.last = time.monotonic()
            bad = sum(each.what in BAD for each in self.found)
            print(f"{self.last - self.start:6.0f} s: {len(self.found)} cases, {bad} bad", file=sys.stderr, flush=True)

    def all(self, outcomes: Iterable[Outcome]) -> None:
        """Take the outcomes as they come."""
        for outcome in outcomes:
            self(outcome)


def campaign(short: bool, seed: int, keep: Path | None, loud: bool, share: float = 1.0) -> list[Outcome]:
    """All of it; `share` scales the numbers of files and kills."""
    for module in LOADED:
        importlib.import_module(module)
    told = Told(loud)
    with tempfile.TemporaryDirectory(prefix="faults-") as made:
        folder = Path(made)
        counts = {kind: max(1, round(share * count)) for kind, count in (SHORT if short else FULL).items()}
        cases = files.every(counts, seed, folder, whole_every=60 if short else 30)
        (folder / "plate.dxf").write_bytes((folder / "other.dxf").read_bytes())

        def place(name: str) -> Path:
            (folder / name).mkdir()
            return folder / name

        many = 12 if short else 400
        told.all(kills.saves(round(share * (many + many // 4)), seed, place("saves")))
        told.all(kills.orders(round(share * many), seed, place("orders")))
        told.all(kills.searches(round(share * many), seed, place("searches")))
        all_tried(cases, LIMIT_S, told, keep=keep)
        few = ("new", "flat", "size --picture")
        machine = place("machines")
        (machine / "plate.dxf").write_bytes((folder / "other.dxf").read_bytes())
        machines.sound(machine, few if short else None)
        told.all(machines.full_disk(machine, (4,) if short else (4, 8, 16, 64, 200), few if short else None))
        told.all(machines.read_only(machine, few if short else None))
        told.all(machines.missing_library(machine, ("spyrrow",) if short else machines.LIBRARIES))
        if not short:
            told.all(machines.clock_set_back(place("clock")))
            told.all(machines.two_pages(place("two"), 60))
            told.all(machines.without_3d(place("flat-page")))
            told.all(kills.pages(20, seed, place("pages")))
            told.all(kills.commands(16, seed, place("commands")))
    return told.found


def main() -> int:
    """Run, print, write; 1 when anything was neither an answer, a sentence nor a refusal."""
    arguments = argparse.ArgumentParser(prog="faults", description=__doc__)
    arguments.add_argument(
        "--short", action="store_true", help="a few hundred cases, under a minute on a quiet machine"
    )
    arguments.add_argument("--seed", type=int, default=1, help="another seed draws other cases")
    arguments.add_argument("--share", type=float, default=1.0, help="this share of the cases")
    arguments.add_argument("--keep", type=Path, default=Path("out/faults"), help="folder for inputs that went wrong")
    arguments.add_argument("--write", type=Path, metavar="FILE", help="write the summary here (docs/faults.md)")
    options = arguments.parse_args()
    start = time.monotonic()
    found = campaign(options.short, options.seed, options.keep, True, options.share)
    text = summary(found, date.today(), options.seed, time.monotonic() - start)
    # A file's own letters may be none: what is quoted from it is told in what there is.
    text = text.encode("utf-8", "backslashreplace").decode("utf-8")
    print(text)
    if options.write:
        options.write.write_text(text, encoding="utf-8")
    slowest = sorted(found, key=lambda outcome: -outcome.seconds)[:5]
    print("slowest:", *(f"{o.seconds:.1f} s {o.kind} {o.name}" for o in slowest), sep="\n  ", file=sys.stderr)
    warned = Counter(o.said[-160:] for o in found if o.what == ANSWER and o.said.startswith("warned"))
    print("warned:", *(f"{n} × {said}" for said, n in warned.most_common(8)), sep="\n  ", file=sys.stderr)
    return 0 if all(outcome.what in GOOD for outcome in found) else 1


if __name__ == "__main__":
    sys.exit(main())
