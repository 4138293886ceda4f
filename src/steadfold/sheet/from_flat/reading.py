"""A DXF drawing of a flat with its bend lines, as a folded `Part`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import shapely

from steadfold.findings import Finding, Severity
from steadfold.sheet.allowance import din_6935_k_factor
from steadfold.sheet.cad_file import LARGEST_BYTES, CadRefused, in_child
from steadfold.sheet.flat import FlatError, flat_pattern
from steadfold.sheet.from_flat.entities import Drawing, DrawnCurve
from steadfold.sheet.from_flat.faces import LineSpot, bend_lines, faces_of_drawing
from steadfold.sheet.from_flat.loops import Loops, Piece, find_loops
from steadfold.sheet.from_flat.part import BendSpot, folded_part
from steadfold.sheet.from_solid.holes import name_holes
from steadfold.sheet.from_solid.reading import CadReading, RecognisedPart, Units, check_flat
from steadfold.sheet.resolve import BendChoice, BendRule

MILLIMETRES = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
HEADER_UNITS: dict[int, Units] = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}

ROLES = ("cut", "bend", "bend_up", "bend_down", "engrave", "ignore")
GAP_MM = 0.1
LARGEST_MM = 8000.0
LARGE_MM = 4000.0
SMALLEST_MM = 3.0
BEND_WORDS = (
    "bend",
    "fold",
    "bieg",
    "kant",
    "pli",
    "pieg",
    "vouw",
    "buig",
    "knick",
    "crease",
    "doblez",
    "dobra",
    "гиб",
    "bukk",
    "böj",
)
TANGENT_WORDS = ("extent", "tangent")
DASHED_WORDS = ("dash", "hidden", "cent", "phantom", "divide", "dot", "strich", "verdeckt", "mitte")


@dataclass(frozen=True)
class LineBend:
    """What one bend line turns through, by its number in the order of the file, from 0; a radius of None is left
    to the rule."""

    line: int
    angle_rad: float
    inside_radius_mm: float | None = None


def read_dxf(
    path: str | Path,
    thickness_mm: float,
    k_factor: float | None = None,
    bend_rule: BendRule | None = None,
    inside_radius_mm: float | None = None,
    layers: Mapping[str, Sequence[str]] | None = None,
    bends: Sequence[LineBend] = (),
    bend_angle_rad: float | None = None,
    units: Units | None = None,
    gap_mm: float = GAP_MM,
) -> CadReading:
    """The parts whose flats a DXF file draws, folded along its bend lines.

    `layers` maps roles (cut, bend, bend_up, bend_down, engrave, ignore) to layer names of the file; without
    it bend lines are known by layer name, by a broken line type, or by running from edge to edge inside the
    metal. A bend line is the middle of its bend. It turns by its entry in `bends`, else by `bend_angle_rad`
    (positive towards the viewer of the drawing; on a `bend_down` layer away). Radius and K come from
    `bend_rule(angle, radius)`, else `inside_radius_mm` (one thickness when None) and `k_factor` (DIN 6935
    when None). `units` overrules the header. Ends up to `gap_mm` apart are joined.

    Raises `CadRefused` (one sentence) when there is no closed outline, a bend line has no angle, or the
    pieces do not fold as one sheet.
    """
    path = Path(path)
    _look_over(path)
    roles = _roles(layers)
    drawing: Drawing = in_child(
        {"kind": "dxf", "path": str(path.resolve()), "unit_mm": None if units is None else MILLIMETRES[units]}
    )
    findings: list[Finding] = []
    unit, curves = _in_mm(drawing, units, findings, path.name)
    pieces, marked, engraved = _sorted(curves, roles, findings)
    loops = find_loops(pieces, gap_mm)
    _say_mended(loops, gap_mm, findings)
    _say_left_out(drawing, engraved, findings)
    faces = faces_of_drawing(loops, gap_mm, findings)
    rule = bend_rule or _rule(thickness_mm, k_factor, inside_radius_mm)
    spots = bend_lines(curves, marked, loops, faces, findings)
    chosen = _angles(spots, bends, bend_angle_rad, roles, curves)
    if (
        bend_rule is None
        and inside_radius_mm is None
        and any(b is None or b.inside_radius_mm is None for _, _, b in chosen)
    ):
        findings.append(_radius_said(thickness_mm))
    parts = []
    for number, face in enumerate(faces):
        name = path.stem if len(faces) == 1 else f"{path.stem} {number + 1}"
        own = []
        for spot, angle, given in chosen:
            if spot.face != number:
                continue
            choice = rule(angle, given.inside_radius_mm if given is not None else None)
            own.append(
                BendSpot(
                    spot.start, spot.end, angle, choice.inside_radius_mm, choice.k_factor, choice.source, spot.line
                )
            )
        try:
            part = folded_part(name, thickness_mm, face, own)
            check_flat(part)
        except shapely.GEOSException as error:
            raise CadRefused(
                f"the outlines of {name!r} cannot be cut at its bends; draw them clear of each other"
            ) from error
        try:
            pattern = flat_pattern(part)
        except FlatError as error:
            raise CadRefused(f"{name!r} cannot be put together again from its panels: {error}") from None
        holes, said = name_holes(part, pattern)
        parts.append(RecognisedPart(part, name, 1, None, holes, said))
    del unit
    return CadReading(tuple(parts), tuple(findings))


def _look_over(path: Path) -> None:
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            head = stream.read(4096)
    except OSError as error:
        raise CadRefused(
            f"{path.name} cannot be opened ({error.strerror or error}); give the path of a DXF file"
        ) from None
    if size > LARGEST_BYTES:
        raise CadRefused(
            f"{path.name} has {size / 1e6:.0f} MB; files up to {LARGEST_BYTES / 1e6:.0f} MB are read, so "
            "keep the flat only"
        )
    if not head.strip():
        raise CadRefused(f"{path.name} is empty; save the drawing again as DXF")
    binary = b"\r\n\x1a\x00" in head[:32]
    if not binary and (b"\0" in head or b"SECTION" not in head.upper()):
        raise CadRefused(f"{path.name} is not a DXF drawing; save the flat as DXF R2000 or later")


def _roles(layers: Mapping[str, Sequence[str]] | None) -> dict[str, str]:
    found: dict[str, str] = {}
    for role, names in (layers or {}).items():
        if role not in ROLES:
            raise ValueError(f"{role!r} is no role of a layer; write one of {', '.join(ROLES)}")
        for name in (names,) if isinstance(names, str) else names:
            found[name.casefold()] = role
    return found


def _in_mm(drawing: Drawing, units: Units | None, findings: list[Finding], name: str) -> tuple[float, list[DrawnCurve]]:
    """Curves in mm, and what is said about the unit."""
    points = [p for c in drawing.curves for s in c.segments for p in s[:2]]
    wide = max(p[0] for p in points) - min(p[0] for p in points)
    high = max(p[1] for p in points) - min(p[1] for p in points)
    header = HEADER_UNITS.get(drawing.unit_code)
    unit_name: Units = units or header or "mm"
    unit = MILLIMETRES[unit_name]
    where = (
        "as given"
        if units
        else f"as the file's header says ({header})"
        if header
        else "taken as mm: the file's header names no unit"
    )
    text = f"{wide * unit:.2f} × {high * unit:.2f} mm"
    if (units is None and max(wide, high) * unit > LARGEST_MM) or max(wide, high) * unit < SMALLEST_MM:
        others = [
            u for u in ("mm", "in") if u != unit_name and SMALLEST_MM < max(wide, high) * MILLIMETRES[u] < LARGEST_MM
        ]
        hint = " or ".join(f"{max(wide, high) * MILLIMETRES[u]:.0f} mm with units {u!r}" for u in others)
        raise CadRefused(
            f"the drawing would measure {text} ({where}), which is absurd for sheet; say the unit of its "
            "numbers" + (f" ({hint} long)" if hint else "")
        )
    odd = max(wide, high) * unit > LARGE_MM or max(wide, high) * unit < 10.0
    unsure = units is None and (header is None or odd)
    findings.append(
        Finding(
            "drawing-size",
            Severity.CAUTION if unsure else Severity.NOTE,
            name,
            f"The drawing measures {text}, {where}.",
            max(wide, high) * unit,
            None,
            "the file",
            "say the unit if this is not its size" if unsure else "",
        )
    )
    curves = [
        DrawnCurve(
            c.kind,
            c.layer,
            c.line_type,
            tuple(((a[0] * unit, a[1] * unit), (b[0] * unit, b[1] * unit), bulge) for a, b, bulge in c.segments),
        )
        for c in drawing.curves
    ]
    return unit, curves


def _sorted(
    curves: Sequence[DrawnCurve], roles: dict[str, str], findings: list[Finding]
) -> tuple[list[Piece], list[int], int]:
    """Pieces that may be outline; curves marked as bend lines; how many are engraving or tangent lines."""
    pieces: list[Piece] = []
    marked: list[int] = []
    left = 0
    guessed: set[str] = set()
    for number, curve in enumerate(curves):
        role = roles.get(curve.layer.casefold())
        if role is None and roles and "cut" in roles.values():
            role = "ignore"
        if role is None:
            role = _guessed(curve)
            if role != "cut":
                guessed.add(f"{curve.layer!r} ({'bend lines' if role == 'bend' else 'left out'})")
        if role in ("engrave", "ignore"):
            left += 1
        elif role.startswith("bend"):
            if not curve.straight:
                raise CadRefused(
                    f"a bend line on layer {curve.layer!r} is not straight; sheet bends along straight lines only"
                )
            marked.append(number)
        else:
            pieces += [Piece(s, number, curve.straight and curve.kind == "LINE") for s in curve.segments]
    if guessed:
        findings.append(
            Finding(
                "layers-guessed",
                Severity.NOTE,
                "drawing",
                f"Read by the name or line type of their layers: {', '.join(sorted(guessed))}.",
                None,
                None,
                "the file",
                "map the layers in the job if this is wrong",
            )
        )
    return pieces, marked, left


def _guessed(curve: DrawnCurve) -> str:
    layer, line_type = curve.layer.casefold(), curve.line_type.casefold()
    bend = any(word in layer for word in BEND_WORDS)
    if any(word in layer for word in TANGENT_WORDS):
        return "ignore"
    if curve.straight and (bend or any(word in line_type for word in DASHED_WORDS)):
        return "bend"
    if any(word in line_type for word in DASHED_WORDS):
        return "ignore"
    return "cut"


def _say_mended(loops: Loops, gap_mm: float, findings: list[Finding]) -> None:
    if loops.duplicates:
        findings.append(
            Finding(
                "drawn-twice",
                Severity.CAUTION,
                "drawing",
                f"{loops.duplicates} line{'s are' if loops.duplicates > 1 else ' is'} drawn more than "
                "once, wholly or in part; each is cut once.",
                float(loops.duplicates),
                None,
                "the file",
                "draw each line once: a laser follows every one of them",
            )
        )
    if loops.gaps_mm:
        widest = max(loops.gaps_mm)
        findings.append(
            Finding(
                "gaps-closed",
                Severity.CAUTION if widest > 0.02 else Severity.NOTE,
                "drawing",
                f"{len(loops.gaps_mm)} gap{'s' if len(loops.gaps_mm) > 1 else ''} of up to {widest:.3f} "
                "mm between ends of lines "
                f"{'were' if len(loops.gaps_mm) > 1 else 'was'} closed.",
                widest,
                gap_mm,
                "the file",
                "draw outlines closed",
            )
        )


def _say_left_out(drawing: Drawing, engraved: int, findings: list[Finding]) -> None:
    left = [f"{count} {kind}" for kind, count in drawing.left_out]
    if engraved:
        left.append(f"{engraved} curves on layers that are not cut")
    if left:
        findings.append(
            Finding(
                "left-out-of-drawing",
                Severity.NOTE,
                "drawing",
                f"Left out of the flat: {', '.join(left)}.",
                None,
                None,
                "the file",
                "give engraving to the shop on a drawing of its own",
            )
        )
    if drawing.tilted:
        findings.append(
            Finding(
                "drawing-not-flat",
                Severity.CAUTION,
                "drawing",
                f"{drawing.tilted} curves do not lie flat in the drawing's plane; they are seen from above.",
                float(drawing.tilted),
                None,
                "the file",
                "draw the flat in one plane",
            )
        )


def _angles(
    spots: list[LineSpot],
    bends: Sequence[LineBend],
    usual: float | None,
    roles: dict[str, str],
    curves: Sequence[DrawnCurve],
) -> list[tuple[LineSpot, float, LineBend | None]]:
    given = {b.line: b for b in bends}
    unknown = sorted(set(given) - {s.line for s in spots})
    if unknown:
        raise CadRefused(
            f"the drawing has {len(spots)} bend lines, numbered from 0; there is no bend line {unknown[0]}"
        )
    found = []
    for spot in spots:
        own = given.get(spot.line)
        angle = own.angle_rad if own is not None else usual
        if angle is None:
            (x, y), (u, v) = spot.start, spot.end
            raise CadRefused(
                f"the drawing has {len(spots)} bend line{'s' if len(spots) > 1 else ''}, but no angle is "
                f"given for line {spot.line}, from ({x:.1f}, {y:.1f}) to "
                f"({u:.1f}, {v:.1f}) mm; give the angle every line turns through, or one for all"
            )
        role = roles.get(curves[spot.curve].layer.casefold(), "")
        if own is None and role in ("bend_up", "bend_down"):
            angle = abs(angle) if role == "bend_up" else -abs(angle)
        found.append((spot, angle, own))
    return found


def _rule(thickness_mm: float, k_factor: float | None, inside_radius_mm: float | None) -> BendRule:
    usual = thickness_mm if inside_radius_mm is None else inside_radius_mm

    def rule(angle_rad: float, radius_mm: float | None) -> BendChoice:
        radius = usual if radius_mm is None else radius_mm
        if k_factor is not None:
            return BendChoice(radius, k_factor, "given")
        return BendChoice(radius, din_6935_k_factor(radius, thickness_mm), "DIN 6935")

    return rule


def _radius_said(thickness_mm: float) -> Finding:
    return Finding(
        "inside-radius-assumed",
        Severity.CAUTION,
        "drawing",
        f"A flat does not show the inside radius; {thickness_mm:.2f} mm is assumed (one thickness).",
        thickness_mm,
        None,
        "assumed",
        "give the radius the shop will make",
    )
