"""A folded part drawn as metal: shaded faces, crisp edges, thin tangent lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np
import shapely

from steadfold.deliver import svg
from steadfold.deliver.colour_scale import metal_colour
from steadfold.deliver.placement import Box, Placement
from steadfold.deliver.shading import VisibleFace
from steadfold.deliver.visible_edges import Line

LIGHT = np.array([-0.42, 0.72, 0.55]) / np.linalg.norm([-0.42, 0.72, 0.55])
"""Where the light comes from in the view: over the viewer's left shoulder."""

TONES, FEW_TONES = 40, 14


def metal_faces(
    faces: Iterable[VisibleFace], place: Placement, pale: bool = False, within: Box | None = None
) -> list[str]:
    """Visible faces as filled paths, one a tone; pale ones in few tones, for a small picture.

    What lies outside the box `within` is left out.
    """
    steps = FEW_TONES if pale else TONES
    tones: dict[str, list[shapely.Geometry]] = defaultdict(list)
    for face in faces:
        light = round(steps * (0.5 + 0.5 * float(face.normal @ LIGHT))) / steps
        tones[metal_colour(0.55 + 0.45 * light if pale else light)].append(face.area)
    drawn = []
    for colour, areas in sorted(tones.items()):
        together = shapely.transform(shapely.union_all(areas, grid_size=1e-5), place.flat)
        if within is not None:
            together = shapely.clip_by_rect(together, *_edges(within))
        path = svg.area_path(together, 1 if pale else 2)
        if not path:
            continue
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
    within: Box | None = None,
    edge_class: str = "",
) -> list[str]:
    """Visible lines as paths: edges over tangent lines; hidden ones dashed, thin, beneath both.

    What lies outside the box `within` is left out.
    """
    data: dict[str, list[str]] = {"hidden": [], "bend": [], "edge": []}
    for line in lines:
        points = place.flat(line.points)
        shown = [points] if within is None else _clipped(points, within)
        data[line.kind if line.visible else "hidden"] += [svg.polyline(each) for each in shown]
    style = {
        "hidden": f'stroke="{edge}" stroke-width="{0.6 * edge_px:g}" stroke-dasharray="4 2.5"'
        + (f' class="{edge_class}"' if edge_class else ""),
        "bend": f'stroke="{bend}" stroke-width="{bend_px}"',
        "edge": f'stroke="{edge}" stroke-width="{edge_px}"' + (f' class="{edge_class}"' if edge_class else ""),
    }
    return [
        f'<path d="{"".join(paths)}" fill="none" {style[kind]} stroke-linecap="round" stroke-linejoin="round"/>'
        for kind, paths in data.items()
        if paths
    ]


def _edges(box: Box) -> tuple[float, float, float, float]:
    return box.left, box.top, box.left + box.width, box.top + box.height


def _clipped(points: np.ndarray, box: Box) -> list[np.ndarray]:
    parts = shapely.get_parts(shapely.clip_by_rect(shapely.LineString(points), *_edges(box)))
    return [np.asarray(part.coords) for part in parts if part.geom_type == "LineString" and not part.is_empty]
