"""The folded part as an SVG picture: as metal, or coloured by how hard it works, with its sag drawn large."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadfold.deliver import svg
from steadfold.deliver.annotation import (
    Arrow,
    Mark,
    load_arrows,
    numbered_circle,
    numbered_marks,
    overall_sizes,
    show_size,
)
from steadfold.deliver.legend import LEGEND_PX, share_legend
from steadfold.deliver.metal import edge_paths, metal_faces
from steadfold.deliver.placement import Box, Placement, fitted, height_for
from steadfold.deliver.shading import visible_faces
from steadfold.deliver.share_image import share_image
from steadfold.deliver.shell_surface import shell_surface, wall_owners
from steadfold.deliver.surface import Surface, surface_of
from steadfold.deliver.view import Up, View, isometric, usual_up
from steadfold.deliver.visible_edges import visible_edges, visible_pieces
from steadfold.quantities.showing import Units
from steadfold.sheet.extent import folded_bounds_mm
from steadfold.sheet.part import Part

WIDTH, MARGIN, HEAD = 960.0, 64.0, 62.0
LEAST_HEIGHT, MOST_HEIGHT = 240.0, 620.0
LINE_PX = 20.0

SAG_SHARE = 0.08
"""The greatest sag is drawn about this share of the part's size, at most."""


@dataclass(frozen=True)
class WorkedSheet:
    """What a calculation says of a meshed sheet.

    Positions (n, 3) in mm and triangles (m, 3) of its middle; `values` are shares of the limit, one a node (n,) or a
    triangle (m,), or None; `displacements` (n, 3) in mm, or None; `regions` (m,) number the panels and bends.
    """

    positions: np.ndarray
    triangles: np.ndarray
    thickness_mm: float
    values: np.ndarray | None = None
    displacements: np.ndarray | None = None
    regions: np.ndarray | None = None


def folded_svg(
    part: Part,
    worked: WorkedSheet | None = None,
    *,
    share: float = 1.0,
    up: Up | None = None,
    view: View | None = None,
    arrows: Sequence[Arrow] = (),
    marks: Sequence[Mark] = (),
    sag_factor: float | None = None,
    units: Units = "mm",
) -> str:
    """A part folded by a share, as an SVG picture with its overall sizes; isometric unless a view is given.

    With a `worked` mesh (of the fully folded part) it is coloured by share of the limit and drawn sagged by
    `sag_factor` times the displacements, by default a round number that makes them visible.
    Raises `SolidError` when the part is not one piece.
    """
    up = up or usual_up(part)
    view = view or isometric(up)
    low, high = folded_bounds_mm(part, share)
    sizes = " × ".join(show_size(float(v), units).rsplit(" ", 1)[0] for v in high - low)
    facts = f"{sizes} {units}, {show_size(part.thickness_mm, units)} sheet"
    if worked is not None:
        return worked_svg(
            worked, part.name, view, arrows=arrows, marks=marks, sag_factor=sag_factor, units=units, facts=facts
        )
    surface = surface_of(part, share)
    rows = _mark_rows(marks)
    height = height_for(view, surface.corners, WIDTH - 2 * MARGIN - 60, LEAST_HEIGHT, MOST_HEIGHT)
    place = fitted(view, surface.corners, Box(MARGIN + 30, HEAD + 40, WIDTH - 2 * MARGIN - 60, height))
    bottom = HEAD + height + 104
    body = [*_head(part.name, facts), *metal_faces(visible_faces(surface, view), place)]
    body += edge_paths(visible_edges(surface, view, hidden=False), place)
    if view.name.startswith("isometric"):
        body += overall_sizes(place, surface.corners, low, high, up, units)
    body += load_arrows(place, arrows, units) + numbered_marks(place, marks)
    body += _mark_list(marks, bottom)
    state = "folded" if share == 1 else ("flat" if share == 0 else f"{100 * share:.0f} % folded")
    return svg.document(WIDTH, bottom + rows * LINE_PX, f"{part.name}, {state}: {facts}", body)


def worked_svg(
    worked: WorkedSheet,
    name: str,
    view: View,
    *,
    arrows: Sequence[Arrow] = (),
    marks: Sequence[Mark] = (),
    sag_factor: float | None = None,
    units: Units = "mm",
    facts: str = "",
) -> str:
    """Any meshed sheet, coloured by share of the limit, drawn sagged, with its unloaded outline thin behind it."""
    still = shell_surface(worked.positions, worked.triangles, worked.thickness_mm, worked.regions)
    factor = sag_factor if sag_factor is not None else round_factor(worked)
    surface, moved = still, np.asarray(worked.positions, dtype=float)
    if worked.displacements is not None:
        moved = moved + factor * worked.displacements
        surface = shell_surface(moved, worked.triangles, worked.thickness_mm, worked.regions)
        arrows = [replace(arrow, at_mm=_carried(worked, arrow.at_mm, factor)) for arrow in arrows]
        marks = [replace(mark, at_mm=_carried(worked, mark.at_mm, factor)) for mark in marks]
    both = np.concatenate([still.corners, surface.corners])
    height = height_for(view, both, WIDTH - 2 * MARGIN, LEAST_HEIGHT, MOST_HEIGHT)
    top = HEAD + (46 if arrows else 14)
    place = fitted(view, both, Box(MARGIN, top, WIDTH - 2 * MARGIN, height))
    bottom = top + height + 24
    body = _head(name, facts)
    if worked.displacements is not None:
        body += _ghost(still, place)
    body += _worked_faces(worked, surface, place)
    body += edge_paths(visible_edges(surface, view, hidden=False), place, edge_px=1.1, bend=svg.SOFT, bend_px=0.5)
    body += load_arrows(place, arrows, units) + numbered_marks(place, marks)
    said = [f"{name}, folded"]
    if worked.values is not None:
        body += _limit_line(worked, surface, place)
        body += _greatest(worked, moved, surface, place)
        body += share_legend(MARGIN, bottom, float(np.nanmax(worked.values)))
        said.append(f"coloured by share of its limit, greatest {np.nanmax(worked.values):.2f}")
        bottom += LEGEND_PX
    if worked.displacements is not None:
        words = sag_words(worked, factor, units)
        body.append(
            svg.text(WIDTH - MARGIN, bottom - (LEGEND_PX if worked.values is not None else 0) + 22, words[0], 13, "end")
        )
        body.append(
            svg.text(
                WIDTH - MARGIN,
                bottom - (LEGEND_PX if worked.values is not None else 0) + 41,
                words[1],
                12,
                "end",
                "soft",
            )
        )
        said.append(", ".join(words))
        bottom += 0 if worked.values is not None else LEGEND_PX
    body += _mark_list(marks, bottom + 6)
    return svg.document(WIDTH, bottom + 10 + _mark_rows(marks) * LINE_PX, "; ".join(said), body)


def round_factor(worked: WorkedSheet) -> float:
    """By how much the displacements are drawn larger: 1, 2 or 5 times a power of ten; never less than 1."""
    if worked.displacements is None:
        return 1.0
    greatest = float(np.linalg.norm(worked.displacements, axis=1).max())
    size = float(np.linalg.norm(np.ptp(worked.positions, axis=0)))
    wanted = SAG_SHARE * size / greatest if greatest > 0 else 1.0
    power = 10.0 ** math.floor(math.log10(max(wanted, 1.0)))
    return max(1.0, max(step * power for step in (1, 2, 5) if step * power <= max(wanted, 1.0)))


def sag_words(worked: WorkedSheet, factor: float, units: Units) -> tuple[str, str]:
    """How large the greatest movement is, and how much larger it is drawn."""
    assert worked.displacements is not None
    greatest = float(np.linalg.norm(worked.displacements, axis=1).max())
    shown = f"{svg.number(greatest / 25.4, 3)} in" if units == "in" else f"{svg.number(greatest, 2)} mm"
    drawn = "sag drawn at its size" if factor == 1 else f"sag drawn {svg.number(factor)} times larger"
    return f"moves at most {shown}", f"{drawn}; thin lines: unloaded"


def _carried(worked: WorkedSheet, at_mm: np.ndarray, factor: float) -> np.ndarray:
    """Where a place on the unloaded part is drawn: it goes along with the node nearest to it."""
    assert worked.displacements is not None
    nearest = int(np.argmin(np.linalg.norm(worked.positions - np.asarray(at_mm, dtype=float), axis=1)))
    return np.asarray(at_mm, dtype=float) + factor * worked.displacements[nearest]


def _head(name: str, facts: str) -> list[str]:
    return [svg.text(MARGIN - 36, 34, name, 20, weight="600"), svg.text(MARGIN - 36, 55, facts, 13, kind="soft")]


def _ghost(still: Surface, place: Placement) -> list[str]:
    lines = visible_edges(still, place.view, hidden=False)
    data = "".join(svg.polyline(place.flat(line.points)) for line in lines if line.kind == "edge")
    return [
        f'<path d="{data}" fill="none" stroke="{svg.FAINT}" class="thin" stroke-width="0.9" stroke-linejoin="round"/>'
    ]


def _worked_faces(worked: WorkedSheet, surface: Surface, place: Placement) -> list[str]:
    if worked.values is None:
        return metal_faces(visible_faces(surface, place.view), place)
    data, box = share_image(surface, _surface_values(worked), place)
    return [
        f'<image x="{svg.number(box.left)}" y="{svg.number(box.top)}" width="{svg.number(box.width)}" '
        f'height="{svg.number(box.height)}" preserveAspectRatio="none" '
        f'href="data:image/png;base64,{base64.b64encode(data).decode("ascii")}"/>'
    ]


def _surface_values(worked: WorkedSheet) -> np.ndarray:
    """Values at the corners of every triangle of the thickened sheet, (triangles, 3)."""
    values = np.asarray(worked.values, dtype=float)
    count, most = len(worked.positions), len(worked.triangles)
    if len(values) == count:
        both = np.tile(values, 2)
        return both[shell_surface(worked.positions, worked.triangles, worked.thickness_mm).triangles]
    if len(values) != most:
        raise ValueError(f"{len(values)} values fit neither {count} nodes nor {most} triangles")
    own = np.concatenate([values, values, values[wall_owners(worked.triangles)]])
    return np.repeat(own[:, None], 3, axis=1)


def _limit_line(worked: WorkedSheet, surface: Surface, place: Placement) -> list[str]:
    """Where the share is exactly 1, as a line on the skins; only for values at nodes."""
    values = np.asarray(worked.values, dtype=float)
    if len(values) != len(worked.positions) or not (values.max() > 1 > values.min()):
        return []
    over = np.tile(values, 2)[surface.triangles] - 1.0
    corners = surface.corners[surface.triangles]
    crossings = []
    for k in range(3):
        a, b = over[:, k], over[:, (k + 1) % 3]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (a / (a - b))[:, None]
        share = np.where((a * b < 0)[:, None], share, np.nan)
        at = corners[:, k] + share * (corners[:, (k + 1) % 3] - corners[:, k])
        crossings.append(at)
    points = np.stack(crossings, axis=1)
    crossed = np.isfinite(points[:, :, 0])
    two = crossed.sum(axis=1) == 2
    ends = points[two][crossed[two]].reshape(-1, 2, 3)
    data = "".join(svg.polyline(place.flat(piece)) for piece in visible_pieces(ends, surface, place.view))
    return (
        [f'<path d="{data}" fill="none" stroke="#fff6ea" stroke-width="1.6" stroke-linecap="round"/>'] if data else []
    )


def _greatest(worked: WorkedSheet, moved: np.ndarray, surface: Surface, place: Placement) -> list[str]:
    """A ring and the number where the metal works hardest."""
    values = np.asarray(worked.values, dtype=float)
    most = int(np.nanargmax(values))
    spot = moved[most] if len(values) == len(moved) else moved[worked.triangles[most]].mean(axis=0)
    x, y = place(spot[None])[0]
    label = f"{values[most]:.2f}"
    side = 1 if x < 0.75 * WIDTH else -1
    end = x + side * 46
    leader = svg.polyline(np.array([[x + side * 5.5, y + 5], [end, y + 34], [end + side * 8, y + 34]]))
    return [
        f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="7" fill="none" stroke="#ffffff" stroke-width="3.4"/>',
        f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="7" fill="none" stroke="{svg.INK}" stroke-width="1.6"/>',
        f'<path d="{leader}" fill="none" stroke="{svg.INK}" class="line" stroke-width="1"/>',
        svg.text(end + side * 12, y + 39, label, 14, "start" if side > 0 else "end", weight="600", halo=True),
    ]


def _mark_rows(marks: Sequence[Mark]) -> int:
    return sum(1 for mark in marks if mark.say)


def _mark_list(marks: Sequence[Mark], top: float) -> list[str]:
    drawn = []
    for row, mark in enumerate(mark for mark in marks if mark.say):
        y = top + row * LINE_PX
        drawn += numbered_circle(MARGIN - 26, y - 4, mark.number, 9.5)
        drawn.append(svg.text(MARGIN - 10, y, mark.say, 12.5))
    return drawn
