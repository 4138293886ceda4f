"""A free tree of panels as the job file draws it, with hems."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.job.fields import Fields
from steadfold.job.openings import MOST_CUTOUTS, read_cutouts, read_outline
from steadfold.job.wording import unknown
from steadfold.sheet.outline import Outline, rectangle
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, TreeError

MOST_PANELS = 200
HEMS = ("closed", "open", "teardrop")
SIDES = ("front", "back")

CLOSED_HEM_RADIUS_SHARE = 0.05
"""Inside radius of a closed hem over the thickness: pressed flat but for a hair (no source)."""

TEARDROP_GAP_SHARE = 0.1
"""Gap left where a teardrop hem comes back to the sheet, over the thickness (no source)."""

SHORTEST_TEARDROP_LEG = 1.5
"""Plane part of a teardrop hem over its inside radius; a shorter one would turn through more than 250°."""

SMALLEST_BEND_RAD = math.radians(1.0)


@dataclass(frozen=True)
class _Turn:
    """What a panel turns through, and the inside radius that this asks for (None: the part's)."""

    angle_rad: float
    inside_radius_mm: float | None


def read_panels(fields: Fields, thickness_mm: float | None) -> PanelTree | None:
    """The tree of `[[part.panel]]` tables; None when something in it is wrong.

    `thickness_mm` None means that the thickness could not be read, which is a problem of its own by then.
    """
    mark = fields.notebook.mark
    tables = fields.tables("panel", MOST_PANELS)
    if fields.notebook.mark == mark and not tables:
        fields.missing("panel", "... ; a part of panels needs at least one [[part.panel]] with a name and a size")
    names = [_name(table) for table in tables]
    drawn: dict[str, DrawnPanel] = {}
    for number, (table, name) in enumerate(zip(tables, names, strict=True)):
        if name in drawn:
            table.wrong("name", f'two panels are named "{name}"; give each its own name')
        panel = _panel(table, name, number, names, drawn, thickness_mm)
        if panel is not None:
            drawn.setdefault(name, panel)
    return PanelTree(tuple(drawn.values())) if fields.notebook.mark == mark else None


def _name(table: Fields) -> str:
    return table.text("name", required='"back"') or ""


def _panel(
    table: Fields,
    name: str,
    number: int,
    names: list[str],
    drawn: dict[str, DrawnPanel],
    thickness_mm: float | None,
) -> DrawnPanel | None:
    mark = table.notebook.mark
    outline, rectangular = _outline(table)
    radius = table.length("inside_radius")
    corner = table.length("corner_radius", low=0.0)
    cutouts = _cutouts(table)
    parent: str | None = None
    edge: str | int = "bottom"
    turn, offset = _Turn(0.0, radius), 0.0
    if number == 0:
        _first(table)
    else:
        parent = _parent(table, name, number, names)
        edge = _edge(table, drawn.get(parent or ""))
        turn = _turned(table, outline, radius, thickness_mm)
        offset = table.measure("length", "offset", default=0.0) or 0.0
        if outline is not None and not rectangular:
            _stands_on_its_bend(table, outline)
    table.done()
    if table.notebook.mark != mark or outline is None or (number and parent not in drawn):
        return None
    return DrawnPanel(
        name,
        outline,
        rectangular,
        parent,
        edge,
        turn.angle_rad,
        offset,
        turn.inside_radius_mm,
        corner or 0.0,
        cutouts,
    )


def _outline(table: Fields) -> tuple[Outline | None, bool]:
    table.knows("size", "outline")
    if "size" in table and "outline" in table:
        table.wrong("outline", 'a panel has a "size" or an "outline", not both')
        return None, True
    if "outline" in table:
        return read_outline(table, "outline"), False
    size = table.size("size", required=True)
    return (None if size is None else rectangle(*size)), True


def _cutouts(table: Fields) -> tuple[Cutout, ...]:
    found = tuple(cutout for each in table.tables("cutout", MOST_CUTOUTS) for cutout in read_cutouts(each))
    if len(found) > MOST_CUTOUTS:
        table.wrong("cutout", f"{len(found)} cutouts on one panel are too many; at most {MOST_CUTOUTS}")
    return found


def _first(table: Fields) -> None:
    """The first panel hangs on nothing."""
    for key in ("from", "edge", "bend", "hem", "offset", "side", "gap"):
        table.knows(key)
        if key in table:
            table.wrong(key, f'the first panel hangs on nothing, so it has no "{key}"; take it away')


def _parent(table: Fields, name: str, number: int, names: list[str]) -> str | None:
    parent = table.text("from", required=f'"{names[0] or "back"}", the panel it hangs on')
    if parent is None:
        return None
    if parent == name and name not in names[:number]:
        table.wrong("from", f'panel "{name}" cannot hang on itself')
    elif parent in names[:number]:
        return parent
    elif parent in names:
        table.wrong("from", f'panel "{parent}" comes later; write a panel after the one it hangs on')
    else:
        table.wrong("from", unknown(parent, [each for each in names[:number] if each], "a panel above this one"))
    return None


def _edge(table: Fields, parent: DrawnPanel | None) -> str | int:
    """An edge of the parent by its name or number; also refused: the edge the parent itself hangs by."""
    value = table.raw("edge")
    if value is None:
        table.missing("edge", '"bottom", the edge of the panel it hangs on')
        return "bottom"
    if isinstance(value, bool) or not isinstance(value, (str, int)):
        table.wrong("edge", "an edge is named (left, right, bottom, top; near, far) or numbered from 0")
        return "bottom"
    edge = value.strip().casefold() if isinstance(value, str) else value
    if parent is None:
        return edge
    # Digits of other scripts count as digits too, so the length is limited before int() sees them.
    if isinstance(edge, str) and (len(edge) > 20 or (edge.isdigit() and not edge.isdecimal())):
        table.wrong("edge", "no panel has an edge of that name")
        return "bottom"
    if isinstance(edge, int) and abs(edge) > 10**6:
        table.wrong("edge", "no panel has so many edges")
        return "bottom"
    try:
        _, start, end = parent.edge_line(edge)
    except TreeError as error:
        table.wrong("edge", str(error))
        return "bottom"
    if parent.parent is not None and abs(start[1]) < 1e-6 and abs(end[1]) < 1e-6:
        table.wrong("edge", f'panel "{parent.name}" itself hangs by this edge; choose far, left or right')
    return edge


def _turned(table: Fields, outline: Outline | None, radius: float | None, thickness_mm: float | None) -> _Turn:
    table.knows("bend", "hem", "gap", "side")
    if "hem" in table:
        return _hem(table, outline, radius, thickness_mm)
    for key in ("gap", "side"):
        if key in table:
            table.wrong(key, f'"{key}" belongs to a hem; write hem = "open" with it, or a signed bend without it')
    angle = table.measure("angle", "bend", required='"90 deg"', low=-math.pi - 1e-9, high=math.pi + 1e-9)
    if angle is not None and abs(angle) < SMALLEST_BEND_RAD:
        table.wrong("bend", "a bend turns through at least 1 deg, either way; leave the panel out to keep it flat")
    return _Turn(angle or 0.0, radius)


def _hem(table: Fields, outline: Outline | None, radius: float | None, thickness_mm: float | None) -> _Turn:
    """A hem: an edge folded back on its own sheet, by half a turn or (teardrop) a little more."""
    kind = table.choice("hem", HEMS)
    sign = -1.0 if table.choice("side", SIDES, "front") == "back" else 1.0
    gap = table.length("gap")
    if "bend" in table:
        table.wrong("bend", 'a hem says itself what it turns through; write "side" = "front" or "back", or no hem')
    if kind == "open":
        if "gap" not in table:
            table.missing("gap", '"4 mm", the inside width of the open hem')
        if radius is not None:
            table.wrong("inside_radius", "the inside radius of an open hem is half its gap; take it away")
        return _Turn(sign * math.pi, None if gap is None else 0.5 * gap)
    if kind == "closed":
        for key in ("gap", "inside_radius"):
            if key in table:
                table.wrong(key, f'a closed hem is pressed flat and has no "{key}"; write hem = "open"')
        return _Turn(sign * math.pi, None if thickness_mm is None else CLOSED_HEM_RADIUS_SHARE * thickness_mm)
    if kind != "teardrop" or thickness_mm is None or outline is None:
        return _Turn(sign * math.pi, radius)
    radius = thickness_mm if radius is None else radius
    gap = TEARDROP_GAP_SHARE * thickness_mm if gap is None else gap
    leg = outline.bounds[3] - radius - thickness_mm
    if leg < SHORTEST_TEARDROP_LEG * radius:
        least = (1 + SHORTEST_TEARDROP_LEG) * radius + thickness_mm
        table.wrong("size" if "size" in table else "outline", f"a teardrop hem needs at least {least:g} mm here")
        return _Turn(sign * math.pi, radius)
    if gap >= 2 * radius:
        table.wrong("gap", f"a teardrop hem closes to less than its inside width, {2 * radius:g} mm")
        return _Turn(sign * math.pi, radius)
    return _Turn(sign * teardrop_angle(radius, leg, gap), radius)


def teardrop_angle(inside_radius_mm: float, leg_mm: float, gap_mm: float) -> float:
    """What a teardrop hem turns through, rad: half a turn and as much more as brings its free end to the gap.

    With half a turn and an angle d, the inside of the leg starts r (1 + cos d) above the sheet and comes
    down by leg sin d; setting what is left to the gap gives cos(d + f) = (gap - r) / hypot(r, leg), f =
    atan2(leg, r). The leg is measured from the tangent line. `gap_mm` from 0 to twice the radius.

    >>> round(math.degrees(teardrop_angle(2.0, 12.0, 0.0)) - 180, 3)
    18.925
    """
    turn = math.acos((gap_mm - inside_radius_mm) / math.hypot(inside_radius_mm, leg_mm))
    return math.pi + turn - math.atan2(leg_mm, inside_radius_mm)


def _stands_on_its_bend(table: Fields, outline: Outline) -> None:
    """A free outline that hangs on a bend has a straight near edge on y = 0 and lies above it."""
    lowest = outline.bounds[1]
    on_axis = any(not bulge and abs(start[1]) < 1e-6 and abs(end[1]) < 1e-6 for start, end, bulge in outline.segments())
    if lowest < -1e-6 or not on_axis:
        table.wrong(
            "outline",
            "a panel that hangs on a bend has a straight edge on y = 0 mm, its bend, and all else above it",
        )
