"""One strip packed with the general packing library, in a process of its own that can be stopped and may die."""

from __future__ import annotations

import contextlib
import json
import math
import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import shapely

STARTING_S = 5.0
"""What the child may take beyond its time, to start and to write."""


@dataclass(frozen=True)
class StripItem:
    """A shape (a simple polygon, gaps included) to be laid `count` times, turned by one of `turns` (degrees)."""

    shape: shapely.Polygon
    count: int
    turns: tuple[int, ...]


@dataclass(frozen=True)
class Laid:
    """One copy: item, turn in degrees, shift."""

    item: int
    turned_deg: int
    shift_mm: tuple[float, float]


@dataclass(frozen=True)
class StripLayout:
    """The best layout of the strip that was reached; `settled` when the search ran to its end."""

    length_mm: float
    laid: tuple[Laid, ...]
    settled: bool


class StripError(ValueError):
    """A strip that must not be handed to the packing library; `str()` is one sentence."""


def pack_strip(
    items: Sequence[StripItem],
    height_mm: float,
    seconds: float,
    seed: int = 0,
    workers: int = 1,
    stop: Callable[[], bool] | None = None,
    tell: Callable[[float, float], None] | None = None,
) -> StripLayout | None:
    """The shortest layout found of all items on a strip of this height; None when the library gave none.

    `stop` is asked several times a second, the best so far is kept when it says so; `tell` is told the share of
    time and the length. Raises `StripError` for shapes that the library cannot take: it would end the process.
    """
    check_strip(items, height_mm)
    task = {
        "height": height_mm,
        "seconds": max(2.0, seconds),
        "seed": seed,
        "workers": workers,
        "items": [
            {"shape": list(item.shape.exterior.coords)[:-1], "count": item.count, "turns": list(item.turns)}
            for item in items
        ],
    }
    environment = {**os.environ, "RUST_BACKTRACE": "0", "OMP_NUM_THREADS": "1"}
    child = subprocess.Popen(
        [sys.executable, "-m", "steadfold.money.nesting.strip_child"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env=environment,
    )
    try:
        return _listen(child, json.dumps(task), items, height_mm, max(2.0, seconds), stop, tell)
    finally:
        child.kill()
        child.wait()
        for stream in (child.stdin, child.stdout):
            # What a child that died never read is still to be written: closing says so, and nobody is to hear of it.
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()


def check_strip(items: Sequence[StripItem], height_mm: float) -> None:
    """Raise `StripError` when a shape is not one simple polygon with an area, or in no turn as low as the strip."""
    if not items or not height_mm > 0:
        raise StripError("there is nothing to lay out, or nothing to lay it on")
    for item in items:
        shape = item.shape
        finite = all(math.isfinite(v) for point in shape.exterior.coords for v in point)
        if not finite or shape.is_empty or not shape.is_valid or shape.area <= 0 or shape.interiors:
            raise StripError("an outline crosses itself or encloses nothing")
        if item.count < 1 or not item.turns:
            raise StripError("a piece is asked for no times, or may not lie in any way")
        if lowest(item) > height_mm:
            raise StripError(f"a piece is {lowest(item):.1f} mm across, more than the {height_mm:.1f} mm there are")


def lowest(item: StripItem) -> float:
    """Height of an item in the best of its turns."""
    x0, y0, x1, y1 = item.shape.bounds
    return min(y1 - y0 if turn % 180 == 0 else x1 - x0 for turn in item.turns)


def _listen(
    child: subprocess.Popen[str],
    task: str,
    items: Sequence[StripItem],
    height_mm: float,
    seconds: float,
    stop: Callable[[], bool] | None,
    tell: Callable[[float, float], None] | None,
) -> StripLayout | None:
    assert child.stdin is not None and child.stdout is not None
    try:
        child.stdin.write(task + "\n")
        child.stdin.flush()
    except OSError:
        return None
    lines: queue.Queue[str | None] = queue.Queue()
    stream = child.stdout

    def hear() -> None:
        try:
            for line in stream:
                lines.put(line)
        except ValueError:  # closed under us once the child was ended
            pass
        lines.put(None)

    threading.Thread(target=hear, daemon=True).start()
    best: StripLayout | None = None
    start = time.monotonic()
    while time.monotonic() - start < seconds + STARTING_S and not (stop is not None and stop()):
        try:
            line = lines.get(timeout=0.1)
        except queue.Empty:
            if tell is not None and best is not None:
                tell(min(1.0, (time.monotonic() - start) / seconds), best.length_mm)
            continue
        if line is None:
            break
        layout = _layout(line, items, height_mm)
        if layout is not None:
            # The last word of the library can be a hair longer than the best it said before.
            better = best is None or layout.length_mm <= best.length_mm
            best = layout if best is None or better else replace(best, settled=layout.settled)
            if tell is not None:
                tell(min(1.0, (time.monotonic() - start) / seconds), best.length_mm)
        if best is not None and best.settled:
            break
    return best


def _layout(line: str, items: Sequence[StripItem], height_mm: float) -> StripLayout | None:
    """A line of the child as a layout; None when it is not one, or not all copies are there."""
    try:
        data = json.loads(line)
        laid = tuple(Laid(int(i), round(turn / 90) % 4 * 90, (float(x), float(y))) for i, turn, x, y in data["placed"])
        length, final = float(data["length"]), bool(data["final"])
    except (ValueError, KeyError, TypeError):
        return None
    counted = [0] * len(items)
    for each in laid:
        counted[each.item] += 1
    if counted != [item.count for item in items]:
        return None
    return StripLayout(length, laid, final)
