"""Folded parts modelled directly with the solid kernel, each with the closed form of its flat.

None of them goes through the project's own panels: cross-sections are drawn as lines and arcs and swept, plates
and quarter rings are fused, boxes are rounded and hollowed, holes are cut with boxes, cylinders and cones. So
what the recogniser says is compared with the formulas `length = legs + a (r + K t)` (DIN 6935's developed
length) and `volume = legs t + a t (r + t/2)` (annular sectors), and with nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

K = 0.44


@dataclass(frozen=True)
class Case:
    """One part: how to make it and what must come out. Angles in degrees (absolute), lengths in mm."""

    name: str
    make: Callable[[], Any]
    thickness: float
    bends: tuple[tuple[float, float], ...]
    size: tuple[float, float] | None
    area: float
    volume: float
    panels: int
    schema: str = "AP214IS"
    unit: str = "MM"
    assumed_radius: float | None = None
    codes: tuple[str, ...] = ()
    holes: tuple[str, ...] = field(default=())
    sunk: float = 0.0


# ---- making shapes


def box(corner: Sequence[float], size: Sequence[float]) -> Any:
    """A box from its lowest corner."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
    from OCP.gp import gp_Pnt

    return BRepPrimAPI_MakeBox(gp_Pnt(*corner), *size).Shape()


def rod(foot: Sequence[float], axis: Sequence[float], radius: float, height: float) -> Any:
    """A cylinder."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    return BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(*foot), gp_Dir(*axis)), radius, height).Shape()


def frustum(foot: Sequence[float], axis: Sequence[float], r0: float, r1: float, height: float) -> Any:
    """A cone cut off at both ends."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    return BRepPrimAPI_MakeCone(gp_Ax2(gp_Pnt(*foot), gp_Dir(*axis)), r0, r1, height).Shape()


def fused(first: Any, *others: Any, unified: bool = True) -> Any:
    """The union; with coplanar pieces joined into one face, or left in pieces as some programs do."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    for other in others:
        first = BRepAlgoAPI_Fuse(first, other).Shape()
    if not unified:
        return first
    unify = ShapeUpgrade_UnifySameDomain(first, True, True, False)
    unify.Build()
    return unify.Shape()


def cut(first: Any, *others: Any) -> Any:
    """What is left of the first."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

    for other in others:
        first = BRepAlgoAPI_Cut(first, other).Shape()
    return first


def moved(shape: Any, turn_deg: float, axis: Sequence[float], shift: Sequence[float]) -> Any:
    """A shape in another pose."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec

    turn, slide = gp_Trsf(), gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*axis)), math.radians(turn_deg))
    slide.SetTranslation(gp_Vec(*shift))
    return BRepBuilderAPI_Transform(shape, slide.Multiplied(turn), True).Shape()


def mirrored(shape: Any) -> Any:
    """A shape in the mirror of the plane x = 0."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf

    mirror = gp_Trsf()
    mirror.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0)))
    return BRepBuilderAPI_Transform(shape, mirror, True).Shape()


def as_splines(shape: Any) -> Any:
    """The same shape with every surface and curve written as a rational spline."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return BRepBuilderAPI_NurbsConvert(shape, True).Shape()


def section(t: float, legs: Sequence[float], bends: Sequence[tuple[float, float]], width: float) -> Any:
    """A strip of sheet swept along y: straight legs in the xz plane, and between them bends (signed degrees,
    inside radius). The first leg runs along +x on z = 0 to t; positive angles turn up."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.GC import GC_MakeArcOfCircle
    from OCP.gp import gp_Pnt, gp_Vec

    x, z, heading = 0.0, 0.0, 0.0
    lower: list[tuple[tuple[float, float], ...]] = []
    upper: list[tuple[tuple[float, float], ...]] = []

    def offset(px: float, pz: float, angle: float, height: float) -> tuple[float, float]:
        return (px - math.sin(angle) * height, pz + math.cos(angle) * height)

    for i, leg in enumerate(legs):
        if leg > 0:
            nx, nz = x + leg * math.cos(heading), z + leg * math.sin(heading)
            lower.append((offset(x, z, heading, 0), offset(nx, nz, heading, 0)))
            upper.append((offset(x, z, heading, t), offset(nx, nz, heading, t)))
            x, z = nx, nz
        if i == len(bends):
            break
        degrees, radius = bends[i]
        turn = math.radians(degrees)
        height = t + radius if degrees > 0 else -radius
        cx, cz = offset(x, z, heading, height)
        points = []
        for share in (0.0, 0.5, 1.0):
            h = heading + turn * share
            points.append((offset(cx, cz, h, -height), offset(cx, cz, h, t - height)))
        lower.append(tuple(p[0] for p in points))
        upper.append(tuple(p[1] for p in points))
        heading += turn
        x, z = points[-1][0]

    def edge(run: tuple[tuple[float, float], ...]) -> Any:
        at = [gp_Pnt(px, 0.0, pz) for px, pz in run]
        if len(run) == 2:
            return BRepBuilderAPI_MakeEdge(at[0], at[1]).Edge()
        return BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(at[0], at[1], at[2]).Value()).Edge()

    runs = [*lower, (lower[-1][-1], upper[-1][-1]), *[r[::-1] for r in upper[::-1]], (upper[0][0], lower[0][0])]
    wire = BRepBuilderAPI_MakeWire()
    for run in runs:
        if math.dist(run[0], run[-1]) > 1e-9:
            wire.Add(edge(run))
    face = BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(0, width, 0)).Shape()


def write(shapes: Sequence[tuple[str, Any]], path: Path, schema: str = "AP214IS", unit: str = "MM") -> Path:
    """A STEP file with shapes by name."""
    from OCP.Interface import Interface_Static
    from OCP.Message import Message
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    Message.DefaultMessenger_s().ChangePrinters().Clear()
    document = TDocStd_Document(TCollection_ExtendedString("corpus"))
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    for name, shape in shapes:
        TDataStd_Name.Set_s(tool.AddShape(shape, False), TCollection_ExtendedString(name))
    writer = STEPCAFControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", schema)
    Interface_Static.SetCVal_s("write.step.unit", unit)
    writer.Transfer(document)
    writer.Write(str(path))
    return path


# ---- closed forms


def length(legs: Sequence[float], bends: Sequence[tuple[float, float]], t: float, k: float = K) -> float:
    """Developed length of a section."""
    return sum(legs) + sum(abs(math.radians(a)) * (r + k * t) for a, r in bends)


def swept(
    name: str, t: float, legs: Sequence[float], bends: Sequence[tuple[float, float]], width: float, **more: Any
) -> Case:
    """A plain swept section as a case."""
    change = more.pop("change", lambda shape: shape)
    cut_area = more.pop("cut_area", 0.0)
    sunk = more.pop("sunk", 0.0)
    panels = more.pop("panels", len(legs))
    flat = length(legs, bends, t)
    cut_volume = more.pop("cut_volume", cut_area * t)
    volume = width * t * length(legs, bends, t, 0.5) - cut_volume - sunk
    return Case(
        name,
        lambda: change(section(t, legs, bends, width)),
        t,
        tuple((abs(a), r) for a, r in bends),
        (flat, width),
        flat * width - cut_area,
        volume,
        panels,
        sunk=sunk,
        **more,
    )


def flange(t: float, r: float, wide: float, h: float) -> Any:
    """A quarter ring and a plate: hangs on the edge y = 0 of a plate that lies on z = 0 to t at y > 0, and rises
    to z = h; its width runs along x."""
    s = r + t
    ring = cut(rod((0, 0, s), (1, 0, 0), s, wide), rod((0, 0, s), (1, 0, 0), r, wide))
    ahead = box((-1, 0, -1), (wide + 2, 2 * s, 3 * s + 2))
    above = box((-1, -2 * s, s), (wide + 2, 4 * s, 3 * s))
    return fused(cut(ring, ahead, above), box((0, -s, s), (wide, t, h - s)))


def tray(
    t: float, r: float, a: float, b: float, h: float, notch: float, rounded: bool = False, unified: bool = True
) -> Any:
    """A plate a × b with four flanges of height h (outside), corners notched: boxes and quarter rings fused."""
    s = r + t
    pieces = [box((s, s, 0), (a - 2 * s, b - 2 * s, t))]
    for side in range(4):
        wide = (b if side % 2 else a) - 2 * s - 2 * notch
        x, y = ((s + notch, s), (a - s, s + notch), (a - s - notch, b - s), (s, b - s - notch))[side]
        pieces.append(moved(flange(t, r, wide, h), 90 * side, (0, 0, 1), (x, y, 0)))
    whole = fused(pieces[0], *pieces[1:], unified=unified)
    if rounded:
        for x, y in ((s, s), (a - s, s), (a - s, b - s), (s, b - s)):
            whole = cut(whole, rod((x, y, -1), (0, 0, 1), notch, t + 2))
    return whole


def _tray_case(name: str, t: float, r: float, a: float, b: float, h: float, notch: float, **more: Any) -> Case:
    s = r + t
    rounded, unified = more.pop("rounded", False), more.pop("unified", True)
    quarter = math.pi / 2
    wide = (a - 2 * s - 2 * notch) * 2 + (b - 2 * s - 2 * notch) * 2
    plate = (a - 2 * s) * (b - 2 * s) - (4 * 0.25 * math.pi * notch**2 if rounded else 0.0)
    area = plate + wide * (quarter * (r + K * t) + h - s)
    volume = plate * t + wide * (quarter * t * (r + 0.5 * t) + (h - s) * t)
    reach = 2 * (quarter * (r + K * t) + h - s)
    return Case(
        name,
        lambda: tray(t, r, a, b, h, notch, rounded, unified),
        t,
        ((90.0, r),) * 4,
        (a - 2 * s + reach, b - 2 * s + reach),
        area,
        volume,
        5,
        **more,
    )


def hollowed(t: float, r: float, a: float, b: float, h: float) -> Any:
    """A U made the way a modeller hollows a block: two long edges rounded, then three sides opened."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
    from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
    from OCP.BRepOffset import BRepOffset_Mode
    from OCP.BRepOffsetAPI import BRepOffsetAPI_MakeThickSolid
    from OCP.collections import List_TopoDS_Shape
    from OCP.GeomAbs import GeomAbs_JoinType, GeomAbs_SurfaceType
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    block = box((0, 0, 0), (a, b, h))
    fillet = BRepFilletAPI_MakeFillet(block)
    explorer = TopExp_Explorer(block, TopAbs_ShapeEnum.TopAbs_EDGE)
    done = set()
    while explorer.More():
        edge = TopoDS.Edge(explorer.Current())
        curve = BRepAdaptor_Curve(edge)
        p, q = curve.Value(curve.FirstParameter()), curve.Value(curve.LastParameter())
        key = (round(p.X() + q.X(), 3), round(p.Y() + q.Y(), 3), round(p.Z() + q.Z(), 3))
        if abs(p.Z()) < 1e-9 and abs(q.Z()) < 1e-9 and abs(p.X() - q.X()) < 1e-9 and key not in done:
            done.add(key)
            fillet.Add(r + t, edge)
        explorer.Next()
    rounded = fillet.Shape()
    opened = List_TopoDS_Shape()
    explorer = TopExp_Explorer(rounded, TopAbs_ShapeEnum.TopAbs_FACE)
    while explorer.More():
        face = TopoDS.Face(explorer.Current())
        surface = BRepAdaptor_Surface(face)
        if surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Plane:
            axis, at = surface.Plane().Axis().Direction(), surface.Plane().Location()
            if abs(axis.Y()) > 0.9 or (abs(axis.Z()) > 0.9 and at.Z() > 0.5 * h):
                opened.Append(face)
        explorer.Next()
    shell = BRepOffsetAPI_MakeThickSolid()
    shell.MakeThickSolidByJoin(
        rounded, opened, -t, 1e-4, BRepOffset_Mode.BRepOffset_Skin, False, False, GeomAbs_JoinType.GeomAbs_Intersection
    )
    return shell.Shape()


def _rack() -> Any:
    """A back with five tines: each its own bend, gaps of 12 mm between them cut back past the tangent line."""
    whole = section(3.0, [80 - 6.5, 90 - 6.5], [(90, 3.5)], 5 * 20 + 4 * 12)
    for i in range(4):
        whole = cut(whole, box((80 - 6.5 - 2.0, 20 + 32 * i, -1), (100, 12, 200)))
    return whole


def _sharp_v(degrees: float, t: float) -> Any:
    """Two plates that meet in a sharp corner, 50 and 30 long on the inside."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Pnt, gp_Vec

    a = math.radians(degrees)
    out = t * math.tan(a / 2)
    along, up = (math.cos(a), math.sin(a)), (-math.sin(a), math.cos(a))
    far = (30 * along[0], 30 * along[1])
    corners = [(-50, 0), (-50, -t), (out, -t), (far[0] - t * up[0], far[1] - t * up[1]), far, (0, 0)]
    polygon = BRepBuilderAPI_MakePolygon()
    for x, z in corners:
        polygon.Add(gp_Pnt(x, 0, z))
    polygon.Close()
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(polygon.Wire(), True).Face(), gp_Vec(0, 40, 0)).Shape()


CASES: tuple[Case, ...] = (
    swept(
        "plate with holes",
        1.0,
        [120],
        [],
        60,
        change=lambda s: cut(
            s,
            rod((20, 20, -1), (0, 0, 1), 4.5, 5),
            rod((60, 30, -1), (0, 0, 1), 2.1, 5),
            box((80, 20, -1), (20, 10, 5)),
            fused(
                box((30, 40, -1), (20, 6, 5)), rod((30, 43, -1), (0, 0, 1), 3, 5), rod((50, 43, -1), (0, 0, 1), 3, 5)
            ),
        ),
        cut_area=math.pi * (4.5**2 + 2.1**2 + 9) + 200 + 120,
        holes=("obround", "rectangular", "round", "round"),
        codes=("tapped-size",),
    ),
    swept("L", 2.0, [50, 26], [(90, 2.0)], 100),
    swept("L in 6 mm", 6.0, [60, 45], [(90, 9.0)], 80),
    swept("U in an inch gauge", 1.27, [30, 80, 30], [(90, 1.27), (90, 1.27)], 150),
    swept("Z", 2.5, [40, 60, 30], [(90, 3.0), (-90, 3.0)], 70),
    swept("hat", 1.5, [20, 30, 50, 30, 20], [(-90, 1.5), (90, 2.0), (90, 2.0), (-90, 1.5)], 90),
    swept("lipped channel", 2.0, [12, 40, 80, 40, 12], [(90, 2), (90, 2), (90, 2), (90, 2)], 200),
    swept("15 degrees", 3.0, [60, 40], [(15, 3.0)], 50),
    swept("165 degrees", 1.0, [60, 20], [(165, 1.5)], 50),
    swept(
        "a chain of angles", 1.5, [30, 25, 20, 45, 25, 30], [(30, 2), (-45, 3), (60, 1.5), (-120, 2.5), (135, 4)], 40
    ),
    swept("150 degrees down", 2.0, [60, 25], [(-150, 3.0)], 50),
    swept("open hem", 1.0, [60, 9], [(180, 0.4)], 120),
    swept("teardrop hem", 1.0, [60, 6], [(205, 1.5)], 80),
    swept("joggle", 2.0, [50, 3.0, 60], [(40, 2.0), (-40, 2.0)], 45),
    swept("joggle of two bends that touch", 2.0, [50, 0.0, 60], [(40, 2.0), (-40, 2.0)], 45),
    swept("curl without an end", 1.0, [60, 0.0], [(120, 3.0)], 45),
    _tray_case("tray with square reliefs", 2.0, 2.0, 160, 100, 30, 3.0),
    _tray_case("tray with round reliefs", 1.5, 2.0, 140, 90, 25, 3.0, rounded=True),
    _tray_case("box of four flanges left in pieces", 1.0, 1.0, 80, 80, 40, 0.0, unified=False),
    swept(
        "hole across a bend",
        2.0,
        [50, 40],
        [(90, 3.0)],
        60,
        change=lambda s: cut(s, box((45, 20, -1), (20, 15, 20))),
        cut_area=15 * (5 + math.pi / 2 * (3 + K * 2) + 14),
        cut_volume=15 * 2 * (5 + math.pi / 2 * 4 + 14),
        holes=("rectangular",),
        codes=("cutout-across-bend",),
    ),
    swept(
        "hole near a bend",
        2.0,
        [50, 40],
        [(90, 3.0)],
        60,
        change=lambda s: cut(s, rod((45.7, 30, -1), (0, 0, 1), 4.0, 5), rod((52, 20, 12), (1, 0, 0), 3.3, 20)),
        cut_area=math.pi * (16 + 3.3**2),
        holes=("round", "round"),
    ),
    swept(
        "mirrored",
        2.0,
        [50, 26],
        [(90, 2.0)],
        100,
        cut_area=math.pi * 9,
        change=lambda s: mirrored(cut(s, rod((20, 20, -1), (0, 0, 1), 3.0, 5))),
        holes=("round",),
    ),
    swept(
        "in any pose",
        2.0,
        [30, 80, 30],
        [(90, 2), (-60, 3)],
        55,
        change=lambda s: moved(s, 37.3, (1, -2, 0.7), (1234.5, -77.7, 3.3)),
    ),
    swept("inch file", 25.4 / 16, [40, 30, 20], [(90, 25.4 / 16), (45, 25.4 / 8)], 25.4 * 3, unit="INCH"),
    swept("AP203", 1.0, [40, 30], [(90, 1.0)], 30, schema="AP203"),
    swept("AP242", 1.0, [40, 30], [(-75, 1.0)], 30, schema="AP242DIS"),
    swept(
        "countersunk",
        3.0,
        [60, 40],
        [(90, 3.0)],
        50,
        cut_area=2 * math.pi * 2.75**2,
        change=lambda s: cut(
            s,
            *(rod((x, 25, -1), (0, 0, 1), 2.75, 5) for x in (15, 40)),
            frustum((15, 25, 0), (0, 0, 1), 5.5, 2.75, 2.75),
            frustum((40, 25, 3), (0, 0, -1), 5.5, 2.75, 2.75),
        ),
        sunk=2 * (math.pi * 2.75 / 3 * (5.5**2 + 5.5 * 2.75 + 2.75**2) - math.pi * 2.75**2 * 2.75),
        holes=("round", "round"),
        codes=("countersunk-hole",),
    ),
    Case(
        "five tines",
        _rack,
        3.0,
        ((90.0, 3.5),) * 5,
        (148.0, length([73.5, 83.5], [(90, 3.5)], 3.0)),
        73.5 * 148 - 4 * 24 + 5 * 20 * (83.5 + math.pi / 2 * (3.5 + K * 3)),
        3 * (73.5 * 148 - 4 * 24 + 5 * 20 * (83.5 + math.pi / 2 * 5.0)),
        6,
    ),
    swept(
        "flange slit below its bend",
        2.0,
        [50, 40],
        [(90, 2.0)],
        100,
        cut_area=2 * 30,
        change=lambda s: cut(s, box((50, 49, 14), (10, 2, 100))),
        panels=2,
    ),
    swept(
        "window that parts a web",
        2.0,
        [40, 60, 40],
        [(90, 2.0), (90, 2.0)],
        100,
        cut_area=20 * (60 + 2 * math.pi / 2 * (2 + K * 2) + 10),
        cut_volume=20 * 2 * (60 + math.pi * 3 + 10),
        change=lambda s: cut(
            s, box((35, 40, -1), (20, 20, 5)), box((41, 40, 1), (20, 20, 63)), box((35, 40, 63), (20, 20, 7))
        ),
        holes=("rectangular",),
        codes=("cutout-across-bend",),
    ),
    swept("twelve bends", 1.5, [20] * 13, [(90, 2), (-90, 2)] * 6, 60),
    swept("splines for everything", 2.0, [30, 50, 20], [(90, 2), (-60, 3)], 55, change=as_splines),
    Case(
        "U hollowed from a block",
        lambda: hollowed(2.0, 3.0, 60, 90, 40),
        2.0,
        ((90.0, 3.0),) * 2,
        (90.0, length([35, 50, 35], [(90, 3)] * 2, 2.0)),
        90 * length([35, 50, 35], [(90, 3)] * 2, 2.0),
        90 * 2 * length([35, 50, 35], [(90, 3)] * 2, 2.0, 0.5),
        3,
    ),
    swept("radius of zero", 2.0, [30, 50, 30], [(90, 0.0), (-90, 0.0)], 55, codes=("radius-zero",)),
    Case(
        "drawn sharp",
        lambda: fused(box((0, 0, 0), (60, 50, 2)), box((58, 0, 0), (2, 50, 40)), box((0, 0, 0), (2, 50, 25))),
        2.0,
        ((90.0, 2.0),) * 2,
        (50.0, length([21, 52, 36], [(90, 2)] * 2, 2.0)),
        50 * length([21, 52, 36], [(90, 2)] * 2, 2.0),
        50.0 * (60 * 2 + 38 * 2 + 23 * 2),
        3,
        assumed_radius=2.0,
        codes=("inside-radius-assumed",),
    ),
    Case(
        "drawn sharp at 60 degrees",
        lambda: _sharp_v(60.0, 1.5),
        1.5,
        ((60.0, 3.0),),
        (40.0, length([50 - 3 * math.tan(math.pi / 6), 30 - 3 * math.tan(math.pi / 6)], [(60, 3)], 1.5)),
        40 * length([50 - 3 * math.tan(math.pi / 6), 30 - 3 * math.tan(math.pi / 6)], [(60, 3)], 1.5),
        40 * 1.5 * (80 + 1.5 * math.tan(math.pi / 6)),
        2,
        assumed_radius=3.0,
        codes=("inside-radius-assumed",),
    ),
)
