"""Progress on standard error while something takes its time; silent without a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress() -> Iterator[Callable[[float, str], None]]:
    """A function to tell share and step to; draws a bar only where a person is looking."""
    if not sys.stderr.isatty():
        yield lambda share, what: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        task = shown.add_task("", total=1.0)
        yield lambda share, what: shown.update(task, completed=share, description=what)
