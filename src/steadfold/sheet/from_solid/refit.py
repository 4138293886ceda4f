"""Planes and cylinders of a coarsely rounded file, fitted again to the corners of their faces.

A file that gives places to 0.01 mm and directions to 0.1° puts a plane, carried over 100 mm, more than its
rounding away from its own corners. The corners of all faces together know better.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from steadfold.sheet.from_solid.body import Body, SolidFace, exact_volume

ROUGH_MM = 1e-3
"""Bodies whose corners all lie closer than this to their faces are left as they are."""

FARTHEST_MM = 0.05
LARGEST_TILT = 0.004
"""A fit that moves a face farther or tilts it more (radians) than rounding explains is not used."""


def refitted(body: Body) -> Body:
    """The body with its plane and cylinder faces fitted to their corners; itself when it is not coarse."""
    if body.tolerance_mm < ROUGH_MM:
        return body
    faces = tuple(_plane(body, f) if f.kind == "plane" else _cylinder(body, f) for f in body.faces)
    volume = exact_volume(body.edges, faces, LARGEST_TILT**2)
    return replace(body, faces=faces, volume_mm3=body.volume_mm3 if volume is None else volume)


def _points(body: Body, face: SolidFace) -> np.ndarray:
    numbers = sorted({c for u in face.uses for c in (body.edges[u.edge].start, body.edges[u.edge].end)})
    return body.corners[numbers]


def _plane(body: Body, face: SolidFace) -> SolidFace:
    points = _points(body, face)
    middle = points.mean(axis=0)
    off = float((middle - face.origin) @ face.axis)
    if abs(off) > FARTHEST_MM:
        return face
    moved = replace(face, origin=face.origin + off * face.axis)
    if len(points) < 3:
        return moved
    _, spread, axes = np.linalg.svd(points - middle)
    normal = axes[2] if float(axes[2] @ face.axis) > 0 else -axes[2]
    tilt = float(np.linalg.norm(normal - face.axis))
    # a narrow face knows its offset, not its tilt about its own length
    if spread[1] < 5.0 or tilt > LARGEST_TILT:
        return moved
    return replace(face, origin=middle, axis=normal)


def _cylinder(body: Body, face: SolidFace) -> SolidFace:
    if face.kind != "cylinder":
        return face
    rings = [
        body.edges[u.edge]
        for u in face.uses
        if body.edges[u.edge].kind == "circle"
        and abs(float(np.dot(body.edges[u.edge].axis, face.axis))) > 1 - LARGEST_TILT**2  # type: ignore[arg-type]
    ]
    points = _points(body, face)
    origin, axis = face.origin, face.axis
    if rings:
        centres = np.array([ring.centre for ring in rings])
        along = (centres - origin) @ axis
        low, high = centres[int(np.argmin(along))], centres[int(np.argmax(along))]
        chord = high - low
        length = float(np.linalg.norm(chord))
        if length > 5.0 and float(np.linalg.norm(chord / length - axis)) < LARGEST_TILT:
            axis = chord / length
        middle = centres.mean(axis=0)
        off = middle - origin - float((middle - origin) @ axis) * axis
        if float(np.linalg.norm(off)) < FARTHEST_MM:
            origin = middle
    out = points - origin
    radii = np.linalg.norm(out - (out @ axis)[:, None] * axis, axis=1)
    radius = float(radii.mean())
    if abs(radius - face.radius_mm) > FARTHEST_MM:
        radius = face.radius_mm
    return replace(face, origin=origin, axis=axis, radius_mm=radius)
