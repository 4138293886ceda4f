"""Which faces of a solid are the two sides of its sheet, and how thick the sheet is.

A face belongs to the sheet when it has a twin on the other side: a plane one thickness behind it, or a
cylinder about the same axis whose radius differs by one thickness. From the largest such plane the one side
(*near*) is walked over tangent edges; the twins are the other side (*far*).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.body import place_text
from steadfold.sheet.from_solid.shape import PARALLEL_RAD, SAME_MM, THINNEST_MM, Shape

MOST_VOTERS = 60
STOCKY = 2.5
"""A plate whose side is less than this many thicknesses is a block (common practice, no source)."""
THICKEST_MM = 40.0


@dataclass(frozen=True)
class SharpBend:
    """A bend drawn without radius on the near side: its edge there, and the edge or cylinder opposite."""

    edge: int
    angle_rad: float
    far_edge: int | None
    far_cylinder: int | None


@dataclass(frozen=True)
class Skins:
    """The two sides of a sheet, and what joins them across bends drawn sharp."""

    thickness_mm: float
    near: tuple[int, ...]
    twins: dict[int, tuple[int, ...]]
    sharp: tuple[SharpBend, ...]

    @property
    def far(self) -> set[int]:
        """Faces of the other side."""
        own = {twin for face in self.near for twin in self.twins.get(face, ())}
        return own | {bend.far_cylinder for bend in self.sharp if bend.far_cylinder is not None}


def find_skins(shape: Shape) -> Skins:
    """The two sides of a body's sheet. Raises `CadRefused` when the body is no sheet."""
    body = shape.body
    if not shape.planes:
        raise CadRefused(f"the solid {body.name!r} has no flat face; a folded part needs at least one")
    thickness = _thickness(shape)
    _check_sheet(shape, thickness)
    twins = _twins(shape, thickness)
    seed = max((i for i in shape.planes if i in twins), key=lambda i: (round(shape.polygons[i].area, 3), -i))
    near, sharp = _walk(shape, seed, twins, thickness)
    far = {twin for face in near for twin in twins.get(face, ())}
    both = sorted(set(near) & far)
    if both:
        raise CadRefused(
            f"the two sides of the sheet of {body.name!r} run into each other at "
            f"{place_text(shape.middle(both[0]))}; "
            "a sheet needs square edges all round"
        )
    return Skins(thickness, tuple(near), {i: twins[i] for i in near if i in twins}, tuple(sharp))


def _thickness(shape: Shape) -> float:
    """The distance between opposite planes that most of the plane area has."""
    voters = sorted(shape.planes, key=lambda i: -shape.polygons[i].area)[:MOST_VOTERS]
    votes: list[tuple[float, float]] = []
    for plane in voters:
        area = shape.polygons[plane].area
        for other, gap in shape.opposite(plane):
            shared = shape.overlap(plane, other)
            if shared > 0.02 * min(area, shape.polygons[other].area):
                votes.append((gap, shared))
    if not votes:
        _refuse_uneven(shape, voters[0])
    votes.sort()
    best, weight, start = 0.0, -1.0, 0
    for end in range(len(votes)):
        while votes[end][0] - votes[start][0] > SAME_MM:
            start += 1
        total = sum(w for _, w in votes[start : end + 1])
        if total > weight * (1 + 1e-9):
            weight = total
            best = sum(gap * w for gap, w in votes[start : end + 1]) / total
    largest = voters[0]
    if not any(abs(gap - best) <= SAME_MM for _, gap in shape.opposite(largest)):
        _refuse_uneven(shape, largest)
    return best


def _refuse_uneven(shape: Shape, plane: int) -> None:
    """Refuse a body whose largest face has no parallel twin, saying how thick it is where."""
    face = shape.body.faces[plane]
    points = np.concatenate([shape.body.edges[u.edge].points for u in face.uses])
    gaps: list[float] = []
    for other in shape.planes:
        opposite = shape.body.faces[other]
        slope = -float(opposite.axis @ face.axis)
        if slope < 0.8 or other == plane:
            continue
        distance = (points - opposite.origin) @ opposite.axis / float(opposite.axis @ -face.axis)
        if float(distance.min()) < -1e-6 and float(distance.max()) < 1e-6:
            gaps.extend(np.abs(distance).tolist())
    run = f"runs from {min(gaps):.2f} to {max(gaps):.2f} mm" if gaps else "cannot be measured"
    raise CadRefused(
        f"the solid {shape.body.name!r} is not of one thickness: behind its largest face, at "
        f"{place_text(shape.middle(plane))}, it "
        f"{run}; a folded part has the same thickness everywhere"
    )


def _check_sheet(shape: Shape, thickness: float) -> None:
    body = shape.body
    size = body.size_mm
    text = f"{size[0]:.4g} × {size[1]:.4g} × {size[2]:.4g} mm"
    if thickness > THICKEST_MM or thickness < THINNEST_MM or max(size) > 20_000:
        raise CadRefused(
            f"the solid {body.name!r} measures {text} and would be sheet of {thickness:.4g} mm; is the "
            "file's unit right? "
            "Say the unit its numbers are in (mm, cm, m, in), or give a part of sheet"
        )
    side = math.sqrt(max(shape.polygons[i].area for i in shape.planes))
    if side < STOCKY * thickness:
        raise CadRefused(
            f"the solid {body.name!r} ({text}) is a block, not sheet: its largest flat face is {side:.1f} "
            "mm wide and "
            f"lies {thickness:.2f} mm from the opposite one"
        )


def _twins(shape: Shape, thickness: float) -> dict[int, tuple[int, ...]]:
    """For every face that may be a side of the sheet, the faces one thickness behind it."""
    found: dict[int, tuple[int, ...]] = {}
    for plane in shape.planes:
        area = shape.polygons[plane].area
        behind = [
            (other, shape.overlap(plane, other))
            for other, gap in shape.opposite(plane)
            if abs(gap - thickness) <= SAME_MM
        ]
        kept = [(other, shared) for other, shared in behind if shared > 1e-6 * area + 1e-9]
        if sum(shared for _, shared in kept) > 0.3 * area:
            found[plane] = tuple(other for other, _ in kept)
    found.update(_cylinder_twins(shape, thickness))
    return found


def _cylinder_twins(shape: Shape, thickness: float) -> dict[int, tuple[int, ...]]:
    faces = shape.body.faces
    outer = [i for i in shape.cylinders if faces[i].bulges and faces[i].radius_mm > thickness - SAME_MM]
    inner = [i for i in shape.cylinders if not faces[i].bulges]
    found: dict[int, list[int]] = {}
    if outer and inner:
        radii = np.array([faces[i].radius_mm for i in inner])
        axes = np.array([faces[i].axis for i in inner])
        origins = np.array([faces[i].origin for i in inner])
        for i in outer:
            face = faces[i]
            off = origins - face.origin
            off = off - (off @ face.axis)[:, None] * face.axis
            match = np.abs(face.radius_mm - radii - thickness) < SAME_MM
            match &= np.abs(axes @ face.axis) > math.cos(PARALLEL_RAD)
            match &= np.linalg.norm(off, axis=1) < SAME_MM + 1e-3 * face.radius_mm
            for j in np.flatnonzero(match):
                if _side_by_side(shape, i, inner[int(j)]):
                    found.setdefault(i, []).append(inner[int(j)])
                    found.setdefault(inner[int(j)], []).append(i)
    for i in outer:
        if i not in found and abs(faces[i].radius_mm - thickness) < SAME_MM and axis_edges(shape, i):
            found[i] = []
    return {i: tuple(twins) for i, twins in found.items()}


def axis_edges(shape: Shape, cylinder: int) -> list[int]:
    """Straight edges that lie on a cylinder's own axis, within its length."""
    face = shape.body.faces[cylinder]
    low, high = _span(shape, cylinder, face.origin, face.axis)
    numbers, points = shape.straight
    if not len(numbers):
        return []
    out = points - face.origin
    along = out @ face.axis
    off = np.linalg.norm(out - along[:, :, None] * face.axis, axis=2).max(axis=1)
    shared = np.minimum(high, along.max(axis=1)) - np.maximum(low, along.min(axis=1))
    return [int(i) for i in numbers[(off < SAME_MM) & (shared > SAME_MM)]]


def _span(shape: Shape, face: int, origin: np.ndarray, axis: np.ndarray) -> tuple[float, float]:
    points = np.concatenate([shape.body.edges[u.edge].points for u in shape.body.faces[face].uses])
    along = (points - origin) @ axis
    return float(along.min()), float(along.max())


def _side_by_side(shape: Shape, one: int, two: int) -> bool:
    face = shape.body.faces[one]
    a0, a1 = _span(shape, one, face.origin, face.axis)
    b0, b1 = _span(shape, two, face.origin, face.axis)
    return min(a1, b1) - max(a0, b0) > SAME_MM


def _walk(
    shape: Shape, seed: int, twins: dict[int, tuple[int, ...]], thickness: float
) -> tuple[list[int], list[SharpBend]]:
    """The side that a seed plane belongs to: over tangent edges, and over sharp edges that are bends."""
    faces = shape.body.faces
    inside_corners, outside_corners = _corner_edges(shape, twins)
    near, waiting = {seed}, [seed]
    sharp: dict[int, SharpBend] = {}
    order = [seed]
    while waiting:
        here = waiting.pop()
        for use in faces[here].uses:
            one, two = shape.sides[use.edge]
            other = two if one == here else one
            if other == here or other not in twins:
                continue
            if shape.is_tangent(use.edge):
                pass
            elif use.edge in inside_corners or use.edge in outside_corners:
                bend = _sharp_bend(shape, use.edge, twins, thickness, inside_corners, outside_corners)
                if bend is None:
                    continue
                sharp.setdefault(use.edge, bend)
            else:
                continue
            if other not in near:
                near.add(other)
                order.append(other)
                waiting.append(other)
    return order, list(sharp.values())


def _corner_edges(shape: Shape, twins: dict[int, tuple[int, ...]]) -> tuple[dict[int, float], dict[int, float]]:
    """Straight edges between two planes of the sheet, by the angle: inside corners, outside corners."""
    inside: dict[int, float] = {}
    outside: dict[int, float] = {}
    faces = shape.body.faces
    for i, edge in enumerate(shape.body.edges):
        one, two = shape.sides[i]
        if edge.kind != "line" or one not in twins or two not in twins:
            continue
        if faces[one].kind != "plane" or faces[two].kind != "plane" or shape.is_tangent(i):
            continue
        angle = shape.rises(i)
        (inside if angle > 0 else outside)[i] = abs(angle)
    return inside, outside


def _sharp_bend(
    shape: Shape,
    edge: int,
    twins: dict[int, tuple[int, ...]],
    thickness: float,
    inside: dict[int, float],
    outside: dict[int, float],
) -> SharpBend | None:
    """The bend that a sharp edge is, when its other side is one too: a sharp edge or a radius of one thickness."""
    angle = inside.get(edge, outside.get(edge, 0.0))
    signed = angle if edge in inside else -angle
    points = shape.body.edges[edge].points
    along = (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
    if edge in inside:
        for cylinder in shape.cylinders:
            face = shape.body.faces[cylinder]
            if face.bulges and abs(face.radius_mm - thickness) < SAME_MM and edge in axis_edges(shape, cylinder):
                return SharpBend(edge, signed, None, cylinder)
    distance = thickness / math.cos(angle / 2)
    expected = {twin for side in shape.sides[edge] for twin in twins[side]}
    for other, other_angle in (outside if edge in inside else inside).items():
        if abs(other_angle - angle) > PARALLEL_RAD or not set(shape.sides[other]) <= expected:
            continue
        ends = shape.body.edges[other].points - points[0]
        off = np.linalg.norm(ends - (ends @ along)[:, None] * along, axis=1)
        if float(np.abs(off - distance).max()) < 2 * SAME_MM:
            return SharpBend(edge, signed, other, None)
    return None
