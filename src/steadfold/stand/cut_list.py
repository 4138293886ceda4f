"""What to cut: lengths, both end angles, how the saw is set, where the holes go, and out of which stock lengths.

End angles are counted from a square cut: 0 is square, 60 is a long point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.catalogue import NotInCatalogue, fasteners
from steadfold.catalogue.profiles import StrutChannel, profile
from steadfold.catalogue.stock import stock_lengths
from steadfold.stand.nesting import Nested, Piece, nested
from steadfold.stand.records import Joint, Member, Place, Stand, Workshop
from steadfold.stand.section import Section
from steadfold.stand.structure import Built, angle_between_rad, built

SQUARE_RAD = math.radians(0.5)
"""Ends within this of square are cut square."""

SHALLOWEST_RAD = math.radians(10.0)
"""Below this angle between two members no end cut makes them meet; the end is cut square."""

STEP_DRILL_FROM_MM = 10.0
"""Holes from here on in thin metal are opened with a step drill; common practice, no source."""


@dataclass(frozen=True)
class SawSetting:
    """How one end is cut.

    `from_square_rad` is the cut's angle, `set_rad` what the saw is set to. `against_block` where the saw cannot
    reach the angle: the stock stands square to the fence, against a block, and the saw is set to the complement.
    `reachable` is False where neither way fits the saw.
    """

    from_square_rad: float
    set_rad: float
    against_block: bool
    reachable: bool

    @property
    def say(self) -> str:
        """The setting in words."""
        angle = math.degrees(self.from_square_rad)
        if self.from_square_rad == 0.0:
            return "square"
        if not self.reachable:
            return f"{angle:.1f}° from square: mark it with the template and cut by hand or with a thin disc"
        if self.against_block:
            return (
                f"{angle:.1f}° from square: clamp the piece square to the fence against a block, saw at"
                f" {math.degrees(self.set_rad):.1f}°"
            )
        return f"{angle:.1f}° from square: saw at {math.degrees(self.set_rad):.1f}°"


@dataclass(frozen=True)
class EndCut:
    """One end of a piece: setting, the member it meets (None: free end), and how far its centre line stops short."""

    setting: SawSetting
    meets: str | None
    short_mm: float


@dataclass(frozen=True)
class Hole:
    """A hole on the centre line of a piece: place from its first long point, diameter, and how to make it."""

    at_mm: float
    diameter_mm: float
    how: str
    bolt: str


@dataclass(frozen=True)
class CutPiece:
    """One piece to cut.

    `node_mm` between its nodes, `centre_mm` along its centre line when cut, `long_mm` from long point to long point:
    what is measured off the stock. `same_side` is True where both long points lie on one side of it (a trapezium),
    so that the stock is turned over between the cuts.
    """

    name: str
    profile: str
    node_mm: float
    centre_mm: float
    long_mm: float
    ends: tuple[EndCut, EndCut]
    same_side: bool
    holes: tuple[Hole, ...]
    mass_kg: float


@dataclass(frozen=True)
class CutList:
    """All pieces, how they nest into stock lengths of each profile, and the rods to cut."""

    pieces: tuple[CutPiece, ...]
    stock: tuple[tuple[str, Nested], ...]
    rods: tuple[tuple[str, str, float], ...]


def saw_setting(from_square_rad: float, reach_rad: float) -> SawSetting:
    """How a mitre saw that swings up to `reach_rad` from square cuts an end.

    Beyond its reach, the complement with the piece square to the fence: 60° from square is cut at 30°.

    >>> saw_setting(math.radians(60.0), math.radians(50.0)).against_block
    True
    """
    angle = abs(from_square_rad)
    if angle <= SQUARE_RAD:
        return SawSetting(0.0, 0.0, False, True)
    if angle <= reach_rad + 1e-9:
        return SawSetting(angle, angle, False, True)
    complement = math.pi / 2.0 - angle
    return SawSetting(angle, complement, True, complement <= reach_rad + 1e-9)


def cut_list(stand: Stand) -> CutList:
    """The cut list of a stand. Raises StandError for what makes no frame."""
    ready = built(stand)
    pieces = tuple(_piece(ready, index) for index in range(len(stand.members)))
    stock = []
    for name in dict.fromkeys(each.profile for each in pieces):
        wanted = tuple(Piece(each.name, each.long_mm) for each in pieces if each.profile == name)
        stock.append((name, nested(wanted, stock_for(name, stand.workshop), stand.workshop.kerf_mm)))
    rods = tuple(
        (rod.name, rod.size, rod_cut_mm(length, rod.size))
        for rod, length in zip(stand.tie_rods, ready.rods_mm, strict=True)
    )
    return CutList(pieces, tuple(stock), rods)


def rod_cut_mm(between_mm: float, size: str) -> float:
    """Length to cut of a tie rod: between its nodes, and at each end washer, nut and two diameters to turn on.

    Common practice, no source.
    """
    bolt = fasteners.bolt(size)
    end = bolt.washer.thickness_mm + 0.8 * bolt.diameter_mm + 2.0 * bolt.diameter_mm
    return between_mm + 2.0 * end


def stock_for(name: str, workshop: Workshop) -> tuple[float, ...]:
    """Stock lengths of a profile: the workshop's own, else what is sold."""
    if name in workshop.stock_mm:
        return tuple(workshop.stock_mm[name])
    each = profile(name)
    inch = " ga" in name or " in" in name
    kind = {"StrutChannel": "strut", "TSlot": "T-slot", "Timber": "timber"}.get(type(each).__name__, "bar")
    try:
        return stock_lengths(kind, "inch" if inch else "metric").lengths_mm
    except NotInCatalogue:
        return stock_lengths(kind, "metric").lengths_mm


def _piece(ready: Built, index: int) -> CutPiece:
    member, section, length = ready.stand.members[index], ready.sections[index], ready.lengths_mm[index]
    cuts = (_end(ready, index, 0), _end(ready, index, 1))
    centre = length - sum(cut.short_mm for cut in cuts)
    depth = section.outside_mm[1]
    leans = [_lean(ready, index, end) for end in (0, 1)]
    overs = [0.5 * depth * math.tan(cut.setting.from_square_rad) for cut in cuts]
    # long points on one side add their overhangs; on opposite sides each adds its own to its end
    same_side = leans[0] * leans[1] < 0.0 if min(abs(leans[0]), abs(leans[1])) > 0.0 else True
    long_mm = centre + sum(overs)
    return CutPiece(
        member.name, member.profile, length, centre, long_mm, cuts, same_side,
        _holes(member, section, centre, overs), section.mass_kg_per_m * long_mm * 1e-3,
    )  # fmt: skip


def _direction(ready: Built, index: int) -> np.ndarray:
    first, last = ready.stations[index][0][1], ready.stations[index][-1][1]
    along = ready.places[last] - ready.places[first]
    return np.asarray(along / np.linalg.norm(along))


def _partner(ready: Built, index: int, end: int) -> int | None:
    """The member that the end of another meets: one that runs through there, or the thickest that ends there."""
    node = ready.stations[index][0 if end == 0 else -1][1]
    through, ending = [], []
    for other, along in enumerate(ready.stations):
        if other == index:
            continue
        numbers = [number for _, number in along]
        if node in numbers[1:-1]:
            through.append(other)
        elif node in (numbers[0], numbers[-1]):
            ending.append(other)
    if through:
        return through[0]
    stronger = [other for other in ending if _yields_to(ready, index, other)]
    return stronger[0] if stronger else None


ORDER = ("leg", "post", "beam", "arm", "rail", "crossbar", "member", "brace")
"""Who runs past whom where two members end in one node: the earlier one keeps its length."""


def _yields_to(ready: Built, index: int, other: int) -> bool:
    roles = [ready.stand.members[each].role for each in (index, other)]
    ranks = [ORDER.index(role) if role in ORDER else len(ORDER) for role in roles]
    return (ranks[1], other) < (ranks[0], index)


def _end(ready: Built, index: int, end: int) -> EndCut:
    member = ready.stand.members[index]
    partner = _partner(ready, index, end)
    trim = member.trim_mm[end]
    if partner is None:
        wall = _bears_on(ready, index, end)
        if wall is None:
            return EndCut(saw_setting(0.0, ready.stand.workshop.saw_reach_rad), None, trim)
        angle = math.pi / 2.0 - wall
        if wall < SHALLOWEST_RAD:
            angle = 0.0
        return EndCut(saw_setting(angle, ready.stand.workshop.saw_reach_rad), "what it is fixed to", trim)
    between = angle_between_rad(_direction(ready, index), _direction(ready, partner))
    if between < SHALLOWEST_RAD:
        return EndCut(saw_setting(0.0, ready.stand.workshop.saw_reach_rad), ready.stand.members[partner].name, trim)
    setting = saw_setting(math.pi / 2.0 - between, ready.stand.workshop.saw_reach_rad)
    reach = 0.5 * ready.sections[partner].outside_mm[1] / math.sin(between)
    return EndCut(setting, ready.stand.members[partner].name, trim + reach)


def _bears_on(ready: Built, index: int, end: int) -> float | None:
    """Angle between a member and the face of bench, wall or floor its end is fixed to; None where it is not fixed."""
    node = ready.stations[index][0 if end == 0 else -1][1]
    along = _direction(ready, index)
    for each in ready.stand.held:
        if ready.node_of[each.node] == node:
            normal = np.array([0.0, 0.0, 1.0]) if each.to == "floor" else np.array([1.0, 0.0, 0.0])
            return math.asin(min(1.0, abs(float(along @ normal))))
    return None


def _lean(ready: Built, index: int, end: int) -> float:
    """Which way the end cut slopes, as the sign of the partner's direction across the member in its upright plane."""
    along = _direction(ready, index)
    partner = _partner(ready, index, end)
    if partner is not None:
        other = _direction(ready, partner)
    else:
        wall = _bears_on(ready, index, end)
        if wall is None:
            return 0.0
        node = ready.stations[index][0 if end == 0 else -1][1]
        to = next(each.to for each in ready.stand.held if ready.node_of[each.node] == node)
        other = np.array([1.0, 0.0, 0.0]) if to == "floor" else np.array([0.0, 0.0, 1.0])
    up = _across(along, ready.stand.members[index].up)
    slope = float(other @ along) * float(other @ up)
    return 0.0 if abs(slope) < 1e-6 else math.copysign(1.0, slope)


def _across(along: np.ndarray, up: Place) -> np.ndarray:
    z = np.asarray(up, dtype=float) - float(np.asarray(up) @ along) * along
    size = float(np.linalg.norm(z))
    if size < 1e-6:
        z = np.array([1.0, 0.0, 0.0]) - along[0] * along
        size = float(np.linalg.norm(z))
    return np.asarray(z / size)


def _holes(member: Member, section: Section, centre_mm: float, overs: list[float]) -> tuple[Hole, ...]:
    """Holes for the bolts of both joints; none where they sit in channel nuts or the channel has its own slots."""
    found = []
    for end, joint in enumerate(member.joints):
        if joint.bolt is None or joint.in_channel or member.punched:
            continue
        bolt = fasteners.bolt(joint.bolt)
        edge = joint.from_end_mm if joint.from_end_mm is not None else 2.0 * bolt.diameter_mm
        for number in range(joint.bolts):
            inward = edge + 3.0 * bolt.diameter_mm * number
            at = overs[0] + inward if end == 0 else overs[0] + centre_mm - inward
            found.append(Hole(at, hole_for(joint), how_to_make(hole_for(joint), section), joint.bolt))
    return tuple(sorted(found, key=lambda hole: hole.at_mm))


def hole_for(joint: Joint) -> float:
    """The clearance hole of a joint's bolt: by its clearance where that is given, else the normal fit."""
    assert joint.bolt is not None
    bolt = fasteners.bolt(joint.bolt)
    return bolt.diameter_mm + joint.clearance_mm if joint.clearance_mm > 0.0 else bolt.clearance_hole_mm()


def how_to_make(diameter_mm: float, section: Section) -> str:
    """Which drill makes a hole in this section."""
    if section.kind == "timber":
        return f"wood bit {diameter_mm:g} mm"
    thin = bool(section.walls) and min(wall.thickness_mm for wall in section.walls) <= 4.0
    if thin and diameter_mm >= STEP_DRILL_FROM_MM:
        return f"pilot 4 mm, step drill to {diameter_mm:g} mm; clamp it"
    return f"drill {diameter_mm:g} mm; clamp it"


@dataclass(frozen=True)
class OnPitch:
    """A brace whose ends land on the hole pitch: holes along arm, down the post and along the brace, and what results.

    `off_mm` is how much longer the brace should be than its holes allow: it must fit the clearance.
    """

    along: int
    down: int
    brace: int
    brace_at_mm: float
    drop_mm: float
    angle_rad: float
    off_mm: float


def braces_on_pitch(
    pitch_mm: float, brace_at_mm: float, angle_rad: float, fits_mm: float = 1.5, most: int = 5
) -> tuple[OnPitch, ...]:
    """Triangles near a wanted one whose three corners all lie on holes of a slotted channel.

    Whole numbers i, j, k of pitches with | sqrt(i2 + j2) - k | pitch no more than `fits_mm`, nearest to the wanted
    corner first. 3-4-5 always fits. Raises ValueError for a pitch of 0.
    """
    if not pitch_mm > 0.0:
        raise ValueError("a hole pitch is more than 0 mm")
    drop = brace_at_mm * math.tan(angle_rad)
    reach = max(1, math.ceil(1.6 * max(brace_at_mm, drop) / pitch_mm))
    found = []
    for i in range(1, reach + 1):
        for j in range(1, reach + 1):
            exact = math.hypot(i, j)
            k = round(exact)
            off = (exact - k) * pitch_mm
            if abs(off) <= fits_mm:
                found.append(OnPitch(i, j, k, i * pitch_mm, j * pitch_mm, math.atan2(j, i), off))
    found.sort(key=lambda each: math.hypot(each.brace_at_mm - brace_at_mm, each.drop_mm - drop))
    return tuple(found[:most])


def pitch_of(name: str) -> float | None:
    """The hole pitch of a slotted channel; None for anything else."""
    each = profile(name)
    return each.pitch_mm if isinstance(each, StrutChannel) else None
