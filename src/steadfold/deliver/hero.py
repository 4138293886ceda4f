"""The picture at the top of the README: a few lines of a job, the flat they become, the folded part."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from steadfold.deliver import svg
from steadfold.deliver.annotation import Arrow, overall_sizes
from steadfold.deliver.colour_scale import metal_colour
from steadfold.deliver.legend import share_legend
from steadfold.deliver.metal import edge_paths, metal_faces
from steadfold.deliver.placement import Box, fitted, fitted_flat
from steadfold.deliver.shading import visible_faces
from steadfold.deliver.strength_picture import worked_by
from steadfold.deliver.surface import surface_of
from steadfold.deliver.view import isometric, orthographic, up_against, usual_up
from steadfold.deliver.visible_edges import visible_edges
from steadfold.deliver.worked_sheet import sag_words, sagged, sagged_parts
from steadfold.mount.records import Picture
from steadfold.quantities.showing import Units
from steadfold.sheet.extent import folded_bounds_mm
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.part import Part

WIDTH, HEIGHT = 1200.0, 450.0
JOB, FLAT, FOLDED = Box(24, 78, 262, 306), Box(386, 78, 290, 296), Box(758, 62, 384, 326)


def hero_svg(
    part: Part, flat: FlatPattern, job_lines: Sequence[str], picture: Picture | None = None, units: Units = "mm"
) -> str:
    """The job's lines, the flat pattern with its bend lines, and the folded part, side by side.

    With the picture of a rating the folded part is coloured by share of its limit, under its loads.
    """
    folded = _folded(part, units) if picture is None else _worked(part, picture, units)
    body = [*_job(job_lines), *_flat(part, flat), *folded]
    last = "the part, folded" if picture is None else "the part under its loads"
    for x, words in ((JOB.left, "the job"), (FLAT.left, "the flat, to be cut"), (FOLDED.left, last)):
        body.append(svg.text(x, 36, words, 16, weight="600"))
    body += [_arrow(JOB.left + JOB.width + 14), _arrow(FLAT.left + FLAT.width + 18)]
    label = f"A job file of a few lines becomes the flat pattern and the folded shape of the {part.name}"
    return svg.document(WIDTH, HEIGHT, label, body)


def _job(lines: Sequence[str]) -> list[str]:
    box = JOB
    drawn = [
        f'<rect x="{box.left:g}" y="{box.top - 24:g}" width="{box.width:g}" height="{box.height + 24:g}" rx="6" '
        f'fill="none" stroke="{svg.FAINT}" class="thin"/>'
    ]
    step = (box.height - 14) / max(len(lines), 1)
    for row, line in enumerate(lines):
        key, _, value = line.partition("=")
        y = box.top + 8 + row * step
        if not value:
            drawn.append(svg.text(box.left + 16, y, line, 13, kind="accent", weight="600", mono=True))
            continue
        drawn.append(svg.text(box.left + 16, y, key.strip(), 13, kind="soft", mono=True))
        drawn.append(svg.text(box.left + 138, y, value.strip(), 13, mono=True))
    return drawn


def _flat(part: Part, flat: FlatPattern) -> list[str]:
    low, high = np.array(flat.bounds[:2]), np.array(flat.bounds[2:])
    place = fitted_flat(orthographic("front"), low, high, FLAT)
    contours = [outline.vertices(0.02) for outline in (flat.outer, *flat.openings)]
    metal = shapely.Polygon(place.flat(contours[0]), [place.flat(ring) for ring in contours[1:]])
    bends = "".join(svg.polyline(place.flat(np.array([line.start, line.end]))) for line in flat.bend_lines)
    width, height = (svg.number(v, 1) for v in flat.size_mm)
    x0, y0 = place.flat(np.array([low[0], high[1]]))
    x1, y1 = place.flat(np.array([high[0], low[1]]))
    ends = [[[x0, y1 + 14], [x1, y1 + 14]], [[x0 - 14, y0], [x0 - 14, y1]]]
    sizes = "".join(svg.polyline(np.array(pair)) for pair in ends)
    count = f"{len(part.bends)} bends" if len(part.bends) != 1 else "1 bend"
    return [
        f'<path d="{svg.area_path(metal)}" fill="{metal_colour(0.75)}" stroke="{svg.INK}" stroke-width="1.2" '
        'fill-rule="evenodd" stroke-linejoin="round"/>',
        f'<path d="{bends}" fill="none" stroke="{svg.ACCENT}" stroke-width="1.2" stroke-dasharray="7 3.5"/>',
        f'<path d="{sizes}" fill="none" stroke="{svg.SOFT}" class="thin" stroke-width="0.8"/>',
        svg.text(0.5 * (x0 + x1), y1 + 31, f"{width} mm", 12.5, "middle"),
        f'<g transform="translate({svg.number(x0 - 20)} {svg.number(0.5 * (y0 + y1))}) rotate(-90)">'
        + svg.text(0, 0, f"{height} mm", 12.5, "middle")
        + "</g>",
        svg.text(FLAT.left, 56, f"{count}, {flat.pierces} pierces, true arcs", 12.5, kind="soft"),
    ]


def _folded(part: Part, units: Units) -> list[str]:
    up = usual_up(part)
    view, surface = isometric(up), surface_of(part)
    place = fitted(view, surface.corners, FOLDED)
    low, high = folded_bounds_mm(part)
    drawn = metal_faces(visible_faces(surface, view), place)
    drawn += edge_paths(visible_edges(surface, view, hidden=False), place, edge_px=1.2)
    return drawn + overall_sizes(place, surface.corners, low, high, up, units)


def _worked(part: Part, picture: Picture, units: Units) -> list[str]:
    worked = worked_by(part, picture)
    drawn = sagged(worked)
    up = up_against(picture.loads[0][1]) if picture.loads else usual_up(part)
    arrows = [Arrow(at, down, say.rsplit(": ", 1)[-1]) for at, down, say in picture.loads]
    box = Box(FOLDED.left, FOLDED.top + 26, FOLDED.width, FOLDED.height - 44)
    body = sagged_parts(drawn, isometric(up), box, arrows, (), units)
    moves, larger = sag_words(worked, drawn.factor, units)
    body.append(svg.text(FOLDED.left, 56, f"{moves}; {larger.split(';')[0]}", 12.5, kind="soft"))
    return body + share_legend(FOLDED.left, HEIGHT - 76, float(picture.share.max()), 230.0, 60.0)


def _arrow(left: float) -> str:
    y, right = 0.5 * HEIGHT, left + 26
    shaft = svg.polyline(np.array([[left, y], [right - 6, y]]))
    head = svg.polyline(np.array([[right, y], [right - 9, y - 5], [right - 9, y + 5]]))
    return (
        f'<path d="{shaft}" fill="none" stroke="{svg.SOFT}" class="thin" stroke-width="1.6"/>'
        f'<path d="{head}Z" fill="{svg.SOFT}" class="soft"/>'
    )
