"""What a job says of a sale, as fields to fill in, also those it does not say yet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from steadfold.job.models import Job
from steadfold.page.form import Field, field

_FIELDS = (
    ("name", "what it is called", "", "the part's name"),
    (
        "price",
        "price",
        "with its currency, without tax; leave it empty to have it reckoned from the margin",
        "reckoned",
    ),
    ("margin", "margin", "share of the price, returns taken off, that is to be left", "35 %"),
    ("channel_fee", "the channel takes", "share of the price, as a shop or market place asks", "nothing"),
    ("payment_fee", "paying takes", "share of the price", "nothing"),
    ("tax", "tax", "the state's share on top", "nothing"),
    ("packaging", "packaging", "money for one, with its currency", "nothing"),
    ("postage", "postage", 'one price for every parcel, or "collected"', "the rates' table"),
    ("design", "design", "paid once: drawings, first article, proof test, pictures", "nothing"),
    ("returns", "come back", "share of what is sold", "3 %"),
    ("warranty", "replaced free", "share of what is sold", "2 %"),
)


def sale_form(job: Job) -> list[Field] | None:
    """The fields of `[sale]`; None when the job has none."""
    if job.sale is None:
        return None
    own: Mapping[str, Any] = job.sale.values
    found = []
    if "contents" not in own and len(job.parts) > 1:
        names = [part.name for part in job.parts]
        found.append(
            field("part", ["sale"], "what is sold", "one part of this job", "choice", own, names[0], choices=names)
        )
    found += [field(key, ["sale"], label, say, "text", own, default) for key, label, say, default in _FIELDS]
    found.append(field("batch", ["sale"], "bought at once", "how many in one order", "count", own, "20"))
    found.append(field("months", ["sale"], "cash followed for", "months", "count", own, "24"))
    demand = own.get("demand", {})
    text = f"{demand.get('low', '')} to {demand.get('high', '')}" if demand else ""
    say = "how many are sold a month: seldom fewer than, seldom more than, such as 2 to 8"
    found.append({**field("demand", ["sale"], "sold a month", say, "span", {}, "not said"), "text": text})
    return found
