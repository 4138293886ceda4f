"""What the page draws, as bytes: a head in JSON and the arrays behind it.

Four bytes say how long the head is (little endian, unsigned), then the head, then the arrays it lists, each at an
offset that is a multiple of four from the end of the head.
"""

from __future__ import annotations

import json
import math
import struct
from typing import Any

import numpy as np

from steadfold.deliver.view import usual_up
from steadfold.mount.fixing_holes import downward
from steadfold.mount.records import Strength
from steadfold.page.unrolled import unrolled
from steadfold.quantities import in_units
from steadfold.review import PartReview
from steadfold.sheet.mesh import FoldRecipe, SheetMesh, fold_recipe, mesh
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold

PREVIEW_TRIANGLES = 500


def scene(review: PartReview) -> bytes:
    """The scene of a part: from its strength where there is one, else the shape alone. Empty without a shape."""
    part = review.part
    if part is None:
        return b""
    strength = review.strength
    arrays: dict[str, np.ndarray]
    if strength is not None and strength.picture is not None:
        arrays, head = _answered(part, strength)
    else:
        arrays, head = _shape(part)
    head |= _recipe(part)
    up, out = standing(review)
    head |= {"up": up.tolist(), "out": out.tolist()}
    return packed(head, arrays)


def standing(review: PartReview) -> tuple[np.ndarray, np.ndarray]:
    """Which way is up and which way is away from the wall (3,) each: as it is fixed, else as such parts stand."""
    part, mount = review.part, review.ordered.mount
    assert part is not None
    names = [panel.name for panel in part.panels]
    if mount is None or (mount.holes is not None and mount.holes not in names):
        up = np.array([0.0, 1.0, 0.0]) if usual_up(part) == "y" else np.array([0.0, 0.0, 1.0])
        return up, np.array([0.0, 0.0, 1.0]) if up[1] else np.array([0.0, -1.0, 0.0])
    frame = fold(part).panels[names.index(mount.holes) if mount.holes is not None else 0]
    up = -downward(frame, mount.down)
    return up, frame.face if abs(float(up @ frame.face)) < 0.5 else -frame.away


def _shape(part: Part) -> tuple[dict[str, np.ndarray], dict[str, Any]]:
    plain = preview(part)
    arrays = {
        "local": plain.local.astype("<f4"),
        "region": plain.node_region.astype("<u2"),
        "triangles": plain.triangles.astype("<u4"),
    }
    return arrays, {"answered": False, "loads": [], "fixings": []}


def preview(part: Part) -> SheetMesh:
    """A mesh good enough to look at."""
    return mesh(part, bend_facets=3, hole_segments=12, target_triangles=PREVIEW_TRIANGLES)


def _answered(part: Part, strength: Strength) -> tuple[dict[str, np.ndarray], dict[str, Any]]:
    picture = strength.picture
    assert picture is not None
    region, local = unrolled(part, fold(part), picture.nodes_mm)
    arrays = {
        "local": local.astype("<f4"),
        "region": region.astype("<u2"),
        "triangles": picture.triangles.astype("<u4"),
        "share": at_nodes(picture.nodes_mm, picture.triangles, picture.share).astype("<f4"),
        "moved": picture.moved_mm.astype("<f4"),
    }
    head = {
        "answered": True,
        "greatest_share": float(picture.share.max(initial=0.0)),
        "greatest_sag_mm": float(np.linalg.norm(picture.moved_mm, axis=1).max(initial=0.0)),
        "loads": [
            {"at": [*map(float, at)], "way": [*map(float, way)], "say": say, "inch": _in_inches(say)}
            for at, way, say in picture.loads
        ],
        "fixings": [{"at": [*map(float, at)]} for at in picture.fixings],
    }
    return arrays, head


def _in_inches(say: str) -> str:
    """What stands beside a load, `oar: 2 kg`; what it is called stays."""
    return in_units(say, "in", (say.rpartition(":")[0],))


def at_nodes(nodes_mm: np.ndarray, triangles: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Values of triangles (m,) carried to nodes (n,): the mean of those around each node, by their areas."""
    a, b, c = (nodes_mm[triangles[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    total, weight = np.zeros(len(nodes_mm)), np.zeros(len(nodes_mm))
    for k in range(3):
        np.add.at(total, triangles[:, k], area * values)
        np.add.at(weight, triangles[:, k], area)
    return np.asarray(np.divide(total, weight, out=np.zeros_like(total), where=weight > 0))


def _recipe(part: Part) -> dict[str, Any]:
    recipe: FoldRecipe = fold_recipe(part)
    return {
        "thickness_mm": part.thickness_mm,
        "panels": [panel.name for panel in part.panels],
        "bends": [
            {
                "parent": int(recipe.parent[i]),
                "child": int(recipe.child[i]),
                "angle": float(recipe.angle_rad[i]),
                "angle_deg": round(math.degrees(recipe.angle_rad[i]), 4),
                "middle": float(recipe.middle_length_mm[i]),
                "flat": float(recipe.flat_length_mm[i]),
                "width": bend.length_mm,
                "radius": bend.inside_radius_mm,
                "parent_frame": recipe.parent_frame[i].tolist(),
                "child_frame": recipe.child_frame[i].tolist(),
            }
            for i, bend in enumerate(part.bends)
        ],
    }


def packed(head: dict[str, Any], arrays: dict[str, np.ndarray]) -> bytes:
    """Head and arrays as one block of bytes."""
    blocks, listed, offset = [], [], 0
    for name, array in arrays.items():
        data = np.ascontiguousarray(array).tobytes()
        listed.append({"name": name, "type": array.dtype.str.lstrip("<|"), "shape": list(array.shape), "at": offset})
        data += b"\0" * (-len(data) % 4)
        blocks.append(data)
        offset += len(data)
    text = json.dumps({**head, "arrays": listed}, allow_nan=False).encode()
    text += b" " * (-len(text) % 4)
    return struct.pack("<I", len(text)) + text + b"".join(blocks)
