"""Where each number of the catalogue came from."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from steadfold.catalogue.tables import NotInCatalogue, table

KINDS = ("standard", "handbook", "paper", "measured", "common practice", "assumed")


@dataclass(frozen=True)
class Source:
    """A publication, a measurement, or the plain admission that there is none.

    `kind` is one of `KINDS`. `from_memory` is true where nobody looked into the publication itself while
    the values were entered; such values are shown with the word 'recalled' until someone checks the paper.
    """

    key: str
    title: str
    standard: str
    edition: str
    kind: str
    from_memory: bool
    note: str = ""


@dataclass(frozen=True)
class Citation:
    """A source, the clause or table in it, and whether this very value was only recalled."""

    source: Source
    clause: str
    from_memory: bool
    note: str = ""

    @property
    def sentence(self) -> str:
        """The citation for people: 'EN 10025-2:2019, Table 6' or '..., recalled'."""
        name = f"{self.source.standard}:{self.source.edition}" if self.source.edition else self.source.standard
        parts = [name or self.source.title]
        if self.clause:
            parts.append(self.clause)
        if self.source.kind in ("common practice", "assumed"):
            return ", ".join(parts)
        if self.from_memory:
            parts.append("recalled")
        return ", ".join(parts)


@cache
def _sources() -> dict[str, Source]:
    return {row["key"]: Source(**row) for row in table("sources")["source"]}


def source_keys() -> tuple[str, ...]:
    """The keys of all sources, in the order of the file."""
    return tuple(_sources())


def source(key: str) -> Source:
    """The source with this key; raises NotInCatalogue otherwise."""
    try:
        return _sources()[key]
    except KeyError:
        raise NotInCatalogue("source", key, _sources()) from None


def citation(row: dict[str, Any]) -> Citation:
    """The citation written in a table as `{ key = "...", clause = "...", recalled = true, note = "..." }`.

    Without `recalled` the source's own flag holds: a standard can have one table that was read and another
    that was only recalled.
    """
    origin = source(row["key"])
    recalled = bool(row.get("recalled", origin.from_memory))
    return Citation(origin, row.get("clause", ""), recalled, row.get("note", ""))
