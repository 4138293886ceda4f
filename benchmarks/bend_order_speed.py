"""How long a bend order takes to find: 8 bends with three punches, 12 bends, and a proof that there is none.

Run: python benchmarks/bend_order_speed.py
"""

from __future__ import annotations

import math
import time

from steadfold.catalogue import material
from steadfold.fabricate.bend_order import plan_bends
from steadfold.fabricate.bend_plan import BendPlan
from steadfold.fabricate.shop_file import typical_shop
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import PanelTree, rectangular_panel

RIGHT = math.pi / 2


def box(return_rad: float, lip_mm: float, lip_rad: float = -RIGHT) -> Part:
    """Four walls with returns, and lips on these when `lip_mm` is more than 0."""
    panels = [rectangular_panel("base", 300, 240)]
    for edge in ("bottom", "right", "top", "left"):
        width = 300.0 if edge in ("top", "bottom") else 240.0
        panels.append(rectangular_panel(edge, width, 40, "base", edge, RIGHT))
        panels.append(rectangular_panel(f"{edge} return", width, 30, edge, "far", return_rad))
        if lip_mm:
            panels.append(rectangular_panel(f"{edge} lip", width, lip_mm, f"{edge} return", "far", lip_rad))
    return resolve(PanelTree(tuple(panels)), "box", 2.0, din_rule(2.0, 2.0, 0.42)).part


def profile(middles: list[float], signs: list[int]) -> Part:
    """A folded strip 500 mm long."""
    panels = []
    for i, size in enumerate(middles):
        parent, angle = (None, 0.0) if i == 0 else (f"p{i - 1}", signs[i - 1] * RIGHT)
        panels.append(rectangular_panel(f"p{i}", 500, size, parent, "top", angle))
    return resolve(PanelTree(tuple(panels)), "profile", 2.0, din_rule(2.0, 2.0, 0.42)).part


def main() -> None:
    """Print one line a part: strokes, answer, seconds."""
    shop, steel = typical_shop(), material("DC01")
    parts = {
        "box, 8 bends": box(-RIGHT, 0),
        "box, 8 bends, returns of 110 deg (three punches)": box(-math.radians(110), 0),
        "box, 12 bends": box(-RIGHT, 15),
        "stairs, 12 bends": profile([40.0] * 13, [1, -1] * 6),
        "profile, 12 bends, none exists": profile(
            [30, 40, 30, 60, 30, 80, 200, 80, 30, 60, 30, 40, 30], [1, -1, 1, -1, 1, -1, -1, 1, -1, 1, -1, 1]
        ),
    }
    for name, part in parts.items():
        start = time.perf_counter()
        first: list[float] = []
        answer = plan_bends(part, steel, shop, lambda plan, s=start, f=first: f.append(time.perf_counter() - s))
        spent = time.perf_counter() - start
        if isinstance(answer, BendPlan):
            text = f"{answer.flips} flips, {answer.cost_s:.0f} s at the brake, first plan after {first[0]:.2f} s"
        else:
            text = f"none: {answer.pair[0]} meets {answer.pair[1]}"
        print(f"{name:50} {spent:6.2f} s  {text}")


if __name__ == "__main__":
    main()
