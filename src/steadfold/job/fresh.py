"""Small jobs to start from."""

from __future__ import annotations

import math

from steadfold.job.models import BACKINGS
from steadfold.job.wording import unknown
from steadfold.quantities import read_length
from steadfold.sheet.shapes.shape import Dimension, ReadyShape, Sheet
from steadfold.sheet.tree import PanelTree

_RACK = """\
# A job for steadfold: what to make, what it carries, how it is fixed.
# Quantities stand in quotes with their unit, mm and inch as you like: "45 mm", "1-3/4 in", "4 lb", "90 deg".

steadfold = 1                     # the version of this format
name = "Boat shed, first rack"
revision = "A"

[shop]                            # who cuts, bends and coats it
profile = "typical"               # or your own figures: "./our-shop.toml"

[[part]]
name = "oar rack"
quantity = 2
material = "S235"                 # "steadfold facts material" lists the metals, woods and prints
thickness = "4 mm"                # or a gauge of that metal, "8 ga", or "5/32 in"
inside_radius = "auto"            # what the shop's die gives; or "3 mm"
finish = "powder coat"            # none, powder coat or zinc

shape = "tine rack"               # a ready-made shape; its other measures have defaults
width = "300 mm"
height = "4 in"
tines = 3
tine_width = "1-1/4 in"
tine_length = "120 mm"
tip = "25 mm"                     # turned up at the end; the shop's die wants 22.4 mm at this thickness
mount_holes = 3

  [[part.carries]]                # one for each sort of thing it holds
  item = "sculling oar"
  mass = ["1.6 kg", "2.3 kg"]     # at least, at most; or one value, "1.9 kg"
  count = 3                       # all of them together
  on = "tines"                    # a place the shape names, or one of its panels
  reach = "3 in"                  # how far its centre of mass stands out from that panel

  [part.mount]
  to = "wood board"               # what it is fixed to; "unknown" is an honest answer too
  fastener = "lag screw 1/4"
  length = "1-1/2 in"
  wood = "SPF"                    # "steadfold facts wood" lists the kinds
  holes = "back"                  # the panel whose holes take the fasteners
"""

_PANELS = """\
# A job for steadfold: a shelf of panels, each hung on an edge of another by a bend.
# Sizes are outside dimensions, as a calliper reads them; bends are what a panel turns through, from flat.

steadfold = 1                     # the version of this format
name = "Boat shed, paint corner"
revision = "A"

[[part]]
name = "paint shelf"
material = "S235"
thickness = "3 mm"                # or a gauge of that metal, "11 ga", or "1/8 in"
finish = "powder coat"
shape = "panels"

  [[part.panel]]                  # the first panel is the one that stays where it is
  name = "back"
  size = ["400 mm", "90 mm"]      # along its bottom edge, then up
    [[part.panel.cutout]]
    shape = "circle"
    diameter = "7 mm"
    at = ["50 mm", "2-1/4 in"]    # from the panel's lower left corner
    repeat = { count = 2, step = ["300 mm", "0 mm"] }

  [[part.panel]]
  name = "shelf"
  from = "back"
  edge = "bottom"                 # left, right, bottom or top of the panel it hangs on
  bend = "90 deg"                 # positive: towards you as you look at the back
  size = ["400 mm", "6 in"]       # along the bend, then away from it

  [[part.panel]]
  name = "lip"
  from = "shelf"
  edge = "far"                    # the edge away from the bend
  bend = "90 deg"
  size = ["380 mm", "20 mm"]
  offset = "10 mm"                # along the edge, from its start

  [[part.carries]]
  item = "tin of paint"
  mass = "3.5 lb"
  count = 8
  on = "shelf"
  reach = "3 in"

  [part.cases]                    # what else may happen to it: see docs/job-file.md
  lean = "none"                   # hung above head height; left out, a person leans on it with 500 N

  [part.mount]
  to = "wood board"
  fastener = "lag screw 1/4"
  length = "1-1/2 in"
  wood = "SPF"
  holes = "back"
"""

_HEAD = """\
# A job for steadfold: what to make, what it carries, how it is fixed.
# Quantities stand in quotes with their unit, mm and inch as you like: "45 mm", "1-3/4 in", "4 lb", "90 deg".

steadfold = 1                     # the version of this format
name = "Boat shed, {shape}"
revision = "A"

[[part]]
name = "{shape}"
material = "S235"                 # "steadfold facts material" lists the metals, woods and prints
thickness = "{thickness}"                # or a gauge of that metal, "14 ga", or "5/64 in"
finish = "none"                   # none, powder coat or zinc
shape = "{shape}"
# {say}
"""

_TAIL = """
  [[part.carries]]                # one for each sort of thing it holds
  item = "coil of line"
  mass = ["1.5 kg", "4 lb"]       # at least, at most; or one value
  on = "{on}"

  [part.cases]                    # what else may happen to it: see docs/job-file.md
  lean = "none"                   # hung above head height; left out, a person leans on it with 500 N

  [part.mount]
  to = "wood board"               # or {backings}
  fastener = "lag screw 1/4"      # or "M6", "M8", "1/4", "wood screw #10" ...
  length = "1-1/2 in"
  wood = "SPF"                    # "steadfold facts wood" lists the kinds
  holes = "{holes}"{gap}# the panel whose holes take the fasteners
"""

_LAG_MM = 6.35
_DRAWN = {"tine rack": _RACK, "panels": _PANELS}
# What a shape starts with where its defaults alone would not be enough for a coil of line, or not be foldable.
_START: dict[str, dict[str, str]] = {
    "hook strip": {"thickness": "4 mm", "hook_width": "20 mm"},
    "shelf": {"thickness": "4 mm", "depth": "120 mm"},
    "angle bracket": {"thickness": "4 mm", "width": "50 mm", "arm": "100 mm"},
    "saddle": {"thickness": "2.5 mm", "cheek": "30 mm"},
    "tray": {"thickness": "3 mm", "depth": "120 mm"},
    "square pocket": {"thickness": "3 mm", "mount_holes": "2"},
}
_FIRST_MM = {"width": "12 in", "depth": "6 in", "length": "24 in", "inside_width": "80 mm", "inside_depth": "60 mm"}


def kinds() -> tuple[str, ...]:
    """What `new_job` can begin with: a free tree of panels, or a ready-made shape."""
    from steadfold.sheet.shapes import SHAPES

    return ("panels", *SHAPES)


def new_job(kind: str = "tine rack") -> str:
    """The text of a small job that reads without problems; `ValueError` for a kind that is not in `kinds`."""
    if kind in _DRAWN:
        return _DRAWN[kind]
    from steadfold.sheet.shapes import SHAPES

    if kind not in SHAPES:
        raise ValueError(unknown(kind, kinds(), "a shape to start from"))
    return _from_shape(SHAPES[kind])


def _from_shape(shape: ReadyShape) -> str:
    """A job with every dimension of a shape: those that are given, and the others as comments."""
    start = _START.get(shape.name, {})
    rows, values = [], {}
    for each in shape.dimensions:
        given = start.get(each.key, _FIRST_MM.get(each.key, "300 mm") if each.default is None else None)
        read = int if each.kind == "count" else read_length
        value = each.default if given is None else read(given)
        assert value is not None
        values[each.key] = value
        text = _default(each) if given is None else given
        line = f'{each.key} = "{text}"' if each.kind not in ("count", "flag") else f"{each.key} = {text}"
        rows.append(f"{line if given is not None else '# ' + line:<34}# {each.say}")
    tree = shape.build(values, Sheet(2.0, 2.0))
    place = tree.places[0][0] if tree.places else tree.panels[-1].name
    holes = _fixed_by(tree)
    head = _HEAD.format(shape=shape.name, say=shape.say, thickness=start.get("thickness", "2 mm"))
    backings = ", ".join(each for each in BACKINGS if each != "wood board")
    gap = " " * max(1, 22 - len(holes))
    return head + "\n".join(rows) + "\n" + _TAIL.format(on=place, backings=backings, holes=holes, gap=gap)


def _fixed_by(tree: PanelTree) -> str:
    """The first panel with an opening that a quarter-inch lag screw goes through; the first one where none has."""
    for panel in tree.panels:
        for opening in panel.cutouts:
            x0, y0, x1, y1 = opening.outline.bounds
            if min(x1 - x0, y1 - y0) >= _LAG_MM:
                return panel.name
    return tree.panels[0].name


def _default(dimension: Dimension) -> str:
    value = dimension.default
    if dimension.kind == "length" and isinstance(value, (int, float)):
        return f"{value:g} mm"
    if dimension.kind == "angle" and isinstance(value, (int, float)):
        return f"{round(math.degrees(value), 6):g} deg"
    return str(value).lower() if isinstance(value, bool) else str(value)
