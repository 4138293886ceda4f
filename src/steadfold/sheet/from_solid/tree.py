"""Panels and bends of a recognised sheet, and the tree they make.

Works on the near side alone: plane faces that run on into each other are one panel, cylinder faces about one
axis one bend. What forms a ring is taken apart where a cutout only seems to part a panel; a real ring is
refused, since no flat of it exists.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.body import place_text
from steadfold.sheet.from_solid.outline import dense_points
from steadfold.sheet.from_solid.shape import PARALLEL_RAD, SAME_MM, Shape, grouped
from steadfold.sheet.from_solid.skin import SharpBend, Skins


@dataclass(frozen=True)
class Joint:
    """A piece of a bend between two panels on the near side.

    `centre` and `axis` are the bend's axis; `near_radius_mm` is the radius of the near side (of an assumed
    radius for a bend drawn sharp); `inward` says that the near side is the inside of the bend. `panels` are
    its two panels, None where the sheet ends in the bend. `edges` are its tangent lines, for each panel.
    """

    faces: tuple[int, ...]
    far_faces: tuple[int, ...]
    centre: np.ndarray
    axis: np.ndarray
    near_radius_mm: float
    inward: bool
    turn_rad: float
    panels: tuple[int, int]
    edges: tuple[tuple[int, ...], tuple[int, ...]]
    sharp: bool = False


@dataclass(frozen=True)
class Tree:
    """Panels as groups of near faces (none for a panel of no width), root first; joints from parent to child."""

    panels: tuple[tuple[int, ...], ...]
    joints: tuple[tuple[Joint, ...], ...]


def build_tree(shape: Shape, skins: Skins, assumed_radius_mm: float) -> Tree:
    """The panels and bends of a sheet as a tree from the largest panel. Raises `CadRefused` for a ring."""
    faces = shape.body.faces
    near = list(skins.near)
    inside = set(near)
    planes = [i for i in near if faces[i].kind == "plane"]
    links = [pair for e, pair in enumerate(shape.sides) if set(pair) <= inside and shape.is_tangent(e)]
    plane_links = [(a, b) for a, b in links if faces[a].kind == faces[b].kind == "plane"]
    panels = [tuple(group) for group in grouped(planes, plane_links)]
    of = {face: number for number, group in enumerate(panels) for face in group}
    joints: list[Joint] = []
    rounds = [i for i in near if faces[i].kind == "cylinder"]
    same_axis = [(a, b) for a, b in links if a in set(rounds) and b in set(rounds) and _coaxial(shape, a, b)]
    bent = [tuple(group) for group in grouped(rounds, same_axis)]
    joints, panels = _round_joints(shape, skins, bent, of, panels)
    for bend in skins.sharp:
        joints.append(_sharp_joint(shape, skins, bend, of, assumed_radius_mm))
    panels, joints = _without_false_rings(shape, panels, joints)
    return _walked(shape, panels, joints)


def _coaxial(shape: Shape, one: int, two: int) -> bool:
    a, b = shape.body.faces[one], shape.body.faces[two]
    off = b.origin - a.origin
    off = off - (off @ a.axis) * a.axis
    return (
        a.bulges == b.bulges
        and abs(a.radius_mm - b.radius_mm) < SAME_MM
        and abs(float(a.axis @ b.axis)) > math.cos(PARALLEL_RAD)
        and float(np.linalg.norm(off)) < SAME_MM + 1e-3 * a.radius_mm
    )


def _round_joints(
    shape: Shape, skins: Skins, bent: list[tuple[int, ...]], of: dict[int, int], panels: list[tuple[int, ...]]
) -> tuple[list[Joint], list[tuple[int, ...]]]:
    """A joint for every group of cylinder faces; panels of no width where two bends meet or the sheet ends."""
    faces = shape.body.faces
    group_of = {face: number for number, group in enumerate(bent) for face in group}
    between: dict[frozenset[int], int] = {}
    joints: list[Joint] = []
    for number, group in enumerate(bent):
        first = faces[group[0]]
        centre, axis = first.origin, first.axis
        touching: list[tuple[float, int, int]] = []
        samples = []
        zero = _start_direction(shape, group, centre, axis)
        for face in group:
            for use in faces[face].uses:
                edge = shape.body.edges[use.edge]
                samples.append(_turned(dense_points(edge), centre, axis, zero))
                one, two = shape.sides[use.edge]
                other = two if one == face else one
                if edge.kind != "line" or not shape.is_tangent(use.edge):
                    continue
                middle = float(_turned(edge.points.mean(axis=0)[None, :], centre, axis, zero)[0])
                if other in of:
                    touching.append((middle, use.edge, of[other]))
                elif other in group_of and group_of[other] != number:
                    key = frozenset((number, group_of[other]))
                    if key not in between:
                        between[key] = len(panels)
                        panels.append(())
                    touching.append((middle, use.edge, between[key]))
        angles = np.concatenate(samples)
        low, high = float(angles.min()), float(angles.max())
        slack = max(2 * SAME_MM / first.radius_mm, 1e-3) if first.radius_mm > 0 else 1e-3
        ends: list[tuple[int, tuple[int, ...]]] = []
        for at in (low, high):
            here = [(e, p) for angle, e, p in touching if abs(angle - at) < min(slack, 0.45 * (high - low))]
            if not here:
                panels.append(())
                ends.append((len(panels) - 1, ()))
                continue
            owners = sorted({p for _, p in here})
            for extra in owners[1:]:
                _merge(panels, of, owners[0], extra)
                touching = [(a, e, owners[0] if p == extra else p) for a, e, p in touching]
                joints = [_relinked(j, extra, owners[0]) for j in joints]
                between = {k: owners[0] if v == extra else v for k, v in between.items()}
            ends.append((owners[0], tuple(e for e, _ in here)))
        if any(min(abs(angle - low), abs(angle - high)) > slack for angle, _, _ in touching):
            raise CadRefused(
                f"at {place_text(shape.middle(group[0]))} of {shape.body.name!r} panels leave one bend at "
                "different angles; "
                "part the bend with a slit between them"
            )
        far = tuple(sorted({twin for face in group for twin in skins.twins.get(face, ())}))
        joints.append(
            Joint(
                group,
                far,
                centre,
                axis,
                first.radius_mm,
                not first.bulges,
                high - low,
                (ends[0][0], ends[1][0]),
                (ends[0][1], ends[1][1]),
            )
        )
    return joints, panels


def _merge(panels: list[tuple[int, ...]], of: dict[int, int], keep: int, extra: int) -> None:
    panels[keep] = panels[keep] + panels[extra]
    for face in panels[extra]:
        of[face] = keep
    panels[extra] = ()


def _relinked(joint: Joint, old: int, new: int) -> Joint:
    a, b = joint.panels
    return replace(joint, panels=(new if a == old else a, new if b == old else b))


def _turned(points: np.ndarray, centre: np.ndarray, axis: np.ndarray, zero: np.ndarray) -> np.ndarray:
    """Angles about the axis from a direction, in (0, 2π)."""
    out = points - centre
    return np.asarray(np.mod(np.arctan2(out @ np.cross(axis, zero), out @ zero), 2 * math.pi))


def _start_direction(shape: Shape, group: Sequence[int], centre: np.ndarray, axis: np.ndarray) -> np.ndarray:
    """A direction off the axis in the middle of the widest gap around the bend, where angles may wrap."""
    rough = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    rough /= np.linalg.norm(rough)
    angles = []
    for face in group:
        for use in shape.body.faces[face].uses:
            angles.append(_turned(dense_points(shape.body.edges[use.edge]), centre, axis, rough))
    around = np.sort(np.concatenate(angles))
    gaps = np.diff(np.concatenate([around, [around[0] + 2 * math.pi]]))
    widest = int(np.argmax(gaps))
    if gaps[widest] < math.radians(2):
        raise CadRefused(
            f"the sheet of {shape.body.name!r} runs full circle at {place_text(shape.middle(group[0]))}: "
            "a closed tube cannot be "
            "laid flat; leave a slit along it"
        )
    at = around[widest] + 0.5 * gaps[widest]
    return np.asarray(math.cos(at) * rough + math.sin(at) * np.cross(axis, rough))


def _sharp_joint(shape: Shape, skins: Skins, bend: SharpBend, of: dict[int, int], assumed_mm: float) -> Joint:
    """A bend drawn sharp, with the axis that its radius (none, or the assumed one) would have."""
    faces = shape.body.faces
    one, two = shape.sides[bend.edge]
    points = shape.body.edges[bend.edge].points
    axis = (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
    inward = bend.angle_rad > 0
    angle = abs(bend.angle_rad)
    drawn_round = bend.far_cylinder is not None
    radius = 0.0 if drawn_round else assumed_mm if inward else assumed_mm + skins.thickness_mm
    half = faces[one].axis + faces[two].axis
    half = half / np.linalg.norm(half)
    centre = points[0] + (1.0 if inward else -1.0) * half * radius / math.cos(angle / 2)
    far = () if bend.far_cylinder is None else (bend.far_cylinder,)
    ends = (bend.edge,)
    return Joint((), far, centre, axis, radius, inward, angle, (of[one], of[two]), (ends, ends), sharp=not drawn_round)


def _without_false_rings(
    shape: Shape, panels: list[tuple[int, ...]], joints: list[Joint]
) -> tuple[list[tuple[int, ...]], list[Joint]]:
    """Merge panels that a cutout across them seems to part, until no ring is left or no merge helps."""
    for _ in range(len(panels)):
        ring = _ring(len(panels), joints)
        if ring is None:
            return panels, joints
        pair = _parted(shape, panels, joints, ring)
        if pair is None:
            at = next(
                (shape.middle(panels[joints[j].panels[0]][0]) for j in ring if panels[joints[j].panels[0]]), np.zeros(3)
            )
            raise CadRefused(
                f"{len(ring)} bends of {shape.body.name!r} join panels in a ring, at {place_text(at)}: a "
                "closed shape cannot be "
                "laid flat; leave a slit at one corner"
            )
        keep, extra = pair
        panels[keep] = panels[keep] + panels[extra]
        panels[extra] = ()
        joints = [_relinked(j, extra, keep) for j in joints]
    return panels, joints


def _ring(count: int, joints: list[Joint]) -> list[int] | None:
    """Joints that form a ring, other than pieces of one bend; None when there is none."""
    parent: list[tuple[int, int] | None] = [None] * count
    seen: set[int] = set()
    links: dict[int, list[tuple[int, int]]] = {}
    for number, joint in enumerate(joints):
        a, b = joint.panels
        if a == b:
            return [number]
        links.setdefault(a, []).append((number, b))
        links.setdefault(b, []).append((number, a))
    for root in range(count):
        if root in seen:
            continue
        seen.add(root)
        queue = [root]
        while queue:
            here = queue.pop(0)
            for number, other in links.get(here, ()):
                up = parent[here]
                if up is not None and (
                    up[0] == number or (up[1] == other and _same_bend(joints[up[0]], joints[number]))
                ):
                    continue
                if other not in seen:
                    seen.add(other)
                    parent[other] = (number, here)
                    queue.append(other)
                    continue
                down = parent[other]
                if down is not None and down[1] == here and _same_bend(joints[down[0]], joints[number]):
                    continue
                return [number, *_way_up(parent, here, other)]
    return None


def _way_up(parent: list[tuple[int, int] | None], one: int, two: int) -> list[int]:
    def climb(node: int) -> list[tuple[int, int]]:
        way = []
        while (up := parent[node]) is not None:
            way.append((up[0], node))
            node = up[1]
        return way

    left, right = climb(one), climb(two)
    shared = {j for j, _ in left} & {j for j, _ in right}
    return [j for j, _ in left if j not in shared] + [j for j, _ in right if j not in shared]


def _same_bend(one: Joint, two: Joint) -> bool:
    off = two.centre - one.centre
    off = off - (off @ one.axis) * one.axis
    return (
        one.inward == two.inward
        and abs(one.near_radius_mm - two.near_radius_mm) < SAME_MM
        and abs(float(one.axis @ two.axis)) > math.cos(PARALLEL_RAD)
        and float(np.linalg.norm(off)) < 2 * SAME_MM + 1e-3 * one.near_radius_mm
        and abs(one.turn_rad - two.turn_rad) < 0.02
    )


def _parted(
    shape: Shape, panels: list[tuple[int, ...]], joints: list[Joint], ring: list[int]
) -> tuple[int, int] | None:
    """Two panels of a ring in one plane that hang on the same panel by pieces of one bend."""
    for i, a in enumerate(ring):
        for b in ring[i + 1 :]:
            one, two = joints[a], joints[b]
            common = set(one.panels) & set(two.panels)
            if len(common) != 1 or not _same_bend(one, two):
                continue
            (hub,) = common
            x = one.panels[0] if one.panels[1] == hub else one.panels[1]
            y = two.panels[0] if two.panels[1] == hub else two.panels[1]
            if x != y and _in_one_plane(shape, panels[x], panels[y]):
                return min(x, y), max(x, y)
    return None


def _in_one_plane(shape: Shape, one: tuple[int, ...], two: tuple[int, ...]) -> bool:
    if not one or not two:
        return not one and not two
    a, b = shape.body.faces[one[0]], shape.body.faces[two[0]]
    return float(a.axis @ b.axis) > math.cos(PARALLEL_RAD) and abs(float((b.origin - a.origin) @ a.axis)) < SAME_MM


def _walked(shape: Shape, panels: list[tuple[int, ...]], joints: list[Joint]) -> Tree:
    """The tree from the largest panel outward, joints turned so that they run from parent to child."""
    area = [sum(shape.polygons[f].area for f in group) for group in panels]
    used = {p for joint in joints for p in joint.panels} | {i for i, group in enumerate(panels) if group}
    root = max(used, key=lambda i: (round(area[i], 3), -i))
    number = {root: 0}
    order = [root]
    bends: list[list[Joint]] = []
    queue = [root]
    done: set[int] = set()
    while queue:
        here = queue.pop(0)
        hung: dict[int, list[Joint]] = {}
        for i, joint in enumerate(joints):
            if i in done or here not in joint.panels:
                continue
            done.add(i)
            if joint.panels[0] != here:
                joint = replace(joint, panels=joint.panels[::-1], edges=joint.edges[::-1])
            hung.setdefault(joint.panels[1], []).append(joint)
        for child, own in hung.items():
            if child not in number:
                number[child] = len(order)
                order.append(child)
                queue.append(child)
            bends.append([replace(j, panels=(number[here], number[child])) for j in own])
    return Tree(tuple(panels[i] for i in order), tuple(tuple(b) for b in bends))
