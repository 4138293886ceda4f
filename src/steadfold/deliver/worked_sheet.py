"""A meshed sheet drawn by what a calculation says of it: colour for how hard it works, sag drawn larger."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadfold.deliver import svg
from steadfold.deliver.annotation import Arrow, Mark, load_arrows, numbered_marks
from steadfold.deliver.metal import edge_paths, metal_faces
from steadfold.deliver.placement import Box, Placement, fitted
from steadfold.deliver.shading import visible_faces
from steadfold.deliver.share_image import share_image
from steadfold.deliver.shell_surface import shell_surface, wall_owners
from steadfold.deliver.surface import Surface
from steadfold.deliver.view import View
from steadfold.deliver.visible_edges import visible_edges, visible_pieces
from steadfold.quantities.showing import Units

SAG_SHARE = 0.08
"""The greatest sag is drawn about this share of the part's size, at most."""


@dataclass(frozen=True)
class WorkedSheet:
    """What a calculation says of a meshed sheet.

    Positions (n, 3) in mm and triangles (m, 3) of its middle; `values` are shares of the limit, one a node (n,) or a
    triangle (m,), or None; `displacements` (n, 3) in mm, or None; `regions` (m,) number the panels and bends.
    Raises `ValueError` when values do not fit the mesh or are not numbers.
    """

    positions: np.ndarray
    triangles: np.ndarray
    thickness_mm: float
    values: np.ndarray | None = None
    displacements: np.ndarray | None = None
    regions: np.ndarray | None = None

    def __post_init__(self) -> None:
        if self.values is None:
            return
        nodes, triangles = len(self.positions), len(self.triangles)
        if len(self.values) not in (nodes, triangles):
            raise ValueError(f"{len(self.values)} values fit neither {nodes} nodes nor {triangles} triangles")
        if not np.isfinite(self.values).all():
            raise ValueError("a share of the limit is not a number")

    @property
    def greatest(self) -> float | None:
        """The greatest share, None when there are none."""
        return None if self.values is None else float(np.max(self.values))


@dataclass(frozen=True)
class Sagged:
    """A worked sheet as it is drawn: `factor` times its displacements added, and the surfaces without and with them."""

    worked: WorkedSheet
    factor: float
    still: Surface
    moved: Surface
    nodes_mm: np.ndarray

    @property
    def corners(self) -> np.ndarray:
        """Corners of both surfaces, (k, 3), for finding room."""
        return np.concatenate([self.still.corners, self.moved.corners])


def sagged(worked: WorkedSheet, factor: float | None = None) -> Sagged:
    """A worked sheet with its displacements drawn larger, by default by `round_factor`."""
    factor = round_factor(worked) if factor is None else factor
    nodes = np.asarray(worked.positions, dtype=float)
    still = shell_surface(nodes, worked.triangles, worked.thickness_mm, worked.regions)
    if worked.displacements is None:
        return Sagged(worked, factor, still, still, nodes)
    nodes = nodes + factor * worked.displacements
    moved = shell_surface(nodes, worked.triangles, worked.thickness_mm, worked.regions)
    return Sagged(worked, factor, still, moved, nodes)


def sagged_parts(
    drawn: Sagged, view: View, box: Box, arrows: Sequence[Arrow], marks: Sequence[Mark], units: Units
) -> list[str]:
    """The sheet in a box of a picture: unloaded outline, colours, edges, where it works hardest, loads, fixings."""
    worked, place = drawn.worked, fitted(view, drawn.corners, box)
    body = []
    if worked.displacements is not None:
        body += _ghost(drawn.still, place)
        arrows = [replace(arrow, at_mm=_carried(drawn, arrow.at_mm)) for arrow in arrows]
        marks = [replace(mark, at_mm=_carried(drawn, mark.at_mm)) for mark in marks]
    body += _worked_faces(worked, drawn.moved, place)
    body += edge_paths(visible_edges(drawn.moved, view, hidden=False), place, edge_px=1.1, bend=svg.SOFT, bend_px=0.5)
    body += load_arrows(place, arrows, units) + numbered_marks(place, marks)
    if worked.values is not None:
        body += _limit_line(worked, drawn.moved, place)
        body += _greatest(worked, drawn.nodes_mm, drawn.moved, place, box.left + 0.7 * box.width)
    return body


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


def _carried(drawn: Sagged, at_mm: np.ndarray) -> np.ndarray:
    """Where a place on the unloaded part is drawn: it goes along with the node nearest to it."""
    at = np.asarray(at_mm, dtype=float)
    nearest = int(np.argmin(np.linalg.norm(drawn.worked.positions - at, axis=1)))
    return at + drawn.nodes_mm[nearest] - drawn.worked.positions[nearest]


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
    if len(values) == len(worked.positions):
        both = np.tile(values, 2)
        return both[shell_surface(worked.positions, worked.triangles, worked.thickness_mm).triangles]
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


def _greatest(
    worked: WorkedSheet, moved: np.ndarray, surface: Surface, place: Placement, middle_px: float
) -> list[str]:
    """A ring and the number where the metal works hardest; it says so where that place is behind something."""
    values = np.asarray(worked.values, dtype=float)
    most = int(np.argmax(values))
    corners = np.array([most]) if len(values) == len(moved) else worked.triangles[most]
    spot = moved[corners].mean(axis=0)
    x, y = place(spot[None])[0]
    skins = surface.corners[[*corners, *(corners + len(moved))]].reshape(2, -1, 3).mean(axis=1)
    tiny = np.stack([skins, skins + 0.02 * place.view.right], axis=1)
    label = f"{values[most]:.2f}" + ("" if len(visible_pieces(tiny, surface, place.view)) else " behind")
    side = 1 if x < middle_px else -1
    end = x + side * 46
    leader = svg.polyline(np.array([[x + side * 5.5, y + 5], [end, y + 34], [end + side * 8, y + 34]]))
    return [
        f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="7" fill="none" stroke="#ffffff" stroke-width="3.4"/>',
        f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="7" fill="none" stroke="{svg.INK}" stroke-width="1.6"/>',
        f'<path d="{leader}" fill="none" stroke="#ffffff" class="halo" stroke-width="3"/>',
        f'<path d="{leader}" fill="none" stroke="{svg.INK}" class="line" stroke-width="1.2"/>',
        svg.text(end + side * 12, y + 39, label, 14, "start" if side > 0 else "end", weight="600", halo=True),
    ]
