"""A ready-made shape explained: a picture of the whole, and one of each dimension made larger."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.deliver import svg
from steadfold.deliver.annotation import overall_sizes
from steadfold.deliver.metal import edge_paths, metal_faces
from steadfold.deliver.placement import Box, Placement, fitted, fitted_flat, height_for
from steadfold.deliver.shading import VisibleFace, visible_faces
from steadfold.deliver.shape_change import (
    Change,
    built,
    change_of,
    drawn_values,
    farthest_move,
    show_both,
    show_value,
)
from steadfold.deliver.surface import Surface, surface_of
from steadfold.deliver.view import View, isometric, usual_up
from steadfold.deliver.visible_edges import Line, drawn_length, lines_beyond, visible_edges
from steadfold.sheet.extent import folded_bounds_mm
from steadfold.sheet.part import Part
from steadfold.sheet.shapes import ReadyShape

COLUMNS, CELL, GAP, MARGIN = 3, 300.0, 24.0, 28.0
WIDTH = 2 * MARGIN + COLUMNS * CELL + (COLUMNS - 1) * GAP
PICTURE_PX, WORDS_PX = 200.0, 106.0

CHORD_MM = 0.05
"""One for both shapes, so that what did not change falls on itself exactly."""

MOSTLY_HIDDEN = 0.25
"""Where less than this is seen of what changed, over what is not, its hidden lines are drawn dashed."""

CLOSEST = 0.42
"""A picture shows at least this share of the shape's width and height."""


def shape_svg(shape: ReadyShape) -> str:
    """One sheet a shape: the shape as it is by default, then each dimension with the change it makes.

    Raises `ValueError` when a dimension's change cannot be shown.
    """
    default = _seen(built(shape, drawn_values(shape)))
    body = [
        svg.text(MARGIN, 40, shape.name, 24, weight="600"),
        svg.text(MARGIN, 64, shape.say, 14, kind="soft"),
    ]
    whole, height = _whole(default, 84.0)
    body += whole
    body += _key(height + 84.0)
    top = height + 84.0 + 44.0
    for number, dimension in enumerate(shape.dimensions):
        row, column = divmod(number, COLUMNS)
        left = MARGIN + column * (CELL + GAP)
        change = change_of(shape, dimension)
        before = default if change.before == default.part else _seen(change.before)
        body += _cell(change, before, left, top + row * (PICTURE_PX + WORDS_PX), number)
    rows = -(-len(shape.dimensions) // COLUMNS)
    keys = ", ".join(d.key for d in shape.dimensions)
    label = f"The ready-made shape {shape.name} and what each of its dimensions changes: {keys}"
    return svg.document(WIDTH, top + rows * (PICTURE_PX + WORDS_PX), label, body)


@dataclass(frozen=True)
class _Seen:
    """A part as it is seen: its lines, hidden ones too, and its visible faces."""

    part: Part
    view: View
    surface: Surface
    lines: tuple[Line, ...]
    faces: tuple[VisibleFace, ...]


def _seen(part: Part) -> _Seen:
    view, surface = isometric(usual_up(part)), surface_of(part, 1.0, CHORD_MM)
    return _Seen(part, view, surface, visible_edges(surface, view), visible_faces(surface, view))


def _visible(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    return tuple(line for line in lines if line.visible)


def _whole(seen: _Seen, top: float) -> tuple[list[str], float]:
    corners, width = seen.surface.corners, 520.0
    height = height_for(seen.view, corners, width, 160.0, 330.0)
    place = fitted(seen.view, corners, Box(0.5 * (WIDTH - width), top + 20, width, height))
    low, high = folded_bounds_mm(seen.part)
    drawn = metal_faces(seen.faces, place) + edge_paths(_visible(seen.lines), place)
    drawn += overall_sizes(place, corners, low, high, usual_up(seen.part), "mm")
    return drawn, height + 70


def _key(top: float) -> list[str]:
    y = top + 12
    solid, pale = (MARGIN, MARGIN + 30), (MARGIN + 330, MARGIN + 360)
    return [
        f'<path d="M{solid[0]} {y}H{solid[1]}" stroke="{svg.ACCENT}" class="mark" stroke-width="2"/>',
        svg.text(solid[1] + 8, y + 4, "the shape with that dimension changed", 12.5),
        f'<path d="M{pale[0]} {y}H{pale[1]}" stroke="{svg.FAINT}" class="thin" stroke-width="1.2"/>',
        svg.text(pale[1] + 8, y + 4, "as it is by default; in 3 mm sheet, inside radius 3 mm", 12.5),
    ]


def _cell(change: Change, before: _Seen, left: float, top: float, number: int) -> list[str]:
    drawn = [
        f'<clipPath id="cell{number}"><rect x="{svg.number(left)}" y="{svg.number(top)}" width="{CELL:.0f}" '
        f'height="{PICTURE_PX:.0f}"/></clipPath>',
        f'<g clip-path="url(#cell{number})">',
        *_change(change, before, Box(left, top, CELL, PICTURE_PX)),
        "</g>",
    ]
    y = top + PICTURE_PX + 20
    dimension = change.dimension
    drawn.append(svg.text(left, y, dimension.key, 14.5, weight="600", mono=True))
    shown = f"{show_value(dimension, change.old)} → {show_value(dimension, change.new)}"
    if dimension.kind == "length" and change.old == 0:
        shown = f"0 → {show_value(dimension, change.new)}"
    drawn.append(svg.text(left + CELL, y, shown, 13, "end", "accent", "600"))
    default = "must be given" if dimension.default is None else f"default {show_both(dimension, dimension.default)}"
    if change.also:
        default += "; here with " + " and ".join(f"{d.key} {show_value(d, value)}" for d, value in change.also)
    lines = [*svg.wrapped(default, CELL, 12), *svg.wrapped(dimension.say, CELL, 12)]
    return drawn + svg.paragraph(left, y + 19, lines, 12)


def _change(change: Change, before: _Seen, box: Box) -> list[str]:
    """The part before, pale, under what is new of the part after."""
    after, view = _seen(change.after), before.view
    fresh = lines_beyond(after.lines, before.lines)
    behind = lines_beyond(after.lines, before.lines, visible=False)
    if drawn_length(fresh) < MOSTLY_HIDDEN * drawn_length(behind):
        fresh += behind
    move = farthest_move(change, view.toward)
    both = view.seen(np.concatenate([before.surface.corners, after.surface.corners]))[:, :2]
    changed = np.concatenate([line.points for line in fresh]) if fresh else both
    if move is not None:
        changed = np.concatenate([changed, view.seen(np.array(move))[:, :2]])
    place = _framed(both, changed, box, view)
    drawn = metal_faces(before.faces, place, True, box)
    drawn += edge_paths(_visible(before.lines), place, svg.FAINT, 0.9, "#c3cdd4", 0.6, box)
    drawn += _new_metal(before.faces, after.faces, place, box)
    drawn += edge_paths(fresh, place, svg.ACCENT, 1.7, within=box, edge_class="mark")
    if move is not None:
        drawn += _move(place, *move)
    return drawn


def _framed(both: np.ndarray, changed: np.ndarray, box: Box, view: View) -> Placement:
    """Near enough to see what changed, far enough to see where on the shape it is."""
    low, high = both.min(axis=0), both.max(axis=0)
    inner = Box(box.left + 12, box.top + 12, box.width - 24, box.height - 24)
    whole = fitted_flat(view, low, high, inner)
    pixels = np.array([inner.width, inner.height])
    seen = pixels / whole.scale
    size = np.maximum(np.ptp(changed, axis=0) * 1.25, CLOSEST * seen)
    zoom = float(np.max(size / seen))
    if zoom > 0.85:
        return whole
    middle = 0.5 * (changed.min(axis=0) + changed.max(axis=0))
    # The window stays on the shape where it can.
    half = 0.5 * zoom * seen
    middle = np.clip(middle, np.minimum(low + half, 0.5 * (low + high)), np.maximum(high - half, 0.5 * (low + high)))
    return fitted_flat(view, middle - half, middle + half, inner)


def _new_metal(
    before: tuple[VisibleFace, ...], after: tuple[VisibleFace, ...], place: Placement, box: Box
) -> list[str]:
    """The shadow of what the new part covers and the old one did not."""
    old, new = (shapely.union_all([face.area for face in faces], grid_size=1e-5) for faces in (before, after))
    extra = shapely.transform(shapely.difference(new, old, grid_size=1e-5), place.flat)
    extra = shapely.clip_by_rect(extra, box.left, box.top, box.left + box.width, box.top + box.height)
    path = svg.area_path(extra, 1)
    return [] if not path else [f'<path d="{path}" fill="{svg.ACCENT}" fill-opacity="0.10" fill-rule="evenodd"/>']


def _move(place: Placement, start: np.ndarray, end: np.ndarray) -> list[str]:
    """An arrow from where a place was to where it is."""
    a, b = place(np.array([start, end]))
    length = float(np.linalg.norm(b - a))
    if length < 9:
        return []
    along = (b - a) / length
    head = min(9.0, 0.6 * length)
    across = np.array([-along[1], along[0]])
    tip = np.array([b, b - head * along + 0.38 * head * across, b - head * along - 0.38 * head * across])
    return [
        f'<circle cx="{svg.number(a[0])}" cy="{svg.number(a[1])}" r="2.6" fill="{svg.ACCENT}" class="marked"/>',
        f'<path d="{svg.polyline(np.array([a, b - 0.8 * head * along]))}" stroke="{svg.ACCENT}" class="mark" '
        'stroke-width="1.4" fill="none"/>',
        f'<path d="{svg.polyline(tip)}Z" fill="{svg.ACCENT}" class="marked"/>',
    ]
