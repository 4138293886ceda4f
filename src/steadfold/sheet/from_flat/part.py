"""A flat face cut at its bend lines into panels and strips, and joined into a part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from steadfold.sheet.allowance import bend_allowance
from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.outline import Face, Isometry, Outline, Point, polygon_outline
from steadfold.sheet.overlay import inside, without
from steadfold.sheet.part import Bend, Panel, Part


@dataclass(frozen=True)
class BendSpot:
    """A bend line in the flat, the middle of its bend, and what it is bent to."""

    start: Point
    end: Point
    angle_rad: float
    inside_radius_mm: float
    k_factor: float
    k_source: str
    line: int


@dataclass(frozen=True)
class _Strip:
    """The zone of a bend line: frame with x along it and y across from its middle, the span of x, the metal."""

    spot: BendSpot
    place: Isometry
    low: float
    high: float
    half: float
    faces: tuple[Face, ...]


def folded_part(name: str, thickness_mm: float, face: Face, spots: Sequence[BendSpot]) -> Part:
    """The part that a flat folds into; its frame has x along the longest straight edge of the largest panel.

    Raises `CadRefused` when bends overlap, a line does not part the metal, or panels form a ring.
    """
    strips = [strip for spot in spots for strip in _strips(name, face, spot, thickness_mm)]
    _check_apart(name, strips)
    windows = [_window(s, s.low, s.high) for s in strips]
    strips = [replace(s, faces=inside(face, w)) for s, w in zip(strips, windows, strict=True)]
    pieces = without((face,), windows) if strips else (face,)
    polygons = [p.polygon() for p in pieces]
    sides = [_sides(name, s, polygons) for s in strips]
    panels = _panels(sides, len(pieces))
    order, bends = _walk(name, pieces, panels, strips, sides)
    root = [pieces[i] for i in order[0]]
    turn = _root_place(root)
    made = tuple(Panel(f"panel {n + 1}", tuple(pieces[i].moved(turn) for i in group)) for n, group in enumerate(order))
    return Part(name, thickness_mm, made, tuple(_bend(b, turn, thickness_mm) for b in bends))


def _strips(name: str, face: Face, spot: BendSpot, thickness: float) -> list[_Strip]:
    """The zone of a bend line: one strip, or several where openings part it."""
    length = math.dist(spot.start, spot.end)
    along = ((spot.end[0] - spot.start[0]) / length, (spot.end[1] - spot.start[1]) / length)
    place = Isometry(spot.start, along, (-along[1], along[0]))
    half = 0.5 * bend_allowance(spot.angle_rad, spot.inside_radius_mm, thickness, spot.k_factor)
    beyond = 2 * half + 1.0
    # a hair narrower than the bend, so that metal which only touches its tangent lines stays out
    inner = half - 1e-3
    zone = face.moved(place.inverted()).polygon().intersection(shapely.box(-beyond, -inner, length + beyond, inner))
    line = shapely.LineString([(0.01, 0), (length - 0.01, 0)])
    touching = [g for g in shapely.get_parts(zone) if g.geom_type == "Polygon" and g.intersects(line)]
    if not touching:
        raise CadRefused(f"bend line {spot.line} of {name!r} runs through no metal")
    low = min(g.bounds[0] for g in touching)
    high = max(g.bounds[2] for g in touching)
    if low < 0.01 - beyond or high > length + beyond - 0.01:
        end = spot.start if low < 0.01 - beyond else spot.end
        raise CadRefused(
            f"bend line {spot.line} of {name!r} stops inside the metal at ({end[0]:.1f}, {end[1]:.1f}) mm; draw it "
            "from edge to edge, or cut a relief where the bend ends"
        )
    spans = sorted((g.bounds[0], g.bounds[2]) for g in touching)
    joined = [list(spans[0])]
    for first, last in spans[1:]:
        if first < joined[-1][1] + 0.05:
            joined[-1][1] = max(joined[-1][1], last)
        else:
            joined.append([first, last])
    return [_Strip(spot, place, first, last, half, ()) for first, last in joined]


def _window(strip: _Strip, low: float, high: float, margin: float = 0.02) -> Outline:
    corners = [
        (low - margin, -strip.half),
        (high + margin, -strip.half),
        (high + margin, strip.half),
        (low - margin, strip.half),
    ]
    return polygon_outline(corners).moved(strip.place)


def _check_apart(name: str, strips: Sequence[_Strip]) -> None:
    shapes = [_window(s, s.low, s.high, 0.0).polygon() for s in strips]
    for i, one in enumerate(shapes):
        for j in range(i + 1, len(shapes)):
            if one.intersection(shapes[j]).area > 1e-3:
                a, b = strips[i].spot, strips[j].spot
                raise CadRefused(
                    f"the bends at lines {a.line} and {b.line} of {name!r} are {2 * strips[i].half:.2f} "
                    f"and {2 * strips[j].half:.2f} mm wide in the "
                    "flat and run into each other; move them apart or make the radius smaller"
                )


def _sides(name: str, strip: _Strip, polygons: Sequence[shapely.Polygon]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The pieces of metal along the two tangent lines of a strip."""
    found = []
    for y in (-strip.half, strip.half):
        out = math.copysign(0.02, y)
        ends = [strip.place((x, y + out)) for x in (strip.low, strip.high)]
        line = shapely.LineString(ends)
        found.append(tuple(i for i, p in enumerate(polygons) if p.intersection(line).length > 0.05))
    if not found[0] or not found[1]:
        spot = strip.spot
        raise CadRefused(
            f"beside bend line {spot.line} of {name!r}, from ({spot.start[0]:.1f}, {spot.start[1]:.1f}) "
            "mm, there is no flange left: its bend is "
            f"{2 * strip.half:.2f} mm wide in the flat"
        )
    if set(found[0]) & set(found[1]):
        spot = strip.spot
        raise CadRefused(
            f"bend line {spot.line} of {name!r}, from ({spot.start[0]:.1f}, {spot.start[1]:.1f}) mm, does "
            "not part the metal; draw it from edge to "
            "edge and cut reliefs where the bend ends"
        )
    return found[0], found[1]


def _panels(sides: Sequence[tuple[tuple[int, ...], tuple[int, ...]]], count: int) -> list[int]:
    """For each piece of metal the panel it belongs to: pieces along one side of a strip are one panel."""
    root = list(range(count))

    def top(i: int) -> int:
        while root[i] != i:
            i = root[i]
        return i

    for one, two in sides:
        for side in (one, two):
            for other in side[1:]:
                root[top(other)] = top(side[0])
    return [top(i) for i in range(count)]


@dataclass(frozen=True)
class _Joined:
    parent: int
    child: int
    strips: tuple[tuple[_Strip, bool], ...]


def _walk(
    name: str,
    pieces: Sequence[Face],
    panels: list[int],
    strips: Sequence[_Strip],
    sides: Sequence[tuple[tuple[int, ...], tuple[int, ...]]],
) -> tuple[list[list[int]], list[_Joined]]:
    """Panels as groups of pieces, root first, and bends from parent to child."""
    panels = _without_false_rings(panels, strips, sides)
    groups: dict[int, list[int]] = {}
    for i, panel in enumerate(panels):
        groups.setdefault(panel, []).append(i)
    area = {panel: sum(pieces[i].area_mm2 for i in group) for panel, group in groups.items()}
    root = max(groups, key=lambda p: (round(area[p], 6), -p))
    number = {root: 0}
    order = [root]
    queue = [root]
    bends: list[_Joined] = []
    done: set[int] = set()
    while queue:
        here = queue.pop(0)
        hung: dict[int, list[tuple[_Strip, bool]]] = {}
        for i, (one, two) in enumerate(sides):
            a, b = panels[one[0]], panels[two[0]]
            if i in done or here not in (a, b):
                continue
            done.add(i)
            hung.setdefault(b if a == here else a, []).append((strips[i], a == here))
        for child, own in hung.items():
            if child in number or not _one_bend([s for s, _ in own]):
                spot = own[0][0].spot
                raise CadRefused(
                    f"the bends of {name!r} join panels in a ring at bend line {spot.line}, from "
                    f"({spot.start[0]:.1f}, {spot.start[1]:.1f}) mm: it cannot "
                    "be folded from one sheet; cut a slit at one corner"
                )
            number[child] = len(order)
            order.append(child)
            queue.append(child)
            bends.append(_Joined(number[here], number[child], tuple(own)))
    if len(number) < len(groups):
        raise CadRefused(f"the flat of {name!r} comes apart at its bend lines; a panel is joined to no other")
    return [groups[p] for p in order], bends


def _one_bend(strips: Sequence[_Strip]) -> bool:
    first = strips[0]
    for other in strips[1:]:
        a, b = (first.place.inverted()(p) for p in (other.spot.start, other.spot.end))
        same = max(abs(a[1]), abs(b[1])) < 0.02 and abs(first.spot.angle_rad - other.spot.angle_rad) < 1e-9
        if not same or abs(first.spot.inside_radius_mm - other.spot.inside_radius_mm) > 1e-9:
            return False
    return True


def _without_false_rings(
    panels: list[int], strips: Sequence[_Strip], sides: Sequence[tuple[tuple[int, ...], tuple[int, ...]]]
) -> list[int]:
    """Merge panels that only a cutout parts: those on one bend line, seen from one panel, that form a ring."""
    for _ in range(len(panels)):
        links = [(panels[one[0]], panels[two[0]]) for one, two in sides]
        ring = _ring(links)
        merged = False
        for x, i in enumerate(ring):
            for j in ring[x + 1 :]:
                common = set(links[i]) & set(links[j])
                if len(common) != 1 or not _one_bend([strips[i], strips[j]]):
                    continue
                (hub,) = common
                a = next(p for p in links[i] if p != hub)
                b = next(p for p in links[j] if p != hub)
                panels = [min(a, b) if p in (a, b) else p for p in panels]
                merged = True
                break
            if merged:
                break
        if not merged:
            return panels
    return panels


def _ring(links: list[tuple[int, int]]) -> list[int]:
    """Links that form a ring, pairs of one bend apart; none when there is no ring."""
    left = list(range(len(links)))
    pairs: dict[frozenset[int], int] = {}
    for i in left:
        pairs.setdefault(frozenset(links[i]), i)
    left = list(pairs.values())
    while True:
        degree: dict[int, int] = {}
        for i in left:
            for panel in links[i]:
                degree[panel] = degree.get(panel, 0) + 1
        kept = [i for i in left if all(degree[p] > 1 for p in links[i])]
        if len(kept) == len(left):
            return kept
        left = kept


def _root_place(faces: Sequence[Face]) -> Isometry:
    """From the drawing to the root's frame: x along its longest straight edge, lower left corner the origin."""
    best, direction = 0.0, (1.0, 0.0)
    for face in faces:
        for start, end, bulge in face.outer.segments():
            length = math.dist(start, end)
            if not bulge and length > best * (1 + 1e-9):
                best, direction = length, ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    turned = Isometry((0.0, 0.0), direction, (-direction[1], direction[0])).inverted()
    bounds = [f.outer.moved(turned).bounds for f in faces]
    shift = Isometry((-min(b[0] for b in bounds), -min(b[1] for b in bounds)))
    return shift.after(turned)


def _bend(joined: _Joined, turn: Isometry, thickness: float) -> Bend:
    first, forward = joined.strips[0]
    spot = first.spot
    own = first.place
    half = first.half
    spans = []
    for strip, _ in joined.strips:
        ends = [own.inverted()(strip.place((x, 0.0)))[0] for x in (strip.low, strip.high)]
        spans.append((min(ends), max(ends)))
    low, high = min(s[0] for s in spans), max(s[1] for s in spans)
    # the strip's own frame: away from the parent, along so that the frame is right-handed
    if forward:
        frame = Isometry(own((low, -half)), own.along, own.away)
    else:
        frame = Isometry(own((high, half)), (-own.along[0], -own.along[1]), (-own.away[0], -own.away[1]))
    length = high - low
    faces: list[Face] = []
    for strip, _ in joined.strips:
        for face in strip.faces:
            faces.append(face.moved(frame.inverted()))
    moved = turn.after(frame)
    end = moved((0.0, 2 * half))
    return Bend(
        joined.parent,
        joined.child,
        spot.angle_rad,
        spot.inside_radius_mm,
        spot.k_factor,
        length,
        moved.origin,
        moved.along,
        moved.away,
        end,
        moved.along,
        moved.away,
        tuple(faces),
        thickness,
        spot.k_source,
    )
