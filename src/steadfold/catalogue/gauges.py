"""Gauge numbers and stock thicknesses. A gauge is read in its metal, never without one."""

import re
from dataclasses import dataclass
from functools import cache

from steadfold.catalogue.materials import Material, material
from steadfold.catalogue.sources import Citation, citation
from steadfold.catalogue.tables import NotInCatalogue, table

MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Gauge:
    """One gauge number in one metal's own table.

    `other_inch` is the thickness the trade's second list gives to the same number (stainless has two); None
    if there is none, or if both agree. `formula` is true where the printed table stops and the basis of the
    table was used.
    """

    number: int
    table: str
    inch: float
    other_inch: float | None
    formula: bool
    source: Citation

    @property
    def mm(self) -> float:
        """The thickness in mm."""
        return self.inch * MM_PER_INCH

    @property
    def other_mm(self) -> float | None:
        """What the second list says, in mm; None where there is none."""
        return None if self.other_inch is None else self.other_inch * MM_PER_INCH

    @property
    def echo(self) -> str:
        """What the gauge was read as, in mm and inch, for people."""
        text = f"{self.number} ga {self.table} = {self.mm:.3f} mm = {self.inch:.4f} in"
        if self.other_inch is not None:
            text += f" (a second list in the trade says {self.other_mm:.3f} mm = {self.other_inch:.4f} in)"
        return text


@dataclass(frozen=True)
class StockThickness:
    """A thickness on the shelf: `label` as it is ordered, `mm` as it is reckoned."""

    label: str
    mm: float
    source: Citation


def table_names() -> tuple[str, ...]:
    """The gauge tables: steel, galvanised, stainless, aluminium."""
    return tuple(table("gauges")["gauge_table"])


def gauge_numbers(of: str | Material) -> tuple[int, ...]:
    """All gauge numbers of a material's own table (or of a table by name)."""
    return tuple(_gauges(_table_of(of)))


def gauge(number: int | str, of: str | Material) -> Gauge:
    """The gauge `number` ('11', '11 ga', '#11', 11) in the table of material `of`.

    `of` is a material, its id or alias, or the name of a table. Raises NotInCatalogue for a material
    without gauges or a number outside its table.

    >>> gauge("12 ga", "5052-H32").inch, gauge("12 ga", "DC01").inch
    (0.0808, 0.1046)
    """
    name = _table_of(of)
    read = _number_of(number)
    rows = _gauges(name)
    if read not in rows:
        known = f"it runs from {min(rows)} to {max(rows)} here"
        raise NotInCatalogue(f"{name} gauge", str(number), (str(n) for n in rows), hint=known)
    return rows[read]


def thickness_of(number: int | str, of: str | Material) -> float:
    """Thickness in mm of this gauge number in the metal of `of`; see `gauge`."""
    return gauge(number, of).mm


def gauges_near(thickness_mm: float, of: str | Material, count: int = 3) -> tuple[Gauge, ...]:
    """The gauges of the material's own table nearest to this thickness, nearest first."""
    rows = _gauges(_table_of(of)).values()
    return tuple(sorted(rows, key=lambda each: (abs(each.mm - thickness_mm), each.number))[:count])


def stock_thicknesses(of: str | Material, system: str | None = None) -> tuple[StockThickness, ...]:
    """What a stockist keeps in this material, thinnest first.

    `system`: 'metric', 'gauge' or 'inch'; None takes the one the material is usually sold in. Raises
    NotInCatalogue where the family is not sold that way.
    """
    asked = _material_of(of)
    system = system or asked.system
    if system == "gauge":
        usual = table("gauges")["usual_gauges"]
        rows = usual.get(asked.gauge_table or "")
        if rows is None:
            raise NotInCatalogue("gauge table", asked.family, table_names())
        picked = [gauge(number, asked) for number in rows["numbers"]]
        origin = citation(rows["source"])
        stock = [StockThickness(f"{each.number} ga", each.mm, origin) for each in picked]
        return tuple(sorted(stock, key=lambda each: each.mm))
    lists = table("gauges")["stock"].get(system, {})
    if asked.family not in lists:
        sold = [name for name in ("metric", "inch", "gauge") if asked.family in table("gauges")["stock"].get(name, {})]
        raise NotInCatalogue(f"{asked.family} stock system", system, sold)
    row = lists[asked.family]
    origin = citation(row["source"])
    if system == "inch":
        return tuple(StockThickness(f"{t:.3f} in", t * MM_PER_INCH, origin) for t in row["inch"])
    return tuple(StockThickness(f"{t:g} mm", float(t), origin) for t in row["mm"])


def _material_of(of: str | Material) -> Material:
    return of if isinstance(of, Material) else material(of)


def _table_of(of: str | Material) -> str:
    if isinstance(of, str) and of in table("gauges")["gauge_table"]:
        return of
    asked = _material_of(of)
    if asked.gauge_table is None:
        raise NotInCatalogue(
            "metal with a gauge table", asked.id, table_names(), hint="give its thickness in mm or inch"
        )
    return asked.gauge_table


def _number_of(text: int | str) -> int:
    if isinstance(text, int):
        return text
    found = re.fullmatch(r"\s*#?\s*(\d{1,2})\s*(?:ga|ga\.|gauge|gage|g)?\s*", text, re.IGNORECASE)
    if found is None:
        raise NotInCatalogue("gauge", text, ("11 ga",), hint="a gauge is a whole number such as '11 ga'")
    return int(found.group(1))


@cache
def _gauges(name: str) -> dict[int, Gauge]:
    row = table("gauges")["gauge_table"][name]
    origin = citation(row["source"])
    basis = citation(row["beyond_source"]) if "beyond_source" in row else origin
    other = row.get("other", {})
    printed = {int(number): float(inch) for number, inch in row["inch"].items()}
    beyond = {int(number): float(inch) for number, inch in row.get("beyond", {}).items()}
    return {
        number: Gauge(
            number,
            name,
            inch,
            float(other[str(number)]) if str(number) in other else None,
            number in beyond,
            basis if number in beyond else origin,
        )
        for number, inch in sorted({**printed, **beyond}.items())
    }
