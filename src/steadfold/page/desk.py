"""One job, open: its file is the truth; edits are checked, kept in the history and saved whole; answers follow."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from steadfold.job.problem import JobProblems
from steadfold.job.reader import text_of
from steadfold.job.writer import clear_leftovers, write_job
from steadfold.page.history import History, revision_of
from steadfold.page.quotes_file import QuotesFile, stamp_of
from steadfold.page.workers import Failed, Stale, Task, TooLong, Workers
from steadfold.quantities.showing import Units

READING_LIMIT_S = 20.0
COMPUTING_LIMIT_S = 180.0
MOST_ANSWERS = 240
SETTLING_S = 0.05
SETTLING_TRIES = 10

TASKS: dict[str, tuple[str, str, tuple[str | bool, ...]]] = {
    "stand": ("stands", "stand_answer", ()),
    "mend": ("changes", "mended", ()),
    "compare": ("changes", "compared", ()),
    "order": ("files", "order_made", (False, "mm")),
    "order-even": ("files", "order_made", (True, "mm")),
    "order-in": ("files", "order_made", (False, "in")),
    "order-even-in": ("files", "order_made", (True, "in")),
    "money": ("money", "costed", ()),
    "sheets": ("money", "on_sheets", ()),
}
"""Module, function and further arguments of answers that are not levels of a part's own."""

WHOLE = ("order", "order-even", "order-in", "order-even-in", "money", "sheets")
"""Answers about the job as a whole; of no use once it has gone on."""

MONEY = ("money", "sheets")
"""Answers that stand on the quotes too."""

Notify = Callable[[dict[str, Any]], None]
Answered = tuple[dict[str, Any], bytes]


class Conflict(Exception):
    """The job has gone on since the page that asks last saw it."""


class CannotSave(Exception):
    """The disk did not take it; the sentence says why, and nothing was changed."""


def _holds_something(path: Path) -> bool:
    """False for a file without a byte; true for one that is gone, which no waiting brings back."""
    try:
        return path.stat().st_size > 0
    except OSError:
        return True


def _stamps(paths: Iterable[str]) -> dict[str, tuple[int, ...]]:
    """What changes whenever one of these files does."""
    return {path: stamp_of(Path(path)) for path in paths}


class Desk:
    """A job on the page. Every change goes through `_lock`, so that edits follow one another."""

    def __init__(self, path: Path, history: History, readers: Workers, computers: Workers, notify: Notify):
        self.path = path
        with contextlib.suppress(OSError):
            clear_leftovers(path)
        self.text = ""
        self.serial = 0
        self.told: dict[str, Any] | None = None
        self.problems: tuple[dict[str, Any], ...] = ()
        self._history = history
        self._readers, self._computers = readers, computers
        self._notify = notify
        self._lock = asyncio.Lock()
        self._seen: tuple[int, ...] | None = None
        self._leaning: dict[str, tuple[int, ...]] = {}
        self._answers: OrderedDict[tuple[str, str], Answered] = OrderedDict()
        self._running: dict[tuple[str, str], tuple[asyncio.Task[Answered], threading.Event]] = {}
        self._background: asyncio.Task[None] | None = None
        self._aside: threading.Event | None = None
        self.quotes = QuotesFile(path, history)

    @property
    def money(self) -> str:
        """The name of the version, its files and the quotes that money is reckoned from."""
        return revision_of(f"{self.whole}\n{self.quotes.file}\n{self.quotes.text}")

    @property
    def whole(self) -> str:
        """The name of the version with the files it leans on: the shop's, and drawings."""
        return revision_of(f"{self.text}\n{sorted(self._leaning.items())}")

    @property
    def revision(self) -> str:
        """The name of the version that is shown."""
        return revision_of(self.text)

    def state(self) -> dict[str, Any]:
        """What the page shows of the job before any answer."""
        place = self._history.place(self.path.name)
        return {
            "serial": self.serial,
            "revision": self.revision,
            "file": self.path.name,
            "undo": place.undo,
            "redo": place.redo,
            "problems": list(self.problems),
            "job": self.told,
            "verdicts": self._verdicts(),
            "money": self.money,
            "whole": self.whole,
        }

    def _verdicts(self) -> list[str | None]:
        """The full verdict of each part, then of each stand; None where it is not there yet."""
        found: list[str | None] = []
        for part in (self.told or {"parts": []})["parts"]:
            known = self._answers.get((part["fingerprint"], "full"))
            found.append(None if known is None else known[0]["part"]["verdict"])
        for stand in (self.told or {"stands": []})["stands"]:
            known = self._answers.get((stand["fingerprint"], "stand"))
            found.append(None if known is None else known[0]["stand"]["verdict"])
        return found

    async def look(self) -> None:
        """Take in what lies on the disk."""
        async with self._lock:
            await self._take_in()

    async def glance(self) -> None:
        """`look`, when the file has been touched since; the same for the quotes."""
        stamp = await asyncio.to_thread(stamp_of, self.path)
        if stamp != self._seen:
            await self._settled(stamp)
            await self.look()
        if self._leaning != await asyncio.to_thread(_stamps, self._leaning):
            async with self._lock:
                await self._show(self.text)
        if await asyncio.to_thread(self.quotes.look):
            self._quotes_changed()

    async def _settled(self, stamp: tuple[int, ...]) -> None:
        """Wait a moment for a file that somebody is writing: many editors empty it first, and that is no version of theirs."""
        for _ in range(SETTLING_TRIES):
            await asyncio.sleep(SETTLING_S)
            before, stamp = stamp, await asyncio.to_thread(stamp_of, self.path)
            if stamp == before and await asyncio.to_thread(_holds_something, self.path):
                return

    def _quotes_changed(self) -> None:
        self._drop_stale()
        self._notify({"kind": "quotes", "money": self.money})

    async def put_quotes(self, text: str | None, before: str) -> list[str]:
        """Keep quotes beside the job, or (None) take the last change of them back; sentences when they cannot be read.

        Raises `Conflict` when `before` is not the version that is there, `CannotSave` when the disk refuses.
        """
        async with self._lock:
            await asyncio.to_thread(self.quotes.look)
            if before != self.quotes.revision:
                raise Conflict
            if text is None:
                text = await asyncio.to_thread(self.quotes.before)
                if text is None:
                    return []
            else:
                arguments = (self.text, str(self.path), text)
                task = Task("steadfold.page.money", "wrong_quotes", arguments, READING_LIMIT_S)
                wrong: list[str] = await self._readers.do(task)
                if wrong:
                    return wrong
            try:
                await asyncio.to_thread(self.quotes.keep, text)
            except OSError as error:
                raise CannotSave(f"{self.quotes.file} cannot be saved: {error.strerror or error}") from None
            self._quotes_changed()
            return []

    async def _take_in(self) -> None:
        self._seen = await asyncio.to_thread(stamp_of, self.path)
        try:
            text = await asyncio.to_thread(text_of, self.path)
        except JobProblems as error:
            problems = tuple(
                {"line": p.line, "sentence": p.sentence, "source_line": p.source_line} for p in error.problems
            )
            if problems != self.problems:
                self.text, self.problems, self.serial = "", problems, self.serial + 1
                self._tell_changed()
            return
        if text == self.text and self.serial:
            return
        say = "changed in another editor" if self.serial else "as it was opened"
        await asyncio.to_thread(self._history.found, self.path.name, text, say)
        await self._show(text)

    async def _show(self, text: str, told: dict[str, Any] | None = None) -> None:
        """Stand at a text. When it cannot be read, what was read last stays in sight beside the problems."""
        self.text, self.serial, self.problems = text, self.serial + 1, ()
        if told is None:
            try:
                told = await self._read(text)
            except Failed as error:
                self.problems = error.problems or ({"line": 0, "sentence": error.sentence},)
            except TooLong:
                self.problems = ({"line": 0, "sentence": "this job takes too long to read"},)
        if told is not None:
            # Where they lie is nobody's business on the page.
            self._leaning = await asyncio.to_thread(_stamps, told.pop("leans_on"))
            self.told = told
            await asyncio.to_thread(self.quotes.name, told["quotes"])
        self._drop_stale()
        self._tell_changed()

    async def _read(self, text: str) -> dict[str, Any]:
        task = Task("steadfold.page.reading", "read", (text, str(self.path)), READING_LIMIT_S)
        result: dict[str, Any] = await self._readers.do(task)
        return result

    def _tell_changed(self) -> None:
        self._notify({"kind": "job", "serial": self.serial, "revision": self.revision})

    async def edit(
        self, changes: list[tuple[list[str | int], Any]], revision: str, say: str, more: bool = False
    ) -> None:
        """Change fields, check the result, keep it in the history, save it. `more` goes over the last change again.

        Raises `Conflict` when `revision` is not the one on the disk, `Failed` with problems when the result is no job,
        `CannotSave` when the disk refuses.
        """
        async with self._lock:
            await self._take_in()
            if revision != self.revision:
                raise Conflict
            task = Task("steadfold.page.reading", "change", (self.text, str(self.path), changes), READING_LIMIT_S)
            new, told = await self._readers.do(task)
            if new == self.text:
                return
            keep = self._history.replace if more else self._history.add
            await self._save(new, lambda: keep(self.path.name, new, say), revert=-1)
            await self._show(new, told)

    async def step(self, way: int, revision: str) -> bool:
        """Undo (-1) or redo (1); False when there is nothing that way. Raises as `edit` does."""
        async with self._lock:
            await self._take_in()
            if revision != self.revision:
                raise Conflict
            text = await asyncio.to_thread(self._history.beside, self.path.name, way)
            if text is None:
                return False
            await self._save(text, lambda: self._history.moved(self.path.name, way), revert=-way)
            await self._show(text)
            return True

    async def _save(self, text: str, keep: Callable[[], None], revert: int) -> None:
        """History first, then the file: whenever it stops between the two, both versions are in the history."""

        def save() -> None:
            keep()
            try:
                write_job(self.path, text)
            except OSError as error:
                self._history.moved(self.path.name, revert)
                raise CannotSave(f"{self.path.name} cannot be saved: {error.strerror or error}") from None

        if (await asyncio.to_thread(stamp_of, self.path)) != self._seen:
            raise Conflict
        await asyncio.to_thread(save)
        self._seen = await asyncio.to_thread(stamp_of, self.path)

    def _drop_stale(self) -> None:
        """Let go of what is computed for versions that are no more."""
        current = self._current()
        for (fingerprint, _), (_, wanted) in self._running.items():
            if fingerprint not in current:
                wanted.clear()
        for key in [k for k in self._answers if k[1] in WHOLE and k[0] not in current]:
            # An archive is large.
            del self._answers[key]
        while len(self._answers) > MOST_ANSWERS:
            self._answers.popitem(last=False)

    def _current(self) -> set[str]:
        told = self.told or {"parts": [], "stands": []}
        return {self.whole, self.money, *(str(each["fingerprint"]) for each in (*told["parts"], *told["stands"]))}

    def start(self, number: int) -> None:
        """Begin to answer a part at every level, before anyone asks."""
        self._make_room()
        part = self._part(number)
        shape = self._task(part, number, "shape")

        def then(_: object) -> None:
            if part["fingerprint"] in self._current():
                self._task(part, number, "quick")
                self._task(part, number, "full")

        # The picture is there first; two more processes at once would make it wait.
        shape.add_done_callback(then)

    async def answer(self, number: int, level: str) -> tuple[str, Answered]:
        """Fingerprint and answer of a part.

        Raises `LookupError` for a part that is not there, `Stale` when an edit came between, `Failed` as the task did.
        """
        part = self._part(number, "stands" if level == "stand" else "parts")
        fingerprint = str(part["fingerprint"])
        known = self._answers.get((fingerprint, level))
        if known is None:
            if (fingerprint, level) not in self._running:
                self._make_room()
            known = await asyncio.shield(self._task(part, number, level))
        return fingerprint, known

    def _make_room(self) -> None:
        """Somebody waits: what nobody looks at is put off."""
        if self._aside is not None:
            self._aside.clear()

    async def order(self, even: bool, units: Units = "mm") -> Answered:
        """What the order folder holds, and its archive; raises as `answer` does."""
        level = f"order{'-even' * even}{'-in' * (units == 'in')}"
        known = self._answers.get((self.whole, level))
        if known is None or known[0]["layouts"] != len(self._layouts()):
            self._answers.pop((self.whole, level), None)
            known = await asyncio.shield(self._task({"fingerprint": self.whole}, 0, level))
        return known

    async def reckoned(self, level: str) -> tuple[str, Answered]:
        """What the job costs (`money`), or its parts on sheets (`sheets`); raises as `answer` does."""
        fingerprint = self.money
        known = self._answers.get((fingerprint, level))
        if known is None:
            self._make_room()
            known = await asyncio.shield(self._task({"fingerprint": fingerprint}, 0, level))
        return fingerprint, known

    def _layouts(self) -> bytes:
        """The parts of this version on sheets, empty until they have been laid out."""
        known = self._answers.get((self.money, "sheets"))
        return b"" if known is None else known[1]

    def _part(self, number: int, kind: str = "parts") -> dict[str, Any]:
        parts = (self.told or {kind: []})[kind]
        if not 0 <= number < len(parts):
            raise LookupError(number)
        part: dict[str, Any] = parts[number]
        return part

    def _task(self, part: dict[str, Any], number: int, level: str) -> asyncio.Task[Answered]:
        key = (str(part["fingerprint"]), level)
        running = self._running.get(key)
        if running is not None and running[1].is_set():
            return running[0]
        wanted = threading.Event()
        wanted.set()
        task = asyncio.create_task(self._compute(key, number, wanted))
        # Nobody may be waiting for it; then its failure is told when somebody asks again.
        task.add_done_callback(lambda done: done.cancelled() or done.exception())
        self._running[key] = (task, wanted)
        return task

    async def _compute(self, key: tuple[str, str], number: int, wanted: threading.Event) -> Answered:
        fingerprint, level = key
        known = self._answers.get(key)
        if known is not None:
            return known
        limit = READING_LIMIT_S if level == "shape" else COMPUTING_LIMIT_S
        more: tuple[str | bool | bytes, ...]
        module, function, more = TASKS.get(level, ("answers", "answer", (level,)))
        if level in MONEY:
            more = (self.quotes.text, self.quotes.file)
        elif level.startswith("order"):
            more = (*more, self._layouts())
        task = Task(f"steadfold.page.{module}", function, (self.text, str(self.path), number, *more), limit)
        workers = self._readers if level == "shape" else self._computers

        def tell(share: float, what: str) -> None:
            if level != "quick":
                done = {"fingerprint": fingerprint, "level": level, "share": round(share, 3), "what": what}
                self._notify({"kind": "progress", **done})

        try:
            answer: Answered = await workers.do(task, tell, wanted)
            self._answers[key] = answer
        finally:
            if self._running.get(key, (None, None))[1] is wanted:
                del self._running[key]
        self._notify({"kind": "answer", "fingerprint": fingerprint, "level": level, "verdicts": self._verdicts()})
        if level in ("full", "stand") and (self._background is None or self._background.done()):
            self._background = asyncio.create_task(self._others())
        return answer

    async def _others(self) -> None:
        """Answer what nobody is looking at, one after the other, so that the list can tell every verdict."""
        tried: set[str] = set()
        while True:
            told = self.told or {"parts": [], "stands": []}
            wanted = [(n, p, "full") for n, p in enumerate(told["parts"])]
            wanted += [(n, s, "stand") for n, s in enumerate(told["stands"])]
            left = [
                each for each in wanted if (each[1]["fingerprint"], each[2]) not in self._answers
                and each[1]["fingerprint"] not in tried
            ]  # fmt: skip
            if not left:
                return
            number, part, level = left[0]
            if self._running:
                await asyncio.sleep(0.1)
                continue
            task = self._task(part, number, level)
            self._aside = self._running[(str(part["fingerprint"]), level)][1]
            try:
                await asyncio.shield(task)
                tried.add(part["fingerprint"])
            except (Failed, TooLong):
                tried.add(part["fingerprint"])
            except Stale:
                continue
            finally:
                self._aside = None
