"""What a ready-made shape is: named dimensions with defaults and limits, and how they make a panel tree."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from steadfold.sheet.tree import PanelTree

Kind = Literal["length", "angle", "count", "choice", "flag"]
Value = float | int | str | bool
"""Lengths in mm, angles in rad, counts as int, choices as str, flags as bool."""


@dataclass(frozen=True)
class Dimension:
    """One dimension of a shape: its key in the job file, kind, default, limits and what it means in a sentence.

    A default of None must be given by the user.
    """

    key: str
    kind: Kind
    default: Value | None
    say: str
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """What a shape must know of its metal to lay itself out: thickness and the inside radius bends will have."""

    thickness_mm: float
    inside_radius_mm: float


class ShapeError(ValueError):
    """Dimensions that do not go together; `key` is the one to change, `str()` says what would be right."""

    def __init__(self, key: str, sentence: str):
        super().__init__(key, sentence)
        self.key = key
        self.sentence = sentence

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True)
class ReadyShape:
    """A ready-made shape; `build` gets every dimension by key and raises `ShapeError` when they cannot be."""

    name: str
    say: str
    dimensions: tuple[Dimension, ...]
    build: Callable[[Mapping[str, Value], Sheet], PanelTree]
