"""`steadfold cost JOB`: what each part and the whole order cost, operation by operation, by your own quotes if any."""

from __future__ import annotations

import argparse
import json
from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadfold.quantities.showing import Units
    from steadfold.review.costing import JobCost

EXAMPLE = "steadfold cost examples/boat-shed.toml --quotes quotes.csv"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument("--part", metavar="NAME", help="only this part")
    command.add_argument("--quotes", metavar="CSV", help="your own quotes: part,quantity,total,date,shop")
    command.add_argument("--shop", metavar="NAME", help="the shop in the quotes whose rates to use")
    command.add_argument("--at", metavar="N,N", help="quantities to tell the cost at, parted by commas")
    command.add_argument("--nest", metavar="DIR", help="lay all parts out on sheets and write the layouts here")
    command.add_argument("--seconds", type=float, default=20.0, help="time for the layouts (20)")


def run(options: argparse.Namespace) -> int:
    """Reckon and print; 1 when a part has no cost."""
    from steadfold.cli.problems import say_problem
    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.money.quotes import quotes_in
    from steadfold.money.rates import read_rates
    from steadfold.review.costing import job_cost
    from steadfold.review.plain_money import plain_cost
    from steadfold.review.shop import shop_of

    quantities = _quantities(options.at)
    if quantities is not None and not quantities:
        return say_problem(f"{options.at!r} are no quantities; write whole numbers above 0, like 1,10,50", options.json)
    if not 0 < options.seconds <= 36_000:
        return say_problem("--seconds is more than 0 and at most ten hours", options.json)
    job = job_from(options.job, options.part)
    quotes = quotes_in(options.quotes, read_rates(shop_of(job).rates).currency) if options.quotes else ()
    with progress() as tell:
        seconds = options.seconds if options.nest else None
        found = job_cost(job, quotes, None, quantities, seconds, options.shop, tell=tell)
    files: list[str] = []
    if options.nest:
        from steadfold.deliver.nest_files import nest_files
        from steadfold.deliver.writing import write_all

        made = nest_files(found.laid_out, options.units)
        write_all(options.nest, made)
        files = sorted(made)
    if options.json:
        print(json.dumps({"steadfold": 1, **plain_cost(found), "files": files}, ensure_ascii=False))
    else:
        _say(found, options.units)
        for name in files:
            print(f"{options.nest}/{name}")
    return 1 if found.left_out else 0


def _quantities(text: str | None) -> list[int] | None:
    if text is None:
        return None
    words = [word.strip() for word in text.split(",") if word.strip()]
    numbers = [int(word) for word in words if word.isascii() and word.isdigit() and 0 < int(word) <= 1_000_000]
    return numbers if len(numbers) == len(words) else []


def _say(found: JobCost, units: Units) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from steadfold.quantities import in_units

    names = (*(name for name, _ in found.parts), *(name for name, _ in found.left_out))
    tell = partial(in_units, units=units, names=(*names, *(stand.stand for stand in found.stands)))
    console = Console(highlight=False)
    basis = _basis(found)
    spread = f"between {found.order_low} and {found.order_high}"
    if found.parts:
        console.print(Text.assemble("The whole order, made together: ", (str(found.order), "bold"), f", {spread}"))
    console.print(Text(basis))
    for name, cost in found.parts:
        console.print()
        console.print(Text.assemble((f"{cost.quantity} × {name}", "bold"), f" ordered alone: {cost.sentence}"))
        table = Table(box=None, padding=(0, 2))
        for heading in ("operation", "amount", "", "money", ""):
            table.add_column(heading, justify="right" if heading in ("amount", "money") else "left")
        for line in cost.lines:
            amount, _, unit = tell(f"{line.amount:.3g} {line.operation.unit}").partition(" ")
            table.add_row(line.operation.name, amount, unit, str(line.money), tell(line.operation.basis))
        sent = cost.shipping
        billed = tell(f"billed by {sent.by}, {sent.billed_kg:.1f} kg") if not sent.on_pallet else "on a pallet"
        unit = "parcel" if sent.parcels == 1 else "parcels"
        table.add_row("carriage", str(sent.parcels), unit, str(sent.price), billed)
        console.print(table)
        if cost.least_counts:
            console.print(Text("  The shop's least order decides: more of them would cost little more."))
        console.print(Text("  each at " + ", ".join(f"{n}: {money}" for n, money in cost.at)))
    for view in found.views:
        console.print()
        error = "" if view.error is None else f"; middle error of each told from the others {100 * view.error:.0f} %"
        console.print(Text(f"{view.shop}: {_quotes(len(view.calibration.quotes))}{error}", style="bold"))
        for each in view.moved:
            moved = f"moved {each.rate} × {each.factor:.2f}" if each.rate else "moved no rate by more than 2 %"
            stale = "; more than a year old, counts for less" if each.stale else ""
            stale = "; dated after today: its date is wrong, or this machine's clock" if each.to_come else stale
            off = "" if each.error is None else f"; the others say {100 * each.error:+.0f} %"
            quote = each.quote
            console.print(
                Text(f"  {quote.quoted} {quote.quantity} × {quote.part} at {quote.total:.2f}: {moved}{off}{stale}")
            )
    for group in found.laid_out:
        notes = "".join(f"; {note}" for note in group.nest.notes)
        sheets = f"{len(group.nest.sheets)} sheet{'s' if len(group.nest.sheets) != 1 else ''}"
        used = f"{100 * group.nest.density:.0f} % of what is used up"
        console.print(Text(f"{group.material} {_sheet(group.thickness_mm, units)}: {sheets}, {used}{tell(notes)}"))
    for stand in found.stands:
        console.print(Text(tell(f"{stand.stand}, bought apart: {stand.why_not}")))
        for bar in stand.bars:
            console.print(Text(tell(f"  {bar.sentence}: {bar.stock}, sawing {bar.work}")))
    if found.quote_next:
        console.print(Text(f"Have this quoted next, it is known least: {found.quote_next}"))
    for name, why in found.left_out:
        console.print(Text(f"{name}: no cost: {tell(why)}"))
    for sentence in found.unused:
        console.print(Text(sentence))


def _sheet(thickness_mm: float, units: Units) -> str:
    """A thickness as a shop says it."""
    from steadfold.quantities import show_length

    return show_length(thickness_mm, units) if units == "in" else f"{thickness_mm:g} mm"


def _basis(found: JobCost) -> str:
    if not found.calibration.calibrated:
        return "uncalibrated: these are typical rates that no shop was asked for; add your own quotes with --quotes"
    count, shop = len(found.calibration.quotes), found.calibration.shop
    return f"calibrated by {_quotes(count)} of {shop}; nine quotes in ten should lie between"


def _quotes(count: int) -> str:
    return f"{count} quote" if count == 1 else f"{count} quotes"
