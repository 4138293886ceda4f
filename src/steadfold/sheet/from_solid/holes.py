"""Openings of a flat by kind: round, obround, rectangular, free; countersunk and tapped sizes said as such."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from steadfold.findings import Finding, Severity
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.from_solid.record import SunkHole
from steadfold.sheet.outline import Outline, Point, arc_of
from steadfold.sheet.part import Part
from steadfold.sheet.pose import flat_places

HoleKind = Literal["round", "obround", "rectangular", "free"]

TAPPING_DRILLS_MM = {
    "M2": 1.6,
    "M2.5": 2.05,
    "M3": 2.5,
    "M4": 3.3,
    "M5": 4.2,
    "M6": 5.0,
    "M8": 6.8,
    "M10": 8.5,
    "M12": 10.2,
    "M14": 12.0,
    "M16": 14.0,
    "M20": 17.5,
}
"""Drill before tapping, coarse threads. Source: ISO 2306 (recalled; nominal diameter less pitch)."""

SAME_SIZE_MM = 0.02


@dataclass(frozen=True)
class Hole:
    """An opening in the flat.

    `size_mm` is length and width (twice the diameter's for a round one); `at_mm` its middle and
    `turned_rad` the direction of its length, in the flat's frame. `panel` is None where it crosses a bend.
    `thread` names the thread whose tapping drill it has; `wide_mm` and `cone_rad` a countersink (angle 0: a
    counterbore).
    """

    kind: HoleKind
    at_mm: Point
    size_mm: tuple[float, float]
    turned_rad: float
    panel: int | None
    thread: str = ""
    wide_mm: float = 0.0
    cone_rad: float = 0.0


def name_holes(
    part: Part, pattern: FlatPattern, sunk: Sequence[SunkHole] = ()
) -> tuple[tuple[Hole, ...], tuple[Finding, ...]]:
    """The openings of a flat as holes, and what is to be said of tapped, countersunk and bent ones."""
    places, strips = flat_places(part)
    panels = [
        (number, face.moved(place).polygon(0.02))
        for number, (panel, place) in enumerate(zip(part.panels, places, strict=True))
        for face in panel.faces
    ]
    solid = [(number, _filled(polygon)) for number, polygon in panels]
    at_sunk = [(places[s.panel](s.at), s) for s in sunk]
    holes, findings = [], []
    for opening in pattern.openings:
        kind, at, size, turned = shape_of(opening)
        inner = opening.polygon(0.02)
        owner = next((n for n, polygon in solid if polygon.contains(inner)), None)
        here = next((s for p, s in at_sunk if math.dist(p, at) < 0.05), None) if kind == "round" else None
        thread = _thread(size[0]) if kind == "round" and here is None else ""
        hole = Hole(
            kind, at, size, turned, owner, thread, here.wide_mm if here else 0.0, here.angle_rad if here else 0.0
        )
        holes.append(hole)
        if here is not None:
            findings.append(_sunk_said(part, hole))
        if owner is None and any(
            face.moved(place).outer.polygon(0.02).intersects(inner)
            for bend, place in zip(part.bends, strips, strict=True)
            for face in bend.faces
        ):
            findings.append(
                Finding(
                    "cutout-across-bend",
                    Severity.CAUTION,
                    _place(at),
                    f"An opening at {_place(at)} of the flat runs across a bend; it is cut in the flat "
                    "and bent with the sheet.",
                    None,
                    None,
                    "geometry",
                    "keep it off the bend where its shape matters",
                )
            )
    for thread in sorted({h.thread for h in holes if h.thread}):
        same = [h for h in holes if h.thread == thread]
        findings.append(
            Finding(
                "tapped-size",
                Severity.NOTE,
                part.name,
                f"{len(same)} hole{'s' if len(same) > 1 else ''} of {same[0].size_mm[0]:.2f} mm "
                f"ha{'ve' if len(same) > 1 else 's'} the "
                f"tapping drill's size of {thread}.",
                same[0].size_mm[0],
                None,
                "ISO 2306 (recalled)",
                "say in the order whether they are to be tapped",
            )
        )
    return tuple(holes), tuple(findings)


def _filled(polygon: shapely.Polygon) -> shapely.Polygon:
    return shapely.Polygon(polygon.exterior)


def _thread(diameter_mm: float) -> str:
    for name, drill in TAPPING_DRILLS_MM.items():
        if abs(diameter_mm - drill) < SAME_SIZE_MM:
            return name
    return ""


def _sunk_said(part: Part, hole: Hole) -> Finding:
    degrees = math.degrees(hole.cone_rad)
    what = f"countersunk at {degrees:.0f}° to" if hole.cone_rad else "counterbored to"
    return Finding(
        "countersunk-hole",
        Severity.NOTE,
        _place(hole.at_mm),
        f"The hole of {hole.size_mm[0]:.2f} mm at {_place(hole.at_mm)} of the flat is {what} "
        f"{hole.wide_mm:.2f} mm; the cut is the small "
        "diameter, the rest is machined afterwards.",
        hole.wide_mm,
        None,
        "the file",
        "order it as a second operation",
    )


def _place(at: Point) -> str:
    return f"({at[0]:.1f}, {at[1]:.1f})"


def shape_of(outline: Outline) -> tuple[HoleKind, Point, tuple[float, float], float]:
    """Kind, middle, length and width, and direction of an opening."""
    whole = outline.circle
    if whole is not None:
        centre, radius = whole
        return "round", centre, (2 * radius, 2 * radius), 0.0
    segments = [s for s in outline.segments() if math.dist(s[0], s[1]) > 1e-6]
    arcs = [arc_of(*s) for s in segments if s[2]]
    straight = [s for s in segments if not s[2]]
    if len(straight) == 2 and arcs:
        centres = {(round(c[0], 3), round(c[1], 3)) for c, _, _, _ in arcs}
        radii = [r for _, r, _, _ in arcs]
        turn = sum(t for _, _, _, t in arcs)
        if len(centres) == 2 and max(radii) - min(radii) < 1e-3 and abs(abs(turn) - 2 * math.pi) < 1e-4:
            (a, b) = sorted({c for c, _, _, _ in arcs}, key=lambda c: c)[0], sorted({c for c, _, _, _ in arcs})[-1]
            middle = (0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]))
            return (
                "obround",
                middle,
                (math.dist(a, b) + 2 * radii[0], 2 * radii[0]),
                math.atan2(b[1] - a[1], b[0] - a[0]),
            )
    corners = outline.vertices()
    if len(straight) == 4:
        vectors = np.array([[s[1][0] - s[0][0], s[1][1] - s[0][1]] for s in straight])
        units = vectors / np.hypot(vectors[:, 0], vectors[:, 1])[:, None]
        square = all(abs(float(units[i] @ units[(i + 1) % 4])) < 1e-4 for i in range(4))
        rounds = all(abs(abs(t) - math.pi / 2) < 1e-3 for _, _, _, t in arcs)
        if square and rounds and len(arcs) in (0, 4):
            along = units[int(np.argmax(np.hypot(vectors[:, 0], vectors[:, 1])))]
            return ("rectangular", *_boxed(corners, along))
    return ("free", *_boxed(corners, np.array([1.0, 0.0])))


def _boxed(corners: np.ndarray, along: np.ndarray) -> tuple[Point, tuple[float, float], float]:
    away = np.array([-along[1], along[0]])
    x, y = corners @ along, corners @ away
    middle = 0.5 * (x.max() + x.min()) * along + 0.5 * (y.max() + y.min()) * away
    return (
        (float(middle[0]), float(middle[1])),
        (float(np.ptp(x)), float(np.ptp(y))),
        math.atan2(along[1], along[0]),
    )
