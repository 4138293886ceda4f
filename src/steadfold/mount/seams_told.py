"""What goes through the seams of a part, as shares of what they may carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from steadfold.findings import Finding, Severity
from steadfold.mechanics import Result, link_forces
from steadfold.mount.answers import Answer, Share
from steadfold.mount.structure import Mounted
from steadfold.sheet.part import Part, Seam
from steadfold.sheet.seams import seam_name

AVERAGED_T = 4.0
"""A weld's load is averaged over so many thicknesses of its length, as the sheet's is: its end is a peak of the theory, which
metal that yields evens out."""


def seam_flow(part: Part, seam: Seam, forces: np.ndarray) -> np.ndarray:
    """Force on each mm of a weld (spots, 4): along it, out of the first panel's face, square to both, N/mm, and the
    bending about its line that it carries, N mm/mm. `forces` (spots, 6) are those of its ties in the seam's own axes."""
    each = seam.length_mm / len(seam.spots)
    return np.asarray(forces[:, :4]) / each


def _by_seam(part: Part, forces: np.ndarray) -> list[np.ndarray]:
    starts = np.cumsum([0, *(len(s.spots) for s in part.seams)])
    return [forces[a:b] for a, b in pairwise(starts)]


def weld_load(part: Part, seam: Seam, forces: np.ndarray) -> float:
    """Largest resultant on a mm of a weld, N: the mean over 4 t; bending of a butt weld counts as the couple of a throat, 6 m / a."""
    flow = seam_flow(part, seam, forces)
    count = max(1, round(AVERAGED_T * part.thickness_mm / (seam.length_mm / len(seam.spots))))
    count = min(count, len(flow))
    mean = np.array([flow[k : k + count].mean(axis=0) for k in range(len(flow) - count + 1)])
    throat = seam.hold.throat_mm or part.thickness_mm
    across = np.hypot(mean[:, 1], mean[:, 2]) + (6.0 * np.abs(mean[:, 3]) / throat if seam.butt else 0.0)
    return float(np.hypot(mean[:, 0], across).max())


def fastener_load(seam: Seam, forces: np.ndarray) -> tuple[float, float, int]:
    """Pull and shear of the fastener that works hardest, N, and which it is. Its axis is square to the first panel."""
    pull, shear = np.abs(forces[:, 1]), np.hypot(forces[:, 0], forces[:, 2])
    worst = int(np.argmax(np.hypot(pull, shear)))
    return float(pull[worst]), float(shear[worst]), worst


def with_seams(here: Mounted, read: Sequence[Answer], results: Sequence[Result]) -> tuple[Answer, ...]:
    """The answers with a share for the seam that works hardest in each, and for every seam that nothing proves."""
    if not here.part.seams:
        return tuple(read)
    return tuple(
        replace(one, shares=(*one.shares, *_shares(here, link_forces(result))))
        for one, result in zip(read, results, strict=True)
    )


def _shares(here: Mounted, forces: np.ndarray) -> list[Share]:
    found = [_share(here.part, s, f) for s, f in zip(here.part.seams, _by_seam(here.part, forces), strict=True)]
    unknown = [s for s in found if s.value is None]
    known = [s for s in found if s.value is not None]
    worst = max(known, key=lambda s: s.value or 0.0, default=None)
    if unknown and (worst is None or (worst.value or 0.0) <= 1.0):
        return unknown[:1]
    return [] if worst is None else [worst]


def _share(part: Part, seam: Seam, forces: np.ndarray) -> Share:
    place, hold = seam_name(part, seam), seam.hold
    if seam.how == "welded":
        load = weld_load(part, seam, forces)
        if hold.weld_n_per_mm is None:
            return Share(
                "seam", place, None, f"{load:.0f} N on a mm of weld, and what it holds is not proven: {hold.why}"
            )
        say = f"{load:.0f} N on a mm of the weld of {hold.weld_n_per_mm:.0f} N it may carry ({hold.say})"
        return Share("seam", place, load / hold.weld_n_per_mm, say)
    pull, shear, _ = fastener_load(seam, forces)
    if hold.shear_n is None or (hold.tension_n is None and pull > 0.05 * shear):
        return Share(
            "seam",
            place,
            None,
            f"{pull:.0f} N pull and {shear:.0f} N shear on one, and what it holds is not proven: {hold.why}",
        )
    share = shear / hold.shear_n + (pull / hold.tension_n if hold.tension_n is not None else 0.0)
    say = f"{pull:.0f} N pull and {shear:.0f} N shear on one {hold.fastener or 'fastener'} ({hold.say})"
    return Share("seam", place, share, say)


def unproven_seams(here: Mounted) -> list[Finding]:
    """What is missing to say what a seam holds."""
    return [
        Finding(
            "capacity-unproven",
            Severity.UNPROVEN,
            seam_name(here.part, seam),
            f"What the {seam_name(here.part, seam)} holds is not proven: {seam.hold.why}.",
            None,
            None,
            "",
            "give the weld a throat"
            if seam.how == "welded"
            else "name the fastener, or give what one holds with its source",
        )
        for seam in here.part.seams
        if seam.hold.why
    ]


def untied(here: Mounted, findings: Sequence[Finding]) -> list[Finding]:
    """The findings without those of lips that stop short where a seam ties every one of them to the panel they stop at."""
    part = here.part
    joined = {frozenset((s.first, s.second)) for s in part.seams}
    tied = set()
    for bend in part.bends:
        sides = [b.child for b in part.bends if b.parent == bend.child and abs(b.parent_along[1]) > 0.9]
        if sides and all(frozenset((side, bend.parent)) in joined for side in sides):
            tied.add(f"root of {part.panels[bend.child].name}")
    return [f for f in findings if not (f.code == "lip-stops-short" and f.place in tied)]
