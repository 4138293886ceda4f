"""One solid to one sheet, with the checks that keep a wrong answer from looking right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from steadfold.findings import Finding, Severity
from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.body import Body, place_text
from steadfold.sheet.from_solid.layout import Layout
from steadfold.sheet.from_solid.outline import chained, outer_uses
from steadfold.sheet.from_solid.record import Sheet
from steadfold.sheet.from_solid.refit import refitted
from steadfold.sheet.from_solid.shape import Shape
from steadfold.sheet.from_solid.skin import Skins, find_skins
from steadfold.sheet.from_solid.tree import Tree, build_tree
from steadfold.sheet.from_solid.walls import Wall, find_walls, formed_walls

EXACT_VOLUME = 1e-5
LOOSE_VOLUME = 2e-3
"""Shares of the solid's volume by which the recognised tree may differ: unsaid, and with a finding."""

STOCKY_ASK = 6.0
THICK_ASK_MM = 20.0
THIN_ASK_MM = 0.25
LARGE_ASK_MM = 6000.0


def recognise(body: Body, assumed_radius_mm: float | None = None) -> Sheet:
    """The sheet a solid was folded from.

    `assumed_radius_mm` is the inside radius of bends that are drawn sharp on both sides; one thickness when
    it is None. Raises `CadRefused`.
    """
    body = refitted(body)
    shape = Shape(body)
    skins = find_skins(shape)
    radius = skins.thickness_mm if assumed_radius_mm is None else assumed_radius_mm
    tree = build_tree(shape, skins, radius)
    walls = find_walls(shape, skins)
    formed = formed_walls(shape, skins, walls, _outer_edges(shape, tree))
    layout = Layout(shape, skins, tree, walls, formed)
    try:
        sheet = layout.sheet()
        trimmed = layout.trimmed(sheet)
    except ValueError as error:
        if isinstance(error, CadRefused):
            raise
        raise CadRefused(f"an outline of {body.name!r} cannot be followed ({error}); export the part again") from error
    findings = [
        *sheet.findings,
        *_asked(shape, skins),
        *_formed_said(shape, formed),
        *_radii_said(sheet, assumed_radius_mm),
    ]
    findings += _volume_said(shape, skins, layout.drawn_volume(sheet), layout.bevel_mm3, walls, formed)
    return replace(trimmed, findings=tuple(findings))


def _outer_edges(shape: Shape, tree: Tree) -> set[int]:
    """Edges of the outer contours of all panels."""
    found: set[int] = set()
    for group in tree.panels:
        if not group:
            continue
        normal = shape.body.faces[group[0]].axis
        loops = chained(shape.body, outer_uses(shape.body, group), normal)
        for loop in loops:
            points = [
                shape.body.edges[u.edge].points if u.forward else shape.body.edges[u.edge].points[::-1] for u in loop
            ]
            ring = np.concatenate([p[:-1] for p in points])
            ring = ring - ring.mean(axis=0)
            area = float(np.cross(ring, np.roll(ring, -1, axis=0)).sum(axis=0) @ normal)
            if area > 0:
                found |= {u.edge for u in loop}
    return found


def _asked(shape: Shape, skins: Skins) -> list[Finding]:
    """Questions about a size that is unusual for sheet."""
    body, thickness = shape.body, skins.thickness_mm
    size = body.size_mm
    text = " × ".join(f"{s:.1f}" for s in size)
    side = max(shape.polygons[i].area for i in shape.planes) ** 0.5
    narrow = min(sorted(size)[1], side)
    found = []
    if side < STOCKY_ASK * thickness or narrow < 3 * thickness:
        found.append(
            Finding(
                "stocky-for-sheet",
                Severity.CAUTION,
                body.name,
                f"{text} mm at {thickness:.2f} mm thick is stocky for sheet; is this a piece of bar or block?",
                side / thickness,
                STOCKY_ASK,
                "common practice, no source",
                "check that it is to be cut from sheet",
            )
        )
    if not THIN_ASK_MM <= thickness <= THICK_ASK_MM or max(size) > LARGE_ASK_MM:
        found.append(
            Finding(
                "size-unusual",
                Severity.CAUTION,
                body.name,
                f"The part measures {text} mm at {thickness:.3f} mm thick; is the file's unit right?",
                thickness,
                None,
                "common practice, no source",
                "say the unit of the file's numbers if it is not",
            )
        )
    return found


def _formed_said(shape: Shape, formed: list[Wall]) -> list[Finding]:
    found = []
    for wall in formed:
        where = place_text(np.mean([shape.middle(f) for f in wall.faces], axis=0))
        if not wall.near_edges:
            continue
        kinds = sorted({shape.body.faces[f].kind for f in wall.faces})
        found.append(
            Finding(
                "formed-feature",
                Severity.UNPROVEN,
                where,
                f"A formed feature of {len(wall.faces)} faces ({', '.join(kinds)}) at {where} is neither "
                "panel nor bend (a dimple, "
                "louvre or emboss?): the flat has plain metal there, and nothing is said about it.",
                None,
                None,
                "geometry",
                "tell the shop what it is and which tool makes it",
            )
        )
    return found


def _radii_said(sheet: Sheet, assumed_radius_mm: float | None) -> list[Finding]:
    found = []
    sharp = [b for b in sheet.bends if b.sharp]
    if sharp:
        radius = sharp[0].inside_radius_mm
        how = "one thickness, since none was given" if assumed_radius_mm is None else "as given"
        found.append(
            Finding(
                "inside-radius-assumed",
                Severity.CAUTION,
                sheet.name,
                f"{len(sharp)} bend{'s are' if len(sharp) > 1 else ' is'} drawn with sharp corners; the "
                "inside radius is taken as "
                f"{radius:.2f} mm ({how}).",
                radius,
                None,
                "assumed",
                "draw the radius, or give the one the shop will make",
            )
        )
    zero = [b for b in sheet.bends if b.inside_radius_mm == 0.0]
    if zero:
        found.append(
            Finding(
                "radius-zero",
                Severity.CAUTION,
                sheet.name,
                f"{len(zero)} bend{'s have' if len(zero) > 1 else ' has'} an inside radius of exactly "
                "zero: no press brake makes "
                "that, and the flat will differ from what is drawn.",
                0.0,
                None,
                "geometry",
                "draw the inside radius the shop will make",
            )
        )
    if sheet.count > 1:
        found.append(
            Finding(
                "placed-more-than-once",
                Severity.NOTE,
                sheet.name,
                f"The file places {sheet.name!r} {sheet.count} times; it is read once.",
                float(sheet.count),
                None,
                "the file",
            )
        )
    return found


def _volume_said(
    shape: Shape, skins: Skins, drawn: float, bevel_mm3: float, walls: list[Wall], formed: list[Wall]
) -> list[Finding]:
    """Compare the volume rebuilt from the tree with the solid's; raises `CadRefused` when they differ too much."""
    body = shape.body
    real = body.volume_mm3
    share = abs(drawn - real) / real
    if formed:
        metal = sum(_area(shape, f) for w in formed for f in w.faces) * 0.5 * skins.thickness_mm
        holes = sum(_loop_area(shape, w) for w in formed) * skins.thickness_mm
        if abs(drawn - real) <= metal + holes + LOOSE_VOLUME * real:
            return []
    if abs(drawn - real) <= EXACT_VOLUME * real + bevel_mm3:
        return []
    odd = [w for w in walls if not w.square and w.sunk is None and w not in formed]
    uneven = _uneven(shape, skins)
    places = [place_text(shape.middle(w.faces[0])) for w in odd] + [f"{p} ({t})" for p, t in uneven]
    listed = "; ".join(places[:4]) + (f" and {len(places) - 4} more" if len(places) > 4 else "")
    if share <= LOOSE_VOLUME:
        return [
            Finding(
                "volume-differs",
                Severity.CAUTION,
                body.name,
                f"The recognised panels and bends make {drawn:.1f} mm³, the solid has {real:.1f} mm³: "
                f"{share * 100:.3f} % apart"
                + (f", at {listed}." if listed else "; edges that are not square to the sheet are the usual cause."),
                share,
                EXACT_VOLUME,
                "the file's own volume",
                "look at the faces named before ordering",
            )
        ]
    askew = _drilled_askew(shape, skins, walls)
    if askew is not None:
        diameter, where = askew
        raise CadRefused(
            f"a hole of {diameter:.2f} mm goes askew through the sheet of {body.name!r} at {where}, so "
            "that its outlines on "
            "the two sides differ; draw it square to the sheet, or leave it out and drill it afterwards"
        )
    if uneven:
        place, text = uneven[0]
        raise CadRefused(
            f"the sheet of {body.name!r} is {skins.thickness_mm:.2f} mm thick, but at {place} {text}; a "
            "folded part has the same "
            "thickness everywhere"
        )
    raise CadRefused(
        f"what was recognised in {body.name!r} makes {drawn:.0f} mm³, but the solid has {real:.0f} mm³"
        + (f"; not understood are the faces at {listed}" if listed else "")
        + "; give the sheet part alone, with panels and plain bends"
    )


def _drilled_askew(shape: Shape, skins: Skins, walls: list[Wall]) -> tuple[float, str] | None:
    """Diameter and place of a hole through a plane panel that is neither square to it nor an edge of it."""
    near = set(skins.near)
    for wall in walls:
        for edge in sorted(wall.near_edges):
            one, two = shape.sides[edge]
            base, face = (one, two) if one in near else (two, one)
            record, plane = shape.body.faces[face], shape.body.faces[base]
            if record.kind != "cylinder" or record.bulges or plane.kind != "plane":
                continue
            if 0.02 < abs(float(record.axis @ plane.axis)) < 1 - 1e-5:
                return 2 * record.radius_mm, place_text(shape.middle(face))
    return None


def _area(shape: Shape, face: int) -> float:
    record = shape.body.faces[face]
    if record.kind == "plane":
        return float(shape.polygons[face].area)
    if record.kind == "cylinder":
        points = np.concatenate([shape.body.edges[u.edge].points for u in record.uses])
        along = (points - record.origin) @ record.axis
        return float(2 * np.pi * record.radius_mm * np.ptp(along))
    return record.area_mm2


def _loop_area(shape: Shape, wall: Wall) -> float:
    if not wall.near_edges:
        return 0.0
    points = np.concatenate([shape.body.edges[e].points for e in sorted(wall.near_edges)])
    spread = np.sort(np.ptp(points, axis=0))
    return float(spread[-1] * spread[-2])


def _uneven(shape: Shape, skins: Skins) -> list[tuple[str, str]]:
    """Places on plane faces of either side that have no metal side one thickness behind them, and how thick it is."""
    behind = dict(skins.twins)
    for plane, twins in skins.twins.items():
        for twin in twins:
            behind[twin] = (*behind.get(twin, ()), plane)
    found = []
    for plane in sorted(behind, key=lambda i: (i not in skins.near, i)):
        if shape.body.faces[plane].kind != "plane":
            continue
        bare = shape.polygons[plane]
        for twin in behind[plane]:
            bare = bare.difference(shape.polygons[twin])
        bare = bare.buffer(-0.25 * skins.thickness_mm)
        if bare.is_empty or bare.area < 0.05:
            continue
        spot = max(shapely.get_parts(bare), key=lambda g: g.area).representative_point()
        direction, _ = shape.direction(plane)
        along, away = shape.frame(direction)
        at = spot.x * along + spot.y * away + shape.offsets[plane] * np.cross(along, away)
        depth = shape.depth(plane, at)
        found.append((place_text(at), f"it is {depth:.2f} mm" if depth is not None else "no flat face lies behind it"))
    return found
