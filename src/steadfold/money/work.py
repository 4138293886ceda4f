"""What has to be done to make a part: operations with their times and amounts, each charged at one rate."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from steadfold.catalogue import Material, NotInCatalogue
from steadfold.catalogue.cutting import cut_speed_m_per_min, pierce_seconds
from steadfold.catalogue.finishes import finish as finish_named
from steadfold.fabricate.bend_plan import BendPlan
from steadfold.fabricate.shop import Shop
from steadfold.fabricate.strokes import strokes_of
from steadfold.money.rates import SOURCE, Rates
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.part import Part


class NoCost(ValueError):
    """A part whose cost cannot be reckoned; `str()` is one sentence that says what is missing."""


@dataclass(frozen=True)
class Operation:
    """One step of the work.

    `charge` is the key of the rate it is billed at; `once` is its amount an order, `each` a part, both in
    `unit` (h, kg, m2, piece or order). `basis` says in words where the amount comes from.
    """

    name: str
    charge: str
    unit: str
    once: float
    each: float
    basis: str
    source: str

    def amount(self, quantity: int) -> float:
        """Amount for an order of so many parts."""
        return float(self.once + quantity * self.each)


@dataclass(frozen=True)
class SheetUse:
    """Area of sheet that one part takes, offcut included, and how that is known."""

    area_mm2: float
    basis: str


def blank_use(flat: FlatPattern, thickness_mm: float, shop: Shop, rates: Rates) -> SheetUse:
    """Sheet that a part takes by its own rectangle, a web and a kerf to its neighbour on two sides.

    What true-shape nesting of the whole order finds is less; this is what it is without.
    """
    gap = web_mm(thickness_mm, rates) + 2 * shop.laser.kerf_mm
    width, height = flat.size_mm
    return SheetUse((width + gap) * (height + gap), f"{width:.0f} × {height:.0f} mm blank and {gap:.1f} mm to the next")


def web_mm(thickness_mm: float, rates: Rates) -> float:
    """Metal left between the cuts of two neighbours: the shop's figure, but never thinner than the sheet."""
    return max(rates.cutting.web_mm, thickness_mm)


def operations_of(
    part: Part,
    flat: FlatPattern,
    plan: BendPlan | None,
    material: Material,
    shop: Shop,
    rates: Rates,
    finish: str = "none",
    hardware: int = 0,
    sheet_use: SheetUse | None = None,
    share_of_order: float = 1.0,
) -> tuple[Operation, ...]:
    """The operations that make a part, in their order.

    Without a plan the strokes are counted and a turn a stroke is assumed. `hardware` is the number of pressed
    nuts and studs; `share_of_order` the part of what is charged once an order that falls on this part. Raises
    `NoCost` where the catalogue has no cutting speed (beyond 6 mm) or the rates no price for the metal or the
    finish.
    """
    family = material.family
    if family not in rates.metal:
        known = ", ".join(rates.metal)
        raise NoCost(f"the rates have no price for {family} ({material.id}); they know {known}")
    t = part.thickness_mm
    mass_kg = flat.area_mm2 * t * material.density_kg_m3 * 1e-9
    use = sheet_use or blank_use(flat, t, shop, rates)
    sheet_kg = use.area_mm2 * t * material.density_kg_m3 * 1e-9
    times = rates.times
    found = [
        Operation("order", "order", "order", share_of_order, 0.0, "papers and invoice", SOURCE),
        Operation("drawing and nesting", "setup", "h", times.cutter_setup_s / 3600, 0.0,
                  f"{times.cutter_setup_s / 60:.0f} min a part", SOURCE),
        Operation("metal", f"metal: {family}", "kg", 0.0, sheet_kg, f"{sheet_kg:.2f} kg of sheet: {use.basis}",
                  material.stiffness_source.sentence),
        _cutting(flat, t, family, rates),
    ]  # fmt: skip
    if part.bends:
        found += _bending(part, plan, mass_kg, shop, rates)
    if hardware:
        hours = hardware * times.press_in_s / 3600
        found.append(Operation("hardware", "hardware", "piece", 0.0, float(hardware), f"{hardware} pressed in", SOURCE))
        found.append(Operation("pressing in", "bench", "h", 0.0, hours, f"{times.press_in_s:g} s each", SOURCE))
    found += _coating(flat, t, finish, family, rates, share_of_order)
    moved_s = 2 * (times.pick_up_s + times.carry_s_per_kg * mass_kg)
    edge_m = flat.cut_length_mm / 1000
    found.append(
        Operation("deburring and handling", "bench", "h", 0.0, (edge_m * times.deburr_s_per_m + moved_s) / 3600,
                  f"{edge_m:.2f} m of edge, {mass_kg:.2f} kg moved twice", SOURCE)
    )  # fmt: skip
    found.append(Operation("packing", "bench", "h", 0.0, times.pack_s / 3600, f"{times.pack_s:g} s a part", SOURCE))
    return tuple(found)


def spend_of(operations: tuple[Operation, ...], rates: Rates, quantity: int) -> Mapping[str, float]:
    """Money at the rates as they stand, by the rate's key, for an order of so many parts."""
    spent: dict[str, float] = {}
    for operation in operations:
        amount = operation.amount(quantity) * float(rates.charge(operation.charge).amount)
        spent[operation.charge] = spent.get(operation.charge, 0.0) + amount
    return MappingProxyType(spent)


def brake_seconds(
    part: Part, plan: BendPlan | None, mass_kg: float, shop: Shop, rates: Rates
) -> tuple[float, int, str]:
    """Seconds at the brake a part, number of tools to put in, and in words where they come from.

    Each stroke also carries the part: so much a kilogram, and twice as much for two people where it weighs
    more than one lifts by hand.
    """
    times = shop.times
    if plan is not None:
        changes = sum(step.changes_tool for step in plan.steps)
        seconds = sum(step.cost_s for step in plan.steps) - changes * times.tool_change_s
        tools = len({step.tool for step in plan.steps})
        strokes, basis = len(plan.steps), f"bend order: {_many(len(plan.steps), 'stroke')}, {_many(plan.flips, 'flip')}"
    else:
        made = strokes_of(part)
        strokes, tools = len(made), 1
        flips = 1 if len({stroke.angle_rad > 0 for stroke in made}) > 1 else 0
        seconds = strokes * (times.stroke_s + times.half_turn_s) + flips * times.flip_s
        basis = f"{_many(strokes, 'stroke')}, a turn each" + (", one flip" if flips else "") + "; no bend order"
    seconds += strokes * (rates.times.pick_up_s + rates.times.carry_s_per_kg * mass_kg)
    people = max(1, math.ceil(mass_kg / shop.lift_by_hand_kg - 1e-9))
    if people > 1:
        basis += f", {people} people at {mass_kg:.0f} kg"
    return seconds * people, max(tools, 1), basis


def coated_area_m2(flat: FlatPattern, thickness_mm: float) -> float:
    """Area that a coat covers: both sides and the cut edges."""
    return (2 * flat.area_mm2 + flat.cut_length_mm * thickness_mm) * 1e-6


def _cutting(flat: FlatPattern, thickness_mm: float, family: str, rates: Rates) -> Operation:
    try:
        chart = cut_speed_m_per_min(family, thickness_mm, rates.cutting.power_kw)
        pierce = pierce_seconds(thickness_mm)
    except NotInCatalogue as error:
        raise NoCost(f"what cutting costs is not known: {error.message}") from None
    speed = chart.middle * rates.cutting.share_of_chart
    metres = flat.cut_length_mm / 1000
    seconds = metres / speed * 60 + flat.pierces * (pierce.middle + rates.cutting.travel_s)
    basis = f"{metres:.2f} m at {speed:.1f} m/min, {flat.pierces} pierces of {pierce.middle:.2f} s"
    return Operation("cutting", "laser", "h", 0.0, seconds / 3600, basis, chart.source.sentence)


def _bending(part: Part, plan: BendPlan | None, mass_kg: float, shop: Shop, rates: Rates) -> list[Operation]:
    seconds, tools, basis = brake_seconds(part, plan, mass_kg, shop, rates)
    setup_s = rates.times.brake_setup_s + (tools - 1) * shop.times.tool_change_s
    more = f", {_many(tools - 1, 'more tool')}" if tools > 1 else ""
    return [
        Operation("bend set-up", "setup", "h", setup_s / 3600, 0.0, f"first tool and piece{more}", SOURCE),
        Operation("bending", "brake", "h", 0.0, seconds / 3600, basis, "the shop's own seconds at the brake"),
    ]


def _coating(
    flat: FlatPattern, thickness_mm: float, finish: str, family: str, rates: Rates, share: float
) -> list[Operation]:
    try:
        named = finish_named(finish)
    except NotInCatalogue as error:
        raise NoCost(error.message) from None
    if named.relative_density is None:
        return []
    if not named.suits(family):
        raise NoCost(f"{named.title} is not put on {family}")
    factor = rates.finish_factor.get(named.id)
    if factor is None:
        raise NoCost(f"the rates have no price for {named.title}; write it under [rates.finish]")
    area = coated_area_m2(flat, thickness_mm)
    more = "" if factor == 1 else f" × {factor:g} for {named.title}"
    return [
        Operation("coating set-up", "coat_batch", "order", share, 0.0, "hanging and colour, once an order", SOURCE),
        Operation("coating", "coat", "m2", 0.0, area * factor, f"{area:.3f} m² with edges{more}", SOURCE),
    ]


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
