"""Which outlines of a drawing are metal, which are openings, and which lines bend the metal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from steadfold.findings import Finding, Severity
from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_flat.entities import DrawnCurve
from steadfold.sheet.from_flat.loops import Loops, check_simple
from steadfold.sheet.outline import Face, Outline, Point

TOUCH_MM = 0.2
"""A bend line that ends this close to an edge is meant to end on it."""


def faces_of_drawing(loops: Loops, gap_mm: float, findings: list[Finding]) -> list[Face]:
    """Outer outlines with their openings, largest first."""
    if not loops.outlines:
        if loops.open_runs or loops.lines:
            run = max(loops.open_runs, key=len) if loops.open_runs else (loops.lines[0],)
            (x, y), (u, v) = run[0].segment[0], run[-1].segment[1]
            raise CadRefused(
                f"no outline in the drawing is closed: one runs from ({x:.2f}, {y:.2f}) to ({u:.2f}, "
                f"{v:.2f}) mm and leaves a gap of "
                f"{math.dist((x, y), (u, v)):.2f} mm (up to {gap_mm:g} mm is closed)"
            )
        raise CadRefused("the drawing holds no outline; draw the flat's outline as closed lines and arcs")
    check_simple(loops.outlines)
    outlines = sorted(loops.outlines, key=lambda o: -abs(o.area_mm2))
    polygons = [o.polygon(0.02) for o in outlines]
    tree = shapely.STRtree(polygons)
    inside: list[list[int]] = [[] for _ in outlines]
    for i, polygon in enumerate(polygons):
        spot = polygon.representative_point()
        for j in tree.query(spot, predicate="within"):
            larger = j != i and abs(outlines[j].area_mm2) > abs(outlines[i].area_mm2)
            if larger and polygons[j].buffer(0.01).contains(polygon):
                inside[i].append(int(j))
    for i, j in tree.query(polygons, predicate="overlaps").T.tolist():
        if i < j and min(polygons[i].difference(polygons[j]).area, polygons[i].intersection(polygons[j]).area) > 0.05:
            spot = polygons[i].boundary.intersection(polygons[j].boundary).representative_point()
            raise CadRefused(
                f"two outlines cross each other at ({spot.x:.1f}, {spot.y:.1f}) mm; draw every outline "
                "clear of the others"
            )
    frame = _frame(outlines, inside)
    if frame is not None:
        findings.append(
            Finding(
                "drawing-frame",
                Severity.CAUTION,
                "drawing",
                "A rectangle around everything is taken for the drawing's frame and left out.",
                None,
                None,
                "geometry",
                "delete the frame, or map the layers in the job",
            )
        )
    depth = [len([j for j in own if j != frame]) for own in inside]
    faces: list[tuple[Outline, list[Outline]]] = []
    owner: dict[int, int] = {}
    for i, outline in enumerate(outlines):
        if i == frame:
            continue
        if depth[i] % 2 == 0:
            owner[i] = len(faces)
            faces.append((outline.anticlockwise(), []))
            if depth[i]:
                x, y = outline.points[0]
                findings.append(
                    Finding(
                        "part-in-opening",
                        Severity.CAUTION,
                        f"({x:.1f}, {y:.1f})",
                        f"An outline at ({x:.1f}, {y:.1f}) mm lies inside an opening of another; it is "
                        "read as a part of its own.",
                        None,
                        None,
                        "geometry",
                        "delete it if it is lettering or scrap",
                    )
                )
        else:
            around = min((j for j in inside[i] if j in owner), key=lambda j: abs(outlines[j].area_mm2))
            faces[owner[around]][1].append(outline.clockwise())
    return [Face(outer, tuple(openings)) for outer, openings in faces]


def _frame(outlines: list[Outline], inside: list[list[int]]) -> int | None:
    """A plain rectangle that holds an outline that holds another: a drawing frame around a part with holes."""
    deep = [i for i, own in enumerate(inside) if len(own) >= 2]
    if not deep:
        return None
    first = outlines[0]
    if len(first.points) != 4 or any(first.bulges):
        return None
    children = [i for i, own in enumerate(inside) if own == [0]]
    parents = {min(own, key=lambda j: abs(outlines[j].area_mm2)) for own in inside if len(own) >= 2}
    return 0 if set(children) and parents & set(children) and all(0 in own for own in inside[1:]) else None


@dataclass(frozen=True)
class LineSpot:
    """A bend line in a face: its ends, its number in the file, the curve it is, and the face it crosses."""

    start: Point
    end: Point
    line: int
    curve: int
    face: int


def bend_lines(
    curves: Sequence[DrawnCurve], marked: list[int], loops: Loops, faces: list[Face], findings: list[Finding]
) -> list[LineSpot]:
    """Bend lines in the order of the file, each with the face it crosses; what is none is said."""
    polygons = [face.polygon(0.02) for face in faces]
    candidates = [(n, curves[n].segments[0], True) for n in marked]
    candidates += [(p.curve, p.segment, False) for p in loops.lines]
    seen: list[tuple[Point, Point]] = []
    spots: list[LineSpot] = []
    loose = []
    for number, (start, end, _), sure in sorted(candidates, key=lambda c: c[0]):
        if any(
            (math.dist(start, a) < 0.05 and math.dist(end, b) < 0.05)
            or (math.dist(start, b) < 0.05 and math.dist(end, a) < 0.05)
            for a, b in seen
        ):
            continue
        line = shapely.LineString([start, end])
        owner = next((i for i, p in enumerate(polygons) if p.buffer(-0.05).intersects(line)), None)
        if owner is not None:
            stretch = _within(line, polygons[owner]) if sure else line
            (x0, y0), (x1, y1) = stretch.coords[0], stretch.coords[-1]
            if sure or (
                shapely.Polygon(polygons[owner].exterior).buffer(TOUCH_MM).contains(line)
                and all(polygons[owner].boundary.distance(shapely.Point(p)) < TOUCH_MM for p in (start, end))
            ):
                seen.append((start, end))
                ends = ((float(x0), float(y0)), (float(x1), float(y1)))
                spots.append(LineSpot(*ends, len(spots), number, owner))
                continue
        loose.append((start, end))
    runs = [run for run in loops.open_runs if len(run) > 1 or not run[0].lone]
    if loose or runs:
        place = loose[0][0] if loose else runs[0][0].segment[0]
        count = len(loose) + len(runs)
        findings.append(
            Finding(
                "open-outline",
                Severity.CAUTION,
                f"({place[0]:.1f}, {place[1]:.1f})",
                f"{count} open line{'s' if count > 1 else ''} ({'the first' if count > 1 else 'it is'} at "
                f"({place[0]:.1f}, {place[1]:.1f}) mm) belong"
                f"{'' if count > 1 else 's'} to no closed outline and {'are' if count > 1 else 'is'} no "
                "bend line from edge to edge; left out of the flat.",
                float(count),
                None,
                "geometry",
                "close them, delete them, or map their layer",
            )
        )
    return spots


def _within(line: shapely.LineString, polygon: shapely.Polygon) -> shapely.LineString:
    """A bend line from where it first meets metal to where it last leaves it."""
    metal = polygon.buffer(TOUCH_MM).intersection(line)
    along = [line.project(shapely.Point(p)) for part in shapely.get_parts(metal) for p in part.coords]
    low, high = max(min(along) - 1e-9, 0.0), min(max(along) + 1e-9, line.length)
    return shapely.LineString([line.interpolate(low), line.interpolate(high)])
