"""An answer's sentences in inches, beside those in millimetres: the page has a switch and asks nobody when it is turned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from steadfold.quantities import in_units

NOT_SENTENCES = frozenset(
    {"name", "source", "formula", "values", "unit", "pictures", "path", "way", "value", "text", "edits"}
)
"""Keys of an answer whose texts are names, sources, drawings, hand formulas or what goes into the job."""


def in_inches(answer: Mapping[str, Any], told_in_inches: Any = None, names: tuple[str, ...] = ()) -> dict[str, str]:
    """Each sentence of a plain answer that reads otherwise in inches, with how it reads there.

    `told_in_inches` is the same answer made from a review that was told in inches; without it every sentence is told
    anew here, but for `names`.
    """
    if told_in_inches is not None:
        return dict(_pairs(answer, told_in_inches))
    return {said: other for said in _sentences(answer) if (other := in_units(said, "in", names)) != said}


def _pairs(before: Any, after: Any) -> Iterator[tuple[str, str]]:
    if isinstance(before, str):
        if before != after:
            yield before, after
    elif isinstance(before, Mapping):
        for key, value in before.items():
            yield from _pairs(value, after[key])
    elif isinstance(before, (list, tuple)):
        for one, other in zip(before, after, strict=True):
            yield from _pairs(one, other)


def _sentences(told: Any) -> Iterator[str]:
    if isinstance(told, str):
        yield told
    elif isinstance(told, Mapping):
        for key, value in told.items():
            if key not in NOT_SENTENCES:
                yield from _sentences(value)
    elif isinstance(told, (list, tuple)):
        for each in told:
            yield from _sentences(each)
