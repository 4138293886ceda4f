"""Child processes that read and compute, so that the page itself never waits and a bad file cannot harm it.

A task is a function by its module and name with plain arguments. It may tell how far it is, and stops there when
it is no longer wanted; what does not come to such a place in time is ended with its process.
"""

from __future__ import annotations

import asyncio
import importlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

Tell = Callable[[float, str], None]


class Stale(Exception):
    """The task is no longer wanted."""


class TooLong(Exception):
    """The task took more time than it was given."""


class Failed(Exception):
    """The task raised; `kind` is the exception's name, `problems` its plain problems where it had some."""

    def __init__(self, kind: str, sentence: str, problems: tuple[dict[str, Any], ...] = ()):
        super().__init__(kind, sentence, problems)
        self.kind = kind
        self.sentence = sentence
        self.problems = problems

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True)
class Task:
    """What to call: a module and a function in it, called with a `tell` and the arguments."""

    module: str
    function: str
    arguments: tuple[Any, ...]
    limit_s: float = 120.0


class Worker:
    """One child process, started when it is first needed and again whenever it has to be ended.

    `warm` are modules that it loads before its first task; `nice` is how far it stands back for others.
    """

    def __init__(self, warm: tuple[str, ...] = (), nice: int = 0):
        self._warm, self._nice = warm, nice
        self._pipe: Connection | None = None
        self._process: Any = None
        self._ended = False

    def start(self) -> Connection:
        """Make sure the child runs; gives the way to it."""
        if self._pipe is None:
            self._pipe = self._begun()
        return self._pipe

    def _begun(self) -> Connection:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        self._process = context.Process(target=_work, args=(theirs, self._warm, self._nice), daemon=True)
        self._process.start()
        theirs.close()
        return ours

    @property
    def pid(self) -> int | None:
        """The child's process id."""
        return None if self._process is None else int(self._process.pid)

    def restart(self) -> None:
        """End the child with whatever it is doing, and start another."""
        self._kill()
        if self._ended:
            raise Stale
        self.start()

    def end(self) -> None:
        """End the child, if there is one, for good. The thread that waits for it notices."""
        self._ended = True
        if self._process is not None:
            self._process.kill()

    def _kill(self) -> None:
        if self._pipe is not None:
            self._process.kill()
            self._process.join(5.0)
            self._pipe.close()
            self._pipe = None

    def call(self, task: Task, tell: Tell, wanted: threading.Event) -> Any:
        """Do a task and give its value; blocks. `wanted` is cleared by whoever no longer wants it.

        Raises `Stale`, `TooLong`, or `Failed` with what the task raised.
        """
        pipe = self.start()
        waited, told_stale = 0.0, False
        try:
            pipe.send((task.module, task.function, task.arguments))
        except OSError:
            # It died while it was idle.
            self.restart()
            pipe = self.start()
            pipe.send((task.module, task.function, task.arguments))
        while True:
            try:
                if not wanted.is_set() and not told_stale:
                    pipe.send("stale")
                    told_stale, waited = True, 0.0
                if not pipe.poll(0.05):
                    waited += 0.05
                    if waited > (PATIENCE_WITH_STALE_S if told_stale else task.limit_s):
                        self.restart()
                        raise Stale if told_stale else TooLong(f"took more than {task.limit_s:g} s")
                    continue
                kind, value = pipe.recv()
            except (EOFError, OSError):
                self.restart()
                raise Failed("Ended", "the process that did this ended unexpectedly") from None
            if kind == "tell":
                waited = 0.0 if told_stale else waited
                tell(*value)
            elif kind == "done":
                return value
            elif kind == "stale":
                raise Stale
            else:
                raise Failed(*value)


PATIENCE_WITH_STALE_S = 1.5
"""How long a task that is no longer wanted may go on before its process is ended."""


class Workers:
    """Several workers; a task waits for a free one, the newest first."""

    def __init__(self, count: int, warm: tuple[str, ...] = (), nice: int = 0):
        self._free = [Worker(warm, nice) for _ in range(count)]
        self._all = list(self._free)
        self._threads = ThreadPoolExecutor(count)
        self._waiting: list[asyncio.Future[None]] = []

    def start(self) -> None:
        """Start the children now, so that the first task need not wait for them."""
        for worker in self._all:
            worker.start()

    async def do(self, task: Task, tell: Tell = lambda share, what: None, wanted: threading.Event | None = None) -> Any:
        """Do a task in the first free worker. `tell` is called in the event loop."""
        loop = asyncio.get_running_loop()
        wanted = wanted if wanted is not None else _always()

        def told(share: float, what: str) -> None:
            loop.call_soon_threadsafe(tell, share, what)

        while not self._free:
            turn: asyncio.Future[None] = loop.create_future()
            self._waiting.append(turn)
            await turn
        if not wanted.is_set():
            self._next()
            raise Stale
        worker = self._free.pop()
        doing = loop.run_in_executor(self._threads, worker.call, task, told, wanted)

        def freed(_: object) -> None:
            self._free.append(worker)
            self._next()

        # Whoever asked may go away; the worker is free only when it is done.
        doing.add_done_callback(freed)
        return await asyncio.shield(doing)

    def _next(self) -> None:
        while self._waiting:
            turn = self._waiting.pop()
            if not turn.done():
                turn.set_result(None)
                return

    def end(self) -> None:
        """End all children."""
        self._threads.shutdown(wait=False, cancel_futures=True)
        for worker in self._all:
            worker.end()

    @property
    def pids(self) -> list[int]:
        """Process ids of the children."""
        return [worker.pid for worker in self._all if worker.pid is not None]


def _always() -> threading.Event:
    event = threading.Event()
    event.set()
    return event


def _work(pipe: Connection, warm: tuple[str, ...], nice: int) -> None:
    """The child: do one task after the other until nobody is there to ask."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _keep_small()
    if hasattr(os, "nice"):
        os.nice(nice)
    for name in warm:
        if pipe.poll():
            # Somebody waits already; the rest is loaded as it is needed.
            break
        importlib.import_module(name)

    def tell(share: float, what: str) -> None:
        if pipe.poll():
            pipe.recv()
            raise Stale
        pipe.send(("tell", (share, what)))

    while True:
        try:
            asked = pipe.recv()
        except (EOFError, OSError):
            return
        if isinstance(asked, str):
            continue
        try:
            _answer(pipe, asked, tell)
        except (BrokenPipeError, OSError):
            return


def _answer(pipe: Connection, asked: tuple[str, str, tuple[Any, ...]], tell: Tell) -> None:
    module, function, arguments = asked
    try:
        value = getattr(importlib.import_module(module), function)(tell, *arguments)
    except Stale:
        pipe.send(("stale", None))
    except RecursionError:
        pipe.send(("failed", ("RecursionError", "nested too deep to be read", ())))
    except MemoryError:
        pipe.send(("failed", ("MemoryError", "this machine has not enough memory for that", ())))
    except Exception as error:
        problems = tuple(_plain(p) for p in getattr(error, "problems", ()) or ())
        said = problems[0]["sentence"] if problems else str(error)
        pipe.send(("failed", (type(error).__name__, said, problems)))
    else:
        pipe.send(("done", value))


def _plain(problem: Any) -> dict[str, Any]:
    wanted = ("line", "column", "field", "sentence", "source_line")
    return {name: getattr(problem, name, "") for name in wanted}


LARGEST_MEMORY = 6 << 30
"""Bytes of address space of a child: a file made to fill the memory fills only this."""


def _keep_small() -> None:
    try:
        import resource
    except ImportError:
        return
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    most = LARGEST_MEMORY if hard == resource.RLIM_INFINITY else min(LARGEST_MEMORY, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))
