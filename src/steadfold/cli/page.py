"""`steadfold page [JOB]`: the page in the browser, on this machine alone."""

from __future__ import annotations

import argparse
import json

EXAMPLE = "steadfold page examples/boat-shed.toml"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", nargs="?", help="the job file (TOML); without one the page starts empty")
    command.add_argument(
        "--folder", metavar="DIR", help="where new jobs go; by default beside JOB, else steadfold-jobs"
    )
    command.add_argument(
        "--port", metavar="N", type=int, help="exactly this port; by default 8765 or the next free one"
    )
    command.add_argument(
        "--lan", action="store_true", help="let a phone in this network open the page too, with the key"
    )
    command.add_argument("--no-browser", action="store_true", help="only print the link")


def run(options: argparse.Namespace) -> int:
    """Show the page until Ctrl-C; a second start on the same folder opens the first one's page."""
    from pathlib import Path
    from urllib.parse import quote

    from steadfold.cli.problems import say_problem
    from steadfold.page.serve import House, already_open, folder_id, serve, usual_folder

    job = Path(options.job) if options.job else None
    if job is not None and not job.is_file():
        return say_problem(f"{options.job}: there is no such file", options.json)
    if job is not None and job.suffix != ".toml":
        return say_problem(f"{options.job}: a job is a .toml file; drop a STEP or DXF file on the page", options.json)
    folder = Path(options.folder) if options.folder else (job.resolve().parent if job else usual_folder())
    if job is not None and job.resolve().parent != folder.resolve():
        return say_problem(f"{options.job} does not lie in {folder}; leave --folder out", options.json)
    below = "" if job is None else f"&job={folder_id(folder.resolve())}/{quote(job.name)}"

    def say(link: str) -> None:
        print(
            json.dumps({"steadfold": 1, "link": link + below}) if options.json else f"The page: {link}{below}",
            flush=True,
        )
        if not options.no_browser:
            _open(link + below)

    known = already_open(folder) if options.port is None else None
    if known is not None:
        say(known)
        return 0

    def opened(house: House) -> None:
        say(house.link)
        if not options.json:
            print("It stays open until Ctrl-C. Every change is saved to the job file at once.", flush=True)

    serve(folder, options.port, options.lan, opened)
    return 0


def _open(link: str) -> None:
    """In the owner's browser, where there is a screen to show it."""
    import os
    import sys
    import webbrowser

    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return
    webbrowser.open(link)
