"""PDF from a template and data, by typst: its own fonts only, nothing read from the disk, no network.

Data reach a template as JSON, never as source, so that no text of a job is ever run. Sets no date of its own: the
same data give the same bytes.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

LOOK = "look.typ"


class TypesetError(ValueError):
    """A sheet that could not be set; `str()` names the sheet and what typst said."""


@cache
def _source(name: str) -> bytes:
    return resources.files("steadfold.deliver").joinpath("templates", name).read_bytes()


def pdf(template: str, data: Mapping[str, Any]) -> bytes:
    """The PDF of a template (its name without ending) and its data.

    Raises `TypesetError` with the template's name when typst refuses it.
    """
    import typst

    sources = {"main.typ": _source(f"{template}.typ"), LOOK: _source(LOOK)}
    text = json.dumps(data, ensure_ascii=False, allow_nan=False)
    # An empty folder as root and for packages: there is nothing to read, even for a template that tried.
    with tempfile.TemporaryDirectory(prefix="steadfold-") as empty:
        try:
            made: object = typst.compile(  # type: ignore[call-overload]
                sources,
                root=empty,
                font_paths=[],
                ignore_system_fonts=True,
                format="pdf",
                sys_inputs={"data": text},
                package_path=empty,
                package_cache_path=empty,
            )
        except typst.TypstError as error:
            raise TypesetError(f"the sheet {template!r} could not be set: {error}") from error
    assert isinstance(made, bytes)
    return made
