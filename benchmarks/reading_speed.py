"""How long a STEP file takes to read and lay flat: a part with 12 bends, and sheets with many holes.

Run: python benchmarks/reading_speed.py [FOLDER of other STEP files]

The kernel's import is shown apart: it is the same for every file and is paid once in each child process.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path

from steadfold.deliver.step_file import step_bytes
from steadfold.sheet.cad_file import CadRefused, look_over
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.from_solid.reading import finish, read_step
from steadfold.sheet.outline import circle
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.tree import Cutout, PanelTree, rectangular_panel


def stairs(bends: int, holes: int) -> Part:
    """A strip folded up and down, with holes in every panel."""
    panels = []
    for i in range(bends + 1):
        cutouts = tuple(Cutout(circle(5.0, (20 + 12 * n, 25.0))) for n in range(holes))
        parent, angle = (None, 0.0) if i == 0 else (f"p{i - 1}", 1.5707963267948966 * (1 if i % 2 else -1))
        panels.append(rectangular_panel(f"p{i}", 40 + 12.0 * holes, 50.0, parent, "top", angle, cutouts=cutouts))
    return resolve(PanelTree(tuple(panels)), "stairs", 2.0, din_rule(2.0, 2.0, 0.42)).part


def main() -> None:
    """Print one line a file: faces, seconds by step, seconds through the child process."""
    begun = time.perf_counter()
    from steadfold.sheet.from_solid.kernel import read_bodies
    from steadfold.sheet.from_solid.sheet import recognise

    print(f"import of the kernel: {time.perf_counter() - begun:.2f} s")
    with tempfile.TemporaryDirectory() as folder:
        files = []
        for bends, holes in ((12, 0), (12, 3), (1, 100), (1, 400)):
            path = Path(folder) / f"{bends} bends, {holes * (bends + 1)} holes.step"
            path.write_bytes(step_bytes(stairs(bends, holes), "stairs", datetime(2024, 1, 1)))
            files.append(path)
        files += sorted(p for f in sys.argv[1:] for p in Path(f).iterdir() if p.suffix in (".step", ".stp"))
        for path in files:
            try:
                start = time.perf_counter()
                faces = look_over(path)
                looked = time.perf_counter()
                bodies = read_bodies(str(path), None, faces).bodies
                loaded = time.perf_counter()
                for body in bodies:
                    flat_pattern(finish(recognise(body), 0.44).part)
                done = time.perf_counter()
                read_step(path, 0.44)
                whole = time.perf_counter() - done
            except CadRefused as error:
                print(f"{path.name}: refused: {error}")
                continue
            print(
                f"{path.name}: {faces} faces; looked over {looked - start:.2f}, kernel {loaded - looked:.2f}, "
                f"recognised and laid flat {done - loaded:.2f}; whole through the child {whole:.2f} s"
            )


if __name__ == "__main__":
    main()
