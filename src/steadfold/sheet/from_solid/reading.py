"""A folded part from another program's STEP file, with no history: panels, bends, holes, as a `Part`."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import shapely

from steadfold.findings import Finding, Severity
from steadfold.sheet.allowance import din_6935_k_factor
from steadfold.sheet.cad_file import SECONDS, CadRefused, in_child, look_over
from steadfold.sheet.flat import FlatError, flat_pattern
from steadfold.sheet.from_solid.holes import Hole, name_holes
from steadfold.sheet.from_solid.record import Sheet
from steadfold.sheet.part import Part
from steadfold.sheet.pose import Frame, flat_places
from steadfold.sheet.resolve import BendRule

Units = Literal["mm", "cm", "m", "in", "ft"]


@dataclass(frozen=True)
class RecognisedPart:
    """A part read from a CAD file.

    `pose` is where its root panel's frame lies in the file (on the middle surface, mm); `copies` how often
    the file places it; `holes` are its openings by kind.
    """

    part: Part
    name: str
    copies: int
    pose: Frame | None
    holes: tuple[Hole, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class CadReading:
    """What a CAD file holds: parts that were understood, and findings on the file as a whole."""

    parts: tuple[RecognisedPart, ...]
    findings: tuple[Finding, ...]

    def only(self, name: str | None = None) -> RecognisedPart:
        """The one part of the file, or the one of that name; raises `CadRefused` naming the choice."""
        found = [p for p in self.parts if name is None or p.name == name]
        if len(found) == 1:
            return found[0]
        names = ", ".join(repr(p.name) for p in self.parts[:12])
        if name is None:
            raise CadRefused(f"the file holds {len(self.parts)} parts ({names}); say which one")
        raise CadRefused(f"the file holds no single part named {name!r}; it holds {names}")


def read_step(
    path: str | Path,
    k_factor: float | None = None,
    bend_rule: Callable[[float], BendRule] | None = None,
    assumed_radius_mm: float | None = None,
    units: Units | None = None,
) -> CadReading:
    """Read the folded parts of a STEP file (AP203, AP214, AP242) in a child process with limits.

    K of every bend is `k_factor`, or what `bend_rule(thickness_mm)` chooses for the drawn angle and radius,
    or DIN 6935's. Bends drawn sharp get `assumed_radius_mm`, one thickness when None. `units` overrules the
    unit that the file's header names.

    Raises `CadRefused` (one sentence) when nothing in the file can be read as a folded part.
    """
    path = Path(path)
    begun = time.monotonic()
    faces = look_over(path)
    request = {"faces": faces, "path": str(path.resolve()), "units": units, "assumed_radius_mm": assumed_radius_mm}
    sheets, refused, left_out, _ = in_child(request, SECONDS - (time.monotonic() - begun))
    parts = []
    refusals = list(refused)
    for sheet in sheets:
        try:
            parts.append(finish(sheet, k_factor, bend_rule))
        except CadRefused as error:
            refusals.append((sheet.name, str(error)))
    if not parts:
        first = refusals[0][1]
        more = f" ({len(refusals) - 1} more solids in the file cannot be read either)" if len(refusals) > 1 else ""
        raise CadRefused(first + more)
    findings = [
        Finding("solid-not-read", Severity.UNPROVEN, name, f"Left out: {say}.", None, None, "the file")
        for name, say in refusals
    ]
    if left_out:
        findings.append(
            Finding(
                "not-solid",
                Severity.NOTE,
                path.name,
                f"Left out: {len(left_out)} shapes that are no solids ({', '.join(sorted(set(left_out)))}).",
                float(len(left_out)),
                None,
                "the file",
            )
        )
    return CadReading(tuple(parts), tuple(findings))


def finish(
    sheet: Sheet, k_factor: float | None, bend_rule: Callable[[float], BendRule] | None = None
) -> RecognisedPart:
    """A sheet with its bend allowances: the part, its holes, and whether it lies flat without overlapping.

    Raises `CadRefused` when its flat does not hang together or lies over itself.
    """
    ks: list[float] = []
    sources: list[str] = []
    rule = bend_rule(sheet.thickness_mm) if bend_rule is not None else None
    for bend in sheet.bends:
        if k_factor is not None:
            ks.append(k_factor)
            sources.append("given")
        elif rule is not None:
            choice = rule(bend.angle_rad, bend.inside_radius_mm)
            ks.append(choice.k_factor)
            sources.append(choice.source)
        else:
            ks.append(din_6935_k_factor(bend.inside_radius_mm, sheet.thickness_mm))
            sources.append("DIN 6935")
    part = sheet.part(ks, sources)
    check_flat(part)
    try:
        pattern = flat_pattern(part)
    except FlatError as error:
        raise CadRefused(f"{sheet.name!r} cannot be laid flat: {error}") from None
    holes, findings = name_holes(part, pattern, sheet.sunk)
    return RecognisedPart(part, sheet.name, sheet.count, sheet.root, holes, (*sheet.findings, *findings))


def check_flat(part: Part) -> None:
    """Raise `CadRefused` when two pieces of a part lie over each other in the flat."""
    places, strips = flat_places(part)
    pieces: list[tuple[str, shapely.Polygon]] = []
    for panel, place in zip(part.panels, places, strict=True):
        pieces += [(panel.name, face.moved(place).polygon(0.02)) for face in panel.faces]
    for bend, place in zip(part.bends, strips, strict=True):
        own = f"the bend between {part.panels[bend.parent].name} and {part.panels[bend.child].name}"
        pieces += [(own, face.moved(place).polygon(0.02)) for face in bend.faces]
    shapes = [shape.buffer(-0.01) for _, shape in pieces]
    tree = shapely.STRtree(shapes)
    for one, two in tree.query(shapes, predicate="intersects").T.tolist():
        if one < two and (shared := shapes[one].intersection(shapes[two]).area) > 0.01:
            raise CadRefused(
                f"laid flat, {pieces[one][0]} of {part.name!r} would lie over {pieces[two][0]} by "
                f"{shared:.1f} mm²; it cannot be cut "
                "from one sheet, so make it of two pieces or shorten one of them"
            )


def renamed(recognised: RecognisedPart, name: str) -> RecognisedPart:
    """The same reading with the part by another name."""
    return replace(recognised, part=recognised.part.renamed(name), name=name)
