"""What a search for a bend order answers with: a plan, step by step, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from steadfold.fabricate.gauging import Gauge


@dataclass(frozen=True)
class BendStep:
    """One stroke of the brake.

    `bends` are indices in the part. `made_before` has a bit for every stroke already made (the strokes of
    `strokes_of(part)`, this one is number `stroke`). `face_up` is +1 when the drawn face of the sheet
    looks up (to the punch). `child_at_back` tells whether the bends' children lie towards the backgauge.
    `flip` and `turned_rad` are what the operator does before this step. `clearance_mm` is the least gap
    between the tools and what is not itself being bent, looked at every degree; None where nothing comes
    near.
    """

    stroke: int
    bends: tuple[int, ...]
    work: Literal["bend", "press flat"]
    made_before: int
    face_up: int
    child_at_back: bool
    flip: bool
    turned_rad: float
    tool: str
    changes_tool: bool
    gauge: Gauge | None
    way_out: Literal["up", "sideways"]
    angle_rad: float
    over_bend_rad: float
    clearance_mm: float | None
    press_force_kn: float
    press_force_kn_per_m: float
    cost_s: float

    @property
    def turn_deg(self) -> float:
        """Turn of the sheet before this step, in degrees."""
        return round(self.turned_rad * 57.29577951308232, 3)

    @property
    def overbend_deg(self) -> float:
        """How much further than its angle the stroke goes for springback, in degrees."""
        return round(self.over_bend_rad * 57.29577951308232, 3)


@dataclass(frozen=True)
class BendPlan:
    """An order of bends in which nothing meets these tools.

    `complete` is True when no other order costs less by the shop's own seconds; otherwise this is the
    best that was found.
    """

    steps: tuple[BendStep, ...]
    flips: int
    cost_s: float
    complete: bool

    @property
    def clearance_mm(self) -> float | None:
        """Least gap over all steps."""
        gaps = [step.clearance_mm for step in self.steps if step.clearance_mm is not None]
        return min(gaps, default=None)

    @property
    def press_force_kn(self) -> float:
        """Largest force of a step."""
        return max((step.press_force_kn for step in self.steps), default=0.0)


@dataclass(frozen=True)
class Remedy:
    """A change after which an order exists: it was tried. `amount_mm` is how much of it was needed."""

    what: Literal["another punch", "taller punch", "shorter panel"]
    say: str
    amount_mm: float | None = None
    panel: str | None = None


@dataclass(frozen=True)
class NoPlan:
    """No order exists with these tools, in any sequence, on either side; `proved` unless `why` is 'not found'.

    `made` are the strokes that can be made before all ways end, in the state that comes nearest to going
    on; `blocked` is the bend that is next there; `pair` names the body and the part of the tool that
    meet, at `angle_rad`, `depth_mm` deep ('trapped' when it can be bent but not taken out). `frees` are
    changes that were tried and give an order, the smallest first.
    """

    made: tuple[int, ...]
    blocked: tuple[int, ...]
    pair: tuple[str, str]
    tool: str
    angle_rad: float
    depth_mm: float
    why: Literal["meets", "trapped", "too sharp", "not found"]
    frees: tuple[Remedy, ...] = ()

    @property
    def proved(self) -> bool:
        """False when the search was cut off: then an order may exist, and nothing else here is known."""
        return self.why != "not found"
