"""The codes of this room's findings, with what each means in a sentence."""

MONEY_CODES: dict[str, str] = {
    "first-order-loses": "Selling the whole first batch does not pay for it and the design.",
    "ships-by-size": "A parcel is billed by its size, since it is light for it.",
    "quote-to-come": "A quote is dated after today: its date is wrong, or this machine's clock.",
    "quote-stale": "A quote is older than a year: prices have moved since.",
}
