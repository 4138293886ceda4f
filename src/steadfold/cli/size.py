"""`steadfold size JOB [PART]`: the cheapest choice of gauge, metal and dimensions that is enough and can be made."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from steadfold.quantities.showing import Units
    from steadfold.review.sizing import Sized

EXAMPLE = 'steadfold size examples/boat-shed.toml "oar rack" --vary thickness --vary "tine_width=20 mm..40 mm/5 mm"'


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument("part", metavar="PART", nargs="?", help="the part; the job's first when left out")
    command.add_argument(
        "--vary",
        metavar="FIELD=VALUES",
        action="append",
        default=[],
        help='a field of the part and its values, "tine_width=20 mm..40 mm/5 mm" or "material=S235,S355"; thickness '
        "alone takes all that the metal is sold in. May be given again",
    )
    command.add_argument("--lightest", action="store_true", help="least mass instead of least cost")
    command.add_argument("--workers", type=int, default=1, metavar="N", help="processes that share the work")
    command.add_argument("--cluster", metavar="ADDRESS", help="address of a dask scheduler to share the work")
    command.add_argument("--cache", metavar="FILE", help="keep finished answers here, and use them again")
    command.add_argument("--all", action="store_true", help="ask the full model about every choice")
    command.add_argument("--coarse", action="store_true", help="quick, coarse model; no bend order")
    command.add_argument("--picture", metavar="FILE", help="write cost against rating (SVG) here")


def run(options: argparse.Namespace) -> int:
    """Search and print; 1 when nothing is enough."""
    from contextlib import nullcontext
    from typing import cast

    from steadfold.cli.problems import say_problem
    from steadfold.cli.progress import progress
    from steadfold.cli.reading import job_from
    from steadfold.review.sizing import size
    from steadfold.review.workers import workers

    if not 1 <= options.workers <= 256:
        return say_problem("--workers is from 1 to 256", options.json)
    job = job_from(options.job, options.part)
    name = options.part or job.parts[0].name
    pool: Any
    count = options.workers
    if options.cluster:
        try:
            pool, count = _cluster(options.cluster)
        except ImportError:
            return say_problem("a cluster needs the extra 'cluster': pip install steadfold[cluster]", options.json)
        except (OSError, ValueError) as error:
            return say_problem(f"no cluster answers at {options.cluster!r}: {error}", options.json)
    else:
        pool = workers(count) if count > 1 else nullcontext(None)
    with pool as executor, progress() as tell:
        found = size(
            job,
            name,
            options.vary,
            "mass" if options.lightest else "cost",
            executor=executor,
            at_once=2 * count if options.all and count > 1 else count,
            cache_path=options.cache,
            whole_front=options.all,
            fine=not options.coarse,
            progress=tell,
        )
    if options.picture:
        from steadfold.deliver.pareto_picture import pareto_svg
        from steadfold.deliver.writing import write_aside

        cost_name = f"{'mass' if found.aim == 'mass' else 'cost each'}, {found.unit}"
        title, needed = f"{name}: what more would buy", found.carried_kg or None
        drawn = pareto_svg(found.found, title, cost_name, "may carry, kg", needed)
        write_aside(options.picture, drawn.encode("utf-8"))
    if options.json:
        print(json.dumps({"steadfold": 1, **plain_size(found)}, ensure_ascii=False))
    else:
        _say(found, cast("Units", options.units))
    return 0 if found.found.best is not None else 1


def plain_size(found: Sized) -> dict[str, Any]:
    """The search as plain data."""
    search = found.found

    def row(candidate: tuple[Any, ...]) -> dict[str, Any]:
        answer = search.answers[candidate]
        return {
            "choice": search.named(candidate),
            "outcome": answer.outcome,
            found.aim: answer.cost,
            "rating_kg": answer.rating,
            "why": answer.why,
        }

    return {
        "part": found.part,
        "aim": found.aim,
        "unit": found.unit,
        "best": None if search.best is None else row(search.best),
        "front": [row(c) for c in search.pareto],
        "candidates": search.candidates,
        "runs": search.runs,
        "from_cache": search.kept,
        "complete": search.complete,
        "answers": [row(c) for c in search.answers],
        "cannot_be": [{"choice": search.named(c), "why": why} for c, why in search.screened.items()],
    }


def _cluster(address: str) -> tuple[Any, int]:
    """The executor of a dask cluster, and how many tasks its workers take at once.

    Raises `ImportError` when the extra is not installed, `OSError` or `ValueError` when nothing answers there.
    """
    from distributed import Client

    client = Client(address, timeout=10)
    return client.get_executor(pure=False), max(1, sum(client.ncores().values()))


def _say(found: Sized, units: Units) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from steadfold.quantities import in_units, show_mass

    console = Console(highlight=False)
    search = found.found

    def named(candidate: tuple[Any, ...]) -> str:
        return ", ".join(f"{name} {value}" for name, value in search.named(candidate).items())

    def price(cost: float) -> str:
        return show_mass(cost, units) if found.aim == "mass" else f"{cost:.2f} {found.unit}"

    if search.best is None:
        none = f"{found.part}: none of {search.candidates} choices is enough and can be made"
        console.print(Text(none, style="bold"))
    else:
        best = search.answers[search.best]
        word = "lightest" if found.aim == "mass" else "cheapest"
        console.print(Text.assemble((f"{found.part}: the {word} that is enough: {named(search.best)}", "bold")))
        console.print(Text(f"{price(best.cost)} each, may carry {show_mass(best.rating, units)}; {in_units(best.why, units)}"))
    kept = f", {search.kept} from the cache" if search.kept else ""
    ended = "" if search.complete else "; stopped early: the best so far"
    cannot = f", {len(search.screened)} cannot be" if search.screened else ""
    console.print(Text(f"{search.candidates} choices, {search.runs} by the full model{kept}{cannot}{ended}"))
    if found.aim == "cost":
        console.print(Text("Costs are by counted strokes; `steadfold cost` reckons the bend order."))
    table = Table(box=None, padding=(0, 2))
    for heading in ("choice", "mass" if found.aim == "mass" else "cost", "may carry", "", ""):
        table.add_column(heading, justify="right" if heading in ("mass", "cost", "may carry") else "left")
    for candidate in search.pareto:
        answer = search.answers[candidate]
        rating = show_mass(answer.rating, units)
        table.add_row(named(candidate), price(answer.cost), rating, answer.outcome, in_units(answer.why, units))
    console.print(table)
    if search.best is None:
        for candidate, why in list(search.screened.items())[:5]:
            console.print(Text(f"{named(candidate)}: {in_units(why, units)}"))
