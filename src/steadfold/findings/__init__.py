"""What there is to know about a design: findings, and the verdict they add up to."""

from steadfold.findings.finding import CODES, Finding, Severity
from steadfold.findings.verdict import Verdict, verdict_of, worst

__all__ = ["CODES", "Finding", "Severity", "Verdict", "verdict_of", "worst"]
