"""The files of layouts: for each metal and sheet a picture, a DXF, and the layout as data, so that it stays."""

from __future__ import annotations

import json
from collections.abc import Sequence

from steadfold.deliver.nest_picture import nest_dxf, nest_svg
from steadfold.deliver.part_files import file_stems
from steadfold.money.nesting import plain_nest
from steadfold.quantities.showing import Units
from steadfold.review.costing import LaidOut


def nest_files(laid_out: Sequence[LaidOut], units: Units = "mm") -> dict[str, bytes]:
    """Files by name."""
    files: dict[str, bytes] = {}
    stems = file_stems(f"sheets {group.material} {group.thickness_mm:.2f} mm" for group in laid_out)
    for stem, group in zip(stems, laid_out, strict=True):
        kept = json.dumps(plain_nest(group.nest), ensure_ascii=False, indent=1)
        files[f"{stem}.json"] = (kept + "\n").encode("utf-8")
        for number in range(len(group.nest.sheets)):
            files[f"{stem}-{number + 1}.svg"] = nest_svg(group.nest, number, units).encode("utf-8")
            files[f"{stem}-{number + 1}.dxf"] = nest_dxf(group.nest, number).encode("utf-8")
    return files
