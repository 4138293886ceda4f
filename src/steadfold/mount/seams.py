"""Seams of a part in its mechanical model: nodes at matching places of both panels, tied by stiff links."""

from __future__ import annotations

import numpy as np
import shapely

from steadfold.mechanics import Springs
from steadfold.sheet.mesh import HardPoint, SheetMesh, nearest_node, placed
from steadfold.sheet.part import Part, Seam
from steadfold.sheet.pose import Pose

STIFF = 100.0
"""How many times stiffer than the sheet about it a tie is: E t for shifts, E t³ for turns. Ten times more moves the torsion of
a welded box by less than a thousandth."""


ON_METAL_MM = 1e-3


def seam_points(part: Part) -> list[HardPoint]:
    """Places where the mesh must have nodes: both ends of every tie that lie on metal. In the hole of a fastener the nearest node
    of its rim takes their place.

    The middle of a seam comes first, then the middles of its halves and so on, since a mesh puts no node near the end of a long
    edge that nothing parts yet.
    """
    found = []
    for seam in part.seams:
        sides = [(n, shapely.union_all([f.polygon() for f in part.panels[n].faces])) for n in (seam.first, seam.second)]
        for number in _halving(0, len(seam.spots)):
            spot = seam.spots[number]
            for (panel, metal), place in zip(sides, (spot.first, spot.second), strict=True):
                if metal.distance(shapely.Point(place)) < ON_METAL_MM:
                    found.append(HardPoint(panel, place))
    return found


def _halving(low: int, high: int) -> list[int]:
    """Numbers from low up to, not with, high: the middle one, then those of both halves."""
    if low >= high:
        return []
    middle = (low + high) // 2
    return [middle, *_halving(low, middle), *_halving(middle + 1, high)]


def seam_ends(part: Part, sheet: SheetMesh) -> tuple[np.ndarray, ...]:
    """Node pairs (spots, 2) of each seam."""
    return tuple(
        np.array(
            [[nearest_node(sheet, s.first, spot.first), nearest_node(sheet, s.second, spot.second)] for spot in s.spots]
        ).reshape(-1, 2)
        for s in part.seams
    )


def seam_axes(seam: Seam, pose: Pose) -> np.ndarray:
    """Rows: along the seam, out of the first panel's face, and square to both."""
    along, face = np.asarray(seam.along), pose.panels[seam.first].face
    return np.array([along, face, np.cross(along, face)])


def seam_ties(part: Part, sheet: SheetMesh, pose: Pose, modulus_mpa: float) -> Springs:
    """The links of all seams: from the middle of the sheet on one side to that on the other, the way between bridged rigidly.

    A weld is a hinge about its own line, since a fillet of one side is not to be counted on for bending about its
    root (EN 1993-1-8, 4.12, recalled), but where it goes through two edges end to end. A fastener is tied all round: its
    head and the laps pressed together keep the panels parallel there.
    """
    if not part.seams:
        return Springs(np.zeros((0, 2), int), np.zeros((0, 6)))
    t = part.thickness_mm
    pairs = seam_ends(part, sheet)
    ends, stiffness, axes = [], [], []
    for seam, nodes in zip(part.seams, pairs, strict=True):
        turns = STIFF * modulus_mpa * t**3
        about_line = turns if seam.butt or seam.how != "welded" or len(nodes) < 3 else 0.0
        one = [STIFF * modulus_mpa * t] * 3 + [about_line, turns, turns]
        ends.append(nodes)
        stiffness += [one] * len(nodes)
        axes += [seam_axes(seam, pose)] * len(nodes)
    values = np.zeros((len(stiffness), 6, 6))
    values[:, np.arange(6), np.arange(6)] = stiffness
    return Springs(np.vstack(ends), values, np.array(axes))


def tie_places(part: Part, sheet: SheetMesh, pose: Pose) -> tuple[np.ndarray, ...]:
    """Where in space (spots, 3) each seam's ties sit."""
    places = placed(sheet, pose)
    return tuple(places[nodes[:, 0]] for nodes in seam_ends(part, sheet))
