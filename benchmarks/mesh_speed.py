"""How fast a mesh is made and how sound it is; beside it a library's triangles of the same points, in one run.

Run: python benchmarks/mesh_speed.py. The library gets the points that our filling chose, so its time is the least that
any filling could take. The aim: 5,000 triangles of a part of 12 bends in 0.5 s. Times are the process's own, so that
other work on the machine does not count. Nothing is asserted.
"""

from __future__ import annotations

import math
import platform
import statistics
import time
from collections.abc import Callable

import numpy as np
from scipy.spatial import Delaunay

from steadfold.sheet.clash import flat_overlaps, folded_clashes
from steadfold.sheet.mesh import folded, mesh
from steadfold.sheet.meshing.corners import corner_cosines
from steadfold.sheet.meshing.panels import filled
from steadfold.sheet.meshing.plan import Wishes, planned
from steadfold.sheet.outline import circle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel

RIGHT = math.pi / 2


def tray() -> Part:
    """Four walls, each with a return and a lip: 12 bends, 30 holes."""

    def holes(width: float, height: float, count: int) -> tuple[Cutout, ...]:
        return tuple(Cutout(circle(9, (width * (i + 0.5) / count, height / 2))) for i in range(count))

    panels = [rectangular_panel("base", 240, 160, cutouts=holes(240, 160, 6))]
    for edge in ("bottom", "right", "top", "left"):
        width = 240.0 if edge in ("bottom", "top") else 160.0
        returned = rectangular_panel(
            f"{edge} return", width - 20, 25, edge, "far", RIGHT, 10, cutouts=holes(width - 20, 25, 2)
        )
        lip = rectangular_panel(f"{edge} lip", width - 40, 15, f"{edge} return", "far", RIGHT, 10)
        panels += [rectangular_panel(edge, width, 50, "base", edge, RIGHT, cutouts=holes(width, 50, 4)), returned, lip]
    return resolve(PanelTree(tuple(panels)), "tray", 2.0, din_rule(2.0, 2.0, 0.42)).part


def median_seconds(work: Callable[[], object], times: int = 5) -> float:
    work()
    found = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return statistics.median(found)


def sharpest_deg(points: np.ndarray, triangles: np.ndarray) -> float:
    return math.degrees(math.acos(float(corner_cosines(points, triangles).max())))


def main() -> None:
    """Print the tables."""
    part = tray()
    print(f"{platform.node()}, {platform.machine()}, Python {platform.python_version()}; {len(part.bends)} bends")
    cases = (
        ("default", {}),
        ("12 chords a hole", {"hole_segments": 12, "target_triangles": 5000}),
        ("preview: 1 facet, 8 chords", {"bend_facets": 1, "hole_segments": 8, "target_triangles": 5000}),
        ("20,000 asked for", {"target_triangles": 20000}),
    )
    for name, wishes in cases:
        made = mesh(part, **wishes)  # type: ignore[arg-type]
        seconds = median_seconds(lambda w=wishes: mesh(part, **w))  # type: ignore[misc]
        each = 5000 * seconds / len(made.triangles)
        print(
            f"{name:28} {len(made.triangles):6} triangles {seconds:6.3f} s, {each:6.3f} s for 5,000; "
            f"sharpest {made.smallest_angle_deg:.1f}°"
        )
    made = mesh(part)
    print(f"fold {1e3 * median_seconds(lambda: folded(made, part, 0.5)):.1f} ms; ", end="")
    print(f"overlaps {1e3 * median_seconds(lambda: flat_overlaps(part)):.1f} ms; ", end="")
    print(f"clashes {1e3 * median_seconds(lambda: folded_clashes(part)):.1f} ms")
    pieces = planned(part, Wishes(6.0, 3, 20)).pieces
    ours = filled(pieces)
    own = median_seconds(lambda: filled(pieces))
    plain = median_seconds(lambda: [Delaunay(each.points) for each in ours])
    print("filling the panels alone:")
    print(
        f"  {sum(len(f.triangles) for f in ours)} triangles {own:.3f} s, sharpest "
        f"{min(sharpest_deg(f.points, f.triangles) for f in ours):.1f}°, lost {sum(len(f.lost) for f in ours)}"
    )
    print(f"  time, ours over joining the same points up (Delaunay, by a library): {own / plain:.1f}")


if __name__ == "__main__":
    main()
