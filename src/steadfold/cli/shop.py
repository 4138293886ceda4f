"""`steadfold shop check FILE`: what a shop's own file says, before a job leans on it."""

from __future__ import annotations

import argparse
import json

EXAMPLE = "steadfold shop check our-shop.toml"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("what", metavar="check|show", choices=("check", "show"), help="check a file, or show the shipped one")
    command.add_argument("file", metavar="FILE", nargs="?", help="the shop file (TOML); only what differs need stand in it")


def run(options: argparse.Namespace) -> int:
    """Look the file over; 2 with every problem at its line when it cannot be used."""
    from dataclasses import asdict
    from pathlib import Path

    from steadfold.cli.problems import say_problem
    from steadfold.fabricate.shop_file import typical_text
    from steadfold.review.shop import checked_shop

    if options.what == "show":
        print(json.dumps({"steadfold": 1, "text": typical_text()}) if options.json else typical_text())
        return 0
    if options.file is None:
        return say_problem("name the shop file to check; `steadfold shop show` prints the shipped one", options.json)
    found = checked_shop(Path(options.file), options.file)
    if options.json:
        rows = [asdict(d) for d in found.differences]
        told = {"steadfold": 1, "shop": found.shop.name, "differences": rows, "remarks": list(found.remarks)}
        print(json.dumps(told, ensure_ascii=False))
        return 0
    print(f"{found.shop.name}: the file can be used")
    for d in found.differences:
        print(f"  {d.key}: {d.own} (typical: {d.typical})")
    if not found.differences:
        print("  nothing in it differs from the typical shop")
    for remark in found.remarks:
        print(f"  {remark}")
    return 0
