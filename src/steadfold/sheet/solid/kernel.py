"""From matched pieces to one solid of the geometry kernel, written down face by face.

Every edge is made once and used by the two faces beside it, so the shell closes by construction and nothing
is searched for in space. Surfaces are exact: planes, and cylinders for bends and round holes; only the walls
of cutouts that cross a bend are ruled between splines.

Heights run from -t/2 to t/2 over the middle surface; the *upper* skin looks at the viewer of the face. Loops
have the metal on their left, so a wall looks to the right of its run.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from OCP.BRep import BRep_Builder
from OCP.Geom import Geom_Circle, Geom_Curve, Geom_CylindricalSurface, Geom_Line, Geom_Plane, Geom_Surface
from OCP.Geom2d import Geom2d_Curve, Geom2d_Line
from OCP.gp import gp_Ax2, gp_Ax3, gp_Dir2d, gp_Pnt2d
from OCP.TopAbs import TopAbs_FORWARD, TopAbs_REVERSED
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Shell, TopoDS_Solid, TopoDS_Vertex, TopoDS_Wire

from steadfold.sheet.outline import Point, arc_of
from steadfold.sheet.solid.curves import TOLERANCE_MM, Roll, Way, direction, ends_of, pnt, way_of
from steadfold.sheet.solid.pieces import MATCH_MM, Piece, Pieces, Round, Run, SolidError

SHARP_MM = 1e-6
"""A skin of a bend with a smaller radius is no surface: the skins of its two panels meet in an edge."""

_Use = tuple[TopoDS_Edge, bool]
"""An edge, and whether the wire runs along it or against it."""


def kernel_solid(pieces: Pieces) -> TopoDS_Solid:
    """One closed solid; its faces look outward; `SolidError` where a bend of inside radius 0 is cut into."""
    return _Maker(pieces).solid()


@dataclass
class _Corner:
    """A vertex, where it is, and how far what meets there strays from it."""

    vertex: TopoDS_Vertex
    point: np.ndarray
    stray_mm: float = 0.0


@dataclass
class _Draft:
    """A face being made: its wires as seen from outside, and each edge's drawing in the surface's parameters.

    `outward` is whether the surface's own normal looks out of the metal. `closing` is the edge where a full
    cylinder closes on itself, with its drawings at the end and at the start.
    """

    surface: Geom_Surface
    outward: bool
    wires: list[list[_Use]] = field(default_factory=list)
    plans: list[tuple[TopoDS_Edge, Geom2d_Curve]] = field(default_factory=list)
    closing: tuple[TopoDS_Edge, Geom2d_Curve, Geom2d_Curve] | None = None


class _Maker:
    """Makes the faces of one solid; keeps the corners and edges made so far, so that each is made once."""

    def __init__(self, pieces: Pieces):
        self.pieces = pieces
        self.half = 0.5 * pieces.thickness_mm
        self.builder = BRep_Builder()
        self.shell = TopoDS_Shell()
        self.builder.MakeShell(self.shell)
        self.corners: dict[tuple[int, bool], _Corner] = {}
        self.posts: dict[int, TopoDS_Edge] = {}
        self.edges: dict[tuple[int, bool], TopoDS_Edge] = {}
        self.seams: dict[tuple[int, bool], TopoDS_Edge] = {}
        self.same_corner: dict[tuple[int, bool], int] = {}
        self.same_seam: dict[tuple[int, bool], int] = {}
        self.ways: dict[Run, Way] = {}
        self.round_edges: dict[tuple[Round, bool], TopoDS_Edge] = {}

    def solid(self) -> TopoDS_Solid:
        """The solid of all pieces."""
        for piece in self.pieces.pieces:
            self._note_sharp_bend(piece)
        for piece in self.pieces.pieces:
            self._piece(piece)
        for corner in self.corners.values():
            if corner.stray_mm > 0.5 * TOLERANCE_MM:
                self.builder.UpdateVertex(corner.vertex, 2 * corner.stray_mm)
        self.shell.Closed(True)
        solid = TopoDS_Solid()
        self.builder.MakeSolid(solid)
        self.builder.Add(solid, self.shell)
        return solid

    def _height(self, upper: bool) -> float:
        return self.half if upper else -self.half

    def _piece(self, piece: Piece) -> None:
        roll = Roll.of(piece)
        self.ways.clear()
        self.round_edges.clear()
        for upper in (False, True):
            if not self._vanishes(roll, upper):
                self._face(self._skin(piece, roll, upper))
        for loop in piece.loops:
            if isinstance(loop, Round):
                self._face(self._round_wall(piece, loop))
            else:
                for run in loop:
                    if run.seam is None:
                        self._face(self._wall(piece, roll, run))

    # Skins

    def _vanishes(self, roll: Roll | None, upper: bool) -> bool:
        return roll is not None and roll.skin_radius(self._height(upper)) < SHARP_MM

    def _skin(self, piece: Piece, roll: Roll | None, upper: bool) -> _Draft:
        height = self._height(upper)
        if roll is None:
            frame = piece.frame
            normal = frame.face if upper else -frame.face
            place = gp_Ax3(pnt(frame.origin + height * frame.face), direction(normal), direction(frame.along))
            draft = _Draft(Geom_Plane(place), True)
        else:
            draft = _Draft(roll.cylinder(height), (roll.sign < 0) == upper)
        for loop in piece.loops:
            uses: list[_Use] = []
            if isinstance(loop, Round):
                uses = [(self._round_edge(piece, loop, upper), True)]
            else:
                for run in loop:
                    edge, ahead = self._edge(piece, run, upper)
                    uses.append((edge, ahead))
                    if roll is not None:
                        plan = self._way(piece, run if ahead else run.turned_about()).plan
                        assert plan is not None
                        draft.plans.append((edge, plan))
            draft.wires.append(uses if upper else [(edge, not ahead) for edge, ahead in reversed(uses)])
        return draft

    def _way(self, piece: Piece, run: Run) -> Way:
        way = self.ways.get(run)
        if way is None:
            way = self.ways[run] = way_of(piece, run, self.half)
        return way

    # Walls

    def _wall(self, piece: Piece, roll: Roll | None, run: Run) -> _Draft:
        """The side wall of a run: along its lower edge, up the post at its end, back along the upper edge."""
        way = self._way(piece, run)
        start = self._post(piece, run.start_corner, run.start)
        end = self._post(piece, run.end_corner, run.end)
        lower, upper = (
            None if self._vanishes(roll, high) else self._edge(piece, run, high)[0] for high in (False, True)
        )
        uses = [(lower, True), (end, True), (upper, False), (start, False)]
        draft = _Draft(Geom_Plane(gp_Ax3()), True, [[use for use in uses if use[0] is not None]])
        if way.kind == "arc":
            self._draw_arc_wall(draft, piece, run, way, (lower, upper, start, end))
        elif way.wall is not None:
            draft.surface = way.wall
            self._draw(draft, way, (0.0, 2 * self.half), (lower, upper, start, end))
        else:
            low, high = (ends_of(piece, run, h) for h in (-self.half, self.half))
            up = high[0] - low[0]
            if way.kind == "across":
                normal = piece.frame.along if run.end[1] > run.start[1] else -piece.frame.along
            else:
                normal = np.cross(low[1] - low[0], up)
            draft.surface = Geom_Plane(gp_Ax3(pnt(low[0]), direction(normal), direction(up)))
        return draft

    def _draw_arc_wall(self, draft: _Draft, piece: Piece, run: Run, way: Way, edges: tuple[TopoDS_Edge, ...]) -> None:
        centre, radius, angle, turn = arc_of(run.start, run.end, run.bulge)
        draft.surface, heights = self._arc_cylinder(piece, centre, radius, angle, turn > 0)
        draft.outward = turn > 0
        self._draw(draft, way, heights, edges)

    def _arc_cylinder(
        self, piece: Piece, centre: Point, radius_mm: float, angle: float, anticlockwise: bool
    ) -> tuple[Geom_CylindricalSurface, tuple[float, float]]:
        """The cylinder of an arc in a panel, its angle from `angle` on the way the arc runs; and where along
        its axis the two skins cut it."""
        frame, sign = piece.frame, 1.0 if anticlockwise else -1.0
        from_centre = math.cos(angle) * frame.along + math.sin(angle) * frame.away
        place = gp_Ax3(pnt(frame.points(np.array([centre]))[0]), direction(sign * frame.face), direction(from_centre))
        return Geom_CylindricalSurface(place, radius_mm), (-sign * self.half, sign * self.half)

    def _draw(self, draft: _Draft, way: Way, heights: tuple[float, float], edges: tuple[TopoDS_Edge, ...]) -> None:
        """What a wall's edges and posts are in the parameters of its surface, ruled between two heights."""
        lower, upper, start, end = edges
        along, up = gp_Dir2d(1.0, 0.0), gp_Dir2d(0.0, math.copysign(1.0, heights[1]))
        draft.plans += [
            (lower, Geom2d_Line(gp_Pnt2d(0.0, heights[0]), along)),
            (upper, Geom2d_Line(gp_Pnt2d(0.0, heights[1]), along)),
            (start, Geom2d_Line(gp_Pnt2d(way.first, heights[0]), up)),
            (end, Geom2d_Line(gp_Pnt2d(way.last, heights[0]), up)),
        ]

    # Full circles

    def _round_edge(self, piece: Piece, loop: Round, upper: bool) -> TopoDS_Edge:
        found = self.round_edges.get((loop, upper))
        if found is None:
            frame = piece.frame
            axis = frame.face if loop.anticlockwise else -frame.face
            centre = frame.points(np.array([loop.centre]), self._height(upper))[0]
            curve = Geom_Circle(gp_Ax2(pnt(centre), direction(axis), direction(frame.along)), loop.radius_mm)
            vertex = self._vertex(centre + loop.radius_mm * frame.along)
            found = self.round_edges[loop, upper] = self._made_edge(curve, 0.0, 2 * math.pi, vertex, vertex)
        return found

    def _round_wall(self, piece: Piece, loop: Round) -> _Draft:
        surface, heights = self._arc_cylinder(piece, loop.centre, loop.radius_mm, 0.0, loop.anticlockwise)
        lower, upper = (self._round_edge(piece, loop, high) for high in (False, True))
        x, y = loop.centre
        rim = np.array([(x + loop.radius_mm, y)])
        foot, head = (piece.frame.points(rim, self._height(high))[0] for high in (False, True))
        line = Geom_Line(pnt(foot), direction(head - foot))
        ends = (TopExp.FirstVertex_s(lower), TopExp.FirstVertex_s(upper))
        post = self._made_edge(line, 0.0, 2 * self.half, *ends)
        uses = [(lower, True), (post, True), (upper, False), (post, False)]
        draft = _Draft(surface, loop.anticlockwise, [uses])
        along, up = gp_Dir2d(1.0, 0.0), gp_Dir2d(0.0, math.copysign(1.0, heights[1]))
        draft.plans += [
            (lower, Geom2d_Line(gp_Pnt2d(0.0, heights[0]), along)),
            (upper, Geom2d_Line(gp_Pnt2d(0.0, heights[1]), along)),
        ]
        at_start = Geom2d_Line(gp_Pnt2d(0.0, heights[0]), up)
        at_end = Geom2d_Line(gp_Pnt2d(2 * math.pi, heights[0]), up)
        draft.closing = (post, at_end, at_start) if draft.outward else (post, at_start, at_end)
        return draft

    # Corners and edges

    def _corner(self, piece: Piece, number: int, at: Point, upper: bool) -> _Corner:
        while (number, upper) in self.same_corner:
            number = self.same_corner[number, upper]
        point = piece.points(np.array([at[0]]), np.array([at[1]]), self._height(upper))[0]
        corner = self.corners.get((number, upper))
        if corner is None:
            corner = self.corners[number, upper] = _Corner(self._vertex(point), point)
        corner.stray_mm = max(corner.stray_mm, float(np.linalg.norm(point - corner.point)))
        return corner

    def _vertex(self, point: np.ndarray) -> TopoDS_Vertex:
        vertex = TopoDS_Vertex()
        self.builder.MakeVertex(vertex, pnt(point), TOLERANCE_MM)
        return vertex

    def _made_edge(
        self, curve: Geom_Curve, first: float, last: float, start: TopoDS_Vertex, end: TopoDS_Vertex
    ) -> TopoDS_Edge:
        edge = TopoDS_Edge()
        self.builder.MakeEdge(edge, curve, TOLERANCE_MM)
        self.builder.Add(edge, start.Oriented(TopAbs_FORWARD))
        self.builder.Add(edge, end.Oriented(TopAbs_REVERSED))
        self.builder.Range(edge, first, last)
        return edge

    def _edge(self, piece: Piece, run: Run, upper: bool) -> _Use:
        """The edge of a run on one skin, and whether the run goes along it."""
        if run.seam is not None:
            return self._seam_edge(piece, run, upper)
        key = (run.start_corner, upper)
        edge = self.edges.get(key)
        if edge is None:
            edge = self.edges[key] = self._run_edge(piece, run, upper)
        return edge, True

    def _seam_edge(self, piece: Piece, run: Run, upper: bool) -> _Use:
        assert run.seam is not None
        seam = self.same_seam.get((run.seam, upper), run.seam)
        edge = self.seams.get((seam, upper))
        if edge is None:
            edge = self.seams[seam, upper] = self._run_edge(piece, run, upper)
            return edge, True
        start = self._corner(piece, run.start_corner, run.start, upper)
        end = self._corner(piece, run.end_corner, run.end, upper)
        stray = max(start.stray_mm, end.stray_mm)
        if stray > 0.5 * TOLERANCE_MM:
            self.builder.UpdateEdge(edge, 2 * stray)
        return edge, False

    def _run_edge(self, piece: Piece, run: Run, upper: bool) -> TopoDS_Edge:
        way = self._way(piece, run)
        start = self._corner(piece, run.start_corner, run.start, upper)
        end = self._corner(piece, run.end_corner, run.end, upper)
        curve = way.upper if upper else way.lower
        return self._made_edge(curve, way.first, way.last, start.vertex, end.vertex)

    def _post(self, piece: Piece, number: int, at: Point) -> TopoDS_Edge:
        post = self.posts.get(number)
        if post is None:
            foot, head = (self._corner(piece, number, at, upper) for upper in (False, True))
            along = head.point - foot.point
            line = Geom_Line(pnt(foot.point), direction(along))
            post = self._made_edge(line, 0.0, float(np.linalg.norm(along)), foot.vertex, head.vertex)
            self.posts[number] = post
        return post

    # Faces

    def _face(self, draft: _Draft) -> None:
        face = TopoDS_Face()
        self.builder.MakeFace(face, draft.surface, TOLERANCE_MM)
        for edge, plan in draft.plans:
            self.builder.UpdateEdge(edge, plan, face, TOLERANCE_MM)
        if draft.closing is not None:
            edge, along, against = draft.closing
            self.builder.UpdateEdge(edge, along, against, face, TOLERANCE_MM)
        for uses in draft.wires:
            wire = TopoDS_Wire()
            self.builder.MakeWire(wire)
            for edge, ahead in uses:
                self.builder.Add(wire, edge if ahead else edge.Reversed())
            wire.Closed(True)
            self.builder.Add(face, wire if draft.outward else wire.Reversed())
        self.builder.Add(self.shell, face if draft.outward else face.Reversed())

    # Bends without an inside radius

    def _note_sharp_bend(self, piece: Piece) -> None:
        """Where a skin of a bend has no radius, its tangent lines are one edge and their corners one each."""
        roll = Roll.of(piece)
        upper = next((high for high in (False, True) if self._vanishes(roll, high)), None)
        if roll is None or upper is None:
            return
        loop = piece.loops[0]
        assert not isinstance(loop, Round)
        seams = [run for run in loop if run.seam is not None]
        before = sorted((run for run in seams if run.end[0] > run.start[0]), key=_x)
        after = sorted((run for run in seams if run.end[0] < run.start[0]), key=_x)
        plain = len(seams) + 2 == len(loop) and len(piece.loops) == 1 and len(before) == len(after)
        plain = plain and not any(run.bulge for run in loop)
        if not plain or any(math.dist(_x(a), _x(b)) > MATCH_MM for a, b in zip(before, after, strict=True)):
            raise SolidError(
                f"{piece.name} has no inside radius and is cut into or ends askew: such a bend has no solid; "
                "give it an inside radius or keep cutouts off it"
            )
        for one, other in zip(before, after, strict=True):
            assert one.seam is not None and other.seam is not None
            self.same_seam[other.seam, upper] = one.seam
            self.same_corner[other.end_corner, upper] = one.start_corner
            self.same_corner[other.start_corner, upper] = one.end_corner


def _x(run: Run) -> Point:
    """Least and greatest x of a run."""
    return min(run.start[0], run.end[0]), max(run.start[0], run.end[0])
