"""How a part is fixed, as the sheets need it: the panel, its holes, the fixing in words, and what to buy and drill."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.catalogue import NotInCatalogue, fasteners, wood
from steadfold.deliver.drawing.openings import show
from steadfold.job.models import Mount
from steadfold.joints.backing import fastener_known, strength_named
from steadfold.joints.grip import Hardware, grip_of, hardware_for
from steadfold.joints.wood_nds import lead_hole
from steadfold.mount.fixing_holes import Hole, fixing_holes, unknown_fastener_mm
from steadfold.mount.records import Fixings, MountError
from steadfold.quantities.showing import Units
from steadfold.review import PartReview

IN_WOOD = ("wood stud", "wood board")
RAILS = ("T-slot rail", "strut")
ENGAGED_DIAMETERS = 1.2
"""Thread wanted in a nut that slides in a rail, in diameters (common practice, no source)."""

LIGHT_WOOD = 0.42
"""Specific gravity to drill by where the wood is not named: spruce, pine, fir (NDS group)."""


@dataclass(frozen=True)
class Fixed:
    """The panel that takes the fixings, by its index, with its holes from left to right, and the job's mount."""

    panel: int
    holes: tuple[Hole, ...]
    mount: Mount


def fixed_of(part: PartReview) -> Fixed | None:
    """How a part is fixed; None without a mount or where no hole takes its fixing."""
    mount = part.ordered.mount
    if mount is None or part.part is None:
        return None
    try:
        panel = 0 if mount.holes is None else part.part.panel_index(mount.holes)
        fastener = fastener_known(mount.fastener)
        diameter = fastener.diameter_mm if fastener is not None else unknown_fastener_mm(part.part, panel)
        wanted = Fixings(panel, diameter, 1.0, 1.0, 1.0, 1.0, None, mount.down, mount.hole_mm)
        return Fixed(panel, fixing_holes(part.part, wanted), mount)
    except (KeyError, MountError):
        return None


def fixing_words(mount: Mount, units: Units = "mm") -> str:
    """The fixing in words: `lag screw 1/4", 60 mm long`."""
    words = fasteners.fastener_words(mount.fastener) if mount.fastener else "a fixing the job does not name"
    if mount.grade:
        words += f", {mount.grade}"
    if mount.length_mm is not None:
        words += f", {show(mount.length_mm, units)} {units} long"
    return words


def backing_words(mount: Mount, units: Units = "mm") -> str:
    """What the fixing goes into, in words."""
    words: str = "an unknown wall" if mount.to == "unknown" else mount.to
    if mount.wood:
        words += f" of {mount.wood}"
    if mount.gap_mm:
        words += f" behind {show(mount.gap_mm, units)} {units} of {mount.gap_of or 'a soft layer'}"
    if mount.profile:
        words += f" ({mount.profile})"
    return words


def hardware(part: PartReview, fixed: Fixed) -> tuple[Hardware, ...]:
    """What to buy to fix one part: screws, washers, nuts, with their lengths as far as the job tells them."""
    mount, count = fixed.mount, len(fixed.holes)
    fastener = fastener_known(mount.fastener)
    if fastener is None:
        return (
            Hardware(fixing_words(mount), count, "", "not in the catalogue: length and washer are yours to choose"),
        )
    if isinstance(fastener, fasteners.WoodFastener):
        length = "length not in the job" if mount.length_mm is None else f"{mount.length_mm:g} mm long"
        screw = fasteners.fastener_words(f"{fastener.kind} {fastener.size}")
        lines = [Hardware(f"{screw}, {length}", count, "", "")]
        if fastener.kind != "wood screw" or mount.washer_mm is not None:
            lines.append(Hardware(f"washer for {screw}", count, "", ""))
        return tuple(lines)
    strength = mount.grade or (strength_named(mount.fastener) if mount.fastener else None) or "8.8"
    sheet = part.thickness_mm or 0.0
    if mount.to in RAILS:
        grip = grip_of(
            fastener.size,
            (sheet, fastener.washer.thickness_mm),
            mount.length_mm,
            ENGAGED_DIAMETERS * fastener.diameter_mm,
        )
        nut = "T-slot nut" if mount.to == "T-slot rail" else "channel nut"
        note = "the nut must suit the rail's slot"
        return (
            *hardware_for(grip, count, strength, None, 1),
            Hardware(f"{fastener.size} {nut}", count, "as its maker has it", note),
        )
    if mount.to in IN_WOOD:
        return (
            Hardware(
                f"{fastener.size} screw or bolt {strength}, through", count, "", "long enough for the board and its nut"
            ),
            Hardware(f"{fastener.size} plain washer", 2 * count, "ISO 7089", ""),
        )
    grip = grip_of(fastener.size, (sheet, 2 * fastener.washer.thickness_mm), mount.length_mm)
    return hardware_for(grip, count, strength)


def drill_words(mount: Mount, units: Units = "mm") -> str:
    """What to drill for one fixing, in a sentence with its source."""
    fastener = fastener_known(mount.fastener)
    if isinstance(fastener, fasteners.WoodFastener):
        gravity = LIGHT_WOOD
        if mount.wood is not None:
            try:
                gravity = wood.species(mount.wood).specific_gravity or LIGHT_WOOD
            except NotInCatalogue:
                gravity = LIGHT_WOOD
        if fastener.kind == "coach screw":
            drill = show(0.7 * fastener.diameter_mm, units)
            return f"Drill {drill} {units} for the thread (70 % of its diameter; common practice)."
        hole = lead_hole(f"{fastener.kind} {fastener.size}", gravity)
        if hole.thread_mm is None:
            shank = show(hole.shank_mm, units)
            return f"No pilot hole is needed in wood this light; {shank} {units} for the shank ({hole.source})."
        low, high = hole.thread_mm
        span = show(low, units) if math.isclose(low, high) else f"{show(low, units)} to {show(high, units)}"
        return (
            f"Drill {span} {units} for the thread, {show(hole.shank_mm, units)} {units} for the shank ({hole.source})."
        )
    if mount.to in RAILS:
        return "Nothing to drill: the nuts slide in the rail."
    if fastener is not None and mount.to in ("steel", *IN_WOOD):
        drill = show(fastener.clearance_hole_mm(), units)
        return f"Drill {drill} {units}, clear of the thread ({fastener.clearance_source.sentence})."
    return "Drill as the maker of the plug or anchor says."
