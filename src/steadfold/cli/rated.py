"""A review in words on a terminal: verdict in a sentence, numbers, findings, assumptions."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from steadfold.cli.main import CAUTION
from steadfold.fabricate.bend_plan import BendPlan
from steadfold.findings import Finding, Severity, Verdict
from steadfold.mount.records import Strength
from steadfold.quantities import show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview, Review
from steadfold.review.making import Made
from steadfold.stand.answers import StandReport

MOST_AT_ONCE = 5
"""More findings of a part than this are grouped by what they are."""

MARK = {Severity.STOP: "stop", Severity.UNPROVEN: "unproven", Severity.CAUTION: "caution", Severity.NOTE: "note"}


def say_review(review: Review, units: Units) -> None:
    """Print a review for people."""
    console = Console(highlight=False, soft_wrap=False)
    console.print(Text.assemble((f"{review.job.name}, revision {review.job.revision}: ", "bold"), str(review.verdict)))
    for part in review.parts:
        console.print()
        _part(console, part, units)
    for stand in review.stands:
        console.print()
        _stand(console, stand, units)
    console.print()
    console.print(Text("What was assumed", style="bold"))
    for assumption in review.assumptions:
        console.print(Text(f"  {assumption.what}: {assumption.value}. {assumption.source}. Drives: {assumption.drives}."))
    console.print()
    console.print(Text(CAUTION, style="italic"))


def say_parts(parts: Sequence[PartReview], units: Units) -> None:
    """Print some parts for people."""
    console = Console(highlight=False, soft_wrap=False)
    for part in parts:
        _part(console, part, units)
        console.print()


def _part(console: Console, part: PartReview, units: Units) -> None:
    quantity = f"{part.ordered.quantity} × " if part.ordered.quantity > 1 else ""
    console.print(Text.assemble((f"{quantity}{part.name}: {part.verdict}. ", "bold"), sentence(part)))
    table = Table.grid(padding=(0, 3))
    for name, value in _numbers(part, units):
        table.add_row(Text(f"  {name}"), Text(value))
    console.print(table)
    for line in finding_lines(part.findings):
        console.print(Text(f"  {line}"))


def _stand(console: Console, stand: StandReport, units: Units) -> None:
    """A stand: verdict, sag, tipping, the chain from the hardest worked link."""
    console.print(Text.assemble((f"{stand.name}: {stand.verdict}. ", "bold"), f"Weakest: {stand.weakest.rstrip('.')}."))
    rows = []
    if stand.sag_mm is not None:
        rows.append(("sags", show_length(stand.sag_mm, units)))
    if stand.slope_mm_per_m is not None:
        rows.append(("slope", f"{stand.slope_mm_per_m:.2f} mm a metre"))
    if stand.tipping_factor is not None:
        rows.append(("tipping factor", f"{stand.tipping_factor:.2f}"))
    if stand.humming is not None:
        rows.append(("swings at", ", ".join(f"{hz:.1f} Hz" for hz in stand.frequency_hz[:3])))
    for link in stand.links[:8]:
        share = "not proven" if link.share is None else f"{100 * link.share:.0f} %"
        rows.append((f"link: {link.name}", share))
    table = Table.grid(padding=(0, 3))
    for name, value in rows:
        table.add_row(Text(f"  {name}"), Text(value))
    console.print(table)
    for line in finding_lines(stand.findings):
        console.print(Text(f"  {line}"))


def sentence(part: PartReview) -> str:
    """The verdict's reason in a sentence."""
    wanted = {Verdict.STOP: Severity.STOP, Verdict.UNPROVEN: Severity.UNPROVEN}.get(part.verdict)
    reason = next((f for f in part.findings if f.severity is wanted), None)
    if reason is not None:
        return reason.say
    return f"Weakest: {part.weakest.rstrip('.')}."


def _numbers(part: PartReview, units: Units) -> list[tuple[str, str]]:
    rows = []
    if part.thickness_mm is not None:
        other: Units = "in" if units == "mm" else "mm"
        both = f"{show_length(part.thickness_mm, units)} ({show_length(part.thickness_mm, other)})"
        rows.append(("metal", f"{part.material.id}, {both}"))
    if part.mass_kg is not None:
        rows.append(("mass", show_mass(part.mass_kg, units)))
    if part.flat is not None:
        width, height = part.flat.size_mm
        rows.append(("flat", f"{show_length(width, units)} × {show_length(height, units)}"))
        rows.append(("cut", f"{show_length(part.flat.cut_length_mm, units, 0)} in {part.flat.pierces} contours"))
    if part.folded_size_mm is not None:
        rows.append(("folded", " × ".join(show_length(v, units, 1 if units == "mm" else 2) for v in part.folded_size_mm)))
    if part.part is not None and part.part.bends:
        rows.append(("bends", _bends(part)))
    if part.strength is not None:
        rows += _strength(part.strength, units)
    return rows + (_making(part.making) if part.making is not None else [])


def _making(found: Made) -> list[tuple[str, str]]:
    """Bend order and cost."""
    rows = []
    if isinstance(found.order, BendPlan):
        order = ", ".join("+".join(str(b + 1) for b in step.bends) + (" flipped" if step.flip else "") for step in found.order.steps)
        force = f"{found.order.press_force_kn:.0f} kN at the most"
        rows.append(("bend order", f"bends {order}; {force}"))
    if found.cost is not None:
        rows.append(("cost", found.cost.sentence))
        rows.append(("at other quantities", ", ".join(f"{n}: {money}" for n, money in found.cost.at)))
    return rows


def _strength(found: Strength, units: Units) -> list[tuple[str, str]]:
    """Rating, each case, each link of the chain, and the hand formulas beside."""
    low, high = found.carried_kg.low, found.carried_kg.high
    carries = show_mass(high, units) if low == high else f"{show_mass(low, units)} to {show_mass(high, units)}"
    rating = f"{show_mass(found.rating_kg, units)} in all, set by {found.governs}; it carries {carries}"
    rows = [("rating", rating)]
    for case in found.cases:
        factors = f"set at {case.load_factor_set:.2f}, gives way at {case.load_factor_collapse:.2f}"
        buckles = f", buckles at {case.load_factor_buckling:.1f}" if case.load_factor_buckling is not None else ""
        rows.append((case.name, f"sags {show_length(case.sag_mm, units)}; {factors}{buckles} times the load"))
    for link in sorted(found.chain, key=lambda k: -1.0 if k.share is None else k.share, reverse=True):
        share = "not proven" if link.share is None else f"{100 * link.share:.0f} %"
        rows.append((f"link: {link.name}", f"{share}; {link.say}"))
    for check in found.hand:
        why = f"; {check.why}" if check.why else ""
        rows.append(
            (
                "by hand",
                f"{check.what}: {check.formula} = {check.values} = {check.by_hand:.4g} {check.unit}; "
                f"the model says {check.by_model:.4g} (× {check.ratio:.2f}){why}",
            )
        )
    if found.tonight:
        rows.append(("test tonight", found.tonight))
    return rows


def _bends(part: PartReview) -> str:
    assert part.part is not None
    kinds: dict[str, int] = {}
    for bend in part.part.bends:
        text = f"{abs(math.degrees(bend.angle_rad)):.4g}° R{bend.inside_radius_mm:.3g} K{bend.k_factor:.3g}"
        kinds[text] = kinds.get(text, 0) + 1
    return ", ".join(f"{count} × {text}" for text, count in kinds.items())


def finding_lines(findings: tuple[Finding, ...]) -> list[str]:
    """Findings as lines; grouped by code and severity when there are many."""
    if len(findings) <= MOST_AT_ONCE:
        return [_line(f) for f in findings]
    groups: dict[tuple[Severity, str], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.severity, finding.code), []).append(finding)
    lines = []
    for (severity, code), group in groups.items():
        if len(group) == 1:
            lines.append(_line(group[0]))
        else:
            places = ", ".join(dict.fromkeys(f.place for f in group))
            lines.append(f"{MARK[severity]}: {code} at {len(group)} places ({places}); the first: {group[0].say}")
    return lines


def _line(finding: Finding) -> str:
    remedy = f" What helps: {finding.remedy}." if finding.remedy else ""
    return f"{MARK[finding.severity]}: {finding.code}: {finding.say}{remedy}"
