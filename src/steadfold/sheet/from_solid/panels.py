"""Panels of a recognised sheet: the outlines of their faces, countersinks as the holes they are, bevels left on."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from steadfold.findings import Finding, Severity
from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.body import Use, place_text
from steadfold.sheet.from_solid.outline import Segment, chained, faces_of, outer_uses, outline_of, plane_segments
from steadfold.sheet.from_solid.record import SunkHole
from steadfold.sheet.from_solid.shape import Shape
from steadfold.sheet.from_solid.strip import TangentLine, snapped
from steadfold.sheet.from_solid.walls import Sunk, Wall
from steadfold.sheet.outline import Face, Outline, circle
from steadfold.sheet.part import Panel
from steadfold.sheet.pose import Frame

ToPlane = Callable[[np.ndarray], np.ndarray]
"""Points in space, shape (n, 3), in the axes of a panel, shape (n, 2)."""


class Panels:
    """Makes the panels of one body one by one; what was found and taken away on the way adds up."""

    def __init__(self, shape: Shape, thickness_mm: float, walls: Sequence[Wall], formed: Sequence[Wall]):
        self.shape, self.body, self.thickness = shape, shape.body, thickness_mm
        self.wall_of = {e: w for w in walls for e in (*w.near_edges, *w.far_edges)}
        self.formed = {id(w) for w in formed}
        self.findings: list[Finding] = []
        self.sunk: list[SunkHole] = []
        self.taken_mm3 = 0.0
        self.bevel_mm3 = 0.0

    def panel(self, number: int, group: tuple[int, ...], frame: Frame, lines: Sequence[TangentLine]) -> Panel:
        """One panel in its frame, its corners on the tangent lines it meets its bends in.

        Raises `CadRefused` when its outlines do not make a face.
        """
        name = f"panel {number + 1}"
        if not group:
            return Panel(name, ())
        axes = np.stack([frame.along, frame.away], axis=1)

        def to_plane(points: np.ndarray) -> np.ndarray:
            return np.asarray((points - frame.origin) @ axes)

        outlines = []
        for loop in chained(self.body, outer_uses(self.body, group), frame.face):
            outline = self._loop_outline(number, loop, to_plane, lines)
            if outline is not None:
                outlines.append(outline)
        try:
            faces: tuple[Face, ...] = faces_of(outlines)
        except ValueError:
            raise CadRefused(
                f"the outline of {self.body.name!r} at {place_text(frame.origin)} does not make a face; "
                "export the part again"
            ) from None
        return Panel(name, faces)

    def _loop_outline(
        self, number: int, loop: list[Use], to_plane: ToPlane, lines: Sequence[TangentLine]
    ) -> Outline | None:
        segments: list[Segment] = []
        for use in loop:
            segments += plane_segments(self.body.edges[use.edge], use.forward, to_plane)
        if lines:
            segments = [(snapped(a, lines), snapped(b, lines), bulge) for a, b, bulge in segments]
        outline = outline_of(segments)
        walls = {id(w): w for use in loop if (w := self.wall_of.get(use.edge)) is not None}
        for wall in walls.values():
            if id(wall) in self.formed:
                return None
            if wall.sunk is not None and outline.area_mm2 < 0:
                return self._sunk_hole(number, wall.sunk, outline, to_plane)
            if wall.bevelled:
                return self._bevelled(wall, outline, to_plane)
        return outline

    def _bevelled(self, wall: Wall, outline: Outline, to_plane: ToPlane) -> Outline:
        """Of the outlines on the two sides of a bevelled edge the one with more metal: the rest is machined off."""
        uses = [Use(e, True) for e in sorted(wall.far_edges)]
        turned = []
        for face in {f for e in wall.far_edges for f in self.shape.sides[e]} - set(wall.faces):
            turned += [u for u in self.body.faces[face].uses if u.edge in wall.far_edges]
        segments = [
            s
            for u in (chained(self.body, turned or uses) or [[]])[0]
            for s in plane_segments(self.body.edges[u.edge], u.forward, to_plane)
        ]
        other = outline_of(segments)
        other = other.anticlockwise() if outline.area_mm2 > 0 else other.clockwise()
        apart = abs(other.area_mm2 - outline.area_mm2)
        if apart < 1e-6 or apart > 1.5 * self.thickness * outline.length_mm:
            return outline
        self.bevel_mm3 += apart * self.thickness
        where = place_text(self.shape.middle(wall.faces[0]))
        self.findings.append(
            Finding(
                "edge-not-square",
                Severity.CAUTION,
                where,
                f"The edge at {where} is not square to the sheet: its outlines on the two sides differ by "
                f"{apart:.1f} mm². The flat has the one that leaves more metal.",
                apart,
                None,
                "geometry",
                "order the bevel as a second operation",
            )
        )
        return max(outline, other, key=lambda o: o.area_mm2)

    def _sunk_hole(self, number: int, sunk: Sunk, outline: Outline, to_plane: ToPlane) -> Outline:
        at = to_plane(sunk.centre[None, :])[0]
        centre = (float(at[0]), float(at[1]))
        on_face = abs(outline.area_mm2) > math.pi / 4 * sunk.hole_mm**2 * (1 + 1e-6)
        self.sunk.append(SunkHole(number, centre, sunk.hole_mm, sunk.wide_mm, sunk.angle_rad, on_face))
        self.taken_mm3 += sunk.taken_mm3
        return circle(sunk.hole_mm, centre).clockwise()
