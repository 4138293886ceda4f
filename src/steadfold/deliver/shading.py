"""The visible faces of a part as polygons, exactly: each plane facet less what lies in front of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.deliver.surface import Surface
from steadfold.deliver.view import View

SMALLEST_MM2 = 1e-4
"""Smaller pieces are left out."""

GRID_MM = 1e-5
"""Corners lie on a grid this fine: without one, set operations on edges that nearly coincide gave invalid areas."""

NARROWEST_MM = 5e-4
"""Slivers narrower than about twice this are left out."""

NEARER_MM = 0.01
"""A facet hides another where it is this much nearer."""


@dataclass(frozen=True)
class VisibleFace:
    """What is seen of one facet: its unit normal in the view (right, up, toward) and its area in the picture, in mm."""

    normal: np.ndarray
    area: shapely.Geometry


def visible_faces(surface: Surface, view: View) -> tuple[VisibleFace, ...]:
    """The visible pieces of all facets that look toward the viewer; they do not overlap."""
    polygons, normals, heights = _facing_facets(surface, view)
    if not len(polygons):
        return ()
    cover = _covers(polygons, normals, heights)
    rounded = np.array([_areal(each) for each in shapely.set_precision(polygons, GRID_MM)])
    seen = shapely.difference(rounded, cover, grid_size=GRID_MM)
    return tuple(
        VisibleFace(normal, area)
        for normal, area in zip(normals, seen, strict=True)
        if shapely.area(area) > max(SMALLEST_MM2, NARROWEST_MM * shapely.length(area))
    )


def _facing_facets(surface: Surface, view: View) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Facets that look toward the viewer: polygons in the picture, normals, and n·p of their planes."""
    corners = view.seen(surface.corners)[surface.triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sizes = np.linalg.norm(normals, axis=1, keepdims=True)
    unit = normals / sizes
    front = unit[:, 2] > 1e-4
    corners, normals, facets = corners[front], normals[front], surface.facets[front]
    order = np.argsort(facets, kind="stable")
    corners, normals, facets = corners[order], normals[order], facets[order]
    if not len(facets):
        return np.empty(0, dtype=object), np.empty((0, 3)), np.empty(0)
    starts = np.flatnonzero(np.concatenate([[True], np.diff(facets) > 0]))
    triangles = shapely.polygons(corners[:, :, :2])
    ends = np.append(starts[1:], len(facets))
    whole = [_joined(triangles[a:b]) for a, b in zip(starts, ends, strict=True)]
    polygons = shapely.make_valid(np.array(whole))
    total = np.add.reduceat(normals, starts)
    total /= np.linalg.norm(total, axis=1, keepdims=True)
    heights = np.einsum("ij,ij->i", total, corners[starts].mean(axis=1))
    return polygons, total, heights


def _joined(triangles: np.ndarray) -> shapely.Geometry:
    """The area of one facet's triangles; the quick way asks that they share whole sides, which slivers may not."""
    try:
        return shapely.coverage_union_all(triangles)
    except shapely.errors.GEOSException:
        return shapely.union_all(triangles, grid_size=GRID_MM)


def _covers(polygons: np.ndarray, normals: np.ndarray, heights: np.ndarray) -> np.ndarray:
    """For every facet, what hides it."""
    one, other = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    pairs = one < other
    one, other = one[pairs], other[pairs]
    shared = shapely.intersection(polygons[one], polygons[other])
    large = shapely.area(shared) > SMALLEST_MM2
    one, other, shared = one[large], other[large], shared[large]
    covers: list[list[shapely.Geometry]] = [[] for _ in polygons]
    if len(shared):
        slope = _planes(normals[other], heights[other]) - _planes(normals[one], heights[one])
        points, at = shapely.get_coordinates(shared, return_index=True)
        gap = slope[at, 0] + slope[at, 1] * points[:, 0] + slope[at, 2] * points[:, 1]
        starts = np.flatnonzero(np.concatenate([[True], np.diff(at) > 0]))
        least, most = np.minimum.reduceat(gap, starts), np.maximum.reduceat(gap, starts)
        for i in range(len(shared)):
            # A whole neighbour is taken away rather than what they share, whose rounded corners would leave slivers.
            # Where two lie in one plane (panels that clash), the first of them is seen.
            if most[i] < NEARER_MM or most[i] <= -least[i] * 1e-6:
                covers[other[i]].append(polygons[one[i]])
            elif least[i] > -NEARER_MM:
                covers[one[i]].append(polygons[other[i]])
            else:
                covers[one[i]].append(_half(polygons[other[i]], slope[i]))
                covers[other[i]].append(_half(polygons[one[i]], -slope[i]))
    return np.array([_areal(shapely.union_all(each, grid_size=GRID_MM)) for each in covers])


def _areal(shape: shapely.Geometry) -> shapely.Geometry:
    """The polygons of a shape without the lines and points that it may have collapsed to in places."""
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shape
    return shapely.MultiPolygon([part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"])


def _planes(normals: np.ndarray, heights: np.ndarray) -> np.ndarray:
    """Depth over the picture as c + a x + b y, (n, 3)."""
    return np.column_stack([heights, -normals[:, 0], -normals[:, 1]]) / normals[:, 2:]


def _half(area: shapely.Geometry, slope: np.ndarray) -> shapely.Geometry:
    """The part of an area where c + a x + b y is positive."""
    c, a, b = slope
    size = np.hypot(a, b)
    centre = np.array(shapely.get_coordinates(area).mean(axis=0))
    across = np.array([a, b]) / size
    foot = centre - across * (c + centre @ np.array([a, b])) / size
    reach = 4 * max(np.ptp(shapely.get_coordinates(area), axis=0).max(), 1.0) + np.linalg.norm(foot - centre)
    along = np.array([-across[1], across[0]])
    corners = [
        foot - reach * along,
        foot + reach * along,
        foot + reach * (along + across),
        foot - reach * (along - across),
    ]
    return shapely.intersection(area, shapely.Polygon(corners))
