"""From a stand to a system of beams, ties and contacts: members cut at their nodes, feet and loads.

The mass of the machine reaches the members through its feet; see `footing`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from steadfold.catalogue import NotInCatalogue, fasteners
from steadfold.mechanics import (
    Beams,
    Contacts,
    Loads,
    Mechanism,
    Model,
    Springs,
    Structure,
    Ties,
    bedded,
    factored,
    held,
    joined,
)
from steadfold.stand.footing import SHORTEST_MM, FloatArray, FootShare, foot_nodes
from steadfold.stand.records import Joint, Member, Place, Stand, StandError, TieRod
from steadfold.stand.section import Section, section_of

ON_LINE_MM = 0.5
"""A node this near a member's line belongs to it."""

PIECES = 2
"""Beams between two neighbouring nodes of a member, so that what bends between them is seen."""

ROD_MODULUS_MPA = 200_000.0
FOOT_MM_PER_N = 1e-6
"""Give of a hard floor under a foot."""

MOST_PATCHES = 140
"""Patches of the walls behind folded parts, all parts together."""


@dataclass(frozen=True, eq=False)
class Piece:
    """One beam of a member: which, from where to where along it (mm), and its beam number."""

    member: int
    start_mm: float
    end_mm: float


@dataclass(frozen=True, eq=False)
class Built:
    """A stand made ready: its model, factored once, and which number is what.

    `places` and the model's nodes are those of the frame, then those of every folded part that carries it, whose
    numbers are in `carrier_nodes`. `against` is the structure with the walls behind those parts.
    """

    stand: Stand
    sections: tuple[Section, ...]
    lengths_mm: tuple[float, ...]
    places: FloatArray
    node_of: Mapping[str, int]
    stations: tuple[tuple[tuple[float, int], ...], ...]
    pieces: tuple[Piece, ...]
    feet: tuple[FootShare, ...]
    rods_mm: tuple[float, ...]
    model: Model
    carrier_nodes: tuple[NDArray[np.int64], ...] = ()
    against: Structure | None = None

    @cached_property
    def structure(self) -> Structure:
        """The model with its stiffness factored. Raises StandError where something can move freely."""
        if self.against is not None:
            return self.against
        try:
            return factored(self.model)
        except Mechanism as loose:
            raise StandError(("members",), self.loose(loose)) from None

    def on_wall(self, cases: Sequence[Loads]) -> Built:
        """The same with the walls behind its folded parts, felt where they bear in these cases; itself without any."""
        carriers = self.stand.carriers
        if not carriers:
            return self
        numbers = [mine[each.wall.nodes] for each, mine in zip(carriers, self.carrier_nodes, strict=True)]
        bed = Contacts(
            np.concatenate(numbers), np.concatenate([each.wall.normals for each in carriers]),
            np.concatenate([each.wall.compliance_mm_per_n for each in carriers]),
            np.concatenate([each.wall.gap_mm for each in carriers]),
        )  # fmt: skip
        rim = np.concatenate([each.on_rim for each in carriers])
        return replace(self, against=bedded(self.structure, bed, cases, rim, most=MOST_PATCHES))

    def loose(self, mechanism: Mechanism) -> str:
        """What can still move, in the words of the stand."""
        return (
            f"the frame is not held: {self.moving(mechanism)}; give a joint some stiffness, or add a brace or a fixing"
        )

    def moving(self, mechanism: Mechanism) -> str:
        """The members that a free motion takes along, and how."""
        loose = {int(node) for node in mechanism.nodes}
        names = [
            member.name
            for index, member in enumerate(self.stand.members)
            if any(number in loose for _, number in self.stations[index])
        ]
        who = ", ".join(names[:4]) + (" and more" if len(names) > 4 else "")
        how = {"slides": "can slide", "turns": "can turn", "bends": "can fold out of shape"}[mechanism.kind]
        return f"{who or 'a node'} {how}"

    def node_on(self, member: int, at_mm: float) -> int:
        """The number of the node nearest to a place along a member."""
        return min(self.stations[member], key=lambda station: abs(station[0] - at_mm))[1]

    def member_index(self, name: str) -> int:
        """The number of a member by name; raises KeyError."""
        for index, member in enumerate(self.stand.members):
            if member.name == name:
                return index
        raise KeyError(name)

    @property
    def mass_kg(self) -> float:
        """Mass of the members; rods and fittings are not in it."""
        return sum(
            section.mass_kg_per_m * length * 1e-3
            for section, length in zip(self.sections, self.lengths_mm, strict=True)
        )


def thread_of(size: str) -> tuple[float, float, float]:
    """Pitch, stress area (mm2) and diameter of a rod's thread; raises NotInCatalogue."""
    bolt = fasteners.bolt(size)
    return bolt.pitch_mm, bolt.stress_area_mm2, bolt.diameter_mm


def rod_stiffness_n_per_mm(rod: TieRod, length_mm: float) -> float:
    """E A / L over the thread's stress area, E 200,000 MPa."""
    _, area, _ = thread_of(rod.size)
    return ROD_MODULUS_MPA * area / length_mm


def take_up_mm(rod: TieRod) -> float:
    """What one turn shortens the rod: a pitch for a nut, two for a left and right hand turnbuckle."""
    pitch, _, _ = thread_of(rod.size)
    return pitch * (2.0 if rod.adjuster == "turnbuckle" else 1.0)


def built(stand: Stand, *, loosened: frozenset[str] = frozenset(), without_rods: bool = False) -> Built:
    """The stand as a system. `loosened` members hang loose at their second end: they carry nothing along.

    Raises StandError naming the key for anything that makes no frame: an unknown node, a member without length, a
    profile the catalogue does not hold, a foot of the machine over nothing.
    """
    _check_names(stand)
    node_of = {name: number for number, name in enumerate(stand.nodes)}
    places = [np.asarray(place, dtype=float) for place in stand.nodes.values()]
    sections, lengths = [], []
    stations: list[list[tuple[float, int]]] = []
    for index, member in enumerate(stand.members):
        start, end = (
            _node(stand, node_of, index, word, name) for word, name in (("from", member.start), ("to", member.end))
        )
        length = float(np.linalg.norm(places[end] - places[start]))
        if length < SHORTEST_MM:
            raise StandError(
                ("member", index),
                f"{member.name!r} runs from {member.start!r} to {member.end!r}, which are {length:.2g} mm apart: a "
                "member needs a length",
            )
        try:
            sections.append(section_of(member.profile, member.punched))
        except NotInCatalogue as error:
            raise StandError(("member", index, "profile"), error.message) from None
        lengths.append(length)
        stations.append(_through(stand, node_of, places, index, start, end, length))
    feet = foot_nodes(stand, places, stations, lengths)
    _split(places, stations, lengths)
    pieces = [
        Piece(index, here[0], there[0]) for index, along in enumerate(stations) for here, there in pairwise(along)
    ]
    table = np.array(places)
    rods = _rod_lengths(stand, node_of, table)
    beams = _beams(stand, sections, stations, table, loosened)
    seated = {node_of[name] for each in stand.carriers for name in each.seats}
    steadied, steadying = _steadied(beams, table, seated)
    model = Model(
        table,
        beams=beams,
        springs=_springs(stand, node_of, steadying),
        fixed=_fixed(stand, node_of, len(table), seated) | steadied,
        contacts=_feet_on_floor(stand, node_of),
        ties=Ties(np.zeros((0, 2), int), 1.0) if without_rods or not rods else _ties(stand, node_of, rods),
    )
    model, carrier_nodes = _with_carriers(stand, node_of, model)
    return Built(
        stand, tuple(sections), tuple(lengths), model.nodes_mm.copy(), node_of, tuple(tuple(along) for along in stations),
        tuple(pieces), feet, rods, model, carrier_nodes,
    )  # fmt: skip


def _with_carriers(
    stand: Stand, node_of: Mapping[str, int], frame: Model
) -> tuple[Model, tuple[NDArray[np.int64], ...]]:
    """The frame and the folded parts that carry it as one model, and the number of every node of each part."""
    places, numbers = [frame.nodes_mm], []
    count = frame.node_count
    for each in stand.carriers:
        mine = count + np.arange(each.model.node_count)
        for name, seat in each.seats.items():
            mine[seat] = node_of[name]
        places.append(each.model.nodes_mm)
        numbers.append(mine)
        count += each.model.node_count
    if not numbers:
        return frame, ()
    models = [(frame, np.arange(frame.node_count)), *zip((each.model for each in stand.carriers), numbers, strict=True)]
    return joined(np.vstack(places), models), tuple(numbers)


def _check_names(stand: Stand) -> None:
    if not stand.members:
        raise StandError(("member",), "a stand needs at least one member")
    if not stand.held:
        raise StandError(
            ("held",), "nothing holds this stand: say which nodes stand on a floor or are fixed to bench or wall"
        )
    seen: set[str] = set()
    for index, member in enumerate(stand.members):
        if member.name in seen:
            raise StandError(("member", index, "name"), f"two members are named {member.name!r}")
        seen.add(member.name)


def _node(stand: Stand, node_of: Mapping[str, int], index: int, word: str, name: str) -> int:
    if name not in node_of:
        raise StandError(
            ("member", index, word), f"{name!r} is no node of this stand; there are {', '.join(stand.nodes)}"
        )
    return node_of[name]


def _through(
    stand: Stand, node_of: Mapping[str, int], places: list[FloatArray], index: int, start: int, end: int, length: float
) -> list[tuple[float, int]]:
    member = stand.members[index]
    origin = places[start]
    along = (places[end] - origin) / length
    wanted = node_of if member.through is None else {name: node_of[name] for name in member.through}
    found = [(0.0, start), (length, end)]
    for number in wanted.values():
        if number in (start, end):
            continue
        offset = places[number] - origin
        at = float(offset @ along)
        if ON_LINE_MM < at < length - ON_LINE_MM and np.linalg.norm(offset - at * along) <= ON_LINE_MM:
            found.append((at, number))
    return sorted(found)


def _split(places: list[FloatArray], stations: list[list[tuple[float, int]]], lengths: list[float]) -> None:
    """Nodes between the given ones, so that each stretch has `PIECES` beams."""
    for along in stations:
        first, last = places[along[0][1]], places[along[-1][1]]
        whole = along[-1][0]
        added = []
        for (here, _), (there, _) in pairwise(along):
            if there - here < 4.0 * SHORTEST_MM:
                continue
            for step in range(1, PIECES):
                at = here + (there - here) * step / PIECES
                places.append(first + (last - first) * at / whole)
                added.append((at, len(places) - 1))
        along.extend(added)
        along.sort()


def _end_springs(joint: Joint) -> FloatArray:
    springs = np.full(6, np.inf)
    match joint.kind:
        case "pinned":
            springs[4] = 0.0
        case "ball":
            springs[4] = springs[5] = 0.0
        case "bolted":
            springs[4] = joint.turn_nmm_per_rad if joint.turn_nmm_per_rad is not None else 0.0
        case "welded":
            pass
    return springs


def _beams(
    stand: Stand,
    sections: list[Section],
    stations: list[list[tuple[float, int]]],
    places: FloatArray,
    loosened: frozenset[str],
) -> Beams:
    rows: dict[str, list[object]] = {
        key: [] for key in ("ends", "a", "iy", "iz", "j", "e", "g", "up", "rho", "springs")
    }
    for index, (member, section, along) in enumerate(zip(stand.members, sections, stations, strict=True)):
        up = _up(index, member, places[along[0][1]], places[along[-1][1]])
        for number, ((_, here), (_, there)) in enumerate(pairwise(along)):
            springs = np.full((2, 6), np.inf)
            if number == 0:
                springs[0] = _end_springs(member.joints[0])
            if number == len(along) - 2:
                springs[1] = _end_springs(member.joints[1])
                if member.name in loosened:
                    springs[1, 0] = springs[1, 4] = 0.0
            values = (
                (here, there), section.area_mm2, section.second_moment_y_mm4, section.second_moment_z_mm4,
                section.torsion_mm4, section.modulus_mpa, section.shear_modulus_mpa, up, section.density_kg_m3,
                springs,
            )  # fmt: skip
            for key, value in zip(rows, values, strict=True):
                rows[key].append(value)
    return Beams(
        np.array(rows["ends"]), rows["a"], rows["iy"], rows["iz"], rows["j"], rows["e"], np.array(rows["up"]),  # type: ignore[arg-type]
        shear_modulus_mpa=rows["g"], density_kg_m3=rows["rho"], end_springs=np.array(rows["springs"]),  # type: ignore[arg-type]
    )  # fmt: skip


def _up(index: int, member: Member, start: FloatArray, end: FloatArray) -> Place:
    """The member's `up`, or for a member that runs along it the x axis."""
    along = (end - start) / np.linalg.norm(end - start)
    up = np.asarray(member.up, dtype=float)
    size = float(np.linalg.norm(up))
    if size == 0.0:
        raise StandError(("member", index, "up"), f"the direction in which {member.name!r} stands up has no length")
    if np.linalg.norm(np.cross(along, up / size)) < 1e-6:
        return (1.0, 0.0, 0.0) if abs(along[0]) < 0.9 else (0.0, 0.0, 1.0)
    return (float(up[0]), float(up[1]), float(up[2]))


def _fixed(stand: Stand, node_of: Mapping[str, int], count: int, seated: set[int]) -> NDArray[np.bool_]:
    mask = np.zeros((count, 6), dtype=bool)
    words = {"clamped": "ux uy uz rx ry rz", "hinged": "ux uy uz rx rz", "pinned": "ux uy uz", "foot": "ux uy"}
    for index, each in enumerate(stand.held):
        if each.node not in node_of:
            raise StandError(
                ("held", index, "node"), f"{each.node!r} is no node of this stand; there are {', '.join(stand.nodes)}"
            )
        if node_of[each.node] in seated:
            continue
        mask |= held(count, node_of[each.node], words[each.kind])
        if each.gives_n_per_mm is not None:
            mask[node_of[each.node], 0] = False
    return mask


def _steadied(
    beams: Beams, places: FloatArray, seated: set[int]
) -> tuple[NDArray[np.bool_], list[tuple[int, FloatArray]]]:
    """Turns of nodes that no member end takes part in, so that a hinge between hinges does not spin on the spot; those
    that sit on a folded part are held by it.

    A mask (n, 6) of nodes where only ball joints meet, and for others (node, direction) about which every end there is
    hinged. Nothing turns these, so holding them changes no force.
    """
    along = places[beams.ends[:, 1]] - places[beams.ends[:, 0]]
    x = along / np.linalg.norm(along, axis=1)[:, None]
    z = beams.up - np.einsum("ij,ij->i", beams.up, x)[:, None] * x
    z = z / np.linalg.norm(z, axis=1)[:, None]
    axes = np.stack([x, np.cross(z, x), z], axis=1)
    takes = beams.end_springs[:, :, 3:] > 0.0
    mask = np.zeros((len(places), 6), dtype=bool)
    about: list[tuple[int, FloatArray]] = []
    for node in np.setdiff1d(np.unique(beams.ends), list(seated)):
        rows, ends = np.nonzero(beams.ends == node)
        if not takes[rows, ends, 1:].any():
            mask[node, 3:] = True
            continue
        held_axes = axes[rows][takes[rows, ends]]
        sizes, turn = np.linalg.eigh(held_axes.T @ held_axes)
        about += [(int(node), turn[:, k]) for k in range(3) if sizes[k] < 1e-9]
    return mask, about


STEADYING_NMM_PER_RAD = 1e6


def _springs(stand: Stand, node_of: Mapping[str, int], steadying: list[tuple[int, FloatArray]]) -> Springs:
    ends, stiffness = [], []
    for each in stand.held:
        if each.gives_n_per_mm is not None:
            ends.append((node_of[each.node], -1))
            stiffness.append(np.diag([each.gives_n_per_mm, 0.0, 0.0, 0.0, 0.0, 0.0]))
    for node, direction in steadying:
        ends.append((node, -1))
        block = np.zeros((6, 6))
        block[3:, 3:] = STEADYING_NMM_PER_RAD * np.outer(direction, direction)
        stiffness.append(block)
    if not ends:
        return Springs(np.zeros((0, 2), int), np.zeros((0, 6)))
    return Springs(np.array(ends), np.array(stiffness))


def _feet_on_floor(stand: Stand, node_of: Mapping[str, int]) -> Contacts:
    feet = [node_of[each.node] for each in stand.held if each.kind == "foot"]
    return Contacts(np.array(feet, dtype=int), np.tile([0.0, 0.0, 1.0], (len(feet), 1)), FOOT_MM_PER_N)


def _rod_lengths(stand: Stand, node_of: Mapping[str, int], places: FloatArray) -> tuple[float, ...]:
    lengths = []
    for index, rod in enumerate(stand.tie_rods):
        for word, name in (("from", rod.start), ("to", rod.end)):
            if name not in node_of:
                raise StandError(
                    ("tie_rod", index, word), f"{name!r} is no node of this stand; there are {', '.join(stand.nodes)}"
                )
        length = float(np.linalg.norm(places[node_of[rod.end]] - places[node_of[rod.start]]))
        if length < SHORTEST_MM:
            raise StandError(("tie_rod", index), f"{rod.name!r} joins two nodes in one place: a rod needs a length")
        try:
            thread_of(rod.size)
        except NotInCatalogue as error:
            raise StandError(("tie_rod", index, "size"), error.message) from None
        lengths.append(length)
    return tuple(lengths)


def _ties(stand: Stand, node_of: Mapping[str, int], rods_mm: tuple[float, ...]) -> Ties:
    stiffness = [rod_stiffness_n_per_mm(rod, length) for rod, length in zip(stand.tie_rods, rods_mm, strict=True)]
    start = [rod.pretension_n - rod.slack_mm * stiff for rod, stiff in zip(stand.tie_rods, stiffness, strict=True)]
    ends = [(node_of[rod.start], node_of[rod.end]) for rod in stand.tie_rods]
    return Ties(np.array(ends), stiffness, start)


def turned(stand: Stand) -> Stand:
    """The stand with its machine turned half round about the middle of its feet."""
    machine = stand.machine
    if machine is None:
        return stand
    middle = np.asarray(machine.feet_mm, dtype=float).mean(axis=0)
    feet = tuple((float(2 * middle[0] - x), float(2 * middle[1] - y)) for x, y in machine.feet_mm)
    x, y, z = machine.centre_mm
    centre = (float(2 * middle[0] - x), float(2 * middle[1] - y), z)
    return replace(stand, machine=replace(machine, feet_mm=feet, centre_mm=centre))


def angle_between_rad(first: FloatArray, second: FloatArray) -> float:
    """The acute angle between two lines."""
    cosine = abs(float(first @ second)) / float(np.linalg.norm(first) * np.linalg.norm(second))
    return math.acos(min(1.0, cosine))
