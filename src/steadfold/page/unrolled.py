"""From nodes in space back to the panels and bends they lie on, so that the page can fold them again."""

from __future__ import annotations

import numpy as np
import shapely

from steadfold.sheet.part import Part
from steadfold.sheet.pose import BendPose, Frame, Pose

ON_SURFACE_MM = 1e-5
OFF_METAL_MM = 1.0
"""A node may lie this far outside the metal of its panel: corners of a polygon that stands for a hole."""


def unrolled(part: Part, pose: Pose, nodes_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Region (n,) and place (n, 2) of nodes (n, 3) on the middle surface of a folded part.

    Regions count panels first, then bends; places are x and y in a panel's frame, or x along a bend and the share of
    the way across it. Raises `ValueError` when a node lies on no panel and no bend.
    """
    count = len(nodes_mm)
    region = np.full(count, -1)
    place = np.zeros((count, 2))
    nearest = np.full(count, OFF_METAL_MM)
    points: np.ndarray
    for number, (panel, frame) in enumerate(zip(part.panels, pose.panels, strict=True)):
        points, height = _in_frame(frame, nodes_mm)
        flat = np.flatnonzero(np.abs(height) < ON_SURFACE_MM)
        metal = shapely.union_all([face.polygon() for face in panel.faces])
        away = shapely.distance(metal, shapely.points(points[flat]))
        closer = away < nearest[flat] - 1e-9
        mine = flat[closer]
        region[mine], place[mine], nearest[mine] = number, points[mine], away[closer]
    for number, (bend, bent) in enumerate(zip(part.bends, pose.bends, strict=True)):
        points = _in_bend(bent, nodes_mm)
        x, share, off = points.T
        metal = shapely.union_all([face.polygon() for face in bend.faces])
        inside = np.flatnonzero((off < ON_SURFACE_MM) & (share > -1e-6) & (share < 1 + 1e-6))
        away = shapely.distance(metal, shapely.points(x[inside], share[inside] * bend.allowance_mm))
        closer = away < nearest[inside] - 1e-9
        mine = inside[closer]
        region[mine], nearest[mine] = len(part.panels) + number, away[closer]
        place[mine] = np.column_stack([x[mine], np.clip(share[mine], 0.0, 1.0)])
    if (region < 0).any():
        raise ValueError(f"{int((region < 0).sum())} nodes lie on no panel and no bend")
    return region, place


def _in_frame(frame: Frame, nodes_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    offset = nodes_mm - frame.origin
    return np.column_stack([offset @ frame.along, offset @ frame.away]), offset @ frame.face


def _in_bend(bent: BendPose, nodes_mm: np.ndarray) -> np.ndarray:
    """Place along, share of the way across, and distance from the middle surface (n, 3)."""
    start = bent.start
    offset = nodes_mm - start.origin
    x, out, up = offset @ start.along, offset @ start.away, offset @ start.face
    if abs(bent.angle_rad) < 1e-9:
        return np.column_stack([x, out / bent.length_mm, np.abs(up)])
    radius = bent.length_mm / bent.angle_rad
    off = np.abs(np.hypot(out, radius - up) - abs(radius))
    # The angle from the start in the bend's own direction, from a little below 0 to below a full turn.
    turned = np.arctan2(out, (radius - up) * np.sign(radius))
    turned = np.where(turned < -0.5 * (2 * np.pi - abs(bent.angle_rad)), turned + 2 * np.pi, turned)
    return np.column_stack([x, turned / abs(bent.angle_rad), off])
