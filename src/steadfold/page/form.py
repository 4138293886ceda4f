"""A part's dimensions, load and fixing as fields to fill in: what each is called, what the file says, where it is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from steadfold.catalogue import facts, material
from steadfold.catalogue.finishes import names as finishes
from steadfold.job.models import BACKINGS, DOWNS, LIES, Job, JobPart, Mount
from steadfold.job.part_table import GRAINS, PULLS, first_radius_mm
from steadfold.mount.records import Carried
from steadfold.page.places import places_of, places_of_panel
from steadfold.sheet.shapes import SHAPES
from steadfold.sheet.shapes.shape import Dimension, Sheet

Field = dict[str, Any]
Way = Sequence[str | int]


def form(job: Job, part: JobPart) -> dict[str, list[Field]]:
    """The fields of a part by the section they belong to.

    A field has a `key`, the `way` to it in the file, its `label`, a sentence `say`, a `kind` (length, angle, mass,
    force, count, choice, text, flag), the `text` in the file (empty when the file does not say), the `default` in
    words, the `value` in mm or deg, `low` and `high`, `choices`, and the `places` it means.
    """
    own: Mapping[str, Any] = job.text.values["part"][part.path[1]]
    way = ["part", part.path[1]]
    if part.shape in SHAPES:
        shape = _ready(part, own, way)
    elif part.shape == "panels":
        shape = _panels(part, own, way)
    else:
        shape = []
    return {
        "shape": shape,
        "metal": _metal(part, own, way),
        "carries": [_item(part, item, number, own, way) for number, item in enumerate(part.carries)],
        "mount": _mount(part, own, way),
        "walls": [_wall(part, number, own, way) for number in range(len(part.mount.walls if part.mount else ()))],
    }


def field(
    key: str, way: Way, label: str, say: str, kind: str, own: Mapping[str, Any], default: str = "", **more: Any
) -> Field:
    """One field; `own` is the table of the file it stands in."""
    return {
        "key": key,
        "way": [*way, key],
        "label": label,
        "say": say,
        "kind": kind,
        "text": written(own.get(key)),
        "default": default,
        "choices": [],
        "places": [],
        **more,
    }


def written(value: Any) -> str:
    """A value of the file as one types it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def in_words(dimension: Dimension) -> str:
    """The default of a dimension."""
    value = dimension.default
    if value is None:
        return ""
    if dimension.kind == "length":
        return f"{value:g} mm"
    if dimension.kind == "angle":
        return f"{round(math.degrees(float(value)), 6):g} deg"
    return written(value)


def _ready(part: JobPart, own: Mapping[str, Any], way: Way) -> list[Field]:
    shape = SHAPES[part.shape]
    assert part.thickness_mm is not None
    radius = part.inside_radius_mm
    if radius is None:
        radius = first_radius_mm(material(part.material), part.thickness_mm)
    places = places_of(shape, part.shape_values, Sheet(part.thickness_mm, radius))
    found = []
    for each in shape.dimensions:
        value = part.shape_values[each.key]
        number = float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None
        low, high = each.low, each.high
        if each.kind == "angle":
            number, low, high = (None if v is None else math.degrees(v) for v in (number, low, high))
        found.append(
            field(
                each.key, way, each.key.replace("_", " "), each.say, each.kind, own, in_words(each),
                value=number, low=low, high=high, choices=list(each.choices), places=places.get(each.key, []),
            )
        )  # fmt: skip
    return found


def _panels(part: JobPart, own: Mapping[str, Any], way: Way) -> list[Field]:
    assert part.tree is not None
    by_name = {panel.name: panel for panel in part.tree.panels}
    found: list[Field] = []
    for number, table in enumerate(own.get("panel", [])):
        panel = by_name.get(str(table.get("name", "")).strip())
        if panel is None:
            continue
        places = places_of_panel(panel, by_name.get(panel.parent) if panel.parent else None)
        here = [*way, "panel", number]
        if "size" in table:
            for place, (label, say) in enumerate(_SIZES[panel.parent is not None]):
                sizes = [str(s) for s in table["size"]]
                x0, y0, x1, y1 = panel.outline.bounds
                found.append(
                    {
                        **field("size", here, f"{panel.name}, {label}", say, "length", {}),
                        "key": f"size {place}",
                        "way": [*here, "size", place],
                        "text": sizes[place],
                        "value": (x1 - x0, y1 - y0)[place],
                        "places": places[f"size {place}"],
                    }
                )
        for key, kind, say in _PANEL_KEYS:
            if key in table:
                value = {"bend": math.degrees(panel.angle_rad), "offset": panel.offset_mm}.get(key)
                label = f"{panel.name}, {key.replace('_', ' ')}"
                found.append(field(key, here, label, say, kind, table, value=value, places=places.get(key, [])))
        for index, cutout in enumerate(table.get("cutout", [])):
            found += _cutout(panel.name, cutout, index, [*here, "cutout", index])
    return found


_SIZES = {
    False: (("width", "along its bottom edge, outside"), ("height", "up from its bottom edge, outside")),
    True: (("along its bend", "along the bend it hangs on"), ("away from its bend", "across, outside of the bend")),
}
_PANEL_KEYS = (
    ("bend", "angle", "what it is turned through from flat; positive towards you"),
    ("offset", "length", "along the parent's edge, from its start"),
    ("gap", "length", "inside width of an open hem"),
    ("inside_radius", "length", "inside radius of this bend alone"),
    ("corner_radius", "length", "rounds the corners that no bend touches"),
)


def _cutout(panel: str, table: Mapping[str, Any], index: int, way: Way) -> list[Field]:
    name = str(table.get("name") or f"opening {index + 1}")
    found = []
    for key, say in (("diameter", "across the hole"), ("length", "over all"), ("width", "across the slot")):
        if key in table:
            found.append(field(key, way, f"{panel}, {name}, {key}", say, "length", table, places=[{"panels": [panel]}]))
    return found


@cache
def materials() -> tuple[str, ...]:
    """Every material of the catalogue."""
    return tuple(dict.fromkeys(fact.name for fact in facts.look_up("") if fact.topic == "material"))


@cache
def fasteners() -> tuple[str, ...]:
    """Every bolt and screw of the catalogue."""
    wanted = ("bolt", "wood screw")
    return tuple(dict.fromkeys(fact.name for fact in facts.look_up("") if fact.topic in wanted))


def _metal(part: JobPart, own: Mapping[str, Any], way: Way) -> list[Field]:
    thickness = field(
        "thickness", way, "thickness", "a length, or a gauge of this very metal: 2 mm, 1/8 in, 14 ga", "gauge", own,
        value=part.thickness_mm,
    )  # fmt: skip
    found = [
        field("material", way, "metal", "what it is made of", "text", own, choices=list(materials())),
        thickness,
        field("inside_radius", way, "inside radius", "of the bends; auto is what the shop's die makes", "length", own,
              "auto", value=part.inside_radius_mm, words=["auto"]),
        field("finish", way, "finish", "what it is coated with", "choice", own, "none", choices=list(finishes())),
        field("quantity", way, "how many", "of this part", "count", own, "1", value=part.quantity, low=1, high=100_000),
        field("grain", way, "grain", "rolling direction, seen from the first panel's bottom edge", "choice", own, "any",
              choices=list(GRAINS)),
    ]  # fmt: skip
    if material(part.material).layers is not None:
        say = "does the load pull along the layers or across them?"
        found.append(field("pulls", way, "pulls", say, "choice", own, "the weaker way", choices=list(PULLS)))
    return found


def _item(part: JobPart, item: Carried, number: int, own: Mapping[str, Any], way: Way) -> Field:
    """One thing it carries, as a group of fields."""
    table = own["carries"][number]
    here = [*way, "carries", number]
    on = list(dict.fromkeys(_places_to_load(part)))
    places = [{"panels": _panels_at(part, item.on)}] if item.on else []
    return {
        "item": item.item,
        "way": here,
        "fields": [
            field("item", here, "what", "what hangs, stands or rests on it", "text", table),
            {
                **field("mass", here, "mass of one", "or from at least to at most: 1.6 to 2.3 kg", "mass", table),
                "text": _range_text(table.get("mass")),
                "value": [item.mass_kg.low, item.mass_kg.high],
            },
            field("count", here, "how many", "all of them together", "count", table, "1", value=item.count, low=1),
            field("on", here, "on", "a place the shape names, or one of its panels", "choice", table,
                  "wherever it offers", choices=on, places=places),
            field("reach", here, "reach", "how far its middle stands out from that panel", "length", table,
                  value=item.reach_mm, places=places),
        ],
    }  # fmt: skip


def _range_text(value: Any) -> str:
    if isinstance(value, list):
        return " to ".join(str(v) for v in value)
    return written(value)


def _places_to_load(part: JobPart) -> list[str]:
    if part.tree is None:
        return []
    return [*(name for name, _ in part.tree.places), *(panel.name for panel in part.tree.panels)]


def _panels_at(part: JobPart, on: str) -> list[str]:
    if part.tree is None:
        return []
    return list(dict(part.tree.places).get(on, (on,)))


def _wall(part: JobPart, number: int, own: Mapping[str, Any], way: Way) -> Field:
    """Another wall that the part is rated on, as a group of fields; what it leaves out of the fixing is the mount's."""
    assert part.mount is not None
    mount, wall = part.mount, part.mount.walls[number]
    table = own["mount"]["wall"][number]
    here = [*way, "mount", "wall", number]
    found = [
        field("to", here, "fixed to", "what a buyer may have instead", "choice", table, "", choices=list(BACKINGS)),
        field("called", here, "called", "what it is called on the label and in answers", "text", table, wall.to),
        field("fastener", here, "fixing", "the screw or bolt, through the same holes", "text", table,
              mount.fastener or "", choices=list(fasteners())),
        field("length", here, "length of the fixing", "under its head", "length", table, value=wall.length_mm),
    ]  # fmt: skip
    if wall.to in ("wood stud", "wood board"):
        found.append(field("wood", here, "wood", "its species", "text", table, mount.wood or "", choices=list(species())))
    if wall.to in ("wood stud", "wood board", "steel stud", "masonry"):
        say = "a soft or empty layer between part and backing, such as plasterboard"
        found.append(field("gap", here, "gap", say, "length", table, "none", value=wall.gap_mm))
    return {"item": wall.called or wall.to, "way": here, "fields": found}


@cache
def species() -> tuple[str, ...]:
    """Every wood of the catalogue."""
    return tuple(dict.fromkeys(fact.name for fact in facts.look_up("") if fact.topic == "wood"))


def _mount(part: JobPart, own: Mapping[str, Any], way: Way) -> list[Field]:
    table: Mapping[str, Any] = own.get("mount", {})
    here = [*way, "mount"]
    mount = part.mount or Mount("unknown")
    drilled = [panel.name for panel in part.tree.panels if panel.cutouts] if part.tree is not None else []
    holes = [{"panels": [mount.holes]}] if mount.holes else []
    found = [
        field("to", here, "fixed to", "what it is held on", "choice", table, "", choices=list(BACKINGS)),
        field("fastener", here, "fixing", "the screw or bolt", "text", table, "", choices=list(fasteners())),
        field("holes", here, "through", "the panel whose holes take the fixings", "choice", table, "", choices=drilled,
              places=holes),
        field("length", here, "length of the fixing", "under its head", "length", table, value=mount.length_mm),
    ]  # fmt: skip
    if mount.to == "wood stud":
        say = "from the middle of one stud to the next"
        found.append(field("stud_spacing", here, "stud spacing", say, "length", table, value=mount.stud_spacing_mm))
    if mount.to in ("wood stud", "wood board", "steel stud", "masonry"):
        say = "a soft or empty layer between part and backing, such as plasterboard"
        found.append(field("gap", here, "gap", say, "length", table, "none", value=mount.gap_mm))
    if mount.to in ("T-slot rail", "strut"):
        say = "on an upright one only friction keeps the part from sliding down"
        found.append(field("rail", here, "the rail lies", say, "choice", table, "", choices=list(LIES)))
        say = "what one tightened bolt presses with: about its torque over 0.2 of its diameter"
        found.append(field("clamp", here, "clamp of a bolt", say, "force", table, value=mount.clamp_n))
    if mount.to == "cleat":
        say = "of the face that the part hooks over, from level; a folded hook 90 deg"
        found.append(field("face", here, "steepness of the cleat", say, "angle", table, low=5, high=90,
                           value=None if mount.face_rad is None else math.degrees(mount.face_rad)))
        found.append(field("hook", here, "depth of the hook", "how far it reaches down behind the cleat", "length", table,
                           value=mount.hook_mm))  # fmt: skip
    say = "which side of that panel looks at the floor"
    found.append(field("down", here, "down is", say, "choice", table, "bottom", choices=list(DOWNS)))
    return found
