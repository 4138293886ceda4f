"""From a STEP file to plain records, by the kernel. Only the child process imports this."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepGProp import BRepGProp
from OCP.collections import (
    Array1_double,
    DataMap_TCollection_AsciiString_TCollection_AsciiString,
    Sequence_TCollection_AsciiString,
    Sequence_TDF_Label,
)
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeMap
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_Shape, GeomAbs_SurfaceType
from OCP.gp import gp_Cone, gp_Cylinder, gp_Pln
from OCP.GProp import GProp_GProps
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.ShapeAnalysis import ShapeAnalysis_CanonicalRecognition
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_AsciiString, TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape
from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

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

MANY_FACES = 800
"""Above this the kernel does not mend the wires of faces, which takes the square of their number; whether they
close is checked here anyway."""

MILLIMETRES = {"millimetre": 1.0, "centimetre": 10.0, "metre": 1000.0, "inch": 25.4, "foot": 304.8}
MILLIMETRES |= {"millimeter": 1.0, "centimeter": 10.0, "meter": 1000.0, "mm": 1.0, "in": 25.4, "m": 1000.0}
MILLIMETRES |= {"cm": 10.0, "ft": 304.8, "micrometre": 1e-3}

_SURFACES: dict[object, SurfaceKind] = {
    GeomAbs_SurfaceType.GeomAbs_Plane: "plane",
    GeomAbs_SurfaceType.GeomAbs_Cylinder: "cylinder",
    GeomAbs_SurfaceType.GeomAbs_Cone: "cone",
    GeomAbs_SurfaceType.GeomAbs_Sphere: "sphere",
    GeomAbs_SurfaceType.GeomAbs_Torus: "torus",
}


@dataclass(frozen=True)
class Bodies:
    """The solids of a file, the units its header names, and shapes in it that are no solids, by name."""

    bodies: tuple[Body, ...]
    units: tuple[str, ...]
    left_out: tuple[str, ...]


def read_bodies(path: str, units: str | None = None, faces: int = 0) -> Bodies:
    """Every solid of a STEP file, each once however often it is placed, in mm.

    With `units` the numbers of the file are taken to be in that unit whatever its header says. `faces` is how
    many the file has, as far as known. Raises
    `CadRefused` when the kernel cannot read it, or when it holds no closed solid.
    """
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    if reader.ReadFile(path) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise CadRefused("the file is not a STEP file that can be read; export it again as STEP AP214 or AP242")
    found = tuple(_units_of(reader))
    scale = _scale(found, units)
    if faces > MANY_FACES:
        fixes = DataMap_TCollection_AsciiString_TCollection_AsciiString()
        fixes.Bind(TCollection_AsciiString("FixShape.FixFaceMode"), TCollection_AsciiString("0"))
        reader.SetShapeFixParameters(fixes)
    document = TDocStd_Document(TCollection_ExtendedString("steadfold"))
    if not reader.Transfer(document):
        raise CadRefused("the file is STEP but holds no shape; export the part itself, not a drawing or a sketch")
    solids, left_out = _solids(document)
    if not solids:
        what = f" (it holds {', '.join(sorted(set(left_out)))})" if left_out else ""
        raise CadRefused(f"the file holds no closed solid{what}; export the part as one closed solid, no face missing")
    return Bodies(tuple(_body(s.shape, s.name, s.count, scale) for s in solids), found, tuple(left_out))


def _units_of(reader: STEPCAFControl_Reader) -> list[str]:
    lengths, angles, solid_angles = (Sequence_TCollection_AsciiString() for _ in range(3))
    reader.ChangeReader().FileUnits(lengths, angles, solid_angles)
    return [lengths.Value(i + 1).ToCString().lower() for i in range(lengths.Length())]


def _scale(found: tuple[str, ...], wanted: str | None) -> float:
    if wanted is None:
        return 1.0
    if len(set(found)) != 1 or found[0] not in MILLIMETRES:
        named = ", ".join(sorted(set(found))) or "none"
        raise CadRefused(f"the unit cannot be overruled, because the file does not name exactly one ({named})")
    return MILLIMETRES[wanted] / MILLIMETRES[found[0]]


@dataclass(frozen=True)
class _Solid:
    shape: TopoDS_Shape
    name: str
    count: int


def _solids(document: TDocStd_Document) -> tuple[list[_Solid], list[str]]:
    """Solids by name, each product once, counting how often assemblies place it."""
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    roots = Sequence_TDF_Label()
    tool.GetFreeShapes(roots)
    order: list[TDF_Label] = []
    counts: list[int] = []
    waiting = [roots.Value(i + 1) for i in range(roots.Length())]
    visits = 0
    while waiting:
        label = waiting.pop(0)
        visits += 1
        if visits > 20_000:
            raise CadRefused("the file is an assembly of more than 20,000 pieces; export the sheet part alone")
        if XCAFDoc_ShapeTool.IsAssembly_s(label):
            parts = Sequence_TDF_Label()
            XCAFDoc_ShapeTool.GetComponents_s(label, parts)
            for i in range(parts.Length()):
                target = TDF_Label()
                if XCAFDoc_ShapeTool.GetReferredShape_s(parts.Value(i + 1), target):
                    waiting.append(target)
            continue
        for i, known in enumerate(order):
            if known.IsEqual(label):
                counts[i] += 1
                break
        else:
            order.append(label)
            counts.append(1)
    solids: list[_Solid] = []
    left_out: list[str] = []
    for label, count in zip(order, counts, strict=True):
        shape = XCAFDoc_ShapeTool.GetShape_s(label)
        if shape is None or shape.IsNull():
            continue
        pieces = _explored(shape, TopAbs_ShapeEnum.TopAbs_SOLID)
        name = _name(label)
        if not pieces:
            left_out.append("open surfaces" if _explored(shape, TopAbs_ShapeEnum.TopAbs_FACE) else "curves")
        for number, piece in enumerate(pieces, start=1):
            own = name or f"solid {len(solids) + 1}"
            solids.append(_Solid(piece, own if len(pieces) == 1 else f"{own} {number}", count))
    return solids, left_out


def _name(label: TDF_Label) -> str:
    name = TDataStd_Name()
    if not label.FindAttribute(TDataStd_Name.GetID_s(), name):
        return ""
    text = "".join(c for c in str(name.Get().ToExtString()) if c.isprintable()).strip()
    return text[:80]


def _explored(shape: TopoDS_Shape, kind: TopAbs_ShapeEnum) -> list[TopoDS_Shape]:
    found = []
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def _body(solid: TopoDS_Shape, name: str, count: int, scale: float) -> Body:
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
        for shape in _explored(solid, TopAbs_ShapeEnum.TopAbs_FACE)
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
    for piece in _explored(face, TopAbs_ShapeEnum.TopAbs_EDGE):
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
    from OCP.gp import gp_Pnt, gp_Vec

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
