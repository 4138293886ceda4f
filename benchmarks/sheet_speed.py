"""How long a part of 12 bends and 30 holes takes to lay flat, to mesh and to write as STEP.

The issue's aims: flat 20 ms, a mesh of 5,000 triangles 0.5 s, STEP 2 s. Printed beside them; nothing is asserted.
"""

from __future__ import annotations

import math
import platform
import statistics
import time
from collections.abc import Callable
from datetime import datetime

from steadfold.deliver.dxf_file import dxf_text
from steadfold.deliver.step_file import step_bytes
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.mesh import mesh
from steadfold.sheet.outline import circle
from steadfold.sheet.resolve import Resolved, din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel


def chain() -> PanelTree:
    """A zigzag of 13 panels with 30 holes."""
    panels = [rectangular_panel("0", 200, 60, cutouts=tuple(Cutout(circle(6, (20 + 30 * i, 30))) for i in range(6)))]
    for i in range(1, 13):
        cutouts = tuple(Cutout(circle(6, (50 + 100 * j, 25))) for j in range(2))
        turn = math.radians(60 if i % 2 else -60)
        panels.append(
            rectangular_panel(str(i), 200, 50, str(i - 1), "bottom" if i == 1 else "far", turn, cutouts=cutouts)
        )
    return PanelTree(tuple(panels))


def timed(work: Callable[[], object], times: int = 7) -> float:
    work()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return statistics.median(found)


def main() -> None:
    """Print the table."""
    tree = chain()
    resolved: Resolved = resolve(tree, "chain", 2.0, din_rule(2.0, 2.0, 0.42))
    part = resolved.part
    flat = flat_pattern(part)
    rows = [
        ("resolve and flat", 0.020, timed(lambda: flat_pattern(resolve(tree, "c", 2.0, din_rule(2.0, 2.0, 0.42)).part))),
        ("DXF text", None, timed(lambda: dxf_text(part, flat), 3)),
        ("mesh of 5,000 triangles", 0.5, timed(lambda: mesh(part, target_triangles=5000), 3)),
        ("STEP", 2.0, timed(lambda: step_bytes(part, "chain", datetime(2000, 1, 1)), 3)),
    ]
    machine = f"{platform.node()}, {platform.machine()}, Python {platform.python_version()}"
    print(f"{len(part.bends)} bends, {len(flat.openings)} openings; {machine}")
    for name, aim, seconds in rows:
        beside = "" if aim is None else f"  aim {1000 * aim:6.0f} ms, ratio {seconds / aim:.2f}"
        print(f"{name:26s} {1000 * seconds:8.1f} ms{beside}")


if __name__ == "__main__":
    main()
