"""Cuts through the sheet where it usually gives first: along bends, and across the row of fixings.

The forces through a cut come from nodal forces, so they are exact statics on any mesh; no stress peak enters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.mechanics import LineReader, Model
from steadfold.mount.records import Metal
from steadfold.sheet.mesh import SheetMesh, placed
from steadfold.sheet.part import Bend, Part
from steadfold.sheet.pose import Frame, Pose

WINDOW_T = 10.0
"""Width of a window along a long bend, in thicknesses (judgement: about what a hinge spreads to)."""


@dataclass(frozen=True)
class Cut:
    """A straight cut along a line of nodes: which of the line's nodes are in it, its directions, and its metal.

    `along` runs in the cut, `across` is square to it in the sheet, `normal` is the sheet's. `length_mm` is
    metal only, openings taken off.
    """

    name: str
    place: str
    inside: np.ndarray
    along: np.ndarray
    across: np.ndarray
    normal: np.ndarray
    middle_mm: np.ndarray
    pieces_mm: tuple[tuple[float, float], ...]
    thickness_mm: float

    @property
    def length_mm(self) -> float:
        """Length of metal in the cut."""
        return sum(b - a for a, b in self.pieces_mm)

    @property
    def in_plane_modulus_mm2(self) -> float:
        """Section modulus a millimetre of thickness for bending in the sheet's own plane, mm²."""
        low, high = self.pieces_mm[0][0], self.pieces_mm[-1][1]
        area = self.length_mm
        middle = sum(0.5 * (b * b - a * a) for a, b in self.pieces_mm) / area
        second = sum((b - middle) ** 3 - (a - middle) ** 3 for a, b in self.pieces_mm) / 3.0
        return second / max(high - middle, middle - low)


@dataclass(frozen=True, eq=False)
class Line:
    """A line of nodes, read once a case, and the cuts along it: the whole line, and windows of a long one."""

    reader: LineReader
    cuts: tuple[Cut, ...]


@dataclass(frozen=True)
class CutForces:
    """What goes through a cut: pull square to it, shear along it and out of the sheet (N); bending about it,
    bending in the sheet's plane, and twist (N mm)."""

    pull_n: float
    shear_along_n: float
    shear_through_n: float
    bending_nmm: float
    in_plane_nmm: float
    twist_nmm: float


def bend_lines(part: Part, sheet: SheetMesh, pose: Pose, model: Model) -> tuple[Line, ...]:
    """A line at each tangent line of each bend, cut whole and, along long bends, in windows of ten thicknesses that
    half overlap: a load near one spot of a wide bend is carried there, not by the whole width."""
    places = placed(sheet, pose)
    found: list[Line] = []
    for number, bend in enumerate(part.bends):
        child = part.panels[bend.child].name
        sides = (
            (0, pose.bends[number].start, sheet.panel_count + number, 0.0, f"root of {child}"),
            (1, pose.bends[number].end(), bend.child, bend.allowance_mm, f"outer side of the bend to {child}"),
        )
        for which, frame, region, level, place in sides:
            nodes = np.asarray(sheet.tangent_nodes[number][which])
            pieces = _metal_along(bend, level)
            if len(nodes) < 2 or not pieces:
                continue
            along = (places[nodes] - frame.origin) @ frame.along
            whole = _cut("bend", place, np.arange(len(nodes)), frame, pieces, part.thickness_mm)
            width = WINDOW_T * part.thickness_mm
            windows = _windows(place, along, frame, pieces, part.thickness_mm, width) if bend.length_mm > 1.5 * width else []
            found.append(Line(LineReader(model, _touching(sheet, region, nodes), nodes), (whole, *windows)))
    return tuple(found)


def _cut(
    name: str, place: str, inside: np.ndarray, frame: Frame, pieces: tuple[tuple[float, float], ...], thickness_mm: float
) -> Cut:
    middle = 0.5 * (pieces[0][0] + pieces[-1][1])
    shifted = tuple((a - middle, b - middle) for a, b in pieces)
    origin = frame.origin + middle * frame.along
    return Cut(name, place, inside, frame.along, frame.away, frame.face, origin, shifted, thickness_mm)


def _touching(sheet: SheetMesh, region: int, nodes: np.ndarray) -> np.ndarray:
    """Triangles of a region that touch some nodes; the others put no force on them."""
    return np.flatnonzero((sheet.region == region) & np.isin(sheet.triangles, nodes).any(axis=1))


def _metal_along(bend: Bend, level_mm: float) -> tuple[tuple[float, float], ...]:
    """Where there is metal along a strip at a level across it, as runs of x."""
    y = min(max(level_mm, 1e-6), bend.allowance_mm - 1e-6)
    line = shapely.LineString([(-1.0, y), (bend.length_mm + 1.0, y)])
    metal = shapely.union_all([face.polygon() for face in bend.faces])
    runs = [g.bounds for g in shapely.get_parts(metal.intersection(line)) if g.geom_type == "LineString"]
    return tuple(sorted((b[0], b[2]) for b in runs))


def _windows(
    place: str,
    along: np.ndarray,
    frame: Frame,
    pieces: tuple[tuple[float, float], ...],
    thickness_mm: float,
    width: float,
) -> list[Cut]:
    """Windows of a line: the nodes of each, and the metal out to half way to the neighbouring nodes."""
    edges = np.concatenate([[along[0]], 0.5 * (along[1:] + along[:-1]), [along[-1]]])
    windows = []
    for low in np.arange(along[0], along[-1] - width + 1e-9, 0.5 * width):
        inside = np.flatnonzero((along >= low - 1e-9) & (along <= low + width + 1e-9))
        if len(inside) < 4:
            continue
        a, b = float(edges[inside[0]]), float(edges[inside[-1] + 1])
        metal = tuple((max(a, p), min(b, q)) for p, q in pieces if min(b, q) - max(a, p) > 1e-6)
        if metal:
            windows.append(_cut("window", place, inside, frame, metal, thickness_mm))
    return windows


def forces_through(cut: Cut, line: Line, on_nodes: np.ndarray) -> CutForces:
    """The forces and moments that the outer side passes through a cut, about the middle of its metal; `on_nodes` are
    the line's nodal forces in one case."""
    mine = on_nodes[cut.inside]
    arms = line.reader.model.nodes_mm[line.reader.line_nodes[cut.inside]] - cut.middle_mm
    force = mine[:, :3].sum(axis=0)
    moment = (mine[:, 3:] + np.cross(arms, mine[:, :3])).sum(axis=0)
    return CutForces(
        float(force @ cut.across),
        float(force @ cut.along),
        float(force @ cut.normal),
        float(moment @ cut.along),
        float(moment @ cut.normal),
        float(moment @ cut.across),
    )


def elastic_stress_mpa(cut: Cut, forces: CutForces) -> float:
    """Largest nominal stress square to a cut, as of a beam: pull, bending about the cut and bending in the sheet's plane.

    Pull over L t, bending over L t² / 6, bending in plane over its own section modulus, added up. Shear and twist
    are left to the sheet's own measure: a cut beside a wide panel does not twist as a long strip would.
    Source: strength of materials, stress in a rectangular section.
    """
    t, length = cut.thickness_mm, cut.length_mm
    return (
        abs(forces.pull_n) / (length * t)
        + abs(forces.bending_nmm) / (length * t * t / 6)
        + abs(forces.in_plane_nmm) / (t * cut.in_plane_modulus_mm2)
    )


def plastic_share(cut: Cut, forces: CutForces, metal: Metal) -> float:
    """Share of a cut's full plastic strength: `M / Mp + Mz / Mzp + (N / Np)²`; 1 is a hinge.

    Mp = fy L t² / 4, Np = fy L t; in plane 1.5 times the elastic moment for one run of metal (a rectangle), the
    elastic moment where openings part it, on the careful side. Source: plastic hinge of a rectangular section.
    """
    t, length, fy = cut.thickness_mm, cut.length_mm, metal.yield_mpa
    bending = abs(forces.bending_nmm) / (0.25 * fy * length * t * t)
    shape = 1.5 if len(cut.pieces_mm) == 1 else 1.0
    in_plane = abs(forces.in_plane_nmm) / (shape * fy * t * cut.in_plane_modulus_mm2)
    pull = abs(forces.pull_n) / (fy * length * t)
    return bending + in_plane + pull * min(pull, 1.0)
