"""The shop that a job names."""

from __future__ import annotations

import tomllib
from pathlib import Path

from steadfold.fabricate.shop import Shop
from steadfold.fabricate.shop_check import ShopCheck, shop_check
from steadfold.fabricate.shop_file import ShopFileError, typical_shop
from steadfold.job.models import Job
from steadfold.job.positions import JobText
from steadfold.job.problem import JobProblems, Problem
from steadfold.money.rates import RatesError, read_rates

LARGEST_SHOP_FILE = 1_000_000


def shop_of(job: Job) -> Shop:
    """The shop's limits, tools and tables; the shipped profile unless the job names a file.

    Raises `JobProblems` with file and line when that file cannot be read.
    """
    path = job.shop.file
    if path is None:
        return typical_shop()
    return checked_shop(path, job.shop.profile).shop


def checked_shop(path: Path, shown: str) -> ShopCheck:
    """A shop file, read and looked over: the shop, what differs from the typical one, and remarks.

    Its rates are read too. Raises `JobProblems` with file and line when it cannot be read.
    """
    try:
        if path.stat().st_size > LARGEST_SHOP_FILE:
            raise JobProblems([Problem(shown, 0, 0, "", f"a shop file of {path.stat().st_size} bytes is too large")])
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise JobProblems([Problem(shown, 0, 0, "", "the shop file is not UTF-8 text")]) from None
    except OSError as error:
        said = error.strerror or "it cannot be read"
        raise JobProblems([Problem(shown, 0, 0, "", f"the shop file cannot be read: {said}")]) from None
    try:
        found = shop_check(text)
        read_rates(found.shop.rates)
    except ShopFileError as error:
        raise JobProblems(_placed(text, error, shown)) from None
    except RatesError as error:
        index = JobText(text, shown, tomllib.loads(text))
        raise JobProblems([index.problem(("rates", *p.path), p.sentence) for p in error.found]) from None
    return found


def _placed(text: str, error: ShopFileError, shown: str) -> list[Problem]:
    """The problems with their lines, where the text can be read as TOML at all."""
    try:
        index = JobText(text, shown, tomllib.loads(text))
    except tomllib.TOMLDecodeError:
        return [Problem(shown, p.line or 0, 1 if p.line else 0, "", p.sentence) for p in error.problems]
    return [index.problem(p.path, p.sentence) for p in error.problems]
