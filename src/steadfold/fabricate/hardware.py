"""Screws, nuts, washers and threads in the sheet: do they go in, sit flat, and hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import shapely

from steadfold.catalogue.fasteners import Bolt, bolt
from steadfold.catalogue.finishes import Finish
from steadfold.fabricate.cutting import centre, opening_field
from steadfold.fabricate.fit import opening_at, opening_chain
from steadfold.fabricate.measures import Measures, Opening, neighbours
from steadfold.fabricate.noted import Mark, Noted
from steadfold.fabricate.shop import COMMON_PRACTICE, Shop
from steadfold.findings import Finding, Severity
from steadfold.findings.finding import Change

LEAST_TURNS = 2.5
"""Least turns of a thread in the sheet (common practice, no source)."""
MOST_COUNTERSINK = 0.7
"""Most of the thickness a countersink may take (common practice, no source)."""
COUNTERSUNK_HEAD = 0.5
"""Depth of a countersunk head over the thread's diameter: ISO 10642 heads are close to it (recalled)."""
PRESS_NUT_EDGE = 1.2
"""Least distance from the middle of a press nut to an edge, over its thread's diameter plus the thickness
twice (common practice, no source; the maker's table wins)."""
GRIP = 0.75
"""Share of head or washer that must rest beyond the opening's side: its width over the opening's may not
go below 1 / this (common practice, no source)."""

FixingKind = Literal["through", "tapped", "press nut", "countersunk", "earth"]


@dataclass(frozen=True)
class Fixing:
    """A fixing in the sheet: the panel, where in its frame, the thread ('M6', '1/4-20'), and how it is made.

    `head_mm` is the outside diameter of what lies on the sheet (None: the plain washer of that size); an
    *earth* is a spot that must make electrical contact; `masked` spots are kept free of coat.
    """

    panel: str
    at_mm: tuple[float, float]
    size: str
    kind: FixingKind = "through"
    head_mm: float | None = None
    masked: bool = False


def hardware_findings(
    measures: Measures, fixings: tuple[Fixing, ...], shop: Shop, finish: Finish
) -> Iterator[Noted]:
    """Everything about fixings in the sheet."""
    for fixing in fixings:
        thread = bolt(fixing.size)
        opening = opening_at(measures, fixing.panel, fixing.at_mm)
        place = f"{fixing.size} at {fixing.at_mm[0]:.1f}, {fixing.at_mm[1]:.1f} mm in panel {fixing.panel!r}"
        if opening is None:
            hole = thread.clearance_hole_mm()
            yield Noted(
                Finding(
                    "no-hole-for-fixing", Severity.STOP, place, "There is no opening where this fixing goes.",
                    None, None, "geometry", f"add a hole of {hole:.4g} mm there",
                )
            )
            continue
        mark = (centre(opening),)
        yield from _through(measures, fixing, thread, opening, place, shop, finish, mark)
        yield from _seat(measures, fixing, thread, opening, place, mark)
        yield from _thread(measures, fixing, thread, opening, place, finish, mark)


def _through(
    measures: Measures, fixing: Fixing, thread: Bolt, opening: Opening, place: str, shop: Shop, finish: Finish,
    mark: tuple[Mark, ...],
) -> Iterator[Noted]:
    if fixing.kind not in ("through", "countersunk", "earth"):
        return
    low, _ = opening_chain(opening.width_mm, shop, finish).worst_mm
    if low >= thread.diameter_mm - 1e-9:
        return
    hole = thread.clearance_hole_mm()
    change = None
    if opening.panel is not None:
        key = "diameter" if opening.is_round else "width"
        change = Change(measures.part.name, f"{opening_field(measures, opening)}.{key}", f"{hole:.4g} mm")
    never = opening.width_mm < thread.diameter_mm - 1e-9
    yield Noted(
        Finding(
            "hole-too-small-for-bolt", Severity.STOP if never else Severity.CAUTION, place,
            f"The opening is {opening.width_mm:.4g} mm, {low:.2f} mm at worst once cut and coated; the thread is "
            f"{thread.diameter_mm:.4g} mm.",
            low, thread.diameter_mm, f"{thread.source.sentence}; shop file {shop.name!r}",
            f"make it {hole:.4g} mm ({thread.clearance_source.sentence}, normal fit)", change,
        ),
        mark,
    )


def _seat(
    measures: Measures, fixing: Fixing, thread: Bolt, opening: Opening, place: str, mark: tuple[Mark, ...]
) -> Iterator[Noted]:
    if fixing.kind not in ("through", "earth"):
        return
    head = fixing.head_mm if fixing.head_mm is not None else thread.washer.outside_mm
    if opening.width_mm > GRIP * head + 1e-6:
        yield Noted(
            Finding(
                "slot-too-wide-for-washer", Severity.CAUTION, place,
                f"Head or washer of {head:.4g} mm over an opening {opening.width_mm:.4g} mm wide pulls in; it should "
                f"be {opening.width_mm / GRIP:.1f} mm or more.",
                opening.width_mm, GRIP * head, COMMON_PRACTICE,
                f"use the large washer ({thread.large_washer.outside_mm:.4g} mm) or a narrower opening",
            ),
            mark,
        )
    index = measures.part.panel_index(fixing.panel)
    seat = shapely.Point(measures.panel_places[index](fixing.at_mm)).buffer(0.5 * head, quad_segs=32)
    for number in neighbours(measures.part, index):
        line = measures.tangent(number, measures.part.bends[number].child == index)
        gap = float(shapely.distance(seat.centroid, line))
        if gap < 0.5 * head - 1e-6:
            yield Noted(
                Finding(
                    "washer-on-bend", Severity.CAUTION, f"{place}, {measures.bend_name(number)}",
                    f"Head or washer of {head:.4g} mm reaches {0.5 * head - gap:.2f} mm into the bend and tips.",
                    gap, 0.5 * head, "geometry", f"move it {0.5 * head - gap:.2f} mm away, or a smaller washer",
                ),
                mark,
            )
    own = measures.panel_polygons[index]
    strips = shapely.union_all([measures.strips[n].buffer(0.01) for n in neighbours(measures.part, index)] or [own])
    over = shapely.difference(seat, shapely.union(own.buffer(0.01), strips))
    if over.area > 0.01 * seat.area:
        yield Noted(
            Finding(
                "washer-over-edge", Severity.NOTE, place,
                f"{100 * over.area / seat.area:.0f} % of head or washer of {head:.4g} mm lies beyond the edge.",
                float(over.area / seat.area), 0.01, "geometry", "move the fixing inwards, or a smaller washer",
            ),
            mark,
        )


def _thread(
    measures: Measures, fixing: Fixing, thread: Bolt, opening: Opening, place: str, finish: Finish,
    mark: tuple[Mark, ...],
) -> Iterator[Noted]:
    t = measures.part.thickness_mm
    coated = finish.thickness_um[2] > 0.0 and not fixing.masked
    if fixing.kind in ("tapped", "press nut") and coated:
        yield Noted(
            Finding(
                "thread-needs-masking", Severity.CAUTION, place, f"{finish.title.capitalize()} fills the thread.",
                None, None, finish.source.sentence, "have it masked, or put the nut in after coating",
            ),
            mark,
        )
    if fixing.kind == "earth" and coated and finish.insulates:
        yield Noted(
            Finding(
                "coat-blocks-earth", Severity.CAUTION, place, f"{finish.title.capitalize()} insulates this contact.",
                None, None, finish.source.sentence, "have the spot masked, or use a washer that cuts through the coat",
            ),
            mark,
        )
    if fixing.kind == "tapped" and t < LEAST_TURNS * thread.pitch_mm - 1e-9:
        yield Noted(
            Finding(
                "thread-too-thin", Severity.CAUTION, place,
                f"{t:.4g} mm holds {t / thread.pitch_mm:.1f} turns of {thread.size}; it takes {LEAST_TURNS:g}.",
                t / thread.pitch_mm, LEAST_TURNS, COMMON_PRACTICE, "use a press nut, a weld nut, or a nut behind",
            ),
            mark,
        )
    depth = COUNTERSUNK_HEAD * thread.diameter_mm
    if fixing.kind == "countersunk" and depth > MOST_COUNTERSINK * t + 1e-9:
        yield Noted(
            Finding(
                "countersink-too-deep", Severity.CAUTION, place,
                f"The head of {thread.size} sinks {depth:.2f} mm into {t:.4g} mm; the most is "
                f"{MOST_COUNTERSINK * t:.2f} mm.",
                depth, MOST_COUNTERSINK * t, COMMON_PRACTICE, "use a head on top, a smaller screw or thicker sheet",
            ),
            mark,
        )
    limit = PRESS_NUT_EDGE * (thread.diameter_mm + 2 * t)
    if fixing.kind == "press nut":
        gap = float(shapely.distance(shapely.Point(opening.middle), measures.outer.exterior))
        if gap < limit - 1e-6:
            yield Noted(
                Finding(
                    "press-nut-near-edge", Severity.CAUTION, place,
                    f"Its middle is {gap:.2f} mm from the edge; from {limit:.2f} mm on the edge stays straight.",
                    gap, limit, f"{COMMON_PRACTICE}; the maker's table wins", f"move it {limit - gap:.2f} mm inwards",
                ),
                mark,
            )
