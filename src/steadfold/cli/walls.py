"""The rating on each kind of wall in words on a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from steadfold.mount.records import WallRating
from steadfold.quantities import show_mass
from steadfold.quantities.showing import Units
from steadfold.review.walls import lowest


def wall_rows(walls: Sequence[WallRating], units: Units, details: bool) -> list[tuple[str, str]]:
    """Name and words of each row: every wall the job names, those it does not name (one by one with `details`), and the
    mass that goes on the label where there are several to choose from. Nothing for a part that has but its own."""
    if len(walls) < 2:
        return []
    rows = [(f"on {wall.backing}", _said(wall, units)) for wall in walls if wall.claimed or details]
    others = [wall.backing for wall in walls if not wall.claimed]
    if others and not details:
        rows.append(
            ("other walls", f"unproven until the job gives a fixing and what it holds there: {', '.join(others)}")
        )
    least = lowest(walls)
    if least is not None and sum(wall.claimed for wall in walls) > 1:
        rows.append(("on the label", f"{show_mass(least.rating_kg or 0.0, units)}, the lowest of its walls"))
    return rows


def _said(wall: WallRating, units: Units) -> str:
    if wall.rating_kg is None:
        return f"unproven: {wall.why}"
    return f"at least {show_mass(wall.rating_kg, units)} with {wall.fixing}, set by {wall.governs}"
