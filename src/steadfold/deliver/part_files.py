"""The files of each part of a review, by name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import datetime

from steadfold.quantities.showing import Units
from steadfold.review import PartReview, Review

NO_DATE = datetime(2000, 1, 1)
"""Stands in a STEP header where the job gives no date, so that the same job makes the same file."""


def part_files(review: Review, units: Units = "mm", models: bool = False) -> dict[str, bytes]:
    """DXF and SVG of every flat and, on request, STEP and glTF of every folded part of a job."""
    return files_of(review.parts, units, models)


def files_of(parts: Sequence[PartReview], units: Units = "mm", models: bool = False) -> dict[str, bytes]:
    """As `part_files`, for some parts."""
    from steadfold.deliver.dxf_file import dxf_text
    from steadfold.deliver.flat_picture import flat_svg

    files: dict[str, bytes] = {}
    for part, stem in zip(parts, file_stems(part.name for part in parts), strict=True):
        if part.part is None or part.flat is None:
            continue
        files[f"{stem}.dxf"] = dxf_text(part.part, part.flat).encode("utf-8")
        files[f"{stem}.svg"] = flat_svg(part.part, part.flat, units).encode("utf-8")
        if models:
            files.update(_models(part, stem))
    return files


def strength_pictures(parts: Sequence[PartReview], units: Units = "mm") -> dict[str, bytes]:
    """A picture of every part whose strength was computed: how hard the metal works, sagged, with loads and fixings."""
    from steadfold.deliver.strength_picture import strength_svg

    files: dict[str, bytes] = {}
    for part, stem in zip(parts, file_stems(part.name for part in parts), strict=True):
        if part.part is not None and part.strength is not None and part.strength.picture is not None:
            picture = strength_svg(part.part, part.strength.picture, part.strength.bolts, units)
            files[f"{stem}-works.svg"] = picture.encode("utf-8")
    return files


def _models(part: PartReview, stem: str) -> dict[str, bytes]:
    from steadfold.deliver.gltf import gltf_bytes
    from steadfold.deliver.step_file import step_bytes

    assert part.part is not None
    return {f"{stem}.step": step_bytes(part.part, part.name, NO_DATE), f"{stem}.glb": gltf_bytes(part.part, part.name)}


def file_stems(names: Iterable[str]) -> list[str]:
    """Plain file names for part names: small letters, digits and hyphens, each once.

    >>> file_stems(["Oar rack", "oar  rack", "tray 2"])
    ['oar-rack', 'oar-rack-2', 'tray-2']
    """
    stems: list[str] = []
    for name in names:
        stem = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60] or "part"
        unique, number = stem, 2
        while unique in stems:
            unique, number = f"{stem}-{number}", number + 1
        stems.append(unique)
    return stems
