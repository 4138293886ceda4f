"""A stand as it is given: a frame of members, how they are joined and held, the machine on it and who leans on it.

Global axes: x out from the bench, wall or into the room; y along it, left to right as one faces it; z up. The origin
of a ready-made frame is the root of its left arm (or the foot of its left back leg). Lengths mm, masses kg, forces N.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from steadfold.quantities import Range
from steadfold.stand.carrier import Carrier

Place = tuple[float, float, float]

JointKind = Literal["welded", "bolted", "pinned", "ball"]
HeldKind = Literal["clamped", "hinged", "pinned", "foot"]
Adjuster = Literal["nut", "turnbuckle"]
HeldTo = Literal["bench", "wall", "floor", "machine", "part"]

DEFAULT_LEAN_N = 500.0
"""Weight a person puts on a stand within reach; common practice, no source."""

DEFAULT_KNOCK_N = 150.0
"""Stray sideways push; common practice, no source."""

DEFAULT_SHOVE_N = 200.0
"""Sideways push of somebody who shoves stock or the machine itself; common practice, no source."""


class StandError(ValueError):
    """A stand that cannot be: `steps` lead to the key to change, `str()` says what would be right."""

    def __init__(self, steps: tuple[str | int, ...], sentence: str):
        super().__init__(steps, sentence)
        self.steps = steps
        self.sentence = sentence

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True)
class Joint:
    """How one end of a member is joined.

    *welded*: rigid. *bolted*: gives by `turn_nmm_per_rad` about the bolt's axis (None: counted as a hinge for strength
    and as rigid for nothing). *pinned*: free about the bolt, which lies across the member's upright plane. *ball*:
    free both ways. `clearance_mm` is how far the end can shift along the member before the bolts bear (hole less
    bolt, all of it); `turn_play_rad` how far it can turn likewise. `slip_n` is what the joint holds along the member
    by friction before it shifts, with its source; None is not known. `bolts` of size `bolt` and class `grade`, in
    channel nuts if `in_channel`. `throat_mm` is that of a fillet weld all round a welded end; `said` is True where the
    job itself names the joint.
    """

    kind: JointKind = "pinned"
    turn_nmm_per_rad: float | None = None
    clearance_mm: float = 0.0
    turn_play_rad: float = 0.0
    slip_n: float | None = None
    slip_source: str = ""
    bolts: int = 1
    bolt: str | None = None
    grade: str | None = None
    in_channel: bool = False
    from_end_mm: float | None = None
    throat_mm: float | None = None
    said: bool = False


PINNED, WELDED = Joint("pinned"), Joint("welded")


@dataclass(frozen=True)
class Member:
    """A straight piece of stock between two nodes, cut to `profile`.

    A node that lies on its line between its ends belongs to it, and the member runs through (`through` names them
    where only some do). `up` is the way the height of
    its section points (strut: its slot). `role` is arm, brace, post, crossbar, leg, rail or beam. `punched`: its back
    has slots. `unheld_mm`: longest part nothing holds sideways; the whole length when None. `trim_mm` is what each
    end stops short of its node.
    """

    name: str
    start: str
    end: str
    profile: str
    joints: tuple[Joint, Joint] = (WELDED, WELDED)
    up: Place = (0.0, 0.0, 1.0)
    role: str = "member"
    punched: bool = False
    unheld_mm: float | None = None
    trim_mm: tuple[float, float] = (0.0, 0.0)
    through: tuple[str, ...] | None = None


@dataclass(frozen=True)
class Fixing:
    """What holds one node to bench, wall or floor: `count` fasteners in a `backing` (see `joints.hold`).

    `apart_mm` is the distance between them across the pull where there are two or more. `capacity` is what one of them
    may carry by the user's own evidence: source, tension, shear. `wood_mm` is the thickness of wood a through bolt
    clamps, `washer_mm` the washer on its far side.
    """

    backing: str = "unknown"
    fastener: str | None = None
    count: int = 1
    apart_mm: float | None = None
    grade: str | None = None
    length_mm: float | None = None
    wood: str | None = None
    wood_mm: float | None = None
    through: bool = False
    washer_mm: float | None = None
    capacity: tuple[str, float | None, float | None] | None = None


@dataclass(frozen=True)
class Seat:
    """Where a node sits on a folded part of the same job: a point of one of its panels.

    `reach_mm` out from the panel's face, or from its rear. What clamps it there is `washer_mm` broad and counts as
    stiff. Nodes with the same `piece` sit on one and the same piece of the part; each on one of its own where that is
    empty. `turned_rad` turns the part about the upright: without it, the wall that the part is fixed to stands across x
    like a bench's end.
    """

    part: str
    panel: str
    at_mm: tuple[float, float]
    washer_mm: float
    reach_mm: float = 0.0
    rear: bool = False
    piece: str = ""
    turned_rad: float = 0.0


@dataclass(frozen=True)
class Held:
    """A node held by bench, wall or floor, or by a folded part (`seat`).

    *clamped*: all six freedoms. *hinged*: shifts, and turns about all but the y axis. *pinned*: shifts only. *foot*:
    rests, so that the floor pushes it up and never pulls; friction keeps it in place.
    `gives_n_per_mm` is how stiff bench or wall is against pull, None for unyielding.
    """

    node: str
    kind: HeldKind = "clamped"
    to: HeldTo = "bench"
    fixing: Fixing | None = None
    gives_n_per_mm: float | None = None
    seat: Seat | None = None


@dataclass(frozen=True)
class TieRod:
    """A rod that pulls and never pushes, between two nodes.

    `size` is its thread ('3/8', 'M10'). One turn of a nut takes up one pitch, of a turnbuckle two. `pretension_n` is
    its pull before the machine goes on; a slack rod has 0 and `slack_mm` to take up. `crossbar` is the bar its lower
    nut pulls on, drilled through: diameter, hole and the rod's distance from the nearest support, mm.
    """

    name: str
    start: str
    end: str
    size: str
    adjuster: Adjuster = "nut"
    pretension_n: float = 0.0
    slack_mm: float = 0.0
    crossbar: tuple[float, float, float] | None = None
    load_limit_n: float | None = None


@dataclass(frozen=True)
class Speed:
    """Something that turns: its name and how often a second."""

    what: str
    hz: float


@dataclass(frozen=True)
class Push:
    """A lasting or working force of or on the machine: belt pull, feed, kick; N at a place."""

    what: str
    force_n: Place
    at_mm: Place


@dataclass(frozen=True)
class Machine:
    """What stands on the frame.

    `centre_mm` is its centre of mass in the stand's axes and `centre_range_mm` by how much each coordinate may be off.
    `feet_mm` are the places (x, y) of its feet; their height is that of the members under them. `size_mm` is its box,
    for its rotary inertia. `weighed` says where the mass comes from: 'given', 'weighed' or 'guessed'.
    """

    name: str
    mass_kg: Range
    centre_mm: Place
    feet_mm: tuple[tuple[float, float], ...]
    size_mm: Place | None = None
    centre_range_mm: Place = (0.0, 0.0, 0.0)
    speeds: tuple[Speed, ...] = ()
    pushes: tuple[Push, ...] = ()
    people: int = 2
    weighed: str = "given"


@dataclass(frozen=True)
class Leaning:
    """A person who leans on the stand: weight share at a node or place on a member; 0 N is refused in words."""

    force_n: float = DEFAULT_LEAN_N
    at: str | None = None
    refused: bool = False


@dataclass(frozen=True)
class Bench:
    """What the stand hangs on, as far as it can tip, slide or rack.

    `centre_mm` (x, y) of its own mass; `feet_mm` its feet on the floor; `top_mm` the height of the stand's origin
    above the floor. `rack_n_per_mm` is the sideways force at its top that moves the top by 1 mm along x (measure it:
    push with a luggage scale). `ballast_at_mm` and `hold_down_at_mm` are x of where weight or an anchor could go.
    """

    mass_kg: Range
    centre_mm: tuple[float, float]
    feet_mm: tuple[tuple[float, float], ...]
    top_mm: float
    rack_n_per_mm: float | None = None
    wheels: bool = False
    friction: float = 0.3
    ballast_at_mm: float | None = None
    hold_down_at_mm: float | None = None


@dataclass(frozen=True)
class Limits:
    """What the owner allows: sag in mm, slope in mm per m, tipping factor, how near a speed may come."""

    sag_mm: float | None = None
    slope_mm_per_m: float | None = None
    tipping_factor: float = 1.5
    speed_apart: float = 0.2


@dataclass(frozen=True)
class Workshop:
    """How the stock is cut: widest mitre of the saw (rad from square), its kerf, and stock lengths to hand (mm)."""

    saw_reach_rad: float = 0.7853981633974483
    kerf_mm: float = 3.0
    stock_mm: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Reading:
    """One look at how level the stand is now: `low_mm` by which a place lies below where it should, with its error.

    Given as a slope, `low_mm` is the slope times the distance `over_mm` from what it is measured against.
    """

    at: str
    low_mm: float
    error_mm: float = 0.5
    over_mm: float | None = None
    machine_on: bool = True
    extra_n: float = 0.0
    say: str = ""


@dataclass(frozen=True)
class Stand:
    """A whole stand. `nodes` by name; `level_at` are the nodes whose height matters, tips first.

    `ready_made` is the word of the job file for its frame, 'free' for nodes of one's own. `carriers` are the folded parts
    that hold nodes, made ready; without them a node on a part counts as clamped.
    """

    name: str
    nodes: Mapping[str, Place]
    members: tuple[Member, ...]
    held: tuple[Held, ...]
    tie_rods: tuple[TieRod, ...] = ()
    machine: Machine | None = None
    leaning: Leaning = Leaning()
    bench: Bench | None = None
    level_at: tuple[str, ...] = ()
    limits: Limits = Limits()
    workshop: Workshop = Workshop()
    readings: tuple[Reading, ...] = ()
    knock_n: float = DEFAULT_KNOCK_N
    shove_n: float = DEFAULT_SHOVE_N
    ready_made: str = "free"
    carriers: tuple[Carrier, ...] = ()

    def member(self, name: str) -> Member:
        """The member of that name; raises KeyError."""
        for each in self.members:
            if each.name == name:
                return each
        raise KeyError(name)
