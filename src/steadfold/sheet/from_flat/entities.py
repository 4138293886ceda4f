"""From a DXF file to plain curves in the drawing's plane. Runs in the child process that reads CAD files."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_solid.outline import Segment, fitted
from steadfold.sheet.outline import Point

if TYPE_CHECKING:
    from ezdxf.entities import DXFEntity

DEEPEST_BLOCKS = 16
MOST_CURVES = 20_000
FLATTEN_MM = 0.0005
FLAT_Z = 0.01
SPLINE_POINTS = 20
MOST_SPLINE_POINTS = 400_000

LETTERING = {
    "TEXT",
    "MTEXT",
    "ATTRIB",
    "ATTDEF",
    "DIMENSION",
    "LEADER",
    "MULTILEADER",
    "MLEADER",
    "TOLERANCE",
    "ACAD_TABLE",
}
DRAWN = {"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE"}


@dataclass(frozen=True)
class DrawnCurve:
    """An entity of the drawing as segments in order, in the drawing's own unit; `straight` for a single line."""

    kind: str
    layer: str
    line_type: str
    segments: tuple[Segment, ...]

    @property
    def straight(self) -> bool:
        """True for one straight line."""
        return len(self.segments) == 1 and not self.segments[0][2]

    @property
    def closed(self) -> bool:
        """True when it ends where it starts."""
        return math.dist(self.segments[0][0], self.segments[-1][1]) < 1e-9


@dataclass(frozen=True)
class Drawing:
    """All curves of a drawing's model space; what was left out, by kind; and the unit code of its header."""

    curves: tuple[DrawnCurve, ...]
    left_out: tuple[tuple[str, int], ...]
    unit_code: int
    tilted: int
    mirrored: int


def read_drawing(path: str, unit_mm: float | None) -> Drawing:
    """The curves of a DXF file, blocks opened, all in world coordinates.

    `unit_mm` is the length of one drawing unit when it is known, for the error that splines are followed
    with. Raises `CadRefused`.
    """
    import ezdxf
    from ezdxf import recover

    try:
        try:
            document = ezdxf.readfile(path)
        except (ezdxf.DXFStructureError, UnicodeDecodeError):
            document, _ = recover.readfile(path)
    except MemoryError:
        raise
    except Exception as error:  # the library has no one kind of error for a damaged file: StopIteration is among them
        raise CadRefused(
            "the file is not a DXF drawing that can be read; save it again as DXF R2000 or later"
        ) from error
    code = int(document.header.get("$INSUNITS", 0) or 0)
    unit = unit_mm or {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}.get(code, 1.0)
    hidden = {layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    reader = _Reader(hidden, FLATTEN_MM / unit)
    reader.all(document.modelspace(), "", "", ())
    if not reader.curves:
        left = ", ".join(sorted(reader.left_out)) or "nothing"
        raise CadRefused(
            f"the drawing's model space holds no lines or arcs (only {left}); draw the outline of the flat there"
        )
    return Drawing(tuple(reader.curves), tuple(sorted(reader.left_out.items())), code, reader.tilted, reader.mirrored)


class _Reader:
    def __init__(self, hidden: set[str], error: float):
        self.hidden = hidden
        self.error = error
        self.curves: list[DrawnCurve] = []
        self.left_out: Counter[str] = Counter()
        self.tilted = 0
        self.mirrored = 0

    def all(self, entities: Iterable[DXFEntity], layer: str, line_type: str, blocks: tuple[str, ...]) -> None:
        """Take every entity; what lies in a block on layer 0 takes the layer of the insert."""
        from ezdxf.entities import DXFGraphic

        for entity in entities:
            if not isinstance(entity, DXFGraphic):
                self.left_out["entities of no known kind"] += 1
                continue
            if entity.dxf.get("invisible", 0):
                self.left_out["hidden"] += 1
                continue
            own_layer = entity.dxf.get("layer", "0")
            own_layer = layer if own_layer == "0" and layer else own_layer
            if own_layer.lower() in self.hidden:
                self.left_out["on layers switched off"] += 1
                continue
            own_type = entity.dxf.get("linetype", "BYLAYER")
            if own_type.upper() == "BYBLOCK" and line_type:
                own_type = line_type
            if own_type.upper() == "BYLAYER" and entity.doc is not None and own_layer in entity.doc.layers:
                own_type = entity.doc.layers.get(own_layer).dxf.get("linetype", "CONTINUOUS")
            self.one(entity, own_layer, own_type, blocks)

    def one(self, entity: Any, layer: str, line_type: str, blocks: tuple[str, ...]) -> None:
        """Take one entity."""
        kind = entity.dxftype()
        if kind == "INSERT":
            self._insert(entity, layer, line_type, blocks)
            return
        if kind not in DRAWN:
            self.left_out["lettering and dimensions" if kind in LETTERING else kind] += 1
            return
        try:
            segments = self._segments(entity, kind)
        except (ValueError, ZeroDivisionError, IndexError, TypeError):
            self.left_out[f"{kind} without a shape"] += 1
            return
        if segments is None:
            self.left_out[f"{kind} that is a surface"] += 1
            return
        if any(not all(map(math.isfinite, (*a, *b, c))) for a, b, c in segments):
            raise CadRefused(
                f"the drawing has a {kind} with a number that is not finite; it is damaged, so save it again"
            )
        segments = [s for s in segments if math.dist(s[0], s[1]) > 1e-9]
        if not segments:
            self.left_out[f"{kind} of no length"] += 1
            return
        if len(self.curves) >= MOST_CURVES:
            raise CadRefused(
                f"the drawing has more than {MOST_CURVES:,} curves; keep the outline and bend lines of the flat only"
            )
        self.curves.append(DrawnCurve(kind, layer, line_type, tuple(segments)))

    def _insert(self, insert: Any, layer: str, line_type: str, blocks: tuple[str, ...]) -> None:
        name = insert.dxf.name
        if name in blocks:
            raise CadRefused(
                f"the block {name!r} of the drawing contains itself; it is damaged, so explode its blocks "
                "and save it again"
            )
        if len(blocks) >= DEEPEST_BLOCKS:
            raise CadRefused(
                f"the drawing nests blocks more than {DEEPEST_BLOCKS} deep; explode them and save it again"
            )
        self.left_out["lettering and dimensions"] += len(insert.attribs)
        copies = list(insert.multi_insert()) if insert.mcount > 1 else [insert]
        for copy in copies[:MOST_CURVES]:
            skipped: list[str] = []
            pieces = list(copy.virtual_entities(skipped_entity_callback=lambda e, _, s=skipped: s.append(e.dxftype())))
            for kind in skipped:
                self.left_out["lettering and dimensions" if kind in LETTERING else kind] += 1
            self.all(pieces, layer, line_type, (*blocks, name))
        self.left_out += Counter()

    def _segments(self, entity: Any, kind: str) -> list[Segment] | None:
        if kind == "LINE":
            self._note_height([entity.dxf.start, entity.dxf.end])
            return [(_flat(entity.dxf.start), _flat(entity.dxf.end), 0.0)]
        if kind in ("ARC", "CIRCLE"):
            return self._arc(entity, kind)
        if kind == "LWPOLYLINE":
            return self._polyline(
                [(p[0], p[1], entity.dxf.get("elevation", 0.0)) for p in entity.get_points("xyb")],
                [p[2] for p in entity.get_points("xyb")],
                entity.closed,
                entity,
            )
        if kind == "POLYLINE":
            if not (entity.is_2d_polyline or entity.is_3d_polyline):
                return None
            vertices = [v for v in entity.vertices if not v.dxf.get("flags", 0) & 16]
            if entity.is_3d_polyline:
                points = [v.dxf.location for v in vertices]
                self._note_height(points)
                ends = points[1:] + (points[:1] if entity.is_closed else [])
                return [(_flat(a), _flat(b), 0.0) for a, b in zip(points, ends, strict=False)]
            return self._polyline(
                [tuple(v.dxf.location) for v in vertices],
                [v.dxf.get("bulge", 0.0) for v in vertices],
                entity.is_closed,
                entity,
            )
        if kind == "SPLINE" and len(entity.control_points) > entity.dxf.degree:
            spline = _spline_points(entity)
            self._note_height(spline)
            return fitted(spline[:, :2], 2 * self.error)
        points = list(entity.flattening(self.error))
        self._note_height(points)
        return fitted(np.array([(p[0], p[1]) for p in points]), 2 * self.error)

    def _arc(self, entity: Any, kind: str) -> list[Segment]:
        centre, radius = entity.dxf.center, abs(entity.dxf.radius)
        first = math.radians(entity.dxf.start_angle) if kind == "ARC" else 0.0
        turn = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0) if kind == "ARC" else 2 * math.pi
        turn = turn or 2 * math.pi
        ocs = entity.ocs()
        pieces = max(2, math.ceil(turn / math.pi - 1e-9))
        angles = [first + turn * i / pieces for i in range(pieces + 1)]
        local = [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a), centre[2]) for a in angles]
        world = [ocs.to_wcs(p) for p in local]
        if abs(ocs.uz.z) < 1 - 1e-9:
            self.tilted += 1
            fine = [
                ocs.to_wcs((centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a), centre[2]))
                for a in np.linspace(first, first + turn, 181)
            ]
            return fitted(np.array([(p[0], p[1]) for p in fine]), 2 * self.error)
        sign = 1.0 if ocs.uz.z > 0 else -1.0
        self.mirrored += sign < 0
        flat = [_flat(p) for p in world]
        if turn > 2 * math.pi - 1e-9:
            flat[-1] = flat[0]
        bulge = sign * math.tan(turn / pieces / 4)
        return [(a, b, bulge) for a, b in itertools.pairwise(flat)]

    def _polyline(self, points: list[Any], bulges: list[float], closed: bool, entity: Any) -> list[Segment]:
        ocs = entity.ocs()
        world = [ocs.to_wcs(p) for p in points]
        self._note_height(world)
        sign = 1.0 if ocs.uz.z > 0 else -1.0
        self.mirrored += sign < 0
        flat = [_flat(p) for p in world]
        ends = flat[1:] + (flat[:1] if closed else [])
        found: list[Segment] = []
        for a, b, bulge in zip(flat, ends, bulges, strict=False):
            found.append((a, b, sign * bulge))
        return [(a, b, 0.0 if abs(c) < 1e-12 else c) for a, b, c in found]

    def _note_height(self, points: Iterable[Any]) -> None:
        heights = [float(p[2]) for p in points]
        if heights and max(heights) - min(heights) > FLAT_Z:
            self.tilted += 1


def _spline_points(entity: Any) -> np.ndarray:
    """Points along a spline, (n, 3), over the part of its knots where it is defined: a closed spline is drawn
    without end knots repeated, and is no curve outside them."""
    from scipy.interpolate import BSpline

    degree = int(entity.dxf.degree)
    controls = np.array([tuple(p) for p in entity.control_points], dtype=float)
    weights = np.array(list(entity.weights) or [1.0] * len(controls), dtype=float)
    knots = np.array(list(entity.knots), dtype=float)
    if len(knots) != len(controls) + degree + 1 or len(weights) != len(controls) or bool(np.any(np.diff(knots) < 0)):
        raise ValueError("a spline whose knots do not fit")
    spans = np.unique(knots[degree : len(controls) + 1])
    each = max(SPLINE_POINTS, 300 // max(len(spans) - 1, 1))
    if len(spans) < 2 or len(spans) * each > MOST_SPLINE_POINTS:
        raise ValueError("a spline of no length, or of too many pieces")
    steps = np.concatenate([np.linspace(a, b, each, endpoint=False) for a, b in pairwise(spans)])
    at = np.concatenate([steps, spans[-1:]])
    found = BSpline(knots, np.column_stack([controls * weights[:, None], weights]), degree)(at)
    return np.asarray(found[:, :3] / found[:, 3:])


def _flat(point: Any) -> Point:
    return float(point[0]), float(point[1])
