"""What a part's fixings say before anything is solved: length, washers, places in the wood, slip along a rail, lifting off a cleat."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from steadfold.catalogue import NotInCatalogue, fasteners, profiles, wood
from steadfold.findings import Finding, Severity
from steadfold.job.models import JobPart, Mount
from steadfold.joints.backing import fastener_known
from steadfold.joints.bolts import ENGAGEMENT_D
from steadfold.joints.capacity import FixingCapacity, weakest
from steadfold.joints.cleat import Cleat, hooked, lifts_off
from steadfold.joints.grip import bolt_too_short, grip_of, washer_over_slot
from steadfold.joints.rails import Sliding, sliding, slip_along_slot_n, strut_nut_capacity
from steadfold.joints.wood_en import row_factor
from steadfold.joints.wood_nds import KINDS, group_factor, least_distances
from steadfold.mount.cases import KNOCK_N, SNATCH_FACTOR
from steadfold.mount.fixing_holes import Hole
from steadfold.quantities import weight_n
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold

RAILS = ("T-slot rail", "strut")
IN_WOOD = ("wood stud", "wood board")

COATED_FRICTION = 0.15
"""Friction of powder coat on aluminium or steel, the low end of 0.15 to 0.2 (common practice, no source)."""

WOOD_MODULUS_MPA = 7600.0
"""Of every species of the NDS: 1.1 million psi, the low end of softwood studs (recalled)."""

STEEL_MODULUS_MPA = 2.0e5
BOARDS_MM = (15.0, 18.0, 25.0, 38.0, 63.0, 100.0)
"""Depths of a board or beam that the job does not give: the worst of them counts (judgement)."""

ALONG_BOARD_D = 4.0
"""How much of a board beside a row across it shares the load, in diameters to each side (judgement, low)."""


def fixing_findings(
    ordered: JobPart, mount: Mount, part: Part, holes: Sequence[Hole], pressing_mm: float, density_kg_m3: float
) -> list[Finding]:
    """Every finding about a part's fixings that geometry and statics give. `pressing_mm` is the diameter of the washer or head,
    mm."""
    fastener = fastener_known(mount.fastener)
    found = [
        _too_short(ordered, mount, part, fastener),
        _uncovered(ordered, holes, pressing_mm),
        *_places_in_wood(ordered, mount, holes, fastener),
    ]
    if mount.to in RAILS:
        found.append(_slides(ordered, mount, part, len(holes), density_kg_m3))
    if mount.to == "cleat":
        found.append(_lifts(ordered, mount, part, holes, density_kg_m3))
    return [each for each in found if each is not None]


def sharing_a_row(capacity: FixingCapacity, mount: Mount, part: Part, holes: Sequence[Hole], panel: int) -> FixingCapacity:
    """A screw's capacity with the factor for a group on its shear in the wood, where several stand in a row along the load.

    By the NDS for woods with a specific gravity (1 below 1/4 in), by EN 1995-1-1 along the grain of a stud for those of a
    strength class. Single rows across the load, and what the user gave, stay as they are.
    """
    fastener = fastener_known(mount.fastener)
    if not isinstance(fastener, fasteners.WoodFastener) or mount.capacity is not None:
        return capacity
    if mount.to not in IN_WOOD:
        return capacity
    count, spacing = _longest_row(holes, _down_axis(mount), fastener.diameter_mm)
    if count < 2:
        return capacity
    species = None if mount.wood is None else wood.species(mount.wood)
    if species is not None and species.specific_gravity is None:
        factor = row_factor(count, spacing, fastener.diameter_mm) if mount.to == "wood stud" else 1.0
        source = "EN 1995-1-1, eq. 8.34, recalled"
    elif fastener.kind not in KINDS:
        return capacity
    else:
        extent = part.panels[panel].extent_mm
        across = (extent[1 - _down_axis(mount)] if extent else 0.0) or 4 * fastener.diameter_mm
        factor = min(
            group_factor(
                count,
                spacing,
                fastener.diameter_mm,
                WOOD_MODULUS_MPA,
                area,
                STEEL_MODULUS_MPA,
                across * part.thickness_mm,
            )
            for area in _wood_areas_mm2(mount, fastener.diameter_mm)
        )
        source = "NDS 11.3.6, recalled"
    note = f"{count} in a row along the load: factor {factor:.2f} on shear ({source})"
    links = [_less_shear(each, factor, note) for each in capacity.links or (capacity,)]
    return weakest(tuple(links), capacity.what)


def _wood_areas_mm2(mount: Mount, diameter_mm: float) -> list[float]:
    """Section of the wood that a row shares its load with: the stud's or, where it is not given, that of every stud of the
    catalogue, or a strip of the board."""
    if mount.to == "wood board":
        return [
            2 * ALONG_BOARD_D * diameter_mm * depth for depth in ([mount.board_mm] if mount.board_mm else BOARDS_MM)
        ]
    studs = [wood.stud(mount.stud)] if mount.stud is not None else list(wood.studs())
    return [stud.width_mm * stud.depth_mm for stud in studs]


def _less_shear(capacity: FixingCapacity, factor: float, note: str) -> FixingCapacity:
    if " in wood of " not in capacity.what or capacity.shear_n is None:
        return capacity
    return replace(capacity, shear_n=factor * capacity.shear_n, factor_note=f"{capacity.factor_note}; {note}")


def _down_axis(mount: Mount) -> int:
    """Which of the panel's own directions runs up and down the wall; on a ceiling the second."""
    return 0 if mount.down in ("left", "right") else 1


def _too_short(
    ordered: JobPart, mount: Mount, part: Part, fastener: fasteners.Bolt | fasteners.WoodFastener | None
) -> Finding | None:
    """Whether a bolt reaches through what is known of its stack: sheet, washer, gap, and its nut or thread. What lies behind
    and is not in the job only makes it shorter."""
    if not isinstance(fastener, fasteners.Bolt) or mount.length_mm is None:
        return None
    layers = (part.thickness_mm, fastener.washer.thickness_mm, mount.gap_mm or 0.0)
    if mount.to in RAILS:
        return bolt_too_short(
            grip_of(fastener.size, layers, mount.length_mm, ENGAGEMENT_D["steel"] * fastener.diameter_mm), ordered.name
        )
    if mount.to != "steel":
        return None
    behind = profiles.profile(mount.profile) if mount.profile else None
    wall = float(getattr(behind, "wall_mm", 0.0) or getattr(behind, "thickness_mm", 0.0) or 0.0)
    return bolt_too_short(
        grip_of(fastener.size, (*layers, fastener.washer.thickness_mm, wall), mount.length_mm), ordered.name
    )


def _uncovered(ordered: JobPart, holes: Sequence[Hole], pressing_mm: float) -> Finding | None:
    """The hole that its washer or head covers least, if any is not covered."""
    found = []
    for hole in holes:
        longest = _length_mm(hole)
        each = washer_over_slot(
            longest, hole.width_mm, pressing_mm, f"{ordered.name}, hole at {hole.at_mm[0]:.0f}, {hole.at_mm[1]:.0f} mm"
        )
        if each is not None:
            found.append((longest - pressing_mm, each))
    return max(found, key=lambda pair: pair[0])[1] if found else None


def _length_mm(hole: Hole) -> float:
    """The greatest length of an opening."""
    corners = np.asarray(hole.outline.polygon().minimum_rotated_rectangle.exterior.coords)
    round_one = hole.outline.circle
    return hole.width_mm if round_one is not None else float(np.hypot(*np.diff(corners[:3], axis=0).T).max())


def _longest_row(holes: Sequence[Hole], down_axis: int, diameter_mm: float) -> tuple[int, float]:
    """How many fixings stand in one row along the load at the most, and the least spacing in that row."""
    best = (1, math.inf)
    for hole in holes:
        row = sorted(
            other.at_mm[down_axis]
            for other in holes
            if abs(other.at_mm[1 - down_axis] - hole.at_mm[1 - down_axis]) < diameter_mm
        )
        if len(row) > 1:
            best = max(best, (len(row), float(np.diff(row).min())), key=lambda r: (r[0], -r[1]))
    return best


def _places_in_wood(
    ordered: JobPart, mount: Mount, holes: Sequence[Hole], fastener: fasteners.Bolt | fasteners.WoodFastener | None
) -> list[Finding]:
    """Screws nearer to each other, or to a stud's edge, than wood bears without splitting."""
    if mount.to not in IN_WOOD or not isinstance(fastener, fasteners.WoodFastener):
        return []
    least = least_distances(f"{fastener.kind} {fastener.size}")
    found = []
    pairs = [(math.dist(a.at_mm, b.at_mm), a, b) for i, a in enumerate(holes) for b in holes[i + 1 :]]
    apart, one, two = min(pairs, key=lambda pair: pair[0], default=(math.inf, None, None))
    if apart < least.spacing_mm - 1e-6 and one is not None and two is not None:
        found.append(
            Finding(
                "screws-split-wood",
                Severity.CAUTION,
                f"{ordered.name}, holes at {one.at_mm[0]:.0f}, {one.at_mm[1]:.0f} and {two.at_mm[0]:.0f}, {two.at_mm[1]:.0f} mm",
                f"Two screws stand {apart:.1f} mm apart; nearer than {least.spacing_mm:.1f} mm they split the wood.",
                apart,
                least.spacing_mm,
                least.source,
                f"move the holes {least.spacing_mm - apart:.1f} mm apart, or take a thinner screw",
            )
        )
    stud = wood.stud(mount.stud) if mount.stud is not None else None
    if mount.to == "wood stud" and stud is not None:
        level = 1 - _down_axis(mount)
        beside = [
            abs(a.at_mm[level] - b.at_mm[level])
            for _, a, b in pairs
            if abs(a.at_mm[level] - b.at_mm[level]) < stud.width_mm
        ]
        edge = 0.5 * (stud.width_mm - max(beside, default=0.0))
        if edge < least.edge_mm - 1e-6:
            most = stud.width_mm - 2 * least.edge_mm
            found.append(
                Finding(
                    "screws-split-wood",
                    Severity.CAUTION,
                    ordered.name,
                    f"Side by side in one stud, {max(beside, default=0.0):.1f} mm apart, its screws come within {edge:.1f} mm of the"
                    f" edges of a stud of {stud.width_mm:g} mm; {least.edge_mm:.1f} mm are wanted.",
                    edge,
                    least.edge_mm,
                    least.source,
                    f"bring them within {most:.1f} mm of each other, or one above the other on the middle of the stud"
                    if most >= least.spacing_mm
                    else "put them one above the other on the middle of the stud, or take a thinner screw",
                )
            )
    return found


def _weights(ordered: JobPart, part: Part, density_kg_m3: float) -> tuple[float, float]:
    """Weight of everything carried at its greatest mass and of the part itself, N."""
    items = sum(weight_n(each.total_kg.high) for each in ordered.carries)
    return items, weight_n(part.volume_mm3 * density_kg_m3 * 1e-9)


def _slides(ordered: JobPart, mount: Mount, part: Part, nuts: int, density_kg_m3: float) -> Finding | None:
    """Whether friction alone keeps the part from sliding along its rail: under its load where the rail stands upright, under a
    knock where it lies level."""
    items, own = _weights(ordered, part, density_kg_m3)
    refused = ordered.cases.refused
    snatch = 1.0 if "snatch_factor" in refused else ordered.cases.snatch_factor or SNATCH_FACTOR
    knock = 0.0 if "knock" in refused else ordered.cases.knock_n if ordered.cases.knock_n is not None else KNOCK_N
    level = mount.rail == "level"
    along = knock if level else snatch * items + own
    slip, said, source = _slip_n(mount)
    if slip is None:
        if level:
            return None  # what a knock shifts sideways falls no way; nothing promised, nothing said
        how = (
            "Its rail stands upright, so that only friction keeps the part from sliding down it"
            if mount.rail == "upright"
            else "The job does not say whether its rail lies level; on an upright one only friction keeps the part up"
        )
        return Finding(
            "slides-down",
            Severity.UNPROVEN,
            ordered.name,
            f"{how}, and how hard its bolts press is not known: {along:.0f} N pull along the slot.",
            along,
            None,
            "Coulomb friction; practice of strut load tables: no slip for a load that hangs straight down",
            'say rail = "level", or clamp = what a bolt presses with (torque / 0.2 of its diameter); on an upright rail put a stop or a'
            " bolt through the rail below it",
        )
    found = sliding(along, nuts, slip, not level)
    if not found.needs_stop:
        return None
    return _slips(ordered, found, along, nuts, said, source, level)


def _slips(ordered: JobPart, found: Sliding, along: float, nuts: int, said: str, source: str, level: bool) -> Finding:
    falls = found.share > 1.0 and not level
    what = "A stray knock" if level else "The load and the part"
    say = f"{what} of {along:.0f} N along the slot {'use' if not level else 'uses'} {found.share:.2f} of the {found.holds_n:.0f} N that"
    say += f" {nuts} bolts hold by friction ({said})"
    if falls:
        say += ": it slides down"
    elif level:
        say += ": it can be pushed along the rail"
    else:
        say += ": it stays while the bolts stay tight"
    return Finding(
        "slides-down",
        Severity.STOP if falls else Severity.NOTE if level else Severity.CAUTION,
        ordered.name,
        f"{say}.",
        along,
        found.holds_n,
        source,
        "tighten harder, take more bolts, or put a stop below it"
        if not level
        else "put a stop beside it, where it matters",
    )


def _slip_n(mount: Mount) -> tuple[float | None, str, str]:
    """What one bolt holds along the slot by friction (N), how that was counted, and its source; None where nobody knows."""
    fastener = fastener_known(mount.fastener)
    if mount.to == "strut" and isinstance(fastener, fasteners.Bolt) and mount.profile is not None:
        try:
            nut = strut_nut_capacity(fastener.size, mount.profile)
        except NotInCatalogue:
            nut = None
        if nut is not None and nut.shear_n is not None:
            return nut.shear_n, nut.factor_note, nut.source
    if mount.clamp_n is None:
        return None, "", ""
    slip = slip_along_slot_n(COATED_FRICTION, mount.clamp_n, math.inf)
    said = f"{COATED_FRICTION:g} × {mount.clamp_n:.0f} N / 2 each"
    return slip, said, "Coulomb friction of powder coat, factor 2: common practice, no source; the clamp is the job's"


def _lifts(ordered: JobPart, mount: Mount, part: Part, holes: Sequence[Hole], density_kg_m3: float) -> Finding | None:
    """Whether a knock from below unhooks the part, or its cleat's sloping face lets it climb off."""
    if mount.face_rad is None or mount.hook_mm is None:
        missing = " and ".join(
            word
            for word, value in (("how steep its face is", mount.face_rad), ("how deep it hooks", mount.hook_mm))
            if value is None
        )
        return Finding(
            "lifts-off",
            Severity.UNPROVEN,
            ordered.name,
            f"A cleat holds by hooking, and the job does not say {missing}: whether a knock lifts the part off is not known.",
            None,
            None,
            "statics",
            'say face = "45 deg" and hook = "12 mm" in the mount; a screw against lifting in any case',
        )
    axis = _down_axis(mount)
    corners = np.concatenate([np.asarray(face.outer.points) for face in part.panels[_panel(part, mount)].faces])
    places = [hole.at_mm[axis] for hole in holes]
    up = mount.down in ("bottom", "left")
    foot = float(corners[:, axis].min() if up else corners[:, axis].max())
    height = max(abs(place - foot) for place in places)
    cleat = Cleat(mount.face_rad, mount.hook_mm, height)
    items, own = _weights(ordered, part, density_kg_m3)
    out = _overhang_mm(ordered, part)
    knock = (
        0.0
        if "knock" in ordered.cases.refused
        else ordered.cases.knock_n
        if ordered.cases.knock_n is not None
        else KNOCK_N
    )
    loaded, bare = hooked(cleat, items + own, out), lifts_off(cleat, own, out, knock, out)
    if loaded.slide_share > 1.0:
        return Finding(
            "lifts-off",
            Severity.STOP,
            ordered.name,
            f"At rest the cleat's face of {math.degrees(cleat.face_rad):.0f}° takes {1 / loaded.slide_share:.2f} of the"
            f" {loaded.pull_n:.0f} N that pull the part off the wall: it climbs the face and comes off.",
            loaded.slide_share,
            1.0,
            "statics, no friction counted",
            "a steeper face, a cleat higher above the part's foot, or a screw through it into the wall",
        )
    if not bare and not lifts_off(cleat, items + own, out, knock, out):
        return None
    when = "with everything on" if lifts_off(cleat, items + own, out, knock, out) else "when it is empty"
    return Finding(
        "lifts-off",
        Severity.CAUTION,
        ordered.name,
        f"A knock of {knock:.0f} N from below lifts it off its cleat {when}: it weighs {own:.1f} N itself and hooks {cleat.deep_mm:g} mm.",
        knock,
        items + own if when == "with everything on" else own,
        "statics, no friction counted; the knock: common practice, no source",
        "a screw or a tongue against lifting",
    )


def _panel(part: Part, mount: Mount) -> int:
    return part.panel_index(mount.holes) if mount.holes is not None else 0


def _overhang_mm(ordered: JobPart, part: Part) -> float:
    """How far out from the wall the load's centre may be: the furthest that the part itself reaches, and its items' reach
    more."""
    pose = fold(part)
    panel = _panel(part, ordered.mount) if ordered.mount is not None else 0
    own = pose.panels[panel]
    reach = 0.0
    for other, place in zip(part.panels, pose.panels, strict=True):
        corners = np.concatenate([np.asarray(face.outer.points) for face in other.faces])
        reach = max(reach, float(np.abs((place.points(corners) - own.origin) @ own.face).max()))
    return reach
