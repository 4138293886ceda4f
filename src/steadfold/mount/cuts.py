"""Cuts through the sheet where it usually gives first: along bends, and across the row of fixings.

The forces through a cut come from nodal forces, so they are exact statics on any mesh; no stress peak enters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from scipy import sparse

from steadfold.mechanics import LineReader, Model
from steadfold.mount.fixing_holes import Hole
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

    @classmethod
    def joined(cls, lines: Sequence[Line]) -> Line:
        """All cuts of several lines of one mesh, to be read together."""
        starts = np.cumsum([0, *(len(line.reader.line_nodes) for line in lines)])
        cuts = [replace(c, inside=c.inside + s) for line, s in zip(lines, starts, strict=False) for c in line.cuts]
        return cls(LineReader.joined([line.reader for line in lines]), tuple(cuts))

    @cached_property
    def through(self) -> sparse.bsr_matrix:
        """From forces and moments at the nodes to those through the cuts, six of each, about the middle of their metal."""
        counts = np.array([len(c.inside) for c in self.cuts])
        nodes = np.concatenate([c.inside for c in self.cuts])
        axes = np.array([[c.across, c.along, c.normal] for c in self.cuts])
        middles = np.array([c.middle_mm for c in self.cuts])
        lever = self.reader.model.nodes_mm[self.reader.line_nodes[nodes]] - np.repeat(middles, counts, axis=0)
        way = np.repeat(axes, counts, axis=0)
        blocks = np.zeros((len(nodes), 6, 6))
        blocks[:, :3, :3] = blocks[:, 3:, 3:] = way
        blocks[:, 3:, :3] = np.cross(way, lever[:, None, :])
        shape = (6 * len(self.cuts), 6 * len(self.reader.line_nodes))
        return sparse.bsr_matrix((blocks, nodes, np.concatenate([[0], np.cumsum(counts)])), shape=shape)

    @cached_property
    def lengths_mm(self) -> np.ndarray:
        """Metal in each cut."""
        return np.array([c.length_mm for c in self.cuts])

    @cached_property
    def in_plane_moduli_mm2(self) -> np.ndarray:
        """Section modulus of each cut in the sheet's plane, a millimetre of thickness."""
        return np.array([c.in_plane_modulus_mm2 for c in self.cuts])

    @cached_property
    def in_plane_shapes(self) -> np.ndarray:
        """Plastic over elastic moment of each cut in the sheet's plane."""
        return np.array([1.5 if len(c.pieces_mm) == 1 else 1.0 for c in self.cuts])


@dataclass(frozen=True, eq=False)
class CutForces:
    """What goes through each of some cuts (cuts,) or (cuts, cases): pull square to it, shear along it and out of the sheet (N); bending
    about it, bending in the sheet's plane, and twist (N mm)."""

    pull_n: np.ndarray
    shear_along_n: np.ndarray
    shear_through_n: np.ndarray
    bending_nmm: np.ndarray
    in_plane_nmm: np.ndarray
    twist_nmm: np.ndarray


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
            if which == 1 and pieces:
                pieces = _narrowest(pieces, _metal_beside(part, bend))
            if len(nodes) < 2 or not pieces:
                continue
            along = (places[nodes] - frame.origin) @ frame.along
            whole = cut_at("bend", place, np.arange(len(nodes)), frame, pieces, part.thickness_mm)
            width = WINDOW_T * part.thickness_mm
            parts = windows(place, along, frame, pieces, part.thickness_mm, width) if bend.length_mm > 1.5 * width else []
            found.append(Line(LineReader(model, _touching(sheet, region, nodes), nodes), (whole, *parts)))
    return tuple(found)


def cut_at(
    name: str, place: str, inside: np.ndarray, frame: Frame, pieces: tuple[tuple[float, float], ...], thickness_mm: float
) -> Cut:
    """A cut along a frame's x; `pieces` are the runs of metal along it."""
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


def _metal_beside(part: Part, bend: Bend) -> list[tuple[tuple[float, float], ...]]:
    """Runs of the child's metal along a bend, as x of the bend, at some levels within half a thickness of it: a relief that
    goes so little past the tangent line ends on it in the mesh, which hands on through what is left."""
    metal = shapely.union_all([face.polygon() for face in part.panels[bend.child].faces])
    start, along, away = (np.asarray(v, dtype=float) for v in (bend.child_point, bend.child_along, bend.child_away))
    found = []
    for level in part.thickness_mm * np.array([0.01, 0.1, 0.2, 0.3, 0.4, 0.5]):
        ends = [start + level * away + x * along for x in (0.0, bend.length_mm)]
        cut = shapely.get_parts(metal.intersection(shapely.LineString(ends)))
        runs = [np.sort((shapely.get_coordinates(g) - start) @ along) for g in cut if g.length > 1e-6]
        found.append(tuple(sorted((float(r[0]), float(r[-1])) for r in runs)))
    return found


def _narrowest(
    own: tuple[tuple[float, float], ...], others: list[tuple[tuple[float, float], ...]]
) -> tuple[tuple[float, float], ...]:
    """The runs with the least metal of some; the first unless another has clearly less, and some."""
    best, least = own, sum(b - a for a, b in own) - 1e-3
    for runs in others:
        metal = sum(b - a for a, b in runs)
        if 0 < metal < least:
            best, least = runs, metal
    return best


def windows(
    place: str,
    along: np.ndarray,
    frame: Frame,
    pieces: tuple[tuple[float, float], ...],
    thickness_mm: float,
    width: float,
) -> list[Cut]:
    """Windows of a line: the nodes of each, and the metal out to half way to the neighbouring nodes."""
    edges = np.concatenate([[along[0]], 0.5 * (along[1:] + along[:-1]), [along[-1]]])
    found = []
    for low in np.arange(along[0], along[-1] - width + 1e-9, 0.5 * width):
        inside = np.flatnonzero((along >= low - 1e-9) & (along <= low + width + 1e-9))
        if len(inside) < 2:
            continue
        a, b = float(edges[inside[0]]), float(edges[inside[-1] + 1])
        metal = tuple((max(a, p), min(b, q)) for p, q in pieces if min(b, q) - max(a, p) > 1e-6)
        if metal:
            found.append(cut_at("window", place, inside, frame, metal, thickness_mm))
    return found


def fixing_lines(
    part: Part,
    sheet: SheetMesh,
    pose: Pose,
    model: Model,
    holes: Sequence[tuple[int, Hole]],
    rings: Sequence[np.ndarray],
    fastener_mm: float,
    down: np.ndarray,
) -> tuple[Line, ...]:
    """A line along each row of fixings on either side of it, cut whole and in windows.

    It runs along the edge of the fasteners, not their middle: the plate hinges there (AISC, prying action: b' = b - d/2,
    recalled).

    The nodes are those between the triangles of one side and the rest of the panel, and those under the washers: what
    the side puts on them is all that acts on it from outside, so exact statics though the line of nodes is not straight.
    """
    places = placed(sheet, pose)
    found: list[Line] = []
    for panel, level, members in _rows(pose, holes, down):
        frame = pose.panels[panel]
        frame = _turned(frame) if abs(float(frame.away @ down)) < 0.7 else frame
        local = (places[sheet.triangles].mean(axis=1) - frame.origin) @ frame.away
        mine = sheet.region == panel
        under = np.unique(np.concatenate([rings[m] for m in members]))
        place = f"the row of fixings in {part.panels[panel].name}"
        for way, side in ((1.0, mine & (local > level)), (-1.0, mine & (local <= level))):
            at = level + way * 0.5 * fastener_mm
            pieces = _metal_at(part, pose, panel, frame, at)
            rest = np.unique(sheet.triangles[mine & ~side])
            own_nodes = np.unique(sheet.triangles[side])
            own = np.union1d(np.intersect1d(own_nodes, rest), np.intersect1d(under, own_nodes))
            if len(own) < 4 or not pieces:
                continue
            along = (places[own] - frame.origin) @ frame.along
            nodes, along = own[np.argsort(along)], np.sort(along)
            lifted = Frame(frame.origin + at * frame.away, frame.along, frame.away, frame.face)
            cuts = [cut_at("fixings", place, np.arange(len(nodes)), lifted, pieces, part.thickness_mm)]
            width = WINDOW_T * part.thickness_mm
            if along[-1] - along[0] > 1.5 * width:
                cuts += windows(place, along, lifted, pieces, part.thickness_mm, width)
            elements = np.flatnonzero(side & np.isin(sheet.triangles, nodes).any(axis=1))
            found.append(Line(LineReader(model, elements, nodes), tuple(cuts)))
    return tuple(found)


def _rows(
    pose: Pose, holes: Sequence[tuple[int, Hole]], down: np.ndarray
) -> list[tuple[int, float, list[int]]]:
    """Rows of fixings: panel, level in its own frame square to the row, and numbers of the holes."""
    rows: list[tuple[int, float, list[int]]] = []
    for number, (panel, hole) in enumerate(holes):
        level = hole.at_mm[1] if abs(float(pose.panels[panel].away @ down)) >= 0.7 else hole.at_mm[0]
        for other, height, members in rows:
            if other == panel and abs(height - level) < 0.5 * hole.width_mm:
                members.append(number)
                break
        else:
            rows.append((panel, level, [number]))
    return rows


def _turned(frame: Frame) -> Frame:
    """A frame with its two directions in the plane exchanged, for panels that hang sideways."""
    return Frame(frame.origin, frame.away, frame.along, frame.face)


def _metal_at(part: Part, pose: Pose, panel: int, frame: Frame, level: float) -> tuple[tuple[float, float], ...]:
    """Runs of metal of a panel along a line at a level of a frame of its plane."""
    own = pose.panels[panel]
    metal = shapely.union_all([face.polygon() for face in part.panels[panel].faces])
    ends = np.array([frame.origin + level * frame.away + x * frame.along for x in (-1e4, 1e4)]) - own.origin
    line = shapely.LineString(ends @ np.column_stack([own.along, own.away]))
    runs = []
    for piece in shapely.get_parts(metal.intersection(line)):
        if piece.geom_type == "LineString" and piece.length > 1e-6:
            space = own.points(np.asarray(piece.coords))
            runs.append(np.sort((space - frame.origin) @ frame.along))
    return tuple(sorted((float(r[0]), float(r[-1])) for r in runs))


def forces_through(line: Line, on_nodes: np.ndarray) -> CutForces:
    """The forces and moments that the outer side passes through each cut of a line, about the middle of its metal;
    `on_nodes` (nodes, 6) or (nodes, 6, cases) are the line's nodal forces."""
    passed = line.through @ on_nodes.reshape(6 * len(on_nodes), -1)
    pull, along, normal, twist, bending, in_plane = passed.reshape(len(line.cuts), 6, *on_nodes.shape[2:]).swapaxes(0, 1)
    return CutForces(pull, along, normal, bending, in_plane, twist)


def elastic_stress_mpa(line: Line, forces: CutForces) -> np.ndarray:
    """Largest nominal stress (cuts,) or (cuts, cases) square to each cut, as of a beam: pull, bending about the cut and bending in the
    sheet's plane.

    Pull over L t, bending over L t² / 6, bending in plane over its own section modulus, added up. Shear and twist
    are left to the sheet's own measure: a cut beside a wide panel does not twist as a long strip would.
    Source: strength of materials, stress in a rectangular section.
    """
    t, length, modulus, _ = _measures(line, forces)
    return np.asarray(
        np.abs(forces.pull_n) / (length * t)
        + np.abs(forces.bending_nmm) / (length * t * t / 6)
        + np.abs(forces.in_plane_nmm) / (t * modulus)
    )


def plastic_share(line: Line, forces: CutForces, yield_mpa: float) -> np.ndarray:
    """Share (cuts,) or (cuts, cases) of each cut's full plastic strength: `M / Mp + Mz / Mzp + (N / Np)²`; 1 is a hinge.

    Mp = fy L t² / 4, Np = fy L t; in plane 1.5 times the elastic moment for one run of metal (a rectangle), the
    elastic moment where openings part it, on the careful side. Source: plastic hinge of a rectangular section.
    """
    t, length, modulus, shape = _measures(line, forces)
    bending = np.abs(forces.bending_nmm) / (0.25 * yield_mpa * length * t * t)
    in_plane = np.abs(forces.in_plane_nmm) / (shape * yield_mpa * t * modulus)
    pull = np.abs(forces.pull_n) / (yield_mpa * length * t)
    return np.asarray(bending + in_plane + pull * np.minimum(pull, 1.0))


def _measures(line: Line, forces: CutForces) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
    """Thickness; lengths of metal, section moduli in plane and their plastic shapes, shaped to go with the forces."""
    shape = (-1,) + (1,) * (forces.pull_n.ndim - 1)
    per_cut = (line.lengths_mm, line.in_plane_moduli_mm2, line.in_plane_shapes)
    length, modulus, plastic = (values.reshape(shape) for values in per_cut)
    return line.cuts[0].thickness_mm, length, modulus, plastic
