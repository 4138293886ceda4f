"""Ways into a job: a shape and a few words, a file dropped on the page, the example. In a child process."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable
from pathlib import Path
from typing import Any

from steadfold.job import changed, read_job_text
from steadfold.job.fresh import new_job
from steadfold.job.writer import toml

Tell = Callable[[float, str], None]

LARGEST_CAD = 50 << 20
EXAMPLE = "boat-shed.toml"


def shapes(tell: Tell) -> list[dict[str, Any]]:
    """The ready-made shapes with their first sizes, as the start shows them."""
    from steadfold.page.form import in_words
    from steadfold.sheet.shapes import SHAPES

    found = []
    for shape in SHAPES.values():
        written = read_job_text(new_job(shape.name)).text.values["part"][0]
        sizes = [
            {"key": d.key, "label": d.key.replace("_", " "), "say": d.say, "kind": d.kind,
             "text": str(written.get(d.key, in_words(d)))}
            for d in shape.dimensions
            if d.default is None or d.key in written or d.key in FIRST_SIZES
        ]  # fmt: skip
        found.append({"name": shape.name, "say": shape.say, "sizes": sizes[:6]})
    return found


FIRST_SIZES = (
    "width",
    "height",
    "depth",
    "length",
    "tines",
    "tine_length",
    "hooks",
    "holes",
    "wall",
    "arm",
    "upright",
    "flange",
    "web",
    "side",
    "top",
)
"""Sizes worth asking for at the start; the others have defaults that the form shows."""


def begun(tell: Tell, asked: dict[str, Any]) -> str:
    """The text of a new job: a shape, its sizes, what it carries and what it is fixed to, each as typed.

    Raises `JobProblems` or `CannotChange` where that makes no job, `ValueError` for an unknown shape.
    """
    shape = str(asked["shape"])
    text = new_job(shape)
    part = ("part", 0)
    changes: list[tuple[tuple[str | int, ...], Any]] = [(("name",), asked["name"]), ((*part, "name"), asked["name"])]
    for key, value in asked.get("sizes", {}).items():
        changes.append(((*part, str(key)), value))
    for key in ("material", "thickness"):
        if asked.get(key):
            changes.append(((*part, key), asked[key]))
    for key in ("item", "mass", "count", "reach"):
        value = asked.get(key)
        if value:
            changes.append(((*part, "carries", 0, key), value))
        elif key == "reach" and "reach" in read_job_text(text).text.values["part"][0]["carries"][0]:
            changes.append(((*part, "carries", 0, key), None))
    for key in ("to", "fastener"):
        if asked.get(key):
            changes.append(((*part, "mount", key), asked[key]))
    return changed(text, changes + _not_asked(text, asked))


def _not_asked(text: str, asked: dict[str, Any]) -> list[tuple[tuple[str | int, ...], Any]]:
    """What the first job says that nobody said here: nothing is refused for its owner, nor its screw chosen."""
    part: tuple[str | int, ...] = ("part", 0)
    written = read_job_text(text).text.values["part"][0]
    left: list[tuple[str | int, ...]] = [(*part, "cases")] if "cases" in written else []
    mount = written["mount"]
    if any(asked.get(key) and asked[key] != mount.get(key) for key in ("to", "fastener")):
        left += [(*part, "mount", key) for key in ("length", "wood") if key in mount]
    return [(way, None) for way in left]


def dropped_job(tell: Tell, data: bytes) -> str:
    """The text of a job that was dropped on the page, once it reads as one; files it names may still be missing."""
    text = data.decode("utf-8")
    read_job_text(text, Path("dropped.toml"))
    return text


def job_for_drawing(tell: Tell, name: str, path: str) -> str:
    """A job around a STEP or DXF file that lies at `path`, beside where the job will be."""
    stem = name.rsplit(".", 1)[0]
    lines = ["steadfold = 1", f"name = {toml(stem)}", "", "[[part]]", f"name = {toml(stem)}", 'material = "S235"']
    if name.lower().endswith(".dxf"):
        lines += ['thickness = "2 mm"             # a drawing does not say; put in your own', 'shape = "dxf"',
                  'bend_angle = "90 deg"         # what every bend line turns through']  # fmt: skip
    else:
        lines.append('shape = "step"')
    text = "\n".join([*lines, f"file = {toml(name)}", ""])
    read_job_text(text, Path(path))
    return text


def decoded(data: str) -> bytes:
    """The bytes of a dropped file; `ValueError` when it is not base64."""
    try:
        return base64.b64decode(data, validate=True)
    except binascii.Error:
        raise ValueError("the file did not arrive whole") from None


def example_text() -> str:
    """The boat-shed job, from beside the package or, in a clone, from its examples."""
    for folder in (Path(__file__).parent / "examples", Path(__file__).parents[3] / "examples"):
        if (folder / EXAMPLE).is_file():
            return (folder / EXAMPLE).read_text(encoding="utf-8")
    raise FileNotFoundError(EXAMPLE)


def choices(tell: Tell) -> dict[str, list[str]]:
    """What a part may be made of, fixed to and fixed with."""
    from steadfold.job.models import BACKINGS
    from steadfold.page.form import fasteners, materials

    return {"material": list(materials()), "to": list(BACKINGS), "fastener": list(fasteners())}
