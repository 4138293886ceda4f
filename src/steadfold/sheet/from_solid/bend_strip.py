"""The strip of one bend as a recognised solid has it: its boundary on the middle surface, in x and angle."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from steadfold.findings import Finding, Severity
from steadfold.sheet.from_solid.body import place_text
from steadfold.sheet.from_solid.outline import chained, dense_points, outer_uses
from steadfold.sheet.from_solid.shape import SAME_MM, Shape
from steadfold.sheet.from_solid.strip import Around, Curve, carried_to, closed_up, loops_area
from steadfold.sheet.from_solid.tree import Joint


def strip_of(
    shape: Shape,
    thickness_mm: float,
    joints: tuple[Joint, ...],
    along: np.ndarray,
    away: np.ndarray,
    face: np.ndarray,
    angle: float,
    findings: list[Finding],
) -> tuple[float, float, list[tuple[Curve, ...]]]:
    """Least and greatest x of a bend's strip, mm, and its boundary loops in x and angle.

    `along`, `away` and `face` are the axes of the parent's panel turned to the bend, `angle` what it turns, rad.
    A hole drilled through the finished bend is added to `findings`.
    """
    first = joints[0]
    sign = 1.0 if first.inward else -1.0
    loops: list[tuple[Curve, ...]] = []
    if not any(j.faces or j.far_faces for j in joints):
        for joint in joints:
            x = np.sort((shape.body.edges[joint.edges[0][0]].points - first.centre) @ along)
            corners = np.array([[x[0], 0], [x[1], 0], [x[1], abs(angle)], [x[0], abs(angle)]])
            loops.append(tuple((corners[[i, (i + 1) % 4]], True) for i in range(4)))
    else:
        mapping = Around(first.centre, along, away, -sign * face, abs(angle))
        faces = [f for j in joints for f in j.faces]
        far = sorted({f for j in joints for f in j.far_faces})
        near_loops = _loops(shape, faces, mapping) if faces and first.near_radius_mm > 0.3 else []
        far_loops = _loops(shape, far, mapping) if far else []
        near_area, far_area = loops_area(near_loops), loops_area(far_loops)
        if near_loops and far_loops and abs(near_area - far_area) > 1e-4 * near_area:
            middle = first.near_radius_mm + 0.5 * sign * thickness_mm
            near_loops = _halfway(shape, faces, mapping, first.near_radius_mm, middle, near_loops, findings)
        loops = near_loops or far_loops
    points = np.concatenate([c for loop in loops for c, _ in loop])
    low, high = float(points[:, 0].min()), float(points[:, 0].max())
    if loops_area(loops) < 0:
        loops = [tuple((c[::-1], s) for c, s in loop[::-1]) for loop in loops]
    return low, high, loops


def _loops(shape: Shape, faces: Sequence[int], mapping: Around) -> list[tuple[Curve, ...]]:
    found = []
    for loop in chained(shape.body, outer_uses(shape.body, faces)):
        found.append(tuple(mapping.curve(shape.body.edges[u.edge], u) for u in loop))
    return found


def _halfway(
    shape: Shape,
    faces: Sequence[int],
    mapping: Around,
    near_radius: float,
    middle_radius: float,
    plain: list[tuple[Curve, ...]],
    findings: list[Finding],
) -> list[tuple[Curve, ...]]:
    """Loops on the middle surface where a drill went through the bend; `plain` elsewhere."""
    found = []
    for loop, own_loop in zip(chained(shape.body, outer_uses(shape.body, faces)), plain, strict=True):
        curves: list[Curve] = []
        drilled = None
        for use, own in zip(loop, own_loop, strict=True):
            one, two = shape.sides[use.edge]
            wall = shape.body.faces[two if one in faces else one]
            if wall.kind != "cylinder" or own[1]:
                curves.append(own)
                continue
            points = dense_points(shape.body.edges[use.edge], 65)
            points = points if use.forward else points[::-1]
            carried = mapping.points(carried_to(points, wall.axis, mapping, middle_radius))
            if float(np.abs(carried - mapping.points(points)).max()) * near_radius < 1e-5:
                curves.append(own)
                continue
            drilled = two if one in faces else one
            curves.append((carried, False))
        gaps = [np.abs(c[0][-1] - curves[(i + 1) % len(curves)][0][0]).max() for i, c in enumerate(curves)]
        if drilled is None or max(gaps) > SAME_MM:
            found.append(own_loop)
            continue
        findings.append(_drilled_through(shape, drilled))
        found.append(closed_up(curves))
    return found


def _drilled_through(shape: Shape, wall: int) -> Finding:
    face = shape.body.faces[wall]
    where = place_text(shape.middle(wall))
    return Finding(
        "drilled-through-bend",
        Severity.CAUTION,
        where,
        f"A hole of {2 * face.radius_mm:.2f} mm goes straight through a finished bend at {where}: "
        "round after bending, it is "
        "not round in the flat, where it is drawn as it is on the middle of the sheet.",
        2 * face.radius_mm,
        None,
        "geometry",
        "drill it after bending, or accept the cut outline",
    )
