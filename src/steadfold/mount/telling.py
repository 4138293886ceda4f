"""What the answers mean: findings by name, and a prediction that anyone can test tonight."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from steadfold.findings import Finding, Severity
from steadfold.mechanics import Result, solve, spring_forces
from steadfold.mount.answers import BUCKLING_FACTOR, SET_FACTOR, Answer
from steadfold.mount.net_sections import LEAST_LIGAMENT_T, NET_PLACES, thin_webs
from steadfold.mount.records import Placed
from steadfold.mount.structure import STEADYING_NMM, Mounted
from steadfold.quantities import weight_n
from steadfold.sheet.mesh import SheetMesh
from steadfold.sheet.part import Bend, Part

LARGE_TURN_RAD = 0.0873
"""5°: beyond it the small-displacement theory of the model says too much."""

LEFT_OUT_SHARE = 0.002
"""Share of the sheet that the mesh may leave out before it is told (judgement)."""

TWIST_RAD = 0.5 * 0.0174533
PRIES_FROM = 1.3
"""Pull of the fixings over the hand formula's from which prying is told (judgement)."""

STEADYING_SHARE = 0.01

SPARE = 1.5
"""Factor to a set that is left when something is hung on for a test (judgement)."""

UNREADABLE_MM = 0.05
"""Sag that a ruler or calliper does not show (judgement)."""


def findings_of(
    here: Mounted,
    answers: Sequence[Answer],
    results: Sequence[Result],
    sag_limit_mm: float,
    buckling_factor: float | None,
) -> tuple[Finding, ...]:
    """Every finding that strength knows of."""
    found: list[Finding] = []
    found += _roots(here, answers)
    found += _sideways(here, answers)
    found += _sag(here, answers, sag_limit_mm)
    found += _lips(here, answers)
    found += _webs(here)
    found += _twist(here, results[0])
    if buckling_factor is not None and buckling_factor < 2 * BUCKLING_FACTOR:
        found.append(
            Finding(
                "edge-buckles",
                Severity.CAUTION,
                here.part.name,
                f"A free edge buckles at {buckling_factor:.1f} times the load by the linear theory; real sheet buckles sooner.",
                buckling_factor,
                BUCKLING_FACTOR,
                "linear buckling of the shell model; factor 2: judgement",
                "turn a lip along the free edge",
            )
        )
    found += _beyond_theory(here, answers, results)
    found += left_out(here.part, here.mesh)
    return tuple(found)


def _roots(here: Mounted, answers: Sequence[Answer]) -> list[Finding]:
    worst: dict[str, tuple[float, str]] = {}
    for a in answers:
        for place, stress in a.cut_stress_mpa.items():
            if place.startswith("root of") and stress > worst.get(place, (0.0, ""))[0]:
                worst[place] = (stress, a.case.name)
    return [
        Finding(
            "tine-root-yields",
            Severity.CAUTION,
            place,
            f"The {place} sees {stress:.0f} MPa ({case}); {here.metal.yield_mpa / SET_FACTOR:.0f} MPa is allowed"
            + (", and it stays bent." if stress > here.metal.yield_mpa else "."),
            stress,
            here.metal.yield_mpa / SET_FACTOR,
            f"yield / {SET_FACTOR:g} on the nominal stress of the section",
            "fold it to a channel with its legs tied past the root, turn it on edge, or make it wider; thicker helps least",
        )
        for place, (stress, case) in worst.items()
        if here.metal.ductile and stress > here.metal.yield_mpa / SET_FACTOR
    ]


def _sideways(here: Mounted, answers: Sequence[Answer]) -> list[Finding]:
    knocks = [a for a in answers if a.case.name == "knock" and a.worst is not None]
    worst = max(knocks, key=lambda a: a.worst.value or 0.0 if a.worst else 0.0, default=None)
    if worst is None or worst.worst is None or (worst.worst.value or 0.0) <= 1.0:
        return []
    return [
        Finding(
            "weak-sideways",
            Severity.CAUTION,
            worst.worst.place,
            f"{worst.case.say[0].upper() + worst.case.say[1:]} uses {worst.worst.value:.2f} of what is allowed ({worst.worst.say}).",
            worst.worst.value,
            1.0,
            "a stray force of somebody passing: common practice, no source",
            "keep it out of the way, fold lips along its sides, or state in the job that nobody can knock it",
        )
    ]


def _sag(here: Mounted, answers: Sequence[Answer], limit_mm: float) -> list[Finding]:
    sag = answers[0].sag_mm
    if sag <= limit_mm:
        return []
    return [
        Finding(
            "sags-visibly",
            Severity.CAUTION,
            here.part.name,
            f"At rest it sags {sag:.1f} mm; {limit_mm:.1f} mm is the limit.",
            sag,
            limit_mm,
            "a hundredth of the reach, where the job gives no limit: common practice, no source",
            "make it deeper where it bends: fold a lip or side rather than thicker sheet",
        )
    ]


def _lips(here: Mounted, answers: Sequence[Answer]) -> list[Finding]:
    """Lips and sides of a panel that end at a relief beside its root bend stiffen it everywhere but there."""
    found = []
    allowed = here.metal.yield_mpa / SET_FACTOR
    for bend in here.part.bends:
        if bend.parent != here.fixings.panel:
            continue
        side = [
            here.part.panels[b.child].name
            for b in here.part.bends
            if b.parent == bend.child and abs(b.parent_along[1]) > 0.9 and abs(b.parent_along[0]) < 0.1
        ]
        if side:
            name = here.part.panels[bend.child].name
            left = _width_beside_root(here.part, bend)
            said = f"{', '.join(side)} stiffen {name}, but they stop at its root bend, where it is "
            weak = left < 0.98 * bend.length_mm
            sees = max((_beside_root_mpa(a, name) for a in answers), default=0.0)
            if weak:
                said += f"weaker than flat sheet: the reliefs at their ends leave {left:.1f} of its {bend.length_mm:.1f} mm"
                if here.metal.ductile:
                    said += f", which see {sees:.0f} MPa where {allowed:.0f} MPa is allowed"
            else:
                said += "as weak as flat sheet"
            found.append(
                Finding(
                    "lip-stops-short",
                    Severity.CAUTION if weak and here.metal.ductile and sees > allowed else Severity.NOTE,
                    f"root of {name}",
                    f"{said}.",
                    left,
                    bend.length_mm,
                    "geometry",
                    "tie the lips to the back with a tang, bolt or weld past the root",
                )
            )
    return found


def _beside_root_mpa(answer: Answer, name: str) -> float:
    """The largest nominal stress of the sections just beyond a panel's root bend."""
    places = (f"outer side of the bend to {name}", f"{NET_PLACES[0]} {name},")
    return max((v for place, v in answer.cut_stress_mpa.items() if place.startswith(places)), default=0.0)


def _width_beside_root(part: Part, bend: Bend) -> float:
    """The least width of metal (mm) that a panel has within a bend's allowance and two thicknesses of its root bend: what the
    reliefs of its sides leave."""
    panel = shapely.union_all([face.outer.polygon() for face in part.panels[bend.child].faces])
    along = np.asarray(bend.child_along, dtype=float)
    away = np.array([-along[1], along[0]])
    start = np.asarray(bend.child_point, dtype=float)
    if not panel.intersects(shapely.Point(*(start + 0.5 * bend.length_mm * along + 0.1 * away))):
        away = -away
    widths = []
    for out in np.arange(0.1, bend.allowance_mm + 2 * part.thickness_mm, 0.2):
        here = start + out * away
        line = shapely.LineString([here - 0.1 * along, here + (bend.length_mm + 0.1) * along])
        widths.append(float(panel.intersection(line).length))
    return min(widths, default=bend.length_mm)


def _webs(here: Mounted) -> list[Finding]:
    """The thinnest metal of each panel between two openings, or an opening and an edge, where it is under two thicknesses."""
    limit, webs = LEAST_LIGAMENT_T * here.part.thickness_mm, thin_webs(here.part)
    found = []
    for number, panel in enumerate(here.part.panels):
        thinnest = min((w for w in webs if w.panel == number), key=lambda w: w.width_mm, default=None)
        if thinnest is None:
            continue
        (x, y), least = thinnest.opening_mm, thinnest.width_mm
        found.append(
            Finding(
                "web-between-slots-thin",
                Severity.CAUTION,
                f"{panel.name} at {x:.0f}, {y:.0f} mm",
                f"Only {least:.1f} mm of metal is left beside an opening in {panel.name!r}; {limit:.1f} mm or more carries.",
                least,
                limit,
                "two thicknesses: common practice, no source",
                f"move the openings {limit - least:.1f} mm apart",
            )
        )
    return found


def _twist(here: Mounted, resting: Result) -> list[Finding]:
    """Panels off the wall that turn about the direction they stand out in: an open section beside its shear centre."""
    out = here.out
    worst, name = 0.0, ""
    for index, panel in enumerate(here.part.panels):
        nodes = here.mesh.node_region == index
        if index == here.fixings.panel or not nodes.any():
            continue
        turn = abs(float(np.mean(resting.displacement[: here.mesh.node_count][nodes][:, 3:] @ out)))
        if turn > worst:
            worst, name = turn, panel.name
    if worst < TWIST_RAD:
        return []
    return [
        Finding(
            "twists",
            Severity.CAUTION,
            name,
            f"Under its load {name!r} twists by {np.degrees(worst):.1f}°.",
            float(np.degrees(worst)),
            float(np.degrees(TWIST_RAD)),
            "half a degree shows: common practice, no source",
            "load it nearer its web, fit handed parts as a pair, or close the section to a box",
        )
    ]


def pried_off(here: Mounted, by_hand_n: float, by_model_n: float) -> list[Finding]:
    """The fixings pull clearly more than the load's lever makes them: the part pries on them."""
    if by_hand_n <= 0 or by_model_n < PRIES_FROM * by_hand_n:
        return []
    return [
        Finding(
            "pried-off",
            Severity.CAUTION,
            here.part.panels[here.fixings.panel].name,
            f"Together the fixings pull {by_model_n:.0f} N, {by_model_n / by_hand_n:.1f} times what the load's lever alone "
            f"({by_hand_n:.0f} N) makes: the back bends and pries on them.",
            by_model_n / by_hand_n,
            PRIES_FROM,
            "contact of the back with the wall in the model, beside the hand formula",
            "put the fixings nearer to where the load comes in, add some, or stiffen the back",
        )
    ]


def left_out(part: Part, mesh: SheetMesh) -> list[Finding]:
    """Metal that the strength model does not hold: slivers narrower than about three quarters of the thickness."""
    area = sum(panel.area_mm2 for panel in part.panels)
    share = mesh.left_out_mm2 / area
    if share < LEFT_OUT_SHARE:
        return []
    return [
        Finding(
            "metal-left-out",
            Severity.CAUTION,
            part.name,
            f"{mesh.left_out_mm2:.0f} mm² of slivers ({100 * share:.1f} % of the sheet) are too narrow for the strength model and "
            "carry nothing in it; what hangs on them is not judged.",
            100 * share,
            100 * LEFT_OUT_SHARE,
            "the model's own limit: metal narrower than about three quarters of its thickness",
            "widen the slivers, or cut them away",
        )
    ]


def _beyond_theory(here: Mounted, answers: Sequence[Answer], results: Sequence[Result]) -> list[Finding]:
    found = []
    count = here.mesh.node_count
    turn = float(np.abs(results[0].displacement[:count, 3:]).max(initial=0.0))
    if turn > LARGE_TURN_RAD:
        found.append(
            Finding(
                "beyond-theory",
                Severity.CAUTION,
                here.part.name,
                f"At rest something turns by {np.degrees(turn):.0f}°, more than the 5° up to which the model's sag is true.",
                float(np.degrees(turn)),
                5.0,
                "small-displacement theory",
            )
        )
    moment = np.abs(spring_forces(results[0])[:, 3:]).sum()
    total = sum(weight_n(i.mass_kg.high) for i in here.items) * 10.0
    if moment > STEADYING_SHARE * max(total, 1.0) and len(here.holes) == 1:
        found.append(
            Finding(
                "slides-down",
                Severity.UNPROVEN,
                here.part.panels[here.fixings.panel].name,
                "One fixing alone keeps the part from turning only by friction, which nothing here proves.",
                float(moment),
                STEADYING_NMM,
                "statics",
                "use a second fixing",
            )
        )
    return found


@dataclass(frozen=True)
class Tonight:
    """A prediction to test by hand, in words, and how far the items alone let the part sag where it sags most (mm; from
    hanging them on, within minutes), nan where there is nothing to hang."""

    say: str
    sag_mm: float


def tonight(here: Mounted, answers: Sequence[Answer], results: Sequence[Result]) -> Tonight:
    """What to hang where and the sag to expect from it, inside the elastic range.

    Counted from the empty part, since that is where a ruler starts; a print is tested tonight, not in a year, so its
    modulus is the short one. No more is hung than leaves a factor of `SPARE` to a set.
    """
    if not here.items:
        return Tonight("", math.nan)
    empty = solve(here.structure, [answers[0].case.without_items])[0]
    moved = (results[0].displacement[:, :3] - empty.displacement[:, :3]) @ here.down
    at = max(range(len(here.items)), key=lambda i: (round(float(moved[here.load_nodes[i]]), 9), -i))
    sag = float(moved[here.load_nodes[at]]) * here.metal.sustained_modulus_factor
    share = min(1.0, answers[0].load_factor_set / SPARE)
    place = here.part.panels[here.items[at].panel].name
    return Tonight(
        f"{_hung(here.items, share)}: {place} should sag {_readable(sag * _part_hung(here.items, share))} where it bears.",
        sag,
    )


def _part_hung(items: Sequence[Placed], share: float) -> float:
    """The share of the mass that is hung: all, or a round mass below what the part bears without a set."""
    if share >= 1.0:
        return 1.0
    most = max(item.mass_kg.high for item in items)
    return _round_down(share * most) / most


def _hung(items: Sequence[Placed], share: float) -> str:
    part = _part_hung(items, share)
    masses = {round(item.mass_kg.high, 9) for item in items}
    total = part * sum(item.mass_kg.high for item in items)
    what = f"{len(items)} places" if len(items) > 1 else "its place"
    if len(masses) == 1:
        said = f"Hang {part * masses.pop():.3g} kg on {'each of ' if len(items) > 1 else ''}{what}"
        said += f" ({total:.3g} kg in all)" if len(items) > 1 else ""
    else:
        said = f"Hang {'everything' if part == 1.0 else f'{100 * part:.0f} % of everything'} in its {what} ({total:.3g} kg in all)"
    return said if part == 1.0 else f"{said}, not more, or it stays bent"


def _round_down(mass: float) -> float:
    """The next 1, 2 or 5 times a power of ten at or below a mass."""
    ten = 10.0 ** math.floor(math.log10(mass))
    return max(step * ten for step in (1.0, 2.0, 5.0) if step * ten <= mass * (1 + 1e-12))


def _readable(sag_mm: float) -> str:
    if sag_mm < UNREADABLE_MM:
        return f"{sag_mm:.2g} mm, too little to read without a dial gauge,"
    return f"{sag_mm:.2f} mm" if sag_mm < 10.0 else f"{sag_mm:.1f} mm"
