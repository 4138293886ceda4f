"""How densely parts are laid: puzzles with a known answer, openings used or not, and public instances if there.

Run: python benchmarks/nesting_speed.py [--seconds 10 60] [--instances FOLDER]

A folder of public instances holds JSON files with `strip_height` and `items` (`demand`, `allowed_orientations`,
`shape.data`); none are shipped, since their licences do not say that they may be. Every layout is measured by
geometry that the search knows nothing of before its density is printed.
"""

from __future__ import annotations

import argparse
import json
import os
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
        layout = pack_strip(items, height, limit)
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
    """Print all three tables."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--seconds", type=float, nargs="+", default=[10.0])
    arguments.add_argument("--instances", type=Path)
    options = arguments.parse_args()
    print("rectangles cut up: density of the strip (a strip that is all parts is 100 %)")
    for pieces in (15, 30, 60):
        for square in (True, False):
            shapes = [shapely.Polygon(points) for points in cut_up(1500, 1000, pieces, seed=pieces, square=square)]
            items = [StripItem(shape, 1, (0, 90, 180, 270)) for shape in shapes]
            kind = "square" if square else "slanting"
            say(f"{pieces} {kind} pieces", items, 1000.0, options.seconds, 1.0)
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
        laid = nest([ring, *others], [StockSheet(2000, 1000)], Spacing(), options.seconds[0])
        faults = nest_faults(laid)
        print(f"  openings {'used' if used else 'left'}: {laid.used_area_mm2 / 1e6:.2f} m² of sheet used up; "
              f"{len(laid.sheets)} sheets, {len(faults)} faults; {'; '.join(laid.notes)}", flush=True)
    if options.instances is None:
        return
    print("public instances")
    for path in sorted(options.instances.glob("*.json")):
        data = json.loads(path.read_text())
        items = [
            StripItem(shapely.Polygon(item["shape"]["data"]), item["demand"],
                      tuple(int(turn) for turn in item["allowed_orientations"]))
            for item in data["items"]
        ]  # fmt: skip
        say(path.stem, items, data["strip_height"], options.seconds, None)


if __name__ == "__main__":
    main()
