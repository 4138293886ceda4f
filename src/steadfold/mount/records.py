"""What is asked of a part on its wall, and what comes out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from steadfold.findings import Finding
from steadfold.quantities import Range
from steadfold.sheet.outline import Point

Down = Literal["bottom", "top", "left", "right", "face", "rear"]
"""Which side of the panel that takes the fixings looks at the floor."""


class MountError(ValueError):
    """A load or fixing that makes no sense; `field` says which key to change, `str()` what would be right.

    `table` is 'carries' (then `number` is its place in the list), 'mount' or 'cases'.
    """

    def __init__(self, table: str, field: str, sentence: str, number: int = 0):
        super().__init__(table, field, sentence, number)
        self.table = table
        self.field = field
        self.sentence = sentence
        self.number = number

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True)
class Carried:
    """What hangs, stands or rests on a part.

    `count` items of `mass_kg` each, on the place or panel `on` (None: wherever the shape offers), at a
    point of that panel's frame, its centre of mass `reach_mm` out from the panel.
    """

    item: str
    mass_kg: Range
    count: int = 1
    on: str | None = None
    at_mm: Point | None = None
    reach_mm: float | None = None

    @property
    def total_kg(self) -> Range:
        """Mass of all of them together."""
        return Range(self.count * self.mass_kg.low, self.count * self.mass_kg.high)


@dataclass(frozen=True)
class Fixings:
    """How the part is held.

    `panel` takes the fixings through its holes; `hole_least_mm` is the fastener's own diameter, `washer_mm`
    the outer diameter that presses on the sheet. `axial_n_per_mm` and `shear_n_per_mm` are the stiffness of
    one fixing, `wall_mm_per_n` how far the backing gives for each newton on a square centimetre.
    `band_mm` is the height of the backing behind the fixings (a rail or strut); None is a whole wall. `hole_mm` is the
    width of the holes that take them; None leaves it to `fixing_holes`.
    """

    panel: int
    hole_least_mm: float
    washer_mm: float
    axial_n_per_mm: float
    shear_n_per_mm: float
    wall_mm_per_n: float
    band_mm: float | None = None
    down: Down = "bottom"
    hole_mm: float | None = None


@dataclass(frozen=True)
class CaseChoices:
    """The four cases as the job wants them; None of a value takes the default.

    `refused` holds the names that the job turned off in words ("none"); nothing is ever dropped otherwise.
    """

    snatch_factor: float | None = None
    drop_height_mm: float | None = None
    knock_n: float | None = None
    lean_n: float | None = None
    sag_limit_mm: float | None = None
    refused: tuple[str, ...] = ()


@dataclass(frozen=True)
class Metal:
    """What the model needs to know of the sheet: stiffness, the stress it is rated by, and how it fails.

    `sustained_share` and `short_share` are the shares of the strength that lasting and short loads may use;
    for ductile metal they come from the load factors instead.
    """

    modulus_mpa: float
    poisson: float
    density_kg_m3: float
    yield_mpa: float
    ductile: bool = True
    sustained_share: float = 1.0
    short_share: float = 1.0
    sustained_modulus_factor: float = 1.0


@dataclass(frozen=True)
class Placed:
    """One item at its point: panel, place in its frame, how far its centre stands out from the face, mass."""

    item: str
    panel: int
    at_mm: Point
    reach_mm: float
    mass_kg: Range


@dataclass(frozen=True)
class BoltAnswer:
    """One fixing in the worst case: place in its panel's frame, pull, shear, and share of what it may take.

    `share` is None where nothing proves what it may take.
    """

    at_mm: Point
    tension_n: float
    shear_n: float
    share: float | None
    case: str


@dataclass(frozen=True)
class CaseAnswer:
    """One case: sag of the loads, load factors, and the largest share of what is allowed."""

    name: str
    say: str
    sag_mm: float
    load_factor_set: float
    load_factor_collapse: float
    load_factor_buckling: float | None
    peak_stress_mpa: float
    share: float
    governs: str


@dataclass(frozen=True)
class Link:
    """One link of the chain from tool to wall: what it is, where, how much of what is allowed it uses."""

    name: str
    place: str
    share: float | None
    case: str
    say: str


@dataclass(frozen=True)
class HandCheck:
    """A hand formula with the values put in, beside the model's answer.

    `why` says why they part, where they do by more than 15 %.
    """

    what: str
    formula: str
    values: str
    by_hand: float
    by_model: float
    unit: str
    why: str = ""

    @property
    def ratio(self) -> float:
        """The model's answer over the hand formula's."""
        return self.by_model / self.by_hand if self.by_hand else float("inf")


@dataclass(frozen=True)
class WallRating:
    """What a part may carry on one kind of wall: `backing` and `fixing` in words, the rating at the lower end of its bar,
    what governs it, and the largest share of what is allowed.

    `rating_kg` and `share` are None where nothing proves them; `why` says what is missing. `claimed` is true for a wall
    that the job names, false for one that a buyer may have all the same.
    """

    backing: str
    fixing: str
    rating_kg: float | None
    governs: str
    share: float | None
    why: str
    claimed: bool


@dataclass(frozen=True)
class Picture:
    """What a picture of the answer needs: mesh nodes folded (n, 3), triangles (m, 3), how hard each works
    (m,), and how each node moves in the resting case (n, 3)."""

    nodes_mm: np.ndarray
    triangles: np.ndarray
    share: np.ndarray
    moved_mm: np.ndarray
    loads: tuple[tuple[np.ndarray, np.ndarray, str], ...] = ()
    fixings: tuple[np.ndarray, ...] = ()


@dataclass(frozen=True)
class CollapseRun:
    """The collapse of one case, followed through the layers of the sheet as all its loads grow together.

    `factor` is the largest load factor met: where the part gives way if `reached`, else it carries at least that;
    `complete` is False where the run was ended before it was told. `by_section` is the estimate from plastic sections
    beside it. `set_mm` is what stays of the shift of the loads, the mean along themselves, after `set_factor` times the
    loads are put on and taken off, `moved_mm` the shift under them; None where that is not carried. `curve` is shift in
    mm and load factor, point by point.
    """

    case: str
    say: str
    factor: float
    reached: bool
    complete: bool
    by_section: float
    set_factor: float
    set_mm: float | None
    moved_mm: float | None
    curve: tuple[tuple[float, float], ...]
    freedoms: int

    @property
    def decides(self) -> bool:
        """Whether the part gives way sooner than its sections say."""
        return self.reached and self.factor < self.by_section


@dataclass(frozen=True)
class Strength:
    """Everything computed about whether a part holds.

    `rating_kg` is the mass the part may carry in all, `rating_low_kg` and `rating_high_kg` the ends of its bar.
    `sag_of_items_mm` is what hanging everything on adds to the sag at once, where it bears; the cases' sags hold the part's
    own weight too, and the creep of a print.
    `collapse` is there where the sheet's own strength decides, or nearly so, in the full answer.
    """

    rating_kg: float
    rating_low_kg: float
    rating_high_kg: float
    governs: str
    carried_kg: Range
    cases: tuple[CaseAnswer, ...]
    bolts: tuple[BoltAnswer, ...]
    chain: tuple[Link, ...]
    hand: tuple[HandCheck, ...]
    findings: tuple[Finding, ...]
    freedoms: int
    discretisation_error: float
    sag_limit_mm: float
    tonight: str
    picture: Picture | None = field(default=None, repr=False)
    sag_of_items_mm: float | None = None
    collapse: CollapseRun | None = None

    @property
    def share(self) -> float | None:
        """The largest share of what is allowed, None when a link of the chain is not proven."""
        shares = [link.share for link in self.chain]
        return None if any(s is None for s in shares) else max((s for s in shares if s is not None), default=None)

    @property
    def weakest(self) -> Link:
        """The link that gives first; an unproven one only when nothing else is known."""
        return max(self.chain, key=lambda link: -1.0 if link.share is None else link.share)
