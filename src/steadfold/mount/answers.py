"""From solved cases to shares of what is allowed: cuts, sheet, fixings, sag."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from steadfold.joints.capacity import FixingCapacity, governing
from steadfold.mechanics import Result, ShellForces, ShellReader, ilyushin, spring_forces, von_mises
from steadfold.mount.cases import Case
from steadfold.mount.cuts import Line, elastic_stress_mpa, forces_through, plastic_share
from steadfold.mount.net_sections import NET_PLACES
from steadfold.mount.structure import Mounted

SET_FACTOR = 1.5
"""Load factor wanted before the part takes a permanent set."""

COLLAPSE_FACTOR = 2.0
"""Load factor wanted before it gives way."""

BUCKLING_FACTOR = 2.0
"""Load factor wanted before a free edge buckles, by the linear theory."""

AVERAGED_T = 4.0
"""Ilyushin's criterion is averaged over this many thicknesses: peaks at corners grow with refinement, this does not."""


@dataclass(frozen=True)
class Share:
    """A share of what is allowed: of what, where, how much (1 is all; None where nothing proves the limit)."""

    link: str
    place: str
    value: float | None
    say: str


@dataclass(frozen=True)
class Answer:
    """What one solved case says: shares by link, sag, factors, bolt forces, peak stress.

    `sheet_share` (m,) is the share of the metal's strength that each triangle works at: Ilyushin's measure, averaged
    over 4 t.
    """

    case: Case
    shares: tuple[Share, ...]
    sag_mm: float
    load_factor_set: float
    load_factor_collapse: float
    peak_stress_mpa: float
    bolts: tuple[tuple[float, float, float | None], ...]
    cut_stress_mpa: dict[str, float]
    sheet_share: np.ndarray = field(repr=False)

    @property
    def worst(self) -> Share | None:
        """The largest proven share."""
        return max((s for s in self.shares if s.value is not None), key=lambda s: s.value or 0.0, default=None)


def answer(
    here: Mounted,
    case: Case,
    result: Result,
    reader: ShellReader,
    lines: Sequence[Line],
    capacity: FixingCapacity | None,
    sag_limit_mm: float | None,
) -> Answer:
    """Read one case's answer."""
    return answers(here, [case], [result], reader, lines, capacity, sag_limit_mm)[0]


def answers(
    here: Mounted,
    cases: Sequence[Case],
    results: Sequence[Result],
    reader: ShellReader,
    lines: Sequence[Line],
    capacity: FixingCapacity | None,
    sag_limit_mm: float | None,
) -> tuple[Answer, ...]:
    """Read the answers of several cases together. `lines` are read faster when they are joined into one."""
    if not cases:
        return ()
    line = Line.joined(lines) if len(lines) > 1 else lines[0] if lines else None
    stresses = plastic = np.zeros((0, len(cases)))
    if line is not None:
        through = forces_through(line, line.reader.all_forces(results))
        stresses, plastic = elastic_stress_mpa(line, through), plastic_share(line, through, here.metal.yield_mpa)
    clamped = _under_washers(here)
    return tuple(
        _answer(
            here,
            case,
            result,
            line,
            stresses[:, k],
            plastic[:, k],
            _sheet_share(here, forces, reader, clamped),
            capacity,
            sag_limit_mm,
        )
        for k, (case, result, forces) in enumerate(zip(cases, results, reader.all_forces(results), strict=True))
    )


def _answer(
    here: Mounted,
    case: Case,
    result: Result,
    line: Line | None,
    stresses: np.ndarray,
    plastic: np.ndarray,
    of_sheet: tuple[np.ndarray, str, float],
    capacity: FixingCapacity | None,
    sag_limit_mm: float | None,
) -> Answer:
    metal = here.metal
    sag = float((result.displacement[: here.mesh.node_count, :3] @ here.down).max(initial=0.0))
    worst_stress, worst_plastic = (0.0, ""), (0.0, "")
    cut_stress: dict[str, float] = {}
    if line is not None:
        for cut, stress in zip(line.cuts, stresses.tolist(), strict=True):
            cut_stress[cut.place] = max(stress, cut_stress.get(cut.place, 0.0))
        worst_stress, worst_plastic = _largest(line, stresses), _largest(line, plastic)
    used, place, peak = of_sheet
    sheet = float(used.max())
    shares = []
    if metal.ductile:
        if line is not None:
            shares.append(
                _of_metal(_link(worst_stress[1]), worst_stress[1], worst_stress[0] / metal.yield_mpa, SET_FACTOR)
            )
        shares.append(_of_metal("sheet", place, sheet, SET_FACTOR))
        share, where = max((sheet, place), worst_plastic)
        shares.append(
            _of_metal("sheet" if share == sheet else _link(where), where, share, COLLAPSE_FACTOR, "giving way")
        )
        set_factor = 1.0 / max(worst_stress[0] / metal.yield_mpa, sheet, 1e-12)
        collapse_factor = 1.0 / max(share, 1e-12)
    else:
        lasting = case.name == "resting"
        allowed = metal.yield_mpa * (metal.sustained_share if lasting else metal.short_share)
        stress, where = max((1.5 * sheet * metal.yield_mpa, place), worst_stress)
        kind = "a lasting load" if lasting else "a short load"
        shares.append(
            Share(
                "sheet",
                where,
                stress / allowed,
                f"{stress:.1f} MPa of the {allowed:.1f} MPa that {kind} may use at {where}",
            )
        )
        set_factor = collapse_factor = metal.yield_mpa / max(stress, 1e-12)
    bolts = _bolts(here, result, capacity)
    shares += _fixing_shares(here, bolts, capacity)
    if sag_limit_mm is not None and np.isfinite(sag_limit_mm) and case.name == "resting":
        shares.append(
            Share("sag", "the load", sag / sag_limit_mm, f"sags {sag:.2f} mm of the {sag_limit_mm:.2f} mm allowed")
        )
    return Answer(
        case,
        tuple(shares),
        sag,
        set_factor,
        collapse_factor,
        peak,
        tuple((t, v, s) for t, v, s, _ in bolts),
        cut_stress,
        used,
    )


def _largest(line: Line, values: np.ndarray) -> tuple[float, str]:
    """The largest value of a line's cuts, and where."""
    worst = int(np.argmax(values))
    return float(values[worst]), line.cuts[worst].place


def _link(place: str) -> str:
    """The link of the chain that a cut belongs to."""
    if place.startswith("the row of fixings"):
        return "fixing row"
    return "net section" if place.startswith(NET_PLACES) else "bend"


def _of_metal(link: str, place: str, used: float, factor: float, what: str = "taking a set") -> Share:
    return Share(
        link, place, used * factor, f"{place}: a factor of {1 / max(used, 1e-12):.2f} to {what}, {factor:g} wanted"
    )


def _sheet_share(
    here: Mounted, forces: ShellForces, reader: ShellReader, clamped: np.ndarray
) -> tuple[np.ndarray, str, float]:
    """Ilyushin's share averaged over 4 t (m,), where it is worst, and the raw peak stress beside it."""
    model = here.model
    used = ilyushin(model, forces, here.metal.yield_mpa)
    mean = _averaged(here, used, reader, clamped)
    worst = int(np.argmax(mean))
    region = int(here.mesh.region[worst])
    if region < here.mesh.panel_count:
        place = f"panel {here.part.panels[region].name}"
    else:
        place = f"the bend to {here.part.panels[here.part.bends[region - here.mesh.panel_count].child].name}"
    stress = von_mises(model, forces).max(axis=1)
    return mean, place, float(np.where(clamped, 0.0, stress).max())


def _under_washers(here: Mounted) -> np.ndarray:
    """Triangles wholly under a washer, which the model holds rigid."""
    rigid = np.zeros(len(here.nodes_mm), dtype=bool)
    for spider in here.model.spiders:
        if spider.kind == "rigid":
            rigid[spider.ring] = True
    return np.asarray(rigid[here.mesh.triangles].all(axis=1))


def _averaged(here: Mounted, used: np.ndarray, reader: ShellReader, clamped: np.ndarray) -> np.ndarray:
    """Mean of a measure over 4 t around each triangle; the rigid ones under washers have no say and get none."""
    radius = AVERAGED_T * here.part.thickness_mm
    says = np.where(clamped, 0.0, 1.0)
    return np.where(
        clamped, 0.0, reader.averaged(used * says, radius) / np.maximum(reader.averaged(says, radius), 1e-12)
    )


def _bolts(
    here: Mounted, result: Result, capacity: FixingCapacity | None
) -> list[tuple[float, float, float | None, str]]:
    """Pull and shear of each fixing, the share it uses, and by which link."""
    found: list[tuple[float, float, float | None, str]] = []
    for force in spring_forces(result):
        tension, shear = max(-float(force[2]), 0.0), float(np.hypot(force[0], force[1]))
        if capacity is None:
            found.append((tension, shear, None, "fixing"))
            continue
        link, share = governing(capacity, tension, shear)
        known = share == share and (capacity.proven or share > 1.0)
        found.append((tension, shear, float(share) if known else None, link))
    return found


def _fixing_shares(
    here: Mounted, bolts: list[tuple[float, float, float | None, str]], capacity: FixingCapacity | None
) -> list[Share]:
    if any(share is None for _, _, share, _ in bolts):
        why = capacity.why_unproven if capacity is not None else "nothing is known of the fixing or its backing"
        return [Share("fixing", "the fixings", None, f"what a fixing holds there is not proven: {why}")]
    index = max(range(len(bolts)), key=lambda i: bolts[i][2] or 0.0)
    tension, shear, share, link = bolts[index]
    x, y = here.holes[index][1].at_mm
    return [
        Share(
            link, f"the fixing at {x:.0f}, {y:.0f} mm", share, f"{tension:.0f} N pull and {shear:.0f} N shear on {link}"
        )
    ]
