"""How densely parts are laid: puzzles with a known answer, openings used or not, and public instances if there.

Run: python benchmarks/nesting_speed.py [--seconds 10 60] [--instances FOLDER] [--runs 3]

A folder of public instances holds JSON files with `strip_height` and `items` (`demand`, `allowed_orientations`,
`shape.data`), the form in which open packing projects pass the instances of the EURO working group on cutting and
packing around; none are shipped, since no licence says that they may be. Every layout is measured by geometry that
the search knows nothing of before its density is printed. Time is by the clock, since the search is; the processor
time that it was given beside it says what else the machine did.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import sys
import time
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy loads

# ruff: noqa: E402
import shapely
import shapely.affinity

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from tests.properties.cut_ups import cut_up

from steadfold.money.nesting import Piece, Spacing, StockSheet, nest
from steadfold.money.nesting.check import nest_faults
from steadfold.money.nesting.strip import StripItem, StripLayout, pack_strip
from steadfold.sheet.outline import Face, circle, polygon_outline, rectangle

TRIED = {
    "albano": (86.9, 87.5, 89.8), "swim": (73.7, 74.3, 79.8), "shirts": (85.7, 87.5, 90.9),
    "trousers": (88.5, 89.3, 92.6), "shapes0": (65.5, 65.8, 70.0), "marques": (88.5, 88.7, 92.0),
    "jakobs1": (84.0, 89.1, 89.3), "dagli": (85.1, 86.1, 90.2),
}  # fmt: skip
"""Density in per cent of a first trial of the library on a quiet machine after 10 s and 60 s, and the best published
(second-hand, from arXiv 2509.13329)."""
WORKERS = min(4, os.cpu_count() or 1)
"""Threads of the search, as `nest` takes them."""
LIMIT = 1.5
"""How far below the first trial a density may lie."""


def overlap(items: list[StripItem], layout: StripLayout, height: float) -> float:
    """Area that is covered twice or lies off the strip, over the area of all parts."""
    placed = []
    for laid in layout.laid:
        turned = shapely.affinity.rotate(items[laid.item].shape, laid.turned_deg, origin=(0, 0))
        placed.append(shapely.affinity.translate(turned, *laid.shift_mm))
    whole = sum(shape.area for shape in placed)
    on_strip = shapely.intersection(shapely.unary_union(placed), shapely.box(0, 0, layout.length_mm, height)).area
    return (whole - on_strip) / whole


def say(name: str, items: list[StripItem], height: float, seconds: list[float], optimum: float | None) -> None:
    """Print the density of one strip at each time."""
    words = []
    for limit in seconds:
        start = time.perf_counter()
        layout = pack_strip(items, height, limit, 0, WORKERS)
        if layout is None:
            words.append(f"{limit:g} s: nothing")
            continue
        area = sum(item.shape.area * item.count for item in items)
        density = area / (height * layout.length_mm)
        twice = overlap(items, layout, height)
        words.append(f"{limit:g} s: {100 * density:.1f} % ({time.perf_counter() - start:.0f} s, overlap {twice:.0e})")
    best = f"; possible {100 * optimum:.0f} %" if optimum else ""
    print(f"  {name}: {',  '.join(words)}{best}", flush=True)


def main() -> None:
    """Print the tables that are asked for."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--seconds", type=float, nargs="+", default=[10.0])
    arguments.add_argument("--instances", type=Path)
    arguments.add_argument("--only-instances", action="store_true", help="leave out the puzzles and the sheets")
    arguments.add_argument("--runs", type=int, default=1)
    options = arguments.parse_args()
    if not options.only_instances:
        puzzles(options.seconds)
        sheets(options.seconds[0])
    if options.instances is not None:
        instances(options.instances, options.seconds, options.runs)


def puzzles(seconds: list[float]) -> None:
    """Print the density of rectangles cut up."""
    print("rectangles cut up: density of the strip (a strip that is all parts is 100 %)")
    for pieces in (15, 30, 60):
        for square in (True, False):
            shapes = [shapely.Polygon(points) for points in cut_up(1500, 1000, pieces, seed=pieces, square=square)]
            items = [StripItem(shape, 1, (0, 90, 180, 270)) for shape in shapes]
            kind = "square" if square else "slanting"
            say(f"{pieces} {kind} pieces", items, 1000.0, seconds, 1.0)


def sheets(seconds: float) -> None:
    """Print how much sheet rings with openings take, the openings used or not."""
    print("rings, discs and brackets on sheets of 2000 × 1000 mm, openings used or not")
    opened = circle(240, (0, 0)).clockwise()
    angle = [(0, 0), (180, 0), (180, 40), (40, 40), (40, 120), (0, 120)]
    others = [
        Piece("disc", Face(circle(70, (0, 0))), 36),
        Piece("bracket", Face(polygon_outline(angle)), 20, "along"),
        Piece("bar", Face(rectangle(400, 60)), 20, "along"),
    ]
    for used in (True, False):
        ring = Piece("ring", Face(circle(300, (0, 0)), (opened,) if used else ()), 9)
        laid = nest([ring, *others], [StockSheet(2000, 1000)], Spacing(), seconds)
        faults = nest_faults(laid)
        print(
            f"  openings {'used' if used else 'left'}: {laid.used_area_mm2 / 1e6:.2f} m² of sheet used up; "
            f"{len(laid.sheets)} sheets, {len(faults)} faults; {'; '.join(laid.notes)}",
            flush=True,
        )


def instances(folder: Path, seconds: list[float], runs: int) -> None:
    """Print the density of every instance in a folder: the middle of the runs, the worst and the best."""
    print(f"public instances: middle (worst to best) of {runs} runs by {WORKERS} threads, per cent")
    for path in sorted(folder.glob("*.json")):
        data = json.loads(path.read_text())
        items = [
            StripItem(shapely.Polygon(item["shape"]["data"]), item["demand"],
                      tuple(int(turn) for turn in item["allowed_orientations"]))
            for item in data["items"]
        ]  # fmt: skip
        height, whole = data["strip_height"], sum(item.shape.area * item.count for item in items)
        for limit in seconds:
            found, spent = [], []
            for seed in range(runs):
                before = _children_s()
                layout = pack_strip(items, height, limit, seed, WORKERS)
                spent.append(_children_s() - before)
                if layout is None or overlap(items, layout, height) > 1e-6:
                    print(f"  {path.stem}: NO LAYOUT, or one that overlaps")
                    continue
                found.append(100 * whole / (height * layout.length_mm))
            middle = statistics.median(found)
            beside = ""
            if path.stem in TRIED and limit in (10, 60):
                first = TRIED[path.stem][(10, 60).index(int(limit))]
                verdict = "within" if middle >= first - LIMIT else "BELOW"
                beside = f"; first trial {first} ({verdict} {LIMIT}), best published {TRIED[path.stem][2]}"
            print(
                f"  {path.stem} {limit:g} s: {middle:.1f} ({min(found):.1f} to {max(found):.1f}){beside}; "
                f"{statistics.mean(spent):.0f} s of processor, load {os.getloadavg()[0]:.1f}",
                flush=True,
            )


def _children_s() -> float:
    """Processor time of all child processes that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
