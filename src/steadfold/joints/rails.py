"""Nuts in a slot: T-nuts in extruded profile, channel nuts in strut; and which way they slide."""

from dataclasses import dataclass

from steadfold.catalogue import fasteners, profiles
from steadfold.joints.bolts import allowable_tension_n
from steadfold.joints.capacity import FixingCapacity, reduced, unproven

T_NUT_FACTOR = 2.0
"""What a T-nut's rating is divided by for orientation; judgement, as for slip along the slot."""

STRUT_GAUGE = {
    "strut 41x41 12 ga": "12 ga",
    "strut 41x21 12 ga": "12 ga",
    "strut 41x41 12 ga double": "12 ga",
    "strut 41x41 14 ga": "14 ga",
}
"""Channels for which the published nut loads were read; metric ones have none."""


def t_nut_capacity(weight: str | None, bolt: str, strength: str | None = None, slot_mm: float = 8.0) -> FixingCapacity:
    """A T-nut in an extruded profile: never proven, because every maker's slot and nut differ.

    `weight` of the profile ('economy', 'light', 'standard'), None where not known. For slots of 8 mm the catalogue
    has ratings; half of them is shown for orientation, with slip along the slot of mu x preload / 2. Other slots
    give no numbers. Raises NotInCatalogue for an unknown weight, bolt or strength.
    """
    what = f"T-nut for {bolt} in a slot of {slot_mm:g} mm"
    ask = "pull-out and slip of this nut in this profile: ask its maker, or pull one and write the result into the job"
    if weight is None or not 7.5 <= slot_mm <= 8.5:
        return unproven(ask, what)
    nut = profiles.t_nut(weight)
    slip = profiles.t_nut_slip_n(weight, 2.0 * allowable_tension_n(bolt, strength))
    return unproven(
        f"{ask}; the numbers are a range over makers, not a promise",
        what,
        nut.pull_out_n / T_NUT_FACTOR,
        slip,
        f"{nut.source.sentence}; slip: {profiles.t_nut_slip_source().sentence}",
        "pull-out: rating / 2, judgement; slip: mu 0.15 x preload (no more than the rating) / 2, judgement",
    )


def slip_along_slot_n(friction: float, preload_n: float, nut_rating_n: float, factor: float = 2.0) -> float:
    """Force along a slot that one nut holds by friction alone, N: mu x F0 / factor, F0 at most the nut's rating.

    Coulomb friction; the factor is judgement. Raises ValueError for a factor below one.
    """
    if factor < 1.0:
        raise ValueError(f"a factor of {factor} would promise more than friction gives")
    return friction * min(preload_n, nut_rating_n) / factor


def strut_nut_capacity(bolt: str, channel: str, from_end_mm: float | None = None) -> FixingCapacity:
    """A channel nut in strut channel: slip along the channel and pull-out, its published factor of 3 inside.

    `channel` is a profile of the catalogue; `from_end_mm` the distance of the nut from the channel's end (None: not
    given, then the capacity is unproven, because within 25.4 mm only half counts). The lips that stop the nut
    sideways hold more than slip does, but no figure is published: slip counts in every direction.
    Sizes and channels without published loads: unproven.
    """
    size = fasteners.bolt(bolt).size
    gauge = STRUT_GAUGE.get(profiles.profile(channel).id)
    nut = None if gauge is None else profiles.strut_nut(size, gauge)
    what = f"channel nut {size} in {channel}"
    if nut is None:
        return unproven(f"no published slip and pull-out of a {size} nut in {channel}; ask its maker", what)
    torque = f"at {nut.torque_nmm / 1000.0:.0f} N m, oil-free"
    note = f"{nut.factor:g} on ultimate inside the published load; {torque}"
    where = "its distance from the end of the channel is not given; within 25 mm only half would count"
    full = FixingCapacity(
        nut.pull_out_n, nut.slip_n, nut.source.sentence, from_end_mm is not None,
        "" if from_end_mm is not None else where, note, "linear", what,
    )  # fmt: skip
    if from_end_mm is not None and from_end_mm >= nut.end_distance_mm:
        return full
    return reduced(full, nut.end_share, f"halved within {nut.end_distance_mm:.1f} mm of the channel's end")


@dataclass(frozen=True)
class Sliding:
    """Does a row of nuts slide along its slot under a load along it?

    `holds_n` all nuts together by friction; `share` of it that is used; `needs_stop` where friction alone should not
    be trusted: always when the load hangs straight down the slot.
    """

    holds_n: float
    share: float
    needs_stop: bool
    why: str


def sliding(load_n: float, nuts: int, slip_each_n: float, slot_upright: bool) -> Sliding:
    """The check that belongs to the finding `slides-down`; a slot that stands upright wants a stop below the part.

    Practice from strut load tables: never slip alone for a load that hangs straight down. Raises ValueError for less than
    one nut.
    """
    if nuts < 1:
        raise ValueError(f"{nuts} nuts hold nothing")
    holds = nuts * slip_each_n
    used = abs(load_n) / holds if holds > 0.0 else float("inf")
    if slot_upright:
        return Sliding(holds, used, True, "the load pulls along the slot: put a stop or a bolt through a slot below it")
    return Sliding(holds, used, used > 1.0, "the slot lies across the load")
