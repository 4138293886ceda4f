"""One fixing in whatever stands behind: the chain of sheet, fastener and backing, and what of it is proven."""

import math
import re

from steadfold.catalogue import fasteners, profiles, wood
from steadfold.catalogue.tables import NotInCatalogue
from steadfold.findings import Finding, Severity
from steadfold.joints.bolts import bolt_capacity, tapped_thread
from steadfold.joints.capacity import FixingCapacity, given, unproven, weakest
from steadfold.joints.cleat import cleat_capacity, magnet_capacity
from steadfold.joints.rails import strut_nut_capacity, t_nut_capacity
from steadfold.joints.sheet_hole import SheetHole, sheet_capacity
from steadfold.joints.wood_en import en_capacity
from steadfold.joints.wood_nds import nds_capacity

BACKINGS = (
    "T-slot rail", "wood stud", "wood board", "steel stud", "masonry", "cleat", "strut", "steel", "unknown",
)  # fmt: skip
"""What a fixing may go into; the words of the job file."""

UNKNOWN_WOOD_GRAVITY = 0.35
"""Lightest group the printed tables of the NDS hold; counted where the wood is not named."""

EN_DURATION = {
    "permanent": "permanent", "ten years": "long", "two months": "medium", "seven days": "short",
    "ten minutes": "instantaneous", "impact": "instantaneous",
}  # fmt: skip
"""NDS load durations beside the nearest of EN 1995-1-1, so that one word serves both."""

WALL_REASONS = {
    "masonry": "what a plug or anchor holds in this wall is not known: brick, block and mortar differ tenfold",
    "steel stud": "thin steel studs behind board have no rating here: their gauge, and whether the screw bites, is not"
    " known",
    "unknown": "what is behind the part is not known",
}


def fastener_named(text: str) -> fasteners.Bolt | fasteners.WoodFastener:
    """The bolt or wood screw that a person means: 'M8', 'M8 8.8', '3/8', 'lag screw 1/4', '1/4 in lag',
    '#14 wood screw', 'coach screw 8 mm'. Raises NotInCatalogue.
    """
    words = " ".join(text.replace('"', " ").casefold().split())
    kind = next((kind for key, kind in _KINDS if key in words), None)
    if kind is None:
        return fasteners.bolt(_STRENGTH.sub(" ", text).strip())
    size = re.search(r"#\s*\d+|\d+/\d+|(?<![\d/])\d+(?!/)", words)
    if size is not None:
        number = size.group().replace(" ", "")
        if kind == "coach screw":
            number = f"d{number.lstrip('#')}"
        elif kind == "wood screw" and not number.startswith("#"):
            number = f"#{number}"
        name = f"{kind} {number}"
        if name in fasteners.wood_fastener_names():
            return fasteners.wood_fastener(name)
    raise NotInCatalogue("wood screw", text, fasteners.wood_fastener_names())


def fastener_known(text: str | None) -> fasteners.Bolt | fasteners.WoodFastener | None:
    """The same; None where nothing is named, or nothing that the catalogue holds."""
    try:
        return None if text is None else fastener_named(text)
    except NotInCatalogue:
        return None


def is_magnet(text: str | None) -> bool:
    """Whether a fixing is a magnet, which no catalogue rates."""
    return text is not None and "magnet" in text.casefold()


def strength_named(text: str) -> str | None:
    """The strength class in the name of a bolt ('M8 8.8', '3/8 grade 5'); None where it says none."""
    found = _STRENGTH.search(text)
    return None if found is None else " ".join(found.group().split())


_STRENGTH = re.compile(r"(?<![\d.])(?:4\.6|4\.8|5\.8|8\.8|10\.9)(?![\d.])|\bA2-70\b|\bgrade\s+\d+", re.IGNORECASE)

_KINDS = (
    ("coach screw", "coach screw"), ("coach", "coach screw"), ("lag", "lag screw"), ("wood screw", "wood screw"),
    ("woodscrew", "wood screw"),
)  # fmt: skip


def hold(
    backing: str,
    fastener: str | None,
    *,
    sheet: SheetHole | None = None,
    strength: str | None = None,
    length_mm: float | None = None,
    washer_thickness_mm: float = 0.0,
    wood_name: str | None = None,
    wood_depth_mm: float | None = None,
    gap_mm: float = 0.0,
    across_grain: float = math.pi / 2.0,
    duration: str = "permanent",
    wet: bool = False,
    profile: str | None = None,
    slot_weight: str | None = None,
    from_end_mm: float | None = None,
    tapped_mm: float | None = None,
    tapped_in: str = "steel",
    capacity: tuple[str, float | None, float | None] | None = None,
) -> FixingCapacity:
    """What one fixing of a part may carry in its backing: sheet, fastener and backing as links of one chain.

    `backing` is one of `BACKINGS`. `sheet` adds the metal around the hole (pull-over, bearing); for screws in wood it
    also says how thick and strong the side member is. `capacity` is what the user has evidence for, as (source, tension
    N, shear N): it takes the place of the backing's link; the sheet and, for machine screws, the bolt stay. A direction
    it leaves out falls back to nothing known.

    Wood: `wood_name` of the catalogue (without it the lightest softwood counts, unproven), `wood_depth_mm` (without it
    the wood counts as deeper than the screw reaches), `gap_mm` of plasterboard or air, `across_grain` the angle from
    load to grain (rad; across where not given), `duration` in the NDS's words. T-slot rail: `profile` or `slot_weight`
    ('economy', 'light', 'standard'). Strut: `profile`, `from_end_mm`. Steel: `tapped_mm` of thread (None: a nut).

    Raises ValueError for an unknown backing, NotInCatalogue for an unknown wood or profile, and for an unknown fastener
    but with a capacity or in a wall that wants one.
    """
    if backing not in BACKINGS:
        raise ValueError(f"no backing called {backing!r}; there are {', '.join(BACKINGS)}")
    what = f"{fastener or 'fixing'} in {backing}"
    wood.load_duration_factor(duration)
    try:
        named = None if fastener is None else fastener_named(fastener)
    except NotInCatalogue:
        if capacity is None and backing not in WALL_REASONS and not is_magnet(fastener):
            raise
        named = None  # an anchor: what it holds there is the user's to say, and no catalogue lists it
    strength = strength or (None if fastener is None else strength_named(fastener))
    screw = named if isinstance(named, fasteners.WoodFastener) else None
    bolt = named if isinstance(named, fasteners.Bolt) else None
    if screw is not None and backing in ("T-slot rail", "strut", "steel"):
        return unproven(f"a {screw.kind} holds nothing in a {backing}: it wants a machine screw", what)

    links: list[FixingCapacity] = []
    if sheet is not None:
        diameter = screw.diameter_mm if screw else bolt.diameter_mm if bolt else sheet.hole_mm
        links.append(sheet_capacity(sheet, diameter, _ultimate_of(bolt, strength)))
    if bolt is not None:
        links.append(bolt_capacity(bolt.size, strength))
    if capacity is not None:
        links.append(given(*capacity, what=what))
    elif is_magnet(fastener):
        links.append(magnet_capacity())
    elif backing in WALL_REASONS:
        links.append(unproven(f"{WALL_REASONS[backing]}; test one and write the result into the job", what))
    elif backing == "cleat":
        links.append(cleat_capacity())
    elif backing == "T-slot rail":
        links.append(_in_slot(bolt, strength, profile, slot_weight, what))
    elif backing == "strut":
        links.append(_in_strut(bolt, profile, from_end_mm, what))
    elif backing == "steel":
        links += _in_steel(bolt, tapped_mm, tapped_in, what)
    else:
        links.append(
            _in_wood(
                screw,
                bolt,
                sheet,
                length_mm,
                washer_thickness_mm,
                wood_name,
                wood_depth_mm,
                gap_mm,
                across_grain,
                duration,
                wet,
                what,
            )
        )
    return weakest(tuple(links), what)


def pressing_mm(fastener: str, washer_mm: float | None = None) -> float:
    """Diameter of what presses on the sheet: the washer where there is one, else the head (across flats), mm.

    AISI S100 counts a washer only from 1.27 mm of thickness on (recalled).
    """
    each = fastener_named(fastener)
    head = each.across_flats_mm if isinstance(each, fasteners.Bolt) else each.head_mm
    return head if washer_mm is None else max(head, washer_mm)


def unproven_finding(backing: str, capacity: FixingCapacity, place: str) -> Finding | None:
    """The finding that nobody vouches for what is behind a part; None where its capacity is proven."""
    if capacity.proven:
        return None
    wall = backing in WALL_REASONS
    return Finding(
        "wall-unknown" if wall else "capacity-unproven",
        Severity.UNPROVEN,
        place,
        f"{capacity.why_unproven[0].upper()}{capacity.why_unproven[1:]}.",
        source=capacity.source,
        remedy='a capacity in the job with its source: tension, shear and from = "pull test, lowest of three"',
    )


def wall_finding(place: str, why: str) -> Finding:
    """The finding that a wall the job names proves nothing."""
    return Finding(
        "wall-unknown",
        Severity.UNPROVEN,
        place,
        f"Not rated there: {why}.",
        source="none",
        remedy='a capacity for that wall with its source: tension, shear and from = "pull test, lowest of three"; or take'
        " the wall out of the job",
    )


def soft_gap(
    gap_mm: float, with_gap_n: float | None, without_n: float | None, gap_of: str, place: str
) -> Finding | None:
    """The finding that a soft layer takes shear off a screw; None without a gap, or where less than a tenth goes."""
    if gap_mm <= 0.0 or not with_gap_n or not without_n or with_gap_n > 0.9 * without_n:
        return None
    return Finding(
        "soft-gap",
        Severity.CAUTION,
        place,
        f"{gap_mm:g} mm of {gap_of or 'gap'} between sheet and wood leave {100.0 * with_gap_n / without_n:.0f} % of a"
        " screw's shear",
        value=with_gap_n,
        limit=without_n,
        source="AWC TR12, general dowel equations, recalled",
        remedy="a plywood board screwed to the studs first, or more screws",
    )


_WEIGHT = (("light", "light"), ("heavy", "standard"))
"""Weight of a profile of the catalogue in the words of its nut ratings."""


def _ultimate_of(bolt: fasteners.Bolt | None, strength: str | None) -> float:
    if bolt is None or strength is None:
        return 400.0
    return fasteners.grade(strength).ultimate_mpa


def _in_slot(
    bolt: fasteners.Bolt | None, strength: str | None, profile: str | None, weight: str | None, what: str
) -> FixingCapacity:
    if bolt is None:
        return unproven("a rail wants a machine screw and its nut; none is named", what)
    slot = profiles.profile(profile) if profile else None
    width = slot.slot_mm if isinstance(slot, profiles.TSlot) else 8.0
    if slot is not None and not isinstance(slot, profiles.TSlot):
        return unproven(f"{profile} is no T-slot profile", what)
    if weight is None and slot is not None:
        weight = next((weight for word, weight in _WEIGHT if word in slot.id), None)
    return t_nut_capacity(weight, bolt.size, strength, width)


def _in_strut(bolt: fasteners.Bolt | None, profile: str | None, from_end_mm: float | None, what: str) -> FixingCapacity:
    if bolt is None:
        return unproven("strut wants a machine screw and a channel nut; none is named", what)
    if profile is None:
        return unproven("which strut channel it is is not given", what)
    if not isinstance(profiles.profile(profile), profiles.StrutChannel):
        return unproven(f"{profile} is no strut channel", what)
    return strut_nut_capacity(bolt.size, profile, from_end_mm)


def _in_steel(bolt: fasteners.Bolt | None, tapped_mm: float | None, tapped_in: str, what: str) -> list[FixingCapacity]:
    if bolt is None:
        return [unproven("steel wants a machine screw; none is named", what)]
    thread = None if tapped_mm is None else tapped_thread(bolt.size, tapped_mm, tapped_in)
    return [] if thread is None else [thread]


def _in_wood(
    screw: fasteners.WoodFastener | None,
    bolt: fasteners.Bolt | None,
    sheet: SheetHole | None,
    length_mm: float | None,
    washer_mm: float,
    wood_name: str | None,
    wood_depth_mm: float | None,
    gap_mm: float,
    across_grain: float,
    duration: str,
    wet: bool,
    what: str,
) -> FixingCapacity:
    if screw is None:
        if bolt is None:
            return unproven("which screw goes into the wood is not given", what)
        return unproven(
            f"a machine screw ({bolt.size}) holds in wood only with washer and nut behind it, which has no rating here:"
            " use a lag screw, or give its capacity",
            what,
        )
    if length_mm is None:
        return unproven("the length of the screw is not given", what)
    if sheet is None:
        return unproven("the sheet the screw goes through is not given", what)
    name = f"{screw.kind} {screw.size}"
    species = None if wood_name is None else wood.species(wood_name)
    if species is not None and species.specific_gravity is None and species.density_k_kg_m3 is not None:
        try:
            return en_capacity(
                name, species.density_k_kg_m3, length_mm, sheet.thickness_mm, gap_mm, washer_mm, across_grain,
                EN_DURATION[duration], 3 if wet else 1, wood_depth_mm=wood_depth_mm,
            )  # fmt: skip
        except NotInCatalogue:
            return unproven(
                f"EN 1995-1-1, 8.7.2(4) covers screws of 6 to 12 mm; what a {name} holds in {species.id} is its maker's"
                " to declare",
                what,
            )
    if screw.kind == "coach screw":
        return unproven(
            f"no published rule at hand for a metric coach screw in {wood_name or 'a wood that is not named'}: name its"
            " class (C16, C24), or use a lag screw",
            what,
        )
    gravity = species.specific_gravity if species is not None else None
    found = nds_capacity(
        name, gravity or UNKNOWN_WOOD_GRAVITY, length_mm, sheet.thickness_mm, sheet.ultimate_mpa, gap_mm, washer_mm,
        across_grain, duration, wet, wood_depth_mm=wood_depth_mm,
    )  # fmt: skip
    if gravity is not None:
        return found
    why = f"the wood is not named; the lightest softwood (gravity {UNKNOWN_WOOD_GRAVITY:g}) was counted"
    return weakest((_doubted(found.links[0], why), *found.links[1:]), found.what)


def _doubted(capacity: FixingCapacity, why: str) -> FixingCapacity:
    """The same numbers, vouched for by nobody: `why` says what is missing."""
    reason = f"{capacity.why_unproven}; {why}" if capacity.why_unproven else why
    return FixingCapacity(
        capacity.tension_n, capacity.shear_n, capacity.source, False, reason, capacity.factor_note,
        capacity.interaction, capacity.what,
    )  # fmt: skip
