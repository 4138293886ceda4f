"""Studs behind a wall: how many a bar finds, the bar that finds them for sure, the slot that serves two spacings."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from steadfold.findings import Finding, Severity


def studs_found(usable_mm: float, spacing_mm: float) -> dict[int, float]:
    """How many studs a bar hits, with the chance of each count, where its place on the wall is left to chance.

    `usable_mm` is the length between the outermost points where a screw can go; the bar has a hole or slot
    wherever a stud may be. With U/S = n + rest: n studs with chance 1 - rest, n + 1 with chance rest; closed form
    for an even distribution. Raises ValueError for a spacing not above zero or a negative length.

    >>> {count: round(chance, 2) for count, chance in studs_found(600.0, 406.4).items()}
    {1: 0.52, 2: 0.48}
    """
    if not spacing_mm > 0.0 or usable_mm < 0.0:
        raise ValueError(f"a bar of {usable_mm} mm on studs every {spacing_mm} mm")
    least = math.floor(usable_mm / spacing_mm + 1e-9)
    rest = max(0.0, usable_mm / spacing_mm - least)
    return {least: 1.0} if rest < 1e-9 else {least: 1.0 - rest, least + 1: rest}


def chance_of(count: int, usable_mm: float, spacing_mm: float) -> float:
    """Chance that a bar finds at least `count` studs, 0 to 1."""
    found = studs_found(usable_mm, spacing_mm)
    return sum(chance for number, chance in found.items() if number >= count)


def bar_for_sure_mm(count: int, spacing_mm: float) -> float:
    """Usable length from which a bar finds `count` studs wherever it hangs: count x spacing."""
    return count * spacing_mm


def bar_at_best_mm(count: int, spacing_mm: float) -> float:
    """Least usable length that reaches `count` studs when hung where they are: (count - 1) x spacing."""
    return max(0, count - 1) * spacing_mm


def one_stud_only(usable_mm: float, spacing_mm: float | Sequence[float], wanted: int, place: str) -> Finding | None:
    """The finding that a bar may miss a stud it needs; None where it cannot. Several spacings are told one by one: which
    of them a wall has is not known."""
    spacings = (spacing_mm,) if isinstance(spacing_mm, (int, float)) else tuple(spacing_mm)
    chances = [chance_of(wanted, usable_mm, each) for each in spacings]
    if min(chances) > 1.0 - 1e-9:
        return None
    sure = bar_for_sure_mm(wanted, max(spacings))
    if len(spacings) == 1:
        say = (
            f"with studs every {spacings[0]:g} mm, {usable_mm:g} mm between the outer holes find {wanted} studs on"
            f" {100.0 * chances[0]:.0f} % of walls"
        )
    else:
        each = ", ".join(f"{100.0 * c:.0f} % every {s:g} mm" for s, c in zip(spacings, chances, strict=True))
        say = f"{usable_mm:g} mm between the outer holes find {wanted} studs on this share of walls with studs: {each}"
    return Finding(
        "one-stud-only",
        Severity.CAUTION,
        place,
        say,
        value=usable_mm,
        limit=sure,
        source="geometry: the place on the wall left to chance",
        remedy=f"{math.ceil(sure - 1e-6)} mm between the outer holes are sure of {wanted}; or hang it where the studs"
        " are",
    )


TWINS = ((400.0, 406.4), (600.0, 609.6))
"""Stud spacings, metric and 16 or 24 inch, so near to each other that one plate can serve both."""

NEAR_MM = 4.0
"""Holes this near to a number of spacings are taken as meant for it."""


def two_spacings(
    holes_mm: Sequence[tuple[float, float]],
    fastener_mm: float,
    hole_mm: float,
    place: str,
    coat_per_side_mm: float = 0.0,
    cut_tolerance_mm: float = 0.0,
) -> Finding | None:
    """The finding that holes which fit one stud spacing miss its twin, and the slot that serves both; None where no two
    holes lie a spacing apart, or both spacings fit already.

    `holes_mm` are places along the bar with the room each leaves along it; `hole_mm` is how wide the slot must be.
    """
    (first, room_first), (last, room_last) = min(holes_mm), max(holes_mm)
    span = last - first
    play = 0.5 * (room_first + room_last) - fastener_mm
    for twins in TWINS:
        for spans in range(1, 5):
            off = [abs(span - spans * each) for each in twins]
            if min(off) > NEAR_MM or max(off) <= play:
                continue
            slot = slot_for_spacings(hole_mm, twins, spans, coat_per_side_mm, cut_tolerance_mm)
            other = twins[off.index(max(off))]
            return Finding(
                "two-stud-spacings",
                Severity.NOTE,
                place,
                f"The outer holes, {span:g} mm apart, miss studs every {other:g} mm by {max(off):.1f} mm. One slot of"
                f" {slot.width_mm:.1f} × {slot.length_mm:.1f} mm, cut {slot.cut_length_mm:.1f} mm long for coat and cut,"
                f" serves {twins[0]:g} and {twins[1]:g} mm alike.",
                value=max(off),
                limit=max(play, 0.0),
                source="geometry",
                remedy=f"make one of the outer holes a slot {slot.cut_length_mm:.1f} mm long",
            )
    return None


@dataclass(frozen=True)
class Slot:
    """A slot for one screw whose stud may sit in several places; ends round.

    `width_mm` and `length_mm` (overall) are what must be left when finished, `cut_length_mm` what to order so that
    coating and cutting tolerance still leave it. `coated_width_mm` is the worst width of a slot cut `width_mm` wide.
    """

    width_mm: float
    length_mm: float
    cut_length_mm: float
    coated_width_mm: float


def slot_for_spacings(
    hole_mm: float,
    spacings_mm: Sequence[float],
    spans: int = 1,
    coat_per_side_mm: float = 0.0,
    cut_tolerance_mm: float = 0.0,
) -> Slot:
    """The slot that lets one plate fit studs at several spacings, its other screw fixed.

    `spans` is the number of stud spacings between the two screws. Length = clearance hole + spans x (widest -
    narrowest); cut length adds the thickest coat on both ends and the cutting tolerance. Geometry.

    >>> slot = slot_for_spacings(6.6, (400.0, 406.4), coat_per_side_mm=0.12, cut_tolerance_mm=0.13)
    >>> round(slot.length_mm, 1), round(slot.cut_length_mm, 1)
    (13.0, 13.4)
    """
    if not spacings_mm or not hole_mm > 0.0 or spans < 1:
        raise ValueError("a slot needs a hole, at least one spacing and at least one span")
    length = hole_mm + spans * (max(spacings_mm) - min(spacings_mm))
    loss = 2.0 * coat_per_side_mm + cut_tolerance_mm
    return Slot(hole_mm, length, length + loss, hole_mm - loss)
