"""`steadfold facts [WORD]`: the catalogue, with its sources."""

from __future__ import annotations

import argparse
import json

EXAMPLE = 'steadfold facts "12 ga"'


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("word", metavar="WORD", nargs="*", help="what to look for; everything when left out")


def run(options: argparse.Namespace) -> int:
    """Print what the catalogue says."""
    from steadfold.catalogue.facts import look_up, near
    from steadfold.cli.problems import say_problem

    word = " ".join(options.word)
    found = look_up(word)
    if not found:
        close = near(word)
        hint = f"; near it: {', '.join(close)}" if close else ""
        return say_problem(f"nothing here is called {word!r}{hint}", options.json)
    if options.json:
        rows = [
            {"topic": f.topic, "name": f.name, "say": f.text, "source": f.source, "from_memory": f.from_memory}
            for f in found
        ]
        print(json.dumps({"steadfold": 1, "facts": rows}, ensure_ascii=False))
        return 0
    for fact in found:
        print(f"{fact.topic}: {fact.name}: {fact.text}")
        print(f"    {fact.source}{' (recalled, not read again)' if fact.from_memory else ''}")
    return 0
