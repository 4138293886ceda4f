"""What one fixing may carry, how surely that is known, and what share of it a load uses."""

import math
from dataclasses import dataclass, replace
from typing import Literal

Interaction = Literal["linear", "quadratic", "hankinson", "bolt"]
"""How tension and shear add up to a share:

- *linear*: T/Tr + V/Vr (NDS 12.4.2, wood screws; sheet around a hole, on the careful side);
- *quadratic*: sqrt((T/Tr)^2 + (V/Vr)^2) (EN 1995-1-1, eq. 8.28, screws);
- *hankinson*: (T^2/Tr + V^2/Vr) / sqrt(T^2 + V^2) (NDS 12.4.1, lag screws);
- *bolt*: the larger of T/Tr and V/Vr + T/(1.4 Tr) (EN 1993-1-8, Table 3.4; recalled).
"""


@dataclass(frozen=True)
class FixingCapacity:
    """What one fixing may carry in service, all factors taken off; N.

    `tension_n` along its axis, `shear_n` across it; None is 'nobody says', never zero and never endless.
    `proven` is true only if every number behind it is published for this case or was given by the user with
    its source; otherwise `why_unproven` says what is missing, and numbers that stand all the same are for
    orientation. `factor_note` says what stands between the number and breaking. `what` names the link in the
    chain; `links` are the single links where there are several: each keeps its own interaction, and the
    weakest decides.
    """

    tension_n: float | None
    shear_n: float | None
    source: str
    proven: bool
    why_unproven: str
    factor_note: str
    interaction: Interaction
    what: str = "fixing"
    links: tuple["FixingCapacity", ...] = ()

    def __post_init__(self) -> None:
        for value in (self.tension_n, self.shear_n):
            if value is not None and not (math.isfinite(value) and value >= 0.0):
                raise ValueError(f"a capacity of {value} N: it must be finite and not negative")
        if self.proven and self.why_unproven:
            raise ValueError("a proven capacity cannot say why it is unproven")
        if not self.proven and not self.why_unproven:
            raise ValueError("an unproven capacity must say what is missing")


def share(capacity: FixingCapacity, tension_n: float, shear_n: float) -> float:
    """The share of a fixing's capacity that this tension and shear use; 1 is all of it.

    Tension below zero is the part pressing on its backing, which no fixing carries: it counts as none. The
    sign of the shear does not matter. Where the capacity in a direction that is loaded is not known the
    answer is nan, unless another link is over its limit already: then that link's share. inf where a
    capacity is zero. Raises ValueError for loads that are not finite.
    """
    return governing(capacity, tension_n, shear_n)[1]


def governing(capacity: FixingCapacity, tension_n: float, shear_n: float) -> tuple[str, float]:
    """The link of the chain that decides under this load, by its name, and its share as `share` gives it.

    Raises `ValueError` for a load that is not finite.
    """
    if not (math.isfinite(tension_n) and math.isfinite(shear_n)):
        raise ValueError(f"loads of {tension_n} and {shear_n} N: they must be finite")
    pull, across = max(tension_n, 0.0), abs(shear_n)
    shares = [(each.what, _own_share(each, pull, across)) for each in capacity.links or (capacity,)]
    known = [each for each in shares if not math.isnan(each[1])]
    unknown = [each for each in shares if math.isnan(each[1])]
    worst = max(known, key=lambda each: each[1], default=None)
    if unknown and (worst is None or worst[1] <= 1.0):
        return unknown[0]
    return worst if worst is not None else (capacity.what, math.nan)


def weakest(links: tuple[FixingCapacity, ...], what: str = "fixing") -> FixingCapacity:
    """Several links in a row as one capacity: the least of each direction, proven only if all are.

    A direction that one link does not know is unknown for the whole: None. Raises ValueError for no links.
    """
    if not links:
        raise ValueError("a chain without links holds nothing")
    flat = tuple(each for link in links for each in (link.links or (link,)))
    if len(flat) == 1:
        return flat[0]
    reasons = tuple(dict.fromkeys(each.why_unproven for each in flat if not each.proven))
    return FixingCapacity(
        _least(tuple(each.tension_n for each in flat)),
        _least(tuple(each.shear_n for each in flat)),
        "; ".join(dict.fromkeys(f"{each.what}: {each.source}" for each in flat)),
        not reasons,
        "; ".join(reasons),
        "; ".join(dict.fromkeys(f"{each.what}: {each.factor_note}" for each in flat)),
        "linear",
        what,
        flat,
    )


def given(
    source: str, tension_n: float | None, shear_n: float | None, what: str = "fixing in its backing"
) -> FixingCapacity:
    """A capacity the user has evidence for, taken as it stands: no factor is put on it.

    A direction the user does not give stays unknown. Raises ValueError without a source.
    """
    if not source.strip():
        raise ValueError("a capacity needs the source it comes from")
    return FixingCapacity(
        tension_n, shear_n, source.strip(), True, "", "as given: what may be used, with no further factor", "linear",
        what,
    )  # fmt: skip


def unproven(
    why: str,
    what: str = "fixing in its backing",
    tension_n: float | None = None,
    shear_n: float | None = None,
    source: str = "none",
    factor_note: str = "none",
) -> FixingCapacity:
    """A capacity nobody vouches for; numbers may stand in it for orientation."""
    return FixingCapacity(tension_n, shear_n, source, False, why, factor_note, "linear", what)


def reduced(capacity: FixingCapacity, factor: float, note: str) -> FixingCapacity:
    """The same capacity times a factor (0 to 1), in every link, with a note why."""
    if not 0.0 <= factor <= 1.0:
        raise ValueError(f"a reduction by {factor} is none")
    return replace(
        capacity,
        tension_n=None if capacity.tension_n is None else capacity.tension_n * factor,
        shear_n=None if capacity.shear_n is None else capacity.shear_n * factor,
        factor_note=f"{capacity.factor_note}; {note}",
        links=tuple(reduced(each, factor, note) for each in capacity.links),
    )


def _own_share(capacity: FixingCapacity, pull: float, across: float) -> float:
    if pull == 0.0 and across == 0.0:
        return 0.0
    by_tension = _part(pull, capacity.tension_n)
    by_shear = _part(across, capacity.shear_n)
    if math.isinf(by_tension) or math.isinf(by_shear):
        return math.inf
    match capacity.interaction:
        case "linear":
            return by_tension + by_shear
        case "quadratic":
            return math.hypot(by_tension, by_shear)
        case "hankinson":
            return (pull * by_tension + across * by_shear) / math.hypot(pull, across)
        case "bolt":
            return math.nan if math.isnan(by_tension) else max(by_tension, by_shear + by_tension / 1.4)


def _part(load: float, limit: float | None) -> float:
    if load == 0.0:
        return 0.0
    if limit is None:
        return math.nan
    return load / limit if limit > 0.0 else math.inf


def _least(values: tuple[float | None, ...]) -> float | None:
    known = [value for value in values if value is not None]
    return min(known) if known and len(known) == len(values) else None
