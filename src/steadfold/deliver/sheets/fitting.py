"""The fitting sheet for whoever bought it: three kinds of wall, what goes into each, and what it is rated for there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from steadfold.catalogue import NotInCatalogue
from steadfold.deliver.drawing.openings import show
from steadfold.deliver.sheets.assembly import PICTURE_MM, box_rows, small_drawing
from steadfold.deliver.sheets.fixing import Fixed, drill_words, fixing_words
from steadfold.deliver.sheets.head import Head, Style, sentence
from steadfold.deliver.sheets.pictures import fixing_points, isometric_picture, section_picture
from steadfold.deliver.sheets.rated import Printed, printed_rating, rating_down
from steadfold.deliver.sheets.templates import mounting_marks
from steadfold.deliver.sheets.typeset import pdf
from steadfold.job.models import Backing, Mount
from steadfold.joints.backing import hold
from steadfold.joints.sheet_hole import SheetHole
from steadfold.quantities import in_units
from steadfold.quantities.showing import Units
from steadfold.review import PartReview

WALLS: tuple[tuple[Backing, str, str], ...] = (
    ("wood stud", "Plasterboard on wood studs", "Screw into the studs only; plasterboard alone holds nothing."),
    ("masonry", "Brick, block or concrete", "Plugs or anchors in the solid part, not in the joints."),
    ("steel stud", "Plasterboard on steel studs", "A plywood board across several studs first, the part on the board."),
)
"""The three kinds of wall a buyer has."""

BOARD_MM = 12.5
"""Usual plasterboard (common practice)."""

SCREWS = (("lag screw 1/4", 6.35), ("wood screw #14", 6.1468), ("wood screw #10", 4.826), ("wood screw #8", 4.1656))
SCREW_MM = 60.0


@dataclass(frozen=True)
class Wall:
    """One kind of wall for one part: the fixing, what it is rated for, or why that is not proven."""

    backing: Backing
    title: str
    advice: str
    mount: Mount
    rating: str
    why: str


def walls_of(part: PartReview, fixed: Fixed, units: Units) -> tuple[Wall, ...]:
    """The three walls.

    The job's own mount is kept where it is of that kind, and so is another wall that the job names; their ratings are
    the review's. A wall that the job does not name stays unproven, with what is missing for it.
    """
    return tuple(_wall(part, fixed, backing, title, advice, units) for backing, title, advice in WALLS)


def _wall(part: PartReview, fixed: Fixed, backing: Backing, title: str, advice: str, units: Units) -> Wall:
    own = fixed.mount
    if own.to == backing:
        mount = own
        printed = printed_rating(part)
        if not mount.gap_mm and backing != "masonry":
            title, advice = (
                title.removeprefix("Plasterboard on ").capitalize(),
                f"{advice} Rated without a board between.",
            )
        if part.walls and part.walls[0].rating_kg is not None and printed.lacks == "unproven":
            printed = Printed(part.walls[0].rating_kg)  # another wall of the job is the unproven one
        return Wall(
            backing, title, advice, mount, "" if printed.kg is None else rating_down(printed.kg, units), printed.why
        )
    named = next((pair for pair in zip(own.walls, part.walls[1:], strict=False) if pair[0].to == backing), None)
    if named is not None:
        mount, rated = named
        if mount.called:
            advice = f"{mount.called[0].upper() + mount.called[1:]}. {advice}"
        if rated.rating_kg is None:
            return Wall(backing, title, advice, mount, "", sentence(in_units(rated.why, units)))
        return Wall(backing, title, advice, mount, rating_down(rated.rating_kg, units), "")
    mount = _usual_mount(backing, fixed)
    if part.strength is None:
        return Wall(backing, title, advice, mount, "", "Its rating is not computed.")
    return Wall(backing, title, advice, mount, "", sentence(in_units(_unproven_why(part, fixed, mount), units)))


def _usual_mount(backing: Backing, fixed: Fixed) -> Mount:
    """A fixing that goes through the part's holes, for a wall the job does not name."""
    hole = min(h.width_mm for h in fixed.holes)
    if backing == "wood stud":
        screw = next((name for name, diameter in SCREWS if diameter + 0.3 <= hole), SCREWS[-1][0])
        return Mount(
            "wood stud", screw, None, fixed.mount.holes, SCREW_MM, None, None, None, None, BOARD_MM, "plasterboard"
        )
    size = "M8" if hole >= 8.4 else "M6" if hole >= 6.4 else "M5" if hole >= 5.3 else "M4"
    if backing == "masonry":
        return Mount("masonry", f"plug and screw or anchor, {size}", None, fixed.mount.holes)
    return Mount(
        "steel stud",
        f"{size} toggle, or screws into a board",
        None,
        fixed.mount.holes,
        None,
        None,
        None,
        None,
        None,
        BOARD_MM,
        "plasterboard",
    )


def _unproven_why(part: PartReview, fixed: Fixed, mount: Mount) -> str:
    """Why a wall that the job does not name is not rated: what its fixing holds is published only for a known wood."""
    hole = fixed.holes[0].width_mm
    sheet = SheetHole(part.thickness_mm or 0.0, part.material.ultimate_low_mpa, hole, 2.0 * hole)
    try:
        found = hold(mount.to, mount.fastener, sheet=sheet, length_mm=mount.length_mm, gap_mm=mount.gap_mm or 0.0)
    except (NotInCatalogue, ValueError) as error:
        return str(error)
    return found.why_unproven or "the job does not name this wall, so it is not rated there"


def lowest(walls: tuple[Wall, ...]) -> str:
    """What may be printed on a carton: unproven while any wall is, else the least rating."""
    if any(not wall.rating for wall in walls):
        return "unproven"
    return min((wall.rating for wall in walls), key=lambda r: float(r.split()[0]))


def fitting(head: Head, part: PartReview, fixed: Fixed | None, style: Style) -> bytes:
    """The fitting sheet as PDF."""
    assert part.part is not None
    units = style.units
    walls = walls_of(part, fixed, units) if fixed is not None else ()
    steps: list[dict[str, Any]] = []
    if fixed is not None:
        marks, width, height = mounting_marks(part, fixed, units)
        steps = [
            {"title": "Hold the template to the wall, level, and mark", "picture": small_drawing(marks, width, height)},
            {
                "title": "Fix at every number; all loosely first, then tight",
                "picture": isometric_picture(part.part, *PICTURE_MM, numbers=fixing_points(part, fixed)),
            },
        ]
    data: dict[str, Any] = {
        "head": head.plain(style, "Fitting it"),
        "box": box_rows(part, fixed, units),
        "steps": steps,
        "walls": [
            {
                "title": wall.title,
                "advice": wall.advice,
                "picture": section_picture(part, wall.mount, units, 52.0, 38.0),
                "fixing": sentence(fixing_words(wall.mount, units)),
                "drill": drill_words(wall.mount, units),
                "rating": wall.rating,
                "why": wall.why,
            }
            for wall in walls
        ],
        "lowest": lowest(walls) if walls else "unproven",
        "own": _own_words(part, fixed, units),
        "pitch": _pitch_words(fixed, units),
    }
    return pdf("fitting", data)


def _own_words(part: PartReview, fixed: Fixed | None, units: Units) -> str:
    """The wall the part was rated on, where it is none of the three."""
    if fixed is None or fixed.mount.to in {wall[0] for wall in WALLS}:
        return ""
    printed = printed_rating(part)
    rated = (
        f"not rated there. {printed.why}"
        if printed.kg is None
        else f"rated there for {rating_down(printed.kg, units)}."
    )
    return f"Made for {fixed.mount.to} with {fixing_words(fixed.mount, units)}: {rated}"


def _pitch_words(fixed: Fixed | None, units: Units) -> str:
    if fixed is None or len(fixed.holes) < 2:
        return ""
    xs = [hole.at_mm[0] for hole in fixed.holes]
    return f"The outer holes are {show(max(xs) - min(xs), units)} {units} apart."
