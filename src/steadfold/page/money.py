"""What a job costs, its parts on sheets, and whether it could be a product, in a child process."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from steadfold.deliver.nest_picture import nest_svg
from steadfold.deliver.sale_picture import sale_svg
from steadfold.job import Job, read_job_text
from steadfold.job.sale_table import read_sale
from steadfold.money.nesting import plain_nest
from steadfold.money.product import product
from steadfold.money.quotes import Quote, QuotesError, read_quotes
from steadfold.money.rates import Rates, read_rates
from steadfold.money.sale import PriceError
from steadfold.money.work import NoCost
from steadfold.page.inches import in_inches
from steadfold.review.costing import JobCost, goods_of, job_cost
from steadfold.review.plain_money import plain_cost, plain_sale
from steadfold.review.shop import shop_of

Tell = Callable[[float, str], None]
Answered = tuple[dict[str, Any], bytes]

NESTING_S = 8.0
"""Time for the layouts: whoever waits for them looks on, and `steadfold cost --nest` may take longer."""


def costed(tell: Tell, text: str, path: str, number: int, quotes: str, file: str) -> Answered:
    """Cost of the job as `steadfold cost` says it, and of what it sells as `steadfold price` does.

    `quotes` is the text of the quotes in `file`, empty for none. `pictures` holds SVG texts by name. `number` is not
    used. Raises `QuotesError`, `JobProblems`, `RatesError`.
    """
    job = read_job_text(text, Path(path))
    rates = read_rates(shop_of(job).rates)
    found = job_cost(job, _quotes(quotes, rates, file), tell=lambda share, what: tell(0.8 * share, what))
    told: dict[str, Any] = {"cost": plain_cost(found), "pictures": {}, "sale": None, "sale_why_not": None}
    sale = read_sale(job, rates.currency, rates.shipping)
    if sale is not None:
        tell(0.8, "what to charge")
        try:
            answer = product(sale, goods_of(found, sale))
            told["sale"] = plain_sale(answer)
            told["pictures"]["sale"] = sale_svg(answer)
        except (NoCost, PriceError) as error:
            told["sale_why_not"] = str(error)
    told["inch"] = in_inches(told, names=tuple(part.name for part in job.parts))
    return told, b""


def on_sheets(tell: Tell, text: str, path: str, number: int, quotes: str, file: str) -> Answered:
    """The parts of the job on sheets, and what it costs when they are cut so; as `costed` otherwise.

    The bytes hold the layouts, for the order folder: laid out anew they would differ.
    """
    job = read_job_text(text, Path(path))
    rates = read_rates(shop_of(job).rates)
    found = job_cost(job, _quotes(quotes, rates, file), nest_seconds=NESTING_S, tell=tell)
    pictures = {
        f"sheet-{group}-{sheet}-{units}": nest_svg(laid.nest, sheet, units)
        for group, laid in enumerate(found.laid_out)
        for sheet in range(len(laid.nest.sheets))
        for units in ("mm", "in")
    }
    kept = [plain_nest(laid.nest) for laid in found.laid_out]
    told = {"cost": plain_cost(found), "groups": _groups(job, found)}
    inch = in_inches(told, names=tuple(part.name for part in job.parts))
    return {**told, "pictures": pictures, "inch": inch}, json.dumps(kept).encode()


def _groups(job: Job, found: JobCost) -> list[dict[str, Any]]:
    """Each metal and thickness: how much of its sheets is used, and what lies on which."""
    count = {part.name: part.quantity for part in job.parts}
    return [
        {
            "material": laid.material,
            "thickness_mm": laid.thickness_mm,
            "density": laid.nest.density,
            "complete": laid.nest.complete,
            "notes": list(laid.nest.notes),
            "parts": [{"name": name, "count": count[name]} for name in laid.names],
            "sheets": [
                {
                    "length_mm": sheet.stock.length_mm,
                    "width_mm": sheet.stock.width_mm,
                    "used_mm": laid.nest.used_length_mm(place),
                    "laid": len(sheet.placements),
                }
                for place, sheet in enumerate(laid.nest.sheets)
            ],
        }
        for laid in found.laid_out
    ]


def _quotes(text: str, rates: Rates, file: str) -> tuple[Quote, ...]:
    return read_quotes(text, rates.currency, file) if text.strip() else ()


def wrong_quotes(tell: Tell, text: str, path: str, quotes: str) -> list[str]:
    """Sentences about what cannot be read in quotes that were pasted or dropped; none when all can."""
    rates = read_rates(shop_of(read_job_text(text, Path(path))).rates)
    try:
        _quotes(quotes, rates, "")
    except QuotesError as error:
        return list(error.sentences)
    return []
