"""The process that packs one strip, apart from ours: the packing library ends a process on some shapes.

Reads one JSON object from standard input, writes one JSON line for every better layout to standard output.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from typing import Any

FEASIBLE = (0, 3, 4)
"""Kinds of report whose layout has no overlap: found while exploring, while compressing, and the last."""
BETWEEN_S = 0.2


def main() -> None:
    """Pack what standard input says."""
    import spyrrow

    task = json.loads(sys.stdin.readline())
    items = [
        spyrrow.Item(str(number), [(x, y) for x, y in item["shape"]], item["count"], [float(a) for a in item["turns"]])
        for number, item in enumerate(task["items"])
    ]
    strip = spyrrow.StripPackingInstance("strip", task["height"], items)
    exploring = max(1, int(0.8 * task["seconds"]))
    settings = spyrrow.StripPackingConfig(
        early_termination=True,
        total_computation_time=None,
        exploration_time=exploring,
        compression_time=max(1, round(task["seconds"]) - exploring),
        num_workers=task["workers"],
        seed=task["seed"],
    )
    reports = spyrrow.ProgressQueue()
    last: list[Any] = []
    worker = threading.Thread(target=lambda: last.append(strip.solve(settings, progress=reports)), daemon=True)
    worker.start()
    best = float("inf")
    while worker.is_alive():
        better = None
        for kind, layout in reports.drain():
            if int(kind) in FEASIBLE and layout.width < best - 1e-9:
                best, better = layout.width, layout
        if better is not None:
            say(better, False)
        worker.join(BETWEEN_S)
    if not last:
        sys.exit("the packing library gave up")
    say(last[0], True)


def say(layout: Any, final: bool) -> None:
    """Write a layout as one line."""
    placed = [[int(p.id), p.rotation, p.translation[0], p.translation[1]] for p in layout.placed_items]
    print(json.dumps({"final": final, "length": layout.width, "placed": placed, "at": time.time()}), flush=True)


if __name__ == "__main__":
    main()
