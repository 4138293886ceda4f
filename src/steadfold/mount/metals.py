"""One solution read for several metals that are equally stiff and heavy: only what they may bear differs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from steadfold.joints.capacity import FixingCapacity
from steadfold.mount.answers import answers
from steadfold.mount.rating import Solved, quickly_solved, told
from steadfold.mount.records import Carried, CaseChoices, Fixings, Metal, Strength
from steadfold.sheet.part import Part


def same_stiffness(one: Metal, two: Metal) -> bool:
    """True for metals that move and weigh the same, so that one solution serves both."""
    return replace(one, yield_mpa=two.yield_mpa) == two


def quick_strengths(
    part: Part,
    metals: Sequence[Metal],
    fixings: Fixings,
    carried: Sequence[Carried],
    choices: CaseChoices,
    capacities: Sequence[FixingCapacity | None],
) -> tuple[Strength, ...]:
    """The quick answer for each of several metals of one stiffness, from one solution.

    `capacities` are the fixings' for each metal. Raises as `strength` does, and `ValueError` for metals that
    differ in more than their yield.
    """
    if not all(same_stiffness(metals[0], metal) for metal in metals):
        raise ValueError("these metals differ in stiffness or mass; solve them apart")
    first = quickly_solved(part, metals[0], fixings, carried, choices, capacities[0])
    return tuple(
        told(_read_for(first, metal, capacity), capacity, None, math.nan)
        for metal, capacity in zip(metals, capacities, strict=True)
    )


def _read_for(first: Solved, metal: Metal, capacity: FixingCapacity | None) -> Solved:
    here = replace(first.here, metal=metal)
    cases = [a.case for a in first.answers]
    read = answers(here, cases, first.results, first.reader, first.lines, capacity, first.sag_limit_mm)
    return replace(first, here=here, answers=read)
