"""`steadfold COMMAND ...`: reads the command line and hands over to the command's own module."""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Callable, Sequence

CANNOT_BE_READ = 2
INTERRUPTED = 130

COMMANDS = {
    "rate": "review a job: verdict first, then numbers",
    "flat": "write the flat pattern of each part as DXF and SVG",
    "compare": "rate a part in every stock thickness, and in other metals",
    "mend": "ranked changes that make a part enough, each proven by the model",
    "prove": "the sheet for a physical proof test, and reading its result back",
    "cost": "what each part and the whole order cost",
    "price": "what to charge, and whether it could be a product",
    "weigh": "mass and centre of mass from lift readings, and where to put the scale",
    "level": "turns of each nut that bring a stand level, and what explains its sag",
    "topple": "whether the bench goes over, with and without a person leaning",
    "template": "cut list, saw settings and templates of a stand",
    "size": "the cheapest choice of sheet and dimensions that holds and can be made",
    "page": "open the page in the browser",
    "order": "write the order folder: what goes to the shop, the bench and the buyer",
    "shop": "look over a shop's own file: what differs from the typical shop, what it cannot do",
    "read": "read a part drawn in CAD, from its STEP or DXF file",
    "new": "write a small job to start from",
    "facts": "look something up in the catalogue, with its source",
    "doctor": "say whether this machine has what the libraries need",
}
"""Every command and what it does in a line; each has a module of its name in this package."""

CAUTION = (
    "steadfold gives a calculator's opinion. Overhead loads, machines and anything that carries people need the "
    "judgement of somebody licensed to give it; local codes come first."
)


def parser() -> argparse.ArgumentParser:
    """The parser of the whole command line."""
    whole = argparse.ArgumentParser(
        prog="steadfold",
        description="Will it hold, how far will it sag, can it be cut and bent, what does it cost: before the order.",
        epilog=CAUTION,
    )
    whole.add_argument("--version", action="store_true", help="print the version and stop")
    commands = whole.add_subparsers(dest="command", metavar="COMMAND")
    for name, say in COMMANDS.items():
        module = importlib.import_module(f"steadfold.cli.{name}")
        command = commands.add_parser(
            name, help=say, description=say[0].upper() + say[1:] + ".", epilog=f"example: {module.EXAMPLE}"
        )
        command.add_argument("--json", action="store_true", help="print one JSON object to standard output")
        command.add_argument("--units", choices=("mm", "in"), default="mm", help="show lengths in mm or inch")
        module.arguments(command)
    return whole


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; gives its exit status.

    0 *enough* or *tight*, 1 *not enough* or *stop*, 2 the job cannot be read or the command makes no sense,
    3 *unproven*.
    """
    try:
        whole = parser()
    except KeyboardInterrupt:
        return INTERRUPTED
    options = whole.parse_args(argv)
    if options.version:
        from steadfold import __version__

        print(f"steadfold {__version__}")
        return 0
    if options.command is None:
        whole.print_help()
        return CANNOT_BE_READ
    module = importlib.import_module(f"steadfold.cli.{options.command}")
    return guarded(module.run, options)


def guarded(run: Callable[[argparse.Namespace], int], options: argparse.Namespace) -> int:
    """Run a command so that whatever goes wrong is a sentence and an exit status."""
    from steadfold.cli.problems import say_problem, say_problems

    try:
        return run(options)
    except KeyboardInterrupt:
        print("stopped; nothing was left half written", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()
        return INTERRUPTED
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        return say_problem(f"{where}{error.strerror or error}", options.json)
    except ImportError as error:
        if (error.name or "").startswith("steadfold"):
            return say_own_fault(error)
        return say_problem(missing_library(error), options.json)
    except RecursionError:
        return say_problem("the input is nested too deeply to be read", options.json)
    except MemoryError:
        return say_problem("this machine has not enough memory for that", options.json)
    except Exception as error:
        problems = getattr(error, "problems", None)
        if isinstance(error, ValueError) and problems:
            return say_problems(problems, options.json)
        if isinstance(error, (ValueError, LookupError)) and type(error).__module__.startswith("steadfold."):
            return say_problem(str(error), options.json)
        return say_own_fault(error)


def missing_library(error: ImportError) -> str:
    """A sentence about a library that is not there, or cannot be loaded."""
    what = error.name or str(error)
    return f"the library {what!r} cannot be loaded ({error}); `steadfold doctor` says what is missing and how to install it"


def say_own_fault(error: Exception) -> int:
    """Something steadfold should have caught: one sentence with where it happened, so that it can be reported."""
    trace = error.__traceback__
    place = ""
    while trace is not None:
        code = trace.tb_frame.f_code
        if "steadfold" in code.co_filename:
            place = f" (in {code.co_name}, line {trace.tb_lineno} of {code.co_filename.rsplit('/', 1)[-1]})"
        trace = trace.tb_next
    print(
        f"steadfold stopped over a fault of its own: {type(error).__name__}: {error}{place}. "
        "Nothing is said about the job; please report it with the job file.",
        file=sys.stderr,
    )
    return 70


if __name__ == "__main__":
    sys.exit(main())
