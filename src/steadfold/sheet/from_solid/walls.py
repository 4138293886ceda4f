"""What lies between the two sides of a recognised sheet: square edges, countersinks, and what is none of that."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.body import place_text
from steadfold.sheet.from_solid.shape import PARALLEL_RAD, SAME_MM, Shape, grouped
from steadfold.sheet.from_solid.skin import Skins


@dataclass(frozen=True)
class Sunk:
    """A hole that is wider on one side: countersunk (`angle_rad` is the cone's whole angle) or counterbored (0).

    `taken_mm3` is what is machined away beyond the hole itself.
    """

    centre: np.ndarray
    hole_mm: float
    wide_mm: float
    angle_rad: float
    taken_mm3: float


@dataclass(frozen=True)
class Wall:
    """Connected faces between the sides, and the edges where they meet each side. `square` walls only join the
    two; `sunk` says what a wider hole is; `bevelled` walls stay between the two planes of one panel."""

    faces: tuple[int, ...]
    near_edges: frozenset[int]
    far_edges: frozenset[int]
    square: bool
    sunk: Sunk | None = None
    bevelled: bool = False


def find_walls(shape: Shape, skins: Skins) -> list[Wall]:
    """All faces that belong to neither side, in connected groups."""
    near, far = set(skins.near), skins.far
    rest = [i for i in range(len(shape.body.faces)) if i not in near and i not in far]
    left = set(rest)
    links = [(a, b) for a, b in shape.sides if a in left and b in left]
    return [_wall(shape, tuple(group), near, far, skins.thickness_mm) for group in grouped(rest, links)]


def _wall(shape: Shape, group: tuple[int, ...], near: set[int], far: set[int], thickness: float) -> Wall:
    body = shape.body
    near_edges, far_edges, corners = set(), set(), set()
    for face in group:
        for use in body.faces[face].uses:
            one, two = shape.sides[use.edge]
            other = two if one == face else one
            if other in near:
                near_edges.add(use.edge)
            elif other in far:
                far_edges.add(use.edge)
            corners |= {body.edges[use.edge].start, body.edges[use.edge].end}
    on_sides = {c for e in near_edges | far_edges for c in (body.edges[e].start, body.edges[e].end)}
    plain = all(body.faces[f].kind in ("plane", "cylinder", "cone", "free") for f in group)
    square = bool(near_edges) and bool(far_edges) and corners <= on_sides and plain
    sunk = _sunk(shape, group, thickness) if near_edges and far_edges else None
    bevelled = not square and sunk is None and _between_planes(shape, near_edges, far_edges, near, corners, thickness)
    return Wall(group, frozenset(near_edges), frozenset(far_edges), square, sunk, bevelled)


def _between_planes(
    shape: Shape, near_edges: set[int], far_edges: set[int], near: set[int], corners: set[int], thickness: float
) -> bool:
    """True when a wall goes through one plane panel and leaves neither of its two planes."""
    if not near_edges or not far_edges:
        return False
    bases = {f for e in near_edges for f in shape.sides[e] if f in near}
    faces = [shape.body.faces[f] for f in bases]
    if any(f.kind != "plane" or float(f.axis @ faces[0].axis) < math.cos(PARALLEL_RAD) for f in faces):
        return False
    height = (shape.body.corners[sorted(corners)] - faces[0].origin) @ faces[0].axis
    return bool(height.max() < SAME_MM and height.min() > -thickness - SAME_MM)


def _sunk(shape: Shape, group: tuple[int, ...], thickness: float) -> Sunk | None:
    """The countersink or counterbore that faces about one axis make, if they do."""
    faces = [shape.body.faces[i] for i in group]
    rounds = [f for f in faces if f.kind in ("cylinder", "cone")]
    if not rounds or any(f.kind not in ("plane", "cylinder", "cone") for f in faces) or any(f.bulges for f in rounds):
        return None
    axis, origin = rounds[0].axis, rounds[0].origin
    for face in rounds:
        off = face.origin - origin
        if (
            abs(float(face.axis @ axis)) < math.cos(PARALLEL_RAD)
            or float(np.linalg.norm(off - (off @ axis) * axis)) > SAME_MM
        ):
            return None
    if any(f.kind == "plane" and abs(float(f.axis @ axis)) < math.cos(PARALLEL_RAD) for f in faces):
        return None
    pieces: dict[tuple[float, float], float] = {}
    radii: list[tuple[float, float]] = []
    for face in rounds:
        rings = []
        for use in face.uses:
            edge = shape.body.edges[use.edge]
            if edge.kind == "circle" and edge.centre is not None:
                rings.append((round(float((edge.centre - origin) @ axis), 6), edge.radius_mm))
            elif edge.kind != "line":
                return None
        rings.sort()
        if len(rings) < 2:
            return None
        (h0, r0), (h1, r1) = rings[0], rings[-1]
        pieces[h0, h1] = math.pi / 3 * (h1 - h0) * (r0 * r0 + r0 * r1 + r1 * r1)
        radii += [(h0, r0), (h1, r1)]
    low, high = min(h for h, _ in radii), max(h for h, _ in radii)
    hole, wide = min(r for _, r in radii), max(r for _, r in radii)
    if abs(high - low - thickness) > SAME_MM or wide - hole < SAME_MM:
        return None
    cones = [f for f in rounds if f.kind == "cone"]
    angle = 2 * abs(cones[0].half_angle_rad) if cones else 0.0
    centre = origin + 0.5 * (low + high) * axis
    return Sunk(centre, 2 * hole, 2 * wide, angle, sum(pieces.values()) - math.pi * hole * hole * thickness)


def formed_walls(shape: Shape, skins: Skins, walls: list[Wall], outer_edges: set[int]) -> list[Wall]:
    """Walls that are formed features (dimples, louvres, embosses): they open a panel on both sides and are
    neither square nor sunk. Raises `CadRefused` for what stands out of, or is cut into, one side only.

    `outer_edges` are edges of outer contours, where an odd edge is no feature of its own.
    """
    near_only = [w for w in walls if w.near_edges and not w.far_edges]
    far_only = [w for w in walls if w.far_edges and not w.near_edges]
    within = [w for w in walls if not w.near_edges and not w.far_edges]
    if within:
        raise CadRefused(
            f"the solid {shape.body.name!r} is hollow at {place_text(shape.middle(within[0].faces[0]))}; "
            "sheet has no hollows"
        )
    formed = [
        w
        for w in walls
        if w.near_edges
        and w.far_edges
        and not w.square
        and not w.bevelled
        and w.sunk is None
        and not (w.near_edges | w.far_edges) & outer_edges
    ]
    matched: set[int] = set()
    for wall in near_only:
        partner = next((f for f in far_only if id(f) not in matched and _over(shape, wall, f)), None)
        if partner is None:
            _refuse_one_sided(shape, skins, wall)
        else:
            matched.add(id(partner))
            formed += [wall, partner]
    for wall in far_only:
        if id(wall) not in matched:
            _refuse_one_sided(shape, skins, wall)
    return formed


def _over(shape: Shape, one: Wall, two: Wall) -> bool:
    a, b = _edge_points(shape, one.near_edges), _edge_points(shape, two.far_edges)
    reach = 0.5 * float(np.linalg.norm(np.ptp(a, axis=0)))
    return float(np.linalg.norm(a.mean(axis=0) - b.mean(axis=0))) < max(reach, 1.0)


def _edge_points(shape: Shape, edges: frozenset[int]) -> np.ndarray:
    return np.concatenate([shape.body.edges[e].points for e in sorted(edges)])


def _refuse_one_sided(shape: Shape, skins: Skins, wall: Wall) -> None:
    """Say what thickness is left under a pocket, or how far something stands out."""
    body = shape.body
    own = skins.near if wall.near_edges else sorted(skins.far)
    edges = wall.near_edges or wall.far_edges
    base = next(f for e in sorted(edges) for f in shape.sides[e] if f in set(own))
    at = shape.middle(wall.faces[0])
    where = place_text(_edge_points(shape, edges).mean(axis=0))
    if body.faces[base].kind == "plane":
        normal, origin = body.faces[base].axis, body.faces[base].origin
        corners = np.concatenate([body.edges[u.edge].points for f in wall.faces for u in body.faces[f].uses])
        height = (corners - origin) @ normal
        floors = [
            float((body.faces[f].origin - origin) @ normal)
            for f in wall.faces
            if body.faces[f].kind == "plane" and float(body.faces[f].axis @ normal) > math.cos(PARALLEL_RAD)
        ]
        if float(height.max()) > SAME_MM:
            raise CadRefused(
                f"something stands {float(height.max()):.2f} mm out of the sheet of {body.name!r} at "
                f"{where} without a bend; give "
                "welded or riveted pieces as parts of their own"
            )
        left = skins.thickness_mm + (min(floors) if floors else float(height.min()))
        raise CadRefused(
            f"the sheet of {body.name!r} is {skins.thickness_mm:.2f} mm thick but {left:.2f} mm at "
            f"{where}; a folded part has the "
            "same thickness everywhere, so leave pockets to a drawing of what is machined afterwards"
        )
    raise CadRefused(
        f"the bend of {body.name!r} at {place_text(at)} is cut into from one side; a folded part has the "
        "same thickness everywhere"
    )
