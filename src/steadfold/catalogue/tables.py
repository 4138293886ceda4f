"""Reading the catalogue's TOML tables, once each, and saying kindly what is not in them."""

import difflib
import tomllib
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from typing import Any

TABLES = (
    "sources",
    "materials",
    "gauges",
    "fasteners",
    "wood",
    "profiles",
    "finishes",
    "stock",
    "cutting",
)


class NotInCatalogue(KeyError):
    """A name the catalogue does not hold.

    Fields: `what` (kind of thing asked for), `name` (as asked), `nearest` (known names close to it) and
    `known` (all of them). The message names the nearest, so that it can be shown to a person as it stands.
    """

    def __init__(self, what: str, name: str, known: Iterable[str], hint: str = "") -> None:
        self.what = what
        self.name = name
        self.known = tuple(known)
        self.nearest = nearest_names(name, self.known)
        if hint:
            tail = hint
        elif self.nearest:
            tail = "nearest known: " + ", ".join(self.nearest)
        else:
            tail = "known: " + ", ".join(self.known)
        self.message = f"{name!r} is not a {what} in the catalogue; {tail}"
        super().__init__(self.message)

    def __str__(self) -> str:
        return self.message


def nearest_names(name: str, known: Iterable[str], count: int = 3) -> tuple[str, ...]:
    """Up to `count` known names that look or read like `name`, best first; empty if none comes near."""
    by_key = {key_of(word): word for word in known}
    key = key_of(name)
    inside = [word for k, word in by_key.items() if key and (key in k or k in key)]
    close = [by_key[k] for k in difflib.get_close_matches(key, by_key, n=count, cutoff=0.5)]
    return tuple(dict.fromkeys(close + inside))[:count]


def key_of(name: str) -> str:
    """The form names are compared in: lower case, without spaces, hyphens, underscores and plus signs."""
    return "".join(character for character in name.casefold() if character not in " -_+")


@cache
def table(name: str) -> dict[str, Any]:
    """The parsed TOML table `name` (one of `TABLES`). Shared: read it, never change it."""
    if name not in TABLES:
        raise NotInCatalogue("table", name, TABLES)
    return tomllib.loads((files(__package__) / f"{name}.toml").read_text(encoding="utf-8"))
