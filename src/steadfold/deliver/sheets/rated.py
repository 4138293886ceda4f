"""The rating that may be printed on what leaves the shop, or why there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.deliver.sheets.head import reason_of, sentence
from steadfold.findings import Verdict
from steadfold.quantities.showing import Units
from steadfold.review import PartReview
from steadfold.review.walls import lowest


@dataclass(frozen=True)
class Printed:
    """A rating in kg that may be printed, or None and why. `lacks` names the kind of reason in a word or two."""

    kg: float | None
    lacks: str = ""
    why: str = ""


def printed_rating(part: PartReview) -> Printed:
    """The lower end of a part's rating, where every link from tool to wall is proven.

    It is the rating on the wall of the job's mount, reckoned over the proven links only; with one that is not, no mass
    may be printed.
    """
    strength = part.strength
    if strength is None or not math.isfinite(strength.rating_low_kg):
        return Printed(None, "not computed", "Its strength is not computed.")
    if part.verdict in (Verdict.UNPROVEN, Verdict.STOP):
        return Printed(None, str(part.verdict), reason_of(part))
    unproven = next((link for link in strength.chain if link.share is None), None)
    if unproven is not None:
        return Printed(None, "unproven", sentence(f"{unproven.place}: {unproven.say}"))
    return Printed(min(strength.rating_kg, strength.rating_low_kg))


def label_rating(part: PartReview) -> Printed:
    """What the label may say: the lowest rating of all walls that the job names, since whoever fixes the part chooses."""
    printed = printed_rating(part)
    least = lowest(part.walls)
    if printed.kg is None or least is None or least.rating_kg is None:
        return printed
    return Printed(min(printed.kg, least.rating_kg))


def rating_down(rating_kg: float, units: Units) -> str:
    """A rating for print: rounded down to two figures, never up.

    >>> rating_down(27.955, "mm"), rating_down(5.796, "mm"), rating_down(3.52, "in")
    ('27 kg', '5.7 kg', '7.7 lb')
    """
    value, unit = (rating_kg / 0.45359237, "lb") if units == "in" else (rating_kg, "kg")
    if not value > 0:
        return f"0 {unit}"
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    down = math.floor(value / step + 1e-9) * step
    return f"{down:.{max(0, -round(math.log10(step)))}f} {unit}"
