"""Pieces of the `[[stand]]` tables that several of them share: places, profiles, stiffnesses, joints, fixings."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from steadfold.catalogue import NotInCatalogue
from steadfold.catalogue.fasteners import bolt
from steadfold.catalogue.profiles import profile
from steadfold.catalogue.wood import species
from steadfold.job.fields import Fields
from steadfold.job.models import BACKINGS
from steadfold.job.wording import not_listed, shown, typed
from steadfold.stand.records import Fixing, Held, HeldTo, Joint, JointKind, Place, Seat

JOINT_KINDS: tuple[JointKind, ...] = ("pinned", "bolted", "welded", "ball")
HELD_TO: tuple[HeldTo, ...] = ("bench", "wall", "floor")

TURNING = {
    "N mm/rad": 1.0,
    "N m/rad": 1e3,
    "kN m/rad": 1e6,
    "N m/deg": 1e3 * 180.0 / math.pi,
    "kN m/deg": 1e6 * 180.0 / math.pi,
    "lbf in/rad": 4.4482216152605 * 25.4,
    "lbf ft/deg": 4.4482216152605 * 304.8 * 180.0 / math.pi,
}
STIFFNESS = {"N/mm": 1.0, "kN/mm": 1e3, "lbf/in": 4.4482216152605 / 25.4}


def profile_in(fields: Fields, key: str, required: bool = False) -> str | None:
    """A profile's id in the catalogue, or None."""
    name = fields.text(
        key, required='"strut 41x41x2.5", or another profile that "steadfold facts" lists' if required else ""
    )
    if name is None:
        return None
    try:
        return profile(name).id
    except NotInCatalogue as error:
        fields.wrong(key, not_listed(error))
        return None


def force_or_none(fields: Fields, key: str, default: float) -> float:
    """A force in N, 0 for "none"."""
    value = fields.values.get(key)
    if isinstance(value, str) and value.strip().casefold() == "none":
        fields.knows(key)
        return 0.0
    read = fields.measure("force", key, default, low=0.0, high=10_000.0)
    return default if read is None else read


def with_unit(fields: Fields, key: str, units: Mapping[str, float], example: str) -> float | None:
    """A stiffness: a number and one of some units."""
    value = fields.raw(key)
    if value is None:
        return None
    found = (
        re.fullmatch(r"\s*(\d+(?:\.\d*)?(?:[eE][-+]?\d{1,2})?)\s*(.+?)\s*", value) if isinstance(value, str) else None
    )
    unit = None if found is None else next((u for u in units if u.replace(" ", "") == found[2].replace(" ", "")), None)
    if found is None or unit is None or not float(found[1]) > 0.0:
        given = shown(value) if isinstance(value, str) else typed(value)
        fields.wrong(key, f"{given} is not a stiffness here; write {example} (units: {', '.join(units)})")
        return None
    return float(found[1]) * units[unit]


def place_in(fields: Fields, key: str, required: bool = False) -> Place | None:
    """Three lengths: a place or an extent."""
    return triple_in(fields, key, "length", '["600 mm", "0 mm", "0 mm"]', required)


def direction_in(fields: Fields, key: str) -> Place:
    """Three plain numbers, up where there are none."""
    value = fields.raw(key)
    if value is None:
        return (0.0, 0.0, 1.0)
    numbers = value if isinstance(value, list) else []
    if len(numbers) != 3 or not all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in numbers):
        fields.wrong(key, "a direction is three plain numbers, like [0, 0, 1]")
        return (0.0, 0.0, 1.0)
    return (float(numbers[0]), float(numbers[1]), float(numbers[2]))


def triple_in(fields: Fields, key: str, kind: str, example: str, required: bool = True) -> Place | None:
    """Three quantities of one kind."""
    value = fields.raw(key)
    if value is None:
        if required:
            fields.missing(key, example)
        return None
    if not isinstance(value, list) or len(value) != 3:
        fields.wrong(key, f"three values are due here, like {example}")
        return None
    read = [fields.measured(kind, each, (*fields.steps, key, index)) for index, each in enumerate(value)]
    return (
        None if any(v is None for v in read) else (float(read[0] or 0.0), float(read[1] or 0.0), float(read[2] or 0.0))
    )


def points_in(fields: Fields, key: str, most: int) -> list[tuple[float, float]]:
    """A list of points (x, y)."""
    value = fields.raw(key)
    if value is None:
        return []
    if not isinstance(value, list) or len(value) > most:
        fields.wrong(key, f'a list of at most {most} points is due here, like [["120 mm", "0 mm"], ["580 mm", "0 mm"]]')
        return []
    read = [fields.pair(each, (*fields.steps, key, index)) for index, each in enumerate(value)]
    return [each for each in read if each is not None]


def lengths_in(fields: Fields, key: str) -> tuple[float, ...] | None:
    """A list of lengths, or None."""
    value = fields.raw(key)
    if value is None:
        return None
    if not isinstance(value, list) or len(value) > 50:
        fields.wrong(key, 'a list of lengths is due here, like ["600 mm"]')
        return None
    read = [fields.measured("length", each, (*fields.steps, key, index), above=0.0) for index, each in enumerate(value)]
    return None if any(each is None for each in read) else tuple(float(each or 0.0) for each in read)


def names_in(fields: Fields, key: str) -> Sequence[str]:
    """A list of texts."""
    value: Any = fields.raw(key)
    if value is None:
        return ()
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        fields.wrong(key, 'a list of places of the frame is due here, like ["left tip", "right tip"]')
        return ()
    return [str(each) for each in value]


def read_joint(table: Fields | None, default: Joint) -> Joint:
    """How one end of a member is joined: the keys of a joint table over a default."""
    if table is None:
        return default
    kind = table.choice("kind", JOINT_KINDS, default.kind) or default.kind
    size = table.text("bolt")
    named = None
    if size is not None:
        try:
            named = bolt(size)
        except NotInCatalogue as error:
            table.wrong("bolt", not_listed(error))
    hole, clearance = table.length("hole"), table.length("clearance", low=0.0)
    if hole is not None and clearance is not None:
        table.wrong("clearance", "the hole less the bolt is the clearance; write one of the two")
    if hole is not None and named is None:
        table.wrong("hole", 'a hole says its clearance only beside its bolt; write bolt = "M10" too')
    if hole is not None and named is not None:
        clearance = hole - named.diameter_mm
        if clearance < 0.0:
            table.wrong("hole", f"a hole of {hole:g} mm is smaller than its bolt of {named.diameter_mm:g} mm")
    turn = with_unit(table, "turn_stiffness", TURNING, '"30 kN m/rad"')
    if turn is not None and kind != "bolted":
        table.wrong("turn_stiffness", f'a {kind} joint has none; write kind = "bolted"')
    slip = table.measure("force", "slip", above=0.0)
    source = table.text("slip_from", "", longest=200) or ""
    if slip is not None and not source:
        table.missing("slip_from", '"pulled one with a winch", where the figure comes from')
    throat = table.length("throat", above=0.0)
    if throat is not None and kind != "welded":
        table.wrong("throat", f'a {kind} joint has no weld; write kind = "welded"')
    play = table.measure("angle", "turn_play", 0.0, low=0.0, high=math.radians(20.0)) or 0.0
    joint = Joint(
        kind, turn, max(clearance or 0.0, 0.0), play, slip, source, table.count("bolts", 1, high=20) or 1, size,
        table.text("grade"), bool(table.flag("in_channel", False)), table.length("from_end", low=0.0), throat, True,
    )  # fmt: skip
    table.done()
    return joint


def read_seat(table: Fields) -> tuple[str, Held] | None:
    """A node that sits on a folded part of the job: the node, and how it is held there."""
    mark = table.notebook.mark
    node = table.text("node", required='"left root"')
    part = table.text("part", required='"wall bracket", the name of a [[part]] of this job')
    panel = table.text("on", required='"shelf", one of its panels')
    at = table.point("at", required=True)
    reach = table.length("reach", low=0.0) or 0.0
    side = table.choice("side", ("face", "rear"), "face")
    piece = table.text("piece", "") or ""
    turned = table.measure("angle", "turned", 0.0) or 0.0
    size = table.text("fastener")
    washer = table.length("washer")
    if size is not None:
        try:
            named = bolt(size)
            washer = washer if washer is not None else named.washer.outside_mm
        except NotInCatalogue as error:
            table.wrong("fastener", not_listed(error))
    elif washer is None:
        table.missing("fastener", '"M10", the bolt that clamps it (or washer = "40 mm", how broad what clamps it is)')
    fixing = Fixing(
        "steel", size, table.count("count", 1, high=20) or 1, table.length("apart"), table.text("grade"),
        washer_mm=washer,
    )  # fmt: skip
    table.done()
    if table.notebook.mark != mark or node is None or part is None or panel is None or at is None or washer is None:
        return None
    seat = Seat(part, panel, at, washer, reach, side == "rear", piece, turned)
    return node, Held(node, "clamped", "part", fixing if size is not None else None, None, seat)


def read_fixing(table: Fields | None, default_to: HeldTo) -> tuple[Fixing | None, HeldTo, float | None]:
    """What holds a node: the fixing, what it goes to, and how far that gives."""
    if table is None:
        return None, default_to, None
    mark = table.notebook.mark
    to = table.choice("to", HELD_TO, default_to) or default_to
    backing = table.choice("backing", BACKINGS, "unknown")
    wood = table.text("wood")
    if wood is not None:
        try:
            species(wood)
        except NotInCatalogue as error:
            table.wrong("wood", not_listed(error))
    capacity = None
    given = table.table("capacity")
    if given is not None:
        pull, shear = given.measure("force", "tension", above=0.0), given.measure("force", "shear", above=0.0)
        source = given.text("from", required='"pull test, lowest of three"', longest=200)
        given.done()
        capacity = (source or "", pull, shear)
    fixing = Fixing(
        backing or "unknown", table.text("fastener"), table.count("count", 1, high=50) or 1, table.length("apart"),
        table.text("grade"), table.length("length"), wood, table.length("wood_thickness"),
        bool(table.flag("through", False)), table.length("washer"), capacity,
    )  # fmt: skip
    gives = with_unit(table, "stiffness", STIFFNESS, '"5 kN/mm"')
    table.done()
    return (None if table.notebook.mark != mark else fixing), to, gives
