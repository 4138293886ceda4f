"""A body with what recognition asks of it again and again: its planes by direction, what lies behind them, its corners."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np
import shapely

from steadfold.sheet.from_solid.body import Body
from steadfold.sheet.from_solid.outline import chained, dense_points, run_points

PARALLEL_RAD = math.radians(0.2)
TANGENT_RAD = math.radians(1.5)
SAME_MM = 0.02
"""Files of other programs are rounded to 0.01 mm; twice that is still the same place."""
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
