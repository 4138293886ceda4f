"""How hard a rated part works, as a picture: coloured by share of the limit, sagged, with its loads and fixings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from steadfold.deliver.annotation import Arrow, Mark
from steadfold.deliver.folded_picture import folded_svg
from steadfold.deliver.view import up_against
from steadfold.deliver.worked_sheet import WorkedSheet
from steadfold.mount.records import BoltAnswer, Picture
from steadfold.quantities import show_force
from steadfold.quantities.showing import Units
from steadfold.sheet.part import Part
from steadfold.sheet.pose import fold

IN_PLANE_MM = 1e-3


def strength_svg(part: Part, picture: Picture, bolts: Sequence[BoltAnswer] = (), units: Units = "mm") -> str:
    """The rated part as an SVG: the worst of all cases as colour, the resting case's sag drawn large.

    `bolts` are the answers for the picture's fixings, in their order.
    """
    arrows = [Arrow(at, down, say.rsplit(": ", 1)[-1]) for at, down, say in picture.loads]
    return folded_svg(
        part,
        worked_by(part, picture),
        up=up_against(picture.loads[0][1]) if picture.loads else None,
        arrows=arrows,
        marks=_fixings(picture, bolts, units),
        units=units,
        notes=_loads(picture),
    )


def worked_by(part: Part, picture: Picture) -> WorkedSheet:
    """What the picture of an answer says of the part's mesh."""
    regions = _in_bends(part, picture)
    return WorkedSheet(picture.nodes_mm, picture.triangles, part.thickness_mm, picture.share, picture.moved_mm, regions)


def _in_bends(part: Part, picture: Picture) -> np.ndarray:
    """For each triangle 1 when it lies in a bend, 0 in a panel."""
    corners = picture.nodes_mm[picture.triangles]
    flat = np.zeros(len(corners), dtype=bool)
    for frame in fold(part).panels:
        heights = (corners - frame.origin) @ frame.face
        flat |= (np.abs(heights) < IN_PLANE_MM).all(axis=1)
    return (~flat).astype(int)


def _fixings(picture: Picture, bolts: Sequence[BoltAnswer], units: Units) -> list[Mark]:
    answers: Sequence[BoltAnswer | None] = bolts
    if len(answers) != len(picture.fixings):
        answers = (None,) * len(picture.fixings)
    pairs = zip(picture.fixings, answers, strict=True)
    return [Mark(at, str(n), _said(answer, units)) for n, (at, answer) in enumerate(pairs, start=1)]


def _said(answer: BoltAnswer | None, units: Units) -> str:
    if answer is None:
        return "fixing"
    share = "nothing proves what it may take" if answer.share is None else f"{answer.share:.2f} of what it may take"
    pull, shear = show_force(answer.tension_n, units), show_force(answer.shear_n, units)
    return f"fixing: pull {pull}, shear {shear}, {share} ({answer.case})"


def _loads(picture: Picture) -> list[str]:
    counted = Counter(say for _, _, say in picture.loads)
    return [f"{count} × {say}" if count > 1 else say for say, count in counted.items()]
