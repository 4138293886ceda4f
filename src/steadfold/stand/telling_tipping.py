"""What tipping, sliding, wheels and lifting it on mean, as findings."""

from __future__ import annotations

from steadfold.findings import Finding, Severity
from steadfold.stand.told import PRACTICE, Told
from steadfold.stand.topple import Topple

UNSURE_MASS = 1.25
"""Highest over lowest mass from which the range itself is worth a word; judgement."""


def toppling(told: Told) -> list[Finding]:
    """What is to be said of tipping and sliding, and of the bench on its wheels."""
    stand, standing = told.stand, told.standing
    on_bench = any(each.to == "bench" for each in stand.held)
    if standing is None:
        if on_bench:
            return [
                Finding(
                    "bench-unknown",
                    Severity.UNPROVEN,
                    "bench",
                    "Whether the bench tips is not known: its mass, centre and feet are not given.",
                    source="statics",
                    remedy="a [stand.bench] table; weigh it by lifting one end (steadfold weigh)",
                )
            ]
        return []
    found: list[Finding] = []
    what = "bench" if on_bench else "stand"
    if standing.empty.factor < 1.0:
        found.append(
            Finding(
                "topples",
                Severity.STOP,
                what,
                f"The {what} tips already empty: its centre of mass lies outside its feet.",
                standing.empty.factor,
                1.0,
                "statics",
                "move its feet out",
            )
        )
    for each, words in ((standing.resting, "with the machine on it"), (standing.leaning, "when a person leans on it")):
        if each is None or each.factor >= standing.wanted or standing.empty.factor < 1.0:
            continue
        stop = each.factor < 1.0
        say = (
            f"The {what} goes over {words}: what holds it down is {each.factor:.2f} of what turns it up."
            if stop
            else f"The {what} stands {each.factor:.2f} times firmly enough {words}; {standing.wanted:g} is wanted."
        )
        found.append(
            Finding(
                "topples",
                Severity.STOP if stop else Severity.CAUTION,
                what,
                say,
                each.factor,
                standing.wanted,
                "statics about the outer feet; factor: judgement",
                _steadying(standing),
            )
        )
    if standing.heavy_end_out:
        now, then = standing.leaning or standing.resting, standing.turned_leaning or standing.turned_resting
        assert then is not None
        found.append(
            Finding(
                "heavy-end-out",
                Severity.CAUTION,
                what,
                f"Turned half round, the machine would sit {then.factor:.2f} instead of {now.factor:.2f} firmly: "
                "its heavy end is out.",
                now.factor,
                then.factor,
                "statics",
                "turn the machine round",
            )
        )
    if standing.wheels:
        found.append(
            Finding(
                "bench-on-wheels",
                Severity.STOP,
                what,
                "The bench stands on wheels: with a machine carried off its end it rolls and tips.",
                source=PRACTICE,
                remedy="take it off its wheels, or jack it onto feet",
            )
        )
    shoved = standing.shoved
    if shoved is not None and shoved.factor < 1.0 and standing.empty.factor >= 1.0:
        found.append(
            Finding(
                "topples",
                Severity.CAUTION,
                what,
                f"A shove of {stand.shove_n:.0f} N at the machine's height would tip it ({shoved.factor:.2f}).",
                shoved.factor,
                1.0,
                f"statics; shove: {PRACTICE}",
                _steadying(standing),
            )
        )
    if standing.slide_share > 1.0:
        found.append(
            Finding(
                "bench-slides",
                Severity.CAUTION,
                what,
                f"A shove of {stand.shove_n:.0f} N pushes it across the floor.",
                standing.slide_share,
                1.0,
                f"friction 0.3 unless given: {PRACTICE}",
                "fix it to the floor, or load it",
            )
        )
    return found


def _steadying(standing: Topple) -> str:
    ways = []
    if standing.ballast_kg:
        ways.append(f"{standing.ballast_kg:.1f} kg of ballast at {standing.ballast_at_mm:.0f} mm")
    if standing.hold_down_n:
        ways.append(f"a hold-down good for {standing.hold_down_n:.0f} N at {standing.hold_down_at_mm:.0f} mm")
    return " or ".join(ways) or "ballast at the far end, feet farther out, or a hold-down into floor or wall"


def weight(told: Told) -> list[Finding]:
    """What is to be said of lifting the machine on by hand."""
    machine = told.stand.machine
    if machine is None:
        return [
            Finding(
                "weight-unsure",
                Severity.UNPROVEN,
                "machine",
                "What stands on it is not given.",
                source="the job",
                remedy="a [stand.machine] table with its mass, or readings of a scale",
            )
        ]
    found = []
    low, high = machine.mass_kg.low, machine.mass_kg.high
    if machine.weighed == "guessed":
        found.append(
            Finding(
                "weight-unsure",
                Severity.UNPROVEN,
                machine.name,
                f"Its mass is a guess ({low:.4g} to {high:.4g} kg).",
                high,
                low,
                "the job",
                "weigh it: steadfold weigh says where to put the scale",
            )
        )
    elif high > UNSURE_MASS * low:
        found.append(
            Finding(
                "weight-unsure",
                Severity.CAUTION,
                machine.name,
                f"Its mass is known only from {low:.4g} to {high:.4g} kg; the high end is counted.",
                high,
                low,
                "the job",
                "weigh it (steadfold weigh)",
            )
        )
    if told.lifting is not None and told.lifting.too_heavy:
        each = told.lifting
        who = "one person" if each.people == 1 else f"{each.people} people"
        found.append(
            Finding(
                "too-heavy-by-hand",
                Severity.CAUTION,
                machine.name,
                f"{each.mass_kg:.0f} kg is more than {who} can lift by hand ({each.can_kg:.0f} kg).",
                each.mass_kg,
                each.can_kg,
                "25 kg each, two thirds of the sum for two, half for more: guidance, recalled",
                "slide it over from a bench of the same height on a plank, or use a hoist rated for it",
            )
        )
    return found
