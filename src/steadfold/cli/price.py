"""`steadfold price JOB`: what to charge for what [sale] describes, and whether it could be a product."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadfold.money.product import ProductAnswer

EXAMPLE = "steadfold price examples/boat-shed.toml --picture product.svg"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML), with a [sale] table")
    command.add_argument("--quotes", metavar="CSV", help="your own quotes: part,quantity,total,date,shop")
    command.add_argument("--shop", metavar="NAME", help="the shop in the quotes whose rates to use")
    command.add_argument("--picture", metavar="FILE", help="write the picture (SVG) here")


def run(options: argparse.Namespace) -> int:
    """Reckon and print; 1 when it loses on every sale."""
    from pathlib import Path

    from steadfold.cli.problems import say_problem
    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.job.sale_table import quotes_file, read_sale
    from steadfold.money.product import product
    from steadfold.money.quotes import quotes_in
    from steadfold.money.rates import read_rates
    from steadfold.review.costing import goods_of, job_cost
    from steadfold.review.plain_money import plain_sale
    from steadfold.review.shop import shop_of

    job = job_from(options.job)
    rates = read_rates(shop_of(job).rates)
    sale = read_sale(job, rates.currency, rates.shipping)
    if sale is None:
        none = f"{options.job} has no [sale] table, so nothing is priced; docs/money.md shows one"
        return say_problem(none, options.json)
    csv = Path(options.quotes) if options.quotes else quotes_file(job, sale)
    quotes = quotes_in(csv, rates.currency) if csv is not None else ()
    with progress() as tell:
        cost = job_cost(job, quotes, prefer_shop=options.shop, tell=tell)
        answer = product(sale, goods_of(cost, sale))
    if options.picture:
        from steadfold.deliver.sale_picture import sale_svg
        from steadfold.deliver.writing import write_aside

        write_aside(options.picture, sale_svg(answer).encode("utf-8"))
    if options.json:
        basis = "calibrated" if cost.calibration.calibrated else "uncalibrated"
        print(json.dumps({"steadfold": 1, "basis": basis, **plain_sale(answer)}, ensure_ascii=False))
    else:
        _say(answer, cost.calibration.calibrated)
    return 1 if answer.rows[0].unit.contribution.amount <= 0 else 0


def _say(answer: ProductAnswer, calibrated: bool) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from steadfold.money.amount import money_of
    from steadfold.money.product import sale_findings

    console = Console(highlight=False)
    sale = answer.sale
    console.print(Text(answer.sentence, style="bold"))
    if not calibrated:
        console.print(Text("uncalibrated: landed costs stand on typical rates that no shop was asked for"))
    console.print(Text(f"In batches of {sale.batch}; prices without tax."))
    table = Table(box=None, padding=(0, 2))
    names = ("", "price", "landed", "packaging", "postage", "fees", "returns", "reserve", "left", "pays back after")
    for name in names:
        table.add_column(name, justify="left" if not name else "right")
    for row in answer.rows:
        unit = row.unit
        postage = "collected" if unit.postage is None else f"{unit.postage.price.rounded().amount} by {unit.postage.by}"
        amounts = (unit.price, unit.landed, unit.packaging)
        others = (unit.fees, unit.returns, unit.reserve, unit.contribution)
        back = "never" if row.pay_back.units is None else f"{row.pay_back.units}"
        table.add_row(
            row.variant.name, *(str(a.rounded().amount) for a in amounts), postage,
            *(str(a.rounded().amount) for a in others), back,
        )  # fmt: skip
    console.print(table)
    if answer.cash is not None:
        cash = answer.cash
        ends = [str(money_of(v, sale.currency)) for v in cash.end]
        back = "never in half of the cases" if cash.pays_back_month is None else f"month {cash.pays_back_month:.0f}"
        say = (
            f"After {sale.months} months: {ends[1]}, nine times in ten between {ends[0]} and {ends[2]}; back above "
            f"nothing: {back}; {cash.stock_left:.0f} left in stock, counted as worthless"
        )
        console.print(Text(say))
        for swing in answer.swings:
            moves = f"the end moves from {swing.at_low:.0f} to {swing.at_high:.0f}"
            console.print(Text(f"  {swing.what}, {swing.low:.3g} to {swing.high:.3g} {swing.unit}: {moves}"))
    for finding in sale_findings(answer):
        console.print(Text(f"{finding.severity}: {finding.code}: {finding.say} What helps: {finding.remedy}."))
