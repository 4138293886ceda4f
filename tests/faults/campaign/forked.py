"""Cases tried in forked children of a process that has everything loaded: a crash or a hang costs one case."""

from __future__ import annotations

import contextlib
import io
import json
import os
import resource
import select
import signal
import sys
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

ANSWER, SENTENCE, REFUSED = "answer", "sentence", "refused"
TRACEBACK, HANG, CRASH, HALF = "traceback", "hang", "crash", "half-written file"
GOOD = (ANSWER, SENTENCE, REFUSED)
BAD = (TRACEBACK, HANG, CRASH, HALF)
MEMORY_BYTES = 12 << 30
"""Address space of a child: what is loaded takes a third of it."""


@dataclass(frozen=True)
class Case:
    """One thing to try: what it is, its name, and the call, which gives an exit status as a command would."""

    kind: str
    name: str
    call: Callable[[], int]
    keep: bytes = b""
    """The input, to be kept when it goes wrong."""
    suffix: str = ""
    again: Callable[[], int] | None = None
    """The same as the project itself goes about it, in a child with limits: what counts when `call` ends the process."""


@dataclass(frozen=True)
class Outcome:
    """What came of a case; `said` is the end of what it wrote, or where it broke."""

    kind: str
    name: str
    what: str
    said: str = ""
    seconds: float = 0.0


class Hang(BaseException):
    """The case has had its processor time."""


def _ring(number: int, frame: object) -> None:
    raise Hang


def tried(case: Case, limit_s: float) -> Outcome:
    """One case here, in this process, at most `limit_s` of processor time."""
    # As a terminal takes them: what cannot be written as UTF-8 is an error on one, and told otherwise on the other.
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)
    err = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", errors="backslashreplace", write_through=True)
    start = time.process_time()
    signal.signal(signal.SIGPROF, _ring)
    signal.setitimer(signal.ITIMER_PROF, limit_s)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = case.call()
        signal.setitimer(signal.ITIMER_PROF, 0)
        what, said = judged(status, _told(out), _told(err))
    except Hang:
        what, said = HANG, where(sys.exc_info()[1])
    except SystemExit as error:
        signal.setitimer(signal.ITIMER_PROF, 0)
        what, said = judged(error.code if isinstance(error.code, int) else 2, _told(out), _told(err))
    except BaseException as error:
        signal.setitimer(signal.ITIMER_PROF, 0)
        what, said = TRACEBACK, where(error)
    return Outcome(case.kind, case.name, what, said, time.process_time() - start)


def _told(stream: io.TextIOWrapper) -> str:
    written = stream.buffer
    assert isinstance(written, io.BytesIO)
    return written.getvalue().decode("utf-8")


def judged(status: int, out: str, err: str) -> tuple[str, str]:
    """What an exit status and what was said come to."""
    last = err.strip()[-600:]
    if "Traceback (most recent" in err or "fault of its own" in err:
        return TRACEBACK, last
    if status in (0, 1, 3):
        return ANSWER, "warned: " + last if "Warning:" in err else ""
    if status == 2 and (last or '"problems"' in out):
        return SENTENCE, last[-200:]
    if status == 130:
        return REFUSED, last
    return TRACEBACK, f"status {status} without a word; {last}"


def where(error: BaseException | None) -> str:
    """The kind of error and the innermost places of ours it came through, without any folder."""
    if error is None:
        return "?"
    frames = [
        f for f in traceback.extract_tb(error.__traceback__) if "steadfold" in f.filename or "tests" in f.filename
    ]
    places = " < ".join(f"{Path(f.filename).name}:{f.lineno} {f.name}" for f in reversed(frames[-4:]))
    return f"{type(error).__name__}: {str(error)[:160]} at {places}"


def all_tried(
    cases: Sequence[Case], limit_s: float, tell: Callable[[Outcome], None], batch: int = 25, keep: Path | None = None
) -> list[Outcome]:
    """Every case, `batch` of them to a forked child; the one that ends a child is named and the rest go on."""
    found: list[Outcome] = []
    for begin in range(0, len(cases), batch):
        left = list(cases[begin : begin + batch])
        while left:
            done = _in_fork(left, limit_s)
            for index, (case, outcome) in enumerate(zip(left, done, strict=False)):
                if outcome.what in (CRASH, HANG) and case.again is not None:
                    outcome = done[index] = _in_fork([replace(case, call=case.again)], 4 * limit_s)[0]
                tell(outcome)
                if outcome.what in BAD and keep is not None and case.keep:
                    keep.mkdir(parents=True, exist_ok=True)
                    plain = "".join(c if c.isalnum() else "-" for c in case.name)[:80]
                    (keep / f"{case.kind.split()[0]}-{plain}{case.suffix}").write_bytes(case.keep)
            found += done
            left = left[len(done) :]
    return found


def _in_fork(cases: Sequence[Case], limit_s: float) -> list[Outcome]:
    reading, writing = os.pipe()
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child == 0:
        os.close(reading)
        _be_child(cases, limit_s, writing)
    os.close(writing)
    found: list[Outcome] = []
    buffer = b""
    # By the clock a case may take long on a busy machine; within a library no signal of ours is heard.
    patience = max(60.0, 20 * limit_s)
    hung = False
    with os.fdopen(reading, "rb", buffering=0) as stream:
        while True:
            ready, _, _ = select.select([stream], [], [], patience)
            if not ready:
                hung = True
                break
            piece = stream.read(65536)
            if not piece:
                break
            buffer += piece
            *lines, buffer = buffer.split(b"\n")
            found += [Outcome(**json.loads(line)) for line in lines]
    if hung:
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    if len(found) < len(cases):
        case = cases[len(found)]
        how = f"signal {os.WTERMSIG(status)}" if os.WIFSIGNALED(status) else f"exit {os.WEXITSTATUS(status)}"
        found.append(Outcome(case.kind, case.name, HANG if hung else CRASH, how))
    return found


def _be_child(cases: Sequence[Case], limit_s: float, writing: int) -> None:
    """Never comes back."""
    try:
        silent = os.open(os.devnull, os.O_RDWR)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, resource.getrlimit(resource.RLIMIT_AS)[1]))
        for case in cases:
            outcome = tried(case, limit_s)
            row: dict[str, Any] = outcome.__dict__
            os.write(writing, json.dumps(row).encode() + b"\n")
    finally:
        os._exit(0)


def killed_at(work: Callable[[Callable[[int], None]], None], after_s: float, first: int = 1) -> int:
    """Fork, let `work(acknowledge)` run, kill the child `after_s` after its `first` acknowledgement; gives the last
    number acknowledged."""
    reading, writing = os.pipe()
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            work(lambda number: os.write(writing, f"{number}\n".encode()) and None)
        finally:
            os._exit(0)
    os.close(writing)
    said = b""
    with os.fdopen(reading, "rb", buffering=0) as stream:
        while said.count(b"\n") < first:
            ready, _, _ = select.select([stream], [], [], 120)
            piece = stream.read(65536) if ready else b""
            if not piece:
                break
            said += piece
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while piece := stream.read(65536):
            said += piece
    numbers = [int(line) for line in said.split(b"\n")[:-1] if line]
    return numbers[-1] if numbers else 0
