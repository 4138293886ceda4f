"""From a STEP file to plain records, by the kernel. Only the child process imports this."""

from __future__ import annotations

from dataclasses import dataclass

from OCP.collections import (
    DataMap_TCollection_AsciiString_TCollection_AsciiString,
    Sequence_TCollection_AsciiString,
    Sequence_TDF_Label,
)
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_AsciiString, TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS_Shape
from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.body import Body
from steadfold.sheet.from_solid.traced import explored, traced_body

MANY_FACES = 800
"""Above this the kernel does not mend the wires of faces, which takes the square of their number; whether they
close is checked here anyway."""
MILLIMETRES = {"millimetre": 1.0, "centimetre": 10.0, "metre": 1000.0, "inch": 25.4, "foot": 304.8}
MILLIMETRES |= {"millimeter": 1.0, "centimeter": 10.0, "meter": 1000.0, "mm": 1.0, "in": 25.4, "m": 1000.0}
MILLIMETRES |= {"cm": 10.0, "ft": 304.8, "micrometre": 1e-3}


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
    return Bodies(tuple(traced_body(s.shape, s.name, s.count, scale) for s in solids), found, tuple(left_out))


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
        pieces = explored(shape, TopAbs_ShapeEnum.TopAbs_SOLID)
        name = _name(label)
        if not pieces:
            left_out.append("open surfaces" if explored(shape, TopAbs_ShapeEnum.TopAbs_FACE) else "curves")
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
