"""`steadfold order JOB --out DIR`: the order folder, whole or not at all."""

from __future__ import annotations

import argparse
import json

EXAMPLE = 'steadfold order examples/boat-shed.toml --out order --even-if "not enough" --even-if unproven'


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", help="the job file (TOML)")
    command.add_argument(
        "--out", metavar="DIR", required=True, help="the order folder; one that stands there is replaced"
    )
    command.add_argument("--part", metavar="NAME", help="only this part")
    command.add_argument(
        "--even-if",
        metavar="VERDICT",
        action="append",
        default=[],
        choices=("not enough", "unproven", "stop"),
        help='also write out parts that are "not enough", "unproven" or "stop", every sheet saying so; repeatable',
    )
    command.add_argument(
        "--nests",
        metavar="DIR",
        help="layouts kept by `steadfold cost JOB --nest DIR`, to go to the shop with the flats",
    )
    command.add_argument("--paper", choices=("A4", "letter"), default="A4", help="paper of the sheets and templates")
    command.add_argument(
        "--projection",
        choices=("first", "third"),
        help="how views lie on drawings; first on A4, third on letter, if left out",
    )


def run(options: argparse.Namespace) -> int:
    """Write the folder and say what is in it; the exit status is that of the worst part left out, else 0."""
    from steadfold.cli.progress import progress
    from steadfold.cli.rate import exit_status
    from steadfold.cli.reading import job_from
    from steadfold.deliver.order_folder import order_folder, refuse_others, write_order_folder
    from steadfold.deliver.sheets.head import Style
    from steadfold.deliver.sheets.nests import kept_nests
    from steadfold.findings import Verdict, worst
    from steadfold.review import review

    job = job_from(options.job, options.part)
    refuse_others(options.out)
    style = Style(
        options.paper, options.projection or ("third" if options.paper == "letter" else "first"), options.units
    )
    even_if = [Verdict(word) for word in options.even_if]
    with progress() as tell:
        result = review(job, lambda share, what: tell(0.6 * share, what))
        nests = kept_nests(options.nests, result.parts) if options.nests else ()
        made = order_folder(result, style, even_if, nests, lambda share, what: tell(0.6 + 0.35 * share, what))
        write_order_folder(options.out, made, lambda share, what: tell(0.95 + 0.05 * share, what))
    if options.json:
        left_out = [{"name": p.name, "verdict": str(p.verdict), "why": p.why} for p in made.left_out]
        said = {
            "steadfold": 1,
            "out": options.out,
            "files": sorted(made.files),
            "parts": list(made.parts),
            "left_out": left_out,
            "not_in_it": list(made.missing),
        }
        print(json.dumps(said, ensure_ascii=False))
    else:
        for name in sorted(made.files):
            print(f"{options.out}/{name}")
        for part in made.left_out:
            print(
                f'{part.name}: left out, {part.verdict}. {part.why} To have it all the same: --even-if "{part.verdict}"'
            )
        for words in made.missing:
            print(f"Not in it: {words}.")
    return exit_status(str(worst(p.verdict for p in made.left_out))) if made.left_out else 0
