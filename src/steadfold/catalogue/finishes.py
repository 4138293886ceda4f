"""Finishes: how thick, how heavy, what they need and what they spoil."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from steadfold.catalogue.sources import Citation, citation
from steadfold.catalogue.tables import NotInCatalogue, key_of, table


@dataclass(frozen=True)
class Finish:
    """A finish. Thicknesses in um per coated side: least, usual, most.

    `relative_density` is least, usual, most against water, None for bare metal. `hanging_hole_mm` is the
    smallest hole to hang the part by (None: needs none); `cure_c` is the temperature the metal reaches.
    `insulates` is true where the coat blocks an earth. `families` are the material families it is put on;
    empty means any.
    """

    id: str
    title: str
    aliases: tuple[str, ...]
    thickness_um: tuple[float, float, float]
    relative_density: tuple[float, float, float] | None
    cure_c: tuple[float, float] | None
    cure_minutes: tuple[float, float] | None
    transfer: tuple[float, float] | None
    hanging_hole_mm: float | None
    hanging_hole_comfortable_mm: float | None
    insulates: bool
    families: tuple[str, ...]
    note: str
    source: Citation

    @property
    def usual_mm(self) -> float:
        """Usual thickness of one coat, mm."""
        return self.thickness_um[1] / 1000.0

    def hole_after_mm(self, diameter_mm: float, coat_um: float | None = None) -> float:
        """What is left of a round hole once its wall is coated: d - 2 t."""
        coat = self.thickness_um[1] if coat_um is None else coat_um
        return diameter_mm - 2.0 * coat / 1000.0

    def mass_kg(self, area_mm2: float) -> float:
        """Mass on this coated area (both sides counted by the caller) at the usual thickness, kg."""
        if self.relative_density is None:
            return 0.0
        return area_mm2 * self.usual_mm * self.relative_density[1] * 1e-6

    def suits(self, family: str) -> bool:
        """True if the finish is put on this family of material."""
        return not self.families or family in self.families


def coverage_m2_per_kg(relative_density: float, coat_um: float) -> float:
    """Area one kilogram of powder covers at full use of it, m2: 1000 / (density x um).

    Density against water; divide by the transfer share for what is really bought.

    >>> round(coverage_m2_per_kg(1.5, 80.0), 3)
    8.333
    """
    return 1000.0 / (relative_density * coat_um)


def names() -> tuple[str, ...]:
    """All finishes."""
    return tuple(_finishes())


def finish(name: str) -> Finish:
    """The finish of this id or alias; raises NotInCatalogue."""
    by_key = {key_of(word): each for each in _finishes().values() for word in (each.id, *each.aliases)}
    found = by_key.get(key_of(name))
    if found is None:
        raise NotInCatalogue("finish", name, _finishes())
    return found


@cache
def _finishes() -> dict[str, Finish]:
    return {row["id"]: _finish_of(row) for row in table("finishes")["finish"]}


def _finish_of(row: dict[str, Any]) -> Finish:
    def pair(key: str) -> tuple[float, float] | None:
        return (row[key][0], row[key][1]) if key in row else None

    def triple(key: str) -> tuple[float, float, float]:
        return (row[key][0], row[key][1], row[key][2])

    return Finish(
        row["id"],
        row["title"],
        tuple(row["aliases"]),
        triple("thickness_um"),
        triple("relative_density") if "relative_density" in row else None,
        pair("cure_c"),
        pair("cure_minutes"),
        pair("transfer"),
        row.get("hanging_hole_mm"),
        row.get("hanging_hole_comfortable_mm"),
        row["insulates"],
        tuple(row.get("families", ())),
        row.get("note", ""),
        citation(row["source"]),
    )
