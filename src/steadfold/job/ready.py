"""Ready-made shapes: their own keys read, laid out into a tree, the job's cutouts added."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from steadfold.job.fields import Fields
from steadfold.job.models import JobPart, PlacedCutout
from steadfold.job.openings import MOST_CUTOUTS, read_cutouts
from steadfold.job.wording import unknown
from steadfold.sheet.shapes.shape import Dimension, ReadyShape, ShapeError, Sheet, Value
from steadfold.sheet.tree import PanelTree, TreeError

Shapes = Mapping[str, ReadyShape]


def read_shape_values(fields: Fields, shape: ReadyShape) -> dict[str, Value]:
    """Every dimension of the shape by its key, defaults filled in; what is wrong is noted and left out."""
    values: dict[str, Value] = {}
    for dimension in shape.dimensions:
        value = _dimension(fields, dimension)
        if value is not None:
            values[dimension.key] = value
    return values


def _dimension(fields: Fields, dimension: Dimension) -> Value | None:
    key, kind, default = dimension.key, dimension.kind, dimension.default
    if key not in fields:
        fields.knows(key)
        if default is None:
            fields.missing(key, f"{_example(dimension)} ({dimension.say})")
        return default
    low, high = dimension.low, dimension.high
    if kind == "length":
        return fields.measure("length", key, low=low, high=high, above=0.0 if low is None else None)
    if kind == "angle":
        least = -2 * math.pi if low is None else low
        return fields.measure("angle", key, low=least, high=2 * math.pi if high is None else high)
    if kind == "count":
        return fields.count(key, low=0 if low is None else int(low), high=2000 if high is None else int(high))
    if kind == "choice":
        return fields.choice(key, dimension.choices)
    return fields.flag(key)


def _example(dimension: Dimension) -> str:
    if dimension.kind == "choice":
        return f'"{dimension.choices[0]}"'
    return {"length": '"300 mm"', "angle": '"90 deg"', "count": "5", "flag": "true"}[dimension.kind]


def read_placed_cutouts(fields: Fields) -> tuple[PlacedCutout, ...]:
    """The `[[part.cutout]]` tables: cutouts as on a drawn panel, each `on` a panel that the shape names."""
    found: list[PlacedCutout] = []
    for each in fields.tables("cutout", MOST_CUTOUTS):
        panel = each.text("on", required='"back", the panel it is cut in')
        cutouts = read_cutouts(each)
        if panel is not None:
            found.extend(PlacedCutout(panel, cutout) for cutout in cutouts)
    if len(found) > MOST_CUTOUTS:
        fields.wrong("cutout", f"{len(found)} cutouts on one part are too many; at most {MOST_CUTOUTS}")
    return tuple(found)


def laid_out(
    shape: ReadyShape, values: Mapping[str, Value], sheet: Sheet, cutouts: tuple[PlacedCutout, ...]
) -> PanelTree:
    """The shape's tree with the job's cutouts added; raises `ShapeError` or `TreeError` as the shape does."""
    tree = shape.build(values, sheet)
    added: dict[str, list[PlacedCutout]] = {}
    for each in cutouts:
        added.setdefault(each.panel, []).append(each)
    panels = tuple(
        replace(panel, cutouts=(*panel.cutouts, *(each.cutout for each in added[panel.name])))
        if panel.name in added
        else panel
        for panel in tree.panels
    )
    return replace(tree, panels=panels)


def checked_tree(
    fields: Fields,
    shape: ReadyShape,
    values: Mapping[str, Value],
    sheet: Sheet,
    cutouts: tuple[PlacedCutout, ...],
) -> PanelTree | None:
    """`laid_out`, with what does not go together noted at the key to change; then None."""
    try:
        tree = laid_out(shape, values, sheet, cutouts)
    except ShapeError as error:
        if error.key in fields:
            fields.wrong(error.key, str(error))
        else:
            fields.notebook.note(fields.steps, f"{error.key}: {error}")
        return None
    except TreeError as error:
        fields.notebook.note(fields.steps, str(error))
        return None
    names = [panel.name for panel in tree.panels]
    entries = fields.values.get("cutout", [])
    for number, entry in enumerate(entries):
        if entry["on"].strip() not in names:
            steps = (*fields.steps, "cutout", number, "on")
            fields.notebook.note(steps, unknown(entry["on"], names, f"a panel of the {shape.name}"))
    return tree


def tree_at(part: JobPart, inside_radius_mm: float, shapes: Shapes | None = None) -> PanelTree | None:
    """The tree of a part for the inside radius its bends will have; None for a part from a CAD file.

    A free tree of panels stays as drawn. Raises `ShapeError` when a ready-made shape cannot be laid out
    with it.
    """
    shape = shapes_of(shapes).get(part.shape)
    if shape is None or part.thickness_mm is None:
        return part.tree
    return laid_out(shape, part.shape_values, Sheet(part.thickness_mm, inside_radius_mm), part.cutouts)


def shapes_of(shapes: Shapes | None) -> Shapes:
    """The shapes given, or those that steadfold knows."""
    if shapes is not None:
        return shapes
    from steadfold.sheet.shapes import SHAPES

    return SHAPES
