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
    """Changes that help and that the model cannot prove, each with why and what the hand formula says."""
    if ordered.shape not in ("tine rack", "hook strip") or before_mm is None:
        return ()
    what = "tine" if ordered.shape == "tine rack" else "hook"
    b, t = float(ordered.shape_values[f"{what}_width"]), before_mm
    flat = b * t * t / 6
    return (
        f"Legs folded along each {what} and tied to the back past its root bend, by a tang, bolt or weld: a tie closes a ring of panels,"
        f" and the model's part is a tree of panels, so it is not proven here. By hand, a channel {b:g} × {LEG_MM:g} mm of {t:g} mm has"
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
