"""Where the sheet decides, its collapse followed layer by layer beside the estimate from sections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from steadfold.mechanics import Structure, yielded
from steadfold.mount.answers import COLLAPSE_FACTOR, SET_FACTOR, Answer, Share
from steadfold.mount.records import CollapseRun, HandCheck, Metal

MATTERS = 0.8
"""The run is made where the sheet uses at least this part of the worst link's share."""

OF_SHEET = ("bend", "fixing row", "net section", "sheet")
"""Links of the chain that are the sheet's own strength."""

LAYERS_EACH_SIDE = 2

MOST_STEPS = 120
"""Steps of a run, each the cost of one more load case: a bound on its time."""

NO_SOONER = 1.0 - 1e-6


def case_to_follow(answers: Sequence[Answer], metal: Metal) -> int | None:
    """The number of the case that works the sheet hardest; None where another link decides by far, or the sheet is not
    ductile."""
    if not metal.ductile:
        return None
    of_sheet = [_most(a, OF_SHEET) for a in answers]
    hardest = max(range(len(answers)), key=lambda k: of_sheet[k], default=None)
    if hardest is None or of_sheet[hardest] < MATTERS * max(_most(a, None) for a in answers):
        return None
    return hardest


def _most(answer: Answer, links: tuple[str, ...] | None) -> float:
    return max((s.value or 0.0 for s in answer.shares if links is None or s.link in links), default=0.0)


def followed(structure: Structure, answer: Answer, metal: Metal, by_section: float) -> CollapseRun | None:
    """The layered run of a case on the structure it was solved on; None where nothing can be followed.

    It goes on until the sheet gives way or carries what the sections promise (`by_section`, as times the case's loads).
    """
    try:
        run = yielded(
            structure,
            answer.case.loads,
            metal.yield_mpa,
            set_factor=SET_FACTOR,
            enough=by_section,
            layers_each_side=LAYERS_EACH_SIDE,
            most_steps=MOST_STEPS,
        )
    except (ValueError, ArithmeticError):
        return None
    return CollapseRun(
        answer.case.name,
        answer.case.say,
        run.limit,
        run.reached,
        run.complete,
        by_section,
        SET_FACTOR,
        run.set_mm,
        run.moved_at_set_mm,
        tuple((float(m), float(f)) for m, f in zip(run.moved_mm, run.factors, strict=True)),
        6 * structure.model.node_count,
    )


def sooner(answer: Answer, run: CollapseRun | None) -> Answer:
    """The same answer where the run gives way before the sections do: by the same proportion with any load on."""
    if run is None or not run.decides:
        return answer
    factor = answer.load_factor_collapse * run.factor / run.by_section
    if factor > NO_SOONER * answer.load_factor_collapse:
        return answer
    found = max((s for s in answer.shares if s.link in OF_SHEET), key=lambda s: s.value or 0.0)
    say = f"{found.place}: a factor of {factor:.2f} to giving way, followed layer by layer, {COLLAPSE_FACTOR:g} wanted"
    share = Share(found.link, found.place, COLLAPSE_FACTOR / factor, say)
    return replace(answer, shares=(*answer.shares, share), load_factor_collapse=factor)


def beside(run: CollapseRun) -> HandCheck:
    """The estimate from sections beside the run."""
    if run.reached:
        how = f"gives way at {run.factor:.2f}"
    elif run.complete:
        how = f"carries at least {run.factor:.2f}"
    else:
        how = f"was followed to {run.factor:.2f}, not to its end"
    why = ""
    if run.decides:
        why = "twist, shear and forces that meet at corners are not in the sections; the lower of the two is taken"
    elif abs(run.factor - run.by_section) > 0.15 * run.by_section:
        why = "one section at its limit hands on to others before the part gives way; the lower of the two is taken"
    stays = ""
    if run.set_mm is not None:
        stays = f"; {run.set_factor:g} times the load leaves a set of {max(run.set_mm, 0.0):.2f} mm"
    elif run.reached:
        stays = f"; it does not carry {run.set_factor:g} times the load"
    return HandCheck(
        f"giving way, {run.case}",
        "the weakest section's hinge, times the load",
        f"layer by layer it {how}{stays}",
        run.by_section,
        run.factor,
        "times the load",
        why,
    )
