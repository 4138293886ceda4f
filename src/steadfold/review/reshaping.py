"""Changes of a part's shape that mending tries: a tine stood on edge, a print folded of sheet; and what cannot be tried."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from steadfold.catalogue import material
from steadfold.fabricate.shop import Shop
from steadfold.job.models import JobPart
from steadfold.quantities import show_length

Edit = tuple[tuple[str | int, ...], Any]
"""Way in the job file and the value to put there; None takes it away."""

ON_EDGE_MM = (30.0, 40.0, 50.0)
"""Depths that a tine on edge is tried with."""

BACK_MM, AROUND_MM, FROM_END_MM = 50.0, 80.0, 20.0
"""Width of the back of a tine on edge, how much higher than its tine it is, and how far its fixings sit from its ends."""

LEG_MM = 20.0
"""Height of the legs that the hand formula of a tied channel takes."""

CHANNELS = ((1.0, 4.7, 0.8), (1.0, 6.7, None), (1.25, 5.7, None), (1.5, 6.7, None))
"""Tied channels that are tried: width over that of the flat tine, height of the legs and inside radius of their bends over the
thickness (None: the part's)."""

LEG_STARTS_T = 6.7
"""Where the bends of the legs begin, from the back's rear face, over the thickness: before them the tine must reach over the die
when its root is bent."""

LARGEST_FOLDED_MM = 4.0
"""A print is tried as sheet up to this thickness."""


def on_edge(ordered: JobPart, own: Mapping[str, Any]) -> list[tuple[str, tuple[Edit, ...]]]:
    """A rack of flat tines as so many brackets of one tine each, stood on edge.

    A tine on edge hangs on an upright edge of its back, and a back has two of those: so each tine gets a back of its own, with two
    fixings. `own` is the part's table as it stands in the file. Nothing for other shapes, or where the items do not share evenly
    among the tines.
    """
    values, way = ordered.shape_values, ordered.path
    if ordered.shape != "tine rack" or ordered.cutouts:
        return []
    tines = int(values["tines"])
    if any(each.on != "tines" or each.count % tines for each in ordered.carries):
        return []
    found = []
    for depth in ON_EDGE_MM:
        high = depth + AROUND_MM
        length = float(values["tine_length"])
        holes = {
            "shape": "circle",
            "diameter": _mm(float(values["mount_hole"])),
            "at": [_mm(0.44 * BACK_MM), _mm(FROM_END_MM)],
            "repeat": {"count": 2, "step": ["0 mm", _mm(high - 2 * FROM_END_MM)]},
        }
        back = {"name": "back", "size": [_mm(BACK_MM), _mm(high)], "cutout": [holes]}
        tine = {
            "name": "tine",
            "from": "back",
            "edge": "right",
            "bend": "90 deg",
            "offset": _mm(0.5 * (high - depth)),
            "size": [_mm(depth), _mm(length)],
        }
        edits: list[Edit] = [((*way, key), None) for key in values if key in own]
        edits += [((*way, "shape"), "panels"), ((*way, "quantity"), tines * ordered.quantity)]
        edits += [((*way, "panel"), [back, tine])]
        for number, each in enumerate(ordered.carries):
            out = each.at_mm[1] if each.at_mm is not None else 0.9 * length
            here = (*way, "carries", number)
            edits += [((*here, "on"), "tine"), ((*here, "count"), each.count // tines)]
            edits += [((*here, "at"), [_mm(depth - 2.0), _mm(out)]), *_gone(here, own["carries"][number], "reach")]
        made = f"{tines} brackets of one tine each, " if tines > 1 else ""
        found.append((f"{made}stood on edge, {show_length(depth, 'mm', 0)} deep at the root", tuple(edits)))
    return found


def tied_channels(ordered: JobPart, own: Mapping[str, Any], thickness_mm: float | None) -> list[tuple[str, tuple[Edit, ...]]]:
    """A rack of flat tines as so many brackets of one tine each, folded to a channel whose legs run on past its root as
    tangs, end on the back, and are welded to it after folding.

    The back is notched beside the tine, so that the tangs lie clear of it in the flat. Legs that are too high for the gap
    between them meet the punch when the second one is bent: so lower legs and wider tines are tried too. Nothing for
    other shapes, for tines with tips, or where the items do not share evenly among the tines.
    """
    values, way = ordered.shape_values, ordered.path
    if ordered.shape != "tine rack" or ordered.cutouts or thickness_mm is None or float(values["tip"]) > 0:
        return []
    tines = int(values["tines"])
    if any(each.on != "tines" or each.count % tines for each in ordered.carries):
        return []
    t, now, found = thickness_mm, float(values["tine_width"]), []
    for wider, leg, radius in CHANNELS:
        wide, high = round(wider * now), round(leg * t)
        panels, seams = _channel(values, t, wide, high, None if radius is None else radius * t)
        edits: list[Edit] = [((*way, key), None) for key in values if key in own]
        edits += [((*way, "shape"), "panels"), ((*way, "quantity"), tines * ordered.quantity)]
        edits += [((*way, "panel"), panels), ((*way, "seam"), seams)]
        for number, each in enumerate(ordered.carries):
            here = (*way, "carries", number)
            out = each.at_mm[1] if each.at_mm is not None else 0.9 * float(values["tine_length"])
            edits += [((*here, "on"), "tine"), ((*here, "count"), each.count // tines)]
            edits += [((*here, "at"), [_mm(0.5 * wide), _mm(out)]), *_gone(here, own["carries"][number], "reach")]
        made = f"{tines} brackets of one tine each, " if tines > 1 else ""
        size = f"{show_length(wide, 'mm', 0)} wide with legs {show_length(high, 'mm', 0)} high"
        found.append((f"{made}folded to a channel {size} that run past the root and are welded to the back", tuple(edits)))
    return found


def _channel(
    values: Mapping[str, Any], t: float, wide: float, high: float, radius_mm: float | None
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Panels and seams of a bracket of one channel tine tied to its back."""
    foot, start, length = round(2.7 * t, 1), round(LEG_STARTS_T * t, 1), float(values["tine_length"])
    hole, beside = float(values["mount_hole"]), high + 2.0 * t
    back_wide = wide + 2.0 * max(beside, 2.0 * hole)
    up = high + 2.2 * hole
    left = 0.5 * (back_wide - wide)
    notch = {
        "shape": "rectangle",
        "size": [_mm(beside), _mm(4.4 * t)],
        "at": [_mm(left - 0.5 * t - 0.5 * beside), "0 mm"],
        "repeat": {"count": 2, "step": [_mm(wide + t + beside), "0 mm"]},
    }
    fixings = {
        "shape": "circle",
        "diameter": _mm(hole),
        "at": [_mm(1.6 * hole), _mm(up)],
        "repeat": {"count": 2, "step": [_mm(back_wide - 3.2 * hole), "0 mm"]},
    }
    corners = ((start, 0.0), (length, 0.0), (length, high), (t, high), (t, foot), (start, foot))
    leg: dict[str, Any] = {"bend": "90 deg", "outline": [[_mm(x), _mm(y)] for x, y in corners]}
    if radius_mm is not None:
        leg["inside_radius"] = _mm(radius_mm)
    panels: list[dict[str, Any]] = [
        {"name": "back", "size": [_mm(back_wide), _mm(up + 2.0 * hole)], "cutout": [fixings, notch]},
        {"name": "tine", "from": "back", "edge": "bottom", "bend": "90 deg", "offset": _mm(left), "size": [_mm(wide), _mm(length)]},
        *({"name": f"{side} leg", "from": "tine", "edge": side, **leg} for side in ("left", "right")),
    ]
    weld = {"edge": 3, "to": "back", "how": "welded", "throat": _mm(max(0.5 * round(1.4 * t), 0.5))}
    return panels, [{"panel": f"{side} leg", **weld} for side in ("left", "right")]


def folded_of_sheet(ordered: JobPart, own: Mapping[str, Any], shop: Shop) -> list[tuple[str, tuple[Edit, ...]]]:
    """A print as the same shape folded of each sheet that the shop keeps, up to `LARGEST_FOLDED_MM`."""
    if material(ordered.material).family != "plastic":
        return []
    found = []
    for shelf in shop.shelves:
        metal = material(shelf.material)
        for t in shelf.thicknesses_mm:
            if t > LARGEST_FOLDED_MM or metal.yield_basis == "typical":
                continue
            edits: list[Edit] = [((*ordered.path, "material"), metal.id), ((*ordered.path, "thickness"), _mm(t))]
            for key in ("pulls", "temperature", "certificate", "inside_radius"):
                edits += _gone(ordered.path, own, key)
            found.append((f"fold it of {metal.id}, {show_length(t)}", tuple(edits)))
    return found


def fixings_and_backing(ordered: JobPart, own: Mapping[str, Any]) -> list[tuple[str, tuple[Edit, ...]]]:
    """Longer and thicker screws, no soft layer behind, and the other walls that the job names."""
    mount = ordered.mount
    if mount is None:
        return []
    here, table = (*ordered.path, "mount"), own["mount"]
    found: list[tuple[str, tuple[Edit, ...]]] = []
    if mount.to in ("wood stud", "wood board") and mount.length_mm is not None:
        for factor in (1.25, 1.6):
            longer = 5.0 * round(factor * mount.length_mm / 5.0)
            found.append((f"take screws {show_length(longer, 'mm', 0)} long", (((*here, "length"), _mm(longer)),)))
        for size in ("lag screw 1/4", "lag screw 5/16", "lag screw 3/8"):
            if mount.fastener is not None and size != mount.fastener:
                found.append((f"take {size}", (((*here, "fastener"), size),)))
    if mount.gap_mm:
        edits = (((*here, "to"), "wood board"), *_gone(here, table, "gap"), *_gone(here, table, "gap_of"))
        found.append((f"screw a board to the studs first, so that no {mount.gap_of or 'gap'} lies behind", edits))
    for number, wall in enumerate(mount.walls):
        written = table["wall"][number]
        moved = [((*here, key), value) for key, value in written.items() if key != "called"]
        lost = [each for key in ("gap", "gap_of", "wood", "stud", "board", "profile", "capacity") if key not in written
                for each in _gone(here, table, key)]  # fmt: skip
        found.append((f"hang it on {wall.called or wall.to} only", (*lost, *moved, ((*here, "wall"), None))))
    return found


def cannot_be_tried(ordered: JobPart, before_mm: float | None) -> tuple[str, ...]:
    """Changes that help and that mending does not try, each with why and what the hand formula says."""
    if ordered.shape not in ("tine rack", "hook strip") or before_mm is None:
        return ()
    what = "tine" if ordered.shape == "tine rack" else "hook"
    if what == "tine" and float(ordered.shape_values["tip"]) == 0 and not ordered.cutouts:
        return ()
    b, t = float(ordered.shape_values[f"{what}_width"]), before_mm
    flat = b * t * t / 6
    return (
        f"Legs folded along each {what} and tied to the back past its root bend, by a tang, bolt or weld: where a {what} turns up at its"
        f" tip its legs would meet there, so no such shape is laid out here, and it is not proven; draw it as panels with a [[part.seam]]."
        f" By hand, a channel {b:g} × {LEG_MM:g} mm of {t:g} mm has"
        f" {channel_modulus_mm3(b, LEG_MM, t) / flat:.0f} times the section modulus of the flat {what} ({flat:.0f} mm³); legs that stop"
        f" short of the root add nothing there.",
    )


def channel_modulus_mm3(width_mm: float, leg_mm: float, thickness_mm: float) -> float:
    """Least section modulus of a channel about its centroid parallel to the web, sharp corners: I over the farther side.

    Parallel axes (strength of materials).

    >>> round(channel_modulus_mm3(28.0, 20.0, 3.0))
    547
    """
    b, h, t = width_mm, leg_mm, thickness_mm
    web, legs = b * t, 2.0 * t * (h - t)
    centre = (web * 0.5 * t + legs * (t + 0.5 * (h - t))) / (web + legs)
    inertia = b * t**3 / 12 + web * (centre - 0.5 * t) ** 2
    inertia += 2.0 * t * (h - t) ** 3 / 12 + legs * (t + 0.5 * (h - t) - centre) ** 2
    return inertia / max(centre, h - centre)


def _gone(here: tuple[str | int, ...], table: Mapping[str, Any], key: str) -> list[Edit]:
    return [((*here, key), None)] if key in table else []


def _mm(length: float) -> str:
    return f"{round(length, 3):g} mm"
