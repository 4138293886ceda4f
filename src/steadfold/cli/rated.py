"""A review in words on a terminal: verdict, weakest link and the chain as bars first; every number with `--details`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from steadfold.cli.figures import figures
from steadfold.cli.main import CAUTION
from steadfold.cli.walls import wall_rows
from steadfold.findings import Finding, Severity, Verdict
from steadfold.mount.records import Strength
from steadfold.quantities import in_units, show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.review import PartReview, Review
from steadfold.review.records import Assumption
from steadfold.stand.answers import StandReport

MOST_AT_ONCE = 5
"""More findings of a part than this are grouped by what they are."""

MARK = {Severity.STOP: "stop", Severity.UNPROVEN: "unproven", Severity.CAUTION: "caution", Severity.NOTE: "note"}

FULL = 16
"""Characters of a bar that stand for all that is allowed."""


def say_review(review: Review, units: Units, details: bool = False, path: str = "JOB") -> None:
    """Print a review for people; `details` adds every number, hand formula, note and assumption."""
    console = Console(highlight=False, soft_wrap=False)
    console.print(Text.assemble((f"{review.job.name}, revision {review.job.revision}: ", "bold"), str(review.verdict)))
    if len(review.parts) + len(review.stands) > 1:
        console.print()
        _overview(console, review, units)
    for part in review.parts:
        console.print()
        _part(console, part, units, details, many=len(review.parts) > 1)
    for stand in review.stands:
        console.print()
        _stand(console, stand, units, details)
    console.print()
    if review.assumptions:
        _assumed(console, review.assumptions, details)
        console.print()
    for line in _next(review, details, path):
        console.print(Text(line))
    console.print(Text(CAUTION, style="italic"))


def say_parts(parts: Sequence[PartReview], units: Units) -> None:
    """Print some parts for people, with every number."""
    console = Console(highlight=False, soft_wrap=False)
    for part in parts:
        _part(console, part, units, details=True)
        console.print()


def bar(share: float) -> str:
    """A share of what is allowed as a bar, with a stroke where all of it is used; ends at one and a half.

    >>> bar(0.5)
    '████████········│'
    >>> bar(1.25)
    '████████████████│████'
    """
    filled = round(FULL * min(max(share, 0.0), 1.5))
    return "█" * min(filled, FULL) + "·" * max(FULL - filled, 0) + "│" + "█" * max(filled - FULL, 0)


def sentence(part: PartReview) -> str:
    """The verdict's reason in a sentence."""
    wanted = {Verdict.STOP: Severity.STOP, Verdict.UNPROVEN: Severity.UNPROVEN}.get(part.verdict)
    reason = next((f for f in part.findings if f.severity is wanted), None)
    if reason is not None:
        return _ended(reason.say)
    return f"Weakest: {part.weakest.rstrip('.')}."


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
            lines.append(f"{MARK[severity]}: {code} at {len(group)} places ({places}); the first: {_told(group[0])}")
    return lines


def _overview(console: Console, review: Review, units: Units) -> None:
    """One line a part or stand, so that a job of many is seen at once."""
    table = Table.grid(padding=(0, 2))
    table.add_row(*(Text(t, style="italic") for t in ("", "verdict", "carries", "may carry", "used", "weakest link")))
    for part in review.parts:
        carries = may = used = weakest = ""
        if part.strength is not None:
            carries = show_mass(part.strength.carried_kg.high, units)
            may = show_mass(part.strength.rating_kg, units) if part.verdict is not Verdict.UNPROVEN else "not proven"
            unproven = next((link for link in part.strength.chain if link.share is None), None)
            link = part.strength.weakest if unproven is None else unproven
            weakest, used = link.name, "?" if link.share is None else f"{100 * link.share:.0f} %"
        table.add_row(*(Text(t) for t in (_named(part), str(part.verdict), carries, may, used, weakest)))
    for stand in review.stands:
        worst = max(
            (link for link in stand.links if link.share is not None), key=lambda k: k.share or 0.0, default=None
        )
        used = "" if worst is None else f"{100 * (worst.share or 0.0):.0f} %"
        table.add_row(*(Text(t) for t in (stand.name, str(stand.verdict), "", "", used, worst.name if worst else "")))
    console.print(table)


def _named(part: PartReview) -> str:
    return f"{part.ordered.quantity} × {part.name}" if part.ordered.quantity > 1 else part.name


def _part(console: Console, part: PartReview, units: Units, details: bool, many: bool = False) -> None:
    console.print(Text.assemble((f"{_named(part)}: {part.verdict}. ", "bold"), sentence(part)))
    if part.strength is not None:
        _grid(console, _held(part.strength, part.verdict, units))
        _chain(console, [(link.name, link.share) for link in part.strength.chain])
        if details or not many or sum(wall.claimed for wall in part.walls) > 1:
            _grid(console, wall_rows(part.walls, units, details))
    _findings(console, part.findings, details)
    _grid(console, figures(part, units) if details else _made(part, units))


def _held(found: Strength, verdict: Verdict, units: Units) -> list[tuple[str, str]]:
    """What it may carry, how far it sags, and what to try."""
    may = f"{may_carry(found, units)} (set by {found.governs})"
    if verdict is Verdict.UNPROVEN:
        may = f"not proven; all that is known would let it carry {may}"
    carried = dict.fromkeys(show_mass(m, units) for m in (found.carried_kg.low, found.carried_kg.high))
    resting = next((case for case in found.cases if case.name == "resting"), None)
    rows = [("carries", " to ".join(carried)), ("may carry", may)]
    if resting is not None:
        limit = f" of the {show_length(found.sag_limit_mm, units)} allowed" if found.sag_limit_mm < 1e6 else ""
        rows.append(("sags", f"{show_length(resting.sag_mm, units)} at rest{limit}"))
    return [*rows, ("try tonight", found.tonight)] if found.tonight else rows


def may_carry(found: Strength, units: Units) -> str:
    """The mass it may carry in all, and the least of it that the model's own error leaves, where that shows."""
    may, least = show_mass(found.rating_kg, units), show_mass(found.rating_low_kg, units)
    return f"{may} in all" if may == least else f"{may} in all, at least {least} with the model's own error"


def _made(part: PartReview, units: Units) -> list[tuple[str, str]]:
    """Metal, flat and cost in three lines."""
    rows = []
    if part.thickness_mm is not None:
        other: Units = "in" if units == "mm" else "mm"
        both = f"{show_length(part.thickness_mm, units)} ({show_length(part.thickness_mm, other)})"
        mass = f", {show_mass(part.mass_kg, units)} each" if part.mass_kg is not None else ""
        rows.append(("metal", f"{part.material.id}, {both}{mass}"))
    if part.flat is not None and part.part is not None:
        width, height = part.flat.size_mm
        bends = len(part.part.bends)
        counted = f"{bends} bend{'s' * (bends != 1)}" if bends else "no bend"
        rows.append(("flat", f"{show_length(width, units)} × {show_length(height, units)}, {counted}"))
    if part.making is not None and part.making.cost is not None:
        rows.append(("cost", part.making.cost.sentence))
    return rows


def _stand(console: Console, stand: StandReport, units: Units, details: bool) -> None:
    """A stand: verdict, sag, tipping, the chain from the hardest worked link."""
    console.print(Text.assemble((f"{stand.name}: {stand.verdict}. ", "bold"), f"Weakest: {stand.weakest.rstrip('.')}."))
    rows = []
    if stand.sag_mm is not None:
        rows.append(("sags", show_length(stand.sag_mm, units)))
    if stand.slope_mm_per_m is not None:
        rows.append(("slope", in_units(f"{stand.slope_mm_per_m:z.2f} mm a metre", units)))
    if stand.tipping_factor is not None:
        rows.append(("tipping factor", f"{stand.tipping_factor:.2f}"))
    if stand.humming is not None:
        rows.append(("swings at", ", ".join(f"{hz:.1f} Hz" for hz in stand.frequency_hz[:3])))
    _grid(console, rows)
    _chain(console, [(link.name, link.share) for link in stand.links], len(stand.links) if details else 6)
    _findings(console, stand.findings, details)


def _grid(console: Console, rows: Sequence[tuple[str, str]]) -> None:
    if not rows:
        return
    table = Table.grid(padding=(0, 2))
    for name, value in rows:
        table.add_row(Text(f"  {name}"), Text(value))
    console.print(table)


def _chain(console: Console, links: Sequence[tuple[str, float | None]], most: int = 8) -> None:
    """The links from the hardest worked to the idlest; what is not proven stands on top."""
    hardest = sorted(links, key=lambda k: float("inf") if k[1] is None else k[1], reverse=True)
    table = Table.grid(padding=(0, 2))
    for name, share in hardest[:most]:
        drawn, said = ("", "not proven") if share is None else (bar(share), f"{100 * share:.0f} %")
        table.add_row(Text(f"  {name}"), Text(drawn), Text(said))
    console.print(table)


def _findings(console: Console, findings: tuple[Finding, ...], details: bool) -> None:
    """What to know; notes are only counted unless all of it is asked for."""
    notes = [] if details else [f for f in findings if f.severity is Severity.NOTE]
    for line in finding_lines(tuple(f for f in findings if f not in notes)):
        console.print(Text(f"  {line}"))
    if notes:
        codes = ", ".join(dict.fromkeys(f.code for f in notes))
        console.print(Text(f"  noted: {codes}"))


def _assumed(console: Console, assumptions: Sequence[Assumption], details: bool) -> None:
    """What was taken as given; in short only what no standard, job or shop stands behind."""
    console.print(Text("What was assumed", style="bold"))
    if details:
        for each in assumptions:
            console.print(Text(f"  {each.what}: {each.value}. {_ended(each.source)} Drives: {each.drives}."))
        return
    weak = [a for a in assumptions if "no source" in a.source or "judgement" in a.source]
    grouped: dict[str, list[str]] = {}
    for each in weak:
        grouped.setdefault(each.what, []).append(each.value)
    for what, values in grouped.items():
        console.print(Text(f"  {what}: {'; '.join(dict.fromkeys(values))}"))
    say = "These are judgement or common practice, without a source. " if weak else ""
    console.print(Text(f"  {say}{len(assumptions) - len(weak)} more have one: see --details."))


def _next(review: Review, details: bool, path: str) -> Iterable[str]:
    """What to type next."""
    weak = next((p for p in review.parts if p.verdict is Verdict.NOT_ENOUGH), None)
    if weak is not None:
        yield f'Next: steadfold mend {path} "{weak.name}" looks for a change that makes it enough.'
    elif review.parts and all(p.verdict in (Verdict.ENOUGH, Verdict.TIGHT) for p in review.parts):
        yield f"Next: steadfold flat {path} draws the flats; steadfold order {path} --out DIR writes all the shop needs."
    elif any(p.verdict is Verdict.UNPROVEN for p in review.parts):
        yield "Next: what is unproven above wants one line in the job; then rate it again."
    if not details:
        yield "Every case, hand formula, note and source: the same command with --details."


def _line(finding: Finding) -> str:
    return f"{MARK[finding.severity]}: {finding.code}: {_told(finding)}"


def _told(finding: Finding) -> str:
    remedy = f" What helps: {finding.remedy.rstrip('.')}." if finding.remedy else ""
    return f"{_ended(finding.say)}{remedy}"


def _ended(text: str) -> str:
    return text if text.endswith((".", "!", "?", ":")) else f"{text}."
