"""A folded part drawn as metal: shaded faces, crisp edges, thin tangent lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np
import shapely

from steadfold.deliver import svg
from steadfold.deliver.colour_scale import metal_colour
from steadfold.deliver.placement import Placement
from steadfold.deliver.shading import visible_faces
from steadfold.deliver.surface import Surface
from steadfold.deliver.visible_edges import Line

LIGHT = np.array([-0.42, 0.72, 0.55]) / np.linalg.norm([-0.42, 0.72, 0.55])
"""Where the light comes from in the view: over the viewer's left shoulder."""

TONES = 40


def metal_faces(surface: Surface, place: Placement, pale: bool = False) -> list[str]:
    """The visible faces as filled paths, one a tone."""
    tones: dict[str, list[shapely.Geometry]] = defaultdict(list)
    for face in visible_faces(surface, place.view):
        light = round(TONES * (0.5 + 0.5 * float(face.normal @ LIGHT))) / TONES
        tones[metal_colour(0.55 + 0.45 * light if pale else light)].append(face.area)
    drawn = []
    for colour, areas in sorted(tones.items()):
        moved = shapely.transform(np.array(areas, dtype=object), place.flat)
        path = "".join(svg.area_path(area) for area in moved)
        # A thin line of the face's own colour closes the hairline that shows between faces drawn side by side.
        drawn.append(
            f'<path d="{path}" fill="{colour}" fill-rule="evenodd" stroke="{colour}" stroke-width="0.6" '
            'stroke-linejoin="round"/>'
        )
    return drawn


def edge_paths(
    lines: Iterable[Line],
    place: Placement,
    edge: str = svg.INK,
    edge_px: float = 1.3,
    bend: str = svg.FAINT,
    bend_px: float = 0.7,
) -> list[str]:
    """Visible lines as paths: edges over tangent lines; hidden ones dashed, thin, beneath both."""
    data: dict[str, list[str]] = {"hidden": [], "bend": [], "edge": []}
    for line in lines:
        data[line.kind if line.visible else "hidden"].append(svg.polyline(place.flat(line.points)))
    style = {
        "hidden": f'stroke="{edge}" stroke-width="{0.5 * edge_px}" stroke-dasharray="5 2.5"',
        "bend": f'stroke="{bend}" stroke-width="{bend_px}"',
        "edge": f'stroke="{edge}" stroke-width="{edge_px}"',
    }
    return [
        f'<path d="{"".join(paths)}" fill="none" {style[kind]} stroke-linecap="round" stroke-linejoin="round"/>'
        for kind, paths in data.items()
        if paths
    ]
