"""An independent look at a step in the brake: triangle meshes in space, placed by folding the whole part,
against tools as meshes, by a general collision library (fcl)."""

from __future__ import annotations

import fcl
import numpy as np
import shapely

from steadfold.fabricate.bodies import Bodies
from steadfold.fabricate.brake_check import Tooling
from steadfold.fabricate.shop import Brake
from steadfold.sheet.part import Part
from steadfold.sheet.pose import Frame, Pose, fold

MACHINE_MM = 4000.0


class MeshBrake:
    """The tools of one step as meshes, and the part's panels and strips, placed at any angle of the
    stroke."""

    def __init__(self, part: Part, bodies: Bodies, index: int, tooling: Tooling, brake: Brake, child_back: bool):
        self.part, self.bodies, self.index, self.tooling, self.brake = part, bodies, index, tooling, brake
        self.stroke = bodies.strokes[index]
        self.child_back = child_back
        assert tooling.punch is not None
        punch, die = tooling.punch, tooling.die
        low, high = self.stroke.along_mm
        corner = self.stroke.inside_radius_mm + 2 * part.thickness_mm
        allowance = min(max(brake.end_allowance_mm, corner), 0.45 * (high - low))
        ends, machine = (low + allowance, high - allowance), (-MACHINE_MM, MACHINE_MM)
        c, bed = punch.clamp_half_width_mm, brake.bed_half_width_mm
        self.upper = [
            _Tool("punch", punch.outline.vertices(0.01), ends),
            _Tool("ram", _box(-c, c, punch.height_mm, punch.height_mm + 600.0), machine),
        ]
        self.lower = [
            _Tool("die", _box(-die.half_width_mm, die.half_width_mm, -die.height_mm, 0.0), ends),
            _Tool("bed", _box(-bed, bed, -die.height_mm - 600.0, -die.height_mm), machine),
        ]
        self._meshes: dict[tuple[str, int, bool], tuple[np.ndarray, np.ndarray]] = {}

    def touching(self, place: int, state: int, turned_rad: float) -> bool:
        """Whether the body at `place` of `bodies.seen_from[index]` meets a tool at an angle of the stroke."""
        body = self.bodies.seen_from[self.index][place]
        pose = self._pose(state, turned_rad)
        corners, triangles = self._body(body.panel, body.strip, state)
        frame = pose.panels[body.panel]
        if body.strip is None:
            space = _in_space(frame, corners)
        else:
            space = pose.bends[body.strip].points(corners[:, 0], corners[:, 1], corners[:, 2])
        placed = self._in_brake(pose, space)
        flush = state & body.mask == 0
        if any(tool.meets(placed, triangles, 0.0) for tool in self.upper):
            return True
        if flush:
            return False
        height = self._die_height(pose)
        return any(tool.meets(placed, triangles, height) for tool in self.lower)

    def _pose(self, state: int, turned_rad: float) -> Pose:
        shares = []
        for b in range(len(self.part.bends)):
            i = self.bodies.stroke_of[b]
            done = float(state >> i & 1)
            shares.append(turned_rad / abs(self.stroke.angle_rad) if i == self.index else done)
        return fold(self.part, tuple(shares), flat_k=True)

    def _in_brake(self, pose: Pose, points: np.ndarray) -> np.ndarray:
        """Along the bend line, to the back, up; the origin on the inner face in the middle of the bend."""
        bend = pose.bends[self.stroke.bends[0]]
        zero, half = np.zeros(1), np.full(1, 0.5)
        middle = bend.points(zero, half, 0.0)[0]
        normal = bend.points(zero, half, 1.0)[0] - middle
        along = bend.start.along
        step = bend.points(zero, half + 1e-4, 0.0)[0] - bend.points(zero, half - 1e-4, 0.0)[0]
        across = step / np.linalg.norm(step)
        up = normal if self.stroke.angle_rad > 0 else -normal
        back = across if self.child_back else -across
        local = points - middle
        return np.column_stack([local @ along, local @ back, local @ up - 0.5 * self.part.thickness_mm])

    def _die_height(self, pose: Pose) -> float:
        """Where the lower face of the child's side crosses the die's shoulder, found on the placed sheet."""
        bend = self.part.bends[self.stroke.bends[0]]
        t = self.part.thickness_mm
        sign = 1.0 if self.stroke.angle_rad > 0 else -1.0
        frame = pose.panels[bend.child]
        point, away = np.array(bend.child_point), np.array(bend.child_away)
        line = frame.points(np.array([point, point + away]), -0.5 * t * sign)
        placed = self._in_brake(pose, line)
        y, z = np.abs(placed[:, 1]), placed[:, 2]
        share = (0.5 * self.tooling.die.v_mm - y[0]) / (y[1] - y[0])
        return float(z[0] + share * (z[1] - z[0]))

    def _body(self, panel: int, strip: int | None, state: int) -> tuple[np.ndarray, np.ndarray]:
        made = strip is not None and bool(state >> self.bodies.stroke_of[strip] & 1)
        key = ("panel", panel, False) if strip is None else ("strip", strip, made)
        if key not in self._meshes:
            t = self.part.thickness_mm
            if strip is None:
                parts = [_slab(face.outer.vertices(0.05), t) for face in self.part.panels[panel].faces]
            else:
                bend = self.part.bends[strip]
                parts = [_strip(face.outer.bounds, t) for face in bend.faces]
            self._meshes[key] = _joined(parts)
        return self._meshes[key]


class _Tool:
    def __init__(self, name: str, section: np.ndarray, ends: tuple[float, float]):
        self.name, self.ends = name, ends
        self.polygon = shapely.Polygon(section)
        corners, triangles = _slab(np.asarray(shapely.geometry.polygon.orient(self.polygon).exterior.coords)[:-1], 1.0)
        low, high = ends
        x = np.where(corners[:, 2] < 0, low, high)
        self.model = _model(np.column_stack([x, corners[:, 0], corners[:, 1]]), triangles)

    def meets(self, points: np.ndarray, triangles: np.ndarray, height: float) -> bool:
        lowered = points - np.array([0.0, 0.0, height])
        hit = fcl.collide(fcl.CollisionObject(self.model), fcl.CollisionObject(_model(lowered, triangles)))
        if hit:
            return True
        # Surfaces that do not cut each other may still lie one inside the other.
        inside = (lowered[:, 0] > self.ends[0]) & (lowered[:, 0] < self.ends[1])
        return bool(shapely.contains_xy(self.polygon, lowered[inside, 1], lowered[inside, 2]).any())


def _model(points: np.ndarray, triangles: np.ndarray) -> fcl.BVHModel:
    model = fcl.BVHModel()
    model.beginModel(len(points), len(triangles))
    model.addSubModel(points, triangles)
    model.endModel()
    return model


def _box(y0: float, y1: float, z0: float, z1: float) -> np.ndarray:
    return np.array([[y0, z0], [y1, z0], [y1, z1], [y0, z1]])


def _slab(ring: np.ndarray, thickness: float) -> tuple[np.ndarray, np.ndarray]:
    """A polygon given a thickness about its plane."""
    count = len(ring)
    corners = np.concatenate([np.column_stack([ring, np.full(count, z)]) for z in (-0.5 * thickness, 0.5 * thickness)])
    index = {(round(float(x), 9), round(float(y), 9)): i for i, (x, y) in enumerate(ring)}
    triangles = []
    for piece in shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(ring))):
        a, b, c = (index[round(float(x), 9), round(float(y), 9)] for x, y in np.asarray(piece.exterior.coords)[:3])
        triangles += [(a, b, c), (a + count, b + count, c + count)]
    for i in range(count):
        j = (i + 1) % count
        triangles += [(i, j, j + count), (i, j + count, i + count)]
    return corners, np.array(triangles)


def _strip(bounds: tuple[float, float, float, float], thickness: float) -> tuple[np.ndarray, np.ndarray]:
    """A strip as a grid over its length across: (x, share across, height)."""
    x0, _, x1, _ = bounds
    shares = np.linspace(0.0, 1.0, 13)
    ring = [(s, -0.5 * thickness) for s in shares] + [(s, 0.5 * thickness) for s in shares[::-1]]
    count = len(ring)
    corners = np.array([(x, s, h) for x in (x0, x1) for s, h in ring])
    triangles = []
    for i in range(count):
        j = (i + 1) % count
        triangles += [(i, j, j + count), (i, j + count, i + count)]
    for i in range(len(shares) - 1):
        a, b, c, d = i, i + 1, count - 2 - i, count - 1 - i
        for base in (0, count):
            triangles += [(base + a, base + b, base + c), (base + a, base + c, base + d)]
    return corners, np.array(triangles)


def _joined(parts: list[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    points, triangles, start = [], [], 0
    for corners, faces in parts:
        points.append(corners)
        triangles.append(faces + start)
        start += len(corners)
    return np.concatenate(points), np.concatenate(triangles)


def _in_space(frame: Frame, corners: np.ndarray) -> np.ndarray:
    return frame.points(corners[:, :2], corners[:, 2])

