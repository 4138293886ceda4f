"""How long the solid, the STEP file and the glTF of a part with 12 bends and 30 holes take, as shares of fusing it.

Fusing is the other way to a solid: every plate and every bend sector a body of its own, then all made one.
"""

from __future__ import annotations

import math
import platform
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
from OCP.collections import List_TopoDS_Shape
from OCP.TopoDS import TopoDS_Shape

from steadfold.deliver.gltf import gltf_bytes
from steadfold.deliver.step_file import step_bytes
from steadfold.sheet.extent import folded_size_mm
from steadfold.sheet.outline import circle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.solid import solid, volume_mm3
from steadfold.sheet.solid.kernel import kernel_solid
from steadfold.sheet.solid.pieces import Pieces, Round, pieces_of
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel

RUNS = 5


def twelve_bends() -> Part:
    """A tray with three folds a side and 30 round holes in its floor."""
    holes = tuple(Cutout(circle(8.0, (30.0 + 40 * i, 40.0 + 40 * j))) for i in range(6) for j in range(5))
    panels = [rectangular_panel("floor", 260.0, 240.0, cutouts=holes)]
    for side in ("bottom", "right", "top", "left"):
        parent, edge = "floor", side
        width = (260.0 if side in ("bottom", "top") else 240.0) - 90.0
        for fold in range(3):
            name = f"{side} {fold + 1}"
            angle = math.pi / 2 if fold < 2 else math.pi / 4
            offset = 45.0 if fold == 0 else 0.0
            panels.append(rectangular_panel(name, width, 30.0 - 5 * fold, parent, edge, angle, offset))
            parent, edge = name, "far"
    return resolve(PanelTree(tuple(panels)), "tray", 1.5, din_rule(1.5, 1.5)).part


def median_ms(action: Callable[[], object]) -> float:
    """Median of a few runs, in ms; the first run, which loads libraries, is not counted."""
    action()
    taken = []
    for _ in range(RUNS):
        start = time.perf_counter()
        action()
        taken.append(time.perf_counter() - start)
    return 1000 * statistics.median(taken)


def fused(part: Part) -> TopoDS_Shape:
    """The part made the other way: one body a piece, all fused."""
    whole = pieces_of(part)
    bodies = []
    for piece in whole.pieces:
        corner = 0
        loops = []
        for loop in piece.loops:
            if isinstance(loop, Round):
                loops.append(loop)
                continue
            count = len(loop)
            loops.append(
                tuple(
                    replace(run, start_corner=corner + i, end_corner=corner + (i + 1) % count, seam=None)
                    for i, run in enumerate(loop)
                )
            )
            corner += count
        alone = Pieces(whole.thickness_mm, (replace(piece, loops=tuple(loops)),), corner, 0)
        bodies.append(kernel_solid(alone))
    first, others = List_TopoDS_Shape(), List_TopoDS_Shape()
    first.Append(bodies[0])
    for body in bodies[1:]:
        others.Append(body)
    fuse = BRepAlgoAPI_Fuse()
    fuse.SetArguments(first)
    fuse.SetTools(others)
    fuse.Build()
    return fuse.Shape()


def main() -> None:
    """Print the times and their shares of fusing."""
    part = twelve_bends()
    holes = sum(len(face.holes) for panel in part.panels for face in panel.faces)
    print(f"{platform.node()}, {platform.machine()}, Python {platform.python_version()}")
    print(f"{len(part.bends)} bends, {holes} holes, median of {RUNS} runs")
    date = datetime(2026, 1, 1)
    actions: dict[str, Callable[[], object]] = {
        "fused from pieces": lambda: fused(part),
        "solid, checked": lambda: solid(part),
        "STEP bytes": lambda: step_bytes(part, part.name, date),
        "glTF bytes": lambda: gltf_bytes(part, part.name),
        "folded size": lambda: folded_size_mm(part),
    }
    taken = {name: median_ms(action) for name, action in actions.items()}
    for name, milliseconds in taken.items():
        print(f"  {name:<18} {milliseconds:8.1f} ms   {milliseconds / taken['fused from pieces']:7.4f} of fusing")
    for name, shape in (("fused", fused(part)), ("solid", solid(part))):
        error = volume_mm3(shape) / part.volume_mm3 - 1
        print(f"  volume of the {name:<6} against panels and sectors: {error:+.1e}")


if __name__ == "__main__":
    main()
