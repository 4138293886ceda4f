"""Files of one part to take along, in a child process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from steadfold.deliver.part_files import part_files
from steadfold.job import read_job_text
from steadfold.review import Review


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


def order_archive(tell: Callable[[float, str], None], text: str, path: str) -> tuple[str, bytes]:
    """Name and content of the order folder as one archive, or of a note that says why there is none yet.

    What is not enough, unproven or stop stays out, as `steadfold order` leaves it out unless told so in words.
    """
    import io
    import zipfile

    from steadfold.deliver.order_folder import NothingToOrder, order_folder
    from steadfold.deliver.part_files import file_stems
    from steadfold.review import review

    job = read_job_text(text, Path(path))
    whole = review(job, lambda share, what: tell(0.6 * share, what))
    try:
        made = order_folder(whole, progress=lambda share, what: tell(0.6 + 0.4 * share, what))
    except NothingToOrder as error:
        return "nothing-to-order-yet.txt", f"{error}\n".encode()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(made.files):
            archive.writestr(zipfile.ZipInfo(f"order/{name}", (1980, 1, 1, 0, 0, 0)), made.files[name], zipfile.ZIP_DEFLATED)
    return f"{file_stems([job.name])[0]}-order.zip", packed.getvalue()
