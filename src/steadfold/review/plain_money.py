"""Costs and prices as plain data, in the shape that `--json` prints."""

from __future__ import annotations

from typing import Any

from steadfold.findings import Finding
from steadfold.money.product import FamilyRow, ProductAnswer, sale_findings
from steadfold.review.costing import JobCost


def plain_cost(found: JobCost) -> dict[str, Any]:
    """The cost as plain data."""
    return {
        "currency": found.rates.currency,
        "basis": "calibrated" if found.calibration.calibrated else "uncalibrated",
        "order": {
            "total": float(found.order.amount),
            "low": float(found.order_low.amount),
            "high": float(found.order_high.amount),
        },
        "parts": [
            {
                "name": name,
                "quantity": cost.quantity,
                "each": float(cost.each.amount),
                "low": float(cost.low.amount),
                "high": float(cost.high.amount),
                "at": [{"quantity": n, "each": float(money.amount)} for n, money in cost.at],
                "sheet_use": cost.sheet_use,
                "least_order_decides": cost.least_counts,
                "lines": [
                    {
                        "operation": line.operation.name,
                        "amount": round(line.amount, 6),
                        "unit": line.operation.unit,
                        "money": float(line.money.amount),
                        "basis": line.operation.basis,
                        "source": line.operation.source,
                    }
                    for line in cost.lines
                ],
                "shipping": {"money": float(cost.shipping.price.amount), "billed_by": cost.shipping.by},
            }
            for name, cost in found.parts
        ],
        "shops": [
            {
                "shop": view.shop,
                "quotes": len(view.calibration.quotes),
                "leave_one_out_error": view.error,
                "rates": [
                    {"rate": key, "factor": f.middle, "low": f.low, "high": f.high}
                    for key in view.calibration.keys
                    for f in (view.calibration.factor(key),)
                ],
                "moved": [
                    {
                        "part": m.quote.part,
                        "quantity": m.quote.quantity,
                        "total": m.quote.total,
                        "date": m.quote.quoted.isoformat(),
                        "error": m.error,
                        "rate": m.rate or None,
                        "factor": m.factor,
                        "stale": m.stale,
                        "to_come": m.to_come,
                    }
                    for m in view.moved
                ],
            }
            for view in found.views
        ],
        "sheets": [
            {
                "material": group.material,
                "thickness_mm": group.thickness_mm,
                "density": group.nest.density,
                "sheets": len(group.nest.sheets),
                "complete": group.nest.complete,
                "notes": list(group.nest.notes),
            }
            for group in found.laid_out
        ],
        "stands": [
            {
                "name": stand.stand,
                "why_not": stand.why_not,
                "bars": [
                    {
                        "profile": bar.profile,
                        "stock": float(bar.stock.amount),
                        "work": float(bar.work.amount),
                        "length_mm": bar.plan.length,
                        "bound_mm": bar.plan.bound,
                        "cuts": [
                            {"stock_mm": p.stock, "pieces_mm": list(p.pieces), "bars": p.bars} for p in bar.plan.patterns
                        ],
                    }
                    for bar in stand.bars
                ],
            }
            for stand in found.stands
        ],
        "quote_next": found.quote_next,
        "left_out": [{"name": name, "why": why} for name, why in found.left_out],
        "unused_quotes": list(found.unused),
        "findings": [_plain_finding(f) for f in found.findings],
    }


def plain_sale(answer: ProductAnswer) -> dict[str, Any]:
    """The answer as plain data."""
    cash = answer.cash
    return {
        "name": answer.sale.name,
        "currency": answer.sale.currency,
        "standing": answer.standing,
        "say": answer.sentence,
        "variants": [_plain_row(row) for row in answer.rows],
        "cash": None
        if cash is None
        else {
            "chance_of_loss": cash.chance_of_loss,
            "end": {"low": cash.end[0], "middle": cash.end[1], "high": cash.end[2]},
            "peak_out": cash.peak_out,
            "pays_back_month": cash.pays_back_month,
            "sold": cash.sold,
            "stock_left": cash.stock_left,
        },
        "matters": [
            {"what": s.what, "low": s.low, "high": s.high, "at_low": s.at_low, "at_high": s.at_high,
             "must_be": s.must_be, "unit": s.unit}
            for s in answer.swings
        ],
        "findings": [_plain_finding(f) for f in sale_findings(answer)],
    }  # fmt: skip


def _plain_finding(found: Finding) -> dict[str, Any]:
    return {
        "code": found.code,
        "severity": str(found.severity),
        "place": found.place,
        "value": found.value,
        "limit": found.limit,
        "source": found.source,
        "say": found.say,
        "remedy": found.remedy,
    }


def _plain_row(row: FamilyRow) -> dict[str, Any]:
    unit, back = row.unit, row.pay_back
    return {
        "name": row.variant.name,
        "price": float(unit.price.amount),
        "landed": float(unit.landed.amount),
        "packaging": float(unit.packaging.amount),
        "postage": float(unit.postage.price.amount) if unit.postage is not None else 0.0,
        "billed_by": unit.postage.by if unit.postage is not None else None,
        "fees": float(unit.fees.amount),
        "returns": float(unit.returns.amount),
        "reserve": float(unit.reserve.amount),
        "contribution": float(unit.contribution.amount),
        "break_even": back.units,
        "batch_that_pays": back.batch,
        "first_order": float(back.first_order.amount),
    }
