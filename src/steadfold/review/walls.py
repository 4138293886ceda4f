"""The same part on every kind of wall it may go on: a rating for each, or what is missing for one."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from steadfold.catalogue import Material, fasteners
from steadfold.findings import Finding, Severity
from steadfold.job.models import Job, JobPart, Mount
from steadfold.job.problem import JobProblems
from steadfold.joints.backing import WALL_REASONS, wall_finding
from steadfold.mechanics import Mechanism
from steadfold.mount.rating import strength
from steadfold.mount.records import MountError, Strength, WallRating
from steadfold.quantities import show_length, show_mass
from steadfold.review.holding import Held, prepared
from steadfold.sheet.part import Part

KINDS = ("wood stud", "wood board", "masonry", "steel stud", "unknown")
"""Kinds of wall a buyer may have; a part made for one of them is asked about all."""


def on_walls(
    job: Job,
    ordered: JobPart,
    part: Part,
    material: Material,
    own: Held,
    fine: bool = True,
    progress: Callable[[float, str], None] = lambda share, what: None,
) -> tuple[WallRating, ...]:
    """A rating for the wall of the job's mount, for each other wall the job names, and, for a part that goes on a wall, a
    word on each kind that it does not name.

    Every wall that the job names is solved with its own fixing and backing. Raises `JobProblems` at the wall's line
    where its fixing makes no sense.
    """
    mount = ordered.mount
    if mount is None or own.strength is None:
        return ()
    found = [_of(mount, own.strength)]
    for number, wall in enumerate(mount.walls):
        progress(number / len(mount.walls), f"on {wall_words(wall)}")
        found.append(_rated(job, ordered, number, wall, part, material, fine))
    named = {mount.to, *(wall.to for wall in mount.walls)}
    if mount.to in KINDS:
        found += [_not_named(kind) for kind in KINDS if kind not in named]
    return tuple(found)


def _rated(
    job: Job, ordered: JobPart, number: int, wall: Mount, part: Part, material: Material, fine: bool
) -> WallRating:
    try:
        ready = prepared(ordered, wall, part, material)
        found = strength(part, ready.metal, ready.fixings, ready.carried, ready.choices, ready.capacity, fine=fine)
    except MountError as error:
        raise JobProblems(
            [job.text.problem((*ordered.path, "mount", "wall", number, *_last(error)), str(error))]
        ) from None
    except Mechanism as error:
        return WallRating(wall_words(wall), fixing_words(wall), None, "", None, f"it can still move: {error}", True)
    return _of(wall, found)


def _of(mount: Mount, found: Strength) -> WallRating:
    """The rating of a solved wall; none where a link is not proven."""
    unproven = next((link for link in found.chain if link.share is None), None)
    what, fixing = wall_words(mount), fixing_words(mount)
    share = max((link.share for link in found.chain if link.share is not None), default=None)
    if unproven is not None:
        return WallRating(
            what, fixing, None, "", share if share is not None and share > 1.0 else None, unproven.say, True
        )
    rating = min(found.rating_kg, found.rating_low_kg)
    return WallRating(what, fixing, rating if math.isfinite(rating) else None, found.governs, share, "", True)


def _not_named(kind: str) -> WallRating:
    why = WALL_REASONS.get(kind, "the job does not say which screw goes into it, nor into which wood")
    return WallRating(_KIND_WORDS.get(kind, kind), "", None, "", None, why, False)


_KIND_WORDS = {"unknown": "a wall nobody knows"}


def wall_words(mount: Mount) -> str:
    """The wall in words: what the job calls it, or its kind with wood and gap."""
    if mount.called:
        return f"{mount.called} ({mount.to})"
    words: str = _KIND_WORDS.get(mount.to, mount.to)
    if mount.wood:
        words += f" of {mount.wood}"
    if mount.gap_mm:
        words += f" behind {show_length(mount.gap_mm, 'mm', 1)} of {mount.gap_of or 'a soft layer'}"
    return words


def fixing_words(mount: Mount) -> str:
    """The fixing in words: `lag screw 1/4", 60 mm long`."""
    words = fasteners.fastener_words(mount.fastener) if mount.fastener else "a fixing the job does not name"
    if mount.grade:
        words += f", {mount.grade}"
    return words if mount.length_mm is None else f"{words}, {show_length(mount.length_mm, 'mm', 0)} long"


def lowest(walls: Iterable[WallRating]) -> WallRating | None:
    """The wall with the least proven rating among those that the job names; None where none is proven."""
    proven = [wall for wall in walls if wall.claimed and wall.rating_kg is not None]
    return min(proven, key=lambda wall: wall.rating_kg or 0.0, default=None)


def wall_findings(walls: Sequence[WallRating], carried_kg: float, place: str) -> list[Finding]:
    """What the other walls that the job names mean: one that proves nothing, one that carries less than is asked."""
    found = []
    for wall in walls[1:]:
        if not wall.claimed:
            continue
        if wall.rating_kg is None:
            found.append(wall_finding(f"{place} on {wall.backing}", wall.why))
        elif (wall.share or 0.0) > 1.0:
            may = (
                f"may carry {show_mass(wall.rating_kg)} of the {show_mass(carried_kg)} it is for, set by {wall.governs}"
            )
            if wall.rating_kg >= carried_kg:  # fails with nothing on it: a knock, a person leaning
                may = "takes more than is allowed from what no mass sets, a knock or somebody leaning"
            found.append(
                Finding(
                    "wall-carries-less",
                    Severity.CAUTION,
                    f"{place} on {wall.backing}",
                    f"On {wall.backing} with {wall.fixing} it uses {wall.share:.2f} of what is allowed: it {may}.",
                    wall.share,
                    1.0,
                    "the strength model on that wall",
                    "a stronger fixing there, more of them, or take this wall out of the job",
                )
            )
    return found


def _last(error: MountError) -> tuple[str, ...]:
    return (error.field,) if error.table == "mount" and error.field != "holes" else ()
