"""The rating of a part on its wall: every case solved, every link's share, one mass with what governs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadfold.joints.capacity import FixingCapacity
from steadfold.mechanics import Result, ShellReader, buckling, solve
from steadfold.mount.answers import BUCKLING_FACTOR, SET_FACTOR, Answer, Share, answers
from steadfold.mount.cases import Case, cases
from steadfold.mount.collapse import beside, case_to_follow, followed, sooner
from steadfold.mount.cuts import Line
from steadfold.mount.hand import hand_checks
from steadfold.mount.net_sections import cut_lines
from steadfold.mount.records import (
    BoltAnswer,
    Carried,
    CaseAnswer,
    CaseChoices,
    CollapseRun,
    Fixings,
    Link,
    Metal,
    Picture,
    Strength,
)
from steadfold.mount.seams_told import unproven_seams, untied, with_seams
from steadfold.mount.structure import MOST_PATCHES, Mounted, against_wall, mounted, weight_loads
from steadfold.mount.telling import findings_of, pried_off, tonight
from steadfold.quantities import Range
from steadfold.sheet.part import Part

SAG_SHARE_OF_SPAN = 0.01
"""Sag allowed when the job says nothing: a hundredth of how far the load stands out (common practice, no source)."""

COARSE = 1.8
"""The second mesh, for the error bar, is coarser by this factor."""

QUICK_TRIANGLES = 700
"""About how many triangles the quick answer takes, bends and holes apart."""

QUICK_ANGLE_DEG = 15.0
"""Corners that the quick answer puts up with; most of the time of meshing a plate full of slots goes into the last few."""

QUICK_PATCHES = 60
"""Patches of wall that the quick answer feels, at the most."""

MOST_FOLLOWED = 12_000
"""Freedoms up to which a collapse is followed on the first mesh; above, the second one bounds its time."""

LOOK_AGAIN = 4.0
"""Buckling is looked at on the coarse mesh; below so many times the factor wanted the fine one decides."""

BUCKLING_TOLERANCE = 1e-4

CASE_NAMES = ("resting", "snatch", "knock", "lean")


@dataclass(frozen=True, eq=False)
class Solved:
    """All cases of one mesh, solved and read."""

    here: Mounted
    reader: ShellReader
    lines: tuple[Line, ...]
    answers: tuple[Answer, ...]
    results: tuple[Result, ...]
    sag_limit_mm: float


def strength(
    part: Part,
    metal: Metal,
    fixings: Fixings,
    carried: Sequence[Carried],
    choices: CaseChoices,
    capacity: FixingCapacity | None,
    size_mm: float | None = None,
    fine: bool = True,
    progress: Callable[[float, str], None] = lambda share, what: None,
) -> Strength:
    """Rate a part.

    `fine` False gives the quick answer: a coarse mesh, no second one, no buckling. Raises `MountError` for
    loads or fixings that make no sense, `Mechanism` when something can still move.
    """
    progress(0.0, "mesh")
    if not fine:
        quick = quickly_solved(part, metal, fixings, carried, choices, capacity, size_mm)
        return told(quick, capacity, None, math.nan)
    full = solved(part, metal, fixings, carried, choices, capacity, size_mm, 3, 20)
    progress(0.6, "second mesh")
    coarse = solved(
        part, metal, fixings, carried, choices, capacity, COARSE * _size_of(full.here), 2, 12, None, _hardest(full)
    )
    progress(0.8, "buckling")
    factor = _buckling(coarse)
    if factor is not None and factor < LOOK_AGAIN * BUCKLING_FACTOR:
        factor = _buckling(full)
    progress(0.9, "giving way")
    error = _error(full, coarse)
    run = _followed(full, coarse)
    if run is not None and run.decides:
        full = replace(full, answers=tuple(sooner(a, run) for a in full.answers))
    return told(full, capacity, factor, error, run)


def _followed(full: Solved, coarse: Solved) -> CollapseRun | None:
    """The collapse of the case that works the sheet hardest, where the sheet decides; on the second mesh where the first
    is large and the second has that case."""
    hardest = case_to_follow(full.answers, full.here.metal)
    if hardest is None:
        return None
    taken, on = full.answers[hardest], full.here
    again = [a for a in coarse.answers if (a.case.name, a.case.say) == (taken.case.name, taken.case.say)]
    if 6 * full.here.mesh.node_count > MOST_FOLLOWED and len(again) == 1:
        return followed(coarse.here.structure, again[0], on.metal, taken.load_factor_collapse)
    return followed(on.structure, taken, on.metal, taken.load_factor_collapse)


def _hardest(full: Solved) -> tuple[int, ...]:
    """Numbers of the cases that the second mesh solves: the hardest of each link, and the one that buckling looks at."""
    wanted = {_pressing(full)}
    links = {s.link for a in full.answers for s in a.shares if s.value is not None}
    for link in links:
        values = [max((s.value or 0.0 for s in a.shares if s.link == link), default=0.0) for a in full.answers]
        wanted.add(int(np.argmax(values)))
    return tuple(sorted(wanted))


def _size_of(here: Mounted) -> float:
    """The triangle side that would give the mesh's count of triangles evenly over its panels."""
    area = sum(panel.area_mm2 for panel in here.part.panels)
    return math.sqrt(area / (0.433 * max(len(here.mesh.triangles), 1)))


def quickly_solved(
    part: Part,
    metal: Metal,
    fixings: Fixings,
    carried: Sequence[Carried],
    choices: CaseChoices,
    capacity: FixingCapacity | None,
    size_mm: float | None = None,
) -> Solved:
    """Every case of a part on the mesh of the quick answer."""
    here = mounted(part, metal, fixings, carried, size_mm, 1, 12, QUICK_TRIANGLES, good_angle_deg=QUICK_ANGLE_DEG)
    return _solved(here, choices, capacity, None, QUICK_PATCHES)


def solved(
    part: Part,
    metal: Metal,
    fixings: Fixings,
    carried: Sequence[Carried],
    choices: CaseChoices,
    capacity: FixingCapacity | None,
    size_mm: float | None,
    facets: int,
    segments: int,
    triangles: int | None = None,
    only: tuple[int, ...] | None = None,
) -> Solved:
    """Every case of a part on one mesh, solved and read, or those of some numbers; see `mounted` for the mesh's
    arguments."""
    here = mounted(part, metal, fixings, carried, size_mm, facets, segments, triangles)
    return _solved(here, choices, capacity, only, MOST_PATCHES)


def _solved(
    here: Mounted,
    choices: CaseChoices,
    capacity: FixingCapacity | None,
    only: tuple[int, ...] | None,
    most_patches: int,
) -> Solved:
    wanted = _cases(here, choices)
    if only is not None:
        wanted = tuple(wanted[k] for k in only if k < len(wanted))
    here = against_wall(here, [case.loads for case in wanted], most_patches)
    results = solve(here.structure, [case.loads for case in wanted])
    lines = cut_lines(here)
    limit = sag_limit(here, choices)
    reader = ShellReader(here.model)
    joined = (Line.joined(lines),) if lines else ()
    read = with_seams(here, answers(here, wanted, results, reader, joined, capacity, limit), results)
    return Solved(here, reader, joined, read, tuple(results), limit)


def _cases(here: Mounted, choices: CaseChoices) -> tuple[Case, ...]:
    if choices.drop_height_mm is None or "drop_height" in choices.refused:
        return cases(here, choices)
    rest = weight_loads(here, 1.0)
    resting = solve(against_wall(here, [rest]).structure, [rest])[0]
    return cases(here, choices, float((resting.displacement[:, :3] @ here.down).max()))


def sag_limit(here: Mounted, choices: CaseChoices) -> float:
    """The sag allowed: the job's, else a hundredth of how far the furthest item stands out from the wall; endless where
    the job refuses a limit in words."""
    if "sag_limit" in choices.refused:
        return math.inf
    if choices.sag_limit_mm is not None:
        return choices.sag_limit_mm
    frame = here.pose.panels[here.fixings.panel]
    outs = [(here.nodes_mm[n] - frame.origin) for n in here.load_nodes] or [
        here.nodes_mm[: here.mesh.node_count] - frame.origin
    ]
    reach = max(float(np.max(np.abs(np.atleast_2d(o) @ here.out))) for o in outs)
    along = max(float(np.ptp(here.nodes_mm[: here.mesh.node_count] @ here.sideways)), 1.0)
    return SAG_SHARE_OF_SPAN * max(reach, 0.25 * along, 10.0)


def _buckling(full: Solved) -> float | None:
    """Lowest linear buckling factor of the snatch (or resting) case; None where nothing is pressed."""
    found = buckling(full.here.structure, full.results[_pressing(full)], 1, BUCKLING_TOLERANCE)
    factors = [f for f in found.factors if f > 0]
    return float(min(factors)) if factors else None


def _pressing(full: Solved) -> int:
    """The number of the case that buckling looks at."""
    return next((i for i, a in enumerate(full.answers) if a.case.name == "snatch"), 0)


def _error(full: Solved, coarse: Solved) -> float:
    """Relative difference of the governing share between the two meshes."""
    one, two = _worst(full), _worst(coarse)
    if one is None or two is None or not one:
        return math.nan
    return abs(two - one) / one


def _worst(solved: Solved) -> float | None:
    shares = [s.value for a in solved.answers for s in a.shares if s.value is not None]
    return max(shares, default=None)


def told(
    full: Solved,
    capacity: FixingCapacity | None,
    buckling_factor: float | None,
    error: float,
    run: CollapseRun | None = None,
) -> Strength:
    """The strength that solved cases say; `error` is the relative difference of two meshes, nan where there is one, and
    `run` a collapse that was followed, which the answers have in them already."""
    here = full.here
    by_case = [_case_answer(full, name, buckling_factor) for name in CASE_NAMES]
    chain = _chain(full, buckling_factor)
    carried = Range(sum(i.mass_kg.low for i in here.items), sum(i.mass_kg.high for i in here.items))
    rating, governs = _rating(full, capacity, buckling_factor, carried.high, run)
    spread = error if math.isfinite(error) else 0.0
    resting = full.results[0]
    hand = hand_checks(here, full.answers[0], resting, capacity)
    to_try = tonight(here, full.answers, full.results)
    if run is not None:
        hand = (*hand, beside(run))
    findings = untied(here, findings_of(here, full.answers, full.results, full.sag_limit_mm, buckling_factor))
    findings += unproven_seams(here)
    for check in hand:
        if check.unit == "N":
            findings += pried_off(here, check.by_hand, check.by_model)
    return Strength(
        rating,
        rating * max(0.0, 1.0 - spread),
        rating * (1.0 + spread),
        governs,
        carried,
        tuple(c for c in by_case if c is not None),
        _bolts(full),
        chain,
        hand,
        tuple(findings),
        6 * here.mesh.node_count,
        error,
        full.sag_limit_mm,
        to_try.say,
        _picture(full),
        None if math.isnan(to_try.sag_mm) else to_try.sag_mm,
        run,
    )


def _case_answer(full: Solved, name: str, buckling_factor: float | None) -> CaseAnswer | None:
    """The worst of all loadings of one case."""
    mine = [a for a in full.answers if a.case.name == name]
    if not mine:
        return None

    def size(a: Answer) -> float:
        return a.worst.value if a.worst is not None and a.worst.value is not None else 0.0

    worst = max(mine, key=size)
    share, governs = size(worst), worst.worst.place if worst.worst is not None else ""
    buckles = buckling_factor if name == "snatch" or (name == "resting" and len(full.answers) == 1) else None
    if buckles is not None and BUCKLING_FACTOR / buckles > share:
        share, governs = BUCKLING_FACTOR / buckles, "a free edge that buckles"
    return CaseAnswer(
        name,
        worst.case.say,
        max(a.sag_mm for a in mine),
        min(a.load_factor_set for a in mine),
        min(a.load_factor_collapse for a in mine),
        buckles,
        max(a.peak_stress_mpa for a in mine),
        share,
        governs,
    )


def _chain(full: Solved, buckling_factor: float | None) -> tuple[Link, ...]:
    """The links from tool to wall, each with its worst share over all cases; unproven ones first to be seen."""
    found: dict[str, Link] = {}
    for a in full.answers:
        for s in a.shares:
            known = found.get(s.link)
            if known is None or _harder(s, known):
                found[s.link] = Link(s.link, s.place, s.value, a.case.name, s.say)
    if buckling_factor is not None:
        share = BUCKLING_FACTOR / buckling_factor
        found["free edge"] = Link(
            "free edge",
            "a free edge",
            share,
            "snatch",
            f"buckles at {buckling_factor:.1f} times the load, {BUCKLING_FACTOR:g} wanted",
        )
    return tuple(found.values())


def _harder(one: Share, known: Link) -> bool:
    if one.value is None:
        return known.share is not None and known.share <= 1.0
    return known.share is not None and one.value > known.share


def _bolts(full: Solved) -> tuple[BoltAnswer, ...]:
    """Each fixing in the case that works it hardest."""
    found = []
    for index, (_, hole) in enumerate(full.here.holes):
        hardest = max(
            full.answers, key=lambda a: (a.bolts[index][2] or 0.0, math.hypot(a.bolts[index][0], a.bolts[index][1]))
        )
        tension, shear, share = hardest.bolts[index]
        found.append(BoltAnswer(hole.at_mm, tension, shear, share, hardest.case.name))
    return tuple(found)


def _rating(
    full: Solved,
    capacity: FixingCapacity | None,
    buckling_factor: float | None,
    carried_kg: float,
    run: CollapseRun | None,
) -> tuple[float, str]:
    """The mass at which the first link uses all it may, and which that is.

    Every share is taken straight from its value without the items to its value with them (weight works in
    proportion; contact without gaps does too). A knock or lean that fails with nothing on the part sets no mass: the
    verdict and a finding tell of it. A part that fails under its own weight carries nothing.
    """
    here = full.here
    factor, governs = math.inf, "nothing"
    waiting = sorted(full.answers, key=_least_scale)
    while waiting and _least_scale(waiting[0]) < factor:  # weight without the items can only help the others
        now = waiting[:1] if math.isinf(factor) else [a for a in waiting if _least_scale(a) < factor]
        waiting = waiting[len(now) :]
        loads = {id(a.case.without_items): a.case.without_items for a in now}
        bare = dict(zip(loads, solve(here.structure, list(loads.values())), strict=True))
        results = [bare[id(a.case.without_items)] for a in now]
        read = answers(here, [a.case for a in now], results, full.reader, full.lines, capacity, full.sag_limit_mm)
        read = with_seams(here, read, results)
        for a, empty in zip(now, read, strict=True):
            unloaded = _worst_by_link(sooner(empty, run).shares)
            for link, share in _worst_by_link(a.shares).items():
                start = (unloaded[link].value or 0.0) if link in unloaded else 0.0
                if share.value is None:
                    continue
                if start >= 1.0 and a.case.name in ("resting", "snatch"):
                    return 0.0, f"{share.place}, {a.case.name}, with nothing on it"
                if start >= 1.0:
                    continue  # a knock or somebody leaning fails it whatever it carries: told as a finding
                scale = _scale(start, share.value)
                if scale < factor:
                    factor, governs = scale, f"{share.place}, {a.case.name}"
    if buckling_factor is not None and buckling_factor / BUCKLING_FACTOR < factor:
        factor, governs = buckling_factor / BUCKLING_FACTOR, "a free edge that buckles, snatch"
    return carried_kg * factor, governs


def _least_scale(a: Answer) -> float:
    """No mass factor that this case sets is below this one: 0 where a share is over 1 with the items on."""
    worst = a.worst.value if a.worst is not None and a.worst.value is not None else 0.0
    return 0.0 if worst > 1.0 else 1.0 / max(worst, 1e-9)


def _worst_by_link(shares: Sequence[Share]) -> dict[str, Share]:
    found: dict[str, Share] = {}
    for s in shares:
        if s.value is not None and (s.link not in found or s.value > (found[s.link].value or 0.0)):
            found[s.link] = s
    return found


def _scale(empty: float, loaded: float) -> float:
    """How many times the items' mass brings a share to 1."""
    if loaded <= empty + 1e-9:
        return math.inf
    return (1.0 - empty) / (loaded - empty)


def _picture(full: Solved) -> Picture:
    here = full.here
    count = here.mesh.node_count
    worst = np.zeros(len(here.mesh.triangles))
    for a in full.answers:
        if a.case.name == "knock":
            continue  # at a few corners only: it would make like parts look unlike
        worst = np.maximum(worst, SET_FACTOR * a.sheet_share)
    loads = tuple(
        (here.nodes_mm[node], here.down, f"{item.item}: {item.mass_kg.high:g} kg")
        for node, item in zip(here.load_nodes, here.items, strict=True)
    )
    return Picture(
        here.nodes_mm[:count],
        here.mesh.triangles,
        worst,
        full.results[0].displacement[:count, :3],
        loads,
        tuple(here.nodes_mm[n] for n in here.bolt_nodes),
    )
