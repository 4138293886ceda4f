"""For hands and eyes: sharp corners, weight, left and right hand, sheets that droop."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from steadfold.catalogue.materials import Material
from steadfold.fabricate.coating import mass_kg
from steadfold.fabricate.measures import Measures
from steadfold.fabricate.noted import Mark, Noted
from steadfold.fabricate.shop import COMMON_PRACTICE, Shop
from steadfold.findings import Finding, Severity
from steadfold.findings.finding import Change
from steadfold.sheet.outline import Outline
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold

HAND_RADIUS_MM = 2.0
"""Least corner radius where hands go (common practice, no source)."""
FREE_MM = 15.0
"""A corner belongs to hands when both its edges are at least this long (assumed)."""
DROOP_MM = 25.0
"""Sag of the sheet under its own weight, held in the middle, from which the brake needs supports
(assumed)."""
ALIKE_MM = 0.05


def handling_findings(measures: Measures, material: Material, shop: Shop) -> Iterator[Noted]:
    """Everything about handling the part, from the brake to the bench."""
    yield from _corners(measures)
    mass = mass_kg(measures, material)
    if mass > shop.lift_by_hand_kg:
        yield Noted(
            Finding(
                "too-heavy-by-hand", Severity.CAUTION, measures.part.name,
                f"It weighs {mass:.1f} kg; one person lifts {shop.lift_by_hand_kg:.4g} kg.",
                mass, shop.lift_by_hand_kg, f"shop file {shop.name!r}; {COMMON_PRACTICE}",
                "make it in two parts, or plan for two people or a hoist",
            )
        )
    if measures.part.bends and has_two_hands(measures.part):
        yield Noted(
            Finding(
                "comes-in-two-hands", Severity.NOTE, measures.part.name,
                "This part and its mirror image are different: bent the other way round it is a left instead of a "
                "right one.",
                None, None, "geometry", "send the folded picture along, and mark which face of the flat is up",
            )
        )
    yield from _droop(measures, material)


def _corners(measures: Measures) -> Iterator[Noted]:
    sharp = sharp_corners(measures.flat.outer)
    if not sharp:
        return
    worst = min(sharp, key=lambda corner: corner[1])
    pointed = math.degrees(worst[1])
    yield Noted(
        Finding(
            "sharp-corner", Severity.CAUTION if pointed < 60 else Severity.NOTE, measures.part.name,
            f"Not rounded, where hands can meet them: {len(sharp)} corner{'s' if len(sharp) > 1 else ''}, the sharpest "
            f"of {pointed:.0f}°.",
            0.0, HAND_RADIUS_MM, COMMON_PRACTICE, f"round them to {HAND_RADIUS_MM:.4g} mm and have the edges deburred",
            Change(measures.part.name, "panel.*.corner_radius", f"{HAND_RADIUS_MM:.4g} mm"),
        ),
        tuple(Mark(point) for point, _ in sharp),
    )


def sharp_corners(outer: Outline) -> list[tuple[tuple[float, float], float]]:
    """Corners of a contour that point outwards between two straight edges of some length: point and inner
    angle."""
    segments = list(outer.anticlockwise().segments())
    found = []
    for before, after in zip(segments[-1:] + segments[:-1], segments, strict=True):
        if before[2] or after[2]:
            continue
        one = np.subtract(before[1], before[0])
        two = np.subtract(after[1], after[0])
        if min(np.hypot(*one), np.hypot(*two)) < FREE_MM:
            continue
        turned = math.atan2(one[0] * two[1] - one[1] * two[0], float(one @ two))
        if turned > math.radians(60):
            found.append(((after[0][0], after[0][1]), math.pi - turned))
    return found


def has_two_hands(part: Part) -> bool:
    """True when the folded middle surface differs from its mirror image.

    Compared are the corners of panels and the middles of openings; a shape with too many alike corners to
    decide counts as having none.
    """
    points = _shape_points(part)
    centred = points - points.mean(axis=0)
    radii = np.linalg.norm(centred, axis=1)
    first = int(radii.argmax())
    spread = np.linalg.norm(np.cross(centred, centred[first]), axis=1)
    second = int(spread.argmax())
    if spread[second] < 1e-6:
        return False
    a, b = centred[first], centred[second]
    source = np.stack([a, b, np.cross(a, b)])
    inverse = np.linalg.inv(source)
    ones = np.flatnonzero(np.abs(radii - radii[first]) < ALIKE_MM)
    twos = np.flatnonzero(np.abs(radii - radii[second]) < ALIKE_MM)
    if len(ones) * len(twos) > 5000:
        return False
    for i in ones:
        for j in twos:
            if abs(centred[i] @ centred[j] - a @ b) > ALIKE_MM * radii[first]:
                continue
            target = np.stack([centred[i], centred[j], -np.cross(centred[i], centred[j])])
            if _same_points(centred @ (inverse @ target), centred):
                return False
    return True


def _shape_points(part: Part) -> np.ndarray:
    pose = fold(part)
    points = []
    for panel, frame in zip(part.panels, pose.panels, strict=True):
        for face in panel.faces:
            points.append(frame.points(np.asarray(face.outer.points)))
            for hole in face.holes:
                points.append(frame.points(np.asarray(hole.points).mean(axis=0)[None]))
    return np.concatenate(points)


def _same_points(one: np.ndarray, two: np.ndarray) -> bool:
    distances = np.linalg.norm(one[:, None] - two[None], axis=2)
    return bool((distances.min(axis=1) < 2 * ALIKE_MM).all())


def _droop(measures: Measures, material: Material) -> Iterator[Noted]:
    """Half the sheet as a cantilever under its own weight: `w L⁴ / (8 E I)` a width."""
    if not measures.part.bends:
        return
    t = measures.part.thickness_mm
    half = 0.5 * max(measures.flat.size_mm)
    weight_n_per_mm2 = material.density_kg_m3 * 1e-9 * 9.80665 * t
    sag = weight_n_per_mm2 * half**4 / (8 * material.modulus_mpa * t**3 / 12)
    if sag > DROOP_MM:
        yield Noted(
            Finding(
                "droops-on-the-brake", Severity.NOTE, measures.part.name,
                f"Held in the middle its ends hang {sag:.0f} mm; angles suffer unless the sheet is supported.",
                sag, DROOP_MM, "cantilever under its own weight; 25 mm is assumed",
                "ask the shop whether it has sheet supports",
            )
        )
