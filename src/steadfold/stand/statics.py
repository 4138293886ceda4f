"""Load cases of a stand and what they do to its members: pull, shear and moments along each.

Cases: *resting* (machine and frame), *leaning* (a person on a tip besides), *working* (the machine's own pushes),
*knock* (a stray push sideways). The mass and the centre of mass go in with the ends of their ranges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadfold.mechanics import STANDARD_GRAVITY_MM_S2, Loads, Mechanism, Result, Springs, beam_forces, solve
from steadfold.mechanics.parts import no_ties
from steadfold.quantities import weight_n
from steadfold.stand.footing import FloatArray, foot_loads_n
from steadfold.stand.records import Place, StandError
from steadfold.stand.structure import Built

GRAVITY = (0.0, 0.0, -STANDARD_GRAVITY_MM_S2)


@dataclass(frozen=True, eq=False)
class Case:
    """One loading: its kind ('resting' ...), which end of which range in words, and the loads."""

    name: str
    say: str
    loads: Loads


@dataclass(frozen=True, eq=False)
class MemberForces:
    """Inside forces of one member at places along it (k,): mm, N, N mm; pull positive, moments about its own y and
    z.
    """

    at_mm: FloatArray
    pull_n: FloatArray
    shear_y_n: FloatArray
    shear_z_n: FloatArray
    twist_nmm: FloatArray
    moment_y_nmm: FloatArray
    moment_z_nmm: FloatArray

    @property
    def end_moment_nmm(self) -> float:
        """The larger moment of the two ends, both axes together."""
        both = np.hypot(self.moment_y_nmm, self.moment_z_nmm)
        return float(max(both[0], both[-1]))

    @property
    def largest_moment_nmm(self) -> float:
        """The largest moment anywhere, both axes together."""
        return float(np.hypot(self.moment_y_nmm, self.moment_z_nmm).max())

    @property
    def axial_n(self) -> float:
        """The pull that is largest in size, with its sign."""
        return float(self.pull_n[np.argmax(np.abs(self.pull_n))])


def machine_load(built: Built, mass_kg: float, centre_mm: Place) -> FloatArray:
    """Forces (n, 6) of the machine's weight on the nodes under its feet.

    Raises StandError where its centre of mass lies outside its feet.
    """
    forces = np.zeros((len(built.places), 6))
    machine = built.stand.machine
    if machine is None:
        return forces
    loads = foot_loads_n(machine.feet_mm, (centre_mm[0], centre_mm[1]), weight_n(mass_kg))
    for each in built.feet:
        forces[each.node, 2] -= each.share * loads[each.foot]
    return forces


def machine_push(built: Built, force_n: Place, at_mm: Place) -> FloatArray:
    """Forces (n, 6) on the nodes under the machine's feet from a push on it.

    Upright parts go to the feet as to equal springs, level parts as to a group of equal bolts. Statics.
    """
    forces = np.zeros((len(built.places), 6))
    machine = built.stand.machine
    if machine is None:
        return forces
    feet = np.asarray(machine.feet_mm, dtype=float)
    height = float(np.mean([built.places[each.node][2] for each in built.feet]))
    force, at = np.asarray(force_n, dtype=float), np.asarray(at_mm, dtype=float)
    middle = feet.mean(axis=0)
    lever = at - np.array([*middle, height])
    moment = np.cross(lever, force)
    offset = feet - middle
    squares_x, squares_y = float((offset[:, 0] ** 2).sum()), float((offset[:, 1] ** 2).sum())
    polar = squares_x + squares_y
    for number, (dx, dy) in enumerate(offset):
        on_foot = force / len(feet)
        if squares_y > 0.0:
            on_foot = on_foot + np.array([0.0, 0.0, moment[0] * dy / squares_y])
        if squares_x > 0.0:
            on_foot = on_foot - np.array([0.0, 0.0, moment[1] * dx / squares_x])
        if polar > 0.0:
            on_foot = on_foot + moment[2] / polar * np.array([-dy, dx, 0.0])
        for each in built.feet:
            if each.foot == number:
                forces[each.node, :3] += each.share * on_foot
    return forces


def lean_load(built: Built, force_n: float, node: str) -> FloatArray:
    """Forces (n, 6) of a person's weight on a node. Raises StandError for an unknown node."""
    if node not in built.node_of:
        raise StandError(
            ("leaning", "at"), f"{node!r} is no node of this stand; there are {', '.join(built.stand.nodes)}"
        )
    forces = np.zeros((len(built.places), 6))
    forces[built.node_of[node], 2] = -force_n
    return forces


def cases_of(built: Built, own_weight: bool = True) -> tuple[Case, ...]:
    """Every case that the stand is rated for; the first is *resting* at the middle of all ranges."""
    stand, machine = built.stand, built.stand.machine
    gravity = GRAVITY if own_weight else (0.0, 0.0, 0.0)
    cases: list[Case] = []

    def add(name: str, say: str, forces: FloatArray) -> None:
        cases.append(Case(name, say, Loads(nodal=forces, gravity_mm_s2=gravity, name=name)))

    if machine is None:
        heavy = np.zeros((len(built.places), 6))
        add("resting", "its own weight", heavy)
    else:
        add(
            "resting",
            "machine at the middle of its ranges",
            machine_load(built, machine.mass_kg.middle, machine.centre_mm),
        )
        heavy = machine_load(built, machine.mass_kg.high, machine.centre_mm)
        worst = _corners(machine.centre_mm, machine.centre_range_mm)
        if machine.mass_kg.high > machine.mass_kg.low or len(worst) > 1:
            for place in worst:
                try:
                    heavy = machine_load(built, machine.mass_kg.high, place)
                except StandError:
                    continue  # a corner of the range at which it would fall over by itself cannot be where it stands
                add("resting", f"{machine.mass_kg.high:.4g} kg, centre at {place[0]:.0f}, {place[1]:.0f} mm", heavy)
    base = [case.loads.nodal for case in cases]
    nodes = stand.level_at or tuple(each for each in stand.nodes)[:1]
    if not stand.leaning.refused and stand.leaning.force_n > 0.0:
        at = (stand.leaning.at,) if stand.leaning.at is not None else nodes
        for node in at:
            for forces in base[-1:] if len(at) > 2 else base:
                assert forces is not None
                add("leaning", f"{stand.leaning.force_n:.0f} N at {node}",
                    forces + lean_load(built, stand.leaning.force_n, node))  # fmt: skip
    if machine is not None and machine.pushes:
        total = sum((machine_push(built, push.force_n, push.at_mm) for push in machine.pushes), np.zeros_like(heavy))
        add("working", ", ".join(push.what for push in machine.pushes), heavy + total)
    if stand.knock_n > 0.0:
        for node in nodes[:2]:
            for axis, word in ((1, "along the bench"), (0, "in and out")):
                for sign in (1.0, -1.0):
                    push = np.zeros_like(heavy)
                    push[built.node_of[node], axis] = sign * stand.knock_n
                    add("knock", f"{stand.knock_n:.0f} N {word} at {node}", heavy + push)
    return tuple(cases)


def _corners(centre: Place, spread: Place) -> list[Place]:
    xs = {centre[0] - spread[0], centre[0] + spread[0]}
    ys = {centre[1] - spread[1], centre[1] + spread[1]}
    return [(x, y, centre[2]) for x in sorted(xs) for y in sorted(ys)]


def solved(built: Built, cases: Sequence[Case]) -> list[Result]:
    """The answers to all cases. Raises StandError where the frame can move, under a case or by itself."""
    try:
        return solve(built.structure, [case.loads for case in cases])
    except Mechanism as loose:
        pushed = _pushed_rods(built, cases)
        if pushed:
            raise StandError(
                ("tie_rod",),
                f"under its load {' and '.join(pushed)} would have to push, and a rod only pulls ({built.moving(loose)}): make it "
                "a member, or put it on the other side",
            ) from None
        raise StandError(
            ("held",), f"under its load this stand comes off its feet or its rods: {built.moving(loose)}"
        ) from None


def _pushed_rods(built: Built, cases: Sequence[Case]) -> list[str]:
    """Rods that would push in some case if they could."""
    ties = built.model.ties
    if not ties.count:
        return []
    line = built.places[ties.ends[:, 1]] - built.places[ties.ends[:, 0]]
    along = line / np.linalg.norm(line, axis=1)[:, None]
    stiffness = np.zeros((ties.count, 6, 6))
    stiffness[:, :3, :3] = np.einsum("k,ki,kj->kij", ties.stiffness_n_per_mm, along, along)
    own = built.model.springs
    springs = Springs(np.concatenate([own.ends, ties.ends]), np.concatenate([own.stiffness, stiffness]),
                      np.concatenate([own.axes, np.tile(np.eye(3), (ties.count, 1, 1))]))  # fmt: skip
    try:
        results = solve(replace(built.model, springs=springs, ties=no_ties()), [case.loads for case in cases])
    except (Mechanism, ArithmeticError):
        return []
    moved = np.stack([r.displacement[ties.ends[:, 1], :3] - r.displacement[ties.ends[:, 0], :3] for r in results])
    shortest = np.einsum("cki,ki->ck", moved, along).min(axis=0)
    return [rod.name for rod, by in zip(built.stand.tie_rods, shortest, strict=True) if by < -1e-9]


def member_forces(built: Built, result: Result) -> tuple[MemberForces, ...]:
    """Inside forces of every member, at the ends and the middle of each of its beams."""
    ends = beam_forces(result)
    model = built.model
    load = np.asarray(result.loads.beam_n_per_mm, dtype=float) + (
        model.beams.density_kg_m3 * model.beams.area_mm2 * 1e-12
    )[:, None] * np.asarray(result.loads.gravity_mm_s2, dtype=float)
    axes = _axes(built)
    found: list[list[np.ndarray]] = [[] for _ in built.stand.members]
    for number, piece in enumerate(built.pieces):
        local = axes[number] @ load[number]
        length = piece.end_mm - piece.start_mm
        for share in (0.0, 0.5, 1.0):
            found[piece.member].append(
                np.concatenate([[piece.start_mm + share * length], _inside(ends[number, 0], local, share * length)])
            )
    answers = []
    for rows in found:
        table = np.array(rows)
        answers.append(MemberForces(*table.T))
    return tuple(answers)


def _axes(built: Built) -> FloatArray:
    """Axes (b, 3, 3) of every beam, rows x, y, z, as the mechanics has them."""
    beams, places = built.model.beams, built.places
    along = places[beams.ends[:, 1]] - places[beams.ends[:, 0]]
    x = along / np.linalg.norm(along, axis=1)[:, None]
    z = beams.up - np.einsum("ij,ij->i", beams.up, x)[:, None] * x
    z = z / np.linalg.norm(z, axis=1)[:, None]
    return np.stack([x, np.cross(z, x), z], axis=1)


def _inside(first: FloatArray, load: FloatArray, at: float) -> FloatArray:
    """Pull, shears, twist and moments on the cut face `at` mm from the first end, from that end's forces (6,)."""
    return np.array([
        -(first[0] + load[0] * at),
        -(first[1] + load[1] * at),
        -(first[2] + load[2] * at),
        -first[3],
        -(first[4] + first[2] * at + 0.5 * load[2] * at**2),
        -(first[5] - first[1] * at - 0.5 * load[1] * at**2),
    ])  # fmt: skip


def support_forces(built: Built, result: Result) -> dict[str, FloatArray]:
    """What each held node gets from what holds it: force (N) and moment (N mm), (6,), global axes."""
    reaction = np.asarray(result.reaction).copy()
    forces: dict[str, FloatArray] = {}
    contacts = [each.node for each in built.stand.held if each.kind == "foot"]
    for each in built.stand.held:
        node = built.node_of[each.node]
        if each.seat is not None and built.carrier_nodes:
            forces[each.node] = _from_members(built, result, node)
            continue
        total = reaction[node].copy()
        if each.kind == "foot":
            total[2] += result.contact_n[contacts.index(each.node)]
        if each.gives_n_per_mm is not None:
            total[0] -= each.gives_n_per_mm * result.displacement[node, 0]
        forces[each.node] = total
    return forces


def _from_members(built: Built, result: Result, node: int) -> FloatArray:
    """What holds a node besides its members and rods: the balance of their forces and its loads (6,), global axes."""
    total = np.zeros(6)
    if result.loads.nodal is not None:
        total -= np.asarray(result.loads.nodal)[node]
    ends, axes = beam_forces(result), _axes(built)
    for number, end in zip(*np.nonzero(np.asarray(built.model.beams.ends) == node), strict=True):
        force = ends[number, end]
        total += np.concatenate([force[:3] @ axes[number], force[3:] @ axes[number]])
    ties = built.model.ties
    for number, end in zip(*np.nonzero(np.asarray(ties.ends) == node), strict=True):
        line = built.places[ties.ends[number, 1 - end]] - built.places[node]
        total[:3] -= result.tie_n[number] * line / np.linalg.norm(line)
    return total


def of_carrier(built: Built, result: Result, index: int) -> FloatArray:
    """How the nodes of a folded part that carries the frame move (n, 6), in the part's own axes."""
    moved = result.displacement[built.carrier_nodes[index]]
    turn = built.stand.carriers[index].turn
    return np.concatenate([moved[:, :3] @ turn, moved[:, 3:] @ turn], axis=1)


def sag_mm(built: Built, result: Result, node: str) -> float:
    """How far a node has gone down, mm."""
    return -float(result.displacement[built.node_of[node], 2])
