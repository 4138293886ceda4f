"""Frames, outlines and bend strips of a recognised sheet, from the root panel outward."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from steadfold.findings import Finding
from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.bend_strip import strip_of
from steadfold.sheet.from_solid.body import Body, place_text
from steadfold.sheet.from_solid.outline import (
    dense_points,
    outer_uses,
)
from steadfold.sheet.from_solid.panels import Panels
from steadfold.sheet.from_solid.record import BendSheet, Sheet
from steadfold.sheet.from_solid.shape import SAME_MM, Shape
from steadfold.sheet.from_solid.skin import Skins
from steadfold.sheet.from_solid.strip import (
    Curve,
    TangentLine,
    shifted,
    stops_of,
    with_corners_at,
)
from steadfold.sheet.from_solid.tree import Joint, Tree
from steadfold.sheet.from_solid.walls import Wall
from steadfold.sheet.outline import Isometry, Outline, Point, polygon_outline
from steadfold.sheet.overlay import without
from steadfold.sheet.part import Panel
from steadfold.sheet.pose import Frame, fold


class Layout:
    """Builds the sheet of one body, from the root panel outward."""

    def __init__(self, shape: Shape, skins: Skins, tree: Tree, walls: list[Wall], formed: list[Wall]):
        self.shape, self.skins, self.tree = shape, skins, tree
        self.body: Body = shape.body
        self.thickness = skins.thickness_mm
        self.findings: list[Finding] = []
        self.outlined = Panels(shape, self.thickness, walls, formed)
        self.kite_mm3 = 0.0
        self.lines: dict[int, list[TangentLine]] = {}
        self.trims: dict[int, list[Outline]] = {}
        self.frames: list[Frame] = []

    def sheet(self) -> Sheet:
        """Everything; raises `CadRefused` when the recognised tree does not bring the panels to their places."""
        self.frames = [self._root_frame()]
        bends = [self._joined(joints) for joints in self.tree.joints]
        panels = tuple(
            self.outlined.panel(i, group, self.frames[i], self.lines.get(i, []))
            for i, group in enumerate(self.tree.panels)
        )
        bends = self._fitted(bends, panels)
        root = self._middle(self.frames[0])
        sheet = Sheet(
            self.body.name,
            self.body.count,
            self.thickness,
            panels,
            tuple(bends),
            root,
            tuple(self.outlined.sunk),
            (*self.findings, *self.outlined.findings),
        )
        self._check_places(sheet)
        return sheet

    def _fitted(self, bends: list[BendSheet], panels: tuple[Panel, ...]) -> list[BendSheet]:
        """Bends whose strips meet their panels corner to corner, whatever a file was rounded to."""
        found: list[BendSheet] = []
        ends: dict[int, list[float]] = {}
        for bend in bends:
            place = Isometry(bend.parent_point, bend.parent_along, bend.parent_away).inverted()
            parent = [place(p) for p in _corners(panels[bend.parent])]
            child = _corners(panels[bend.child])
            stops = [x for x, y in parent if abs(y) < 1e-9]
            if not panels[bend.parent].faces:
                stops = [place((x, 0.0))[0] for x in ends.get(bend.parent, ())]
            loops = with_corners_at(bend.loops, 0.0, stops)
            loops = with_corners_at(loops, abs(bend.angle_rad), [x for x, y in child if abs(y) < 1e-9])
            if not panels[bend.child].faces:
                ends[bend.child] = stops_of(loops, abs(bend.angle_rad))
            found.append(replace(bend, loops=tuple(loops)))
        return found

    def _middle(self, frame: Frame) -> Frame:
        return Frame(frame.origin - 0.5 * self.thickness * frame.face, frame.along, frame.away, frame.face)

    def _root_frame(self) -> Frame:
        """x along the longest straight edge of the root, its lower left corner the origin."""
        group = self.tree.panels[0]
        normal = self.body.faces[group[0]].axis
        best, longest = None, 0.0
        points = []
        for use in outer_uses(self.body, group):
            edge = self.body.edges[use.edge]
            points.append(dense_points(edge))
            length = float(np.linalg.norm(edge.points[-1] - edge.points[0]))
            if edge.kind == "line" and length > longest * (1 + 1e-9):
                longest = length
                best = (edge.points[1] - edge.points[0]) * (1.0 if use.forward else -1.0)
        if best is None:
            best = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
        along = best - (best @ normal) * normal
        along /= np.linalg.norm(along)
        away = np.cross(normal, along)
        cloud = np.concatenate(points)
        start = self.body.faces[group[0]].origin
        x, y = (cloud - start) @ along, (cloud - start) @ away
        return Frame(start + float(x.min()) * along + float(y.min()) * away, along, away, normal)

    def _joined(self, joints: tuple[Joint, ...]) -> BendSheet:
        """One bend from its pieces; also places its child."""
        first = joints[0]
        parent, child = first.panels
        if any(not self._one_bend(first, j) for j in joints[1:]):
            raise CadRefused(
                f"two panels of {self.body.name!r} are joined by two different bends near "
                f"{place_text(first.centre)}: a closed "
                "shape cannot be laid flat; leave a slit at one of them"
            )
        frame = self.frames[parent]
        axis = self._axis(first, joints)
        axis = axis - (axis @ frame.face) * frame.face
        axis /= np.linalg.norm(axis)
        if not self.tree.panels[parent]:
            axis = frame.along if float(axis @ frame.along) > 0 else -frame.along
        sign = 1.0 if first.inward else -1.0
        out = np.cross(axis, frame.face)
        if not self._leads_out(first, axis, out, sign, frame):
            axis, out = -axis, -out
        along, away = axis, np.cross(frame.face, axis)
        angle, face = self._angle(first, frame, away, sign)
        radius = first.near_radius_mm if first.inward else first.near_radius_mm - self.thickness
        far_radius = [self.body.faces[f].radius_mm for f in first.far_faces]
        if not first.inward and far_radius and not first.sharp:
            radius = far_radius[0]
        radius = 0.0 if radius < 1e-9 else radius
        low, high, loops = strip_of(self.shape, self.thickness, joints, along, away, frame.face, angle, self.findings)
        foot = first.centre + low * along
        foot = foot - float((foot - frame.origin) @ frame.face) * frame.face
        offset = foot - frame.origin
        point = (float(offset @ frame.along), float(offset @ frame.away))
        if not self.tree.panels[parent]:
            # a panel of no width has one line, where the bend before it ends
            point = (point[0], 0.0)
        turn = lambda v: (float(v @ frame.along), float(v @ frame.away))  # noqa: E731
        self.lines.setdefault(parent, []).append(TangentLine(np.asarray(point), np.asarray(turn(along)), high - low))
        self._place_child(child, first, low, along, away, face, angle, high - low, loops, frame)
        if first.sharp:
            self._trim(parent, child, joints, point, turn(along), turn(away), angle, low)
        return BendSheet(
            parent,
            child,
            angle,
            radius,
            high - low,
            point,
            turn(along),
            turn(away),
            tuple(shifted(loop, low) for loop in loops),
            first.sharp,
        )

    def _one_bend(self, one: Joint, two: Joint) -> bool:
        off = two.centre - one.centre
        off = off - (off @ one.axis) * one.axis
        return (
            one.inward == two.inward
            and abs(one.near_radius_mm - two.near_radius_mm) < SAME_MM
            and float(np.linalg.norm(off)) < 2 * SAME_MM + 1e-3 * one.near_radius_mm
        )

    def _axis(self, first: Joint, joints: tuple[Joint, ...]) -> np.ndarray:
        """The bend's direction: the axis, or its tangent lines where they tell better."""
        ends = [self.body.edges[e].points[[0, -1]] for j in joints for e in j.edges[0] or j.edges[1]]
        if not ends:
            return first.axis
        points = np.concatenate(ends)
        along = points @ first.axis
        chord = points[int(np.argmax(along))] - points[int(np.argmin(along))]
        length = float(np.linalg.norm(chord))
        if length < 5.0 or abs(float(chord @ first.axis)) / length > 1 - 1e-10:
            return first.axis
        return np.asarray(chord / length)

    def _leads_out(self, joint: Joint, axis: np.ndarray, out: np.ndarray, sign: float, frame: Frame) -> bool:
        """True when the bend's metal lies on the side of `away` = face × axis, that is of -out."""
        away = -out
        if joint.faces:
            samples = np.concatenate(
                [dense_points(self.body.edges[u.edge]) for f in joint.faces for u in self.body.faces[f].uses]
            )
            offset = samples - joint.centre
            ahead = np.arctan2(offset @ away, -sign * (offset @ frame.face))
            behind = np.arctan2(offset @ -away, -sign * (offset @ frame.face))
            middle = 0.5 * joint.turn_rad
            unwrap = lambda a: np.abs(np.mod(a - middle + math.pi, 2 * math.pi) - math.pi).max()  # noqa: E731
            return bool(unwrap(ahead) <= unwrap(behind))
        group = self.tree.panels[joint.panels[1]]
        other = self.body.faces[group[0]].axis
        return float(other @ away) * sign < 0

    def _angle(self, joint: Joint, frame: Frame, away: np.ndarray, sign: float) -> tuple[float, np.ndarray]:
        """Signed bend angle and the child's normal; exact from the child's plane where it has one."""
        group = self.tree.panels[joint.panels[1]]
        rough = sign * joint.turn_rad
        if not group:
            rough = self._angle_between_bends(joint, frame, away, rough)
            return rough, math.cos(rough) * frame.face - math.sin(rough) * away
        normal = self.body.faces[group[0]].axis
        angle = math.atan2(-float(normal @ away), float(normal @ frame.face))
        angle += 2 * math.pi * round((rough - angle) / (2 * math.pi))
        return angle, normal

    def _angle_between_bends(self, joint: Joint, frame: Frame, away: np.ndarray, rough: float) -> float:
        """Where two bends touch, the line between their axes tells how far the first one turns."""
        following = [j for joints in self.tree.joints for j in joints if j.panels[0] == joint.panels[1]]
        if not following or following[0].sharp:
            return rough
        between = following[0].centre - joint.centre
        x, y = float(between @ frame.face), float(-between @ away)
        if math.hypot(x, y) < 0.5:
            return rough
        angle = math.atan2(y, x)
        return angle + math.pi * round((rough - angle) / math.pi)

    def _place_child(
        self,
        child: int,
        joint: Joint,
        low: float,
        along: np.ndarray,
        away: np.ndarray,
        face: np.ndarray,
        angle: float,
        length: float,
        loops: list[tuple[Curve, ...]],
        frame: Frame,
    ) -> None:
        onward = along - (along @ face) * face
        onward /= np.linalg.norm(onward)
        foot = joint.centre + low * along
        group = self.tree.panels[child]
        if group:
            plane = self.body.faces[group[0]]
            foot = foot - float((foot - plane.origin) @ face) * face
        else:
            foot = foot - (1.0 if joint.inward else -1.0) * joint.near_radius_mm * face
        while len(self.frames) <= child:
            self.frames.append(frame)
        self.frames[child] = Frame(foot, onward, np.cross(face, onward), face)
        self.lines.setdefault(child, []).append(TangentLine(np.zeros(2), np.array([1.0, 0.0]), length))

    def _trim(
        self,
        parent: int,
        child: int,
        joints: tuple[Joint, ...],
        point: Point,
        along: Point,
        away: Point,
        angle: float,
        low: float,
    ) -> None:
        """Cut both panels back from a corner drawn sharp to the tangent lines of the radius assumed."""
        first = joints[0]
        back = first.near_radius_mm * math.tan(0.5 * abs(angle))
        reach = back + 2 * SAME_MM
        total = 0.0
        for joint in joints:
            frame = self.frames[parent]
            unit = along[0] * frame.along + along[1] * frame.away
            x = np.sort((self.body.edges[joint.edges[0][0]].points - first.centre) @ unit) - low
            total += float(x[1] - x[0])
            o, e, w = np.asarray(point), np.asarray(along), np.asarray(away)
            corners = [o + a * e + b * w for a, b in ((x[0], 0), (x[1], 0), (x[1], reach), (x[0], reach))]
            self.trims.setdefault(parent, []).append(polygon_outline([(c[0], c[1]) for c in corners]))
            self.trims.setdefault(child, []).append(
                polygon_outline([(x[0], -reach), (x[1], -reach), (x[1], 0.0), (x[0], 0.0)])
            )
        self.kite_mm3 += (1.0 if first.inward else -1.0) * total * self.thickness**2 * math.tan(0.5 * abs(angle))

    @property
    def bevel_mm3(self) -> float:
        """Volume that bevelled edges are machined off the drawn panels."""
        return self.outlined.bevel_mm3

    def drawn_volume(self, sheet: Sheet) -> float:
        """Volume of the solid as the tree says it was drawn: before sharp corners are rounded, after sinking."""
        part = sheet.part([0.5] * len(sheet.bends))
        volume = part.volume_mm3 - self.outlined.taken_mm3 + self.kite_mm3
        for bend in part.bends:
            drawn = sheet.bends[part.bends.index(bend)]
            if drawn.sharp:
                strip = sum(f.area_mm2 for f in bend.faces) / bend.allowance_mm * abs(bend.angle_rad)
                volume -= strip * self.thickness * (bend.inside_radius_mm + 0.5 * self.thickness)
        return volume

    def trimmed(self, sheet: Sheet) -> Sheet:
        """The sheet with panels cut back where sharp corners get a radius."""
        if not self.trims:
            return sheet
        panels = tuple(
            replace(p, faces=without(p.faces, self.trims[i])) if i in self.trims else p
            for i, p in enumerate(sheet.panels)
        )
        return replace(sheet, panels=panels)

    def _check_places(self, sheet: Sheet) -> None:
        """The tree, folded, must bring every panel to where the file has it."""
        pose = fold(sheet.part([0.5] * len(sheet.bends)))
        root = sheet.root
        base = np.stack([root.along, root.away, root.face])
        for number, frame in enumerate(pose.panels):
            real = self._middle(self.frames[number])
            origin = root.origin + frame.origin @ base
            off = float(np.linalg.norm(origin - real.origin))
            tilt = float(np.linalg.norm(frame.face @ base - real.face))
            if off > 0.05 or tilt > 0.004:
                raise CadRefused(
                    f"folded again, panel {number + 1} of {self.body.name!r} lies {off:.2f} mm and "
                    f"{math.degrees(tilt):.2f}° from where the "
                    f"file has it, at {place_text(real.origin)}; its bends are not plain cylinders"
                )


def _corners(panel: Panel) -> list[Point]:
    return [p for face in panel.faces for outline in (face.outer, *face.holes) for p in outline.points]
