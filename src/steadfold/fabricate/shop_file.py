"""Reading a shop file: TOML that says only what differs from the typical shop, every problem told at once."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from steadfold.catalogue import Material, NotInCatalogue, material, thickness_of
from steadfold.fabricate.shop import (
    FLANGE_TO_V,
    BendRow,
    Brake,
    Coater,
    Die,
    Laser,
    Punch,
    SheetSize,
    Shelf,
    Shop,
    Times,
    gooseneck_punch,
    straight_punch,
)
from steadfold.fabricate.shop_keys import (
    BEND,
    BENDING,
    BRAKE,
    COATER,
    DIE,
    HANDLING,
    LASER,
    PUNCH,
    RADIUS_OF_V,
    SHEET,
    SHELF,
    THICKEST,
    TOP,
    WORDS,
    Keys,
)
from steadfold.quantities import (
    QuantityError,
    read_length,
)
from steadfold.sheet.outline import Outline, polygon_outline

Path = tuple[str | int, ...]
LONGEST_TEXT = 1_000_000
"""More characters than this is not a shop file."""
MOST_BITS = 1000
"""Of a whole number: three hundred digits."""


@dataclass(frozen=True)
class ShopProblem:
    """One thing wrong with a shop file: where (keys, list indices from the top) and what would be right."""

    path: Path
    sentence: str
    line: int | None = None

    def __str__(self) -> str:
        where = ".".join(str(key) for key in self.path) or "the file"
        return f"line {self.line}: {where}: {self.sentence}" if self.line else f"{where}: {self.sentence}"


class ShopFileError(ValueError):
    """A shop file that cannot be used; `problems` are all there are."""

    def __init__(self, problems: tuple[ShopProblem, ...]):
        super().__init__("; ".join(str(problem) for problem in problems))
        self.problems = problems


def typical_text() -> str:
    """The shipped shop file as it stands."""
    return (files(__package__) / "typical.toml").read_text(encoding="utf-8")


@cache
def typical_shop() -> Shop:
    """The shipped shop: plain figures that nobody measured."""
    return read_shop("")


def read_shop(text: str, line_of: Callable[[Path], int | None] | None = None) -> Shop:
    """The shop that a file describes, over the typical one: tables merge by key, a list replaces the list.

    `line_of` gives the line of a path of keys, for the problems. Raises `ShopFileError` with every problem.
    """
    try:
        own = tomllib.loads(text) if len(text) <= LONGEST_TEXT else None
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found[1]) if found else None
        raise ShopFileError((ShopProblem((), f"this is not TOML: {error}", line),)) from None
    if own is None:
        raise ShopFileError((ShopProblem((), f"a text of {len(text)} characters is not a shop file"),))
    if _has_endless_number(own):
        raise ShopFileError((ShopProblem((), "a number in it has hundreds of digits; nothing in a shop is as large"),))
    reader = _Reader(own, line_of or (lambda path: None))
    shop = reader.shop(tomllib.loads(typical_text()))
    if reader.problems or shop is None:
        raise ShopFileError(tuple(reader.problems))
    return shop


def _has_endless_number(value: Any) -> bool:
    """True for a whole number too long to be written out again, anywhere in what was read."""
    if isinstance(value, int):
        return value.bit_length() > MOST_BITS
    if isinstance(value, Mapping):
        return any(_has_endless_number(each) for each in value.values())
    return isinstance(value, list) and any(_has_endless_number(each) for each in value)


class _Reader:
    """Collects every problem while the tables are read."""

    def __init__(self, own: dict[str, Any], line_of: Callable[[Path], int | None]):
        self.own = own
        self.line_of = line_of
        self.problems: list[ShopProblem] = []

    def wrong(self, path: Path, sentence: str) -> None:
        self.problems.append(ShopProblem(path, sentence, self.line_of(path)))

    def unknown(self, path: Path, known: Mapping[str, Any] | tuple[str, ...]) -> None:
        near = difflib.get_close_matches(str(path[-1]), list(known), n=1, cutoff=0.4)
        hint = f"did you mean {near[0]!r}?" if near else "known here: " + ", ".join(known)
        self.wrong(path, f"nobody here knows the key {path[-1]!r}; {hint}")

    def fields(self, table: Any, path: Path, spec: Keys, needs: tuple[str, ...] = ()) -> dict[str, Any]:
        """The read values of a table; what cannot be read is left out and told."""
        if not isinstance(table, dict):
            self.wrong(path, "this should be a table")
            return {}
        read = {}
        for key, value in table.items():
            if isinstance(value, dict) and key not in spec:
                continue
            if key not in spec:
                self.unknown((*path, key), tuple(spec))
                continue
            try:
                read[key] = spec[key](value)
            except QuantityError as error:
                self.wrong((*path, key), str(error))
        for key in needs:
            if key not in table:
                self.wrong(path, f"{key!r} is missing")
        return read

    def merged(
        self, key: str, typical: dict[str, Any], spec: Keys, inner: tuple[str, ...] = ()
    ) -> dict[str, Any]:
        """A table of the typical shop with the user's values over it; `inner` names tables within."""
        own = self.own.get(key, {})
        values = self.fields(typical[key], (key,), spec)
        values.update(self.fields(own, (key,), spec))
        for name in own if isinstance(own, dict) else ():
            if isinstance(own[name], dict) and name not in inner:
                self.unknown((key, name), (*spec, *inner))
        return values

    def by_family(
        self, key: str, inner: str, typical: dict[str, Any], read: Callable[[Any], float]
    ) -> Mapping[str, float]:
        """An inner table of family (or material) to value, the user's over the typical."""
        values = {name: read(value) for name, value in typical[key][inner].items()}
        own = self.own.get(key, {})
        for name, value in (own.get(inner, {}) if isinstance(own, dict) else {}).items():
            try:
                values[name] = read(value)
            except QuantityError as error:
                self.wrong((key, inner, name), str(error))
        return MappingProxyType(values)

    def rows(self, key: str, typical: dict[str, Any]) -> list[tuple[Path, Any]]:
        """Tables of a list: the user's when given, else the typical shop's."""
        rows = self.own.get(key, typical.get(key, []))
        if not isinstance(rows, list):
            self.wrong((key,), f"write this as a list of tables, [[{key}]]")
            return []
        return [((key, index), row) for index, row in enumerate(rows)]

    def shop(self, typical: dict[str, Any]) -> Shop | None:
        for key in self.own:
            if key not in TOP:
                self.unknown((key,), TOP)
        laser = self.merged("laser", typical, LASER, ("thickest",))
        thickest = self.by_family("laser", "thickest", typical, THICKEST)
        brake = self.merged("brake", typical, BRAKE)
        bending = self.merged("bending", typical, BENDING, ("radius_of_v",))
        radius_of_v = self.by_family("bending", "radius_of_v", typical, RADIUS_OF_V)
        coater = self.merged("coater", typical, COATER)
        handling = self.merged("handling", typical, HANDLING)
        punches = [self.punch(path, row) for path, row in self.rows("punch", typical)]
        dies = [self.die(path, row) for path, row in self.rows("die", typical)]
        sides = ("width", "length")
        sheets = [self.fields(row, path, SHEET, sides) for path, row in self.rows("sheet", typical)]
        shelves = [self.shelf(path, row) for path, row in self.rows("shelf", typical)]
        bends = [self.bend_row(path, row) for path, row in self.rows("bend", {})]
        said = {key: self.own.get(key, typical[key]) for key in ("name", "note")}
        texts = self.fields(said, (), WORDS)
        rates = self.own.get("rates", {})
        if not isinstance(rates, dict):
            self.wrong(("rates",), "this should be a table")
        low, high = coater.get("coat", (0.0, 0.0))
        if low > high:
            self.wrong(("coater", "coat"), "write the thinner coat first")
        for name, tools in (("punch", punches), ("die", dies), ("sheet", sheets)):
            if not tools:
                self.wrong((name,), f"the list is empty; a shop needs at least one {name}")
        if self.problems:
            return None
        return Shop(
            name=texts["name"],
            note=texts["note"],
            laser=Laser(
                laser["tolerance"], laser["kerf"], laser["least_hole_t"], laser["least_hole"],
                laser["least_web_t"], laser["least_web"], thickest,
            ),
            brake=Brake(
                brake["length"], brake["force"], brake["opening"], brake["bed_half_width"],
                brake["end_allowance"], brake["angle_tolerance"], brake["leg_tolerance"],
                brake["flattens_hems"], brake["flattening_half_width"], brake["gauge_reach"],
            ),
            punches=tuple(punch for punch in punches if punch),
            dies=tuple(die for die in dies if die),
            sheets=tuple(SheetSize(min(s.values()), max(s.values())) for s in sheets),
            shelves=tuple(shelf for shelf in shelves if shelf),
            coater=Coater(
                coater["oven"], coater["heaviest"], low, high, coater["least_hanging_hole"],
                coater["drain_hole"],
            ),
            times=Times(
                handling["flip"], handling["half_turn"], handling["quarter_turn"], handling["tool_change"],
                handling["out_sideways"], handling["cut_back_punch"], handling["no_gauge"], handling["gauge_on_flange"],
                handling["long_side_back"], handling["stroke"],
            ),
            lift_by_hand_kg=handling["lift_by_hand"],
            radius_of_v=radius_of_v,
            v_of_t=bending["v_of_t"],
            hem_radius_t=bending["hem_radius_t"],
            bend_rows=tuple(row for row in bends if row),
            rates=MappingProxyType(rates),
        )

    def punch(self, path: Path, row: Any) -> Punch | None:
        before = len(self.problems)
        needs = ("name", "kind", "height", "clamp_half_width", "capacity")
        read = self.fields(row, path, PUNCH, needs)
        kind: Any = read.get("kind")
        more = {
            "straight": ("half_thickness", "included"),
            "acute": ("half_thickness", "included"),
            "gooseneck": ("half_thickness", "included", "throat", "throat_from", "throat_to"),
            "outline": ("outline_mm", "max_bend"),
        }
        if kind is not None and kind not in more:
            self.wrong((*path, "kind"), f"{kind!r} is no kind of punch; write one of " + ", ".join(more))
        for key in more.get(str(kind), ()):
            if isinstance(row, dict) and key not in row:
                self.wrong(path, f"a punch of kind {kind!r} needs {key!r}")
        if len(self.problems) > before:
            return None
        outline = self.punch_outline(path, kind, read)
        if outline is None:
            return None
        # A punch of 88° makes 90° and what it springs back; sharper than that its faces touch the sheet.
        max_bend = read.get("max_bend", math.pi - read.get("included", math.pi / 2))
        return Punch(
            read["name"], kind, outline, read["height"], read["clamp_half_width"], max_bend, read["capacity"]
        )

    def punch_outline(self, path: Path, kind: Any, read: dict[str, Any]) -> Outline | None:
        if kind == "gooseneck":
            try:
                return gooseneck_punch(
                    read["half_thickness"], read["height"], read["throat"], read["throat_from"],
                    read["throat_to"], read["included"],
                )
            except ValueError as error:
                self.wrong(path, str(error))
                return None
        if kind in ("straight", "acute"):
            return straight_punch(read["half_thickness"], read["height"], read["included"])
        points = read["outline_mm"]
        outline = polygon_outline(points)
        if (0.0, 0.0) not in points or min(z for _, z in points) < 0 or not outline.polygon().is_valid:
            right = "the outline goes through its tip [0, 0], lies above it and crosses itself nowhere"
            self.wrong((*path, "outline_mm"), right)
            return None
        if max(z for _, z in points) > read["height"] + 1e-9:
            self.wrong((*path, "outline_mm"), "the outline is taller than 'height'")
            return None
        return outline.anticlockwise()

    def die(self, path: Path, row: Any) -> Die | None:
        before = len(self.problems)
        read = self.fields(row, path, DIE, ("v",))
        kind = read.get("kind", "standard")
        if kind not in ("standard", "acute"):
            self.wrong((*path, "kind"), f"{kind!r} is no kind of die; write 'standard' or 'acute'")
        v = read.get("v", 0.0)
        half = read.get("half_width", 0.5 * v + 12.0)
        if half <= 0.5 * v:
            self.wrong((*path, "half_width"), "a die is wider than its opening")
        if len(self.problems) > before:
            return None
        included = read.get("included", math.radians(85.0 if kind == "standard" else 28.0))
        return Die(
            name=read.get("name", f"V{v:g}" + (" acute" if kind == "acute" else "")),
            kind=kind,
            v_mm=v,
            half_width_mm=half,
            height_mm=read.get("height", 60.0),
            max_bend_rad=read.get("max_bend", math.pi - included),
            least_flange_mm=read.get("least_flange", FLANGE_TO_V * v),
            capacity_kn_per_m=read.get("capacity", 1000.0 if kind == "standard" else 700.0),
        )

    def metal(self, path: Path, name: str) -> Material | None:
        try:
            return material(name)
        except NotInCatalogue as error:
            self.wrong((*path, "material"), str(error))
            return None

    def shelf(self, path: Path, row: Any) -> Shelf | None:
        before = len(self.problems)
        read = self.fields(row, path, SHELF, ("material", "thickness"))
        labels = read.get("thickness", [])
        if not isinstance(labels, list) or not all(isinstance(label, str) for label in labels):
            self.wrong((*path, "thickness"), 'write a list of thicknesses, like ["2 mm", "11 ga"]')
            return None
        if len(self.problems) > before:
            return None
        metal = self.metal(path, read["material"])
        if metal is None:
            return None
        sizes = []
        for index, label in enumerate(labels):
            try:
                sizes.append(thickness_of(label, metal) if "ga" in label else read_length(label))
            except (NotInCatalogue, QuantityError) as error:
                self.wrong((*path, "thickness", index), str(error))
        return Shelf(metal.id, tuple(labels), tuple(sizes))

    def bend_row(self, path: Path, row: Any) -> BendRow | None:
        before = len(self.problems)
        read = self.fields(row, path, BEND, ("material", "thickness", "inside_radius", "angle"))
        if isinstance(row, dict) and ("k_factor" in row) == ("deduction" in row):
            self.wrong(path, "write either 'k_factor' or 'deduction' (a deduction for angles up to 90 deg)")
        if len(self.problems) > before:
            return None
        metal = self.metal(path, read["material"])
        if metal is None:
            return None
        t, r, angle = read["thickness"], read["inside_radius"], read["angle"]
        k = read.get("k_factor")
        if k is None:
            if angle > math.pi / 2 + 1e-9:
                self.wrong((*path, "deduction"), "a deduction is read up to 90 deg only; write 'k_factor'")
                return None
            k = ((2 * (r + t) * math.tan(0.5 * angle) - read["deduction"]) / angle - r) / t
        if not 0.0 < k <= 0.6:
            self.wrong(path, f"this row means K = {k:.3f}; K lies between 0 and about 0.5")
            return None
        return BendRow(metal.id, t, r, angle, k)
