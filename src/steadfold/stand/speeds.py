"""Natural frequencies of frame and machine beside everything that turns, and lifting it on by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from steadfold.mechanics import GROUND, Masses, Model, Result, Spider, Springs, factored, natural_modes
from steadfold.stand.records import Machine, Place, Speed
from steadfold.stand.statics import Case, solved
from steadfold.stand.structure import Built

MODES = 6
HZ_ROOT_MM = math.sqrt(9806.65) / (2.0 * math.pi)
"""15.76: frequency in Hz is this over the root of the sag in mm, for a mass on a weightless spring."""

KG_PER_PERSON = 25.0
"""What one person may lift close to the body at waist height: guideline figure of 23 to 25 kg (recalled)."""

TEAM_SHARE = {1: 1.0, 2: 2.0 / 3.0, 3: 0.5}
"""What of their sum several people can lift together: two thirds for two, half for three (guidance, recalled)."""


@dataclass(frozen=True)
class Mode:
    """One natural frequency: between a machine that lends the frame no stiffness and one that is stiff itself.

    `moves` is the main direction of the machine: 'in and out' (x), 'sideways' (y), 'up and down' (z).
    """

    low_hz: float
    high_hz: float
    moves: str


@dataclass(frozen=True)
class NearSpeed:
    """A speed beside the nearest natural frequency: `apart` is how far from it, as a share of the speed; 0 is on it."""

    speed: Speed
    mode: Mode
    apart: float


@dataclass(frozen=True)
class Humming:
    """Natural frequencies, every speed beside them, and the frequency that the sag alone would give (a check)."""

    modes: tuple[Mode, ...]
    near: tuple[NearSpeed, ...]
    from_sag_hz: float | None


def frequency_from_sag_hz(sag_mm: float) -> float:
    """15.76 / sqrt(sag): a mass on a weightless spring that it lowers by this much.

    >>> [round(frequency_from_sag_hz(sag), 2) for sag in (1, 2, 4, 10)]
    [15.76, 11.14, 7.88, 4.98]
    """
    return HZ_ROOT_MM / math.sqrt(sag_mm)


def body_of(machine: Machine, floor_mm: float) -> Place:
    """The box whose rotary inertia the machine is given: its own, or one over its feet and up to twice its centre."""
    if machine.size_mm is not None:
        return machine.size_mm
    feet = np.asarray(machine.feet_mm, dtype=float)
    spread = np.ptp(feet, axis=0)
    return (
        float(max(spread[0], 50.0)),
        float(max(spread[1], 50.0)),
        max(2.0 * (machine.centre_mm[2] - floor_mm), 50.0),
    )


def body_masses(node: int, mass_kg: float, size_mm: Place) -> Masses:
    """Eight equal masses with the mass and all moments of inertia of an even box about its middle.

    At +-a / (2 sqrt 3) along each side: sum m y2 = m b2 / 12. Exact for every second moment.
    """
    reach = np.asarray(size_mm, dtype=float) / (2.0 * math.sqrt(3.0))
    corners = np.array([[sx, sy, sz] for sx in (-1, 1) for sy in (-1, 1) for sz in (-1, 1)]) * reach
    return Masses(np.full(8, node), np.full(8, mass_kg / 8.0), corners)


def humming(ready: Built, case: Case, count: int = MODES) -> Humming | None:
    """Natural frequencies with the machine as a body on its feet, rods and feet bearing as they do at rest.

    None without a machine. Twice: the machine carried along by the mean motion of its feet, and as a stiff body that
    joins them; the truth lies between.
    """
    machine = ready.stand.machine
    if machine is None:
        return None
    low = _modes(ready, case, "spread", count)
    high = _modes(ready, case, "rigid", count)
    assert high is not None
    low = high if low is None else low
    modes = tuple(Mode(min(a[0], b[0]), max(a[0], b[0]), a[1]) for a, b in zip(low, high, strict=False))
    near = []
    for speed in machine.speeds:
        nearest = min(modes, key=lambda mode: _apart(mode, speed.hz))
        near.append(NearSpeed(speed, nearest, _apart(nearest, speed.hz)))
    result = solved(ready, [case])[0]
    feet = [each.node for each in ready.feet]
    mean = -float(np.mean(result.displacement[feet, 2])) if feet else 0.0
    return Humming(modes, tuple(near), frequency_from_sag_hz(mean) if mean > 0.0 else None)


def _apart(mode: Mode, hz: float) -> float:
    if mode.low_hz <= hz <= mode.high_hz:
        return 0.0
    return min(abs(mode.low_hz - hz), abs(mode.high_hz - hz)) / hz


def _modes(ready: Built, case: Case, kind: str, count: int) -> list[tuple[float, str]] | None:
    machine, model = ready.stand.machine, ready.model
    assert machine is not None
    ring = sorted({each.node for each in ready.feet})
    places = ready.places[ring]
    on_a_line = len(ring) < 3 or np.linalg.matrix_rank(places - places.mean(axis=0), tol=1.0) < 2
    if kind == "spread" and on_a_line:
        return None
    node = len(ready.places)
    nodes = np.vstack([ready.places, machine.centre_mm])
    fixed = np.vstack([np.asarray(model.fixed), np.zeros((1, 6), dtype=bool)])
    spider = Spider(node, np.array(ring), "spread" if kind == "spread" else "rigid", rotations=on_a_line)
    body = body_masses(node, machine.mass_kg.high, body_of(machine, float(places[:, 2].mean())))
    springs = _bearing(ready, case)
    whole = Model(
        nodes, shells=model.shells, beams=model.beams, springs=springs, spiders=(*model.spiders, spider), fixed=fixed,
        contacts=model.contacts, ties=model.ties,
        masses=Masses(
            np.append(model.masses.nodes, body.nodes), np.append(model.masses.mass_kg, body.mass_kg),
            np.vstack([model.masses.offsets_mm, body.offsets_mm]),
        ),
    )  # fmt: skip
    structure = factored(whole)
    state = _state(ready, case, whole)
    modes = natural_modes(structure, count, state=state)
    shapes = modes.shapes[:, node, :3]
    words = ("in and out", "sideways", "up and down")
    return [
        (float(hz), words[int(np.argmax(np.abs(shape)))]) for hz, shape in zip(modes.frequency_hz, shapes, strict=True)
    ]


def _bearing(ready: Built, case: Case) -> Springs:
    """The frame's springs and, for the walls behind its folded parts, one at every place that bears at rest."""
    springs = ready.model.springs
    if not ready.stand.carriers:
        return springs
    moved = solved(ready, [case])[0].displacement
    ends, stiffness = [springs.ends], [springs.stiffness]
    for each, numbers in zip(ready.stand.carriers, ready.carrier_nodes, strict=True):
        wall = each.wall
        bears = np.einsum("ij,ij->i", moved[numbers[wall.nodes], :3], wall.normals) + wall.gap_mm < 0.0
        blocks = np.zeros((int(bears.sum()), 6, 6))
        blocks[:, :3, :3] = np.einsum("ki,kj->kij", wall.normals[bears], wall.normals[bears])
        blocks[:, :3, :3] /= wall.compliance_mm_per_n[bears, None, None]
        ends.append(np.column_stack([numbers[wall.nodes[bears]], np.full(int(bears.sum()), GROUND)]))
        stiffness.append(blocks)
    axes = [springs.axes, *[np.tile(np.eye(3), (len(block), 1, 1)) for block in stiffness[1:]]]
    return Springs(np.concatenate(ends), np.concatenate(stiffness), np.concatenate(axes))


def _state(ready: Built, case: Case, whole: Model) -> Result | None:
    """Which ties and contacts bear at rest, as a state of the model with the machine in it."""
    if not whole.contacts.count and not whole.ties.count:
        return None
    result = solved(ready, [case])[0]
    moved = np.vstack([result.displacement, np.zeros((1, 6))])
    feet = result.contact_n[: whole.contacts.count]  # the walls' own places come after them and are springs here
    return replace(result, model=whole, displacement=moved, contact_n=feet)


@dataclass(frozen=True)
class Lift:
    """Lifting the machine on: what each person would carry, what they could together, and whether that is too much."""

    mass_kg: float
    people: int
    can_kg: float

    @property
    def share(self) -> float:
        """Mass over what the people can lift together."""
        return self.mass_kg / self.can_kg

    @property
    def too_heavy(self) -> bool:
        """True where it must not be lifted by hand."""
        return self.share > 1.0


def lift(machine: Machine) -> Lift:
    """Whether the machine can be lifted on by hand by the people named, at its highest mass.

    25 kg for one person, two thirds of the sum for two, half for three or more. Guidance figures (recalled); a floor
    of judgement, not a promise about anybody's back.
    """
    share = TEAM_SHARE.get(machine.people, 0.5)
    return Lift(machine.mass_kg.high, machine.people, KG_PER_PERSON * machine.people * share)
