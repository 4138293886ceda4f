"""From findings and a share of the limit to one word."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from steadfold.findings.finding import Finding, Severity

TIGHT_FROM = 0.85
"""Share of what is allowed from which *enough* becomes *tight*."""


class Verdict(StrEnum):
    """The answer in a word; the order below is from best to worst."""

    ENOUGH = "enough"
    TIGHT = "tight"
    UNPROVEN = "unproven"
    NOT_ENOUGH = "not enough"
    STOP = "stop"


_ORDER = list(Verdict)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The worst of several verdicts; *unproven* for none, since nothing was shown.

    >>> worst([Verdict.ENOUGH, Verdict.TIGHT])
    <Verdict.TIGHT: 'tight'>
    """
    return max(verdicts, key=_ORDER.index, default=Verdict.UNPROVEN)


def verdict_of(share_of_limit: float | None, findings: Iterable[Finding]) -> Verdict:
    """The verdict from the largest share of a limit (1 = all that is allowed) and the findings.

    A share of None means that strength was not computed: *unproven* at best. A *stop* finding outweighs
    everything; a missing promise never turns into a pass.
    """
    found = list(findings)
    verdicts = []
    if share_of_limit is None or not share_of_limit >= 0:
        verdicts.append(Verdict.UNPROVEN)
    elif share_of_limit > 1.0:
        verdicts.append(Verdict.NOT_ENOUGH)
    else:
        verdicts.append(Verdict.TIGHT if share_of_limit >= TIGHT_FROM else Verdict.ENOUGH)
    if any(finding.severity is Severity.UNPROVEN for finding in found):
        verdicts.append(Verdict.UNPROVEN)
    if any(finding.severity is Severity.STOP for finding in found):
        verdicts.append(Verdict.STOP)
    return worst(verdicts)
