"""What the answers of a stand mean: findings by name, few and to the point."""

from __future__ import annotations

import numpy as np

from steadfold.findings import Finding, Severity
from steadfold.stand.sag import SAG_SHARE_OF_REACH
from steadfold.stand.telling_joints import joints, rods
from steadfold.stand.telling_tipping import toppling, weight
from steadfold.stand.told import PRACTICE, Told, some

LARGE_TURN_RAD = 0.0873
"""5 degrees: beyond it the small-displacement theory of the frame says too much."""


def findings_of(told: Told) -> tuple[Finding, ...]:
    """Every finding about a stand: what could hurt somebody first."""
    found = toppling(told) + weight(told) + joints(told) + rods(told) + _sag(told) + _hum(told) + _cracks(told) + _missing(told)
    order = list(Severity)
    return tuple(sorted(found, key=lambda each: order.index(each.severity)))


def _sag(told: Told) -> list[Finding]:
    found = []
    limit = told.stand.limits.sag_mm
    for each in told.budgets:
        allowed = limit if limit is not None else SAG_SHARE_OF_REACH * each.over_mm
        if allowed > 0.0 and each.likely_mm > allowed:
            found.append(
                Finding(
                    "sags-visibly",
                    Severity.CAUTION,
                    each.node,
                    f"It is likely to lie {each.likely_mm:.1f} mm low ({each.slope_mm_per_m:.1f} mm per m); "
                    f"{allowed:.1f} mm is the limit.",
                    each.likely_mm,
                    allowed,
                    "the job" if limit is not None else f"reach / 200, {PRACTICE}",
                    "see its sag budget: stiffen the largest part of it",
                )
            )
    unmeasured = told.stand.bench is not None and told.stand.bench.rack_n_per_mm is None
    if unmeasured:
        found.append(
            Finding(
                "not-computed",
                Severity.NOTE,
                "bench",
                "How far the bench itself racks is not in the sag: nobody measured it.",
                source="the job",
                remedy="push its top with a luggage scale and write racking into [stand.bench]",
            )
        )
    turn = max((result.largest_turn_rad for result in told.results), default=0.0)
    if turn > LARGE_TURN_RAD:
        found.append(
            Finding(
                "beyond-theory",
                Severity.UNPROVEN,
                "frame",
                f"Something turns by {np.degrees(turn):.1f}°: the theory used here holds to about 5°.",
                float(np.degrees(turn)),
                5.0,
                "small displacements",
                "stiffen it",
            )
        )
    return found


def _hum(told: Told) -> list[Finding]:
    if told.hums is None:
        return []
    found = []
    for near in told.hums.near:
        if near.apart >= told.stand.limits.speed_apart:
            continue
        mode = near.mode
        between = mode.low_hz <= near.speed.hz <= mode.high_hz
        found.append(
            Finding(
                "hums",
                Severity.CAUTION,
                near.speed.what,
                f"It turns {near.speed.hz:.1f} times a second; the stand swings {mode.moves} somewhere between "
                f"{mode.low_hz:.1f} and {mode.high_hz:.1f} Hz, "
                + ("so the two may meet." if between else "which is near."),
                near.apart,
                told.stand.limits.speed_apart,
                f"frame with the machine loose or stiff on it; {told.stand.limits.speed_apart:.0%} apart: judgement",
                "bolt the machine down and brace the frame against that swing, or change the speed",
            )
        )
    return found


def _cracks(told: Told) -> list[Finding]:
    machine = told.stand.machine
    if machine is None or not machine.speeds:
        return []
    fastest = max(machine.speeds, key=lambda each: each.hz)
    return [
        Finding(
            "cracks-in-time",
            Severity.CAUTION,
            machine.name,
            f"It shakes up to {fastest.hz:.0f} times a second ({fastest.what}): welds, bends and the edges of holes may "
            "crack in time far below what they carry once. Fatigue is not computed.",
            source=PRACTICE,
            remedy="look at welds, bends and bolt holes after ten hours of running and every month; locknuts",
        )
    ]


def _missing(told: Told) -> list[Finding]:
    found = []
    unpromised = [
        section for section in told.ready.sections if section.strength_mpa is not None and not section.promised
    ]
    if unpromised:
        names = list(dict.fromkeys(each.name for each in unpromised))
        found.append(
            Finding(
                "yield-not-promised",
                Severity.UNPROVEN,
                some(names),
                "No standard promises the yield these are rated by.",
                source=unpromised[0].strength_source,
                remedy="a certificate, or a grade with a promised yield",
            )
        )
    return found
