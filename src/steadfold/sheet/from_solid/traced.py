"""One solid of the kernel traced into plain records: corners, edges, faces. Only the child process imports this."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepGProp import BRepGProp
from OCP.collections import Array1_double
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeMap
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_Shape, GeomAbs_SurfaceType
from OCP.gp import gp_Cone, gp_Cylinder, gp_Pln, gp_Pnt, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.ShapeAnalysis import ShapeAnalysis_CanonicalRecognition
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.body import Body, Edge, SolidFace, SurfaceKind, Use, exact_volume, place_text

LOOSE_MM = 0.05
"""A corner or edge that the file leaves this far from its faces is not a drawn part any more."""
DISGUISE_MM = 1e-4
"""A spline surface or curve that strays less than this from a plane, cylinder, line or arc is one."""
ROUGH_MM = 0.02
"""The same in a file that is itself rounded to about this."""
POINTS_A_PIECE = 24
"""Sample points on each smooth piece of a curve that is neither line nor arc."""
_SURFACES: dict[object, SurfaceKind] = {
    GeomAbs_SurfaceType.GeomAbs_Plane: "plane",
    GeomAbs_SurfaceType.GeomAbs_Cylinder: "cylinder",
    GeomAbs_SurfaceType.GeomAbs_Cone: "cone",
    GeomAbs_SurfaceType.GeomAbs_Sphere: "sphere",
    GeomAbs_SurfaceType.GeomAbs_Torus: "torus",
}


def explored(shape: TopoDS_Shape, kind: TopAbs_ShapeEnum) -> list[TopoDS_Shape]:
    """Every piece of one kind in a shape, as often as it is used."""
    found = []
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def traced_body(solid: TopoDS_Shape, name: str, count: int, scale: float) -> Body:
    """A solid as a body, its numbers times `scale`. Raises `CadRefused` when it is open, loose or inside out."""
    corners, edges, faces = ShapeMap(), ShapeMap(), ShapeMap()
    TopExp.MapShapes_s(solid, TopAbs_ShapeEnum.TopAbs_VERTEX, corners)
    TopExp.MapShapes_s(solid, TopAbs_ShapeEnum.TopAbs_EDGE, edges)
    TopExp.MapShapes_s(solid, TopAbs_ShapeEnum.TopAbs_FACE, faces)
    places = np.empty((corners.Extent(), 3))
    loose, where = 0.0, np.zeros(3)
    for i in range(corners.Extent()):
        vertex = TopoDS.Vertex(corners.FindKey(i + 1))
        point = BRep_Tool.Pnt_s(vertex)
        places[i] = point.X(), point.Y(), point.Z()
        if BRep_Tool.Tolerance_s(vertex) > loose:
            loose, where = BRep_Tool.Tolerance_s(vertex), places[i]
    disguise = ROUGH_MM if loose > 1e-3 else DISGUISE_MM
    records: list[Edge | None] = []
    for i in range(edges.Extent()):
        edge = TopoDS.Edge(edges.FindKey(i + 1))
        record = None if BRep_Tool.Degenerated_s(edge) else _edge(edge, corners, name, disguise)
        if record is not None and BRep_Tool.Tolerance_s(edge) > loose:
            loose, where = BRep_Tool.Tolerance_s(edge), record.points[len(record.points) // 2]
        records.append(record)
    if loose * scale > LOOSE_MM:
        raise CadRefused(
            f"the solid {name!r} does not fit together at {place_text(where * scale)}: an edge or corner "
            f"lies {loose * scale:.2f} mm "
            f"from its faces; repair it in the program it was drawn in (at most {LOOSE_MM} mm)"
        )
    renumbered = {i: n for n, i in enumerate(i for i, r in enumerate(records) if r is not None)}
    sides = [
        _face(TopoDS.Face(shape), edges, renumbered, disguise)
        for shape in explored(solid, TopAbs_ShapeEnum.TopAbs_FACE)
    ]
    kept = tuple(r for r in records if r is not None)
    _check_closed(name, kept, sides, scale)
    volume = _volume(solid, kept, sides)
    if not np.isfinite(volume) or volume <= 0:
        raise CadRefused(f"the solid {name!r} has no volume or is inside out; export it again as one closed solid")
    body = Body(name, count, places, kept, tuple(sides), volume, loose)
    return body if scale == 1.0 else _scaled(body, scale)


def _volume(solid: TopoDS_Shape, edges: tuple[Edge, ...], faces: list[SolidFace]) -> float:
    """Volume of a closed solid: in closed form where it can be, else by the kernel with an error bound.

    The kernel's integral over a plane with a thousand holes takes the square of their number.
    """
    exact = exact_volume(edges, faces)
    if exact is not None:
        return exact
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, properties, 1e-7)
    return float(properties.Mass())


def _check_closed(name: str, edges: tuple[Edge, ...], faces: list[SolidFace], scale: float) -> None:
    balance = np.zeros((len(edges), 2), dtype=int)
    for face in faces:
        for use in face.uses:
            balance[use.edge, 0 if use.forward else 1] += 1
    wrong = np.flatnonzero((balance[:, 0] != 1) | (balance[:, 1] != 1))
    if len(wrong):
        edge = edges[wrong[0]]
        sums = balance[wrong].sum(axis=1)
        what = "a face is missing" if (sums < 2).any() else "faces meet wrongly"
        raise CadRefused(
            f"the solid {name!r} is not closed: {what} at "
            f"{place_text(edge.points[len(edge.points) // 2] * scale)}; "
            "export it again as one closed solid"
        )


def _edge(edge: TopoDS_Edge, corners: ShapeMap, name: str, disguise: float) -> Edge:
    edge = TopoDS.Edge(edge.Oriented(TopAbs_Orientation.TopAbs_FORWARD))
    first, last = TopExp.FirstVertex_s(edge), TopExp.LastVertex_s(edge)
    if first.IsNull() or last.IsNull():
        raise CadRefused(f"the solid {name!r} has an edge without ends; export it again as one closed solid")
    start, end = corners.FindIndex(first) - 1, corners.FindIndex(last) - 1
    curve = BRepAdaptor_Curve(edge)
    kind = curve.GetType()
    t0, t1 = curve.FirstParameter(), curve.LastParameter()
    if kind == GeomAbs_CurveType.GeomAbs_Line:
        return Edge("line", _points(curve, [t0, t1]), start, end)
    if kind == GeomAbs_CurveType.GeomAbs_Circle:
        circle = curve.Circle()
        centre, axis = circle.Location(), circle.Axis().Direction()
        return Edge(
            "circle",
            _points(curve, [t0, 0.5 * (t0 + t1), t1]),
            start,
            end,
            np.array([centre.X(), centre.Y(), centre.Z()]),
            np.array([axis.X(), axis.Y(), axis.Z()]),
            circle.Radius(),
        )
    points = _points(curve, _parameters(curve, t0, t1))
    return _undisguised(points, start, end, disguise)


def _parameters(curve: BRepAdaptor_Curve, t0: float, t1: float) -> list[float]:
    pieces = min(curve.NbIntervals(GeomAbs_Shape.GeomAbs_C2), 400)
    knots = [t0, t1]
    if pieces > 1:
        array = Array1_double(1, pieces + 1)
        curve.Intervals(array, GeomAbs_Shape.GeomAbs_C2)
        knots = [array.Value(i + 1) for i in range(pieces + 1)]
        knots = [t0, *[k for k in knots if t0 < k < t1], t1]
    each = POINTS_A_PIECE if len(knots) > 4 else 3 * POINTS_A_PIECE
    steps = [np.linspace(a, b, each, endpoint=False) for a, b in itertools.pairwise(knots)]
    return [*np.concatenate(steps).tolist(), t1]


def _points(curve: BRepAdaptor_Curve, parameters: list[float]) -> np.ndarray:
    found = np.empty((len(parameters), 3))
    for i, parameter in enumerate(parameters):
        point = curve.Value(parameter)
        found[i] = point.X(), point.Y(), point.Z()
    return found


def _undisguised(points: np.ndarray, start: int, end: int, disguise: float) -> Edge:
    """A sampled curve as the line or arc it is, where it is one."""
    chord = points[-1] - points[0]
    length = float(np.linalg.norm(chord))
    if length > 1e-9:
        off = np.cross(points - points[0], chord / length)
        if float(np.abs(off).max()) < disguise * 0.1:
            return Edge("line", points[[0, -1]], start, end)
    third = points[len(points) // 3] - points[0]
    other = points[2 * len(points) // 3] - points[0]
    normal = np.cross(third, other)
    size = float(np.linalg.norm(normal))
    if size > 1e-9:
        axis = normal / size
        centre = points[0] + (
            np.cross(axis, third) * float(other @ other) - np.cross(axis, other) * float(third @ third)
        ) / (-2 * size)
        radius = float(np.linalg.norm(points[0] - centre))
        spread = np.linalg.norm(points - centre, axis=1) - radius
        height = (points - centre) @ axis
        if max(float(np.abs(spread).max()), float(np.abs(height).max())) < disguise * 0.1:
            zero = points[0] - centre
            turned = 0.5 * float(np.unwrap(_angles(points - centre, zero, axis))[-1])
            half = centre + np.cos(turned) * zero + np.sin(turned) * np.cross(axis, zero)
            return Edge("circle", np.array([points[0], half, points[-1]]), start, end, centre, axis, radius)
    return Edge("free", points, start, end)


def _angles(points: np.ndarray, zero: np.ndarray, axis: np.ndarray) -> np.ndarray:
    zero = zero / np.linalg.norm(zero)
    other = np.cross(axis, zero)
    return np.arctan2(points @ other, points @ zero)


def _face(face: TopoDS_Face, edges: ShapeMap, renumbered: dict[int, int], disguise: float) -> SolidFace:
    reversed_ = face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
    uses = []
    for piece in explored(face, TopAbs_ShapeEnum.TopAbs_EDGE):
        index = renumbered.get(edges.FindIndex(piece) - 1)
        if index is not None:
            uses.append(Use(index, piece.Orientation() == TopAbs_Orientation.TopAbs_FORWARD))
    surface = BRepAdaptor_Surface(face)
    kind = _SURFACES.get(surface.GetType(), "free")
    shape: gp_Pln | gp_Cylinder | gp_Cone | None = None
    if kind == "plane":
        shape = surface.Plane()
    elif kind == "cylinder":
        shape = surface.Cylinder()
    elif kind == "cone":
        shape = surface.Cone()
    elif kind == "free":
        kind, shape = _canonical(face, disguise)
    origin, axis = np.zeros(3), np.array([0.0, 0.0, 1.0])
    radius, half_angle, bulges = 0.0, 0.0, False
    if shape is not None:
        position = shape.Position()
        at, along = position.Location(), position.Direction()
        origin = np.array([at.X(), at.Y(), at.Z()])
        axis = np.array([along.X(), along.Y(), along.Z()])
        if kind == "plane":
            axis = axis * _outward(surface, axis, reversed_)
        else:
            radius = shape.Radius() if kind == "cylinder" else shape.RefRadius()
            half_angle = 0.0 if kind == "cylinder" else shape.SemiAngle()
            bulges = _outward(surface, None, reversed_, origin, axis) > 0
    area, middle = 0.0, _middle(surface)
    if kind not in ("plane", "cylinder"):
        properties = GProp_GProps()
        BRepGProp.SurfaceProperties_s(face, properties)
        area = properties.Mass()
        centre = properties.CentreOfMass()
        middle = (centre.X(), centre.Y(), centre.Z())
    return SolidFace(kind, origin, axis, tuple(uses), radius, bulges, half_angle, area, middle)


def _middle(surface: BRepAdaptor_Surface) -> tuple[float, float, float]:
    u = 0.5 * (surface.FirstUParameter() + surface.LastUParameter())
    v = 0.5 * (surface.FirstVParameter() + surface.LastVParameter())
    if not (abs(u) < 1e50 and abs(v) < 1e50):
        return 0.0, 0.0, 0.0
    point = surface.Value(u, v)
    return point.X(), point.Y(), point.Z()


def _outward(
    surface: BRepAdaptor_Surface,
    normal: np.ndarray | None,
    reversed_: bool,
    origin: np.ndarray | None = None,
    axis: np.ndarray | None = None,
) -> float:
    """+1 where the outward normal runs with the given normal, or away from the given axis; else -1."""
    u = 0.5 * (surface.FirstUParameter() + surface.LastUParameter())
    v = 0.5 * (surface.FirstVParameter() + surface.LastVParameter())
    point, along_u, along_v = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(u, v, point, along_u, along_v)
    natural = along_u.Crossed(along_v)
    own = np.array([natural.X(), natural.Y(), natural.Z()])
    if normal is None:
        assert origin is not None and axis is not None
        out = np.array([point.X(), point.Y(), point.Z()]) - origin
        normal = out - (out @ axis) * axis
    sign = 1.0 if float(own @ normal) > 0 else -1.0
    return -sign if reversed_ else sign


def _canonical(face: TopoDS_Face, disguise: float) -> tuple[SurfaceKind, gp_Pln | gp_Cylinder | gp_Cone | None]:
    """What a spline, swept or offset surface really is, within a tolerance far below any shop's."""
    recognition = ShapeAnalysis_CanonicalRecognition(face)
    plane, cylinder, cone = gp_Pln(), gp_Cylinder(), gp_Cone()
    if recognition.IsPlane(disguise, plane):
        return "plane", plane
    if recognition.IsCylinder(disguise, cylinder):
        return "cylinder", cylinder
    if recognition.IsCone(disguise, cone):
        return "cone", cone
    return "free", None


def _scaled(body: Body, scale: float) -> Body:
    edges = tuple(
        replace(
            e,
            points=e.points * scale,
            radius_mm=e.radius_mm * scale,
            centre=None if e.centre is None else e.centre * scale,
        )
        for e in body.edges
    )
    faces = tuple(
        replace(
            f,
            origin=f.origin * scale,
            radius_mm=f.radius_mm * scale,
            area_mm2=f.area_mm2 * scale**2,
            middle=(f.middle[0] * scale, f.middle[1] * scale, f.middle[2] * scale),
        )
        for f in body.faces
    )
    return replace(
        body,
        corners=body.corners * scale,
        edges=edges,
        faces=faces,
        volume_mm3=body.volume_mm3 * scale**3,
        tolerance_mm=body.tolerance_mm * scale,
    )
