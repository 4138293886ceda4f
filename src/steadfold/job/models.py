"""The job as records: everything a job file says, read, checked and in mm, N, kg, rad.

None in a field that may be None means 'the file does not say', so that the room that uses it takes its own
default and reports it as an assumption. Nothing here has looked into a STEP or DXF file or a shop's profile
yet.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from steadfold.catalogue import Gauge
from steadfold.job.layout import Steps
from steadfold.job.positions import JobText
from steadfold.job.problem import JobProblems, Problem
from steadfold.mount.records import Carried, CaseChoices, Down
from steadfold.sheet.seams import DrawnSeam
from steadfold.sheet.shapes.shape import Value
from steadfold.sheet.tree import Cutout, PanelTree

Backing = Literal[
    "T-slot rail", "wood stud", "wood board", "steel stud", "masonry", "cleat", "strut", "steel", "unknown"
]
BACKINGS: tuple[Backing, ...] = (
    "T-slot rail", "wood stud", "wood board", "steel stud", "masonry", "cleat", "strut", "steel", "unknown",
)  # fmt: skip
"""What a part may be fixed to."""

DOWNS: tuple[Down, ...] = ("bottom", "top", "left", "right", "face", "rear")
"""Which side of the panel that takes the fixings looks at the floor; a panel under a ceiling shows its face to it."""

Lie = Literal["level", "upright"]
LIES: tuple[Lie, ...] = ("level", "upright")
"""How a rail or strut lies on the wall."""

Grain = Literal["along", "across", "any"]
Pulls = Literal["along layers", "across layers"]

CASE_SETTINGS = ("snatch_factor", "drop_height", "knock", "lean", "sag_limit")
"""Keys of `[part.cases]`; each may be given or refused with "none"."""


@dataclass(frozen=True)
class LaterTable:
    """A table of the job file that another room reads: its values as written, and where they stand.

    `path` leads to it from the top of the file; `problem` says something about a key in it with line and
    column.
    """

    values: Mapping[str, Any]
    path: Steps
    text: JobText = field(repr=False, compare=False)

    def problem(self, steps: Steps, sentence: str) -> Problem:
        """A problem with what lies under `steps` of this table; `JobProblems([...])` carries several."""
        return self.text.problem((*self.path, *steps), sentence)

    def refused(self, steps: Steps, sentence: str) -> JobProblems:
        """The exception to raise when one problem is all there is to say."""
        return JobProblems([self.problem(steps, sentence)])


@dataclass(frozen=True)
class ShopChoice:
    """Who cuts, bends and coats: a shipped profile by name, or the user's own file (then `file` is set)."""

    profile: str = "typical"
    file: Path | None = None


@dataclass(frozen=True)
class DxfBend:
    """A bend line of a DXF file, by its number in the order of the file, with what it turns through."""

    line: int
    angle_rad: float
    inside_radius_mm: float | None = None


@dataclass(frozen=True)
class CadFile:
    """A part that comes from another program's file.

    `path` is as written in the job; `file` is where it lies. `units` overrides what the file claims of
    itself. `layers` maps what a layer holds (cut, bend, bend_up, bend_down, engrave, ignore) to the layer
    names in the file. `body` chooses one of several solids in a STEP file. `bend_angle_rad` turns every
    bend line not in `bends`.
    """

    kind: Literal["step", "dxf"]
    path: str
    file: Path
    units: Literal["mm", "in"] | None = None
    body: int | None = None
    layers: tuple[tuple[str, tuple[str, ...]], ...] = ()
    bend_angle_rad: float | None = None
    bends: tuple[DxfBend, ...] = ()


@dataclass(frozen=True)
class PlacedCutout:
    """A cutout that the job adds to a named panel of a ready-made shape."""

    panel: str
    cutout: Cutout


@dataclass(frozen=True)
class Capacity:
    """What one fixing holds by the user's own evidence, and where that comes from."""

    source: str
    tension_n: float | None = None
    shear_n: float | None = None


@dataclass(frozen=True)
class Mount:
    """How a part is held: what it goes into, by which fixing, through the holes of which panel.

    `fastener` is whatever the job says; one that the catalogue does not hold stays unproven unless the job gives
    its `capacity`. `grade` is that of a bolt, `wood` a species or grade, `stud` a size of stud, `profile` the rail,
    strut or cleat, all by their names in the catalogue; `gap_mm` is a
    soft or empty layer between part and backing, such as plasterboard (`gap_of`), `board_mm` the thickness of a wood
    board. `hole_mm` is the width of the holes that take the fixings, where a panel has others too. `down` is the side of
    the panel with the fixings that looks at the floor. `walls` are other walls that the
    same part is also to be rated on, each with its own fixing through the same holes; `called` is what the job calls
    such a wall. `rail` says how a rail or strut lies, `clamp_n` what one tightened bolt presses with; of a cleat, `face_rad` is how
    steep the face stands that the part hooks over, from level, and `hook_mm` how deep it hooks.
    """

    to: Backing
    fastener: str | None = None
    grade: str | None = None
    holes: str | None = None
    length_mm: float | None = None
    washer_mm: float | None = None
    wood: str | None = None
    stud: str | None = None
    stud_spacing_mm: float | None = None
    gap_mm: float | None = None
    gap_of: str | None = None
    profile: str | None = None
    capacity: Capacity | None = None
    down: Down = "bottom"
    board_mm: float | None = None
    called: str | None = None
    walls: tuple[Mount, ...] = ()
    hole_mm: float | None = None
    rail: Lie | None = None
    clamp_n: float | None = None
    face_rad: float | None = None
    hook_mm: float | None = None


@dataclass(frozen=True)
class Certificate:
    """A yield strength promised for this very sheet, and the paper that promises it."""

    yield_mpa: float
    source: str


@dataclass(frozen=True)
class JobPart:
    """One part of the job.

    `material` is the id of the catalogue. `thickness_mm` is None only for a STEP part that leaves it to the
    solid; `gauge` is set when the thickness was given as one. An `inside_radius_mm` of None is 'auto': the
    shop's die decides. `shape` is 'panels', 'step', 'dxf' or a ready-made shape with its `shape_values`, the
    defaults filled in.

    `tree` is None for a part that comes from a file (`cad`). A ready-made shape lays itself out for an inside
    radius: `tree` uses the job's, or a first guess when that is 'auto'; `tree_at` builds it again for the
    radius chosen.

    `seams` join panels that no bend joins. `grain` is the rolling direction seen from the root panel's bottom edge. `pulls`
    (prints and wood) says whether the load pulls along the layers or across them; None is not known.
    """

    name: str
    quantity: int
    material: str
    thickness_mm: float | None
    thickness_text: str
    gauge: Gauge | None
    inside_radius_mm: float | None
    k_factor: float | None
    finish: str
    shape: str
    shape_values: Mapping[str, Value]
    tree: PanelTree | None
    cad: CadFile | None
    cutouts: tuple[PlacedCutout, ...]
    carries: tuple[Carried, ...]
    mount: Mount | None
    cases: CaseChoices
    certificate: Certificate | None
    grain: Grain
    pulls: Pulls | None
    temperature_c: float | None
    path: Steps = field(compare=False)
    seams: tuple[DrawnSeam, ...] = ()


@dataclass(frozen=True)
class Job:
    """A whole job file, resolved. `file` is None for text that was never saved; paths start at `folder`."""

    name: str
    revision: str
    shop: ShopChoice
    parts: tuple[JobPart, ...]
    stands: tuple[LaterTable, ...]
    sale: LaterTable | None
    folder: Path = field(compare=False)
    file: Path | None = field(compare=False)
    text: JobText = field(repr=False, compare=False)
    date: dt.date | None = None

    def part(self, name: str) -> JobPart:
        """The part of that name; `KeyError` if there is none."""
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)

    def problem(self, steps: Steps, sentence: str) -> Problem:
        """A problem with a value of the file, found after reading; steps as in `JobPart.path` and below it."""
        return self.text.problem(steps, sentence)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the job's text (line ends as LF), which everything made from it carries."""
        return hashlib.sha256(self.text.text.encode("utf-8")).hexdigest()
