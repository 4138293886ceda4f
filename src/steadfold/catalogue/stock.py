"""Sheet sizes and stock lengths as they are sold."""

from dataclasses import dataclass

from steadfold.catalogue.fasteners import MM_PER_INCH
from steadfold.catalogue.sources import Citation, citation
from steadfold.catalogue.tables import NotInCatalogue, table


@dataclass(frozen=True)
class SheetSize:
    """A sheet as bought: short side, long side (the grain runs along the long one), in mm."""

    label: str
    width_mm: float
    length_mm: float
    source: Citation


@dataclass(frozen=True)
class StockLengths:
    """The lengths in which a kind of long stock is sold, mm, shortest first."""

    kind: str
    system: str
    lengths_mm: tuple[float, ...]
    source: Citation


def sheet_sizes(system: str = "metric") -> tuple[SheetSize, ...]:
    """Sheet sizes of 'metric' or 'inch' metal, or of 'wood'."""
    groups = table("stock")["sheet"]
    if system not in groups:
        raise NotInCatalogue("system of sheet sizes", system, groups)
    row = groups[system]
    origin = citation(row["source"])
    if "inch" in row:
        return tuple(SheetSize(f"{w:g} x {h:g} in", w * MM_PER_INCH, h * MM_PER_INCH, origin) for w, h in row["inch"])
    return tuple(SheetSize(f"{w:g} x {h:g} mm", w, h, origin) for w, h in row["mm"])


def stock_lengths(kind: str, system: str = "metric") -> StockLengths:
    """Lengths of 'strut', 'T-slot', 'bar' (tube, bar, angle), 'timber' or 'threaded rod'.

    Raises `NotInCatalogue` for a kind that the system does not sell by the length.
    """
    rows = table("stock")["length"]["rows"]
    for row in rows:
        if (row["kind"], row["system"]) == (kind, system):
            return StockLengths(kind, system, tuple(row["mm"]), citation(row["source"]))
    raise NotInCatalogue("long stock", f"{kind} ({system})", (f"{r['kind']} ({r['system']})" for r in rows))
