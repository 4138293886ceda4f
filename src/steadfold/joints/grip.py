"""Is the screw long enough, does its washer cover the hole, and what to buy."""

from dataclasses import dataclass

from steadfold.catalogue import fasteners
from steadfold.findings import Finding, Severity

PROTRUDING_PITCHES = 2.0
"""Thread to show behind a nut, in pitches; common practice, no source."""

NUT_MM = {"M3": 2.4, "M4": 3.2, "M5": 4.7, "M6": 5.2, "M8": 6.8, "M10": 8.4, "M12": 10.8, "M16": 14.8}
"""Height of a hexagon nut, style 1; ISO 4032 (recalled)."""

NUT_INCH = {"#8": 0.130, "#10": 0.130, "1/4": 7 / 32, "5/16": 17 / 64, "3/8": 21 / 64, "1/2": 7 / 16}
"""Height of a hexagon nut, inch; ASME B18.2.2 (recalled)."""

LENGTHS_MM = (
    6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0, 80.0, 90.0, 100.0,
    110.0, 120.0, 130.0, 140.0, 150.0,
)  # fmt: skip
"""Usual lengths of metric screws; ISO 888 (recalled)."""

LENGTHS_INCH = (0.375, 0.5, 0.625, 0.75, 0.875, 1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 3.5, 4.0, 5.0, 6.0)
"""Usual lengths of inch screws; common practice, no source."""

WASHER_LAP_MM = 1.0
"""How far a washer should lie on metal beyond a hole on each side; common practice, no source."""


@dataclass(frozen=True)
class Grip:
    """A screw through a stack. Lengths in mm.

    `grip_mm` is what is clamped, washers included; `needed_mm` the least length under the head; `order_mm` the next
    usual length (None: longer than the list goes); `showing_mm` what stands out behind the nut, or is left over, at
    the length that was looked at.
    """

    size: str
    grip_mm: float
    needed_mm: float
    order_mm: float | None
    length_mm: float
    showing_mm: float

    @property
    def too_short(self) -> bool:
        """True where the length looked at is less than needed."""
        return self.length_mm < self.needed_mm - 1e-9


def nut_height_mm(size: str) -> float:
    """Height of the hexagon nut of this size, mm; ISO 4032 or ASME B18.2.2 (recalled)."""
    each = fasteners.bolt(size)
    return NUT_MM[each.size] if each.system == "metric" else NUT_INCH[each.size] * fasteners.MM_PER_INCH


def grip_of(
    size: str, layers_mm: tuple[float, ...], length_mm: float | None = None, engagement_mm: float | None = None
) -> Grip:
    """The stack of one bolt: sheet, washers, gap and all, and the length it wants.

    With a nut: grip + nut + two pitches showing. `engagement_mm` instead of the nut is the thread wanted in a tapped
    hole or a T-nut. Without a `length_mm` the next usual length is looked at.
    """
    fastener = fasteners.bolt(size)
    grip = sum(layers_mm)
    if engagement_mm is None:
        behind, needed = nut_height_mm(size), grip + nut_height_mm(size) + PROTRUDING_PITCHES * fastener.pitch_mm
    else:
        behind, needed = engagement_mm, grip + engagement_mm
    inch = 1.0 if fastener.system == "metric" else fasteners.MM_PER_INCH
    usual = LENGTHS_MM if fastener.system == "metric" else LENGTHS_INCH
    order = next((each * inch for each in usual if each * inch >= needed - 1e-9), None)
    length = length_mm if length_mm is not None else order if order is not None else needed
    return Grip(fastener.size, grip, needed, order, length, length - grip - behind)


def bolt_too_short(grip: Grip, place: str) -> Finding | None:
    """The finding that a screw is too short for its stack; None where it is long enough."""
    if not grip.too_short:
        return None
    buy = f"{grip.order_mm:g} mm" if grip.order_mm is not None else f"at least {grip.needed_mm:.1f} mm"
    return Finding(
        "bolt-too-short",
        Severity.STOP,
        place,
        f"{grip.size} x {grip.length_mm:g} mm does not reach through {grip.grip_mm:.1f} mm and its nut or thread",
        value=grip.length_mm,
        limit=grip.needed_mm,
        source="ISO 4032 or ASME B18.2.2 nut, recalled; two pitches showing: common practice, no source",
        remedy=f"{buy} long",
    )


def washer_over_slot(slot_length_mm: float, slot_width_mm: float, washer_mm: float, place: str) -> Finding | None:
    """The finding that a washer does not cover its hole or slot; None where it does.

    A slot longer than the washer wants a plate over all of it (AISC 360, J3.2, long-slotted holes; recalled); a
    washer that hardly laps the width pulls through.
    """
    lap = (washer_mm - slot_width_mm) / 2.0
    if slot_length_mm <= washer_mm and lap >= WASHER_LAP_MM:
        return None
    long = slot_length_mm > washer_mm
    return Finding(
        "slot-too-long-for-washer",
        Severity.CAUTION,
        place,
        f"a washer of {washer_mm:g} mm does not cover a {'slot' if long else 'hole'} of {slot_length_mm:g} x"
        f" {slot_width_mm:g} mm",
        value=slot_length_mm if long else slot_width_mm,
        limit=washer_mm if long else washer_mm - 2.0 * WASHER_LAP_MM,
        source="AISC 360, J3.2, recalled" if long else "common practice, no source",
        remedy="a plate washer over the whole slot" if long else "a larger washer",
    )


@dataclass(frozen=True)
class Hardware:
    """One line of the hardware list: what, how many, to which standard, and why."""

    item: str
    count: int
    standard: str
    note: str = ""


def hardware_for(
    grip: Grip, count: int, strength: str, nut: str | None = "hexagon nut", washers: int = 2
) -> tuple[Hardware, ...]:
    """What to buy for `count` bolts of this stack. `nut` None: tapped or a nut of the rail that comes with it."""
    fastener = fasteners.bolt(grip.size)
    metric = fastener.system == "metric"
    length = f"{grip.length_mm:g}" if metric else f"{grip.length_mm / fasteners.MM_PER_INCH:g} in"
    title = f"{grip.size} x {length} {strength} hexagon head screw"
    lines = [Hardware(title, count, "ISO 4017" if metric else "ASME B18.2.1")]
    if washers:
        lines.append(Hardware(f"{grip.size} plain washer", count * washers, "ISO 7089" if metric else "ASME B18.21.1"))
    if nut is not None:
        plain = nut == "hexagon nut"
        standard = ("ISO 4032" if metric else "ASME B18.2.2") if plain else "as its maker has it"
        lines.append(Hardware(f"{grip.size} {nut}", count, standard))
    return tuple(lines)
