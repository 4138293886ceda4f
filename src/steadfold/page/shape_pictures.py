"""Small pictures of the ready-made shapes, drawn from the shapes themselves, in a child process."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from steadfold.deliver import svg
from steadfold.deliver.metal import edge_paths, metal_faces
from steadfold.deliver.placement import Box, fitted
from steadfold.deliver.shading import visible_faces
from steadfold.deliver.surface import surface_of
from steadfold.deliver.view import isometric, usual_up
from steadfold.deliver.visible_edges import visible_edges
from steadfold.job import read_job_text
from steadfold.job.fresh import new_job
from steadfold.page.answers import shape_only

WIDTH, HEIGHT, MARGIN = 260.0, 170.0, 12.0


def picture(tell: Callable[[float, str], None], name: str) -> bytes:
    """The shape as an SVG picture; `ValueError` when there is no such shape."""
    return _drawn(name)


@cache
def _drawn(name: str) -> bytes:
    part = shape_only(read_job_text(new_job(name))).part
    if part is None:
        raise ValueError(name)
    surface = surface_of(part, 1.0)
    view = isometric(usual_up(part))
    place = fitted(view, surface.corners, Box(MARGIN, MARGIN, WIDTH - 2 * MARGIN, HEIGHT - 2 * MARGIN))
    body = [*metal_faces(visible_faces(surface, view), place)]
    body += edge_paths(visible_edges(surface, view, hidden=False), place)
    return svg.document(WIDTH, HEIGHT, name, body).encode()
