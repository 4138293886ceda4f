"""The first five minutes, walked again: `make first-part` types it, times it, and writes docs/first-part.md.

A person who knows the trade and not the tool orders a shelf for cans of oil: once by command line, once on the page.
With `--clone` the walk begins before that, in a fresh clone with nothing installed.
"""

from __future__ import annotations

import argparse
import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from steadfold.job.layout import Steps
from steadfold.job.writer import changed, toml
from tests.browser.conftest import CHROMIUM, FLAGS, answered, start, stop

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "first-part.md"
PICTURES = ROOT / "docs" / "pictures"
SHELF: Steps = ("part", "shelf")
JOB = "oil-shelf/job.toml"

EDITS: list[tuple[Steps, object]] = [
    ((*SHELF, "thickness"), "2 mm"),
    ((*SHELF, "width"), "400 mm"),
    ((*SHELF, "carries", 0, "item"), "can of two-stroke oil"),
    ((*SHELF, "carries", 0, "mass"), "4.5 kg"),
    ((*SHELF, "carries", 0, "count"), 3),
]
"""What is changed in the editor: five lines of the job that `new` wrote."""
EDITED_AFTER = {0: EDITS, 2: [((*SHELF, "mount_holes"), 4)]}

TYPED = [
    ("a job to start from", "steadfold new oil-shelf --shape shelf"),
    ("is it enough?", f"steadfold rate {JOB} --pictures oil-shelf"),
    ("what would make it enough?", f"steadfold mend {JOB}"),
    ("is it enough now?", f"steadfold rate {JOB} --pictures oil-shelf"),
    ("its flat", f"steadfold flat {JOB}"),
]

MENDED = """## What made the first walk stumble, and was mended

- `rate` printed 470 lines for the boat shed: now a line a part first, then verdict, weakest link, the chain as bars, what helps; every
  number, hand formula, note and assumption with `--details`.
- The job that `new` wrote was *not enough* and *unproven* by itself, and a tray or hat began with a question about holes: each of the
  eleven now holds, hangs on something known, and says by which holes.
- A hat on the wall ended in a fault: its fixings lie in both brims, and the hand formula looked at one.
- `flat` refused without `--out`: it writes into `flats` beside the job.
- `new --shape` did not say which shapes there are; `rate` and `mend` did not say what to type next, nor `mend` which line to type in.
- There was no picture from the command line: `rate --pictures DIR`.
- The same place was named twice in the weakest link, and remedies followed a sentence without its full stop.
"""


@dataclass(frozen=True)
class Step:
    """One step of the walk: what for, what was typed or pressed, how long until the answer, what was seen, and how much
    processor time that took where it is known."""

    why: str
    typed: str
    seconds: float
    seen: str = ""
    worked: float = 0.0


def by_command(folder: Path) -> list[Step]:
    """The walk on the command line, in an empty folder."""
    steps = []
    for number, (why, typed) in enumerate(TYPED):
        began, before = time.monotonic(), _processor()
        words = [sys.executable, "-m", "steadfold.cli.main", *typed.split()[1:]]
        done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
        assert done.returncode in (0, 1), done.stderr
        steps.append(Step(why, typed, time.monotonic() - began, done.stdout.strip(), _processor() - before))
        if number in EDITED_AFTER:
            job, edits = folder / JOB, EDITED_AFTER[number]
            job.write_text(changed(job.read_text(encoding="utf-8"), edits), encoding="utf-8")
            steps.append(
                Step("typed into the job", "an editor", 0.0, "\n".join(f"{w[-1]} = {toml(v)}" for w, v in edits))
            )
    return steps


def by_page(folder: Path, pictures: Path | None) -> list[Step]:
    """The walk on the page: what was pressed, and the time until the answer stood there."""
    steps = []
    began = time.monotonic()
    os.chdir(folder)
    process, link = start(state=folder / "state")
    try:
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            page = browser.new_page(viewport={"width": 1180, "height": 760})
            page.set_default_timeout(120_000)
            page.goto(link)
            page.get_by_label("It holds").wait_for()
            steps.append(Step("the page opens", "steadfold page", time.monotonic() - began))
            _ask(page)
            _keep(page, pictures, "first-part-start")
            press = page.get_by_role("button", name="See whether it holds")
            steps += [
                _pressed(page, "the shape stands there", "See whether it holds", press.click, "shape"),
                _pressed(page, "its full answer", "nothing, it goes on by itself", lambda: None, "full"),
            ]
            _keep(page, pictures, "first-part-answer")
            thickness = page.get_by_label("thickness", exact=True).first
            steps.append(
                _changed(page, "another thickness", lambda: (thickness.fill("2.5 mm"), thickness.press("Enter")))
            )
            slider = page.locator("#fold")
            slider.fill("0.4")
            page.wait_for_timeout(400)
            _keep(page, pictures, "first-part-folding")
            slider.fill("1")
            page.get_by_role("region", name="Flat").scroll_into_view_if_needed()
            page.wait_for_timeout(200)
            _keep(page, pictures, "first-part-flat")
            browser.close()
    finally:
        stop(process)
    return steps


def _ask(page: Page) -> None:
    for image in page.locator(".shape img").all():
        image.scroll_into_view_if_needed()
    page.wait_for_function(
        "() => [...document.querySelectorAll('.shape img')].every(i => i.complete && i.naturalWidth)"
    )
    page.evaluate("scrollTo(0, 0)")
    page.get_by_text("a back and a shelf, with a front lip").first.click()
    page.get_by_label("It holds").fill("can of two-stroke oil")
    page.get_by_label("one weighs").fill("4.5 kg")
    page.get_by_label("how many").first.fill("3")
    page.get_by_label("fixed to").select_option("wood board")
    page.get_by_label("with", exact=True).fill("lag screw 1/4")
    page.get_by_label("width", exact=True).fill("400 mm")
    page.get_by_label("thickness").fill("2 mm")


def _pressed(page: Page, why: str, typed: str, press: Callable[[], object], level: str) -> Step:
    began = time.monotonic()
    press()
    answered(page, level)
    seen = page.get_by_role("region", name="Verdict").inner_text() if level == "full" else ""
    return Step(why, typed, time.monotonic() - began, seen)


def _changed(page: Page, why: str, change: Callable[[], object]) -> Step:
    """An edit: its answer is there when the verdict has changed and the bar is gone."""
    verdict = page.get_by_role("region", name="Verdict")
    before = verdict.inner_text()
    began = time.monotonic()
    change()
    page.wait_for_function("t => document.querySelector('.verdict').innerText !== t", arg=before)
    answered(page)
    return Step(why, "2.5 mm", time.monotonic() - began, verdict.inner_text())


def _keep(page: Page, pictures: Path | None, name: str) -> None:
    """A picture of what was seen, small enough to lie in the repository."""
    if pictures is not None:
        pictures.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(pictures / f"{name}.jpg"), type="jpeg", quality=62)


def from_nothing(folder: Path) -> list[Step]:
    """A fresh clone with nothing installed: the install apart, then what `make demo` does after it."""
    clone, steps = folder / "steadfold", []
    commands = [
        (
            "the clone",
            ["git", "clone", "--quiet", str(ROOT), str(clone)],
            folder,
            "git clone … steadfold && cd steadfold",
        ),
        ("the install, once a machine", ["make", ".venv/.installed"], clone, "make demo (its first half)"),
        ("the boat shed rated, its flats and models written", ["make", "demo"], clone, "make demo (its second half)"),
    ]
    for why, words, where, typed in commands:
        began, before = time.monotonic(), _processor()
        done = subprocess.run(words, cwd=where, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
        steps.append(Step(why, typed, time.monotonic() - began, "", _processor() - before))
    return steps


def _processor() -> float:
    """Processor seconds of all finished children."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Walk, then write the page."""
    command = argparse.ArgumentParser(description=__doc__)
    command.add_argument("--clone", action="store_true", help="also from a fresh clone with nothing installed")
    options = command.parse_args()
    began_load = os.getloadavg()[0]
    with tempfile.TemporaryDirectory() as at:
        folder = Path(at)
        nothing = from_nothing(folder) if options.clone else _written_before()
        typed = by_command(folder)
        shutil.copyfile(folder / "oil-shelf" / "flats" / "shelf.svg", PICTURES / "first-part-flat.svg")
        shutil.copyfile(folder / "oil-shelf" / "shelf-works.svg", PICTURES / "first-part-works.svg")
        here = Path.cwd()
        pressed = by_page(folder, PICTURES)
        os.chdir(here)
    PAGE.write_text(page_text(nothing, typed, pressed, max(began_load, os.getloadavg()[0])), encoding="utf-8")
    print(f"written: {PAGE.relative_to(ROOT)}")


def _written_before() -> list[Step]:
    """The rows of the walk from nothing as the page has them: it is long, and walked only when asked for."""
    row = r"^\| ([^|]+) \| `(git clone[^|]*|make demo[^|]*)` \| ([\d.]+) s \|(?: ([\d.]+) s \|| *\|)$"
    rows = re.findall(row, PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    return [Step(why, typed, float(seconds), "", float(worked or 0)) for why, typed, seconds, worked in rows]


def _table(steps: list[Step]) -> str:
    rows = "\n".join(
        f"| {s.why} | `{s.typed}` | {s.seconds:.1f} s | {f'{s.worked:.1f} s' if s.worked else ''} |"
        for s in steps
        if s.seconds
    )
    head = "| what for | typed or pressed | until the answer | processor time |\n| --- | --- | ---: | ---: |"
    return f"{head}\n{rows}\n"


def _seen(step: Step) -> str:
    text = "\n".join(line.rstrip() for line in step.seen.splitlines())
    return f"```text\n$ {step.typed}\n{text}\n```\n" if step.typed != "an editor" else f"```toml\n{text}\n```\n"


def page_text(nothing: list[Step], typed: list[Step], pressed: list[Step], load: float) -> str:
    """docs/first-part.md."""
    first, edit, rated, mended, taken, again, flat = typed
    total, worked = sum(s.seconds for s in typed), sum(s.worked for s in typed)
    paged = sum(s.seconds for s in pressed)
    busy = ", most of it other work" if load > 2 else ""
    return f"""# A first part, from nothing

Written by `make first-part`, which walks all of this again and puts in its own times (`make first-part CLONE=--clone` from a
fresh clone). The times below are waiting times: reading, typing and thinking come on top. They were taken on two processor
cores with a load of {load:.0f}{busy}: {total:.0f} s of waiting by command line for {worked:.0f} s of processor
time, {paged:.0f} s on the page.{" An idle machine is faster." if load > 2 else ""}

The part: a shelf for three cans of oil, on a board, of the 2 mm sheet that lies in the shop.

## From an empty machine

Debian 12 with Python 3.11, `make` and `git`; a fresh clone, nothing of the project installed. The machine had the system libraries that
`make doctor` names, and its packages came over a fast line: the install hangs on yours.

{_table(nothing)}
## By command line

{_table(typed)}
`new` writes a job that holds as it is, each line with a word of explanation.

{_seen(first)}
Five lines changed in an editor: what it is made of and what it carries.

{_seen(edit)}
{_seen(rated)}
![The shelf coloured by how hard the metal works](pictures/first-part-works.svg)

Not enough, by its sag. What helps is said beside each finding; `mend` tries changes on the model and ranks them.

{_seen(mended)}
The second one: two more screws cost least.

{_seen(taken)}
{_seen(again)}
{_seen(flat)}
![The flat of the shelf, to scale](pictures/first-part-flat.svg)

## On the page

{_table(pressed)}
One question, a shape, sizes in mm or inch:

![The start: what must it hold, and what is it fixed to](pictures/first-part-start.jpg)

The answer is the command's own:

![Verdict, picture and what to know](pictures/first-part-answer.jpg)

```text
{pressed[2].seen}
```

Another thickness, and the answer follows:

```text
{pressed[3].seen}
```

![The part half folded](pictures/first-part-folding.jpg)

![Its flat](pictures/first-part-flat.jpg)

{MENDED}"""


if __name__ == "__main__":
    main()
