"""What findings are measured on: the flat with its openings, every side of every bend, the part folded."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from steadfold.sheet.allowance import setback
from steadfold.sheet.flat import FlatPattern, flat_pattern
from steadfold.sheet.outline import Isometry, Outline, Point
from steadfold.sheet.part import Bend, Part
from steadfold.sheet.pose import flat_places

CHORD_MM = 0.002


@dataclass(frozen=True)
class Opening:
    """A hole or slot in the flat.

    `panel` is the panel it lies in, None where it crosses a bend; `at_mm` its middle in that panel's
    frame (in the flat otherwise). `width_mm` and `length_mm` are the sides of the least rectangle round
    it; a circle's diameter is both.
    """

    number: int
    outline: Outline
    polygon: shapely.Polygon
    panel: int | None
    at_mm: Point
    width_mm: float
    length_mm: float
    is_round: bool
    turned_rad: float

    def gap_mm(self, other: shapely.Geometry) -> float:
        """Distance from its edge to a line or an edge of the flat; exact for a round hole."""
        if self.is_round:
            return float(shapely.distance(shapely.Point(self.middle), other)) - 0.5 * self.width_mm
        return float(shapely.distance(self.polygon, other))

    @property
    def middle(self) -> Point:
        """Its middle in the flat."""
        circle = self.outline.circle
        return circle[0] if circle else (self.polygon.centroid.x, self.polygon.centroid.y)

    @property
    def what(self) -> str:
        """What it is called in a sentence."""
        if self.is_round:
            return f"hole of {self.width_mm:.4g} mm"
        return f"opening of {self.width_mm:.4g} x {self.length_mm:.4g} mm"


@dataclass(frozen=True)
class BendSide:
    """The metal on one side of a bend.

    `depth_mm` is the least outside dimension across the bend, from its outside to the panel's far edge,
    over the bend's length but for its ends; `whole_mm` the greatest.
    """

    bend: int
    panel: int
    is_child: bool
    depth_mm: float
    whole_mm: float


class Measures:
    """Measurements of one part, each taken once.

    Raises `FlatError` when its flat is not one piece.
    """

    def __init__(self, part: Part):
        self.part = part
        self.flat: FlatPattern = flat_pattern(part)
        self.panel_places, self.strip_places = flat_places(part)

    @cached_property
    def outer(self) -> shapely.Polygon:
        """The outer contour as a polygon."""
        return self.flat.outer.polygon(CHORD_MM)

    @cached_property
    def panel_polygons(self) -> tuple[shapely.Geometry, ...]:
        """Metal and openings of every panel in the flat: its faces without their holes cut."""
        return tuple(
            shapely.union_all([shapely.Polygon(place.many(face.outer.vertices(CHORD_MM))) for face in panel.faces])
            for panel, place in zip(self.part.panels, self.panel_places, strict=True)
        )

    @cached_property
    def _roomy_panels(self) -> tuple[shapely.Geometry, ...]:
        """The panels a hundredth larger all round, so that an opening on a tangent line still lies in its panel."""
        grown = tuple(panel.buffer(0.01) for panel in self.panel_polygons)
        for panel in grown:
            shapely.prepare(panel)
        return grown

    def opening_pairs(self, within_mm: float) -> list[tuple[Opening, Opening]]:
        """Pairs of openings that are no further apart than this, in order."""
        polygons = [opening.polygon for opening in self.openings]
        if len(polygons) < 2:
            return []
        found = shapely.STRtree(polygons).query(polygons, predicate="dwithin", distance=within_mm)
        return [(self.openings[i], self.openings[j]) for i, j in sorted(zip(*found.tolist(), strict=True)) if i < j]

    @cached_property
    def openings(self) -> tuple[Opening, ...]:
        """All openings of the flat."""
        return tuple(self._opening(i, outline) for i, outline in enumerate(self.flat.openings))

    def _opening(self, number: int, outline: Outline) -> Opening:
        polygon = outline.polygon(CHORD_MM)
        circle = outline.circle
        at = circle[0] if circle else (polygon.centroid.x, polygon.centroid.y)
        inside = next((i for i, panel in enumerate(self._roomy_panels) if shapely.covers(panel, polygon)), None)
        if inside is not None:
            at = self.panel_places[inside].inverted()(at)
        if circle is not None:
            return Opening(number, outline, polygon, inside, at, 2 * circle[1], 2 * circle[1], True, 0.0)
        corners = np.asarray(shapely.minimum_rotated_rectangle(polygon).exterior.coords)[:3]
        one, two = corners[1] - corners[0], corners[2] - corners[1]
        long, short = (one, two) if np.hypot(*one) >= np.hypot(*two) else (two, one)
        turned = math.atan2(long[1], long[0])
        return Opening(
            number, outline, polygon, inside, at, float(np.hypot(*short)), float(np.hypot(*long)), False, turned
        )

    @cached_property
    def strips(self) -> tuple[shapely.Polygon, ...]:
        """The strip of every bend in the flat, as if nothing were cut out of it."""
        return tuple(
            _rectangle(place, 0.0, bend.length_mm, 0.0, bend.allowance_mm)
            for bend, place in zip(self.part.bends, self.strip_places, strict=True)
        )

    def tangent(self, bend: int, is_child: bool) -> shapely.LineString:
        """The tangent line of a bend on one of its sides, in the flat."""
        record, place = self.part.bends[bend], self.strip_places[bend]
        y = record.allowance_mm if is_child else 0.0
        return shapely.LineString([place((0.0, y)), place((record.length_mm, y))])

    @cached_property
    def sides(self) -> tuple[BendSide, ...]:
        """Both sides of every bend."""
        return tuple(
            self._side(i, bend, is_child) for i, bend in enumerate(self.part.bends) for is_child in (False, True)
        )

    def _side(self, index: int, bend: Bend, is_child: bool) -> BendSide:
        panel = bend.child if is_child else bend.parent
        place = self.strip_places[index]
        start, out = (bend.allowance_mm, 1.0) if is_child else (0.0, -1.0)
        metal = self.panel_polygons[panel]
        reach = 2.0 * sum(self.flat.size_mm)
        depths = []
        for share in np.linspace(0.08, 0.92, 15):
            x = share * bend.length_mm
            ray = shapely.LineString([place((x, start + out * 1e-3)), place((x, start + out * reach))])
            first = _first_piece(shapely.intersection(ray, metal), np.array(place((x, start))))
            depths.append(first)
        outside = setback(bend.angle_rad, bend.inside_radius_mm, bend.thickness_mm)
        far = self._far_setback(panel, index)
        return BendSide(index, panel, is_child, min(depths) + outside + far, max(depths) + outside + far)

    def _far_setback(self, panel: int, index: int) -> float:
        """Outside setback of a bend on the far side of a panel, parallel to bend `index`; 0 if there is
        none."""
        bends = self.part.bends
        own = self.strip_places[index].along
        for other, bend in enumerate(bends):
            if other == index or panel not in (bend.parent, bend.child):
                continue
            along = self.strip_places[other].along
            if abs(own[0] * along[1] - own[1] * along[0]) < 1e-3:
                return setback(bend.angle_rad, bend.inside_radius_mm, bend.thickness_mm)
        return 0.0

    def place_of(self, opening: Opening) -> str:
        """Where an opening is, for people."""
        x, y = opening.at_mm
        where = f"panel {self.part.panels[opening.panel].name!r}" if opening.panel is not None else "the flat"
        return f"{opening.what} at {x:.1f}, {y:.1f} mm in {where}"

    def bend_name(self, index: int) -> str:
        """What a bend is called: the two panels it joins."""
        bend = self.part.bends[index]
        return f"bend {self.part.panels[bend.parent].name} - {self.part.panels[bend.child].name}"

    def is_leaf(self, panel: int) -> bool:
        """True for a panel with one bend at most."""
        return sum(panel in (bend.parent, bend.child) for bend in self.part.bends) <= 1


def _rectangle(place: Isometry, x0: float, x1: float, y0: float, y1: float) -> shapely.Polygon:
    return shapely.Polygon([place((x0, y0)), place((x1, y0)), place((x1, y1)), place((x0, y1))])


def _first_piece(crossed: shapely.Geometry, start: np.ndarray) -> float:
    """Length of the piece of a ray's way through metal that begins at its start; 0 when there is a gap
    there."""
    for piece in shapely.get_parts(crossed):
        if piece.geom_type != "LineString" or piece.is_empty:
            continue
        ends = np.asarray(piece.coords)
        distances = np.hypot(*(ends - start).T)
        if distances.min() < 0.02:
            return float(distances.max())
    return 0.0


def probe_beyond(measures: Measures, index: int, at_end: bool, low_mm: float, high_mm: float) -> float:
    """Share of metal in the thin rectangle just beyond one end of a bend's strip, over its whole width."""
    bend, place = measures.part.bends[index], measures.strip_places[index]
    x0, x1 = (bend.length_mm + low_mm, bend.length_mm + high_mm) if at_end else (-high_mm, -low_mm)
    probe = _rectangle(place, x0, x1, 0.02 * bend.allowance_mm, 0.98 * bend.allowance_mm)
    return float(shapely.intersection(probe, measures.outer).area / probe.area)


def neighbours(part: Part, panel: int) -> tuple[int, ...]:
    """Indices of the bends that touch a panel."""
    return tuple(i for i, bend in enumerate(part.bends) if panel in (bend.parent, bend.child))
