"""The order folder: everything the shop, the bench, the tester and the buyer need, made from one review.

    shop/   DXF, STEP and drawing of each part, quote request, traveller
    bench/  cut list, templates at full size, assembly sheets; of stands also saw templates, levelling, weighing
    proof/  report, proof-load sheets, rating labels
    sale/   product sheets, fitting sheets
    contents.json, SHA256SUMS   what is in it, from which job and revision, with a hash of every file

A part that is *not enough*, *unproven* or *stop* is left out unless its verdict is asked for in words; then every
sheet says so, and so does every file's name.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from steadfold import __version__
from steadfold.deliver.part_files import NO_DATE, file_stems
from steadfold.deliver.sheets.head import NOT_A_PASS, Head, Style, job_head, part_head, reason_of, sentence
from steadfold.deliver.whole_folder import FolderRefused, write_whole_folder
from steadfold.findings import Verdict, worst
from steadfold.review import PartReview, Review
from steadfold.review.costing import LaidOut
from steadfold.review.retold import retold
from steadfold.sheet.solid import SolidError
from steadfold.stand.answers import StandReport

CONTENTS, SUMS = "contents.json", "SHA256SUMS"
FORMAT = 1

NO_NESTS = "nested sheets: lay them out once with `steadfold cost JOB --nest DIR`, then order with --nests DIR"

Progress = Callable[[float, str], None]


class NothingToOrder(ValueError):
    """No part may be written out; `str()` says why, part by part, and how to ask for it all the same."""


@dataclass(frozen=True)
class LeftOut:
    """A part that was not written out, its verdict, and why."""

    name: str
    verdict: Verdict
    why: str


@dataclass(frozen=True)
class OrderFolder:
    """The files of an order folder by their paths in it, which parts were left out, and what else is not in it."""

    files: Mapping[str, bytes]
    parts: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True)
class _Part:
    """A part with what its sheets share."""

    review: PartReview
    head: Head
    stem: str


def allowed(part: PartReview, even_if: Sequence[Verdict]) -> bool:
    """Whether a part is written out: it has a flat, and its verdict is a pass or was asked for in words."""
    return part.flat is not None and part.part is not None and _asked_for(part, even_if)


def order_folder(
    review: Review,
    style: Style | None = None,
    even_if: Sequence[Verdict] = (),
    nests: Sequence[LaidOut] = (),
    progress: Progress = lambda share, what: None,
) -> OrderFolder:
    """All files of the order folder; the same review and settings give the same bytes.

    A part without a solid is left out as *stop*. `nests` are layouts kept from an earlier run: laid out anew they would
    differ. Raises `NothingToOrder` when nothing may be written out, `NestRefused` for a layout that is not of this job.
    """
    style = style or Style()
    review = retold(review, style.units)
    chosen = [part for part in review.parts if allowed(part, even_if)]
    left_out = [
        LeftOut(part.name, part.verdict, reason_of(part)) for part in review.parts if not allowed(part, even_if)
    ]
    stands = [stand for stand in review.stands if _asked_for(stand, even_if)]
    stems = _stems([*chosen, *stands])
    parts: list[_Part] = []
    owned: dict[str, list[str]] = {}
    files: dict[str, bytes] = {}
    missing: list[str] = []
    count = len(chosen) + 2
    for number, (part, stem) in enumerate(zip(chosen, stems[: len(chosen)], strict=True)):
        progress(number / count, part.name)
        one = _Part(part, part_head(review.job, part), stem)
        try:
            made, lacking = _part_files(review, one, style)
        except SolidError as error:
            left_out.append(LeftOut(part.name, Verdict.STOP, str(error)))
            continue
        parts.append(one)
        owned[stem] = sorted(made)
        files.update(made)
        missing += lacking
    for stand in review.stands:
        if not _asked_for(stand, even_if):
            left_out.append(LeftOut(stand.name, stand.verdict, sentence(f"Weakest: {stand.weakest}")))
    if not parts and not stands:
        raise NothingToOrder(_nothing(left_out))
    progress((count - 2) / count, "sheets of the whole job")
    for stand, stem in zip(stands, stems[len(chosen) :], strict=True):
        made = _stand_files(review, stand, stem, style)
        owned[stem] = sorted(made)
        files.update(made)
    files.update(_nest_files(parts, nests, style))
    files.update(_job_files(review, parts, stands, left_out, style))
    if parts and not nests:
        missing.append(NO_NESTS)
    progress((count - 1) / count, "contents")
    contents = _contents(review, parts, stands, owned, left_out, missing, files, style)
    files[CONTENTS] = (json.dumps(contents, ensure_ascii=False, indent=1) + "\n").encode("utf-8")
    files[SUMS] = "".join(f"{_sha(data)}  {name}\n" for name, data in sorted(files.items())).encode("utf-8")
    progress(1.0, "done")
    names = (*(part.review.name for part in parts), *(stand.name for stand in stands))
    return OrderFolder(files, names, tuple(left_out), tuple(missing))


def write_order_folder(
    folder: str | os.PathLike[str], made: OrderFolder, progress: Progress = lambda share, what: None
) -> None:
    """Write an order folder whole: the name holds all of it, or what it held before.

    An order folder that stands there is replaced, unless something in it is not as it was written: then, and where
    anything else stands there, `FolderRefused` names it and nothing is changed.
    """
    refuse_others(folder)
    write_whole_folder(folder, made.files, lambda share: progress(share, "writing"))


def refuse_others(folder: str | os.PathLike[str]) -> None:
    """Refuse to replace what is not an order folder as it was written.

    Raises `FolderRefused` naming files that were added or changed.
    """
    place = Path(folder)
    if not place.exists():
        return
    if not place.is_dir():
        raise FolderRefused(f"{place} is a file; name a folder")
    found = {
        path.relative_to(place).as_posix(): path for path in place.rglob("*") if not path.is_dir() or path.is_symlink()
    }
    if not found:
        return
    try:
        listed = json.loads(found[CONTENTS].read_text(encoding="utf-8"))["files"]
        known = {entry["path"]: entry["sha256"] for entry in listed}
    except (KeyError, OSError, ValueError, TypeError):
        raise FolderRefused(
            f"{place} is not empty and holds no order folder; name another, so that nothing in it is lost"
        ) from None
    added = [name for name in found if name not in known and name not in (CONTENTS, SUMS)]
    changed = [
        name
        for name, path in found.items()
        if name in known and (path.is_symlink() or _sha(path.read_bytes()) != known[name])
    ]
    if added or changed:
        names = ", ".join(sorted([*added, *changed])[:5])
        raise FolderRefused(
            f"{place} holds files that were added or changed since it was written ({names}); "
            "move them away or name another folder, so that they are not lost"
        )


def verify(folder: str | os.PathLike[str]) -> list[str]:
    """What in an order folder differs from its contents: names of files missing, changed or added; empty if none."""
    place = Path(folder)
    listed = json.loads((place / CONTENTS).read_text(encoding="utf-8"))["files"]
    known = {entry["path"]: entry["sha256"] for entry in listed}
    wrong = []
    for name, wanted in known.items():
        path = place / name
        if not path.is_file() or _sha(path.read_bytes()) != wanted:
            wrong.append(name)
    have = {path.relative_to(place).as_posix() for path in place.rglob("*") if path.is_file()}
    return sorted([*wrong, *(have - set(known) - {CONTENTS, SUMS})])


def _sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _asked_for(thing: PartReview | StandReport, even_if: Sequence[Verdict]) -> bool:
    return thing.verdict not in NOT_A_PASS or thing.verdict in even_if


def _stems(things: Sequence[PartReview | StandReport]) -> list[str]:
    """Names of files; a verdict that is no pass is part of the name, so that it goes wherever the file goes."""
    return file_stems(f"{each.name} {each.verdict}" if each.verdict in NOT_A_PASS else each.name for each in things)


def _nothing(left_out: Sequence[LeftOut]) -> str:
    said = "; ".join(f"{part.name} is {part.verdict}: {part.why}" for part in left_out)
    words = sorted({str(part.verdict) for part in left_out})
    asked = " ".join(f'--even-if "{word}"' for word in words)
    return f"Nothing was written out. {said} To have it written out all the same, say so: {asked}"


def _part_files(review: Review, part: _Part, style: Style) -> tuple[dict[str, bytes], list[str]]:
    from steadfold.deliver.sheets.assembly import assembly
    from steadfold.deliver.sheets.fitting import fitting
    from steadfold.deliver.sheets.fixing import fixed_of
    from steadfold.deliver.sheets.part_drawing import part_drawing
    from steadfold.deliver.sheets.product_sheet import product_sheet
    from steadfold.deliver.sheets.proof_load import proof_load
    from steadfold.deliver.sheets.rating_label import label_of, label_pdf, label_svg
    from steadfold.deliver.sheets.templates import flat_template, mounting_template
    from steadfold.deliver.stamped import stamped_dxf, stamped_step
    from steadfold.review.shop import shop_of

    head, stem, found = part.head, part.stem, part.review
    assert found.part is not None and found.flat is not None
    made_at = datetime.combine(head.made_on, datetime.min.time()) if head.made_on is not None else NO_DATE
    fixed = fixed_of(found)
    label = label_of(head, found, style.units)
    files = {
        f"shop/{stem}.dxf": stamped_dxf(found.part, found.flat, head),
        f"shop/{stem}.step": stamped_step(found.part, head, made_at),
        f"shop/{stem}-drawing.pdf": part_drawing(head, found, shop_of(review.job), style),
        f"bench/{stem}-assembly.pdf": assembly(head, found, fixed, style),
        f"proof/{stem}-proof-load.pdf": proof_load(head, found, fixed, style),
        f"proof/{stem}-label.svg": label_svg(label),
        f"proof/{stem}-label.pdf": label_pdf(head, label, style),
        f"sale/{stem}-product.pdf": product_sheet(head, found, fixed, style),
        f"sale/{stem}-fitting.pdf": fitting(head, found, fixed, style),
    }
    missing = []
    flat = flat_template(head, found, style)
    if flat is None:
        missing.append(f"{found.name}: no template of the flat, it would take more than 48 sheets of paper")
    else:
        files[f"bench/{stem}-template.pdf"] = flat
    wall = mounting_template(head, found, fixed, style) if fixed is not None else None
    if wall is None:
        why = (
            "it would take more than 48 sheets of paper" if fixed is not None else "the job does not say how it is held"
        )
        missing.append(f"{found.name}: no mounting template, {why}")
    else:
        files[f"bench/{stem}-mounting-template.pdf"] = wall
    return files, missing


def _job_files(
    review: Review,
    parts: Sequence[_Part],
    stands: Sequence[StandReport],
    left_out: Sequence[LeftOut],
    style: Style,
) -> dict[str, bytes]:
    from steadfold.deliver.sheets.cut_list import cut_list, cut_list_csv
    from steadfold.deliver.sheets.fixing import fixed_of
    from steadfold.deliver.sheets.quote_request import COLUMNS, csv_bytes, quote_request, quote_rows
    from steadfold.deliver.sheets.report import report
    from steadfold.deliver.sheets.traveller import traveller
    from steadfold.review.shop import shop_of

    shop = shop_of(review.job)
    reviews = [part.review for part in parts]
    # What goes to the shop is about parts only; bench and report are about stands too.
    shop_head = _head_of_all(review, reviews)
    head = _head_of_all(review, [*reviews, *stands])
    out = [(p.name, str(p.verdict), p.why) for p in left_out]
    files = {
        "bench/cut-list.csv": cut_list_csv(head, reviews, stands),
        "bench/cut-list.pdf": cut_list(head, reviews, stands, style),
        "proof/report.pdf": report(
            head, review, [(p.head, p.review, fixed_of(p.review)) for p in parts], stands, out, style
        ),
    }
    if not parts:
        return files
    names = {
        part.review.name: {
            "stem": part.stem,
            "dxf": f"{part.stem}.dxf",
            "step": f"{part.stem}.step",
            "drawing": f"{part.stem}-drawing.pdf",
        }
        for part in parts
    }
    pages = [(p.head, p.review, p.stem) for p in parts]
    return files | {
        "shop/quote-request.csv": csv_bytes(COLUMNS, quote_rows(shop_head, reviews, names)),
        "shop/quote-request.pdf": quote_request(shop_head, reviews, names, shop, style),
        "shop/traveller.pdf": traveller(shop_head, pages, shop, style),
    }


def _head_of_all(review: Review, things: Sequence[PartReview | StandReport]) -> Head:
    """The head of a sheet about several parts and stands: the worst verdict, and which have one that is no pass."""
    named = ", ".join(f"{each.name} ({each.verdict})" for each in things if each.verdict in NOT_A_PASS)
    return job_head(review.job, worst(each.verdict for each in things), f"{named}.")


def _stand_files(review: Review, stand: StandReport, stem: str, style: Style) -> dict[str, bytes]:
    """The sheets of one stand."""
    from steadfold.deliver.sheets.saw_templates import saw_templates
    from steadfold.deliver.sheets.stand_sheets import levelling_plan, stand_assembly, stand_cut_list, weighing_sheet

    why = sentence(f"Weakest: {stand.weakest}")
    head = replace(job_head(review.job, stand.verdict, why), part=stand.name)
    files = {
        f"bench/{stem}-cut-list.pdf": stand_cut_list(head, stand, style),
        f"bench/{stem}-assembly.pdf": stand_assembly(head, stand, style),
        f"bench/{stem}-levelling.pdf": levelling_plan(head, stand, style),
        f"bench/{stem}-weighing.pdf": weighing_sheet(head, stand, style),
    }
    saw = saw_templates(head, stand, style)
    if saw is not None:
        files[f"bench/{stem}-saw-templates.pdf"] = saw
    return files


def _nest_files(parts: Sequence[_Part], nests: Sequence[LaidOut], style: Style) -> dict[str, bytes]:
    """Layouts kept from an earlier run, as they were, with the job in the heads of their DXF.

    Raises `NestRefused` for a layout that is not of these parts, or in which something overlaps.
    """
    from steadfold.deliver.nest_files import nest_files
    from steadfold.deliver.sheets.nests import check_nests
    from steadfold.deliver.stamped import stamped

    check_nests(nests, [part.review for part in parts])
    heads = {part.review.name: part.head for part in parts}
    files: dict[str, bytes] = {}
    for each in nests:
        mine = [heads[name] for name in each.names]
        marked = next((head for head in mine if head.stamp), mine[0])
        suffix = f"-{marked.stamp.replace(' ', '-')}" if marked.stamp else ""
        for name, data in nest_files([each], style.units).items():
            stem, ending = name.rsplit(".", 1)
            text = data.decode("utf-8")
            if ending == "dxf":
                text = stamped(text, replace(marked, part=", ".join(each.names), quantity=0))
            files[f"shop/{stem}{suffix}.{ending}"] = text.encode("utf-8")
    return files


def _contents(
    review: Review,
    parts: Sequence[_Part],
    stands: Sequence[StandReport],
    owned: Mapping[str, Sequence[str]],
    left_out: Sequence[LeftOut],
    missing: Sequence[str],
    files: Mapping[str, bytes],
    style: Style,
) -> dict[str, Any]:
    head = job_head(review.job, Verdict.ENOUGH)
    return {
        "steadfold": FORMAT,
        "made_by": f"steadfold {__version__}",
        "job": review.job.name,
        "revision": review.job.revision,
        "job_fingerprint": review.job.fingerprint,
        "date": head.made_on.isoformat() if head.made_on is not None else None,
        "paper": style.paper,
        "projection": style.projection,
        "units": style.units,
        "parts": [
            {
                "name": part.review.name,
                "quantity": part.review.ordered.quantity,
                "verdict": str(part.review.verdict),
                "asked_for_in_words": bool(part.head.stamp),
                "files": list(owned[part.stem]),
            }
            for part in parts
        ],
        "stands": [
            {"name": stand.name, "verdict": str(stand.verdict), "files": list(owned[stem])}
            for stand, stem in zip(stands, list(owned)[len(parts) :], strict=True)
        ],
        "left_out": [{"name": p.name, "verdict": str(p.verdict), "why": p.why} for p in left_out],
        "not_in_it": list(missing),
        "files": [{"path": name, "bytes": len(data), "sha256": _sha(data)} for name, data in sorted(files.items())],
    }
