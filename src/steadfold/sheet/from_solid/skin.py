"""Which faces of a solid are the two sides of its sheet, and how thick the sheet is.

A face belongs to the sheet when it has a twin on the other side: a plane one thickness behind it, or a
cylinder about the same axis whose radius differs by one thickness. From the largest such plane the one side
(*near*) is walked over tangent edges; the twins are the other side (*far*).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.body import Body, place_text
from steadfold.sheet.from_solid.outline import chained, dense_points, run_points

PARALLEL_RAD = math.radians(0.2)
TANGENT_RAD = math.radians(1.5)
SAME_MM = 0.02
"""Files of other programs are rounded to 0.01 mm; twice that is still the same place."""

MOST_VOTERS = 60
STOCKY = 2.5
"""A plate whose side is less than this many thicknesses is a block (common practice, no source)."""

THICKEST_MM = 40.0
THINNEST_MM = 0.05


class Shape:
    """A body with what recognition asks of it again and again."""

    def __init__(self, body: Body):
        self.body = body

    @cached_property
    def sides(self) -> list[tuple[int, int]]:
        """For every edge the face that runs it forward and the face that runs it backward."""
        found = [[-1, -1] for _ in self.body.edges]
        for index, face in enumerate(self.body.faces):
            for use in face.uses:
                found[use.edge][0 if use.forward else 1] = index
        return [(a, b) for a, b in found]

    @cached_property
    def straight(self) -> tuple[np.ndarray, np.ndarray]:
        """Numbers of the straight edges and their two ends, shape (n, 2, 3)."""
        numbers = [i for i, edge in enumerate(self.body.edges) if edge.kind == "line"]
        points = [self.body.edges[i].points for i in numbers]
        return np.asarray(numbers, dtype=int), np.asarray(points).reshape(len(numbers), 2, 3)

    @cached_property
    def planes(self) -> list[int]:
        """Plane faces."""
        return [i for i, face in enumerate(self.body.faces) if face.kind == "plane"]

    @cached_property
    def cylinders(self) -> list[int]:
        """Cylinder faces."""
        return [i for i, face in enumerate(self.body.faces) if face.kind == "cylinder"]

    @cached_property
    def _directions(self) -> tuple[list[np.ndarray], dict[int, tuple[int, float]]]:
        """Directions of plane normals up to sign, and for every plane face its direction and side."""
        known: list[np.ndarray] = []
        of: dict[int, tuple[int, float]] = {}
        limit = math.cos(PARALLEL_RAD)
        for i in self.planes:
            axis = self.body.faces[i].axis
            cosines = np.asarray(known) @ axis if known else np.zeros(0)
            hit = int(np.argmax(np.abs(cosines))) if len(cosines) else -1
            if hit < 0 or abs(cosines[hit]) < limit:
                known.append(axis)
                of[i] = (len(known) - 1, 1.0)
            else:
                of[i] = (hit, 1.0 if cosines[hit] > 0 else -1.0)
        return known, of

    def frame(self, direction: int) -> tuple[np.ndarray, np.ndarray]:
        """Two axes in the planes of a direction."""
        normal = self._directions[0][direction]
        along = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
        along /= np.linalg.norm(along)
        return along, np.cross(normal, along)

    def direction(self, plane: int) -> tuple[int, float]:
        """Number of a plane's direction, and +1 or -1 for the side it faces."""
        return self._directions[1][plane]

    @cached_property
    def offsets(self) -> dict[int, float]:
        """Distance of every plane from the origin along its direction."""
        known, of = self._directions
        return {i: float(self.body.faces[i].origin @ known[d]) for i, (d, _) in of.items()}

    @cached_property
    def polygons(self) -> dict[int, shapely.Polygon]:
        """Every plane face as a polygon in the axes of its direction."""
        return {i: self._polygon(i) for i in self.planes}

    def _polygon(self, plane: int) -> shapely.Polygon:
        face = self.body.faces[plane]
        axes = np.stack(self.frame(self.direction(plane)[0]), axis=1)
        rings = []
        for loop in chained(self.body, face.uses, face.axis):
            points = []
            for use in loop:
                edge = self.body.edges[use.edge]
                run = run_points(edge, use.forward)
                if edge.kind == "circle":
                    run = dense_points(edge, 25)
                    run = run if use.forward else run[::-1]
                points.append(run[:-1])
            ring = np.concatenate(points) @ axes
            if len(ring) >= 3:
                rings.append(shapely.Polygon(ring))
        if not rings:
            return shapely.Polygon()
        rings.sort(key=lambda r: -r.area)
        plain = shapely.Polygon(rings[0].exterior, [r.exterior for r in rings[1:]])
        if plain.is_valid:
            return plain
        whole = rings[0].buffer(0)
        holes = [r.buffer(0) for r in rings[1:]]
        return whole.difference(shapely.union_all(holes)) if holes else whole

    def opposite(self, plane: int) -> Iterator[tuple[int, float]]:
        """Planes behind a plane, with the metal's thickness if all between were metal."""
        direction, side = self.direction(plane)
        here = side * self.offsets[plane]
        for other in self.by_side.get((direction, -side), ()):
            gap = here - side * self.offsets[other]
            if gap > THINNEST_MM * 0.5:
                yield other, gap

    @cached_property
    def by_side(self) -> dict[tuple[int, float], list[int]]:
        """Plane faces by direction and side."""
        found: dict[tuple[int, float], list[int]] = {}
        for i in self.planes:
            found.setdefault(self.direction(i), []).append(i)
        return found

    def overlap(self, one: int, two: int) -> float:
        """Area that two parallel planes share when one is laid on the other."""
        return float(self.polygons[one].intersection(self.polygons[two]).area)

    def depth(self, plane: int, at: np.ndarray) -> float | None:
        """Metal behind a point of a plane, square to it, to the nearest plane face there; None if there is none."""
        inward = -self.body.faces[plane].axis
        best = None
        for other in self.planes:
            face = self.body.faces[other]
            lean = float(face.axis @ inward)
            if lean < 1e-3:
                continue
            depth = float((face.origin - at) @ face.axis) / lean
            if depth < 1e-6 or (best is not None and depth >= best):
                continue
            axes = np.stack(self.frame(self.direction(other)[0]), axis=1)
            if self.polygons[other].buffer(1e-6).contains(shapely.Point(*((at + depth * inward) @ axes))):
                best = depth
        return best

    def middle(self, face: int) -> np.ndarray:
        """A point on or near a face: the mean of its boundary."""
        points = [self.body.edges[u.edge].points.mean(axis=0) for u in self.body.faces[face].uses]
        return np.mean(points, axis=0) if points else np.asarray(self.body.faces[face].middle)

    def is_tangent(self, edge: int) -> bool:
        """True where the two faces of an edge, planes or cylinders, run on into each other."""
        one, two = self.sides[edge]
        faces = self.body.faces
        if one == two or faces[one].kind not in ("plane", "cylinder") or faces[two].kind not in ("plane", "cylinder"):
            return False
        record = self.body.edges[edge]
        point = record.points[1] if record.kind == "circle" else record.points.mean(axis=0)
        if record.kind == "free":
            point = record.points[len(record.points) // 2]
        return float(faces[one].normal_at(point) @ faces[two].normal_at(point)) > math.cos(TANGENT_RAD)

    def rises(self, edge: int) -> float:
        """Signed angle between the two planes of a straight edge: positive for an inside corner."""
        one, two = self.sides[edge]
        n1, n2 = self.body.faces[one].axis, self.body.faces[two].axis
        points = self.body.edges[edge].points
        along = points[1] - points[0]
        into_two = np.cross(n2, -along)
        angle = math.acos(max(-1.0, min(1.0, float(n1 @ n2))))
        return angle if float(into_two @ n1) > 0 else -angle


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


def grouped(items: Sequence[int], joined: Sequence[tuple[int, int]]) -> list[list[int]]:
    """Items in groups that are linked, in the order the items come."""
    root = {i: i for i in items}

    def top(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    for a, b in joined:
        root[top(b)] = top(a)
    found: dict[int, list[int]] = {}
    for i in items:
        found.setdefault(top(i), []).append(i)
    return list(found.values())
