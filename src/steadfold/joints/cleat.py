"""A part that hangs by hooking on: what keeps it there, what lifts it off; and magnets, which nobody rates."""

import math
from dataclasses import dataclass

from steadfold.joints.capacity import FixingCapacity, unproven

WOOD_FRICTION = 0.0
"""Friction counted on a cleat's face: none, since wax, paint and shaking take it away."""


@dataclass(frozen=True)
class Cleat:
    """A strip on the wall that a part hooks over.

    `face_rad` is how steep the face stands that keeps the hook from coming away, from the horizontal: a bevelled
    cleat of 45 degrees pi/4, a folded hook pi/2. `deep_mm` is how far the hook reaches down behind the face;
    `above_foot_mm` the height of the cleat over the place where the part leans on the wall.
    """

    face_rad: float
    deep_mm: float
    above_foot_mm: float

    def __post_init__(self) -> None:
        if not (0.0 < self.face_rad <= math.pi / 2.0 + 1e-9 and self.deep_mm > 0.0 and self.above_foot_mm > 0.0):
            raise ValueError("a cleat needs a face between flat and upright, a depth and a height over its foot")


@dataclass(frozen=True)
class Hooked:
    """How a hung part sits.

    `pull_n` away from the wall at the cleat and the equal push at the foot; `seat_n` down on the cleat; `slide_share`
    of the pull that the sloping face can take (above 1 it climbs the face and comes off; 0 for an upright hook);
    `lift_off_n` the upward knock, at the centre of mass, that takes it off; `lift_mm` how far it must be lifted.
    """

    pull_n: float
    seat_n: float
    slide_share: float
    lift_off_n: float
    lift_mm: float


def hooked(cleat: Cleat, weight_n: float, overhang_mm: float, friction: float = WOOD_FRICTION) -> Hooked:
    """How a part of this weight, its centre `overhang_mm` out from the wall, sits on its cleat.

    Moments about the foot: pull = W e / h. On the sloping face it stays while pull <= W tan(face + atan mu).
    An upward knock U at the centre of mass scales weight and pull alike, so it comes off only when U reaches the
    weight; a sloping face that cannot hold lets go at once. `friction` is Coulomb's coefficient on that face, 0 or more.
    Statics. Raises ValueError for no weight.
    """
    if not weight_n > 0.0 or overhang_mm < 0.0 or friction < 0.0:
        raise ValueError("a hung part needs a weight, an overhang and a friction that are not negative")
    pull = weight_n * overhang_mm / cleat.above_foot_mm
    slope = cleat.face_rad + math.atan(friction)
    slide = 0.0 if slope >= math.pi / 2.0 - 1e-9 else pull / (weight_n * math.tan(slope))
    return Hooked(pull, weight_n, slide, weight_n if slide <= 1.0 else 0.0, cleat.deep_mm)


def lifts_off(cleat: Cleat, weight_n: float, overhang_mm: float, knock_n: float, knock_out_mm: float) -> bool:
    """Whether an upward knock, `knock_out_mm` out from the wall, unhooks the part: rules without friction.

    It turns about the cleat's line or lifts as a whole: off when what is left seats with nothing, or when the pull
    that is left is more than the sloping face holds.
    """
    seat = weight_n - knock_n
    if seat <= 0.0:
        return True
    pull = max(0.0, weight_n * overhang_mm - knock_n * knock_out_mm) / cleat.above_foot_mm
    upright = cleat.face_rad >= math.pi / 2.0 - 1e-9
    return not upright and pull > seat * math.tan(cleat.face_rad)


def cleat_capacity() -> FixingCapacity:
    """A cleat as a fixing: unproven, since what holds the cleat itself to the wall is not given."""
    return unproven(
        "a cleat holds by hooking; what its own screws hold in the wall is not given. Add a screw against lifting",
        "cleat",
    )


def magnet_capacity() -> FixingCapacity:
    """Magnets: always unproven; coat, gap and thin sheet take most of the printed pull, and they slide long before."""
    return unproven(
        "no published capacity for magnets on coated sheet; they slide at a fraction of their pull: hang a weight on"
        " one and write the result into the job",
        "magnet",
    )
