"""Tasks for the page's workers that take too long, die, or want too much."""

from __future__ import annotations

import os
import time
from collections.abc import Callable

Tell = Callable[[float, str], None]


def twice(tell: Tell, number: int) -> int:
    return 2 * number


def for_ever(tell: Tell) -> None:
    while True:
        time.sleep(0.1)


def dies(tell: Tell) -> None:
    os._exit(3)


def fills_memory(tell: Tell) -> int:
    return len(bytearray(8 << 30))


def in_steps(tell: Tell, count: int) -> int:
    for number in range(count):
        tell(number / count, "a step")
        time.sleep(0.02)
    return count
