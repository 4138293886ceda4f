"""Pieces of a part that lie over each other in the flat, or pass through each other when it is folded.

Folded, every panel is a plate: its outline (with its openings) times the thickness. A bend is a row of narrow
plates. Two plates that are not parallel have a direction in common; across it each is a set of rectangles whose
ends run straight from corner to corner along that direction. How deep two rectangles lie in each other is the
least overlap on their four axes (separating axes), a least of linear functions of the way along, so its greatest
value is found exactly. Arcs are polygons with the chord error of set operations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.sheet.outline import Face
from steadfold.sheet.part import Part
from steadfold.sheet.plates import TOUCHING_MM, Plate, depth_of_overlap
from steadfold.sheet.pose import BendPose, Frame, flat_places, fold

OVERLAP_MM2 = 0.05
"""Pieces of the flat that share less area than this lie beside each other."""
FACETS_A_TURN = 32

SEAM_SHARE = 0.1
"""How deep two panels may lie in each other at their seam, over the thickness (judgement: filed off before it is joined)."""


@dataclass(frozen=True)
class Clash:
    """Two pieces in one place. `first` and `second` name panels; a bend is named by the two panels it joins.

    `regions` are their numbers (panels first, then bends). In the flat `area_mm2` is the area they share and
    `place_mm` a point of it, in the root panel's frame; folded, `depth_mm` is how far one would have to give way and
    `place_mm` where they are deepest in each other.
    """

    first: str
    second: str
    regions: tuple[int, int]
    place_mm: tuple[float, ...]
    area_mm2: float = 0.0
    depth_mm: float = 0.0


def region_name(part: Part, region: int) -> str:
    """The name of a panel, or of a bend by the panels it joins."""
    if region < len(part.panels):
        return part.panels[region].name
    bend = part.bends[region - len(part.panels)]
    return f"bend {part.panels[bend.parent].name}–{part.panels[bend.child].name}"


def flat_overlaps(part: Part) -> list[Clash]:
    """Pairs of pieces that lie over each other in the shop's flat, the greatest area first."""
    panels, strips = flat_places(part)
    shapes: list[shapely.Polygon] = []
    regions: list[int] = []
    faces = [(panel.faces, place) for panel, place in zip(part.panels, panels, strict=True)]
    faces += [(bend.faces, place) for bend, place in zip(part.bends, strips, strict=True)]
    for region, (pieces, place) in enumerate(faces):
        for face in pieces:
            shapes.append(face.moved(place).polygon())
            regions.append(region)
    found: dict[tuple[int, int], tuple[float, tuple[float, ...]]] = {}
    pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects").T
    for i, j in pairs[pairs[:, 0] < pairs[:, 1]]:
        key = (regions[i], regions[j])
        if key[0] == key[1]:
            continue
        shared = shapes[i].intersection(shapes[j])
        if shared.area > OVERLAP_MM2:
            area, place_mm = found.get(key, (0.0, ()))
            spot = shared.representative_point()
            found[key] = (area + shared.area, place_mm or (spot.x, spot.y))
    clashes = [
        Clash(region_name(part, a), region_name(part, b), (a, b), place_mm, area_mm2=area)
        for (a, b), (area, place_mm) in found.items()
    ]
    return sorted(clashes, key=lambda c: -c.area_mm2)


def folded_clashes(part: Part, share: float = 1.0) -> list[Clash]:
    """Pairs of pieces that pass through each other when the part is folded by a share, the deepest first.

    A bend is not looked at against the two panels it joins; those two panels are, since a hem bent too far runs into
    its parent. Where a bend and a panel it joins both meet a third piece, only the panel is named. Two panels that a seam
    joins touch there: up to `SEAM_SHARE` of the thickness is what is filed away, not a clash.
    """
    pose = fold(part, share)
    plates: list[Plate] = []
    regions: list[int] = []
    slack: list[float] = []
    for number, (panel, frame) in enumerate(zip(part.panels, pose.panels, strict=True)):
        for face in panel.faces:
            plates.append(Plate(frame, face.polygon(), part.thickness_mm))
            regions.append(number)
            slack.append(TOUCHING_MM)
    for number, (bend, bent) in enumerate(zip(part.bends, pose.bends, strict=True)):
        stretch = bent.length_mm / bend.allowance_mm
        facets, sagitta = bend_plates(bend.faces, stretch, bent, part.thickness_mm)
        plates.extend(facets)
        regions.extend([len(part.panels) + number] * len(facets))
        slack.extend([TOUCHING_MM + 2 * sagitta] * len(facets))
    joined = {(b.parent, len(part.panels) + n) for n, b in enumerate(part.bends)}
    joined |= {(b.child, len(part.panels) + n) for n, b in enumerate(part.bends)}
    seams = {(min(s.first, s.second), max(s.first, s.second)) for s in part.seams}
    found: dict[tuple[int, int], tuple[float, np.ndarray]] = {}
    pairs = _near_pairs(plates, np.asarray(regions))
    # panels first: where they clash, what their bends do need not be known
    for i, j in sorted(pairs, key=lambda pair: regions[pair[1]] >= len(part.panels)):
        key = (regions[i], regions[j])
        if key in joined or _said_by_panels(part, *key, found):
            continue
        depth, place = depth_of_overlap(plates[i], plates[j])
        touching = SEAM_SHARE * part.thickness_mm if key in seams else 0.0
        if depth > max(slack[i], slack[j], touching) and depth > found.get(key, (0.0, place))[0]:
            found[key] = (depth, place)
    clashes = [
        Clash(region_name(part, a), region_name(part, b), (a, b), tuple(float(x) for x in place), depth_mm=float(depth))
        for (a, b), (depth, place) in found.items()
        if not _said_by_panels(part, a, b, found)
    ]
    return sorted(clashes, key=lambda c: -c.depth_mm)


def _said_by_panels(part: Part, a: int, b: int, found: dict[tuple[int, int], tuple[float, np.ndarray]]) -> bool:
    """Whether a clash of a bend is also one of a panel it joins."""
    count = len(part.panels)

    def ends(region: int) -> tuple[int, ...]:
        if region < count:
            return (region,)
        bend = part.bends[region - count]
        return (bend.parent, bend.child)

    if a < count and b < count:
        return False
    return any((min(x, y), max(x, y)) in found for x in ends(a) for y in ends(b) if x != y)


def bend_plates(
    faces: Sequence[Face], stretch: float, bent: BendPose, thickness_mm: float
) -> tuple[list[Plate], float]:
    """A bend as plates between generator lines, and how far they stray from the cylinder.

    `faces` are in the strip's frame, to be stretched across the bend to the length of the middle surface. The first
    and last plate are shortened by what their slope would make them reach past the tangent lines, so that all stay
    within the true shape.
    """
    count = max(1, math.ceil(FACETS_A_TURN * abs(bent.angle_rad) / (2 * math.pi)))
    half_turn = 0.5 * abs(bent.angle_rad) / count
    radius = bent.length_mm / abs(bent.angle_rad) if abs(bent.angle_rad) > 1e-9 else 0.0
    sagitta = (radius + 0.5 * thickness_mm) * (1 - math.cos(half_turn))
    end = 0.5 * thickness_mm * math.tan(half_turn)
    chord = 2 * radius * math.sin(half_turn) if radius else bent.length_mm / count
    height = bent.length_mm / count
    plates = []
    shapes = [shapely.transform(f.polygon(), lambda p: p * np.array([1.0, stretch])) for f in faces]
    lines = bent.points(np.zeros(count + 1), np.linspace(0, 1, count + 1))
    for k in range(count):
        away = (lines[k + 1] - lines[k]) / np.linalg.norm(lines[k + 1] - lines[k])
        frame = Frame(lines[k], bent.start.along, away, np.cross(bent.start.along, away))
        for shape in shapes:
            x0, _, x1, _ = shape.bounds
            from_y = k * height + (end if k == 0 else 0.0)
            to_y = (k + 1) * height - (end if k == count - 1 else 0.0)
            row = shapely.clip_by_rect(shape, x0 - 1, from_y, x1 + 1, max(to_y, from_y))
            for piece in shapely.get_parts(row):
                if piece.geom_type == "Polygon" and piece.area > 1e-9:
                    moved = shapely.transform(piece, lambda p, low=k * height: (p - [0, low]) * [1.0, chord / height])
                    plates.append(Plate(frame, moved, thickness_mm))
    return plates, sagitta


def _near_pairs(plates: Sequence[Plate], regions: np.ndarray) -> np.ndarray:
    """Pairs of plates of different regions, lower region first, that no axis of the world or face of either parts."""
    corners = [plate.corners() for plate in plates]
    low, high = np.array([c.min(axis=0) for c in corners]), np.array([c.max(axis=0) for c in corners])
    near = (low[:, None] < high[None]).all(axis=2) & (high[:, None] > low[None]).all(axis=2)
    near &= regions[:, None] < regions[None]
    kept = []
    for i, j in np.argwhere(near):
        if not (_parted(plates[i], corners[j]) or _parted(plates[j], corners[i])):
            kept.append((i, j))
    return np.array(kept, dtype=int).reshape(-1, 2)


def _parted(plate: Plate, corners: np.ndarray) -> bool:
    """Whether all corners lie beyond one face of a plate, or beyond one side of its bounding box."""
    offset = corners - plate.frame.origin
    half = 0.5 * plate.thickness_mm - TOUCHING_MM
    height = offset @ plate.frame.face
    if height.min() > half or height.max() < -half:
        return True
    x, y = offset @ plate.frame.along, offset @ plate.frame.away
    x0, y0, x1, y1 = plate.outline.bounds
    return bool(x.min() > x1 or x.max() < x0 or y.min() > y1 or y.max() < y0)
