"""Processes that share the work of many reviews."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context


def workers(most: int | None = None) -> ProcessPoolExecutor:
    """A pool of fresh processes, one a core up to `most`.

    Fresh, not forked: a fork of a process that has loaded numerical libraries with threads can stand still.
    """
    count = max(1, min(most or 4, os.cpu_count() or 1))
    return ProcessPoolExecutor(max_workers=count, mp_context=get_context("spawn"))
