"""The folded part as a picture in space: binary glTF 2.0 (ISO/IEC 12113), metres, y up, one mesh.

The triangles are those of the exact solid; every vertex carries the normal of its own face, so that bends
look round and edges sharp. The same part and name give the same bytes.
"""

from __future__ import annotations

import json
import math
import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from steadfold.sheet.part import Part
from steadfold.sheet.solid import SolidError, solid

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Face

CHORD_MM = 0.05
"""How far a facet may stray from the arc it stands for."""

TURN_RAD = math.radians(10)
"""The greatest angle between neighbouring facets of an arc."""

_FLOAT, _UNSIGNED_INT = 5126, 5125
_VERTICES, _INDICES = 34962, 34963
_JSON, _BINARY = 0x4E4F534A, 0x004E4942


@dataclass(frozen=True)
class Facets:
    """Triangles of a part's surface in mm: corners (n, 3) with unit normals (n, 3), triangles (m, 3) that run
    anticlockwise seen from outside. Corners are shared within a face only; neighbours' lie in one place."""

    corners_mm: np.ndarray
    normals: np.ndarray
    triangles: np.ndarray


def facets(part: Part, share: float | tuple[float, ...] = 1.0) -> Facets:
    """The surface of a part folded by a share, as triangles; raises `SolidError` when it has no solid."""
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    made = solid(part, share)
    BRepMesh_IncrementalMesh(made, CHORD_MM, False, TURN_RAD, False)
    corners, normals, triangles, count = [], [], [], 0
    explorer = TopExp_Explorer(made, TopAbs_FACE)
    while explorer.More():
        points, directions, sides = _face_facets(part, TopoDS.Face(explorer.Current()))
        corners.append(points)
        normals.append(directions)
        triangles.append(sides + count)
        count += len(points)
        explorer.Next()
    return Facets(np.vstack(corners), np.vstack(normals), np.vstack(triangles))


def _face_facets(part: Part, face: TopoDS_Face) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    from OCP.BRep import BRep_Tool
    from OCP.BRepLib import BRepLib_ToolTriangulatedShape
    from OCP.TopAbs import TopAbs_REVERSED
    from OCP.TopLoc import TopLoc_Location

    mesh = BRep_Tool.Triangulation_s(face, TopLoc_Location())
    if mesh is None:
        raise SolidError(f"a face of {part.name!r} could not be divided into triangles")
    BRepLib_ToolTriangulatedShape.ComputeNormals_s(face, mesh)
    numbers = range(1, mesh.NbNodes() + 1)
    points = np.array([(p.X(), p.Y(), p.Z()) for p in map(mesh.Node, numbers)])
    normals = np.array([(d.X(), d.Y(), d.Z()) for d in map(mesh.Normal, numbers)])
    triangles = np.array([mesh.Triangle(i).Get() for i in range(1, mesh.NbTriangles() + 1)]) - 1
    if face.Orientation() == TopAbs_REVERSED:
        triangles = triangles[:, ::-1]
    outward = np.cross(
        points[triangles[:, 1]] - points[triangles[:, 0]], points[triangles[:, 2]] - points[triangles[:, 0]]
    )
    if np.einsum("ij,ij->", outward, normals[triangles[:, 0]]) < 0:
        normals = -normals
    return points, normals, triangles


def gltf_bytes(part: Part, name: str, up: Literal["y", "z"] = "y", share: float | tuple[float, ...] = 1.0) -> bytes:
    """The part as a .glb file; `name` is that of its node and mesh.

    `up` is the axis of the root panel's frame that points up in the picture: 'y' for a part whose root panel
    stands (its face then looks at the viewer), 'z' for one whose root panel lies.
    Raises `SolidError` when the part has no solid.
    """
    surface = facets(part, share)
    return _glb(name, 1e-3 * _upright(surface.corners_mm, up), _upright(surface.normals, up), surface.triangles)


def _upright(vectors: np.ndarray, up: Literal["y", "z"]) -> np.ndarray:
    return vectors if up == "y" else np.column_stack([vectors[:, 0], vectors[:, 2], -vectors[:, 1]])


def _glb(name: str, positions_m: np.ndarray, normals: np.ndarray, triangles: np.ndarray) -> bytes:
    # + 0.0 turns the negative zeros, which differ between equal corners, into plain ones.
    places = np.ascontiguousarray(positions_m, dtype="<f4") + np.float32(0)
    directions = np.ascontiguousarray(normals, dtype="<f4") + np.float32(0)
    indices = np.ascontiguousarray(triangles, dtype="<u4")
    blocks = [places.tobytes(), directions.tobytes(), indices.tobytes()]
    starts = [0, len(blocks[0]), len(blocks[0]) + len(blocks[1])]
    description: dict[str, Any] = {
        "asset": {"generator": "steadfold", "version": "2.0"},
        "scene": 0,
        "scenes": [{"name": name, "nodes": [0]}],
        "nodes": [{"name": name, "mesh": 0}],
        "meshes": [
            {
                "name": name,
                "primitives": [{"attributes": {"POSITION": 0, "NORMAL": 1}, "indices": 2, "material": 0, "mode": 4}],
            }
        ],
        "materials": [
            {
                "name": "sheet",
                "pbrMetallicRoughness": {
                    "baseColorFactor": [0.62, 0.65, 0.67, 1.0],
                    "metallicFactor": 0.3,
                    "roughnessFactor": 0.6,
                },
            }
        ],
        "buffers": [{"byteLength": sum(map(len, blocks))}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": start, "byteLength": len(block), "target": target}
            for start, block, target in zip(starts, blocks, (_VERTICES, _VERTICES, _INDICES), strict=True)
        ],
        "accessors": [
            {
                "bufferView": 0,
                "componentType": _FLOAT,
                "count": len(places),
                "type": "VEC3",
                "min": [float(v) for v in places.min(axis=0)],
                "max": [float(v) for v in places.max(axis=0)],
            },
            {"bufferView": 1, "componentType": _FLOAT, "count": len(directions), "type": "VEC3"},
            {"bufferView": 2, "componentType": _UNSIGNED_INT, "count": indices.size, "type": "SCALAR"},
        ],
    }
    text = json.dumps(description, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
    chunks = _chunk(_JSON, text, b" ") + _chunk(_BINARY, b"".join(blocks), b"\0")
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def _chunk(kind: int, data: bytes, filler: bytes) -> bytes:
    data += filler * (-len(data) % 4)
    return struct.pack("<II", len(data), kind) + data
