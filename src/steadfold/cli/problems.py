"""Saying what cannot be read: to people on standard error, to programs as one JSON object."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from typing import Any

CANNOT_BE_READ = 2


def say_problem(sentence: str, as_json: bool) -> int:
    """One problem without a place in a file."""
    if as_json:
        print(json.dumps({"steadfold": 1, "problems": [{"say": sentence}]}))
    else:
        print(sentence, file=sys.stderr)
    return CANNOT_BE_READ


def say_problems(problems: Sequence[Any], as_json: bool) -> int:
    """Every problem of a file, with file, line, field and what would be right."""
    if as_json:
        found = [
            {"file": p.file, "line": p.line, "column": p.column, "field": p.field, "say": p.sentence} for p in problems
        ]
        print(json.dumps({"steadfold": 1, "problems": found}, ensure_ascii=False))
    else:
        print("\n\n".join(p.render() for p in problems), file=sys.stderr)
    return CANNOT_BE_READ
