"""What is wrong with a job file: every problem at once, each with its place and what would be right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

WIDEST_LINE = 100
"""Longer lines are shown in part, around the place that matters."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in one place. `line` and `column` count from 1; 0 means the file as a whole.

    `field` names the key with its tables, such as `part "oar rack": width`; `sentence` says what is wrong and
    what would be right; `source_line` is the line as it stands in the file.
    """

    file: str
    line: int
    column: int
    field: str
    sentence: str
    source_line: str = ""

    def render(self) -> str:
        """The problem for a terminal: place and sentence, then the line with a caret under the place."""
        where = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        head = f"{where}: {self.field}: {self.sentence}" if self.field else f"{where}: {self.sentence}"
        if not self.line or not self.source_line.strip():
            return head
        shown, caret = _window(self.source_line, self.column)
        return f"{head}\n    {shown}\n    {' ' * caret}^"


class JobProblems(ValueError):
    """A job that cannot be read, with all its problems in the order of the file; `str()` renders them."""

    def __init__(self, problems: Iterable[Problem]):
        self.problems = tuple(sorted(problems, key=lambda each: (each.line, each.column)))
        super().__init__(render(self.problems))

    def __reduce__(self) -> tuple[type[JobProblems], tuple[tuple[Problem, ...]]]:
        # An exception is rebuilt from its message unless told otherwise; this one is made from its problems.
        return type(self), (self.problems,)


def render(problems: Iterable[Problem]) -> str:
    """All problems as text, an empty line between them."""
    return "\n\n".join(problem.render() for problem in problems)


def _window(line: str, column: int) -> tuple[str, int]:
    """The line cut to a width a terminal shows, control characters blanked, and the caret's place."""
    clean = "".join(character if character.isprintable() else " " for character in line)
    first = max(0, column - 1 - WIDEST_LINE // 2) if len(clean) > WIDEST_LINE else 0
    return clean[first : first + WIDEST_LINE], max(0, column - 1 - first)
