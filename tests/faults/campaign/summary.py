"""What a campaign found, as a page of the docs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from tests.faults.campaign.forked import ANSWER, BAD, CRASH, HALF, HANG, REFUSED, SENTENCE, TRACEBACK, Outcome

HEAD = """# Faults tried on purpose

Written by `make faults`, not by hand. It damages job, shop, quotes, STEP and DXF files in ways that typing, copying, exporting
and bad intent do, kills processes at any moment of a save, an order or a search, and runs the commands on machines that will
not. Every case is drawn from a seed and can be had again; what went wrong is kept with its input in `out/faults`.

- *answer*: the command did its work (status 0, 1 or 3), or what was acknowledged is there after the kill
- *sentence*: what is wrong with the file was said in words (status 2)
- *refused*: nothing was done because the machine would not, said in words; or somebody else's edit came first
- *traceback*, *crash*, *hang* (30 s of processor for a file), *half-written file*: each is a fault of ours; there must be none
"""


def summary(found: Sequence[Outcome], day: date, seed: int, seconds: float) -> str:
    """The whole page: counts by kind, and every case that was a fault."""
    kinds = list(dict.fromkeys(outcome.kind for outcome in found))
    kinds.sort(key=lambda kind: (kind.startswith("kill"), " file" not in kind and "quotes" not in kind, kind))
    words = (ANSWER, SENTENCE, REFUSED, TRACEBACK, CRASH, HANG, HALF)
    counts = Counter((outcome.kind, outcome.what) for outcome in found)
    rows = [
        "| "
        + " | ".join([kind, str(sum(counts[kind, w] for w in words)), *(str(counts[kind, w] or "") for w in words)])
        + " |"
        for kind in kinds
    ]
    total = [str(sum(counts[kind, w] for kind in kinds)) for w in words]
    head = "| what | cases | " + " | ".join(words) + " |\n| --- |" + " --- |" * (len(words) + 1)
    kills = sum(outcome.kind.startswith("kill") for outcome in found)
    damaged = sum((" file" in o.kind and "folder" not in o.kind) or o.kind.startswith("quotes") for o in found)
    bad = [outcome for outcome in found if outcome.what in BAD]
    faults = "\n".join(f"- {o.what}: {o.kind}, {o.name}: {' '.join(o.said.split())[-300:]}" for o in bad[:60])
    return (
        f"{HEAD}\n{day.isoformat()}, seed {seed}, {seconds / 60:.0f} minutes: {damaged:,} damaged files, {kills:,} kills, "
        f"{len(bad)} faults.\n\n{head}\n" + "\n".join(rows) + f"\n| all | {len(found)} | " + " | ".join(total) + " |\n"
        + (f"\n{faults}\n" if bad else "")
    )  # fmt: skip
