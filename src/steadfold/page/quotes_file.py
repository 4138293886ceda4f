"""The quotes that a job's money stands on: a CSV file beside the job, the one it names or one of our own."""

from __future__ import annotations

import errno
from pathlib import Path

from steadfold.deliver.writing import write_aside
from steadfold.money.quotes import LARGEST_FILE
from steadfold.page.history import History, revision_of


class QuotesFile:
    """Text of the quotes, as it lies on the disk; every version goes into the history first."""

    def __init__(self, job: Path, history: History):
        self._folder, self._history = job.parent, history
        self._own = f"{job.stem}-quotes.csv"
        self.file = self._own
        self.text = ""
        self._seen: tuple[int, ...] | None = None

    @property
    def revision(self) -> str:
        """The name of this version."""
        return revision_of(self.text)

    def name(self, named: str | None) -> None:
        """Take the file that the job names, or our own where it names none, or one outside of its folder."""
        file = named if named is not None and self._inside(named) else self._own
        if file != self.file:
            self.file, self._seen, self.text = file, None, ""
        self.look()

    def _inside(self, named: str) -> bool:
        try:
            home, real = self._folder.resolve(), (self._folder / named).resolve()
        except (OSError, RuntimeError, ValueError):
            return False
        return real.suffix.lower() == ".csv" and home in real.parents

    def look(self) -> bool:
        """Take in what lies on the disk; True when it is another text than before."""
        path = self._folder / self.file
        stamp = stamp_of(path)
        if stamp == self._seen:
            return False
        self._seen = stamp
        before, self.text = self.text, ""
        if stamp and self._inside(self.file):
            try:
                with path.open("rb") as stream:
                    self.text = stream.read(LARGEST_FILE + 1).decode("utf-8-sig", errors="replace")
            except OSError:
                self.text = ""
        return self.text != before

    def keep(self, text: str) -> None:
        """Save a text in place of what is there. Raises `OSError`."""
        if not self._inside(self.file):
            raise OSError(errno.EPERM, "it leads out of the job's folder")
        self._history.found(self.file, self.text, "the quotes")
        self._history.add(self.file, text, "the quotes")
        write_aside(self._folder / self.file, text.encode("utf-8"))
        self.look()

    def before(self) -> str | None:
        """The text that `keep` replaced last, None when there is none."""
        return self._history.beside(self.file, -1)


def stamp_of(path: Path) -> tuple[int, ...]:
    """Changes whenever the file does; empty when there is none."""
    try:
        status = path.stat()
    except OSError:
        return ()
    return (status.st_mtime_ns, status.st_size, status.st_ino)
