"""The folded part in three views and an isometric one, placed by first or third angle, with outside dimensions.

Views lie as ISO 5456-2 says: by first angle the view from above stands below the front view and the view from the left
to its right; by third angle the view from above stands above and the view from the right to the right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from steadfold.deliver.drawing.dimension import FIRST_MM, NEXT_MM, Levels, Side, angle, length
from steadfold.deliver.drawing.flat_drawing import SCALES
from steadfold.deliver.drawing.lines import CENTRE, HIDDEN, NARROW, THIN, VISIBLE, LineType
from steadfold.deliver.drawing.marks import Mark, Place, Words, box_of, hits, line, moved
from steadfold.deliver.drawing.openings import show
from steadfold.deliver.surface import Surface, surface_of
from steadfold.deliver.view import Up, View, isometric, orthographic, usual_up
from steadfold.deliver.visible_edges import Line, visible_edges
from steadfold.quantities.showing import Units
from steadfold.sheet.outline import Point
from steadfold.sheet.part import Part
from steadfold.sheet.pose import Frame, Pose, fold

Projection = Literal["first", "third"]

GAP_MM = 16.0
"""Between two views, beside their dimensions."""

LEAST_CORNER_MM, LEAST_CORNER_WIDTH_MM, CLEAR_MM = 62.0, 95.0, 3.0
"""Least room for the isometric view, and what it keeps clear of the dimensions beside it."""

EDGE_ON = 1e-4
SQUARE_RAD = math.radians(0.05)
MOST_DIMENSIONS = 14
"""More lengths in one view than this are left to the table of panels."""


@dataclass(frozen=True)
class Seen:
    """One view of the part: its lines in mm of the part, and the box round them."""

    view: View
    lines: tuple[Line, ...]
    low: Point
    high: Point

    @property
    def width(self) -> float:
        """Width of the box."""
        return self.high[0] - self.low[0]

    @property
    def height(self) -> float:
        """Height of the box."""
        return self.high[1] - self.low[1]


@dataclass(frozen=True)
class Length:
    """An outside length seen at its true size in a view: its two ends there, and what is measured."""

    start: Point
    end: Point
    value_mm: float


@dataclass(frozen=True)
class FoldedDrawing:
    """Marks with their lower left corner at 0, 0, the room they take, and the scale of the three views.

    `left_out` is true where a length or angle found no room in its view.
    """

    marks: tuple[Mark, ...]
    width_mm: float
    height_mm: float
    scale: float
    left_out: bool = False


def seen(surface: Surface, view: View, hidden: bool = True) -> Seen:
    """The lines of a surface in a view."""
    lines = visible_edges(surface, view, hidden)
    points = view.seen(surface.corners)[:, :2]
    low, high = points.min(axis=0), points.max(axis=0)
    return Seen(view, lines, (float(low[0]), float(low[1])), (float(high[0]), float(high[1])))


def lines_of(drawn: Seen, place: Place, edge: LineType = VISIBLE, bend: LineType = NARROW) -> list[Mark]:
    """The lines of a view on paper: visible wide, hidden dashed, tangent lines of bends narrow."""
    marks: list[Mark] = []
    for each in drawn.lines:
        kind = (bend if each.kind == "bend" else edge) if each.visible else HIDDEN
        marks.append(line([place(p) for p in each.points], kind))
    return marks


def folded_drawing(
    part: Part, room_width: float, room_height: float, projection: Projection, units: Units, up: Up | None = None
) -> FoldedDrawing:
    """Three views with outside dimensions and an isometric view, at the largest usual scale that fits a room on paper.

    Raises `SolidError` when the part is not one piece.
    """
    up = up or usual_up(part)
    surface = surface_of(part)
    pose = fold(part)
    first = projection == "first"
    front = seen(surface, orthographic("front", up))
    above = seen(surface, orthographic("top", up))
    beside = seen(surface, orthographic("left" if first else "right", up))
    whole = seen(surface, isometric(up), hidden=False)
    layouts = (_placed(part, pose, (front, above, beside, whole), scale, first, units) for scale in SCALES)
    largest = max(front.width, front.height, beside.width)
    for drawing in layouts:
        if drawing.scale > (2.0 if largest > 50 else 5.0):
            continue
        if (drawing.width_mm <= room_width and drawing.height_mm <= room_height) or drawing.scale == SCALES[-1]:
            return drawing
    raise AssertionError("the smallest scale is always taken")


def _placed(
    part: Part, pose: Pose, views: tuple[Seen, Seen, Seen, Seen], scale: float, first: bool, units: Units
) -> FoldedDrawing:
    """The views at a scale, each with its dimensions; the isometric one fills the corner that is left."""
    front, above, beside, whole = views
    drawn = [
        _dimensioned(part, pose, view, scale, units, lengths)
        for view, lengths in zip((front, above, beside), _lengths(part, pose, front, above, beside), strict=True)
    ]
    (f, fr), (a, ar), (b, br) = ((marks, reach) for marks, reach, _ in drawn)
    left, right = max(fr.left, ar.left), max(fr.right, ar.right)
    wide = scale * front.width
    column = left + wide + right + GAP_MM + br.left
    high_top = max(fr.top, br.top) if first else ar.top
    low_bottom = ar.bottom if first else max(fr.bottom, br.bottom)
    inner_up, inner_low = (max(fr.bottom, br.bottom), ar.top) if first else (ar.bottom, max(fr.top, br.top))
    upper_height = scale * (front.height if first else above.height)
    lower_height = scale * (above.height if first else front.height)
    # The corner beside the view from above holds the isometric view; it is never lower than that takes.
    row_low = low_bottom
    between = inner_low + GAP_MM + inner_up
    if first:
        low_edge = 0.0
        row_up = row_low + lower_height + between
        row_up += max(0.0, LEAST_CORNER_MM - (row_up - br.bottom - CLEAR_MM))
        high_edge = row_up - br.bottom - CLEAR_MM
        y_front, y_above = row_up, row_low
        height = row_up + upper_height + high_top
    else:
        row_up = row_low + lower_height + between
        low_edge = row_low + scale * beside.height + br.top + CLEAR_MM
        height = max(row_up + upper_height + high_top, low_edge + LEAST_CORNER_MM)
        high_edge = height
        y_front, y_above = row_low, row_up
    marks: list[Mark] = []
    marks += moved(f, left, y_front) + moved(a, left, y_above) + moved(b, column, y_front)
    width = column + scale * beside.width + br.right
    corner_left = left + wide + right + GAP_MM
    corner_width = max(width - corner_left, LEAST_CORNER_WIDTH_MM)
    fit = min(corner_width / whole.width, (high_edge - low_edge) / whole.height, 1.4 * scale)
    x = corner_left + 0.5 * (corner_width - fit * (whole.high[0] + whole.low[0]))
    y = 0.5 * (low_edge + high_edge - fit * (whole.high[1] + whole.low[1]))
    marks += lines_of(whole, Place(fit, x, y), bend=THIN)
    left_out = any(missed for _, _, missed in drawn)
    return FoldedDrawing(tuple(marks), max(width, corner_left + corner_width), height, scale, left_out)


def _lengths(part: Part, pose: Pose, front: Seen, above: Seen, beside: Seen) -> list[list[Length]]:
    """What is dimensioned in each view: outside lengths, and the overall sizes that none of them gives; each once."""
    found = []
    for view in (front, above, beside):
        lengths = outside_lengths(part, pose, view.view)
        found.append(lengths if len(lengths) <= MOST_DIMENSIONS else [])
    # Width is seen in the front view and from above, height in front and from the side, depth from above and the side.
    for places in (((0, 0), (1, 0)), ((2, 1), (0, 1)), ((2, 0), (1, 1))):
        given = False
        for number, axis in places:
            view = (front, above, beside)[number]
            whole = [each for each in found[number] if _spans(each, view, axis)]
            if given:
                found[number] = [each for each in found[number] if each not in whole]
            given = given or bool(whole)
        if not given:
            number, axis = places[0] if places[0] == (0, 0) else places[1]
            found[number].append(_overall((front, above, beside)[number], axis))
    return found


def _spans(length: Length, view: Seen, axis: int) -> bool:
    """True when a length is the view's whole width (axis 0) or height (axis 1)."""
    ends = sorted((length.start[axis], length.end[axis]))
    return (
        abs(ends[0] - view.low[axis]) < 0.01
        and abs(ends[1] - view.high[axis]) < 0.01
        and (abs(length.value_mm - (view.high[axis] - view.low[axis])) < 0.01)
    )


def _overall(view: Seen, axis: int) -> Length:
    """The whole width (axis 0) or height (axis 1) of a view."""
    if axis == 0:
        return Length(view.low, (view.high[0], view.low[1]), view.width)
    return Length(view.low, (view.low[0], view.high[1]), view.height)


@dataclass(frozen=True)
class Reach:
    """How far dimensions reach out of a view's box, on paper."""

    left: float
    right: float
    bottom: float
    top: float


def _dimensioned(
    part: Part, pose: Pose, view: Seen, scale: float, units: Units, lengths: list[Length]
) -> tuple[list[Mark], Reach, bool]:
    """A view with its dimensions, its box's lower left corner at 0, 0, and whether one found no room."""
    place = Place(scale, -scale * view.low[0], -scale * view.low[1])
    marks = lines_of(view, place) + _centres(part, pose, view.view, place)
    wide, high = scale * view.width, scale * view.height
    levels: dict[Side, Levels] = {s: Levels.empty() for s in ("left", "right", "top", "bottom")}
    slanting: list[tuple[Point, Point, str]] = []
    reach: dict[Side, float] = {"left": 4.0, "right": 4.0, "bottom": 4.0, "top": 4.0}
    # The shortest stand nearest, so that extension lines do not cross dimension lines.
    for each in sorted(lengths, key=lambda one: one.value_mm):
        a, b = place(each.start), place(each.end)
        direction = _direction(a, b)
        if direction is None:
            continue
        text = show(each.value_mm, units)
        if abs(direction[0]) > 1 - 1e-4:
            side: Side = "top" if a[1] > 0.5 * high else "bottom"
            out = FIRST_MM + NEXT_MM * levels[side].take(a[0], b[0])
            marks += length(a, b, (1.0, 0.0), high + out if side == "top" else -out, text)
            reach[side] = max(reach[side], out + 5.0)
        elif abs(direction[1]) > 1 - 1e-4:
            side = "right" if a[0] > 0.5 * wide else "left"
            out = FIRST_MM + NEXT_MM * levels[side].take(a[1], b[1])
            marks += length(a, b, (0.0, 1.0), -(wide + out) if side == "right" else out, text)
            reach[side] = max(reach[side], out + 5.0)
        else:
            slanting.append((a, b, text))
            reach = {key: max(value, 16.0) for key, value in reach.items()}
    # Slanting lengths and angles stand among the lines of the view: none may lie over another's value.
    free = [_slanting(a, b, wide, high, text) for a, b, text in slanting] + _angles(part, pose, view.view, place)
    taken = [box_of(mark) for mark in marks if isinstance(mark, Words)]
    missed = len(outside_lengths(part, pose, view.view)) > MOST_DIMENSIONS
    for tries in free:
        found = next((t for t in tries if not any(isinstance(m, Words) and hits(m, taken) for m in t)), None)
        if found is None:
            missed = True
            continue
        marks += found
        taken += [box_of(mark) for mark in found if isinstance(mark, Words)]
    return marks, Reach(reach["left"], reach["right"], reach["bottom"], reach["top"]), missed


def _centres(part: Part, pose: Pose, view: View, place: Place) -> list[Mark]:
    """Centre lines of the round openings that are seen face-on."""
    marks: list[Mark] = []
    done: set[tuple[float, float]] = set()
    for panel, frame in zip(part.panels, pose.panels, strict=True):
        if abs(float(frame.face @ view.toward)) < 1 - EDGE_ON:
            continue
        for hole in (hole for face in panel.faces for hole in face.holes):
            found = hole.circle
            if found is None or place.scale * found[1] < 0.8:
                continue
            x, y = place(_seen_point(frame, found[0], 0.0, view))
            if (round(x, 1), round(y, 1)) in done:
                continue
            done.add((round(x, 1), round(y, 1)))
            out = place.scale * found[1] + 1.5
            kind = CENTRE if out > 6 else NARROW
            marks += [line([(x - out, y), (x + out, y)], kind), line([(x, y - out), (x, y + out)], kind)]
    return marks


def _direction(a: Point, b: Point) -> Point | None:
    size = math.dist(a, b)
    return None if size < 0.5 else ((b[0] - a[0]) / size, (b[1] - a[1]) / size)


def _slanting(a: Point, b: Point, wide: float, high: float, text: str) -> list[list[Mark]]:
    """A length along a slanting flange, its line on the side away from the middle of the view; the best way first."""
    direction = _direction(a, b)
    assert direction is not None
    u, v = direction
    normal = (-v, u)
    at = a[0] * normal[0] + a[1] * normal[1]
    middle = 0.5 * wide * normal[0] + 0.5 * high * normal[1]
    out = 1.0 if at >= middle else -1.0
    return [length(a, b, direction, at + out * far, text) for far in (FIRST_MM, FIRST_MM + NEXT_MM, -FIRST_MM)]


def outside_lengths(part: Part, pose: Pose, view: View) -> list[Length]:
    """Panels seen edge-on, their bends end-on: outside length from the free edge (or next bend) to the bend.

    Only panels that were drawn by outside dimensions have them; what falls on another is given once.
    """
    found: list[Length] = []
    for bend, strip in zip(part.bends, pose.bends, strict=True):
        if abs(float(strip.start.along @ view.toward)) < 1 - EDGE_ON:
            continue
        outside = -math.copysign(0.5 * part.thickness_mm, bend.angle_rad)
        for index, point, away in (
            (bend.child, bend.child_point, bend.child_away),
            (bend.parent, bend.parent_point, bend.parent_away),
        ):
            extent = part.panels[index].extent_mm
            axis = 0 if abs(away[0]) > 0.5 else 1
            if extent is None or abs(abs(away[axis]) - 1) > 1e-6:
                continue
            ends = _ends(point, axis, extent[axis])
            a, b = (_seen_point(pose.panels[index], end, outside, view) for end in ends)
            each = Length(a, b, extent[axis])
            if not any(_same(each, known, 1.5 * part.thickness_mm) for known in found):
                found.append(each)
    return found


def _same(one: Length, other: Length, apart_mm: float) -> bool:
    """True when two lengths say the same: equal, side by side, no further apart than the sheet is thick."""
    if abs(one.value_mm - other.value_mm) > 0.01:
        return False
    direct = math.dist(one.start, other.start) <= apart_mm and math.dist(one.end, other.end) <= apart_mm
    return direct or (math.dist(one.start, other.end) <= apart_mm and math.dist(one.end, other.start) <= apart_mm)


def _ends(point: Point, axis: int, size: float) -> tuple[Point, Point]:
    return ((0.0, point[1]), (size, point[1])) if axis == 0 else ((point[0], 0.0), (point[0], size))


def _seen_point(frame: Frame, local: Point, height: float, view: View) -> Point:
    at = view.seen(frame.points(np.array([local]), height))[0]
    return (float(at[0]), float(at[1]))


def _angles(part: Part, pose: Pose, view: View, place: Place) -> list[list[list[Mark]]]:
    """The angle between the two faces of every bend that is seen end-on and is not square, each once, in several ways
    of drawing it, the best first."""
    found: list[list[list[Mark]]] = []
    done: set[tuple[float, ...]] = set()
    for bend, strip in zip(part.bends, pose.bends, strict=True):
        opening = math.pi - abs(bend.angle_rad)
        if abs(float(strip.start.along @ view.toward)) < 1 - EDGE_ON or opening < math.radians(8):
            continue
        if abs(opening - 0.5 * math.pi) < SQUARE_RAD:
            continue
        inside = math.copysign(0.5 * part.thickness_mm, bend.angle_rad)
        parent = _flat_direction(-strip.start.away, view)
        child = _flat_direction(strip.end().away, view)
        apex = _meeting(
            _on_paper(strip.start, inside, view, place), parent, _on_paper(strip.end(), inside, view, place), child
        )
        if apex is None:
            continue
        key = (round(apex[0], 1), round(apex[1], 1))
        if key in done:
            continue
        done.add(key)
        first = math.atan2(parent[1], parent[0])
        turn = (math.atan2(child[1], child[0]) - first + math.pi) % (2 * math.pi) - math.pi
        text = f"{round(math.degrees(opening), 2):g}°"
        found.append([angle(apex, first, turn, radius, text) for radius in (10.0, 15.0, 20.0)])
    return found


def _flat_direction(vector: np.ndarray, view: View) -> Point:
    at = view.seen(vector[None])[0]
    size = math.hypot(float(at[0]), float(at[1]))
    return (float(at[0]) / size, float(at[1]) / size)


def _on_paper(frame: Frame, height: float, view: View, place: Place) -> Point:
    return place(_seen_point(frame, (0.0, 0.0), height, view))


def _meeting(p: Point, u: Point, q: Point, v: Point) -> Point | None:
    """Where two lines meet, each through a point along a direction."""
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 1e-9:
        return None
    way = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / cross
    return (p[0] + way * u[0], p[1] + way * u[1])
