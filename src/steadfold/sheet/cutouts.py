"""Cutouts taken out of the panel they are drawn in, and out of the bends and panels they reach across."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from steadfold.findings import Finding, Severity
from steadfold.sheet.outline import Isometry, Outline
from steadfold.sheet.overlay import without
from steadfold.sheet.part import Part
from steadfold.sheet.pose import flat_places
from steadfold.sheet.tree import DrawnPanel, PanelTree, TreeError

Cutters = dict[tuple[str, int], list[Outline]]
"""What is cut from each 'panel' or 'bend', by its number."""


def cut_out(part: Part, tree: PanelTree) -> tuple[Part, list[Finding]]:
    """The part with every cutout of its tree cut, and a finding for each that runs across a bend.

    Raises `TreeError` for a cutout that lies outside the metal of its panel and of all its neighbours.
    """
    if not any(panel.cutouts for panel in tree.panels):
        return part, []
    places, strips = flat_places(part)
    cutters: Cutters = {}
    findings: list[Finding] = []
    for index, drawn in enumerate(tree.panels):
        if drawn.cutouts:
            findings += _assign(part, index, drawn, places, strips, cutters)
    panels = tuple(
        replace(p, faces=without(p.faces, cutters["panel", i])) if ("panel", i) in cutters else p
        for i, p in enumerate(part.panels)
    )
    bends = tuple(
        replace(b, faces=without(b.faces, cutters["bend", i])) if ("bend", i) in cutters else b
        for i, b in enumerate(part.bends)
    )
    return replace(part, panels=panels, bends=bends), findings


def _assign(
    part: Part,
    index: int,
    drawn: DrawnPanel,
    places: Sequence[Isometry],
    strips: Sequence[Isometry],
    cutters: Cutters,
) -> list[Finding]:
    """Put every cutout of one panel to the pieces it cuts."""
    findings = []
    own = part.panels[index].faces[0].outer.polygon()
    shapely.prepare(own)
    for number, cutout in enumerate(drawn.cutouts):
        shape = cutout.outline.polygon()
        if own.contains_properly(shape):
            cutters.setdefault(("panel", index), []).append(cutout.outline)
            continue
        reached = _reached(part, index, cutout.outline, places, strips)
        if not reached:
            x0, y0, x1, y1 = drawn.outline.bounds
            raise TreeError(
                drawn.name,
                "cutout",
                f"cutout {cutout.name or number} of panel {drawn.name!r} lies outside its metal; "
                f"the panel is {x1 - x0:g} × {y1 - y0:g} mm by outside dimensions",
            )
        flat = cutout.outline.moved(places[index])
        for kind, other in reached:
            place = places[other] if kind == "panel" else strips[other]
            cutters.setdefault((kind, other), []).append(flat.moved(place.inverted()))
        crossed = [other for kind, other in reached if kind == "bend"]
        if crossed:
            child = part.panels[part.bends[crossed[0]].child].name
            findings.append(
                Finding(
                    "cutout-across-bend",
                    Severity.CAUTION,
                    drawn.name,
                    f"Cutout {cutout.name or number} of {drawn.name!r} runs across the bend to {child!r}; it is cut "
                    "in the flat and will stretch there.",
                    None,
                    None,
                    "geometry",
                    "keep it off the bend where its shape matters",
                )
            )
    return findings


def _reached(
    part: Part, index: int, outline: Outline, places: Sequence[Isometry], strips: Sequence[Isometry]
) -> list[tuple[str, int]]:
    """Panels and strips that a cutout of one panel touches in the flat, each joined to the last by a bend."""
    shape = outline.moved(places[index]).polygon()

    def touches(kind: str, other: int) -> bool:
        faces = part.panels[other].faces if kind == "panel" else part.bends[other].faces
        place = places[other] if kind == "panel" else strips[other]
        return any(face.moved(place).polygon().intersection(shape).area > 1e-6 for face in faces)

    found = [("panel", index)] if touches("panel", index) else []
    waiting, seen = [index], {index}
    while waiting:
        here = waiting.pop()
        for number, bend in enumerate(part.bends):
            if here not in (bend.parent, bend.child) or ("bend", number) in found or not touches("bend", number):
                continue
            found.append(("bend", number))
            beyond = bend.child if here == bend.parent else bend.parent
            if beyond not in seen:
                seen.add(beyond)
                if touches("panel", beyond):
                    found.append(("panel", beyond))
                    waiting.append(beyond)
    return found
