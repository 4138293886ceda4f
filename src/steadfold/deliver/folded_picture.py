"""The folded part as an SVG picture: as metal, or coloured by how hard it works, with its sag drawn large."""

from __future__ import annotations

from collections.abc import Sequence

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
from steadfold.deliver.placement import Box, fitted, height_for
from steadfold.deliver.shading import visible_faces
from steadfold.deliver.surface import surface_of
from steadfold.deliver.view import Up, View, isometric, usual_up
from steadfold.deliver.visible_edges import visible_edges
from steadfold.deliver.worked_sheet import WorkedSheet, sag_words, sagged, sagged_parts
from steadfold.quantities.showing import Units
from steadfold.sheet.extent import folded_bounds_mm
from steadfold.sheet.part import Part

WIDTH, MARGIN, HEAD = 960.0, 64.0, 62.0
LEAST_HEIGHT, MOST_HEIGHT = 240.0, 620.0
LINE_PX = 20.0


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
    notes: Sequence[str] = (),
) -> str:
    """A part folded by a share, as an SVG picture with its overall sizes; isometric unless a view is given.

    With a `worked` mesh (of the fully folded part) it is coloured by share of the limit and drawn sagged by
    `sag_factor` times the displacements, by default a round number that makes them visible. Marks that say
    something and notes are listed under the picture.
    Raises `SolidError` when the part is not one piece.
    """
    up = up or usual_up(part)
    view = view or isometric(up)
    low, high = folded_bounds_mm(part, share)
    sizes = " × ".join(show_size(float(v), units).rsplit(" ", 1)[0] for v in high - low)
    facts = f"{sizes} {units}, {show_size(part.thickness_mm, units)} sheet"
    if worked is not None:
        return worked_svg(
            worked,
            part.name,
            view,
            arrows=arrows,
            marks=marks,
            sag_factor=sag_factor,
            units=units,
            facts=facts,
            notes=notes,
        )
    surface = surface_of(part, share)
    words, rows = _listed(marks, notes)
    height = height_for(view, surface.corners, WIDTH - 2 * MARGIN - 60, LEAST_HEIGHT, MOST_HEIGHT)
    place = fitted(view, surface.corners, Box(MARGIN + 30, HEAD + 40, WIDTH - 2 * MARGIN - 60, height))
    bottom = HEAD + height + 104
    body = [*_head(part.name, facts), *metal_faces(visible_faces(surface, view), place)]
    body += edge_paths(visible_edges(surface, view, hidden=False), place)
    if view.name.startswith("isometric"):
        body += overall_sizes(place, surface.corners, low, high, up, units)
    body += load_arrows(place, arrows, units) + numbered_marks(place, marks)
    body += _list(words, bottom)
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
    notes: Sequence[str] = (),
) -> str:
    """Any meshed sheet, coloured by share of the limit, drawn sagged, with its unloaded outline thin behind it."""
    drawn = sagged(worked, sag_factor)
    height = height_for(view, drawn.corners, WIDTH - 2 * MARGIN, LEAST_HEIGHT, MOST_HEIGHT)
    top = HEAD + (46 if arrows else 14)
    body = _head(name, facts)
    body += sagged_parts(drawn, view, Box(MARGIN, top, WIDTH - 2 * MARGIN, height), arrows, marks, units)
    bottom, said = top + height + 24, [f"{name}, folded"]
    if worked.greatest is not None:
        body += share_legend(MARGIN, bottom, worked.greatest)
        said.append(f"coloured by share of its limit, greatest {worked.greatest:.2f}")
    if worked.displacements is not None:
        greatest, larger = sag_words(worked, drawn.factor, units)
        body.append(svg.text(WIDTH - MARGIN, bottom + 22, greatest, 13, "end"))
        body.append(svg.text(WIDTH - MARGIN, bottom + 41, larger, 12, "end", "soft"))
        said += [greatest, larger]
    if worked.greatest is not None or worked.displacements is not None:
        bottom += LEGEND_PX
    words, rows = _listed(marks, notes)
    body += _list(words, bottom + 6)
    return svg.document(WIDTH, bottom + 10 + rows * LINE_PX, "; ".join(said), body)


def _head(name: str, facts: str) -> list[str]:
    return [svg.text(MARGIN - 36, 34, name, 20, weight="600"), svg.text(MARGIN - 36, 55, facts, 13, kind="soft")]


def _listed(marks: Sequence[Mark], notes: Sequence[str]) -> tuple[list[tuple[str, str]], int]:
    """What is said under the picture, number first; and how many lines that takes."""
    words = [("", note) for note in notes] + [(mark.number, mark.say) for mark in marks if mark.say]
    return words, len(words)


def _list(words: Sequence[tuple[str, str]], top: float) -> list[str]:
    drawn = []
    for row, (label, say) in enumerate(words):
        y = top + row * LINE_PX
        drawn += numbered_circle(MARGIN - 26, y - 4, label, 9.5) if label else [_load_sign(MARGIN - 26, y - 4)]
        drawn.append(svg.text(MARGIN - 10, y, say, 12.5))
    return drawn


def _load_sign(x: float, y: float) -> str:
    shape = np.array(
        [[x, y + 7], [x - 4, y - 1], [x - 1.1, y - 1], [x - 1.1, y - 8], [x + 1.1, y - 8], [x + 1.1, y - 1]]
    )
    return f'<path d="{svg.polyline(np.vstack([shape, [[x + 4, y - 1]]]))}Z" fill="{svg.ACCENT}" class="marked"/>'
