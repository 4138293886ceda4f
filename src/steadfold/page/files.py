"""Files of one part to take along, in a child process."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from steadfold.deliver.order_folder import NO_NESTS, NothingToOrder, allowed, order_folder
from steadfold.deliver.part_files import file_stems, part_files
from steadfold.deliver.sheets.head import Style
from steadfold.findings import Verdict
from steadfold.job import read_job_text
from steadfold.money.nesting import nest_from_plain
from steadfold.page.paper import pages_of
from steadfold.quantities.showing import Units
from steadfold.review import Review, review
from steadfold.review.costing import LaidOut

LAY_OUT = "nested sheets: they are laid out under what it costs; make the folder again once they are there"


def part_file(tell: Callable[[float, str], None], text: str, path: str, number: int, kind: str) -> tuple[str, bytes]:
    """Name and content of a part's dxf, svg, step or glb; `LookupError` when it has no flat."""
    from steadfold.page.answers import shape_only

    job = read_job_text(text, Path(path))
    alone = replace(job, parts=(job.parts[number],))
    made = part_files(Review(alone, (shape_only(alone),)), models=kind in ("step", "glb"))
    for name, data in made.items():
        if name.endswith(f".{kind}"):
            return name, data
    raise LookupError(kind)


def _of_those_written(layouts: bytes, whole: Review, even_if: Sequence[Verdict]) -> tuple[LaidOut, ...]:
    """Layouts of which every part is written out."""
    written = {part.name: part for part in whole.parts if allowed(part, even_if)}
    found = []
    for plain in json.loads(layouts or b"[]"):
        nest = nest_from_plain(plain)
        names = tuple(piece.name for piece in nest.pieces)
        if all(name in written for name in names):
            first = written[names[0]]
            found.append(LaidOut(first.material.id, first.thickness_mm or 0.0, names, nest))
    return tuple(found)


def order_made(
    tell: Callable[[float, str], None],
    text: str,
    path: str,
    number: int,
    even: bool,
    units: Units = "mm",
    layouts: bytes = b"",
) -> tuple[dict[str, Any], bytes]:
    """What the order folder of a job holds and leaves out, and the folder as one archive.

    In inches it is for paper of Letter size. What is not enough or unproven stays out unless `even`; then every sheet of
    it says so. What is *stop* always does. `layouts` are those of `money.on_sheets`; one that holds a part that stays out
    is left out with it.
    """
    job = read_job_text(text, Path(path))
    whole = review(job, lambda share, what: tell(0.6 * share, what))
    even_if = [Verdict.NOT_ENOUGH, Verdict.UNPROVEN] if even else []
    stem = file_stems([job.name])[0]
    told: dict[str, Any] = {"name": f"{stem}-order.zip", "nothing": None, "layouts": len(layouts)}
    try:
        made = order_folder(
            whole,
            Style("letter" if units == "in" else "A4", units=units),
            even_if=even_if,
            nests=_of_those_written(layouts, whole, even_if),
            progress=lambda share, what: tell(0.6 + 0.4 * share, what),
        )
    except NothingToOrder as error:
        return {
            **told,
            "nothing": str(error),
            "files": [],
            "pages": {},
            "parts": [],
            "left_out": [],
            "missing": [],
        }, b""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(made.files):
            # One date for all, so that the same job makes the same archive.
            entry = zipfile.ZipInfo(f"order/{name}", (1980, 1, 1, 0, 0, 0))
            archive.writestr(entry, made.files[name], zipfile.ZIP_DEFLATED)
    left_out = [{"name": each.name, "verdict": str(each.verdict), "why": each.why} for each in made.left_out]
    pages = pages_of(made.files)
    missing = [LAY_OUT if each == NO_NESTS else each for each in made.missing]
    listed = {"files": sorted(made.files), "pages": pages, "parts": list(made.parts), "missing": missing}
    return {**told, **listed, "left_out": left_out}, packed.getvalue()
